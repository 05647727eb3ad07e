#include "wiring.h"

#include <simavr/avr_adc.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_spi.h>
#include <simavr/sim_cycle_timers.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "twi.h"

static wiring *all; /* there is one chip */
static avr_t *chip;
static twi bus;
static avr_irq_t *spi_in;
static void (*on_edge)(uint8_t channel, uint8_t on);
static void (*on_own_reset)(void);
static uint8_t switched[2];

/* ---- words ---- */

static int pin_of(const char *word, pin *p)
{
    if ((word[0] < 'A') || (word[0] > 'L') || (word[0] == 'I') || (word[1] < '0') || (word[1] > '7') || (word[2] != '\0')) {
        return 0;
    }
    p->port = word[0];
    p->bit = (uint8_t)(word[1] - '0');
    return 1;
}

static wired_part *part_by(wiring *w, const char *name)
{
    int i;
    for (i = 0; i < w->part_count; i++) {
        if (strcmp(w->parts[i].name, name) == 0) {
            return &w->parts[i];
        }
    }
    return NULL;
}

static int add_part(wiring *w, const char *name, const char *kind, const char *on, const char *where)
{
    wired_part *p = &w->parts[w->part_count];
    const part_kind *k = part_named(kind);
    if ((k == NULL) || (w->part_count == WIRED_PARTS) || (part_by(w, name) != NULL)) {
        return 0;
    }
    part_start(&p->any.p, k, (uint32_t)w->part_count + 1u);
    (void)strcpy(p->name, name);
    w->part_count++;
    if (strcmp(on, "spi") == 0) {
        return (k->spi != 0u) && pin_of(where, &p->select);
    }
    return (strcmp(on, "twi") == 0) && twi_put(&bus, &p->any.p, (uint8_t)strtoul(where, NULL, 0));
}

int wiring_add(wiring *w, const char *text)
{
    char a[25];
    char b[25];
    char c[25];
    char d[25];
    wired *o = &w->others[w->other_count];
    unsigned n = 0u;
    unsigned m = 0u;
    if (sscanf(text, "part %24s %24s %24s %24s", a, b, c, d) == 4) {
        return add_part(w, a, b, c, d);
    }
    if (sscanf(text, "interrupt %24s %24s", a, b) == 2) {
        wired_part *p = part_by(w, a);
        return (p != NULL) && pin_of(b, &p->interrupt);
    }
    if (w->other_count == WIRED_OTHERS) {
        return 0;
    }
    w->other_count++;
    if (sscanf(text, "output %u %24s %u", &n, a, &m) == 3) {
        o->kind = OUTPUT;
        o->channel = (uint8_t)n;
        w->channels = (n > w->channels) ? (uint8_t)n : w->channels;
    } else if (sscanf(text, "switch %24s %24s %u", b, a, &m) == 3) {
        o->kind = (strcmp(b, "arm") == 0) ? SWITCH_ARM : SWITCH_STAGE;
    } else if (sscanf(text, "breakwire %u %24s %u", &n, a, &m) == 3) {
        o->kind = BREAKWIRE;
        o->channel = (uint8_t)n;
        w->channels = (n > w->channels) ? (uint8_t)n : w->channels; /* it has a place among the outputs */
        return pin_of(a, &o->at) && (m < 2u) && (n >= 1u) && (n <= 16u) && ((o->level = (uint8_t)m) == m);
    } else if (sscanf(text, "receiver %u %d", &n, &o->value[0]) == 2) {
        o->kind = RECEIVER;
        o->input = (uint8_t)n;
        return (n >= 1u) && (n < 4u) && (o->value[0] > 0);
    } else if (sscanf(text, "battery %u %d", &n, &o->value[0]) == 2) {
        o->kind = BATTERY;
        o->input = (uint8_t)n;
        return n < 16u;
    } else if (sscanf(text, "circuit %u %u %d %d %d", &n, &m, &o->value[0], &o->value[1], &o->value[2]) == 5) {
        o->kind = CIRCUIT;
        o->input = (uint8_t)n;
        o->channel = (uint8_t)m;
        return (n < 16u) && (m >= 1u) && (m <= 16u);
    } else if (sscanf(text, "setting %24s %d", o->name, &o->value[0]) == 2) {
        o->kind = SETTING;
        return 1;
    } else if (sscanf(text, "fault %24s %11s %d %d %d", o->name, o->word, &o->value[0], &o->value[1], &o->value[2]) == 5) {
        o->kind = FAULT;
        return part_by(w, o->name) != NULL;
    } else {
        return 0;
    }
    o->level = (uint8_t)m;
    return pin_of(a, &o->at) && (m < 2u) && (o->channel <= 16u);
}

/* ---- pins ---- */

static avr_ioport_t *ports['L' - 'A' + 1]; /* by letter; NULL: the chip lacks it */

static void find_ports(void)
{
    avr_io_t *io;
    for (io = chip->io_port; io != NULL; io = io->next) {
        avr_ioport_t *p = (avr_ioport_t *)io;
        if ((strcmp(io->kind, "port") == 0) && (p->name >= 'A') && (p->name <= 'L')) {
            ports[p->name - 'A'] = p;
        }
    }
}

static int drives(pin p, uint8_t *level)
{
    const avr_ioport_t *port = (p.port == 0) ? NULL : ports[p.port - 'A'];
    if (port == NULL) {
        return 0;
    }
    *level = (uint8_t)((chip->data[port->r_port] >> p.bit) & 1u);
    return (int)((chip->data[port->r_ddr] >> p.bit) & 1u);
}

/* Drives an input. The level also counts as what pulls the pin, or a pull-up of the chip would win over it. The library
 * is told of changes only: while the firmware hasn't chosen an edge, a pin that is told to be low interrupts for ever. */
static void apply(pin p, int level)
{
    avr_ioport_t *port = (p.port == 0) ? NULL : ports[p.port - 'A'];
    uint8_t bit = (uint8_t)(1u << p.bit);
    if (port == NULL) {
        return;
    }
    port->external.pull_mask |= bit;
    port->external.pull_value = (uint8_t)(level ? (port->external.pull_value | bit) : (port->external.pull_value & (uint8_t)~bit));
    if (((chip->data[port->r_pin] & bit) != 0u) != (level != 0)) {
        avr_raise_irq(&port->io.irq[p.bit], (uint32_t)level);
    }
}

static avr_cycle_count_t due(avr_t *avr, avr_cycle_count_t when, void *param);

static uint64_t ns_of(avr_cycle_count_t cycle) { return cycle * 1000u / (chip->frequency / 1000000u); }

void wiring_follow(wiring *w)
{
    uint64_t next = PART_NEVER;
    uint64_t now = ns_of(chip->cycle);
    int i;
    for (i = 0; i < w->part_count; i++) {
        part *p = &w->parts[i].any.p;
        part_advance(p, now);
        apply(w->parts[i].interrupt, part_pin(p));
        if ((w->parts[i].interrupt.port != 0) && (part_next(p) < next)) {
            next = part_next(p);
        }
    }
    avr_cycle_timer_cancel(chip, due, w);
    if (next != PART_NEVER) {
        avr_cycle_count_t cycles = ((next - now) * (chip->frequency / 1000000u)) / 1000u;
        avr_cycle_timer_register(chip, cycles + 1u, due, w);
    }
}

static avr_cycle_count_t due(avr_t *avr, avr_cycle_count_t when, void *param)
{
    (void)avr;
    (void)when;
    wiring_follow(param);
    return 0u;
}

static void followed(void *user) { wiring_follow(user); }

void wiring_look(wiring *w)
{
    int i;
    uint8_t level;
    for (i = 0; i < w->other_count; i++) {
        wired *o = &w->others[i];
        if (o->kind == OUTPUT) {
            int on = drives(o->at, &level) && (level == o->level);
            if (on != o->value[0]) {
                o->value[0] = on;
                on_edge(o->channel, (uint8_t)on);
            }
        }
    }
    for (i = 0; i < w->part_count; i++) {
        wired_part *p = &w->parts[i];
        int selected = drives(p->select, &level) && (level == 0u);
        if (p->select.port == 0) {
            continue;
        }
        if (selected && (p->any.p.open == 0u)) {
            wiring_follow(w);
            part_select(&p->any.p);
        } else if (!selected && (p->any.p.open != 0u)) {
            part_end(&p->any.p);
            wiring_follow(w);
        } else {
            /* as before */
        }
    }
}

static void moved(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)value;
    wiring_look(param);
}

/* A byte on SPI goes to the parts that are selected; with none the line is high. */
static void sent(struct avr_irq_t *irq, uint32_t value, void *param)
{
    wiring *w = param;
    uint8_t answer = 0xFFu;
    int i;
    (void)irq;
    wiring_follow(w);
    for (i = 0; i < w->part_count; i++) {
        if ((w->parts[i].select.port != 0) && (w->parts[i].any.p.open != 0u)) {
            answer &= part_exchange(&w->parts[i].any.p, (uint8_t)value);
        } else if ((w->parts[i].select.port != 0) && part_blocks(&w->parts[i].any.p)) {
            answer = 0u;
        } else {
            /* on the other bus, or not selected */
        }
    }
    avr_raise_irq(spi_in, answer);
}

/* ---- serial lines ---- */

static void unheard(void *user, uint8_t byte)
{
    (void)user;
    (void)byte;
}

static int attach_receiver(wiring *w)
{
    int i;
    for (i = 0; i < w->other_count; i++) {
        const wired *o = &w->others[i];
        if (o->kind == RECEIVER) {
            w->receiver.sent = unheard;
            w->receiver.baud = (uint32_t)o->value[0];
            w->heard = 1u;
            return usart_attach(&w->receiver, chip, (char)('0' + o->input));
        }
    }
    return 1;
}

/* A receiver with more to say than its line carries leaves whole fixes out. */
void wiring_fix(wiring *w, const gnss_fix *f)
{
    char text[GNSS_MOST];
    size_t count = gnss_sentences(f, text);
    if ((w->heard != 0u) && (w->receiver.wire_count < sizeof text)) {
        usart_bring(&w->receiver, (const uint8_t *)text, (uint32_t)count);
    }
}

/* ---- what the bench does ---- */

/* A reset clears the pins' registers, but not the levels outside. */
static void on_reset(avr_io_t *io)
{
    unsigned i;
    (void)io;
    for (i = 0u; i < sizeof ports / sizeof ports[0]; i++) {
        if (ports[i] != NULL) {
            chip->data[ports[i]->r_pin] = ports[i]->external.pull_mask & ports[i]->external.pull_value;
        }
    }
    wiring_follow(all);
    wiring_look(all);
    on_own_reset();
}

int wiring_attach(wiring *w, avr_t *avr, void (*edge)(uint8_t channel, uint8_t on), void (*reset)(void))
{
    static avr_io_t io;
    avr_irq_t *spi_out = avr_io_getirq(avr, (uint32_t)AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_OUTPUT);
    char port;
    uint8_t i;
    all = w;
    chip = avr;
    on_edge = edge;
    on_own_reset = reset;
    find_ports();
    spi_in = avr_io_getirq(avr, (uint32_t)AVR_IOCTL_SPI_GETIRQ(0), SPI_IRQ_INPUT);
    avr->vcc = 5000u;
    avr->avcc = 5000u;
    avr->aref = 5000u;
    for (port = 'A'; port <= 'L'; port++) {
        static const int of[] = {IOPORT_IRQ_REG_PORT, IOPORT_IRQ_DIRECTION_ALL};
        for (i = 0u; i < 2u; i++) {
            avr_irq_t *irq = avr_io_getirq(avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(port), of[i]);
            if (irq != NULL) {
                avr_irq_register_notify(irq, moved, w);
            }
        }
    }
    bus.before = followed;
    bus.after = followed;
    bus.user = w;
    if (!twi_attach(&bus, avr) || (spi_out == NULL) || !attach_receiver(w)) {
        return 0;
    }
    avr_irq_register_notify(spi_out, sent, w);
    io.kind = "wiring";
    io.reset = on_reset;
    avr_register_io(avr, &io);
    return 1;
}

void wiring_power(wiring *w)
{
    int i;
    for (i = 0; i < w->part_count; i++) {
        part_advance(&w->parts[i].any.p, ns_of(chip->cycle));
        part_power(&w->parts[i].any.p);
    }
    if (w->heard != 0u) {
        usart_drop(&w->receiver);
    }
    wiring_follow(w);
    wiring_switch(w, 0, switched[0]);
    wiring_switch(w, 1, switched[1]);
    wiring_circuits(w, 0u, 0u);
}

void wiring_switch(wiring *w, int stage, int on)
{
    int i;
    switched[stage] = (uint8_t)on;
    for (i = 0; i < w->other_count; i++) {
        wired *o = &w->others[i];
        if (o->kind == (stage ? SWITCH_STAGE : SWITCH_ARM)) {
            apply(o->at, on ? o->level : 1 - o->level);
        }
    }
}

int wiring_switched(const wiring *w, int stage)
{
    (void)w;
    return switched[stage];
}

static void analogue(uint8_t input, int32_t millivolts)
{
    avr_irq_t *irq = avr_io_getirq(chip, (uint32_t)AVR_IOCTL_ADC_GETIRQ, input);
    if (irq != NULL) {
        avr_raise_irq(irq, (uint32_t)((millivolts < 0) ? 0 : millivolts));
    }
}

void wiring_battery(wiring *w, uint16_t millivolts)
{
    int i;
    for (i = 0; i < w->other_count; i++) {
        if (w->others[i].kind == BATTERY) {
            analogue(w->others[i].input, (int32_t)millivolts * w->others[i].value[0] / 1000);
        }
    }
}

void wiring_circuits(wiring *w, uint16_t open, uint16_t shorted)
{
    int i;
    for (i = 0; i < w->other_count; i++) {
        const wired *o = &w->others[i];
        unsigned bit = (unsigned)o->channel - 1u;
        if (o->kind == BREAKWIRE) {
            apply(o->at, ((open >> bit) & 1u) ? (1 - o->level) : o->level);
        } else if (o->kind == CIRCUIT) {
            analogue(o->input, o->value[((open >> bit) & 1u) ? 1 : (((shorted >> bit) & 1u) ? 2 : 0)]);
        }
    }
}

static void spoil(part *p, const wired *o, int now)
{
    part_faults *f = &p->faults;
    if (strcmp(o->word, "silent") == 0) {
        f->silent |= (uint8_t)now;
    } else if (strcmp(o->word, "stuck") == 0) {
        f->stuck |= (uint8_t)now;
    } else if (now == 0) {
        return;
    } else if (strcmp(o->word, "identity") == 0) {
        f->identity = (uint8_t)o->value[2];
    } else if (strcmp(o->word, "flips") == 0) {
        f->flips = (uint32_t)o->value[2];
    } else if (strcmp(o->word, "stretch") == 0) {
        f->stretch = (uint32_t)o->value[2] * 1000u;
    } else {
        /* a reset, which happens once */
    }
}

void wiring_faults(wiring *w, uint32_t ms)
{
    int i;
    for (i = 0; i < w->part_count; i++) {
        part_faults none = {.silent = w->parts[i].lost};
        w->parts[i].any.p.faults = none;
    }
    for (i = 0; i < w->other_count; i++) {
        wired *o = &w->others[i];
        if (o->kind == FAULT) {
            part *p = &part_by(w, o->name)->any.p;
            int now = ((int32_t)ms >= o->value[0]) && ((int32_t)ms < o->value[1]);
            spoil(p, o, now);
            if ((strcmp(o->word, "reset") == 0) && now && (o->value[3] == 0)) {
                part_power(p);
            }
            o->value[3] = now;
        }
    }
}

int wiring_setting(const wiring *w, const char *name, int32_t *value)
{
    int i;
    for (i = 0; i < w->other_count; i++) {
        if ((w->others[i].kind == SETTING) && (strcmp(w->others[i].name, name) == 0)) {
            *value = w->others[i].value[0];
            return 1;
        }
    }
    return 0;
}

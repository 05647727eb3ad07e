#include "twi.h"

#include <simavr/sim_core.h>
#include <simavr/sim_cycle_timers.h>
#include <simavr/sim_interrupts.h>
#include <string.h>

enum { INT = 0x80, EA = 0x40, STA = 0x20, STO = 0x10, WC = 0x08, EN = 0x04, IE = 0x01 };
enum {
    START = 0x08, AGAIN = 0x10, W_ACK = 0x18, W_NACK = 0x20, SENT_ACK = 0x28, SENT_NACK = 0x30, LOST = 0x38, R_ACK = 0x40, R_NACK = 0x48,
    GOT_ACK = 0x50, GOT_NACK = 0x58, NOTHING = 0xF8
};

static avr_cycle_count_t bit_time(const twi *t)
{
    uint32_t rate = t->avr->data[t->registers->r_twbr];
    return 16u + (2u * rate * (1u << (2u * (t->avr->data[t->registers->r_twsr] & 3u))));
}

static void show(twi *t, uint8_t flag) { t->avr->data[t->registers->r_twcr] = t->control | flag; }

static void set_status(twi *t, uint8_t status)
{
    uint8_t *r = &t->avr->data[t->registers->r_twsr];
    *r = (uint8_t)((*r & 3u) | status);
}

static int blocked(const twi *t)
{
    int i;
    for (i = 0; i < t->count; i++) {
        if (part_blocks(t->parts[i])) {
            return 1;
        }
    }
    return 0;
}

static void let_go(twi *t)
{
    if (t->talks != NULL) {
        part_end(t->talks);
        t->talks = NULL;
    }
    t->after(t->user);
}

/* The action that was begun is done: its status and the flag. */
static avr_cycle_count_t done(avr_t *avr, avr_cycle_count_t when, void *param)
{
    twi *t = param;
    (void)when;
    if ((t->status == START) && blocked(t)) {
        return when + bit_time(t); /* the start waits until the bus is free */
    }
    set_status(t, t->status);
    show(t, INT);
    avr_raise_interrupt(avr, &t->registers->twi);
    return 0u;
}

static avr_cycle_count_t stopped(avr_t *avr, avr_cycle_count_t when, void *param)
{
    twi *t = param;
    (void)avr;
    (void)when;
    t->control &= (uint8_t)~STO;
    show(t, 0u);
    set_status(t, NOTHING);
    return 0u;
}

static void finish(twi *t, uint8_t status, avr_cycle_count_t after)
{
    t->status = status;
    avr_cycle_timer_register(t->avr, after, done, t);
}

static avr_cycle_count_t stretched(const twi *t)
{
    uint64_t ns = (t->talks != NULL) ? t->talks->faults.stretch : 0u;
    return ns * (t->avr->frequency / 1000000u) / 1000u;
}

static void address(twi *t, uint8_t byte)
{
    int i;
    let_go(t);
    t->addresses_next = 0;
    t->reads = byte & 1;
    for (i = 0; (i < t->count) && (t->talks == NULL); i++) {
        if ((t->addresses[i] == (byte >> 1)) && part_begin(t->parts[i], t->reads)) {
            t->talks = t->parts[i];
        }
    }
    if (t->reads) {
        finish(t, (t->talks != NULL) ? R_ACK : R_NACK, 9u * bit_time(t));
    } else {
        finish(t, (t->talks != NULL) ? W_ACK : W_NACK, 9u * bit_time(t));
    }
}

static void move_byte(twi *t)
{
    uint8_t *data = &t->avr->data[t->registers->r_twdr];
    avr_cycle_count_t takes = (9u * bit_time(t)) + stretched(t);
    if (blocked(t)) {
        t->owns = 0;
        let_go(t);
        finish(t, LOST, takes);
    } else if (t->addresses_next) {
        address(t, *data);
    } else if (t->reads) {
        *data = (t->talks != NULL) ? part_read(t->talks) : 0xFFu;
        finish(t, ((t->control & EA) != 0u) ? GOT_ACK : GOT_NACK, takes);
    } else {
        finish(t, ((t->talks != NULL) && part_write(t->talks, *data)) ? SENT_ACK : SENT_NACK, takes);
    }
    t->after(t->user);
}

static void act(twi *t)
{
    if ((t->control & STO) != 0u) {
        t->owns = 0;
        let_go(t);
        if ((t->control & STA) == 0u) {
            avr_cycle_timer_register(t->avr, bit_time(t), stopped, t);
            return;
        }
        t->control &= (uint8_t)~STO;
    }
    if ((t->control & STA) != 0u) {
        uint8_t status = t->owns ? AGAIN : START;
        let_go(t);
        t->owns = 1;
        t->addresses_next = 1;
        finish(t, status, bit_time(t));
    } else if (t->owns) {
        move_byte(t);
    } else {
        /* not a master: nothing comes */
    }
}

static void write_control(avr_t *avr, avr_io_addr_t addr, uint8_t value, void *param)
{
    twi *t = param;
    uint8_t flag = avr->data[addr] & INT;
    t->control = value & (uint8_t) ~(INT | WC);
    t->before(t->user);
    if ((value & EN) == 0u) {
        avr_cycle_timer_cancel(avr, done, t);
        avr_cycle_timer_cancel(avr, stopped, t);
        t->owns = 0;
        let_go(t);
        show(t, flag);
        return;
    }
    if ((value & INT) != 0u) {
        avr_clear_interrupt(avr, &t->registers->twi);
        show(t, 0u);
        act(t);
        return;
    }
    show(t, flag);
    if (((value & IE) != 0u) && (flag != 0u)) {
        avr_raise_interrupt(avr, &t->registers->twi);
    }
}

static void write_status(avr_t *avr, avr_io_addr_t addr, uint8_t value, void *param)
{
    (void)param;
    avr->data[addr] = (uint8_t)((avr->data[addr] & 0xF8u) | (value & 3u));
}

static void on_reset(avr_io_t *io)
{
    twi *t = (twi *)io;
    t->control = 0u;
    t->owns = 0;
    t->talks = NULL;
    t->avr->data[t->registers->r_twsr] = NOTHING;
    t->avr->data[t->registers->r_twdr] = 0xFFu;
}

int twi_attach(twi *t, avr_t *avr)
{
    avr_io_t *io = avr->io_port;
    while ((io != NULL) && (strcmp(io->kind, "twi") != 0)) {
        io = io->next;
    }
    if (io == NULL) {
        return 0;
    }
    t->avr = avr;
    t->registers = (avr_twi_t *)io;
    t->io.kind = "two wires";
    t->io.reset = on_reset;
    avr_register_io(avr, &t->io);
    avr->io[AVR_DATA_TO_IO(t->registers->r_twcr)].w.c = write_control;
    avr->io[AVR_DATA_TO_IO(t->registers->r_twcr)].w.param = t;
    avr->io[AVR_DATA_TO_IO(t->registers->r_twsr)].w.c = write_status;
    avr->io[AVR_DATA_TO_IO(t->registers->r_twsr)].w.param = t;
    avr->io[AVR_DATA_TO_IO(t->registers->r_twdr)].w.c = NULL;
    avr->io[AVR_DATA_TO_IO(t->registers->r_twdr)].r.c = NULL;
    return 1;
}

int twi_put(twi *t, part *p, uint8_t address)
{
    if (t->count == TWI_PARTS) {
        return 0;
    }
    t->parts[t->count] = p;
    t->addresses[t->count] = address;
    t->count++;
    return 1;
}

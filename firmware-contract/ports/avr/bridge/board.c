#include "board.h"

#include <simavr/avr_eeprom.h>
#include <simavr/avr_ioport.h>
#include <simavr/sim_cycle_timers.h>
#include <string.h>

#define WRITE_US 3400u /* ATmega2560 data sheet: 3.3 ms typical for erase and write, by the internal oscillator */

/* ---- pins ---- */

static avr_t *chip;
static const usart *serial;
static FILE *edges;
static uint8_t levels[26]; /* by port: what drives high */

static void edge(char port, uint8_t is)
{
    uint8_t was = levels[port - 'A'];
    unsigned bit;
    for (bit = 0u; bit < 8u; bit++) {
        if ((((unsigned)was ^ is) >> bit) & 1u) {
            (void)fprintf(edges, "%llu %llu %llu %llu %c%u %u\n", (unsigned long long)chip->cycle,
                (unsigned long long)(chip->cycle - serial->wire_free), (unsigned long long)serial->bytes_in,
                (unsigned long long)serial->bytes_out, port, bit, ((unsigned)is >> bit) & 1u);
        }
    }
    levels[port - 'A'] = is;
}

static void look(char port)
{
    avr_ioport_state_t s;
    if (avr_ioctl(chip, (uint32_t)AVR_IOCTL_IOPORT_GETSTATE(port), &s) >= 0) {
        edge(port, (uint8_t)(s.port & s.ddr));
    }
}

void pins_look(void)
{
    char port;
    if (edges != NULL) {
        for (port = 'A'; port <= 'L'; port++) {
            look(port);
        }
    }
}

static void moved(struct avr_irq_t *irq, uint32_t value, void *param)
{
    (void)irq;
    (void)value;
    look((char)(intptr_t)param);
}

void pins_watch(avr_t *avr, const usart *line, FILE *to)
{
    char port;
    chip = avr;
    serial = line;
    edges = to;
    for (port = 'A'; port <= 'L'; port++) {
        static const int of[] = {IOPORT_IRQ_REG_PORT, IOPORT_IRQ_DIRECTION_ALL};
        unsigned i;
        for (i = 0u; i < 2u; i++) {
            avr_irq_t *irq = avr_io_getirq(avr, (uint32_t)AVR_IOCTL_IOPORT_GETIRQ(port), of[i]);
            if (irq != NULL) {
                avr_irq_register_notify(irq, moved, (void *)(intptr_t)port);
            }
        }
    }
}

/* ---- EEPROM ---- */

static struct memory {
    avr_io_t io; /* first */
    avr_eeprom_t *part;
    avr_io_write_t write;
    int busy;
} memory;

static avr_cycle_count_t written(avr_t *avr, avr_cycle_count_t when, void *param)
{
    (void)when;
    (void)param;
    memory.busy = 0;
    avr_regbit_clear(avr, memory.part->eepe);
    return 0u;
}

static void write_control(avr_t *avr, avr_io_addr_t addr, uint8_t value, void *param)
{
    int writes = avr_regbit_get(avr, memory.part->eempe) && ((value >> memory.part->eepe.bit) & 1u);
    if (memory.busy) {
        return; /* a real part can neither read nor write now */
    }
    memory.write(avr, addr, value, param);
    if (writes) {
        memory.busy = 1;
        avr_regbit_set(avr, memory.part->eepe);
        avr_cycle_timer_register_usec(avr, WRITE_US, written, NULL);
    }
}

/* The byte being written at a reset counts as written, since the library wrote it at once. */
static void on_reset(avr_io_t *io)
{
    (void)io;
    memory.busy = 0;
}

int eeprom_attach(avr_t *avr)
{
    avr_io_t *io = avr->io_port;
    while ((io != NULL) && (strcmp(io->kind, "eeprom") != 0)) {
        io = io->next;
    }
    if (io == NULL) {
        return 0;
    }
    memory.part = (avr_eeprom_t *)io;
    memory.io.kind = "slow eeprom";
    memory.io.reset = on_reset;
    avr_register_io(avr, &memory.io);
    memory.write = avr->io[AVR_DATA_TO_IO(memory.part->r_eecr)].w.c;
    avr->io[AVR_DATA_TO_IO(memory.part->r_eecr)].w.c = write_control;
    return 1;
}

#include "usart.h"

#include <simavr/sim_core.h>
#include <simavr/sim_cycle_timers.h>
#include <simavr/sim_interrupts.h>
#include <string.h>

#define FRAME_BITS 10u /* a start, eight data, a stop */

static avr_cycle_count_t byte_time(const usart *u)
{
    avr_t *avr = u->avr;
    uint32_t divisor = (uint32_t)avr_regbit_get(avr, u->part->ubrrl) | ((uint32_t)avr_regbit_get(avr, u->part->ubrrh) << 8);
    uint32_t oversampling = avr_regbit_get(avr, u->part->u2x) ? 8u : 16u;
    return (avr_cycle_count_t)(divisor + 1u) * oversampling * FRAME_BITS;
}

/* From the sender: a byte on the wire takes as long as that says. */
static avr_cycle_count_t incoming_time(const usart *u)
{
    return (u->baud == 0u) ? byte_time(u) : ((avr_cycle_count_t)FRAME_BITS * u->avr->frequency / u->baud);
}

/* A receiver that samples more than a half of a bit off in the ninth bit takes another byte: 5 percent. */
static int misread(const usart *u)
{
    avr_cycle_count_t wire = incoming_time(u);
    avr_cycle_count_t own = byte_time(u);
    return ((own > wire) ? (own - wire) : (wire - own)) * 20u > wire;
}

static void lower(usart *u, avr_int_vector_t *v)
{
    avr_clear_interrupt(u->avr, v);
    avr_regbit_clear(u->avr, v->raised);
}

/* ---- from the host ---- */

static avr_cycle_count_t arrive(avr_t *avr, avr_cycle_count_t when, void *param)
{
    usart *u = param;
    uint8_t byte = u->wire[u->wire_from];
    u->wire_from = (u->wire_from + 1u) % sizeof u->wire;
    u->wire_count--;
    u->wire_free = when;
    u->active = when;
    u->bytes_in++;
    if (!avr_regbit_get(avr, u->part->rxen)) {
        u->lost++;
    } else if (u->held_count == (int)sizeof u->held) {
        /* The real shift register keeps this byte until the next start bit; losing it at once is the harder case. */
        avr_regbit_set(avr, u->part->dor);
        u->lost++;
    } else {
        u->held[u->held_count] = misread(u) ? (uint8_t)((byte << 1) ^ 0xA5u) : byte; /* not a real part's, but as wrong */
        u->held_count++;
        avr_raise_interrupt(avr, &u->part->rxc);
    }
    u->receiving = u->wire_count > 0u;
    return u->receiving ? when + incoming_time(u) : 0u;
}

static void receive(usart *u)
{
    avr_cycle_count_t now = u->avr->cycle;
    avr_cycle_count_t due = u->wire_free + incoming_time(u);
    if (due <= now) {
        due = now + incoming_time(u);
    }
    u->receiving = 1;
    avr_cycle_timer_register(u->avr, due - now, arrive, u);
}

void usart_bring(usart *u, const uint8_t *bytes, uint32_t count)
{
    for (; count > 0u; count--) {
        u->wire[(u->wire_from + u->wire_count) % sizeof u->wire] = *bytes;
        u->wire_count++;
        bytes++;
    }
    if (!u->receiving && (u->wire_count > 0u)) {
        receive(u);
    }
}

static uint8_t read_data(avr_t *avr, avr_io_addr_t addr, void *param)
{
    usart *u = param;
    uint8_t byte = u->held[0];
    (void)addr;
    if (u->held_count > 0) {
        u->held[0] = u->held[1];
        u->held_count--;
    }
    avr_regbit_clear(avr, u->part->dor);
    lower(u, &u->part->rxc);
    if (u->held_count > 0) {
        avr_raise_interrupt(avr, &u->part->rxc);
    }
    return byte;
}

/* ---- to the host ---- */

static avr_cycle_count_t depart(avr_t *avr, avr_cycle_count_t when, void *param)
{
    usart *u = param;
    u->active = when;
    u->bytes_out++;
    u->sent(u->user, u->shift);
    if (!u->waiting) {
        u->shifting = 0;
        avr_raise_interrupt(avr, &u->part->txc);
        return 0u;
    }
    u->shift = u->next;
    u->waiting = 0;
    avr_raise_interrupt(avr, &u->part->udrc);
    return when + byte_time(u);
}

static void write_data(avr_t *avr, avr_io_addr_t addr, uint8_t byte, void *param)
{
    usart *u = param;
    (void)addr;
    if (!avr_regbit_get(avr, u->part->txen)) {
        return;
    }
    if (!u->shifting) {
        u->shifting = 1;
        u->shift = byte;
        avr_cycle_timer_register(avr, byte_time(u), depart, u);
        return;
    }
    u->next = byte; /* over the last one, if that still waits */
    u->waiting = 1;
    lower(u, &u->part->udrc);
}

/* ---- registers ---- */

/* Flags can't be written, but for TXC, which a one clears. */
static void write_status(avr_t *avr, avr_io_addr_t addr, uint8_t value, void *param)
{
    usart *u = param;
    uint8_t double_speed = (uint8_t)(u->part->u2x.mask << u->part->u2x.bit);
    if ((value >> u->part->txc.raised.bit) & 1u) {
        lower(u, &u->part->txc);
    }
    avr_core_watch_write(avr, addr, (uint8_t)((avr->data[addr] & (uint8_t)~double_speed) | (value & double_speed)));
}

static void write_control(avr_t *avr, avr_io_addr_t addr, uint8_t value, void *param)
{
    usart *u = param;
    avr_core_watch_write(avr, addr, value);
    if (!avr_regbit_get(avr, u->part->rxen)) {
        u->held_count = 0;
        lower(u, &u->part->rxc);
    }
    if (avr_regbit_get(avr, u->part->rxc.enable) && (u->held_count > 0)) {
        avr_raise_interrupt(avr, &u->part->rxc);
    }
    if (avr_regbit_get(avr, u->part->udrc.enable) && !u->waiting) {
        avr_raise_interrupt(avr, &u->part->udrc);
    }
}

/* The chip has been reset: its timers and the content of the part are lost. Bytes on the wire aren't. */
static void on_reset(avr_io_t *io)
{
    usart *u = (usart *)io;
    u->held_count = 0;
    u->shifting = 0;
    u->waiting = 0;
    u->receiving = 0;
    u->active = u->avr->cycle;
    if (u->wire_count > 0u) {
        receive(u);
    }
}

int usart_attach(usart *u, avr_t *avr, char name)
{
    avr_io_t *io = avr->io_port;
    while ((io != NULL) && !((strcmp(io->kind, "uart") == 0) && (((avr_uart_t *)io)->name == name))) {
        io = io->next;
    }
    if (io == NULL) {
        return 0;
    }
    u->avr = avr;
    u->part = (avr_uart_t *)io;
    u->io.kind = "usart";
    u->io.reset = on_reset;
    avr_register_io(avr, &u->io);
    avr->io[AVR_DATA_TO_IO(u->part->r_udr)].r.c = read_data;
    avr->io[AVR_DATA_TO_IO(u->part->r_udr)].r.param = u;
    avr->io[AVR_DATA_TO_IO(u->part->r_udr)].w.c = write_data;
    avr->io[AVR_DATA_TO_IO(u->part->r_udr)].w.param = u;
    avr->io[AVR_DATA_TO_IO(u->part->r_ucsra)].r.c = NULL; /* read as it stands */
    avr->io[AVR_DATA_TO_IO(u->part->r_ucsra)].w.c = write_status;
    avr->io[AVR_DATA_TO_IO(u->part->r_ucsra)].w.param = u;
    avr->io[AVR_DATA_TO_IO(u->part->r_ucsrb)].w.c = write_control;
    avr->io[AVR_DATA_TO_IO(u->part->r_ucsrb)].w.param = u;
    return 1;
}

void usart_drop(usart *u)
{
    avr_cycle_timer_cancel(u->avr, arrive, u);
    u->wire_count = 0u;
    u->receiving = 0;
}

uint32_t usart_room(const usart *u) { return (uint32_t)sizeof u->wire - u->wire_count; }
int usart_idle(const usart *u) { return (u->wire_count == 0u) && !u->shifting && (u->held_count == 0); }

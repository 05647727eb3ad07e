/* A USART by the data sheet, in place of the library's: a receiver that holds two bytes and shifts in a
 * third, a transmitter that holds one and shifts out another, ten bit times a byte. What a real part would lose
 * is lost, and counted. */
#ifndef USART_H
#define USART_H

#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>

typedef struct usart {
    avr_io_t io; /* first: told of resets */
    avr_uart_t *part;
    avr_t *avr;
    void (*sent)(void *user, uint8_t byte);
    void *user;

    uint8_t wire[65536]; /* from the host, on its way */
    uint32_t wire_from;
    uint32_t wire_count;
    avr_cycle_count_t wire_free; /* when the last byte had come in */
    int receiving;

    uint8_t held[2];
    int held_count;
    int shifting;
    int waiting;
    uint8_t shift;
    uint8_t next;

    uint64_t bytes_in;  /* received on the wire, including lost ones */
    uint64_t bytes_out;
    uint64_t lost;
    avr_cycle_count_t active; /* when something last moved */
    uint32_t baud;      /* of what sends to it; 0: as the chip is set */
} usart;

int usart_attach(usart *u, avr_t *avr, char name); /* '0' and on; 0: this chip lacks it */
uint32_t usart_room(const usart *u);    /* bytes that usart_bring takes */
void usart_bring(usart *u, const uint8_t *bytes, uint32_t count);
void usart_drop(usart *u);              /* what is on its way is lost */
int usart_idle(const usart *u);         /* nothing is on its way, in or out */

#endif

/* The peripherals of an LM3S6965 that the port uses. */
#ifndef PARTS_CORTEXM_H
#define PARTS_CORTEXM_H

#include "flight.h"

void clock_start(void);    /* the processor at 50 MHz from a crystal of 8; it wakes each 5 ms */
uint32_t clock_read(void); /* us, modulo 2^32; not from an interrupt */

/* UART0, 8N1: received by interrupt into a ring, sent by polling. A full ring stops receiving; a line without
 * flow control then loses bytes in the part, and the damaged frame is counted. */
void uart_start(void);
int uart_waits(void);
uint8_t uart_read(void);
void uart_write(uint8_t byte);

/* Outputs 1 to 8 are port D, 9 to 12 port E, 13 to 16 port F; high is on. */
void pins_start(void);

void chip_reset(void); /* never returns */
void chip_rest(void);  /* until an interrupt, unless a byte waits */

void on_uart(void); /* interrupts */
void on_beat(void);
void on_wake(void);
void on_second(void);

#endif

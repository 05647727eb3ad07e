/* The peripherals of an ATmega2560 that the port uses. Interrupts are short: at 115200 baud a byte comes every
 * 1,400 cycles, and the receiver holds two and a half. */
#ifndef PARTS_AVR_H
#define PARTS_AVR_H

#include "flight.h"

/* USART0, 8N1, with interrupts and ring buffers. The receive ring is large enough for a line that was stalled. */
void usart_start(void);
int usart_waits(void);     /* a byte has come */
uint8_t usart_read(void);  /* the next one; only when one waits */
void usart_write(uint8_t byte); /* waits while the ring is full; interrupts are on */

/* Timer 1, at 2 MHz. */
void clock_start(void);
uint32_t clock_read(void); /* us, modulo 2^32; not from an interrupt */

/* Outputs 1 to 8 are port A, 9 to 16 port C; high is on. */
void pins_start(void);

/* The flight's memory, in EEPROM. */
void keep_load(flight_memory *kept, uint16_t *boots);
void keep_work(const flight_memory *now); /* writes what has changed, a byte at a time; never waits */
int keep_busy(void);                      /* there is more to write */
void keep_finish(const flight_memory *now); /* waits until all is written */

#endif

#include "parts.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#include <util/atomic.h>

#ifndef BAUD
#define BAUD 115200UL /* 2.1 % fast at 16 MHz, which usual parts tolerate */
#endif
#define DIVISOR (((F_CPU + (4UL * BAUD)) / (8UL * BAUD)) - 1UL)
#define IN_SIZE 2048u

static volatile uint8_t in[IN_SIZE];
static volatile uint16_t in_head;
static volatile uint16_t in_tail;
static volatile uint8_t out[256];
static volatile uint8_t out_head; /* wrap by themselves */
static volatile uint8_t out_tail;
static volatile uint16_t rounds; /* of timer 1: 32.768 ms each */

/* A full ring drops bytes; the damaged frame is counted. */
ISR(USART0_RX_vect)
{
    uint8_t byte = UDR0;
    uint16_t next = (uint16_t)((in_head + 1u) % IN_SIZE);
    if (next != in_tail) {
        in[in_head] = byte;
        in_head = next;
    }
}

ISR(USART0_UDRE_vect)
{
    if (out_tail != out_head) {
        UDR0 = out[out_tail];
        out_tail++;
    } else {
        UCSR0B &= (uint8_t)~(1u << UDRIE0);
    }
}

void usart_start(void)
{
    UCSR0A = (1u << U2X0);
    UBRR0H = (uint8_t)(DIVISOR >> 8);
    UBRR0L = (uint8_t)DIVISOR;
    UCSR0C = (1u << UCSZ01) | (1u << UCSZ00);
    UCSR0B = (1u << RXEN0) | (1u << TXEN0) | (1u << RXCIE0);
}

int usart_waits(void)
{
    int waits;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        waits = in_head != in_tail;
    }
    return waits;
}

uint8_t usart_read(void)
{
    uint8_t byte = in[in_tail];
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        in_tail = (uint16_t)((in_tail + 1u) % IN_SIZE);
    }
    return byte;
}

void usart_write(uint8_t byte)
{
    uint8_t next = (uint8_t)(out_head + 1u);
    while (next == out_tail) {
    }
    out[out_head] = byte;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        out_head = next;
        UCSR0B |= (1u << UDRIE0);
    }
}

ISR(TIMER1_OVF_vect) { rounds++; }

void clock_start(void)
{
    TCCR1B = (1u << CS11);
    TIMSK1 = (1u << TOIE1);
}

uint32_t clock_read(void)
{
    uint8_t state = SREG;
    uint32_t high;
    uint16_t low;
    cli();
    high = rounds;
    low = TCNT1;
    if (((TIFR1 & (1u << TOV1)) != 0u) && (low < 0x8000u)) {
        high++; /* the interrupt waits for us */
    }
    SREG = state;
    return (high << 15) + (low >> 1);
}

void pins_start(void)
{
    PORTA = 0u;
    PORTC = 0u;
    DDRA = 0xFFu;
    DDRC = 0xFFu;
}

void flight_pin(uint8_t channel, int on)
{
    volatile uint8_t *port = (channel <= 8u) ? &PORTA : &PORTC;
    uint8_t bit = (uint8_t)(1u << ((channel - 1u) & 7u));
    *port = on ? (uint8_t)(*port | bit) : (uint8_t)(*port & (uint8_t)~bit);
}

#include "parts.h"

#include <avr/interrupt.h>
#include <avr/io.h>

#ifndef BAUD
#define BAUD 1000000UL /* exact at 16 MHz; 115200 is 2.1 % off, which the standard parts bear */
#endif
#define DIVISOR (((F_CPU + (4UL * BAUD)) / (8UL * BAUD)) - 1UL)

static volatile uint8_t ring[256];
static volatile uint8_t head; /* wrap by themselves */
static uint8_t tail;
static volatile uint16_t rounds; /* of timer 1: 32.768 ms each */

/* A full ring drops what comes: the frame that it spoils is counted. */
ISR(USART0_RX_vect)
{
    uint8_t byte = UDR0;
    uint8_t next = (uint8_t)(head + 1u);
    if (next != tail) {
        ring[head] = byte;
        head = next;
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

int usart_waits(void) { return head != tail; }

uint8_t usart_read(void)
{
    uint8_t byte = ring[tail];
    tail++;
    return byte;
}

void usart_write(uint8_t byte)
{
    while ((UCSR0A & (1u << UDRE0)) == 0u) {
    }
    UDR0 = byte;
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

#include "parts.h"

#define REGISTER(address) (*(volatile uint32_t *)(address))

#define RIS REGISTER(0x400FE050u)   /* system control: raw interrupts */
#define RCC REGISTER(0x400FE060u)   /* clock */
#define RCGC1 REGISTER(0x400FE104u) /* which parts have a clock */
#define RCGC2 REGISTER(0x400FE108u)

#define UART 0x4000C000u
#define UART_DATA REGISTER(UART + 0x000u)
#define UART_FLAGS REGISTER(UART + 0x018u)
#define UART_WHOLE REGISTER(UART + 0x024u)
#define UART_PARTS REGISTER(UART + 0x028u)
#define UART_LINE REGISTER(UART + 0x02Cu)
#define UART_CONTROL REGISTER(UART + 0x030u)
#define UART_MASK REGISTER(UART + 0x038u)
#define RX_EMPTY (1u << 4)
#define TX_FULL (1u << 5)
#define RX_INTERRUPTS ((1u << 4) | (1u << 6)) /* received bytes, or a receive time-out */

#define PORT_A 0x40004000u
#define PORT_D 0x40007000u
#define PORT_E 0x40024000u
#define PORT_F 0x40025000u
#define DIRECTION 0x400u
#define ALTERNATE 0x420u
#define DIGITAL 0x51Cu

#define BEAT REGISTER(0xE000E010u)
#define BEAT_RELOAD REGISTER(0xE000E014u)
#define BEAT_VALUE REGISTER(0xE000E018u)
#define ENABLE_INTERRUPTS REGISTER(0xE000E100u)
#define PENDING REGISTER(0xE000ED04u)
#define RESET REGISTER(0xE000ED0Cu)
#define UART_NUMBER 5u
#define WAKE_NUMBER 19u
#define SECOND_NUMBER 21u
#define BEAT_PENDS (1u << 26)

#define TIMER_0 0x40030000u
#define TIMER_1 0x40031000u
#define TIMER_CONFIG 0x000u
#define TIMER_MODE 0x004u
#define TIMER_CONTROL 0x00Cu
#define TIMER_MASK 0x018u
#define TIMER_CLEAR 0x024u
#define TIMER_LOAD 0x028u

#define MHZ 50u
#define BEAT_US 200000u /* long: a late emulator may lose an interrupt, and so a period */
#define BEATS 5u        /* in the second after which lost ones are counted */
#define WAKE_US 5000u
#ifndef BAUD
#define BAUD 1000000u
#endif
#define DIVISOR64 (((MHZ * 1000000u * 4u) + (BAUD / 2u)) / BAUD) /* clock / (16 baud), in 64ths */

static volatile uint8_t ring[1024];
static volatile uint16_t head;
static volatile uint16_t tail;
static volatile uint32_t beats;
static volatile uint32_t seconds;

static void timer_start(uint32_t timer, uint32_t number, uint32_t us)
{
    REGISTER(timer + TIMER_CONTROL) = 0u;
    REGISTER(timer + TIMER_CONFIG) = 0u; /* 32 bits */
    REGISTER(timer + TIMER_MODE) = 2u;   /* again and again */
    REGISTER(timer + TIMER_LOAD) = (MHZ * us) - 1u;
    REGISTER(timer + TIMER_MASK) = 1u;
    REGISTER(timer + TIMER_CONTROL) = 1u;
    ENABLE_INTERRUPTS = 1u << number;
}

void clock_start(void)
{
    RCC |= 1u << 11;                          /* bypass the loop */
    RCC &= ~(1u << 22);
    RCC = (RCC & ~0x33F3u) | (0xEu << 6) | (1u << 11); /* crystal of 8 MHz, main oscillator, loop on */
    while ((RIS & (1u << 6)) == 0u) {
    }
    RCC = (RCC & ~((0xFu << 23) | (1u << 11))) | (3u << 23) | (1u << 22); /* 200 MHz / 4 */
    BEAT_RELOAD = (MHZ * BEAT_US) - 1u;
    BEAT_VALUE = 0u;
    BEAT = 7u;
    RCGC1 |= (1u << 16) | (1u << 17);
    timer_start(TIMER_1, SECOND_NUMBER, BEATS * BEAT_US);
    timer_start(TIMER_0, WAKE_NUMBER, WAKE_US);
}

void on_wake(void) { REGISTER(TIMER_0 + TIMER_CLEAR) = 1u; }

void on_beat(void) { beats++; }

/* A second timer, started after the first, tells how many beats there must have been by now. */
void on_second(void)
{
    uint32_t least;
    REGISTER(TIMER_1 + TIMER_CLEAR) = 1u;
    seconds++;
    least = seconds * BEATS;
    if ((PENDING & BEAT_PENDS) != 0u) {
        least--;
    }
    if ((int32_t)(least - beats) > 0) {
        beats = least;
    }
}

uint32_t clock_read(void)
{
    uint32_t full;
    uint32_t left;
    __asm__ volatile("cpsid i" ::: "memory");
    full = beats;
    left = BEAT_VALUE;
    if ((PENDING & BEAT_PENDS) != 0u) {
        left = BEAT_VALUE; /* the timer may have wrapped between the two reads */
        full++;
    }
    __asm__ volatile("cpsie i" ::: "memory");
    return (full * BEAT_US) + (((MHZ * BEAT_US) - 1u - left) / MHZ);
}

void uart_start(void)
{
    RCGC1 |= 1u;
    RCGC2 |= 1u;
    REGISTER(PORT_A + ALTERNATE) |= 3u;
    REGISTER(PORT_A + DIGITAL) |= 3u;
    UART_CONTROL = 0u;
    UART_WHOLE = DIVISOR64 / 64u;
    UART_PARTS = DIVISOR64 % 64u;
    UART_LINE = (3u << 5) | (1u << 4); /* 8 bits, with FIFOs */
    UART_MASK = RX_INTERRUPTS;
    UART_CONTROL = (1u << 9) | (1u << 8) | 1u;
    ENABLE_INTERRUPTS = 1u << UART_NUMBER;
}

void on_uart(void)
{
    while ((UART_FLAGS & RX_EMPTY) == 0u) {
        uint16_t next = (uint16_t)((head + 1u) % sizeof ring);
        if (next == tail) {
            UART_MASK = 0u;
            return;
        }
        ring[head] = (uint8_t)UART_DATA;
        head = next;
    }
}

int uart_waits(void) { return head != tail; }

uint8_t uart_read(void)
{
    uint8_t byte = ring[tail];
    tail = (uint16_t)((tail + 1u) % sizeof ring);
    if (UART_MASK == 0u) {
        UART_MASK = RX_INTERRUPTS;
    }
    return byte;
}

void uart_write(uint8_t byte)
{
    while ((UART_FLAGS & TX_FULL) != 0u) {
    }
    UART_DATA = byte;
}

void pins_start(void)
{
    RCGC2 |= (1u << 3) | (1u << 4) | (1u << 5);
    REGISTER(PORT_D + DIRECTION) = 0xFFu;
    REGISTER(PORT_D + DIGITAL) = 0xFFu;
    REGISTER(PORT_E + DIRECTION) = 0x0Fu;
    REGISTER(PORT_E + DIGITAL) = 0x0Fu;
    REGISTER(PORT_F + DIRECTION) = 0x0Fu;
    REGISTER(PORT_F + DIGITAL) = 0x0Fu;
}

/* Writing to a port's address + 4 x mask changes the bits of the mask alone. */
void flight_pin(uint8_t channel, int on)
{
    uint32_t port = (channel <= 8u) ? PORT_D : ((channel <= 12u) ? PORT_E : PORT_F);
    uint32_t bit = (channel <= 8u) ? (1u << (channel - 1u)) : (1u << ((channel - 1u) & 3u));
    REGISTER(port + (bit << 2)) = on ? 0xFFu : 0u;
}

void chip_reset(void)
{
    __asm__ volatile("cpsid i\n dsb" ::: "memory");
    RESET = 0x05FA0004u;
    for (;;) {
    }
}

/* With interrupts masked, wfi still wakes, and no interrupt can come between the check and the sleep. */
void chip_rest(void)
{
    __asm__ volatile("cpsid i" ::: "memory");
    if (!uart_waits()) {
        __asm__ volatile("wfi" ::: "memory");
    }
    __asm__ volatile("cpsie i" ::: "memory");
}

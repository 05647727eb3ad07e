/* The reference firmware on an ATmega2560 at 16 MHz, without an operating system. It uses 32-bit floating
 * point, which is avr-gcc 5's double. RESTART is a reset by the watchdog, after pending EEPROM writes: with a
 * real supply a capacitor has to last for that tenth of a second. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>

#include "../board.h"
#include "parts.h"

#define ASKED 0x5AA5u

const char port_name[] = "reference-avr";

static flight_memory memory;
static uint16_t asked __attribute__((section(".noinit"))); /* ASKED: the host wanted the reset */

int port_write(const uint8_t *bytes, size_t count)
{
    for (; count > 0u; count--) {
        usart_write(*bytes);
        bytes++;
    }
    return 0;
}

uint32_t port_clock(void) { return clock_read(); }

void port_restart(void)
{
    keep_finish(&memory);
    asked = ASKED;
    cli();
    wdt_enable(WDTO_15MS);
    for (;;) {
    }
}

/* After a reset by the watchdog it stays on, with the shortest time-out, until it is switched off. */
static uint8_t why_started(void)
{
    uint8_t cause = MCUSR;
    MCUSR = 0u;
    wdt_disable();
    return cause;
}

static void rest(void)
{
    cli();
    if (!usart_waits() && !keep_busy()) {
        sleep_enable();
        sei();
        sleep_cpu(); /* the instruction after sei runs before any interrupt, so none is missed */
        sleep_disable();
    }
    sei();
}

int main(void)
{
    uint8_t cause = why_started();
    int unasked = ((cause & (1u << BORF)) != 0u) || (((cause & (1u << WDRF)) != 0u) && (asked != ASKED));
    uint16_t boots;
    pins_start();
    asked = 0u;
    clock_start();
    keep_load(&memory, &boots);
    (void)board_start(&memory, boots);
    board_join();
    usart_start();
    sei();
    if (unasked && ((cause & (1u << PORF)) == 0u)) {
        board_announce();
    }
    for (;;) {
        uint8_t bytes[64]; /* few, so that in real time the logic runs often enough */
        uint8_t count = 0u;
        while (usart_waits() && (count < sizeof bytes)) {
            bytes[count] = usart_read();
            count++;
        }
        if (count > 0u) {
            board_feed(bytes, count);
        }
        board_pass();
        keep_work(&memory);
        rest();
    }
}

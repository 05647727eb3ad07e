/* The reference firmware on an LM3S6965 (Cortex-M3), without an operating system or a C library, in 64-bit
 * floating point by software: the same bits as on a PC.
 *
 * This chip has no EEPROM. What survives a power cut lies in RAM that a reset leaves alone, as the 256 bytes
 * of the part's battery-backed memory would hold it, which the emulator lacks. RESTART is a reset. */
#include "../board.h"
#include "parts.h"

#include <string.h>

#define SOUND 0x6B657074u /* the memory holds what a firmware like this one wrote */
#define ASKED 0x61736B64u /* and the host wanted the reset */

typedef struct kept {
    uint32_t sound;
    uint32_t asked;
    uint32_t size;
    uint16_t boots;
    flight_memory flight;
} kept;

extern kept kept_at;
extern uint32_t stack_top[], data_from[], data_start[], data_end[], bss_start[], bss_end[];
void start(void);

const char port_name[] = "reference-arm";

int port_write(const uint8_t *bytes, size_t count)
{
    for (; count > 0u; count--) {
        uart_write(*bytes);
        bytes++;
    }
    return 0;
}

uint32_t port_clock(void) { return clock_read(); }

void port_restart(void)
{
    kept_at.asked = ASKED;
    chip_reset();
}

static void fly(void)
{
    int first = (kept_at.sound != SOUND) || (kept_at.size != sizeof(kept));
    int unasked = !first && (kept_at.asked != ASKED);
    pins_start();
    if (first) {
        (void)memset(&kept_at, 0, sizeof kept_at);
        kept_at.size = sizeof(kept);
        kept_at.sound = SOUND;
    }
    kept_at.asked = 0u;
    kept_at.boots++;
    clock_start();
    (void)board_start(&kept_at.flight, kept_at.boots);
    board_join();
    uart_start();
    __asm__ volatile("cpsie i" ::: "memory");
    if (unasked) {
        board_announce();
    }
    for (;;) {
        uint8_t bytes[64];
        uint8_t count = 0u;
        while (uart_waits() && (count < sizeof bytes)) {
            bytes[count] = uart_read();
            count++;
        }
        if (count > 0u) {
            board_feed(bytes, count);
        }
        board_pass();
        chip_rest();
    }
}

void start(void)
{
    uint32_t *to = data_start;
    const uint32_t *from = data_from;
    __asm__ volatile("cpsid i" ::: "memory");
    while (to < data_end) {
        *to = *from;
        to++;
        from++;
    }
    for (to = bss_start; to < bss_end; to++) {
        *to = 0u;
    }
    fly();
}

#define FAULT chip_reset
typedef void (*handler)(void);
static const handler vectors[16 + 22] __attribute__((section(".vectors"), used)) = {
    (handler)stack_top, start, FAULT, FAULT, FAULT, FAULT, FAULT, 0, 0, 0, 0, FAULT, FAULT, 0, FAULT, on_beat,
    FAULT, FAULT, FAULT, FAULT, FAULT, on_uart, FAULT, FAULT, FAULT, FAULT, FAULT, FAULT, FAULT, FAULT, FAULT, FAULT,
    FAULT, FAULT, FAULT, on_wake, FAULT, on_second,
};

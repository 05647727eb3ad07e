/* The decoder on an 8-bit AVR, for an emulator: LINE holds the bytes of a host (made by the Go test).
 * On the serial port it prints each frame as it came, the answers' check, and the cycles that one IMU frame
 * takes, then stops. */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <avr/sleep.h>

#include "drystage.h"
#include "line.h" /* static const uint8_t LINE[] PROGMEM, LINE_COUNT */

static drystage board;
static uint32_t answers; /* a running check of all that was written */
static uint16_t most;    /* cycles of the longest call of drystage_feed, in steps of 8 */

static void print(char c)
{
    while ((UCSR0A & (1u << UDRE0)) == 0u) {
    }
    UDR0 = (uint8_t)c;
}

static void print_hex(uint8_t byte)
{
    static const char digits[] = "0123456789abcdef";
    print(digits[byte >> 4]);
    print(digits[byte & 15u]);
}

static int on_write(void *user, const uint8_t *bytes, size_t count)
{
    size_t i;
    (void)user;
    for (i = 0u; i < count; i++) {
        answers = (answers * 31u) + bytes[i];
    }
    return 0;
}

static void on_off(void *user) { (void)user; }
static void on_begin(void *user, const drystage_hello_msg *m) { (void)user; (void)m; }
static int on_tick(void *user, uint32_t time) { (void)user; (void)time; return 1; }

static int on_setting(void *user, const char *name, int32_t *value)
{
    (void)user;
    (void)name;
    *value = *value / 2;
    return 1;
}

static const drystage_config config = {.name = "avr", .channels = 3u, .write = on_write, .off = on_off, .begin = on_begin,
    .tick = on_tick, .setting = on_setting};

int main(void)
{
    uint16_t i;
    UBRR0L = 0u;
    UCSR0B = (1u << TXEN0);
    TCCR1B = (1u << CS11); /* timer 1: a step each 8 cycles */
    (void)drystage_start(&board, &config, 1u);
    for (i = 0u; i < LINE_COUNT; i++) {
        uint16_t from;
        uint16_t took;
        int r;
        board.running = 1u;
        from = TCNT1;
        r = drystage_feed(&board, pgm_read_byte(&LINE[i]));
        took = (uint16_t)(TCNT1 - from);
        if ((r == DRYSTAGE_FRAME) && (board.in[1] == DRYSTAGE_IMU) && (took > most)) {
            most = took;
        }
        if (r != 0) {
            uint8_t n;
            int size = (r == DRYSTAGE_FRAME) ? drystage_host_size(board.in[1]) : -3;
            print_hex((uint8_t)r);
            for (n = 0u; (int)n < size + 3; n++) {
                print_hex(board.in[n]);
            }
            print('\n');
        }
    }
    print('=');
    for (i = 0u; i < 4u; i++) {
        print_hex((uint8_t)(answers >> (24u - 8u * i)));
    }
    print(' ');
    print_hex((uint8_t)(most >> 8));
    print_hex((uint8_t)(most & 0xFFu));
    print('\n');
    cli();
    sleep_mode(); /* the emulator ends here */
    return 0;
}

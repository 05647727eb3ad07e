/* README's board, complete, on an ATmega328P: an output on PB0 for a second when the pressure has risen 100 Pa
 * above its lowest value. It is as small as possible; don't fly it. */
#include <avr/eeprom.h>
#include <avr/interrupt.h>
#include <avr/io.h>

#include "drystage.h"

static drystage bench;
static uint32_t least, fired;              /* mPa, the lowest pressure; us, when the output went on */
static uint8_t armed, over, tail;          /* over: the top has been passed */
static volatile uint8_t ring[256], head;   /* what the line has brought */
static volatile uint8_t quiet;             /* so many quarters of a second without a byte */
static uint16_t starts EEMEM;              /* how often the board has started */

ISR(USART_RX_vect) { ring[head] = UDR0; head++; quiet = 0u; }
ISR(TIMER1_OVF_vect) { if (quiet < 255u) { quiet++; } }

static int line_write(void *user, const uint8_t *bytes, size_t count)
{
    for (; count > 0u; count--) {
        while ((UCSR0A & (1u << UDRE0)) == 0u) { }
        UDR0 = *bytes++;
    }
    return 0;
}

static void act(uint8_t on) { PORTB = on; (void)drystage_output(&bench, 1u, on); }
static void off(void *user) { act(0u); }
static void begin(void *user, const drystage_hello_msg *run) { least = UINT32_MAX; fired = armed = over = 0u; }

static void baro(void *user, const drystage_baro_msg *m)
{
    least = (m->pressure < least) ? m->pressure : least;
    over = over || (m->pressure - least > 100000u);
}

static void command(void *user, const drystage_command_msg *m)
{
    armed = (m->command == DRYSTAGE_ARM) || (armed && (m->command != DRYSTAGE_DISARM));
    if (!armed) { act(0u); }
    drystage_armed(&bench, armed);
}

static int tick(void *user, uint32_t time)
{
    if (armed && over && (fired == 0u)) { fired = time; act(1u); }
    if ((fired != 0u) && (time - fired >= 1000000u)) { act(0u); }
    return 1;
}

static const drystage_config config = {.name = "smallest", .channels = 1u, .write = line_write, .off = off,
    .begin = begin, .tick = tick, .command = command, .baro = baro};

int main(void)
{
    eeprom_update_word(&starts, eeprom_read_word(&starts) + 1u);
    DDRB = 1u;
    TCCR1B = (1u << CS11) | (1u << CS10); /* 16 MHz / 64: 0.26 s a round */
    TIMSK1 = (1u << TOIE1);
    UBRR0 = 3u; /* 250000 baud */
    UCSR0B = (1u << RXEN0) | (1u << TXEN0) | (1u << RXCIE0);
    (void)drystage_start(&bench, &config, eeprom_read_word(&starts));
    sei();
    for (;;) {
        if (tail != head) { (void)drystage_feed(&bench, ring[tail++]); }
        if (quiet > 20u) { act(0u); } /* 5 s: the cable is out */
    }
}

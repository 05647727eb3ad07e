/* For a test of the emulated board: a firmware that hears a GNSS receiver on USART 1 at 9600 baud, sees a breakwire at PL2,
 * and reads an MAG3110 on I2C. Pins tell what it makes of them:
 *
 *     PA0   the last GGA has a fix, and is at least 20 m above the first
 *     PA1   the breakwire is open
 *     PA2   the field is between 20 and 100 uT
 *     PA3   a sentence was wrong, or the sensor didn't answer */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <stdlib.h>
#include <string.h>

#include "bus.h"

#define FIELD 0x0E

static volatile char line[90];
static volatile uint8_t at;
static char whole[90];
static volatile uint8_t ready;

ISR(USART1_RX_vect)
{
    char c = (char)UDR1;
    if (c == '$') {
        at = 0;
    } else if ((c == '\n') && !ready) {
        line[at] = '\0';
        memcpy(whole, (const char *)line, sizeof whole);
        ready = 1;
    } else if (at < sizeof line - 1) {
        line[at] = c;
        at++;
    } else {
        /* too long: its checksum will be wrong */
    }
}

static void show(uint8_t pin, uint8_t on) { PORTA = on ? (PORTA | (uint8_t)(1 << pin)) : (PORTA & (uint8_t)~(1 << pin)); }

static uint8_t right(const char *s)
{
    uint8_t sum = 0;
    for (; (*s != '*') && (*s != '\0'); s++) {
        sum ^= (uint8_t)*s;
    }
    return (*s == '*') && (strtoul(s + 1, NULL, 16) == sum);
}

static const char *field(const char *s, uint8_t n)
{
    for (; n > 0; n--) {
        s = strchr(s, ',');
        if (s == NULL) {
            return "";
        }
        s++;
    }
    return s;
}

static void hear(void)
{
    static double first = -1000.0;
    double height;
    if (!right(whole)) {
        show(3, 1);
    } else if (strncmp(whole, "GPGGA", 5) == 0) {
        height = atof(field(whole, 9));
        if (first < -999.0) {
            first = height;
        }
        show(0, (*field(whole, 6) == '1') && (height >= first + 20.0));
    } else {
        /* another sentence */
    }
}

static void feel(void)
{
    static const uint8_t active[] = {0x10, 0x01};
    static uint8_t started;
    uint8_t b[6];
    double sum = 0.0;
    uint8_t i;
    if (!started) {
        started = i2c_write(FIELD, active, 2);
    } else if (!i2c_read(FIELD, 0x01, b, 6)) {
        show(3, 1);
    } else {
        for (i = 0; i < 3; i++) {
            double x = (int16_t)(((uint16_t)b[2 * i] << 8) | b[(2 * i) + 1]);
            sum += x * x;
        }
        show(2, (sum > 4e4) && (sum < 1e6));
    }
}

int main(void)
{
    DDRA = 15;
    PORTL = (1 << PL2); /* pull-up: the wire is to ground */
    UBRR1 = 103;
    UCSR1B = (1 << RXEN1) | (1 << RXCIE1);
    i2c_start();
    sei();
    TCCR1B = (1 << CS11) | (1 << CS10); /* 4 us */
    for (;;) {
        if (ready) {
            hear();
            ready = 0;
        }
        show(1, (PINL & (1 << PL2)) != 0);
        if (TCNT1 >= 25000u) { /* 0.1 s */
            TCNT1 = 0;
            feel();
        }
    }
}

#include "bus.h"

#include <avr/io.h>

#define TRIES 2000u /* loops of some 10 cycles: 1 ms, and a byte takes 25 us */

#define STARTED 0x08
#define STARTED_AGAIN 0x10
#define WRITE_ACK 0x18
#define DATA_ACK 0x28
#define READ_ACK 0x40

void i2c_start(void)
{
    TWCR = 0;
    TWSR = 0;
    TWBR = 12; /* 16 MHz / (16 + 2 * 12) */
    TWCR = (1 << TWEN);
}

/* Begins an action, waits for its end and gives the status; 0: it never ended. */
static uint8_t action(uint8_t bits)
{
    uint16_t left = TRIES;
    TWCR = (uint8_t)((1 << TWINT) | (1 << TWEN) | bits);
    while ((TWCR & (1 << TWINT)) == 0) {
        left--;
        if (left == 0) {
            return 0;
        }
    }
    return TWSR & 0xF8;
}

static uint8_t send(uint8_t byte)
{
    TWDR = byte;
    return action(0);
}

static void stop(void)
{
    uint16_t left = TRIES;
    TWCR = (1 << TWINT) | (1 << TWSTO) | (1 << TWEN);
    while (((TWCR & (1 << TWSTO)) != 0) && (left > 0)) {
        left--;
    }
}

static uint8_t failed(void)
{
    stop();
    i2c_start();
    return 0;
}

static uint8_t begin(uint8_t address_byte, uint8_t wanted)
{
    uint8_t status = action(1 << TWSTA);
    if ((status != STARTED) && (status != STARTED_AGAIN)) {
        return 0;
    }
    return send(address_byte) == wanted;
}

static uint8_t put(const uint8_t *bytes, uint8_t count)
{
    for (; count > 0; count--) {
        if (send(*bytes) != DATA_ACK) {
            return 0;
        }
        bytes++;
    }
    return 1;
}

uint8_t i2c_write(uint8_t address, const uint8_t *bytes, uint8_t count)
{
    if (!begin((uint8_t)(address << 1), WRITE_ACK) || !put(bytes, count)) {
        return failed();
    }
    stop();
    return 1;
}

uint8_t i2c_read(uint8_t address, uint8_t from, uint8_t *bytes, uint8_t count)
{
    if (!begin((uint8_t)(address << 1), WRITE_ACK) || !put(&from, 1) || !begin((uint8_t)((address << 1) | 1), READ_ACK)) {
        return failed();
    }
    for (; count > 0; count--) {
        if (action((count > 1) ? (1 << TWEA) : 0) == 0) {
            return failed();
        }
        *bytes = TWDR;
        bytes++;
    }
    stop();
    return 1;
}

void spi_start(void)
{
    PORTB |= (1 << PB0);
    DDRB |= (1 << PB0) | (1 << PB1) | (1 << PB2);
    SPCR = (1 << SPE) | (1 << MSTR) | (1 << CPOL) | (1 << CPHA) | (1 << SPR0);
}

void spi_move(uint8_t *bytes, uint8_t count)
{
    PORTB &= (uint8_t)~(1 << PB0);
    for (; count > 0; count--) {
        SPDR = *bytes;
        while ((SPSR & (1 << SPIF)) == 0) { /* the clock is our own, so this ends */
        }
        *bytes = SPDR;
        bytes++;
    }
    PORTB |= (1 << PB0);
}

void adc_start(void)
{
    ADMUX = (1 << REFS0); /* AVCC: 5 V */
    ADCSRA = (1 << ADEN) | (1 << ADPS2) | (1 << ADPS1) | (1 << ADPS0);
}

uint16_t adc_read(uint8_t input)
{
    ADMUX = (uint8_t)((1 << REFS0) | input);
    ADCSRA |= (1 << ADSC);
    while ((ADCSRA & (1 << ADSC)) != 0) {
    }
    return ADC;
}

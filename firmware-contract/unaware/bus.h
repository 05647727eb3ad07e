/* The two buses and the analogue inputs of an ATmega2560. Nothing here waits for ever. */
#ifndef BUS_H
#define BUS_H

#include <stdint.h>

/* I2C at 400 kHz. They give 1 if all went well; else the bus has been set up anew. */
void i2c_start(void);
uint8_t i2c_write(uint8_t address, const uint8_t *bytes, uint8_t count);
uint8_t i2c_read(uint8_t address, uint8_t from, uint8_t *bytes, uint8_t count); /* writes `from` first */

/* SPI at 1 MHz, mode 3; one part, whose select is PB0. */
void spi_start(void);
void spi_move(uint8_t *bytes, uint8_t count);

/* 0 to 1023: 0 to 5 V. */
void adc_start(void);
uint16_t adc_read(uint8_t input);

#endif

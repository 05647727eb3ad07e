/* The two-wire interface as a master, by the data sheet, in place of the library's, whose status codes are wrong after an
 * address. Parts hang on it; nobody else is master. */
#ifndef TWI_H
#define TWI_H

#include <simavr/avr_twi.h>
#include <simavr/sim_avr.h>

#include "part.h"

#define TWI_PARTS 8

typedef struct twi {
    avr_io_t io; /* first: told of resets */
    avr_twi_t *registers;
    avr_t *avr;
    part *parts[TWI_PARTS];
    uint8_t addresses[TWI_PARTS];
    int count;
    void (*before)(void *user); /* brings all parts to the present time */
    void (*after)(void *user);  /* a part may have changed its pin */
    void *user;

    part *talks;     /* which has acknowledged its address */
    uint8_t control; /* TWCR but for its flag */
    uint8_t status;  /* to come with the flag */
    int owns;        /* a start was sent: the bus is ours */
    int addresses_next; /* the next byte is an address */
    int reads;
} twi;

int twi_attach(twi *t, avr_t *avr); /* 0: this chip has none */
int twi_put(twi *t, part *p, uint8_t address); /* 0: too many */

#endif

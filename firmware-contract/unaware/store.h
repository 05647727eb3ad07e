/* The flight's state in EEPROM: two records, written in turn, a byte at a time, so that a power cut at any byte leaves a
 * good one. */
#ifndef STORE_H
#define STORE_H

#include "flight.h"

uint8_t store_load(memory *m); /* 1: there is a state, of an armed computer */
void store_step(const memory *m, uint8_t armed); /* writes what has changed; never waits */

#endif

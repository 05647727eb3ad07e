/* The flight's state in EEPROM: a byte for each output that has fired, which is written before all else since its igniter may
 * pull the supply down; and two records, written in turn, a byte at a time, so that a power cut at any byte leaves a good
 * one. */
#ifndef STORE_H
#define STORE_H

#include "flight.h"

uint8_t store_load(memory *m, uint8_t fired[OUTPUTS]); /* 1: there is a state, of an armed computer */
void store_step(const memory *m, const uint8_t fired[OUTPUTS], uint8_t armed); /* writes what has changed; never waits */

#endif

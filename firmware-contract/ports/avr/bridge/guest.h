/* The contract's guest in place of a firmware that doesn't speak it: samples become what the parts sense, commands
 * become switches, TICK lets the chip run, and the outputs' pins are reported with the cycle of their edge. */
#ifndef GUEST_H
#define GUEST_H

#include <simavr/sim_avr.h>

#include "wiring.h"

void guest_edge(uint8_t channel, uint8_t on); /* for wiring_attach */
void guest_reset(void);                        /* the same */

/* Serves standard input and output until the line ends. Doesn't return. */
void guest_serve(avr_t *avr, wiring *w, int in, int out);

#endif

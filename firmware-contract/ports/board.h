/* Shared by all ports of the reference firmware: the flight logic behind the library. A port has a line,
 * pins, a clock and a memory; it implements the port_ functions and flight_pin, and calls board_. */
#ifndef BOARD_H
#define BOARD_H

#include "flight.h"

/* Implemented by the port. */
extern const char port_name[];                            /* of the firmware, up to 16 characters */
int port_write(const uint8_t *bytes, size_t count);       /* all of them, or negative */
uint32_t port_clock(void);                                /* us, modulo 2^32 */
void port_restart(void);                                  /* as after a supply failure; may not return */

/* Of the board. kept is the non-volatile memory: the port loads it first, and stores it whenever it changes.
 * boots is how often the board has started. */
int board_start(flight_memory *kept, uint16_t boots);
void board_join(void);                                    /* the first bytes may be the rest of a frame: skip to a delimiter */
void board_announce(void);                                /* it has just restarted by itself */
void board_feed(const uint8_t *bytes, size_t count);
void board_pass(void);                                    /* from the main loop, at least each few ms in real time */
int board_by_clock(void);                                 /* there is a run in real time */

#endif

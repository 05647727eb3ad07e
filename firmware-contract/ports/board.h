/* What all ports of the reference firmware share: the flight logic behind the library. A port has a
 * line, pins, a clock and a memory; it gives the functions port_ and flight_pin, and calls board_. */
#ifndef BOARD_H
#define BOARD_H

#include "flight.h"

/* The port's. */
extern const char port_name[];                            /* of the firmware, up to 16 characters */
int port_write(const uint8_t *bytes, size_t count);       /* all of them, or negative */
uint32_t port_clock(void);                                /* us, modulo 2^32 */
void port_restart(void);                                  /* as if the supply had failed; may not return */

/* The board's. kept is what survives a power cut: the port loads it first, and keeps it whenever it
 * changes. boots is how often the board has started. */
int board_start(flight_memory *kept, uint16_t boots);
void board_join(void);                                    /* what comes may begin amid a frame: skip to a delimiter */
void board_announce(void);                                /* it has just restarted without being asked */
void board_feed(const uint8_t *bytes, size_t count);
void board_pass(void);                                    /* from the main loop, at least each few ms in real time */
int board_by_clock(void);                                 /* a run in real time is on */

#endif

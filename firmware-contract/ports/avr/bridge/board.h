/* What is connected to the chip besides its serial line: pins that are recorded, and an EEPROM with real write
 * times, which the library's doesn't have. */
#ifndef BOARD_BRIDGE_H
#define BOARD_BRIDGE_H

#include <stdio.h>

#include "usart.h"

void pins_watch(avr_t *avr, const usart *line, FILE *to);
void pins_look(void);      /* after a reset, for which there is no callback */
int eeprom_attach(avr_t *avr);

#endif

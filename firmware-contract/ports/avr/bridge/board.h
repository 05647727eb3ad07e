/* What is soldered to the chip beside its serial line: pins that are watched, and an EEPROM that takes its
 * time, which the library's does not. */
#ifndef BOARD_BRIDGE_H
#define BOARD_BRIDGE_H

#include <stdio.h>

#include "usart.h"

void pins_watch(avr_t *avr, const usart *line, FILE *to);
void pins_look(void);      /* after a reset, which no callback tells */
int eeprom_attach(avr_t *avr);

#endif

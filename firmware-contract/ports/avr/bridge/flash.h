/* What a run executed of the chip's flash, and a change of one branch in it. */
#ifndef FLASH_H
#define FLASH_H

#include <simavr/sim_avr.h>

/* Counts into a file, in the machine's own byte order: for each word of the flash 64 bits with how often it was executed,
 * and 64 bits with how often the next instruction wasn't the one behind it. 0: it can't be written. */
int flash_count(const avr_t *avr, const char *file);
int flash_counts(void); /* 1: flash_ran wants each instruction */
void flash_ran(avr_flashaddr_t at, avr_flashaddr_t next);

/* Turns the condition of the branch or skip at a byte address around. 0: there is none. */
int flash_flip(avr_t *avr, avr_flashaddr_t at);

#endif

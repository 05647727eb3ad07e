/* What hangs on the chip's pins and buses, told by words. One wire a text:
 *
 *     part NAME KIND twi ADDRESS        part imu mpu6050 twi 0x68
 *     part NAME KIND spi PIN            a part with its select, low when it is selected
 *     interrupt NAME PIN                the interrupt pin of a part
 *     output CHANNEL PIN LEVEL          the level that is on
 *     switch arm|stage PIN LEVEL        an input, with the level that is on
 *     breakwire CHANNEL PIN LEVEL       an input, with the level while the circuit of that channel is whole
 *     receiver UART BAUD                a GNSS receiver that sends NMEA 0183 to one of the chip's serial lines
 *     battery INPUT SHARE               an analogue input; thousandths of the battery's voltage at it
 *     circuit INPUT CHANNEL GOOD OPEN SHORTED   mV at an analogue input
 *     setting NAME VALUE                what the firmware is built with, in thousandths of SI
 *     fault NAME KIND FROM TO VALUE     a fault of a part, from one time of the run to another in ms
 */
#ifndef WIRING_H
#define WIRING_H

#include <simavr/sim_avr.h>

#include "drystage.h"
#include "gnss.h"
#include "part.h"
#include "usart.h"

#define WIRED_PARTS 8
#define WIRED_OTHERS 32

typedef struct pin {
    char port; /* 0: none */
    uint8_t bit;
} pin;

typedef struct wired_part {
    any_part any; /* first */
    char name[25];
    pin select;     /* on SPI */
    pin interrupt;
    uint8_t lost;   /* the host sends no samples for it */
} wired_part;

typedef struct wired {
    enum { OUTPUT, SWITCH_ARM, SWITCH_STAGE, BREAKWIRE, RECEIVER, BATTERY, CIRCUIT, SETTING, FAULT } kind;
    pin at;
    uint8_t level;
    uint8_t input;   /* analogue, or the number of a serial line */
    uint8_t channel;
    int32_t value[4];
    char name[25];
    char word[12];
} wired;

typedef struct wiring {
    wired_part parts[WIRED_PARTS];
    int part_count;
    wired others[WIRED_OTHERS];
    int other_count;
    uint8_t channels;
    usart receiver;  /* what hears it */
    uint8_t heard;   /* there is one */
} wiring;

int wiring_add(wiring *w, const char *text); /* 0: the words aren't right */
/* 0: the chip lacks something. edge is told of outputs, reset of the chip's resets. */
int wiring_attach(wiring *w, avr_t *avr, void (*edge)(uint8_t channel, uint8_t on), void (*reset)(void));

void wiring_power(wiring *w);         /* the supply comes */
void wiring_look(wiring *w);          /* at the outputs */
void wiring_follow(wiring *w);        /* parts to the chip's present time, and their pins */
void wiring_switch(wiring *w, int stage, int on);
int wiring_switched(const wiring *w, int stage);
void wiring_battery(wiring *w, uint16_t millivolts);
void wiring_circuits(wiring *w, uint16_t open, uint16_t shorted);
void wiring_faults(wiring *w, uint32_t ms);
void wiring_fix(wiring *w, const gnss_fix *f);
int wiring_setting(const wiring *w, const char *name, int32_t *value);

#endif

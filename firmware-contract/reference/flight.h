/* Flight logic for recovery and staging: liftoff, burnout, staging, apogee, drogue, main, landing. It
 * decides as drystage's built-in mock board does, and a test holds the two together.
 *
 * It is a reference for the contract and for the bench. It has never flown; don't fly it. */
#ifndef FLIGHT_H
#define FLIGHT_H

#include "attitude.h"
#include "drystage.h"
#include "estimate.h"
#include "settings.h"

typedef enum phase { ON_PAD, BOOSTING, COASTING, DESCENDING, UNDER_MAIN, LANDED } phase;

/* The non-volatile memory: all that the board knows after its supply has failed. */
typedef struct flight_memory {
    int valid;
    int64_t clock; /* us, when it was last written */
    int armed;
    phase phase;
    double ground; /* Pa, pressure at the pad */
    double weight; /* samples behind ground */
    int64_t liftoff;
    int64_t burnout; /* of the first motor; 0: not yet */
    int64_t apogee;
    double top; /* m, greatest height */
    int staged;
    int drogue;
    int main;
    int64_t staged_at;
    int64_t drogue_at;
} flight_memory;

/* How long something has been so without a break. */
typedef struct hold {
    int64_t since;
    int on;
} hold;

/* A part that repeats itself is stuck, if it has shown noise before. */
typedef struct watch {
    int64_t last;
    int32_t same;
    int32_t moved;
    int32_t samples;
    int32_t patience;
} watch;

/* Why the upper motor must not be lit. */
typedef enum reason { NOTHING, NOT_ARMED, NOT_COASTING, TOO_EARLY, TOO_LATE, TILT_UNKNOWN, TILTED, IN_DOUBT, TOO_LOW, TOO_SLOW } reason;

/* All that the board forgets when its supply fails. */
typedef struct flight {
    drystage *line;
    flight_memory *mem;
    double set[SETTINGS];
    int64_t now; /* us */
    int64_t fed; /* us, time of the newest sample */
    int64_t woke;
    uint16_t imu_hz;
    estimator est;
    attitude att;
    uint16_t on; /* bit c-1: channel c */
    int64_t ends[DRYSTAGE_MAX_CHANNELS + 1u];
    watch accel[3];
    watch gyro[3];
    watch baro;
    double based_on; /* Pa, the ground whose pressure_height base is */
    double base;     /* m */
    vector nose;
    double steepest; /* cosine of staging_max_tilt */
    double axial;    /* m/s2, specific force towards the nose */
    int64_t felt;
    int ever_felt;
    int arming;
    int64_t arm_asked;
    int asked; /* the operator asks for staging */
    reason told;
    int64_t next; /* us, of the next report */
    int confirmed;
    int relit;
    int unlit;
    hold thrust;
    hold high;
    hold low;
    hold down;
    hold lost;
    hold below;
    hold blind;
    hold still;
} flight;

void flight_begin(flight *f, flight_memory *mem, drystage *line, const drystage_hello_msg *run);
int flight_setting(flight *f, const char *name, int32_t *value);
void flight_imu(flight *f, const drystage_imu_msg *m);
void flight_baro(flight *f, const drystage_baro_msg *m);
void flight_command(flight *f, const drystage_command_msg *m);
void flight_tick(flight *f, uint32_t time);
void flight_pass(flight *f, uint32_t own); /* in real time, instead of flight_tick */
void flight_off(flight *f); /* all outputs */
void flight_switch(flight *f, uint8_t channel, int on); /* armed or not: for the bench's TEST, not for logic */

/* The port's: drives the pin of an output, before the line hears of it. */
void flight_pin(uint8_t channel, int on);

#endif

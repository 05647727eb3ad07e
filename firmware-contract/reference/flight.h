/* Flight logic for recovery and staging: liftoff, burnout, staging, apogee, drogue, main, landing. It makes
 * the same decisions as drystage's built-in mock board; a test compares the two.
 *
 * It is a reference for the contract and for the bench. It has never flown; don't fly it. */
#ifndef FLIGHT_H
#define FLIGHT_H

#include "attitude.h"
#include "drystage.h"
#include "estimate.h"
#include "settings.h"

/* On the pad; a motor burns; still climbing, without thrust; after apogee; below the main; on the ground. */
typedef enum phase { PHASE_STANDING, PHASE_POWERED, PHASE_UNPOWERED, PHASE_FALLING, PHASE_SLOWED, PHASE_DOWN } phase;

/* The non-volatile memory: all that the board still has after its supply has failed. */
typedef struct flight_memory {
    int valid;
    int64_t clock; /* us, when it was last written */
    int armed;
    phase phase;
    double ground_pressure; /* Pa, at the pad */
    double ground_samples; /* in the mean */
    int64_t liftoff;
    int64_t burnout; /* of the first motor; 0: not yet */
    int64_t apogee;
    double max_height; /* m */
    int staged;
    int drogue;
    int main;
    int64_t staged_at;
    int64_t drogue_at;
} flight_memory;

/* How long a condition has been true without interruption. */
typedef struct persistence {
    int64_t since;
    int on;
} persistence;

/* Detects a part that repeats one value, if it has shown noise before. */
typedef struct stuck_detector {
    int64_t last;
    int32_t same;
    int32_t moved;
    int32_t samples;
    int32_t limit;
} stuck_detector;

/* Speed and height that the accelerometer alone tells of, by dead reckoning from the pad. */
typedef struct reckoning {
    int64_t t; /* us */
    double v;
    double h;
    int good; /* without a gap, with an attitude */
} reckoning;

/* Reasons not to ignite the upper motor. */
typedef enum reason { NO_REASON, NOT_ARMED, NOT_COASTING, TOO_EARLY, TOO_LATE, TILT_UNKNOWN, TILT_EXCEEDED, BARO_NOT_BELIEVED, TOO_LOW, TOO_SLOW } reason;

/* The flight logic with its volatile state, which is lost when the supply fails. */
typedef struct flight {
    drystage *line;
    flight_memory *mem;
    double set[SETTINGS];
    uint16_t bad; /* outputs that the continuity check finds open or shorted; bit c-1: channel c */
    int64_t now; /* us */
    int64_t newest_sample; /* us */
    int64_t started_at; /* us, when this run began or went on after a restart */
    uint16_t imu_hz;
    estimator est;
    attitude att;
    uint16_t on; /* bit c-1: channel c */
    int64_t ends[DRYSTAGE_MAX_CHANNELS + 1u];
    stuck_detector accel[3];
    stuck_detector gyro[3];
    stuck_detector baro;
    double base_pressure; /* Pa, the ground pressure of base */
    double base; /* m, pressure_height of base_pressure */
    vector nose;
    double min_tilt_cosine; /* cosine of staging_max_tilt */
    double axial;    /* m/s2, specific force towards the nose */
    int rests;       /* the last acceleration is that of a rocket that stands still */
    int64_t accel_at; /* us, of the last acceleration */
    int arming;
    int64_t arm_asked_at;
    int stage_asked; /* the operator has commanded staging */
    reason last_reason;
    int64_t next; /* us, of the next report */
    int liftoff_confirmed;
    int upper_burned;
    int no_thrust_reported;
    persistence thrust;
    persistence high;
    persistence low;
    persistence down;
    persistence below;
    persistence no_height;
    persistence still;
    persistence standing;
    int height_seen;     /* the barometer has told of a height above the pad since liftoff */
    int64_t pressure_at; /* us, of the last pressure */
    double told;         /* m, its height */
    double told_most;    /* m, the greatest since liftoff */
    reckoning felt;
    persistence felt_down;
    persistence fell;
} flight;

void flight_begin(flight *f, flight_memory *mem, drystage *line, const drystage_hello_msg *run);
int flight_setting(flight *f, const char *name, int32_t *value);
void flight_imu(flight *f, const drystage_imu_msg *m);
void flight_baro(flight *f, const drystage_baro_msg *m);
void flight_circuits(flight *f, const drystage_circuits_msg *m);
void flight_command(flight *f, const drystage_command_msg *m);
void flight_tick(flight *f, uint32_t time);
void flight_pass(flight *f, uint32_t own); /* in real time, instead of flight_tick */
void flight_off(flight *f); /* all outputs */
void flight_switch(flight *f, uint8_t channel, int on); /* armed or not: for TEST of a bench only */

/* Of the port: drives the pin of an output, before the change is sent. */
void flight_pin(uint8_t channel, int on);

#endif

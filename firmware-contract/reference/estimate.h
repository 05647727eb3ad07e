/* Height and upward speed from pressure and vertical acceleration: a filter of third order with three
 * equal real poles. Its third state is added to the measured acceleration. */
#ifndef ESTIMATE_H
#define ESTIMATE_H

#include <stdint.h>

#define SETTLE_SAMPLES 10

#define BARO_TIMEOUT 0.5      /* s without an accepted sample after which the barometer isn't current */

typedef struct estimator_gains {
    double h;
    double v;
    double b;
} estimator_gains;

typedef struct estimator {
    int64_t t; /* us, of the state */
    double h;  /* m above the pad */
    double v;  /* m/s upwards */
    double b;  /* m/s2 */
    double u;  /* m/s2, measured upward acceleration; 0 without inertial */
    int inertial;
    int falling; /* past apogee */
    int started;
    int32_t n;   /* samples since it began */
    int in_flight; /* it began in flight */
    int64_t begun;
    int64_t accepted;
    int64_t refused;
    int refusing;
    int accel_wrong; /* the accelerometer has disagreed with the barometer */
    double period; /* s between samples */
    estimator_gains gains_baro; /* barometer alone */
    estimator_gains gains_inertial; /* with the accelerometer */
} estimator;

void estimator_tune(estimator *e, double hz);
void estimator_begin(estimator *e, int64_t t, double z, int moving);
void estimator_add_acceleration(estimator *e, int64_t t, double up);
void estimator_drop_inertial(estimator *e, int falling);
void estimator_predict(estimator *e, int64_t t);
void estimator_correct(estimator *e, int64_t t, double z);
int estimator_settled(const estimator *e);
int estimator_baro_current(const estimator *e, int64_t now);
int estimator_disagrees(const estimator *e, int64_t now);
int estimator_accel_rejected(const estimator *e, int64_t now);

/* Height in m of pressure p (Pa) above 101325 Pa, in the standard atmosphere of ISO 2533:1975. */
double pressure_height(double p);

/* Height in m of pressure p above the ground, whose pressure_height is base and whose air has kelvin; 0: that
 * of the standard atmosphere. */
double height_above(double p, double base, double kelvin);

#endif

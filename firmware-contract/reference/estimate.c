#include "estimate.h"

#include <math.h>

#include "plain.h"

#define POLE_INERTIAL 1.2 /* rad/s */
#define POLE_BARO 2.5
#define GATE_BASE 10.0   /* m */
#define GATE_SPEED 0.1   /* s */
#define GATE_GROWTH 15.0 /* m/s */
#define REFUSE_TIMEOUT 2.0     /* s of refused samples after which the barometer is accepted again */
#define MAX_ACCEL_ERROR 0.1   /* m/s2: a larger correction comes from faulty last pressures */
#define NO_SENSOR_TIME 0.3   /* s without any sensor before the last acceleration is dropped */
#define SETTLE_TIME 0.5  /* s */

static estimator_gains gains_of(double pole, double period)
{
    estimator_gains g;
    double th = plain_exp(-(pole * period));
    double d = 1.0 - th;
    g.h = 1.0 - ((th * th) * th);
    g.v = (1.5 * ((d * d) * (1.0 + th))) / period;
    g.b = ((d * d) * d) / (period * period);
    return g;
}

void estimator_tune(estimator *e, double hz)
{
    e->period = 1.0 / plain_max(hz, 1.0);
    e->gains_baro = gains_of(POLE_BARO, e->period);
    e->gains_inertial = gains_of(POLE_INERTIAL, e->period);
}

void estimator_begin(estimator *e, int64_t t, double z, int moving)
{
    e->t = t;
    e->begun = t;
    e->accepted = t;
    e->n = 0;
    e->h = z;
    e->v = 0.0;
    e->b = 0.0;
    if (moving && !e->falling) {
        e->b = -STANDARD_GRAVITY;
    }
    e->started = 1;
    e->in_flight = moving;
    e->refusing = 0;
}

void estimator_add_acceleration(estimator *e, int64_t t, double up)
{
    if (!e->inertial) {
        e->b = e->b - up;
        e->u = up;
        e->inertial = 1;
    } else {
        e->u = (e->u + up) / 2.0;
        estimator_predict(e, t);
        e->u = up;
    }
}

void estimator_drop_inertial(estimator *e, int falling)
{
    e->falling = falling;
    if (e->inertial) {
        e->b = e->b + e->u;
        e->u = 0.0;
        e->inertial = 0;
    }
}

void estimator_predict(estimator *e, int64_t t)
{
    double dt = plain_seconds(t - e->t);
    double a;
    if (!e->started) {
        return;
    }
    if (!e->inertial && (plain_seconds(t - e->accepted) > NO_SENSOR_TIME)) {
        e->b = e->falling ? 0.0 : -STANDARD_GRAVITY;
    }
    if (e->inertial && (plain_seconds(t - e->accepted) > BARO_TIMEOUT)) {
        e->b = plain_min(plain_max(e->b, -MAX_ACCEL_ERROR), MAX_ACCEL_ERROR);
    }
    a = e->u + e->b;
    e->h += (dt * e->v) + (((dt * dt) * a) / 2.0);
    e->v += dt * a;
    e->t = t;
}

static double gate(const estimator *e, int64_t t)
{
    return (GATE_BASE + (GATE_SPEED * fabs(e->v))) + (GATE_GROWTH * plain_seconds(t - e->accepted));
}

/* Says whether a sample outside of the gate is refused. After too long a time it begins a new estimate. */
static int refuse(estimator *e, int64_t t, double z)
{
    if (!e->refusing) {
        e->refusing = 1;
        e->refused = t;
    }
    if (plain_seconds(t - e->refused) < REFUSE_TIMEOUT) {
        return 1;
    }
    estimator_drop_inertial(e, e->falling);
    e->accel_wrong = 1;
    estimator_begin(e, t, z, 1);
    return 0;
}

void estimator_correct(estimator *e, int64_t t, double z)
{
    estimator_gains g;
    double r;
    estimator_predict(e, t);
    r = z - e->h;
    if (estimator_settled(e) && (fabs(r) > gate(e, t))) {
        if (refuse(e, t, z)) {
            return;
        }
        r = 0.0;
    }
    e->refusing = 0;
    e->accepted = t;
    e->n++;
    g = e->inertial ? e->gains_inertial : e->gains_baro;
    if (e->in_flight) { /* least squares over all samples, while its gain is larger */
        double n = (double)(e->n - 1);
        g.h = plain_max(g.h, (2.0 * ((2.0 * n) + 1.0)) / ((n + 1.0) * (n + 2.0)));
        g.v = plain_max(g.v, (6.0 / ((n + 1.0) * (n + 2.0))) / e->period);
    }
    e->h += g.h * r;
    e->v += g.v * r;
    e->b += g.b * r;
}

int estimator_settled(const estimator *e)
{
    return (e->n >= SETTLE_SAMPLES) && (plain_seconds(e->t - e->begun) >= SETTLE_TIME);
}

int estimator_baro_current(const estimator *e, int64_t now)
{
    return plain_seconds(now - e->accepted) < BARO_TIMEOUT;
}

/* The barometer speaks and is refused: in a while it will be accepted, or believed again. */
int estimator_disagrees(const estimator *e, int64_t now)
{
    return e->refusing && (plain_seconds(now - e->refused) < (REFUSE_TIMEOUT + BARO_TIMEOUT));
}

/* The accelerometer has disagreed with the barometer, and the barometer is current. */
int estimator_accel_rejected(const estimator *e, int64_t now) { return e->accel_wrong && estimator_baro_current(e, now); }

/* (T0/L) (1 - (p/p0)^(R L/g0)): ISO 2533:1975 below 11 km. */
double pressure_height(double p)
{
    return 44330.769230769 * (1.0 - plain_exp(0.190263237 * plain_log(p / 101325.0)));
}

double height_above(double p, double base, double kelvin)
{
    double h = pressure_height(p) - base;
    if (kelvin > 0.0) {
        h = (h * kelvin) / (288.15 - (0.0065 * base));
    }
    return h;
}

#include "estimate.h"

#include <math.h>

#include "plain.h"

#define POLE_HELPED 1.2 /* rad/s */
#define POLE_ALONE 2.5
#define GATE_BASE 10.0   /* m */
#define GATE_SPEED 0.1   /* s */
#define GATE_GROWTH 15.0 /* m/s */
#define STUBBORN 2.0     /* s of refused samples after which the barometer is right */
#define HEARING 0.5      /* s without an accepted sample: not heard */
#define ERROR_MOST 0.1   /* m/s2: more than this is no error of an accelerometer, but of what the pressure said last */
#define COAST_TIME 0.3   /* s without any sensor before the last acceleration is given up */
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
    e->period = 1.0 / plain_min(plain_max(hz, 1.0), 1000.0);
    e->alone = gains_of(POLE_ALONE, e->period);
    e->helped = gains_of(POLE_HELPED, e->period);
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
        e->b = -STANDARD_GRAVITY - e->u;
    }
    e->started = 1;
    e->moving = moving;
    e->refusing = 0;
}

void estimator_accelerate(estimator *e, int64_t t, double up)
{
    if (!e->inertial) {
        estimator_predict(e, t);
        e->b = e->b - up;
        e->u = up;
        e->inertial = 1;
    } else {
        e->u = (e->u + up) / 2.0;
        estimator_predict(e, t);
        e->u = up;
    }
}

void estimator_blind(estimator *e, int falling)
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
    if ((dt <= 0.0) || !e->started) {
        return;
    }
    if (!e->inertial && (plain_seconds(t - e->accepted) > COAST_TIME)) {
        e->b = e->falling ? 0.0 : -STANDARD_GRAVITY;
    }
    if (e->inertial && (plain_seconds(t - e->accepted) > HEARING)) {
        e->b = plain_min(plain_max(e->b, -ERROR_MOST), ERROR_MOST);
    }
    a = e->u + e->b;
    e->h += (dt * e->v) + (((dt * dt) * a) / 2.0);
    e->v += dt * a;
    e->t = t;
}

static double gate(const estimator *e, int64_t t)
{
    double silent = plain_max(plain_seconds(t - e->accepted) - 0.1, 0.0);
    return (GATE_BASE + (GATE_SPEED * fabs(e->v))) + (GATE_GROWTH * silent);
}

/* Says whether a sample that lies r from the prediction is to be refused. One refused for too long
 * becomes the beginning of a new estimate. */
static int refuse(estimator *e, int64_t t, double z)
{
    if (!e->refusing) {
        e->refusing = 1;
        e->refused = t;
    }
    if (plain_seconds(t - e->refused) < STUBBORN) {
        return 1;
    }
    estimator_blind(e, e->falling);
    e->doubt = 1;
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
    g = e->inertial ? e->helped : e->alone;
    if (e->moving) { /* least squares over all samples, until that is finer */
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
    return e->started && (e->n >= SETTLE_SAMPLES) && (plain_seconds(e->t - e->begun) >= SETTLE_TIME);
}

int estimator_heard(const estimator *e, int64_t now)
{
    return e->started && (plain_seconds(now - e->accepted) < HEARING);
}

/* The accelerometer is not to be believed, while there is a barometer that knows better. */
int estimator_overruled(const estimator *e, int64_t now) { return e->doubt && estimator_heard(e, now); }

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

/* What the parts say, and whether they live. */
#include "parts.h"

#define LOWEST_PRESSURE 1000.0 /* Pa, below what any barometer of the trade reads */

static void watch_take(watch *w, int64_t v)
{
    if ((w->samples > 0) && (v == w->last)) {
        w->same++;
    } else {
        w->same = 0;
        w->moved++;
    }
    if (w->same < w->patience) {
        w->samples++;
    }
    w->last = v;
}

static int watch_live(const watch *w)
{
    return (w->samples >= 2 * w->patience) && (3 * w->moved >= 2 * w->samples - 2 * w->patience);
}

int watch_stuck(const watch *w) { return (w->same >= w->patience) && watch_live(w); }
int triad_stuck(const watch *w) { return watch_stuck(&w[0]) || watch_stuck(&w[1]) || watch_stuck(&w[2]); }

static void triad_take(watch *w, int32_t x, int32_t y, int32_t z)
{
    watch_take(&w[0], x);
    watch_take(&w[1], y);
    watch_take(&w[2], z);
}

int flight_timely(const flight *f, uint32_t t) { return (int64_t)t >= f->now; }
int flight_feels(const flight *f) { return f->ever_felt && (flight_since(f, f->felt) <= GYRO_GAP) && !triad_stuck(f->accel); }
static int under_half_thrust(const flight *f) { return f->axial < f->set[LIFTOFF_ACCELERATION] / 2.0; }

void flight_imu(flight *f, const drystage_imu_msg *m)
{
    int64_t t = (int64_t)m->time;
    if (!flight_timely(f, m->time)) {
        return;
    }
    f->fed = t;
    if ((m->has & DRYSTAGE_FRESH_GYRO) != 0u) {
        vector w = {(double)m->gyro_x / 1e6, (double)m->gyro_y / 1e6, (double)m->gyro_z / 1e6};
        triad_take(f->gyro, m->gyro_x, m->gyro_y, m->gyro_z);
        attitude_turn(&f->att, t, w, (f->mem->phase == ON_PAD) && (vector_dot(w, w) < 0.04) && under_half_thrust(f));
    }
    if ((m->has & DRYSTAGE_FRESH_ACCEL) != 0u) {
        vector a = {(double)m->accel_x / 1e3, (double)m->accel_y / 1e3, (double)m->accel_z / 1e3};
        triad_take(f->accel, m->accel_x, m->accel_y, m->accel_z);
        f->axial = vector_dot(a, f->nose);
        f->felt = t;
        f->ever_felt = 1;
        if (f->mem->phase == ON_PAD) {
            attitude_rest(&f->att, a);
        }
        if ((f->mem->phase <= COASTING) && f->att.known && !triad_stuck(f->accel) && !estimator_overruled(&f->est, t)) {
            estimator_accelerate(&f->est, t, vector_dot(a, f->att.up) - STANDARD_GRAVITY);
        }
    }
}

/* Takes a pressure at the pad into the mean, which forgets; a jump counts as a small one. */
static void learn(flight_memory *mem, double p)
{
    double d = p - mem->ground;
    if (mem->weight >= 10.0) {
        d = plain_min(plain_max(d, -50.0), 50.0);
    }
    mem->weight = plain_min(mem->weight + 1.0, 500.0);
    mem->ground += d / mem->weight;
}

/* The ground stands still in flight, and a logarithm takes its time on a small processor. */
static double ground_height(flight *f)
{
    double ground = f->mem->ground;
    if ((f->based_on < ground) || (f->based_on > ground)) {
        f->based_on = ground;
        f->base = pressure_height(ground);
    }
    return f->base;
}

void flight_baro(flight *f, const drystage_baro_msg *m)
{
    int64_t t = (int64_t)m->time;
    double p = (double)m->pressure / 1000.0;
    double z;
    int leaving = estimator_settled(&f->est) && (f->est.h > CONFIRM_HEIGHT);
    if (!flight_timely(f, m->time)) {
        return;
    }
    f->fed = t;
    watch_take(&f->baro, (int64_t)m->pressure);
    if ((p < LOWEST_PRESSURE) || ((f->baro.same > 0) && watch_live(&f->baro))) {
        return; /* a repeat may be the first of many */
    }
    if ((f->mem->phase == ON_PAD) && (!f->att.known || under_half_thrust(f)) && !leaving) {
        learn(f->mem, p);
    }
    if (!(f->mem->ground > 0.0)) {
        f->mem->ground = p;
    }
    z = height_above(p, ground_height(f), f->set[SITE_TEMPERATURE]);
    if (!f->est.started) {
        estimator_begin(&f->est, t, z, f->mem->valid && (f->mem->weight > 1.0));
    } else {
        estimator_correct(&f->est, t, z);
    }
}

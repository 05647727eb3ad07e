/* Samples of the sensors, and detection of stuck ones. */
#include "parts.h"

#define LOWEST_PRESSURE 1000.0 /* Pa, below the range of usual barometers */

static void detector_add(stuck_detector *w, int64_t v)
{
    if ((w->samples > 0) && (v == w->last)) {
        w->same++;
    } else {
        w->same = 0;
        w->moved++;
    }
    if (w->same < w->limit) {
        w->samples++;
    }
    w->last = v;
}

static int detector_has_noise(const stuck_detector *w)
{
    return (w->samples >= 2 * w->limit) && (3 * w->moved >= 2 * w->samples - 2 * w->limit);
}

int detector_stuck(const stuck_detector *w) { return (w->same >= w->limit) && detector_has_noise(w); }
int triad_stuck(const stuck_detector *w) { return detector_stuck(&w[0]) || detector_stuck(&w[1]) || detector_stuck(&w[2]); }

static void triad_add(stuck_detector *w, int32_t x, int32_t y, int32_t z)
{
    detector_add(&w[0], x);
    detector_add(&w[1], y);
    detector_add(&w[2], z);
}

int flight_timely(const flight *f, uint32_t t) { return flight_time(f, t) >= f->now; }
int flight_accel_usable(const flight *f) { return (flight_since(f, f->accel_at) <= GYRO_GAP) && !triad_stuck(f->accel); }
static int below_half_liftoff_acceleration(const flight *f) { return f->axial < f->set[LIFTOFF_ACCELERATION] / 2.0; }

/* Adds up the upward acceleration from the first push on. */
static void reckon(flight *f, int64_t t, double up)
{
    reckoning *r = &f->felt;
    double dt = plain_seconds(t - r->t);
    r->t = t;
    if ((f->mem->phase == PHASE_STANDING) && !f->thrust.on) {
        r->v = 0.0;
        r->h = 0.0;
        r->good = 1;
        return;
    }
    r->good = r->good && f->att.known && (dt <= GYRO_GAP) && !triad_stuck(f->accel);
    r->v += up * dt;
    r->h += r->v * dt;
}

void flight_imu(flight *f, const drystage_imu_msg *m)
{
    int64_t t = flight_time(f, m->time);
    if (!flight_timely(f, m->time)) {
        return;
    }
    f->newest_sample = t;
    if (f->mem->phase > PHASE_UNPOWERED) {
        return; /* after apogee the barometer alone counts */
    }
    if ((m->has & DRYSTAGE_FRESH_GYRO) != 0u) {
        vector w = {(double)m->gyro_x / 1e6, (double)m->gyro_y / 1e6, (double)m->gyro_z / 1e6};
        triad_add(f->gyro, m->gyro_x, m->gyro_y, m->gyro_z);
        attitude_rotate(&f->att, t, w, (f->mem->phase == PHASE_STANDING) && (vector_dot(w, w) < 0.04) && below_half_liftoff_acceleration(f));
    }
    if ((m->has & DRYSTAGE_FRESH_ACCEL) != 0u) {
        vector a = {(double)m->accel_x / 1e3, (double)m->accel_y / 1e3, (double)m->accel_z / 1e3};
        triad_add(f->accel, m->accel_x, m->accel_y, m->accel_z);
        f->axial = vector_dot(a, f->nose);
        f->rests = attitude_at_rest(a);
        f->accel_at = t;
        if (f->mem->phase == PHASE_STANDING) {
            attitude_align(&f->att, a);
        }
        reckon(f, t, vector_dot(a, f->att.up) - STANDARD_GRAVITY);
        if (f->att.known && !triad_stuck(f->accel) && !estimator_accel_rejected(&f->est, t)) {
            estimator_add_acceleration(&f->est, t, vector_dot(a, f->att.up) - STANDARD_GRAVITY);
        }
    }
}

/* Adds a pressure to the mean at the pad; old samples lose weight, and jumps are limited. */
static void average_ground(flight_memory *mem, double p)
{
    double d = p - mem->ground_pressure;
    if (mem->ground_samples >= 10.0) {
        d = plain_min(plain_max(d, -50.0), 50.0);
    }
    mem->ground_samples = plain_min(mem->ground_samples + 1.0, 500.0);
    mem->ground_pressure += d / mem->ground_samples;
}

/* The ground pressure is constant in flight, and a logarithm is slow on a small processor. */
static double ground_height(flight *f)
{
    double ground = f->mem->ground_pressure;
    if ((f->base_pressure < ground) || (f->base_pressure > ground)) {
        f->base_pressure = ground;
        f->base = pressure_height(ground);
    }
    return f->base;
}

void flight_baro(flight *f, const drystage_baro_msg *m)
{
    int64_t t = flight_time(f, m->time);
    double p = (double)m->pressure / 1000.0;
    double z;
    int leaving = estimator_settled(&f->est) && (f->est.h > CONFIRM_HEIGHT);
    if (!flight_timely(f, m->time)) {
        return;
    }
    f->newest_sample = t;
    detector_add(&f->baro, (int64_t)m->pressure);
    if ((p < LOWEST_PRESSURE) || ((f->baro.same > 0) && detector_has_noise(&f->baro))) {
        return; /* a repeat may be the first of many */
    }
    if ((f->mem->phase == PHASE_STANDING) && (!f->att.known || below_half_liftoff_acceleration(f)) && !leaving) {
        average_ground(f->mem, p);
    }
    if (!(f->mem->ground_pressure > 0.0)) {
        f->mem->ground_pressure = p;
    }
    z = height_above(p, ground_height(f), f->set[SITE_TEMPERATURE]);
    f->height_seen = f->height_seen || (z > CONFIRM_HEIGHT);
    f->pressure_at = t;
    f->told = z;
    f->told_most = plain_max(f->told_most, z);
    if (!f->est.started) {
        estimator_begin(&f->est, t, z, f->mem->valid && (f->mem->ground_samples > 1.0));
    } else {
        estimator_correct(&f->est, t, z);
    }
}

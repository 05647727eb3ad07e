/* From the pad to apogee. */
#include "parts.h"

#include <math.h>

#define CONFIRM_TIME 1.5       /* s after which a liftoff without height was none */
#define CONFIRM_TIME_ALONE 3.0 /* s, without an accelerometer: the pressure needs longer to correct what it said last */
#define REST_TIME 1.0          /* s at rest, after which a flight that the barometer knows nothing of was none */
#define LIFT_SPEED 10.0        /* m/s */
#define LIFT_HOLD 0.3          /* s */
#define BURNOUT_TIME 0.1       /* s */
#define APOGEE_HOLD 0.1        /* s of downward speed without thrust */
#define APOGEE_HOLD_BOOST 0.5  /* s, when burnout was never detected */
#define APOGEE_DRAG (-3.0)     /* m/s2: with more drag than this the rocket is too fast for a parachute */
#define VENT_HEIGHT 50.0       /* m that are felt, above which a barometer that tells of less than half has its vent shut */
#define APOGEE_FALL 10.0       /* m that a barometer with a shut vent falls after all */
#define APOGEE_FALL_HOLD 0.3   /* s */

void flight_set_phase(flight *f, phase p)
{
    const persistence none = {0, 0};
    f->upper_burned = f->upper_burned || ((p == PHASE_POWERED) && f->mem->staged);
    f->mem->phase = p;
    f->thrust = none;
    flight_report(f);
}

static int thrusts(flight *f)
{
    return persistence_lasts(&f->thrust, f->now, flight_accel_usable(f) && (f->axial > f->set[LIFTOFF_ACCELERATION]), f->set[LIFTOFF_TIME]);
}

/* Without a barometer nothing takes back what the accelerometer's error adds up to on the pad: the rocket stands. It is
 * no liftoff by height either while the accelerometer feels that it stands: then the barometer is broken. */
void flight_liftoff(flight *f)
{
    int thrust = thrusts(f);
    int high;
    if (!estimator_baro_current(&f->est, f->now) && !f->thrust.on) {
        f->est.h = 0.0;
        f->est.v = 0.0;
    }
    high = persistence_lasts(&f->high, f->now, estimator_settled(&f->est) && (f->est.h > LIFT_HEIGHT) && (fabs(f->est.v) > LIFT_SPEED) && !(f->rests && flight_accel_usable(f)), LIFT_HOLD);
    if (!thrust && !high) {
        return;
    }
    f->mem->liftoff = f->now;
    if (thrust) {
        f->mem->liftoff = f->thrust.since;
        flight_note(f, "liftoff by acceleration");
    } else {
        f->att.known = 0;
        flight_note(f, "liftoff by height; tilt unknown");
    }
    f->att.min_tilt_cosine = 1.0;
    f->height_seen = !thrust;
    f->told_most = f->told;
    flight_set_phase(f, PHASE_POWERED);
}

/* Goes back to the pad. Without a barometer a new estimate would never settle. */
static void no_liftoff(flight *f, int baro)
{
    flight_note(f, "no height gained: not a liftoff");
    f->mem->burnout = 0;
    f->mem->max_height = 0.0;
    f->liftoff_confirmed = 0;
    if (baro) {
        estimator_begin(&f->est, f->now, 0.0, 0);
    }
    f->att.known = 0;
    f->att.n = 0;
    flight_set_phase(f, PHASE_STANDING);
}

/* The accelerometer alone tells of a flight: the barometer, which works, has not told of any height since the liftoff. In
 * a coast a vent that is shut does the same. */
static int only_felt(const flight *f)
{
    return !f->height_seen && !f->mem->staged && (flight_since(f, f->pressure_at) < BARO_TIMEOUT) && !detector_stuck(&f->baro) && flight_accel_usable(f) &&
           (f->rests || (f->axial > f->set[LIFTOFF_ACCELERATION]));
}

/* Goes back to the pad when an accelerometer that has told of a flight feels that the rocket stands. */
static void take_back(flight *f)
{
    if (persistence_lasts(&f->standing, f->now, f->rests && only_felt(f), REST_TIME)) {
        no_liftoff(f, 1);
    }
}

/* Goes back to the pad when the rocket has not left it. An accelerometer that dies in a knock leaves a height that
 * nobody flies at: then, and while the barometer is refused for that, it waits. */
static void confirm(flight *f)
{
    int64_t from = (f->mem->liftoff > f->started_at) ? f->mem->liftoff : f->started_at;
    int alone = !flight_accel_usable(f);
    double needed = alone ? CONFIRM_TIME_ALONE : CONFIRM_TIME;
    int current;
    if (f->liftoff_confirmed || (flight_since(f, from) < needed) || (alone && estimator_disagrees(&f->est, f->now))) {
        return;
    }
    f->liftoff_confirmed = 1;
    current = !detector_stuck(&f->baro) && estimator_baro_current(&f->est, f->now);
    if ((!current && !f->est.inertial) || (f->est.h > CONFIRM_HEIGHT)) {
        return;
    }
    no_liftoff(f, current);
}

static void burnout(flight *f)
{
    if (!persistence_lasts(&f->low, f->now, flight_accel_usable(f) && (f->axial < f->set[BURNOUT_ACCELERATION]), BURNOUT_TIME)) {
        return;
    }
    if (!f->mem->staged) {
        f->mem->burnout = f->low.since;
    }
    flight_note(f, "burnout");
    flight_set_phase(f, PHASE_UNPOWERED);
}

/* The barometer tells of less than half of the height that is felt, as one does whose vent is shut with tape or paint: then
 * apogee is when the speed that is felt ends, unless the barometer falls after all. */
static int vent_shut(const flight *f)
{
    return f->felt.good && flight_accel_usable(f) && (f->felt.h > VENT_HEIGHT) && (f->told < f->felt.h / 2.0) && (flight_since(f, f->pressure_at) < BARO_TIMEOUT);
}

/* Downward speed for a while, or the backup timer. Never while the
 * upward speed is above the lock-out. Without an attitude, as after a restart, the speed comes from pressure
 * alone, which is wrong near the speed of sound: then drag must be small too. What only an accelerometer tells of is no
 * flight while it feels thrust or rest. */
static int climb_over(flight *f)
{
    const estimator *e = &f->est;
    double patience = (f->mem->phase == PHASE_POWERED) ? APOGEE_HOLD_BOOST : APOGEE_HOLD;
    int known = estimator_settled(e) && (e->inertial || estimator_baro_current(e, f->now));
    int down = persistence_lasts(&f->down, f->now, known && (e->v < 0.0), patience);
    int felt_down = persistence_lasts(&f->felt_down, f->now, f->felt.v < 0.0, patience);
    int fell = persistence_lasts(&f->fell, f->now, f->told < f->told_most - APOGEE_FALL, APOGEE_FALL_HOLD);
    int timer = flight_has(f, DROGUE_BACKUP) && (flight_since(f, f->mem->liftoff) >= f->set[DROGUE_BACKUP]);
    if (vent_shut(f) && (felt_down || !fell)) {
        return felt_down;
    }
    if (only_felt(f) || (known && (e->v > f->set[APOGEE_LOCKOUT_SPEED])) || (!f->att.known && flight_accel_usable(f) && (f->axial < APOGEE_DRAG))) {
        return 0;
    }
    return down || timer;
}

void flight_climb(flight *f)
{
    if (estimator_settled(&f->est)) {
        f->mem->max_height = plain_max(f->mem->max_height, f->est.h);
    }
    attitude_keep_max_tilt(&f->att, f->nose);
    confirm(f);
    take_back(f);
    if (f->mem->phase == PHASE_POWERED) {
        burnout(f);
    } else if ((f->mem->phase == PHASE_UNPOWERED) && thrusts(f)) {
        flight_note(f, "thrust");
        flight_set_phase(f, PHASE_POWERED);
    } else {
        /* no change */
    }
    if ((f->mem->phase != PHASE_STANDING) && f->liftoff_confirmed && climb_over(f)) {
        f->mem->apogee = f->now;
        flight_set_phase(f, PHASE_FALLING);
        flight_note_height(f, "apogee at ", f->mem->max_height);
    }
}

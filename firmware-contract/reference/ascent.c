/* From the pad to apogee. */
#include "parts.h"

#include <math.h>

#define CONFIRM_TIME 1.5       /* s: a liftoff that has not left the pad by then was none */
#define LIFT_SPEED 10.0        /* m/s */
#define LIFT_HOLD 0.3          /* s */
#define BURNOUT_TIME 0.1       /* s */
#define APOGEE_HOLD 0.1        /* s of downward speed in coast */
#define APOGEE_HOLD_BOOST 0.5  /* s, when burnout was never seen */
#define APOGEE_DRAG (-3.0)     /* m/s2: a rocket that is braked harder than this flies too fast for a parachute */
#define APOGEE_FALL 10.0       /* m below the greatest height */
#define APOGEE_FALL_HOLD 0.3   /* s */

void flight_enter(flight *f, phase p)
{
    const hold none = {0, 0};
    f->relit = f->relit || ((p == BOOSTING) && f->mem->staged);
    if ((p == BOOSTING) && (f->mem->phase == ON_PAD)) {
        f->att.least = 1.0;
    }
    f->mem->phase = p;
    f->thrust = none;
    f->low = none;
    f->high = none;
    f->down = none;
    f->lost = none;
    f->still = none;
    flight_report(f);
}

static int thrusts(flight *f)
{
    return hold_is(&f->thrust, f->now, flight_feels(f) && (f->axial > f->set[LIFTOFF_ACCELERATION]), f->set[LIFTOFF_TIME]);
}

void flight_liftoff(flight *f)
{
    int thrust = thrusts(f);
    int high = hold_is(&f->high, f->now,
        estimator_settled(&f->est) && (f->est.h > LIFT_HEIGHT) && (fabs(f->est.v) > LIFT_SPEED), LIFT_HOLD);
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
    flight_enter(f, BOOSTING);
}

/* Goes back to the pad when the rocket has not left it. */
static void confirm(flight *f)
{
    int64_t from = (f->mem->liftoff > f->woke) ? f->mem->liftoff : f->woke;
    if (f->confirmed || (flight_since(f, from) < CONFIRM_TIME)) {
        return;
    }
    f->confirmed = 1;
    if (watch_stuck(&f->baro) || !estimator_heard(&f->est, f->now) || (f->est.h > CONFIRM_HEIGHT)) {
        return;
    }
    flight_note(f, "no height gained: not a liftoff");
    f->mem->burnout = 0;
    f->mem->top = 0.0;
    f->confirmed = 0;
    estimator_begin(&f->est, f->now, 0.0, 0);
    f->att.known = 0;
    f->att.n = 0;
    flight_enter(f, ON_PAD);
}

static void burnout(flight *f)
{
    if (!hold_is(&f->low, f->now, flight_feels(f) && (f->axial < f->set[BURNOUT_ACCELERATION]), BURNOUT_TIME)) {
        return;
    }
    if (!f->mem->staged) {
        f->mem->burnout = f->low.since;
    }
    flight_note(f, "burnout");
    flight_enter(f, COASTING);
}

/* Downward speed, or a lost height, each for a while and never while the speed upwards is above the
 * lock-out; or the backup timer. Without an attitude, as after a restart, the speed is that of the pressure
 * alone, which lies near the speed of sound: then drag must be small too. */
static int climb_over(flight *f)
{
    const estimator *e = &f->est;
    double patience = (f->mem->phase == BOOSTING) ? APOGEE_HOLD_BOOST : APOGEE_HOLD;
    int known = estimator_settled(e) && (e->inertial || estimator_heard(e, f->now));
    int down = hold_is(&f->down, f->now, known && (e->v < 0.0), patience);
    int lost = hold_is(&f->lost, f->now, known && (e->h < f->mem->top - APOGEE_FALL), APOGEE_FALL_HOLD);
    int timer = flight_given(f, DROGUE_BACKUP) && (flight_since(f, f->mem->liftoff) >= f->set[DROGUE_BACKUP]);
    if ((known && (e->v > f->set[APOGEE_LOCKOUT_SPEED])) || (!f->att.known && flight_feels(f) && (f->axial < APOGEE_DRAG))) {
        return 0;
    }
    return down || lost || timer;
}

void flight_climb(flight *f)
{
    if (estimator_settled(&f->est)) {
        f->mem->top = plain_max(f->mem->top, f->est.h);
    }
    attitude_latch(&f->att, f->nose);
    confirm(f);
    if (f->mem->phase == BOOSTING) {
        burnout(f);
    } else if ((f->mem->phase == COASTING) && thrusts(f)) {
        flight_note(f, "thrust");
        flight_enter(f, BOOSTING);
    } else {
        /* nothing new */
    }
    if ((f->mem->phase != ON_PAD) && f->confirmed && climb_over(f)) {
        f->mem->apogee = f->now;
        flight_enter(f, DESCENDING);
        flight_note_height(f, "apogee at ", f->mem->top);
    }
}

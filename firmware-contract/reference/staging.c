/* Ignites the upper motor once, when no reason is against it. */
#include "parts.h"

#define NO_THRUST_AFTER 2.0        /* s */

static const char *const reasons[] = {"", "not armed", "not coasting before apogee", "too early", "too late", "tilt unknown",
    "tilt has been above its limit", "barometer not believed", "too low", "too slow"};

/* The first reason not to ignite the upper motor now. The greatest tilt since liftoff counts, so a
 * tumbling rocket that points up for a moment is refused. */
static reason staging_refusal(const flight *f)
{
    const flight_memory *mem = f->mem;
    if (!mem->armed) { return NOT_ARMED; }
    if ((mem->phase != PHASE_UNPOWERED) || (mem->burnout == 0)) { return NOT_COASTING; }
    if (flight_since(f, mem->burnout) < f->set[STAGING_DELAY]) { return TOO_EARLY; }
    if (f->now > mem->liftoff + (int64_t)(f->set[STAGING_LATEST] * 1e6)) { return TOO_LATE; }
    if (!f->att.known) { return TILT_UNKNOWN; }
    if (!(f->att.min_tilt_cosine >= f->min_tilt_cosine)) { return TILT_EXCEEDED; }
    if (!estimator_settled(&f->est) || !estimator_baro_current(&f->est, f->now)) { return BARO_NOT_BELIEVED; }
    if (f->est.h < f->set[STAGING_MIN_HEIGHT]) { return TOO_LOW; }
    if (f->est.v < f->set[STAGING_MIN_SPEED]) { return TOO_SLOW; }
    return NO_REASON;
}

/* Reports when the upper motor gives no thrust. There is no second attempt. */
static void watch_upper_motor(flight *f)
{
    if (!f->upper_burned && !f->no_thrust_reported && (f->mem->phase == PHASE_UNPOWERED) && (flight_since(f, f->mem->staged_at) >= NO_THRUST_AFTER)) {
        f->no_thrust_reported = 1;
        flight_note(f, "no thrust after staging");
    }
}

/* Says why the upper motor is not ignited: each time when it was asked for, else once. */
static void note_refusal(flight *f, reason why, int asked, int by_command)
{
    if (why == NO_REASON) {
        return;
    }
    if (asked) {
        flight_note_two(f, "stage command refused: ", reasons[why]);
    } else if (!by_command && (why != f->last_reason) && (why > TOO_EARLY) && (f->mem->phase == PHASE_UNPOWERED)) {
        f->last_reason = why;
        flight_note_two(f, "no staging: ", reasons[why]);
    } else {
        /* said before */
    }
}

void flight_staging(flight *f)
{
    int asked = f->stage_asked;
    int by_command = flight_has(f, STAGING_BY_COMMAND);
    reason why;
    f->stage_asked = 0;
    if (!flight_has(f, STAGING_CHANNEL)) {
        return;
    }
    if (f->mem->staged) {
        watch_upper_motor(f);
        return;
    }
    why = staging_refusal(f);
    if ((why == NO_REASON) && (asked || !by_command)) {
        if (flight_fire(f, STAGING_CHANNEL)) {
            f->mem->staged = 1;
            f->mem->staged_at = f->now;
            flight_note(f, "staging");
        }
    } else {
        note_refusal(f, why, asked, by_command);
    }
}

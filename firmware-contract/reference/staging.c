/* Lights the upper motor, once, when everything allows it. */
#include "parts.h"

#define UNLIT_AFTER 2.0        /* s */

static const char *const reasons[] = {"", "not armed", "not coasting before apogee", "too early", "too late", "tilt unknown",
    "tilt has been above its limit", "barometer not believed", "too low", "too slow"};

/* The first reason against lighting the upper motor now. The greatest tilt since liftoff counts: a
 * tumbling rocket that happens to point up stays forbidden. */
static reason forbidden(const flight *f)
{
    const flight_memory *mem = f->mem;
    if (!mem->armed) { return NOT_ARMED; }
    if ((mem->phase != COASTING) || (mem->burnout == 0)) { return NOT_COASTING; }
    if (flight_since(f, mem->burnout) < f->set[STAGING_DELAY]) { return TOO_EARLY; }
    if (f->now > mem->liftoff + (int64_t)(f->set[STAGING_LATEST] * 1e6)) { return TOO_LATE; }
    if (!f->att.known) { return TILT_UNKNOWN; }
    if (!(f->att.least >= f->steepest)) { return TILTED; }
    if (!estimator_settled(&f->est) || !estimator_heard(&f->est, f->now)) { return IN_DOUBT; }
    if (f->est.h < f->set[STAGING_MIN_HEIGHT]) { return TOO_LOW; }
    if (f->est.v < f->set[STAGING_MIN_SPEED]) { return TOO_SLOW; }
    return NOTHING;
}

/* Says it when the upper motor gives no thrust. There is no second try. */
static void after_staging(flight *f)
{
    if (!f->relit && !f->unlit && (f->mem->phase == COASTING) && (flight_since(f, f->mem->staged_at) >= UNLIT_AFTER)) {
        f->unlit = 1;
        flight_note(f, "no thrust after staging");
    }
}

void flight_staging(flight *f)
{
    int asked = f->asked;
    int by_command = flight_given(f, STAGING_BY_COMMAND);
    reason why;
    f->asked = 0;
    if (!flight_given(f, STAGING_CHANNEL)) {
        return;
    }
    if (f->mem->staged) {
        after_staging(f);
        return;
    }
    why = forbidden(f);
    if ((why == NOTHING) && (asked || !by_command)) {
        if (flight_fire(f, STAGING_CHANNEL)) {
            f->mem->staged = 1;
            f->mem->staged_at = f->now;
            flight_note(f, "staging");
        }
    } else if (asked && (why != NOTHING)) {
        flight_note_two(f, "stage command refused: ", reasons[why]);
    } else if (!by_command && (why != f->told) && (why > TOO_EARLY) && (f->mem->phase == COASTING)) {
        f->told = why;
        flight_note_two(f, "no staging: ", reasons[why]);
    } else {
        /* nothing to say */
    }
}

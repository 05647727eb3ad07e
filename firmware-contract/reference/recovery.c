/* Drogue, main, landing. */
#include "parts.h"

#include <math.h>

#define MAIN_HOLD 0.2          /* s below the main's height */
#define MAIN_NO_HEIGHT 5.0         /* s without a usable height, after which the main opens: better too high than not at all */
#define STILL_HOLD 5.0         /* s */
#define STILL_SPEED 1.0        /* m/s */

/* After the drogue, if there is one, and after the pressure pulse of its charge; and low enough, without a usable height, or by the timer. */
static int main_due(flight *f)
{
    int64_t from = f->mem->apogee;
    int known = estimator_settled(&f->est) && estimator_baro_current(&f->est, f->now);
    int low, no_height;
    if (flight_has(f, DROGUE_CHANNEL)) {
        from = f->mem->drogue_at;
        if (!f->mem->drogue || (flight_since(f, from) < f->set[MAIN_LOCKOUT])) {
            return 0;
        }
    }
    if (!flight_has(f, MAIN_HEIGHT)) {
        return 1;
    }
    low = persistence_lasts(&f->below, f->now, known && (f->est.h <= f->set[MAIN_HEIGHT]), MAIN_HOLD);
    no_height = persistence_lasts(&f->no_height, f->now, !known, MAIN_NO_HEIGHT);
    return low || no_height || (flight_has(f, MAIN_BACKUP) && (flight_since(f, from) >= f->set[MAIN_BACKUP]));
}

void flight_recover(flight *f)
{
    flight_memory *mem = f->mem;
    if (!mem->drogue && flight_has(f, DROGUE_CHANNEL) && (flight_since(f, mem->apogee) >= f->set[DROGUE_DELAY]) && flight_fire(f, DROGUE_CHANNEL)) {
        mem->drogue = 1;
        mem->drogue_at = f->now;
        flight_note(f, "drogue");
    }
    if (!mem->main && flight_has(f, MAIN_CHANNEL) && main_due(f) && flight_fire(f, MAIN_CHANNEL)) {
        mem->main = 1;
        flight_note_height(f, "main at ", f->est.h);
        flight_set_phase(f, PHASE_SLOWED);
    }
    if (persistence_lasts(&f->still, f->now, estimator_settled(&f->est) && estimator_baro_current(&f->est, f->now)
            && (fabs(f->est.v) < STILL_SPEED), STILL_HOLD)) {
        flight_note(f, "landed");
        flight_set_phase(f, PHASE_DOWN);
    }
}

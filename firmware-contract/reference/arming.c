/* The operator's commands: arming after a self-test, disarming at once, staging. */
#include "parts.h"

#define SELF_TEST_TIME 1.0     /* s that the test on the pad may wait for samples */
#define STEEP 0.8              /* the cosine of 37 degrees */

static void set_armed(flight *f, int armed)
{
    f->mem->armed = armed;
    drystage_armed(f->line, (uint8_t)armed);
}

static int shared_channel(const flight *f)
{
    uint8_t a = (uint8_t)f->set[STAGING_CHANNEL];
    uint8_t b = (uint8_t)f->set[DROGUE_CHANNEL];
    uint8_t c = (uint8_t)f->set[MAIN_CHANNEL];
    return ((a != 0u) && ((a == b) || (a == c))) || ((b != 0u) && (b == c));
}

/* The check finds no load at the output that a setting names. A board that is told nothing goes by its operator. */
static int no_continuity(const flight *f, setting channel)
{
    uint8_t c = (uint8_t)f->set[channel];
    return (c != 0u) && (((f->bad >> (c - 1u)) & 1u) != 0u);
}

/* Gives the reason against arming; wait says that more samples may remove it. */
static const char *self_test(const flight *f, int *wait)
{
    *wait = 0;
    if (f->mem->phase != PHASE_STANDING) { return "not on the pad"; }
    if (shared_channel(f)) { return "two jobs share one channel"; }
    if (no_continuity(f, STAGING_CHANNEL) || no_continuity(f, DROGUE_CHANNEL) || no_continuity(f, MAIN_CHANNEL)) { return "no continuity"; }
    *wait = 1;
    if (!estimator_baro_current(&f->est, f->now) || (f->est.n < SETTLE_SAMPLES)) { return "no barometer"; }
    *wait = 0;
    if (detector_stuck(&f->baro)) { return "barometer stuck"; }
    if (f->imu_hz == 0u) { return NULL; }
    if (triad_stuck(f->accel)) { return "accelerometer stuck"; }
    *wait = 1;
    if (f->att.n < MIN_ALIGN_SAMPLES) { return "accelerometer does not read 1 g"; }
    if (!flight_accel_usable(f)) { return "accelerometer silent"; }
    *wait = 0;
    if (triad_stuck(f->gyro)) { return "gyro stuck"; }
    *wait = 1;
    if ((f->gyro[0].samples > 0) && (flight_since(f, f->att.t) > GYRO_GAP)) { return "gyro silent"; } /* without a gyro it never stages */
    *wait = 0;
    if (vector_dot(f->att.up, f->nose) < STEEP) { return "axial accelerometer does not read +1 g"; }
    return NULL;
}

void flight_arm(flight *f)
{
    const char *why;
    int wait;
    if (!f->arming) {
        return;
    }
    why = self_test(f, &wait);
    if (wait && (flight_since(f, f->arm_asked_at) < SELF_TEST_TIME)) {
        return;
    }
    f->arming = 0;
    if (why != NULL) {
        flight_note_two(f, "not armed: ", why);
        return;
    }
    set_armed(f, 1);
    flight_note(f, "armed");
}

static void disarm(flight *f)
{
    f->arming = 0;
    flight_off(f);
    if (f->mem->armed) {
        set_armed(f, 0);
        flight_note(f, "disarmed");
    }
}

void flight_circuits(flight *f, const drystage_circuits_msg *m)
{
    if (flight_timely(f, m->time)) {
        f->bad = m->open | m->shorted;
    }
}

void flight_command(flight *f, const drystage_command_msg *m)
{
    if (m->command == DRYSTAGE_DISARM) { /* at once, whatever its time */
        disarm(f);
    }
    if (!flight_timely(f, m->time)) {
        return;
    }
    if (m->command == DRYSTAGE_ARM) {
        f->arming = !f->mem->armed;
        f->arm_asked_at = flight_time(f, m->time);
    } else if (m->command == DRYSTAGE_STAGE) {
        f->stage_asked = flight_has(f, STAGING_CHANNEL);
        if (!f->stage_asked) {
            flight_note(f, "stage command refused: no staging channel");
        }
    } else {
        /* an unknown command */
    }
}

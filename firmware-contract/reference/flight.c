/* Log texts, outputs, and the order of the logic in one tick. */
#include "parts.h"

#include <string.h>

#define REPORT_EVERY 100000    /* us */
#define LAG 10000              /* us */
#define LONGEST_OUTAGE 300000000 /* us */

static const char *const phase_names[] = {"standing", "powered", "unpowered", "falling", "slowed", "down"};

void flight_note(flight *f, const char *text) { (void)drystage_log(f->line, text); }

void flight_note_two(flight *f, const char *before, const char *after)
{
    char text[DRYSTAGE_MAX_TAIL + 1u] = "";
    (void)strncat(text, before, sizeof text - 1u);
    (void)strncat(text, after, sizeof text - 1u - strlen(text));
    flight_note(f, text);
}

/* A text and a height in whole metres, rounded towards zero. */
void flight_note_height(flight *f, const char *before, double height)
{
    char digits[16];
    char *p = &digits[12];
    int32_t n = (int32_t)plain_min(plain_max(height, -2e9), 2e9);
    int32_t left = (n < 0) ? -n : n;
    (void)memcpy(p, " m", 3u);
    do {
        p--;
        *p = (char)('0' + (left % 10));
        left /= 10;
    } while (left > 0);
    if (n < 0) {
        p--;
        *p = '-';
    }
    flight_note_two(f, before, p);
}

void flight_report(flight *f)
{
    (void)drystage_report(f->line, phase_names[f->mem->phase], plain_thousandths(f->est.h), plain_thousandths(f->est.v),
        plain_thousandths(f->mem->max_height));
}

/* The contract's times wrap after 2^32 us: this is the one nearest to now. */
int64_t flight_time(const flight *f, uint32_t t)
{
    uint32_t ahead = t - (uint32_t)f->now;
    return f->now + ((ahead < 0x80000000u) ? (int64_t)ahead : ((int64_t)ahead - 0x100000000));
}

double flight_since(const flight *f, int64_t t) { return plain_seconds(f->now - t); }

int persistence_lasts(persistence *h, int64_t now, int so, double seconds)
{
    if (!so) {
        h->on = 0;
        return 0;
    }
    if (!h->on) {
        h->since = now;
        h->on = 1;
    }
    return plain_seconds(now - h->since) >= seconds;
}

void flight_switch(flight *f, uint8_t channel, int on)
{
    uint16_t bit = (uint16_t)(1uL << (channel - 1u));
    if (on == ((f->on & bit) != 0u)) {
        return;
    }
    f->on ^= bit;
    flight_pin(channel, on);
    (void)drystage_output(f->line, channel, (uint8_t)on);
}

int flight_fire(flight *f, setting channel)
{
    uint8_t c = (uint8_t)f->set[channel];
    if (!f->mem->armed) {
        return 0;
    }
    f->ends[c] = f->now + (int64_t)(f->set[PULSE] * 1e6);
    flight_switch(f, c, 1);
    return 1;
}

static void end_pulses(flight *f)
{
    uint8_t c;
    for (c = 1u; (f->on != 0u) && (c <= DRYSTAGE_MAX_CHANNELS); c++) {
        if (f->now >= f->ends[c]) {
            flight_switch(f, c, 0);
        }
    }
}

void flight_off(flight *f)
{
    uint8_t c;
    for (c = 1u; (f->on != 0u) && (c <= DRYSTAGE_MAX_CHANNELS); c++) {
        flight_switch(f, c, 0);
    }
}

int flight_has(const flight *f, setting s) { return f->set[s] > 0.0; }

/* The filter uses the accelerometer only while it works, the attitude is known, and the rocket climbs. */
static void choose_source(flight *f)
{
    int climbs = f->mem->phase <= PHASE_UNPOWERED;
    if (triad_stuck(f->gyro) || ((flight_since(f, f->att.t) > GYRO_GAP) && (f->mem->phase != PHASE_STANDING))) {
        f->att.known = 0;
    }
    if (!climbs || !flight_accel_usable(f) || !f->att.known || estimator_accel_rejected(&f->est, f->now)) {
        estimator_drop_inertial(&f->est, !climbs);
    }
}

static void report_when_due(flight *f)
{
    if (f->now >= f->next) {
        f->next += (((f->now - f->next) / REPORT_EVERY) * REPORT_EVERY) + REPORT_EVERY;
        flight_report(f);
    }
}

void flight_tick(flight *f, uint32_t time)
{
    int64_t t = flight_time(f, time);
    if (t > f->now) {
        f->now = t;
    }
    f->mem->clock = f->now;
    choose_source(f);
    estimator_predict(&f->est, f->now);
    flight_arm(f);
    end_pulses(f);
    switch (f->mem->phase) {
    case PHASE_STANDING: flight_liftoff(f); break;
    case PHASE_POWERED:
    case PHASE_UNPOWERED: flight_climb(f); break;
    case PHASE_FALLING:
    case PHASE_SLOWED: flight_recover(f); break;
    case PHASE_DOWN:
    default: break;
    }
    flight_staging(f);
    report_when_due(f);
}

/* In real time the logic runs at the time of the newest sample, since its filter counts samples. When none
 * comes, it runs LAG behind the board's own clock: the next sample may be on its way. */
void flight_pass(flight *f, uint32_t own)
{
    int64_t t = flight_time(f, own) - LAG;
    flight_tick(f, (uint32_t)((f->newest_sample > t) ? f->newest_sample : t));
}

static void configure(flight *f)
{
    const vector zero = {0.0, 0.0, 0.0};
    int axis = (int)f->set[AXIAL_AXIS];
    double sign = (axis < 0) ? -1.0 : 1.0;
    f->nose = zero;
    switch ((axis < 0) ? -axis : axis) {
    case 1: f->nose.x = sign; break;
    case 2: f->nose.y = sign; break;
    default: f->nose.z = sign; break;
    }
    f->min_tilt_cosine = plain_cos(f->set[STAGING_MAX_TILT]);
}

int flight_setting(flight *f, const char *name, int32_t *value)
{
    int known = settings_accept(f->set, name, value);
    configure(f);
    return known;
}

/* A time before the memory's is that of another run, unless the clock has wrapped while the supply failed. */
static int64_t resumed(const flight_memory *mem, uint32_t t)
{
    int64_t passed = (int64_t)(uint32_t)(t - (uint32_t)mem->clock);
    return (mem->valid && (passed < LONGEST_OUTAGE)) ? (mem->clock + passed) : (int64_t)t;
}

void flight_begin(flight *f, flight_memory *mem, drystage *line, const drystage_hello_msg *run)
{
    const stuck_detector triad = {.limit = 40};
    int64_t now = resumed(mem, run->time);
    int i;
    if (!mem->valid || (now < mem->clock)) {
        (void)memset(mem, 0, sizeof *mem);
    }
    (void)memset(f, 0, sizeof *f);
    f->line = line;
    f->mem = mem;
    settings_defaults(f->set);
    f->now = now;
    f->next = f->now;
    f->started_at = f->now;
    f->imu_hz = run->imu_hz;
    estimator_tune(&f->est, (double)run->baro_hz);
    for (i = 0; i < 3; i++) {
        f->accel[i] = triad;
        f->gyro[i] = triad;
    }
    f->baro.limit = 12;
    configure(f);
    drystage_armed(line, (uint8_t)mem->armed);
    if ((mem->phase != PHASE_STANDING) && (mem->phase != PHASE_DOWN)) {
        f->height_seen = 1; /* it isn't known */
        f->liftoff_confirmed = (mem->phase > PHASE_UNPOWERED) || (mem->max_height > LIFT_HEIGHT);
        f->no_thrust_reported = mem->staged;
        f->est.falling = mem->phase >= PHASE_FALLING;
        flight_note(f, "restart in flight: recovery goes on, no staging");
    }
    mem->valid = 1;
}

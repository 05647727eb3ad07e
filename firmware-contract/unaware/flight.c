#include "flight.h"

#include <math.h>

#define G0 9.80665f
#define DT 0.005f
#define PULSE 1000u /* ms */
#define ENOUGH 20u  /* ms, in which an igniter has fired */

memory flight_memory;
uint8_t flight_fired[OUTPUTS];
uint8_t flight_armed;

static uint32_t now;
static uint8_t resumed;

/* Samples that waited are older than the pressure that was read meanwhile; time never goes back. */
static void at(uint32_t ms)
{
    if ((int32_t)(ms - now) > 0) {
        now = ms;
    }
}

/* A condition that has to last. */
typedef struct lasting {
    uint32_t since;
    uint8_t on;
} lasting;

static uint8_t lasts(lasting *l, uint8_t so, uint32_t ms)
{
    if (!so) {
        l->on = 0;
        return 0;
    }
    if (!l->on) {
        l->on = 1;
        l->since = now;
    }
    return now - l->since >= ms;
}

/* ---- attitude: the direction of up in our axes ---- */

static float up[3];
static float rate_bias[3];
static uint16_t aligned, rated; /* samples in the means */
static uint8_t tilt_known;
static float least_cosine; /* of the tilt since liftoff */

static float dot(const float a[3], const float b[3]) { return (a[0] * b[0]) + (a[1] * b[1]) + (a[2] * b[2]); }

static void to_unit(float v[3])
{
    float n = 1.0f / sqrtf(dot(v, v));
    v[0] *= n;
    v[1] *= n;
    v[2] *= n;
}

static uint8_t rests; /* the last acceleration is that of a rocket that stands still */

static void align(const float accel[3])
{
    float length = sqrtf(dot(accel, accel));
    uint8_t i;
    if (!rests) {
        return;
    }
    if (aligned < 400) {
        aligned++;
    }
    for (i = 0; i < 3; i++) {
        up[i] += ((accel[i] / length) - up[i]) / (float)aligned;
    }
    if (aligned >= 40) {
        to_unit(up);
        tilt_known = rated >= 40;
    }
}

static void rest_rates(const float gyro[3])
{
    uint8_t i;
    if (rated < 400) {
        rated++;
    }
    for (i = 0; i < 3; i++) {
        rate_bias[i] += (gyro[i] - rate_bias[i]) / (float)rated;
    }
}

/* up changes by up x w; halfway first, which is exact to the third power of the angle. */
static void rotate(const float gyro[3])
{
    float w[3], half[3], moved[3];
    uint8_t i;
    for (i = 0; i < 3; i++) {
        w[i] = (gyro[i] - rate_bias[i]) * DT;
    }
    for (i = 0; i < 3; i++) {
        half[i] = up[i] + (0.5f * ((up[(i + 1) % 3] * w[(i + 2) % 3]) - (up[(i + 2) % 3] * w[(i + 1) % 3])));
    }
    for (i = 0; i < 3; i++) {
        moved[i] = up[i] + ((half[(i + 1) % 3] * w[(i + 2) % 3]) - (half[(i + 2) % 3] * w[(i + 1) % 3]));
    }
    for (i = 0; i < 3; i++) {
        up[i] = moved[i];
    }
    to_unit(up);
}

/* ---- height and speed: a filter of third order, three equal poles ---- */

#define BARO_PERIOD 0.02f

static float h, v, b, u; /* m, m/s, a correction of the acceleration, the measured upward acceleration */
static uint8_t started, inertial, in_air, distrusted;
static uint16_t corrections;
static uint32_t height_at, accepted_at, refused_at, filter_began;
static uint8_t refusing;

/* After a repeat, or without an answer, a sample counts for the time since the last that was taken. */
static void gains(float g[3], float pole, float period)
{
    float t = expf(-pole * period);
    float d = 1.0f - t;
    g[0] = 1.0f - (t * t * t);
    g[1] = 1.5f * d * d * (1.0f + t) / period;
    g[2] = d * d * d / (period * period);
}

static uint8_t settled(void) { return (corrections >= 10) && (now - filter_began >= 500); }
static uint8_t baro_current(void) { return started && (now - accepted_at < 500); }

static void without_accel(void)
{
    if (inertial) {
        inertial = 0;
        b += u;
        u = 0.0f;
    }
}

static void begin_filter(float z, uint8_t moving)
{
    h = z;
    v = 0.0f;
    b = (moving && (flight_memory.phase < DESCENT)) ? (-G0 - u) : 0.0f;
    started = 1;
    in_air = moving;
    corrections = 0;
    refusing = 0;
    height_at = now;
    accepted_at = now;
    filter_began = now;
}

static void predict(void)
{
    float dt = (float)(now - height_at) * 0.001f;
    float a;
    if (!started || (dt <= 0.0f)) {
        return;
    }
    if (!inertial && (now - accepted_at > 300)) {
        b = (flight_memory.phase >= DESCENT) ? 0.0f : -G0;
    }
    if (inertial && (now - accepted_at > 500)) {
        b = fmaxf(fminf(b, 0.1f), -0.1f);
    }
    a = u + b;
    h += dt * (v + (0.5f * dt * a));
    v += dt * a;
    height_at = now;
}

/* A sample far from the estimate is refused; after two seconds of such it was the estimate that was wrong. */
static uint8_t refused(float r, float z)
{
    float silent = (float)(now - accepted_at) * 0.001f - 0.1f;
    float gate = 10.0f + (0.1f * fabsf(v)) + (15.0f * fmaxf(silent, 0.0f));
    if (!settled() || (fabsf(r) <= gate)) {
        refusing = 0;
        return 0;
    }
    if (!refusing) {
        refusing = 1;
        refused_at = now;
    }
    if (now - refused_at >= 2000) {
        without_accel();
        distrusted = 1;
        begin_filter(z, 1);
    }
    return 1;
}

static void correct(float z)
{
    float period = fmaxf(fminf((float)(now - accepted_at) * 0.001f, 0.5f), BARO_PERIOD);
    float g[3];
    float r;
    predict();
    r = z - h;
    if (refused(r, z)) {
        return;
    }
    accepted_at = now;
    gains(g, inertial ? 1.2f : 2.5f, period);
    if (corrections < 1000) {
        corrections++;
    }
    if (in_air) { /* least squares at first */
        float n = (float)corrections;
        g[0] = fmaxf(g[0], 2.0f * (2.0f * n - 1.0f) / (n * (n + 1.0f)));
        g[1] = fmaxf(g[1], 6.0f / (n * (n + 1.0f)) / period);
    }
    h += g[0] * r;
    v += g[1] * r;
    b += g[2] * r;
}

static float pressure_height(float p) { return 44330.77f * (1.0f - powf(p / 101325.0f, 0.190263f)); }

/* ---- samples ---- */

static float axial;
static uint32_t accel_at;
static uint32_t gyro_at;

static uint8_t accel_good(void) { return now - accel_at <= 50; }

/* What the accelerometer alone tells of, by dead reckoning from the pad. */
static float felt_v, felt_h;
static uint32_t felt_at;
static uint8_t felt_good, pushing;

static void reckon(const float accel[3])
{
    float dt = (float)(now - felt_at) * 0.001f;
    felt_at = now;
    if ((flight_memory.phase == PAD) && !pushing) {
        felt_v = 0.0f;
        felt_h = 0.0f;
        felt_good = 1;
        return;
    }
    felt_good = felt_good && tilt_known && (dt <= 0.05f);
    felt_v += (dot(accel, up) - G0) * dt;
    felt_h += felt_v * dt;
}

void flight_imu(uint32_t ms, const float accel[3], const float gyro[3], uint8_t frozen)
{
    at(ms);
    if (flight_memory.phase > COAST) {
        return; /* after apogee the barometer alone counts */
    }
    if ((frozen & 2) != 0) {
        tilt_known = 0;
    } else {
        if (aligned > 0) {
            rotate(gyro);
        }
        if ((flight_memory.phase == PAD) && (axial < 12.0f) && (dot(gyro, gyro) < 0.04f)) {
            rest_rates(gyro);
        }
        gyro_at = now;
    }
    if ((frozen & 1) != 0) {
        return;
    }
    axial = accel[0];
    rests = fabsf(sqrtf(dot(accel, accel)) - G0) <= 1.5f;
    accel_at = now;
    if (flight_memory.phase == PAD) {
        align(accel);
    }
    reckon(accel);
    if (tilt_known && !distrusted) {
        if (!inertial && started) {
            predict();
            inertial = 1;
            b = 0.0f;
        }
        u = dot(accel, up) - G0;
    }
}

void flight_imu_gap(void) { tilt_known = 0; }

static float pressure_was, base_of, base;
static uint8_t height_seen;  /* the barometer has told of a height above the pad since liftoff */
static uint32_t pressure_at; /* of the last pressure */
static float told, told_most; /* its height, and the greatest since liftoff */

void flight_baro(uint32_t ms, float p)
{
    float z;
    uint8_t same = (p == pressure_was);
    at(ms);
    pressure_was = p;
    if ((p < 1000.0f) || (p > 120000.0f) || same) {
        return; /* a repeat may be the first of many */
    }
    if ((flight_memory.phase == PAD) && (axial < 12.0f) && !(settled() && (h > 5.0f))) {
        static uint16_t n;
        float d = p - flight_memory.ground;
        if (n < 500) {
            n++;
        }
        if (n > 10) {
            d = fmaxf(fminf(d, 50.0f), -50.0f);
        }
        flight_memory.ground += d / (float)n;
    }
    if (base_of != flight_memory.ground) {
        base_of = flight_memory.ground;
        base = pressure_height(base_of);
    }
    z = pressure_height(p) - base;
    height_seen = height_seen || (z > 5.0f);
    pressure_at = now;
    told = z;
    told_most = fmaxf(told_most, z);
    if (!started) {
        begin_filter(z, resumed);
    } else {
        correct(z);
    }
}

/* ---- outputs ---- */

static uint32_t on_at[OUTPUTS];
static uint8_t is_on[OUTPUTS];

static uint8_t fire(uint8_t which)
{
    if (!flight_armed || flight_fired[which]) {
        return 0;
    }
    flight_fired[which] = FIRING;
    output(which, 1);
    is_on[which] = 1;
    on_at[which] = now;
    return 1;
}

static void end_pulses(uint8_t all)
{
    uint8_t i;
    for (i = 0; i < OUTPUTS; i++) {
        if (is_on[i] && (now - on_at[i] >= ENOUGH)) {
            flight_fired[i] = FIRED;
        }
        if (is_on[i] && (all || (now - on_at[i] >= PULSE))) {
            output(i, 0);
            is_on[i] = 0;
        }
    }
}

void flight_arm(uint8_t on)
{
    flight_armed = on;
    if (!on) {
        end_pulses(1);
    }
}

uint8_t flight_ready(void)
{
    return (flight_memory.phase == PAD) && baro_current() && settled() && accel_good() && (aligned >= 40) && (up[0] > 0.8f);
}

/* ---- phases ---- */

static lasting thrusting, coasting, high, falling, lower, dropping, below, blind, still, standing, reckoned, sinking;
static uint32_t liftoff_at, burnout_at, apogee_at, drogue_at;
static uint8_t confirmed, stage_asked, by_command;

static void enter(uint8_t phase)
{
    flight_memory.phase = phase;
    thrusting.on = coasting.on = high.on = falling.on = lower.on = dropping.on = still.on = 0;
}

static uint8_t thrust(void) { return lasts(&thrusting, accel_good() && (axial > 25.0f), 100); }

static void on_pad(void)
{
    uint8_t pushed = thrust();
    uint8_t rose;
    pushing = thrusting.on;
    if (!baro_current() && !thrusting.on) { /* the accelerometer's error adds up, and no pressure takes it back: it stands */
        h = 0.0f;
        v = 0.0f;
    }
    rose = lasts(&high, settled() && (h > 30.0f) && (fabsf(v) > 10.0f) && !(rests && accel_good()), 300); /* at rest: the barometer is broken */
    if (!pushed && !rose) {
        return;
    }
    liftoff_at = pushed ? thrusting.since : now;
    if (!pushed) {
        tilt_known = 0;
    }
    least_cosine = 1.0f;
    confirmed = 0;
    height_seen = !pushed;
    told_most = told;
    enter(BOOST);
}

static void no_liftoff(uint8_t baro)
{
    flight_memory.highest = 0.0f;
    burnout_at = 0;
    if (baro) {
        begin_filter(0.0f, 0);
    }
    aligned = 0;
    tilt_known = 0;
    enter(PAD);
}

/* The accelerometer alone tells of a flight: the barometer has not, since liftoff. */
static uint8_t only_felt(void)
{
    return !height_seen && !resumed && !flight_fired[IGNITE] && (now - pressure_at < 500) && accel_good() && (rests || (axial > 25.0f));
}

/* A liftoff without height was a knock. If the accelerometer has died in it, its last words were those of a motor: the
 * height is wrong until the pressure has corrected it. */
static void confirm(void)
{
    uint8_t wrong = !accel_good() && ((now - liftoff_at < 3000) || (refusing && (now - refused_at < 2500)));
    if (confirmed || wrong || (now - liftoff_at < 1500)) {
        return;
    }
    confirmed = 1;
    if ((!baro_current() && !inertial) || (h > 5.0f)) {
        return;
    }
    no_liftoff(baro_current());
}

/* The barometer tells of less than half of the height that is felt: its vent is shut. */
static uint8_t vent_shut(void)
{
    return felt_good && accel_good() && (felt_h > 50.0f) && (told < felt_h * 0.5f) && (now - pressure_at < 500);
}

static uint8_t past_apogee(void)
{
    uint8_t known = settled() && (inertial || baro_current());
    uint8_t down = lasts(&falling, known && (v < 0.0f), (flight_memory.phase == BOOST) ? 500 : 100);
    uint8_t lost = lasts(&lower, known && (h < flight_memory.highest - 10.0f), 300);
    uint8_t blind_down = lasts(&dropping, (corrections >= 10) && !known && (v < 0.0f), 500); /* no sensor is left */
    uint8_t felt_down = lasts(&reckoned, felt_v < 0.0f, (flight_memory.phase == BOOST) ? 500 : 100);
    uint8_t fell = lasts(&sinking, told < told_most - 10.0f, 300);
    if (vent_shut() && (felt_down || !fell)) { /* what is felt says when the climb ends, unless the barometer falls after all */
        return felt_down;
    }
    if (only_felt() || (known && (v > 40.0f)) || (!tilt_known && accel_good() && (axial < -3.0f))) {
        return 0;
    }
    return down || lost || blind_down;
}

static void climb(void)
{
    if (settled() && (h > flight_memory.highest)) {
        flight_memory.highest = h;
    }
    least_cosine = fminf(least_cosine, up[0]);
    confirm();
    if (lasts(&standing, rests && only_felt(), 1000)) {
        no_liftoff(1);
    }
    if (flight_memory.phase == BOOST) {
        if (lasts(&coasting, accel_good() && (axial < 3.0f), 100)) {
            if (!flight_fired[IGNITE]) {
                burnout_at = coasting.since;
            }
            enter(COAST);
        }
    } else if ((flight_memory.phase == COAST) && thrust()) {
        enter(BOOST);
    } else {
        /* no change */
    }
    if (!accel_good() && (now - burnout_at < 500)) { /* a dead sensor repeats its last word until it is found out: that was no burnout */
        burnout_at = 0;
    }
    if ((flight_memory.phase != PAD) && confirmed && past_apogee()) {
        apogee_at = now;
        enter(DESCENT);
    }
}

static uint8_t may_stage(void)
{
    if ((flight_memory.phase != COAST) || (burnout_at == 0) || resumed) { return 0; }
    if ((now - burnout_at < STAGING_DELAY) || (now - liftoff_at > STAGING_LATEST)) { return 0; }
    if (!tilt_known || (least_cosine < STAGING_MAX_TILT_COS)) { return 0; }
    if (!settled() || !baro_current()) { return 0; }
    return (h >= STAGING_MIN_HEIGHT) && (v >= STAGING_MIN_SPEED);
}

void flight_stage_now(void)
{
    by_command = 1;
    stage_asked = 1;
}

static void stage(void)
{
    if (STAGING && may_stage() && (!by_command || stage_asked)) {
        (void)fire(IGNITE);
    }
    stage_asked = 0;
}

static uint8_t main_due(void)
{
    uint8_t known = settled() && baro_current();
    if (STAGING && (!flight_fired[DROGUE] || (now - drogue_at < 2000))) {
        return 0;
    }
    return lasts(&below, known && (h <= MAIN_HEIGHT), 200) || lasts(&blind, !known, 5000);
}

static void recover(void)
{
    if (STAGING && fire(DROGUE)) {
        drogue_at = now;
    }
    if (main_due() && fire(MAIN)) {
        enter(UNDER_MAIN);
    }
    if (lasts(&still, settled() && baro_current() && (fabsf(v) < 1.0f), 5000)) {
        end_pulses(1);
        enter(LANDED);
    }
}

void flight_step(uint32_t ms)
{
    at(ms);
    if ((flight_memory.phase != PAD) && (now - gyro_at > 50)) {
        tilt_known = 0;
    }
    if ((flight_memory.phase > COAST) || !accel_good() || !tilt_known || distrusted) {
        without_accel();
    }
    predict();
    end_pulses(0);
    switch (flight_memory.phase) {
    case PAD: on_pad(); break;
    case BOOST:
    case COAST: climb(); break;
    case DESCENT:
    case UNDER_MAIN: recover(); break;
    default: break;
    }
    stage();
}

void flight_start(uint8_t resumes)
{
    resumed = resumes && (flight_memory.phase != PAD);
    confirmed = (flight_memory.phase > COAST) || (flight_memory.highest > 30.0f);
}

package main

import (
	"slices"

	"drystage/harness/judge/mutants"
)

// tiesC are comparisons of measured or computed real numbers in the reference firmware.
var tiesC = []string{
	"e->v < 0.0", "e->v > f->set[APOGEE_LOCKOUT_SPEED]", "f->att.min_tilt_cosine >= f->min_tilt_cosine",
	"f->axial < APOGEE_DRAG", "f->axial < f->set[BURNOUT_ACCELERATION]", "f->axial > f->set[LIFTOFF_ACCELERATION]",
	"f->est.h < f->set[STAGING_MIN_HEIGHT]", "f->est.h <= f->set[MAIN_HEIGHT]", "f->est.h > CONFIRM_HEIGHT", "f->est.h > LIFT_HEIGHT",
	"f->est.v < f->set[STAGING_MIN_SPEED]", "fabs(f->est.v) < STILL_SPEED", "fabs(f->est.v) > LIFT_SPEED", "fabs(r) > gate(e, t)",
	"fabs(vector_norm(f) - STANDARD_GRAVITY) <= REST_BAND", "mem->max_height > LIFT_HEIGHT", "p < LOWEST_PRESSURE",
	"vector_dot(f->att.up, f->nose) < STEEP", "vector_dot(w, w) < 0.04", "vector_norm(mean) < 1e-3", "a < b", "a > b",
}

// stepsC are comparisons of times.
var stepsC = []string{
	"dt <= GYRO_GAP", "dt > GYRO_GAP", "f->now > mem->liftoff + (int64_t)(f->set[STAGING_LATEST] * 1e6)", "f->now >= f->ends[c]",
	"flight_since(f, f->accel_at) <= GYRO_GAP", "flight_since(f, f->arm_asked_at) < SELF_TEST_TIME", "flight_since(f, f->att.t) > GYRO_GAP",
	"flight_since(f, f->mem->liftoff) >= f->set[DROGUE_BACKUP]", "flight_since(f, from) < needed", "flight_since(f, from) < f->set[MAIN_LOCKOUT]",
	"flight_since(f, from) >= f->set[MAIN_BACKUP]", "flight_since(f, mem->apogee) >= f->set[DROGUE_DELAY]",
	"flight_since(f, mem->burnout) < f->set[STAGING_DELAY]", "passed < LONGEST_OUTAGE", "plain_seconds(e->t - e->begun) >= SETTLE_TIME",
	"plain_seconds(now - e->accepted) < BARO_TIMEOUT", "plain_seconds(now - h->since) >= seconds", "plain_seconds(t - e->accepted) > BARO_TIMEOUT",
	"plain_seconds(t - e->accepted) > NO_SENSOR_TIME", "plain_seconds(t - e->refused) < REFUSE_TIMEOUT", "plain_seconds(now - e->refused) < (REFUSE_TIMEOUT + BARO_TIMEOUT)",
}

// samplesC are comparisons of counts of samples.
var samplesC = []string{
	"3 * w->moved >= 2 * w->samples - 2 * w->limit", "a->n < ALIGN_SAMPLES", "a->n >= MIN_ALIGN_SAMPLES", "a->rates < ALIGN_SAMPLES",
	"a->rates >= MIN_ALIGN_SAMPLES", "e->n >= SETTLE_SAMPLES", "f->att.n < MIN_ALIGN_SAMPLES", "f->est.n < SETTLE_SAMPLES",
	"mem->ground_samples >= 10.0", "w->same < w->limit", "w->same >= w->limit", "w->samples >= 2 * w->limit",
}

// reasonsC says why mutants of the reference firmware live.
var reasonsC = slices.Concat(shifts(tie, tiesC), shifts(step, stepsC), shifts(another, samplesC), []mutants.Reason{
	{Func: "attitude_at_rest", Was: "REST_BAND", Equal: true, Why: rest},
	{Func: "attitude_align", Was: "MIN_ALIGN_SAMPLES", Equal: true, Why: another},
	{Func: "average_ground", Was: "10.0", Equal: true, Why: another},
	{Func: "no_liftoff", Was: "f->mem->burnout = 0;", Equal: true, Why: anew},
	{Func: "flight_recover", Was: "flight_set_phase(f, PHASE_SLOWED);", Equal: true, Why: sameRecovery},
	{Func: "flight_begin", Kind: mutants.LeftOut, Was: "mem->phase != PHASE_DOWN", Equal: true, Why: afterLanding},
	{Func: "resumed", Kind: mutants.LeftOut, Was: "mem->valid", Equal: true, Why: emptyClock},
	{Func: "flight_set_phase", Was: "f->thrust = none;", Why: inTheStep},
	{Func: "flight_begin", Was: "LIFT_HEIGHT", Why: lowRestart},
	{Func: "flight_begin", Was: "f->height_seen = 1;", Why: heightAgain},
	{Func: "attitude_rotate", Was: "1.0 + vector_dot(b, b)", Kind: mutants.Turned, Equal: true, Why: smallSum},
	{Func: "self_test", Was: "STEEP", Kind: mutants.Halved, Equal: true, Why: standing},
	{Func: "flight_baro", Was: "LOWEST_PRESSURE", Equal: true, Why: broken},
	{Func: "ground_height", Kind: mutants.Shifted, Equal: true, Why: cache},
	{Func: "ground_height", Was: "f->base_pressure = ground;", Equal: true, Why: cache},
})

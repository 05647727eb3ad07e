#include "attitude.h"

#include <math.h>

#define REST_BAND 1.5        /* m/s2 from 1 g: below it the rocket stands still */
#define ALIGN_SAMPLES 400 /* in the mean on the pad */

int attitude_at_rest(vector f) { return fabs(vector_norm(f) - STANDARD_GRAVITY) <= REST_BAND; }

void attitude_align(attitude *a, vector f)
{
    vector mean;
    if (!attitude_at_rest(f)) {
        return;
    }
    a->n = (a->n < ALIGN_SAMPLES) ? (a->n + 1) : ALIGN_SAMPLES;
    mean = vector_plus(a->up, 1.0 / (double)a->n, vector_plus(vector_unit(f), -1.0, a->up));
    if (vector_norm(mean) < 1e-3) { /* the first samples cancel each other */
        a->n = 0;
        return;
    }
    a->up = vector_unit(mean);
    a->known = a->known || ((a->n >= MIN_ALIGN_SAMPLES) && (a->rates >= MIN_ALIGN_SAMPLES));
}

/* The rotation is Cayley's: exact in direction, too small by a twelfth of the angle's cube. */
void attitude_rotate(attitude *a, int64_t t, vector w, int still)
{
    const vector zero = {0.0, 0.0, 0.0};
    double dt = plain_seconds(t - a->t);
    if ((dt > GYRO_GAP) && !still) {
        a->known = 0;
    }
    if (still) {
        a->rates = (a->rates < ALIGN_SAMPLES) ? (a->rates + 1) : ALIGN_SAMPLES;
        a->bias = vector_plus(a->bias, 1.0 / (double)a->rates, vector_plus(w, -1.0, a->bias));
    }
    if ((a->n > 0) && (dt > 0.0) && (dt <= GYRO_GAP)) {
        vector b = vector_plus(zero, dt / 2.0, vector_plus(w, -1.0, a->bias));
        vector s = vector_cross(a->up, b);
        s = vector_cross(vector_plus(a->up, 1.0, s), b);
        a->up = vector_unit(vector_plus(a->up, 2.0 / (1.0 + vector_dot(b, b)), s));
    }
    a->t = t;
}

void attitude_keep_max_tilt(attitude *a, vector axis)
{
    a->min_tilt_cosine = plain_min(a->min_tilt_cosine, vector_dot(a->up, axis));
}

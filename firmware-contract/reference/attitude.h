/* The direction of up in the inertial sensor's axes: on the pad from gravity, in flight from the gyro alone. */
#ifndef ATTITUDE_H
#define ATTITUDE_H

#include "plain.h"

#define MIN_ALIGN_SAMPLES 40      /* samples on the pad before the mean is used */
#define GYRO_GAP 0.05   /* s without gyro samples after which the attitude is lost */

typedef struct attitude {
    vector up;
    vector bias; /* rad/s, of the gyro */
    int known;
    int32_t n;     /* samples in the mean on the pad */
    int32_t rates; /* the same for the bias */
    int64_t t;     /* us, of the last gyro sample */
    double min_tilt_cosine; /* since liftoff */
} attitude;

int attitude_at_rest(vector f);                                 /* this specific force is that of a rocket that stands still */
void attitude_align(attitude *a, vector f);                     /* specific force on the pad */
void attitude_rotate(attitude *a, int64_t t, vector w, int still);
void attitude_keep_max_tilt(attitude *a, vector axis);                 /* keeps the greatest tilt */

#endif

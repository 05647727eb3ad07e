/* Where up is, in the inertial sensor's axes: on the pad from gravity, in flight from the gyro alone. */
#ifndef ATTITUDE_H
#define ATTITUDE_H

#include "plain.h"

#define ALIGNED 40      /* samples on the pad before the mean counts */
#define GYRO_GAP 0.05   /* s without gyro samples that lose the attitude */

typedef struct attitude {
    vector up;
    vector bias; /* rad/s, of the gyro */
    int known;
    int32_t n;     /* samples of the mean on the pad */
    int32_t rates; /* the same for the bias */
    int heard;
    int64_t t;     /* us, of the last gyro sample */
    double least;  /* smallest cosine of the tilt since liftoff */
} attitude;

void attitude_rest(attitude *a, vector f);                     /* specific force on the pad */
void attitude_turn(attitude *a, int64_t t, vector w, int still);
void attitude_latch(attitude *a, vector axis);                 /* keeps the greatest tilt */

#endif

/* Numbers and vectors of the reference firmware, in double: 64 bits, in hardware or by software, or the
 * 32 bits of compilers without longer ones (avr-gcc before version 10). With 64 bits it gives the same bits
 * everywhere; with 32 its heights are accurate to about a centimetre, and a threshold may be crossed one tick
 * sooner or later. */
#ifndef PLAIN_H
#define PLAIN_H

#include <stdint.h>

#define STANDARD_GRAVITY 9.80665 /* m/s2, ISO 80000-3 */

/* A vector in the axes of the board's inertial sensor. */
typedef struct vector {
    double x;
    double y;
    double z;
} vector;

double vector_dot(vector a, vector b);
vector vector_cross(vector a, vector b);
vector vector_plus(vector a, double k, vector b); /* a + k b */
double vector_norm(vector a);
vector vector_unit(vector a); /* a must not be zero */

/* Sums, products and divisions only: the same bits with every compiler that doesn't fuse operations. */
double plain_log(double x); /* x > 0 */
double plain_exp(double x); /* between -3 and 1 */
double plain_cos(double x); /* between 0 and pi */

double plain_max(double a, double b);
double plain_min(double a, double b);
double plain_seconds(int64_t us);
int32_t plain_thousandths(double v); /* rounded, and limited to +-2e9 */

#endif

/* What the reference firmware uses of math.h, for a compiler without a C library. */
#ifndef MATH_H
#define MATH_H

#define fabs(x) __builtin_fabs(x)
double sqrt(double x);             /* correctly rounded, as IEEE 754 wants it */
double frexp(double x, int *e);    /* of finite numbers */

#endif

#include "plain.h"

#include <float.h>
#include <math.h>

/* The last terms of the series: the rest is below the last bit. */
#if DBL_MANT_DIG > 24
#define LOG_LAST 23
#define EXP_LAST 26
#define COS_LAST 30
#else
#define LOG_LAST 11
#define EXP_LAST 12
#define COS_LAST 18
#endif

double vector_dot(vector a, vector b) { return (a.x * b.x) + (a.y * b.y) + (a.z * b.z); }

vector vector_cross(vector a, vector b)
{
    vector c = {(a.y * b.z) - (a.z * b.y), (a.z * b.x) - (a.x * b.z), (a.x * b.y) - (a.y * b.x)};
    return c;
}

vector vector_plus(vector a, double k, vector b)
{
    vector c = {a.x + (k * b.x), a.y + (k * b.y), a.z + (k * b.z)};
    return c;
}

double vector_norm(vector a) { return sqrt(vector_dot(a, a)); }

vector vector_unit(vector a)
{
    double n = vector_norm(a);
    vector c = {a.x / n, a.y / n, a.z / n};
    return c;
}

/* The series of the inverse hyperbolic tangent. */
double plain_log(double x)
{
    const double half_root = 0.70710678118654752440;
    const double ln2 = 0.69314718055994530942;
    int e;
    int k;
    double f = frexp(x, &e);
    double s;
    double z;
    double sum = 0.0;
    if (f < half_root) {
        f = 2.0 * f;
        e = e - 1;
    }
    s = (f - 1.0) / (f + 1.0);
    z = s * s;
    for (k = LOG_LAST; k >= 1; k -= 2) {
        sum = (sum * z) + (1.0 / (double)k);
    }
    return ((2.0 * s) * sum) + ((double)e * ln2);
}

double plain_exp(double x)
{
    double sum = 1.0;
    int k;
    for (k = EXP_LAST; k >= 1; k--) {
        sum = 1.0 + ((x / (double)k) * sum);
    }
    return sum;
}

double plain_cos(double x)
{
    double z = x * x;
    double sum = 1.0;
    int k;
    for (k = COS_LAST; k >= 2; k -= 2) {
        sum = 1.0 - ((z / (double)(k * (k - 1))) * sum);
    }
    return sum;
}

double plain_max(double a, double b) { return (a > b) ? a : b; }
double plain_min(double a, double b) { return (a < b) ? a : b; }
double plain_seconds(int64_t us) { return (double)us / 1e6; }

int32_t plain_thousandths(double v)
{
    int32_t n = 0;
    v = v * 1000.0;
    if (v < 0.0) {
        n = (int32_t)(plain_max(v, -2e9) - 0.5);
    } else if (v >= 0.0) {
        n = (int32_t)(plain_min(v, 2e9) + 0.5);
    } else {
        /* no number */
    }
    return n;
}

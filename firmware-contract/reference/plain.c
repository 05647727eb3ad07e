#include "plain.h"

#include <float.h>
#include <math.h>

/* The last terms of the series: the rest is below the last bit. */
#if DBL_MANT_DIG > 24
#define COS_LAST 30
#else
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

/* A long series is four short ones, of every fourth term: this joins them, a + b x + c x2 + d x x2. */
static double joined(double x, double x2, double a, double b, double c, double d)
{
    return (a + (x * b)) + (x2 * (c + (x * d)));
}

static double quadratic(double x, double a, double b, double c) { return (((a * x) + b) * x) + c; }
static double cubic(double x, double a, double b, double c, double d) { return (quadratic(x, a, b, c) * x) + d; }

/* The series of the inverse hyperbolic tangent. */
double plain_log(double x)
{
    const double half_root = 0.70710678118654752440;
    const double ln2 = 0.69314718055994530942;
    int e;
    double f = frexp(x, &e);
    double s;
    double z;
    double z2;
    double z4;
    double sum;
    if (f < half_root) {
        f = 2.0 * f;
        e = e - 1;
    }
    s = (f - 1.0) / (f + 1.0);
    z = s * s;
    z2 = z * z;
    z4 = z2 * z2;
    sum = joined(z, z2, quadratic(z4, 1.0 / 17.0, 1.0 / 9.0, 1.0), quadratic(z4, 1.0 / 19.0, 1.0 / 11.0, 1.0 / 3.0),
                 quadratic(z4, 1.0 / 21.0, 1.0 / 13.0, 1.0 / 5.0), quadratic(z4, 1.0 / 23.0, 1.0 / 15.0, 1.0 / 7.0));
    return ((2.0 * s) * sum) + ((double)e * ln2);
}

/* The fourth power of the power series at x/4. */
double plain_exp(double x)
{
    double y = x / 4.0;
    double y2 = y * y;
    double y4 = y2 * y2;
    double r = joined(y, y2, cubic(y4, 1.0 / 479001600.0, 1.0 / 40320.0, 1.0 / 24.0, 1.0),
                      cubic(y4, 1.0 / 6227020800.0, 1.0 / 362880.0, 1.0 / 120.0, 1.0),
                      cubic(y4, 1.0 / 87178291200.0, 1.0 / 3628800.0, 1.0 / 720.0, 1.0 / 2.0),
                      cubic(y4, 1.0 / 1307674368000.0, 1.0 / 39916800.0, 1.0 / 5040.0, 1.0 / 6.0));
    r = r * r;
    return r * r;
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

/* The few functions of a C library that the firmware needs. The compiler must not turn memcpy's own loop into a
 * call of memcpy: -fno-tree-loop-distribute-patterns. */
#include <math.h>
#include <stdint.h>
#include <string.h>

void *memcpy(void *to, const void *from, size_t count)
{
    unsigned char *t = to;
    const unsigned char *f = from;
    for (; count > 0u; count--) {
        *t = *f;
        t++;
        f++;
    }
    return to;
}

void *memset(void *to, int byte, size_t count)
{
    unsigned char *t = to;
    for (; count > 0u; count--) {
        *t = (unsigned char)byte;
        t++;
    }
    return to;
}

size_t strlen(const char *s)
{
    size_t n = 0u;
    while (s[n] != '\0') {
        n++;
    }
    return n;
}

int strcmp(const char *a, const char *b)
{
    while ((*a != '\0') && (*a == *b)) {
        a++;
        b++;
    }
    return (int)(unsigned char)*a - (int)(unsigned char)*b;
}

char *strncat(char *to, const char *from, size_t count)
{
    char *t = &to[strlen(to)];
    for (; (count > 0u) && (*from != '\0'); count--) {
        *t = *from;
        t++;
        from++;
    }
    *t = '\0';
    return to;
}

#define FRACTION 52u
#define BIAS 1023

typedef union bits {
    double d;
    uint64_t u;
} bits;

double frexp(double x, int *e)
{
    bits b = {.d = x};
    int exponent = (int)((b.u >> FRACTION) & 0x7FFu);
    *e = 0;
    if ((b.u << 1) == 0u) {
        return x;
    }
    if (exponent == 0) { /* subnormal: made normal first */
        b.d = x * 18014398509481984.0; /* 2^54 */
        exponent = (int)((b.u >> FRACTION) & 0x7FFu) - 54;
    }
    *e = exponent - (BIAS - 1);
    b.u = (b.u & ~((uint64_t)0x7FFu << FRACTION)) | ((uint64_t)(BIAS - 1) << FRACTION);
    return b.d;
}

/* Digit by digit: 53 bits of the root and one more that rounds. The root of a number of 53 bits never lies
 * halfway between two such, so that one bit decides. */
double sqrt(double x)
{
    bits b;
    int e;
    int i;
    uint64_t radicand; /* in units of 2^-64: from a quarter to below one */
    uint64_t rest = 0u;
    uint64_t root = 0u; /* in units of 2^-54 at last */
    if (!(x > 0.0) || (x > 1.7976931348623157e308)) {
        return (x < 0.0) ? (x - x) / (x - x) : x;
    }
    b.d = frexp(x, &e);
    radicand = ((b.u << 11) | ((uint64_t)1u << 63));
    if ((e & 1) != 0) {
        radicand >>= 1;
        e++;
    }
    for (i = 0; i < 54; i++) { /* two bits of the radicand give one of the root */
        uint64_t tried = (root << 2) | 1u;
        rest = (rest << 2) | (radicand >> 62);
        radicand <<= 2;
        root <<= 1;
        if (rest >= tried) {
            rest -= tried;
            root |= 1u;
        }
    }
    root = (root + 1u) >> 1;
    b.u = ((uint64_t)((e / 2) + BIAS - 1) << FRACTION) + (root - ((uint64_t)1u << FRACTION));
    return b.d;
}

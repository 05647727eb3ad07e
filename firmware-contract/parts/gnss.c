#include "gnss.h"

/* ---- text ---- */

typedef struct sentence {
    char *at;
    const char *from; /* the first byte under the checksum */
} sentence;

static void say(sentence *s, const char *text)
{
    for (; *text != '\0'; text++) {
        *s->at = *text;
        s->at++;
    }
}

static void digits(sentence *s, uint64_t n, unsigned width)
{
    char reversed[20];
    unsigned count = 0u;
    do {
        reversed[count] = (char)('0' + (int)(n % 10u));
        count++;
        n /= 10u;
    } while ((n > 0u) || (count < width));
    while (count > 0u) {
        count--;
        *s->at = reversed[count];
        s->at++;
    }
}

/* A number in units of the last of its decimals. */
static void number(sentence *s, int64_t n, unsigned decimals)
{
    uint64_t scale = 1u;
    uint64_t size = (uint64_t)((n < 0) ? -n : n);
    unsigned i;
    for (i = 0u; i < decimals; i++) {
        scale *= 10u;
    }
    say(s, (n < 0) ? "-" : "");
    digits(s, size / scale, 1u);
    say(s, ".");
    digits(s, size % scale, decimals);
}

static void begin(sentence *s, const char *kind)
{
    say(s, "$");
    s->from = s->at;
    say(s, kind);
}

static void end(sentence *s)
{
    static const char hex[] = "0123456789ABCDEF";
    const char *p;
    unsigned sum = 0u;
    for (p = s->from; p < s->at; p++) {
        sum ^= (uint8_t)*p;
    }
    say(s, "*");
    *s->at = hex[(sum >> 4) & 15u];
    s->at++;
    *s->at = hex[sum & 15u];
    s->at++;
    say(s, "\r\n");
}

static void time_of_day(sentence *s, uint32_t ms)
{
    uint32_t second = (ms / 1000u) % 86400u;
    say(s, ",");
    digits(s, ((uint64_t)(second / 3600u) * 10000u) + ((second / 60u) % 60u) * 100u + (second % 60u), 6u);
    say(s, ".");
    digits(s, (ms % 1000u) / 10u, 2u);
}

/* Degrees, and minutes with five decimals. */
static void angle(sentence *s, int32_t degrees, unsigned width, const char *sign)
{
    uint64_t minutes = (((uint64_t)((degrees < 0) ? -(int64_t)degrees : (int64_t)degrees) * 6u) + 5u) / 10u; /* 1e-5 */
    say(s, ",");
    digits(s, minutes / 6000000u, width);
    digits(s, (minutes % 6000000u) / 100000u, 2u);
    say(s, ".");
    digits(s, minutes % 100000u, 5u);
    say(s, ",");
    say(s, sign);
}

static void place(sentence *s, const gnss_fix *f)
{
    if (f->kind == 0u) {
        say(s, ",,,,");
        return;
    }
    angle(s, f->latitude, 2u, (f->latitude < 0) ? "S" : "N");
    angle(s, f->longitude, 3u, (f->longitude < 0) ? "W" : "E");
}

/* ---- speed and course ---- */

static int64_t rounded(int64_t a, int64_t b) { return ((a >= 0) ? (a + (b / 2)) : (a - (b / 2))) / b; }

static uint64_t root(uint64_t n)
{
    uint64_t r = 0u;
    uint64_t bit;
    for (bit = (uint64_t)1u << 31; bit > 0u; bit >>= 1) {
        if ((r + bit) * (r + bit) <= n) {
            r += bit;
        }
    }
    return r;
}

/* Clockwise from north in tenths of a degree: CORDIC (Volder 1959), angles in 1e-6 deg. */
static int64_t course(int64_t east, int64_t north)
{
    static const int32_t turns[] = {45000000, 26565051, 14036243, 7125016, 3576334, 1789911, 895174, 447614, 223811, 111906, 55953, 27976, 13988, 6994, 3497};
    int64_t x = ((north < 0) ? -north : north) * 65536;
    int64_t y = ((east < 0) ? -east : east) * 65536;
    int64_t angle = 0;
    unsigned i;
    if ((east == 0) && (north == 0)) {
        return 0;
    }
    for (i = 0u; i < sizeof turns / sizeof turns[0]; i++) {
        int64_t was = x;
        int64_t step = (int64_t)1 << i;
        int64_t turn = (y > 0) ? turns[i] : -turns[i];
        x += (y > 0) ? (y / step) : -(y / step);
        y -= (y > 0) ? (was / step) : -(was / step);
        angle += turn;
    }
    if (north < 0) {
        angle = 180000000 - angle;
    }
    if (east < 0) {
        angle = 360000000 - angle;
    }
    return rounded(angle, 100000) % 3600;
}

/* ---- sentences ---- */

static void gga(sentence *s, const gnss_fix *f)
{
    begin(s, "GPGGA");
    time_of_day(s, f->ms);
    place(s, f);
    if (f->kind == 0u) {
        say(s, ",0,00,,,M,,M,,");
    } else {
        say(s, ",1,");
        digits(s, (f->satellites > 99u) ? 99u : f->satellites, 2u);
        say(s, ",0.9,");
        number(s, rounded(f->height, 100), 1u);
        say(s, ",M,0.0,M,,");
    }
    end(s);
}

static void rmc(sentence *s, const gnss_fix *f)
{
    begin(s, "GPRMC");
    time_of_day(s, f->ms);
    say(s, (f->kind == 0u) ? ",V" : ",A");
    place(s, f);
    if (f->kind == 0u) {
        say(s, ",,");
    } else {
        int64_t east = f->east;
        int64_t north = f->north;
        int64_t speed = (int64_t)root((uint64_t)((east * east) + (north * north)) * 10000u); /* 1e-5 m/s */
        say(s, ",");
        number(s, rounded(speed * 36, 18520), 2u); /* knots: 1852 m an hour */
        say(s, ",");
        number(s, course(east, north), 1u);
    }
    say(s, ",");
    digits(s, ((uint64_t)(1u + (f->ms / 86400000u)) * 10000u) + 100u, 6u);
    say(s, (f->kind == 0u) ? ",,,N" : ",,,A");
    end(s);
}

size_t gnss_sentences(const gnss_fix *f, char *out)
{
    sentence s;
    s.at = out;
    s.from = out;
    gga(&s, f);
    rmc(&s, f);
    return (size_t)(s.at - out);
}

/* BMP280, a barometer with registers. Data sheet BST-BMP280-DS001, revision 1.14 of 2015, from memory; the calibration
 * words are those of its worked example. */
#include "part.h"

#define STARTS_NS 2000000u
#define SKIPPED 0x80000u /* what a channel reads that isn't measured */

enum { WORDS = 0x88, ID = 0xD0, RESET = 0xE0, STATUS = 0xF3, CONTROL = 0xF4, CONFIG = 0xF5, DATA = 0xF7, LAST = 0xFC };
enum { PRESSURE, TEMPERATURE };

static void power(part *p)
{
    static const bmp280_words words = {27504u, 26435, -1000, 36477u, -10685, 3024, 2855, 140, -7, 15500, -14600, 6000};
    bmp280 *b = (bmp280 *)p;
    b->words = words;
    b->control = 0u;
    b->config = 0u;
    b->raw[PRESSURE] = SKIPPED;
    b->raw[TEMPERATURE] = SKIPPED;
    b->latched[PRESSURE] = SKIPPED;
    b->latched[TEMPERATURE] = SKIPPED;
    b->filtered = 0u;
    b->due = PART_NEVER;
    b->starts = PART_NEVER;
    p->answers = p->now + STARTS_NS;
}

/* ---- compensation: the data sheet's, in integers (its section 3.11.3) ---- */

static int32_t shift(int32_t value, unsigned by) /* arithmetic, also where >> isn't */
{
    return (value >= 0) ? (value >> by) : -(int32_t)((uint32_t)(-(value + 1)) >> by) - 1;
}

static int32_t fine_of(const bmp280 *b, int32_t raw)
{
    int32_t a = shift((shift(raw, 3u) - ((int32_t)b->words.t1 * 2)) * b->words.t2, 11u);
    int32_t d = shift(raw, 4u) - (int32_t)b->words.t1;
    return a + shift(shift(d * d, 12u) * b->words.t3, 14u);
}

static int64_t wide(int64_t value, unsigned by)
{
    return (value >= 0) ? (value >> by) : -(int64_t)((uint64_t)(-(value + 1)) >> by) - 1;
}

/* Pa in 24.8 bits. */
static int64_t pressure_of(const bmp280 *b, int32_t raw, int32_t fine)
{
    int64_t v1 = (int64_t)fine - 128000;
    int64_t v2 = v1 * v1 * b->words.p6;
    int64_t p;
    v2 += v1 * b->words.p5 * 131072;
    v2 += (int64_t)b->words.p4 * 34359738368;
    v1 = wide(v1 * v1 * b->words.p3, 8u) + (v1 * b->words.p2 * 4096);
    v1 = wide((140737488355328 + v1) * (int64_t)b->words.p1, 33u);
    if (v1 == 0) {
        return 0;
    }
    p = (((((int64_t)1048576 - raw) * 2147483648) - v2) * 3125) / v1;
    v1 = wide((int64_t)b->words.p9 * wide(p, 13u) * wide(p, 13u), 25u);
    v2 = wide((int64_t)b->words.p8 * p, 19u);
    return wide(p + v1 + v2, 8u) + ((int64_t)b->words.p7 * 16);
}

/* ---- its inverse: both are monotone in the count ---- */

static uint32_t raw_temperature(const bmp280 *b, int32_t temperature)
{
    int64_t wanted = (int64_t)temperature * 256; /* T = (fine * 5 + 128) / 256 */
    uint32_t low = 0u;
    uint32_t high = 0xFFFFFu;
    while (low < high) {
        uint32_t middle = low + ((high - low) / 2u);
        if (((int64_t)fine_of(b, (int32_t)middle) * 5) >= wanted) {
            high = middle;
        } else {
            low = middle + 1u;
        }
    }
    return low;
}

static uint32_t raw_pressure(const bmp280 *b, int64_t pressure, int32_t fine)
{
    int64_t wanted = (pressure * 256) / 1000;
    uint32_t low = 0u;
    uint32_t high = 0xFFFFFu;
    while (low < high) { /* the first count with at most that pressure */
        uint32_t middle = low + ((high - low) / 2u);
        if (pressure_of(b, (int32_t)middle, fine) <= wanted) {
            high = middle;
        } else {
            low = middle + 1u;
        }
    }
    if ((low > 0u) && ((pressure_of(b, (int32_t)low - 1, fine) - wanted) < (wanted - pressure_of(b, (int32_t)low, fine)))) {
        low--;
    }
    return low;
}

/* ---- measuring ---- */

static unsigned samples(unsigned code)
{
    static const uint8_t of[8] = {0u, 1u, 2u, 4u, 8u, 16u, 16u, 16u};
    return of[code & 7u];
}

static unsigned filter(const bmp280 *b)
{
    unsigned code = (b->config >> 2) & 7u;
    return (code > 4u) ? 16u : (1u << code);
}

/* 16 bits with one sample, one more with each doubling, 20 with the filter. */
static uint32_t resolved(const bmp280 *b, uint32_t raw, unsigned code)
{
    unsigned lost = ((code >= 5u) || (filter(b) > 1u)) ? 0u : (5u - code);
    return raw & ~((1u << lost) - 1u) & 0xFFFFFu;
}

static void measure(bmp280 *b)
{
    unsigned codes[2];
    uint32_t now[2];
    unsigned i;
    codes[PRESSURE] = (b->control >> 2) & 7u;
    codes[TEMPERATURE] = b->control >> 5;
    now[TEMPERATURE] = raw_temperature(b, b->p.values.temperature);
    now[PRESSURE] = raw_pressure(b, b->p.values.pressure, fine_of(b, (int32_t)now[TEMPERATURE]));
    for (i = 0u; i < 2u; i++) {
        if (codes[i] == 0u) {
            b->raw[i] = SKIPPED;
        } else if ((filter(b) > 1u) && (b->filtered != 0u)) {
            b->raw[i] = ((b->raw[i] * (filter(b) - 1u)) + now[i]) / filter(b);
        } else {
            b->raw[i] = resolved(b, now[i], codes[i]);
        }
    }
    b->filtered = 1u;
}

/* Typical times: 1 ms, 2 ms for each sample, 0.5 ms for a pressure. */
static uint64_t duration(const bmp280 *b)
{
    unsigned p = samples((b->control >> 2) & 7u);
    return (1000000u + (2000000u * (uint64_t)(samples(b->control >> 5) + p))) + ((p > 0u) ? 500000u : 0u);
}

static uint64_t standby(const bmp280 *b)
{
    static const uint16_t tenths[8] = {5u, 625u, 1250u, 2500u, 5000u, 10000u, 20000u, 40000u}; /* of a ms */
    return (uint64_t)tenths[b->config >> 5] * 100000u;
}

static void advance(part *p)
{
    bmp280 *b = (bmp280 *)p;
    while ((p->now >= b->due) || (p->now >= b->starts)) {
        if (p->now >= b->due) {
            measure(b);
            if ((b->control & 3u) == 3u) {
                b->starts = b->due + standby(b);
            } else {
                b->control &= 0xFCu; /* forced: back to sleep */
            }
            b->due = PART_NEVER;
        } else {
            b->due = b->starts + duration(b);
            b->starts = PART_NEVER;
        }
    }
}

static uint64_t next(const part *p)
{
    (void)p;
    return PART_NEVER; /* it has no interrupt pin */
}

/* ---- registers ---- */

static uint8_t word_byte(const bmp280 *b, uint8_t at)
{
    const bmp280_words *w = &b->words;
    uint16_t words[12];
    words[0] = w->t1;
    words[1] = (uint16_t)w->t2;
    words[2] = (uint16_t)w->t3;
    words[3] = w->p1;
    words[4] = (uint16_t)w->p2;
    words[5] = (uint16_t)w->p3;
    words[6] = (uint16_t)w->p4;
    words[7] = (uint16_t)w->p5;
    words[8] = (uint16_t)w->p6;
    words[9] = (uint16_t)w->p7;
    words[10] = (uint16_t)w->p8;
    words[11] = (uint16_t)w->p9;
    if (at >= 24u) {
        return 0u;
    }
    return (uint8_t)((uint32_t)words[at / 2u] >> (((at & 1u) != 0u) ? 8u : 0u));
}

static uint8_t get(bmp280 *b, uint8_t at)
{
    if ((at >= WORDS) && (at < WORDS + 26)) {
        return word_byte(b, (uint8_t)(at - WORDS));
    }
    if ((at >= DATA) && (at <= LAST)) {
        uint8_t i = (uint8_t)(at - DATA);
        return (uint8_t)((b->latched[i / 3u] << 4) >> (8u * (2u - (i % 3u))));
    }
    switch (at) {
    case ID: return (uint8_t)(0x58u ^ b->p.faults.identity);
    case STATUS: return (uint8_t)((b->due != PART_NEVER) ? 8u : 0u);
    case CONTROL: return b->control;
    case CONFIG: return b->config;
    default: return 0u;
    }
}

static void set(bmp280 *b, uint8_t at, uint8_t value)
{
    if (at == RESET) {
        if (value == 0xB6u) {
            power(&b->p);
        }
    } else if (at == CONFIG) {
        if ((b->control & 3u) != 3u) { /* in normal mode it may be ignored, so it is */
            b->config = value & 0xFDu;
        }
    } else if (at == CONTROL) {
        b->control = value;
        if ((value & 3u) == 0u) {
            b->due = PART_NEVER;
            b->starts = PART_NEVER;
        } else {
            b->due = b->p.now + duration(b);
            b->starts = PART_NEVER;
        }
    } else {
        /* read only, or reserved */
    }
}

static void begin(part *p, int reads)
{
    bmp280 *b = (bmp280 *)p;
    b->latched[PRESSURE] = b->raw[PRESSURE]; /* a burst is of one measurement */
    b->latched[TEMPERATURE] = b->raw[TEMPERATURE];
    if (reads == 0) {
        p->told = 0u;
    }
}

/* Pairs of register and value; the last register alone is where reading begins. */
static int write(part *p, uint8_t byte)
{
    if (p->told == 0u) {
        p->pointer = byte;
    } else {
        set((bmp280 *)p, p->pointer, byte);
    }
    p->told ^= 1u;
    return 1;
}

static uint8_t read(part *p)
{
    uint8_t value = get((bmp280 *)p, p->pointer);
    p->pointer++;
    return value;
}

/* Bit 7 of the first byte is 1 for reading, and no bit of the address. */
static uint8_t exchange(part *p, uint8_t byte)
{
    if (p->first != 0u) {
        p->pointer = byte | 0x80u;
        p->told = byte >> 7; /* 1: reads */
        return 0xFFu;
    }
    if (p->told == 1u) {
        return read(p);
    }
    if (p->told == 0u) {
        set((bmp280 *)p, p->pointer, byte);
        p->told = 2u; /* a register comes */
    } else {
        p->pointer = byte | 0x80u;
        p->told = 0u;
    }
    return 0xFFu;
}

static void end(part *p) { (void)p; }
static int pin(const part *p) { (void)p; return 0; }

const part_kind bmp280_kind = {"bmp280", {0x76u, 0x77u}, 1u, power, advance, next, begin, write, read, exchange, end, pin};

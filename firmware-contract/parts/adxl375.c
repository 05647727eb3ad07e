/* ADXL375, an accelerometer for 200 g. Data sheet of Analog Devices, revision B, from memory. No shock detection, no
 * trigger mode of the FIFO (it works as FIFO mode), no sleep: their registers keep what is written. */
#include "part.h"

#include <string.h>

#define STARTS_NS 1400000u /* the data sheet: 1.1 ms and the reciprocal of the rate to the first sample; here one value */
#define STEP 480526        /* um/s2 of a count: 49 mg, typical */
#define FULL 4081          /* counts of 200 g, where it clips here */

enum {
    DEVID = 0x00, THRESH_SHOCK = 0x1D, OFSX = 0x1E, BW_RATE = 0x2C, POWER_CTL = 0x2D, INT_ENABLE = 0x2E, INT_MAP = 0x2F, INT_SOURCE = 0x30,
    DATA_FORMAT = 0x31, DATAX0 = 0x32, DATAZ1 = 0x37, FIFO_CTL = 0x38, FIFO_STATUS = 0x39
};
enum { READY = 0x80, WATERMARK = 0x02, OVERRUN = 0x01 };

static void power(part *p)
{
    adxl375 *a = (adxl375 *)p;
    (void)memset(a->regs, 0, sizeof a->regs);
    a->regs[BW_RATE] = 0x0Au;
    a->regs[DATA_FORMAT] = 0x0Bu; /* three bits that are always one */
    a->regs[INT_SOURCE] = WATERMARK;
    (void)memset(a->data, 0, sizeof a->data);
    a->head = 0u;
    a->count = 0u;
    a->sample = PART_NEVER;
    a->touched = 0u;
    p->answers = p->now + STARTS_NS;
}

/* ---- measuring ---- */

static unsigned mode(const adxl375 *a) { return a->regs[FIFO_CTL] >> 6; } /* 0 bypass, 1 FIFO, 2 stream, 3 trigger */

static uint64_t period(const adxl375 *a) { return (uint64_t)312500u << (15u - (a->regs[BW_RATE] & 15u)); }

static void read_axes(const adxl375 *a, int16_t out[3])
{
    unsigned i;
    for (i = 0u; i < 3u; i++) {
        int64_t offset = (int8_t)a->regs[OFSX + (int)i];
        int64_t count = part_divide((int64_t)a->p.values.accel[i] * 1000, STEP) + (offset * 32); /* 1.56 g each */
        count = (count > FULL) ? FULL : ((count < -FULL) ? -FULL : count);
        out[i] = (int16_t)(((a->regs[DATA_FORMAT] & 4u) != 0u) ? (count * 8) : count);
    }
}

static void flags(adxl375 *a)
{
    unsigned mark = a->regs[FIFO_CTL] & 31u;
    uint8_t *s = &a->regs[INT_SOURCE];
    if (mode(a) == 0u) {
        *s = (uint8_t)((*s & (uint8_t)~WATERMARK) | ((mark == 0u) ? WATERMARK : 0u));
        return;
    }
    *s = (uint8_t)((*s & OVERRUN) | ((a->count > 0u) ? READY : 0u) | ((a->count >= mark) ? WATERMARK : 0u));
}

static void sample(adxl375 *a)
{
    if (mode(a) == 0u) {
        a->regs[INT_SOURCE] |= (uint8_t)(((a->regs[INT_SOURCE] & READY) != 0u) ? OVERRUN : 0u);
        read_axes(a, a->data);
        a->regs[INT_SOURCE] |= READY;
    } else if (a->count < 32u) {
        read_axes(a, a->fifo[(a->head + a->count) % 32u]);
        a->count++;
    } else {
        a->regs[INT_SOURCE] |= OVERRUN;
        if (mode(a) == 2u) { /* the oldest is lost; in FIFO mode the newest */
            read_axes(a, a->fifo[a->head]);
            a->head = (uint8_t)((a->head + 1u) % 32u);
        }
    }
    flags(a);
}

static void advance(part *p)
{
    adxl375 *a = (adxl375 *)p;
    while (p->now >= a->sample) {
        sample(a);
        a->sample += period(a);
    }
}

static uint64_t next(const part *p) { return ((const adxl375 *)p)->sample; }

/* The pin of INT1. */
static int pin(const part *p)
{
    const adxl375 *a = (const adxl375 *)p;
    int raised = (a->regs[INT_ENABLE] & a->regs[INT_SOURCE] & (uint8_t)~a->regs[INT_MAP]) != 0u;
    return raised != ((a->regs[DATA_FORMAT] & 0x20u) != 0u);
}

/* ---- registers ---- */

static void set(adxl375 *a, uint8_t at, uint8_t value)
{
    if ((at < THRESH_SHOCK) || (at > FIFO_CTL) || ((at >= INT_SOURCE) && (at <= DATAZ1) && (at != DATA_FORMAT)) || (at == 0x2B)) {
        return; /* read only, or reserved */
    }
    if (at == DATA_FORMAT) {
        value = (uint8_t)((value & 0xE4u) | 0x0Bu);
    }
    if ((at == FIFO_CTL) && ((value >> 6) == 0u)) {
        a->count = 0u;
        a->regs[INT_SOURCE] &= (uint8_t)~OVERRUN;
    }
    a->regs[at] = value;
    if ((at == POWER_CTL) || (at == BW_RATE)) {
        a->sample = ((a->regs[POWER_CTL] & 8u) != 0u) ? (a->p.now + period(a)) : PART_NEVER;
    }
    flags(a);
}

static uint8_t get(adxl375 *a, uint8_t at)
{
    if (at == DEVID) {
        return (uint8_t)(0xE5u ^ a->p.faults.identity);
    }
    if ((at >= DATAX0) && (at <= DATAZ1)) {
        const int16_t *d = ((mode(a) != 0u) && (a->count > 0u)) ? a->fifo[a->head] : a->data;
        unsigned i = (unsigned)(at - DATAX0);
        a->touched = 1u;
        return (uint8_t)((uint16_t)d[i / 2u] >> (8u * (i & 1u)));
    }
    return (at == FIFO_STATUS) ? a->count : a->regs[at & 63u];
}

/* Reading data takes the sample out of the FIFO, and clears the flags. */
static void end(part *p)
{
    adxl375 *a = (adxl375 *)p;
    if (a->touched != 0u) {
        a->touched = 0u;
        a->regs[INT_SOURCE] &= (uint8_t) ~(READY | OVERRUN);
        if ((mode(a) != 0u) && (a->count > 0u)) {
            (void)memcpy(a->data, a->fifo[a->head], sizeof a->data);
            a->head = (uint8_t)((a->head + 1u) % 32u);
            a->count--;
        }
        flags(a);
    }
}

static void begin(part *p, int reads)
{
    if (reads == 0) {
        p->told = 0u;
    }
}

static int write(part *p, uint8_t byte)
{
    if (p->told == 0u) {
        p->pointer = byte & 0x3Fu;
        p->told = 1u;
    } else {
        set((adxl375 *)p, p->pointer, byte);
        p->pointer = (uint8_t)((p->pointer + 1u) & 0x3Fu);
    }
    return 1;
}

static uint8_t read(part *p)
{
    uint8_t value = get((adxl375 *)p, p->pointer);
    p->pointer = (uint8_t)((p->pointer + 1u) & 0x3Fu);
    return value;
}

/* Of the first byte bit 7 is 1 for reading, bit 6 for more than one byte. */
static uint8_t exchange(part *p, uint8_t byte)
{
    uint8_t value = 0xFFu;
    if (p->first != 0u) {
        p->pointer = byte & 0x3Fu;
        p->told = byte & 0xC0u;
        return value;
    }
    if ((p->told & 0x80u) != 0u) {
        value = get((adxl375 *)p, p->pointer);
    } else {
        set((adxl375 *)p, p->pointer, byte);
    }
    if ((p->told & 0x40u) != 0u) {
        p->pointer = (uint8_t)((p->pointer + 1u) & 0x3Fu);
    }
    return value;
}

const part_kind adxl375_kind = {"adxl375", {0x53u, 0x1Du}, 1u, power, advance, next, begin, write, read, exchange, end, pin};

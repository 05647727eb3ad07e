/* MAG3110, a magnetometer. Data sheet of Freescale, revision 9, from memory. The control block's own faults and the
 * reset of the sensor (Mag_RST) do nothing here. */
#include "part.h"

#include <string.h>

#define STARTS_NS 1700000u   /* from the supply to the first access */
#define PERIOD_NS 12500000u  /* 80 Hz, the highest rate, with the least oversampling */
#define STEP 100             /* nT of a count */
#define MOST 30000           /* counts with the user's offsets */
#define MOST_RAW 20000

enum { DR_STATUS = 0x00, OUT_X_MSB = 0x01, OUT_Z_LSB = 0x06, WHO_AM_I = 0x07, SYSMOD = 0x08, OFF_X_MSB = 0x09, OFF_Z_LSB = 0x0E, DIE_TEMP = 0x0F,
    CTRL_REG1 = 0x10, CTRL_REG2 = 0x11, LAST = 0x11 };
enum { ACTIVE = 0x01, TRIGGER = 0x02, FAST = 0x04 };
enum { RAW = 0x20, MAG_RST = 0x10 };
enum { ALL_READY = 0x0F, ALL_OVER = 0xF0 };

static void power(part *p)
{
    mag3110 *m = (mag3110 *)p;
    (void)memset(m->regs, 0, sizeof m->regs);
    m->sample = PART_NEVER;
    m->touched = 0u;
    p->answers = p->now + STARTS_NS;
}

/* ---- measuring ---- */

/* The rate halves with each step of DR, and with each of the oversampling. */
static uint64_t period(const mag3110 *m)
{
    unsigned steps = (unsigned)(m->regs[CTRL_REG1] >> 5) + ((unsigned)(m->regs[CTRL_REG1] >> 3) & 3u);
    return (uint64_t)PERIOD_NS << steps;
}

/* 15 bits, two's complement, left-justified in two registers. */
static int64_t offset(const mag3110 *m, unsigned axis)
{
    const uint8_t *r = &m->regs[OFF_X_MSB + (2u * axis)];
    int64_t bits = (int64_t)(((unsigned)r[0] << 7) | ((unsigned)r[1] >> 1));
    return (bits >= 16384) ? (bits - 32768) : bits;
}

static void sample(mag3110 *m)
{
    int raw = (m->regs[CTRL_REG2] & RAW) != 0u;
    int64_t most = raw ? MOST_RAW : MOST;
    uint8_t *s = &m->regs[DR_STATUS];
    unsigned i;
    for (i = 0u; i < 3u; i++) {
        int64_t count = part_divide(m->p.values.mag[i], STEP) - (raw ? 0 : offset(m, i));
        count = (count > most) ? most : ((count < -most) ? -most : count);
        m->regs[OUT_X_MSB + (2u * i)] = (uint8_t)((uint16_t)count >> 8);
        m->regs[OUT_X_MSB + (2u * i) + 1u] = (uint8_t)((uint16_t)count & 0xFFu);
    }
    m->regs[DIE_TEMP] = (uint8_t)(int8_t)part_divide(m->p.values.temperature, 100);
    *s = (uint8_t)(ALL_READY | (((*s & ALL_READY) != 0u) ? ALL_OVER : (*s & ALL_OVER)));
}

static void advance(part *p)
{
    mag3110 *m = (mag3110 *)p;
    while (p->now >= m->sample) {
        sample(m);
        m->regs[CTRL_REG1] &= (uint8_t)~TRIGGER;
        m->sample = ((m->regs[CTRL_REG1] & ACTIVE) != 0u) ? (m->sample + period(m)) : PART_NEVER;
    }
}

static uint64_t next(const part *p) { return ((const mag3110 *)p)->sample; }

/* INT1: high from a sample until it is read. */
static int pin(const part *p) { return (((const mag3110 *)p)->regs[DR_STATUS] & ALL_READY) != 0u; }

/* ---- registers ---- */

/* Other registers than CTRL_REG1 and the offsets' change in standby only; here they always do. */
static void set(mag3110 *m, uint8_t at, uint8_t value)
{
    if ((at < OFF_X_MSB) || (at == DIE_TEMP) || (at > LAST)) {
        return;
    }
    m->regs[at] = (at == CTRL_REG2) ? (uint8_t)(value & (uint8_t)~MAG_RST) : value;
    if (at == CTRL_REG1) {
        m->sample = ((value & (ACTIVE | TRIGGER)) != 0u) ? (m->p.now + period(m)) : PART_NEVER;
    }
}

static uint8_t get(mag3110 *m, uint8_t at)
{
    if (at == WHO_AM_I) {
        return (uint8_t)(0xC4u ^ m->p.faults.identity);
    }
    if (at == SYSMOD) {
        return (m->sample == PART_NEVER) ? 0u : (((m->regs[CTRL_REG2] & RAW) != 0u) ? 1u : 2u);
    }
    if ((at >= OUT_X_MSB) && (at <= OUT_Z_LSB)) {
        m->touched = 1u;
    }
    return (at <= LAST) ? m->regs[at] : 0u;
}

/* Reading data clears the flags. */
static void end(part *p)
{
    mag3110 *m = (mag3110 *)p;
    if (m->touched != 0u) {
        m->touched = 0u;
        m->regs[DR_STATUS] = 0u;
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
        p->pointer = byte;
        p->told = 1u;
    } else {
        set((mag3110 *)p, p->pointer, byte);
        p->pointer++;
    }
    return 1;
}

/* With FAST only the high bytes are read. */
static uint8_t read(part *p)
{
    mag3110 *m = (mag3110 *)p;
    uint8_t value = get(m, p->pointer);
    int high = ((m->regs[CTRL_REG1] & FAST) != 0u) && (p->pointer >= OUT_X_MSB) && (p->pointer < OUT_Z_LSB);
    p->pointer = (uint8_t)(p->pointer + (high ? 2u : 1u));
    return value;
}

static uint8_t exchange(part *p, uint8_t byte)
{
    (void)p;
    (void)byte;
    return 0xFFu; /* it has no SPI */
}

const part_kind mag3110_kind = {"mag3110", {0x0Eu, 0x0Eu}, 0u, power, advance, next, begin, write, read, exchange, end, pin};

/* MPU-6050, accelerometer and gyro. Product specification PS-MPU-6000A-00 and register map RM-MPU-6000A-00, revisions 3.4
 * and 4.2, from memory. No second master, no motion detection, no cycles of low power: their registers keep what is
 * written. The low-pass is of first order here, at the bandwidth of the table. */
#include "part.h"

#include <string.h>

#define STARTS_NS 20000000u /* from power to the first answer, typical */
#define RESETS_NS 1000000u  /* from DEVICE_RESET; the data sheet doesn't say */
#define PULSE_NS 50000u
#define STEP_NS 1000000u    /* of the low-pass, and of the sampling while it is on */
#define FAST_NS 125000u     /* without the low-pass */
#define G0_FINE 980665      /* 0.01 mm/s2 */

enum {
    SMPLRT_DIV = 0x19, CONFIG = 0x1A, GYRO_CONFIG = 0x1B, ACCEL_CONFIG = 0x1C, FIFO_EN = 0x23, INT_PIN_CFG = 0x37, INT_ENABLE = 0x38,
    INT_STATUS = 0x3A, DATA = 0x3B, DATA_END = 0x49, SIGNAL_PATH_RESET = 0x68, USER_CTRL = 0x6A, PWR_MGMT_1 = 0x6B, PWR_MGMT_2 = 0x6C,
    FIFO_COUNT_H = 0x72, FIFO_COUNT_L = 0x73, FIFO_R_W = 0x74, WHO_AM_I = 0x75
};
enum { OVERFLOW = 0x10, READY = 0x01 };

static void to_defaults(mpu6050 *m)
{
    (void)memset(m->regs, 0, sizeof m->regs);
    m->regs[PWR_MGMT_1] = 0x40u; /* asleep */
    m->regs[WHO_AM_I] = 0x68u;
    (void)memset(m->latched, 0, sizeof m->latched);
    m->head = 0u;
    m->count = 0u;
    m->last = 0u;
    m->step = PART_NEVER;
    m->sample = PART_NEVER;
    m->pulse = 0u;
}

static void power(part *p)
{
    to_defaults((mpu6050 *)p);
    p->answers = p->now + STARTS_NS;
}

/* ---- measuring ---- */

static int filtered(const mpu6050 *m) { return ((m->regs[CONFIG] & 7u) != 0u) && ((m->regs[CONFIG] & 7u) != 7u); }
static uint64_t base(const mpu6050 *m) { return filtered(m) ? STEP_NS : FAST_NS; }

/* 1 - exp(-2 pi f / 1 kHz) in 1/65536, for 184, 94, 44, 21, 10 and 5 Hz. */
static void low_pass(mpu6050 *m)
{
    static const int32_t share[8] = {65536, 44913, 29230, 15829, 8100, 3993, 2027, 65536};
    int32_t s = share[m->regs[CONFIG] & 7u];
    unsigned i;
    for (i = 0u; i < 6u; i++) {
        int64_t now = (int64_t)((i < 3u) ? m->p.values.accel[i] : m->p.values.gyro[i - 3u]) * 65536;
        m->filtered[i] += part_divide((now - m->filtered[i]) * s, 65536);
    }
}

/* The count of an axis: 32768 of them are the range. */
static int16_t count_of(const mpu6050 *m, unsigned axis)
{
    int64_t value = m->filtered[axis];
    if (axis < 3u) {
        int64_t range = (int64_t)2 << ((m->regs[ACCEL_CONFIG] >> 3) & 3u);
        return part_clip16(part_divide(value * 100, 2 * range * G0_FINE));
    }
    /* 250 deg/s are 4,363,323.13 urad/s */
    return part_clip16(part_divide(value * 50, ((int64_t)436332313 << ((m->regs[GYRO_CONFIG] >> 3) & 3u))));
}

static void put(uint8_t *to, int16_t value)
{
    to[0] = (uint8_t)((uint16_t)value >> 8);
    to[1] = (uint8_t)((uint16_t)value & 0xFFu);
}

static void queue(mpu6050 *m, const uint8_t *bytes, unsigned n)
{
    for (; n > 0u; n--) {
        if (m->count == sizeof m->fifo) { /* the oldest byte is lost, so sets of 12 or 14 get out of step */
            m->head = (uint16_t)((m->head + 1u) % sizeof m->fifo);
            m->count--;
            m->regs[INT_STATUS] |= OVERFLOW;
        }
        m->fifo[(m->head + m->count) % sizeof m->fifo] = *bytes;
        m->count++;
        bytes++;
    }
}

static void sample(mpu6050 *m)
{
    uint8_t *r = &m->regs[DATA];
    uint8_t en = m->regs[FIFO_EN];
    uint8_t off = m->regs[PWR_MGMT_2]; /* axes in standby keep their last value */
    unsigned i;
    for (i = 0u; i < 3u; i++) {
        if ((off & (0x20u >> i)) == 0u) {
            put(&r[2u * i], count_of(m, i));
        }
        if ((off & (4u >> i)) == 0u) {
            put(&r[8u + (2u * i)], count_of(m, 3u + i));
        }
    }
    if ((m->regs[PWR_MGMT_1] & 8u) == 0u) {
        put(&r[6], part_clip16(part_divide(((int64_t)m->p.values.temperature - 3653) * 340, 100)));
    }
    if ((m->regs[USER_CTRL] & 0x40u) != 0u) {
        queue(m, r, ((en & 8u) != 0u) ? 6u : 0u);
        queue(m, &r[6], ((en & 0x80u) != 0u) ? 2u : 0u);
        for (i = 0u; i < 3u; i++) {
            queue(m, &r[8u + (2u * i)], ((en & (0x40u >> i)) != 0u) ? 2u : 0u);
        }
    }
    m->regs[INT_STATUS] |= READY;
    if ((m->regs[INT_ENABLE] & m->regs[INT_STATUS]) != 0u) {
        m->pulse = m->sample + PULSE_NS;
    }
}

static void advance(part *p)
{
    mpu6050 *m = (mpu6050 *)p;
    while ((p->now >= m->step) || (p->now >= m->sample)) {
        if (m->step <= m->sample) {
            low_pass(m);
            m->step += base(m);
        } else {
            sample(m);
            m->sample += base(m) * ((uint64_t)m->regs[SMPLRT_DIV] + 1u);
        }
    }
}

static int level(const mpu6050 *m)
{
    int raised = (m->regs[INT_ENABLE] & m->regs[INT_STATUS]) != 0u;
    if ((m->regs[INT_PIN_CFG] & 0x20u) == 0u) {
        raised = m->p.now < m->pulse;
    }
    return raised != ((m->regs[INT_PIN_CFG] & 0x80u) != 0u);
}

static int pin(const part *p) { return level((const mpu6050 *)p); }

static uint64_t next(const part *p)
{
    const mpu6050 *m = (const mpu6050 *)p;
    return (p->now < m->pulse) ? ((m->pulse < m->sample) ? m->pulse : m->sample) : m->sample;
}

/* ---- registers ---- */

/* Sampling begins anew when its rate is set, or the part wakes up. */
static void restart(mpu6050 *m)
{
    if ((m->regs[PWR_MGMT_1] & 0x40u) != 0u) {
        m->step = PART_NEVER;
        m->sample = PART_NEVER;
    } else {
        m->step = m->p.now + base(m);
        m->sample = m->p.now + (base(m) * ((uint64_t)m->regs[SMPLRT_DIV] + 1u));
    }
}

static void set(mpu6050 *m, uint8_t at, uint8_t value)
{
    at &= 0x7Fu;
    switch (at) {
    case PWR_MGMT_1:
        if ((value & 0x80u) != 0u) {
            to_defaults(m);
            m->p.answers = m->p.now + RESETS_NS;
        } else {
            uint8_t slept = m->regs[at] & 0x40u;
            m->regs[at] = value;
            if (slept != (value & 0x40u)) {
                restart(m);
            }
        }
        break;
    case USER_CTRL:
        if ((value & 4u) != 0u) {
            m->count = 0u;
        }
        m->regs[at] = value & 0xF8u; /* the resets clear themselves */
        break;
    case CONFIG:
    case SMPLRT_DIV:
        m->regs[at] = value;
        restart(m);
        break;
    case FIFO_R_W:
        queue(m, &value, 1u);
        break;
    case INT_STATUS:
    case FIFO_COUNT_H:
    case FIFO_COUNT_L:
    case WHO_AM_I:
        break;
    default:
        if ((at < DATA) || (at >= 0x61)) {
            m->regs[at] = value;
        }
        break;
    }
}

static uint8_t get(mpu6050 *m, uint8_t at)
{
    uint8_t value;
    if ((at >= DATA) && (at < DATA_END)) {
        return m->latched[at - DATA];
    }
    switch (at) {
    case INT_STATUS:
        value = m->regs[at];
        m->regs[at] = 0u;
        return value;
    case FIFO_COUNT_H: return (uint8_t)(m->count >> 8);
    case FIFO_COUNT_L: return (uint8_t)(m->count & 0xFFu);
    case FIFO_R_W:
        if (m->count > 0u) {
            m->last = m->fifo[m->head];
            m->head = (uint16_t)((m->head + 1u) % sizeof m->fifo);
            m->count--;
        }
        return m->last;
    case WHO_AM_I: return m->regs[at] ^ m->p.faults.identity;
    default: return m->regs[at];
    }
}

static void begin(part *p, int reads)
{
    mpu6050 *m = (mpu6050 *)p;
    (void)memcpy(m->latched, &m->regs[DATA], sizeof m->latched); /* a burst is of one sample */
    if (reads == 0) {
        p->told = 0u;
    }
}

static int write(part *p, uint8_t byte)
{
    if (p->told == 0u) {
        p->pointer = byte & 0x7Fu;
        p->told = 1u;
        return 1;
    }
    set((mpu6050 *)p, p->pointer, byte);
    if (p->pointer != (uint8_t)FIFO_R_W) {
        p->pointer = (uint8_t)((p->pointer + 1u) & 0x7Fu);
    }
    return 1;
}

static uint8_t read(part *p)
{
    mpu6050 *m = (mpu6050 *)p;
    uint8_t at = p->pointer;
    uint8_t value = get(m, at);
    if ((m->regs[INT_PIN_CFG] & 0x10u) != 0u) {
        m->regs[INT_STATUS] = 0u; /* any read clears it */
    }
    if (at != (uint8_t)FIFO_R_W) {
        p->pointer = (uint8_t)((at + 1u) & 0x7Fu);
    }
    return value;
}

static uint8_t exchange(part *p, uint8_t byte)
{
    (void)p;
    (void)byte;
    return 0xFFu; /* only the MPU-6000 has SPI */
}

static void end(part *p) { (void)p; }

const part_kind mpu6050_kind = {"mpu6050", {0x68u, 0x69u}, 0u, power, advance, next, begin, write, read, exchange, end, pin};

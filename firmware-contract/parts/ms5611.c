/* MS5611-01BA03, a barometer with calibration words and commands. Data sheet of October 2012 (TE, formerly MEAS), and
 * its application note AN520 for the check of the words; both from memory. */
#include "part.h"

#define RELOAD_NS 2800000u /* after reset */

enum { READ_ADC = 0x00, RESET = 0x1E, CONVERT_PRESSURE = 0x40, CONVERT_TEMPERATURE = 0x50, READ_PROM = 0xA0 };

/* The typical words of the data sheet's example; the check of them is in the last. */
static const uint16_t typical[7] = {0u, 40127u, 36924u, 23317u, 23282u, 33464u, 28312u};

/* Four bits over the eight words, by AN520. */
static uint16_t check_of(const uint16_t words[8])
{
    uint16_t rest = 0u;
    unsigned i, bit;
    for (i = 0u; i < 16u; i++) {
        uint16_t word = (i / 2u == 7u) ? (uint16_t)(words[7] & 0xFF00u) : words[i / 2u];
        rest ^= ((i & 1u) != 0u) ? (uint16_t)(word & 0xFFu) : (uint16_t)(word >> 8);
        for (bit = 0u; bit < 8u; bit++) {
            uint16_t carry = ((rest & 0x8000u) != 0u) ? 0x3000u : 0u;
            rest = (uint16_t)((uint16_t)(rest << 1) ^ carry);
        }
    }
    return (uint16_t)(rest >> 12);
}

static void power(part *p)
{
    ms5611 *m = (ms5611 *)p;
    unsigned i;
    for (i = 0u; i < 7u; i++) {
        m->prom[i] = typical[i];
    }
    m->prom[7] = 0u;
    m->prom[7] = check_of(m->prom);
    m->adc = 0u;
    m->due = PART_NEVER;
    m->spoilt = 0u;
    m->answer = 0u;
    p->answers = p->now + RELOAD_NS;
}

/* TEMP in 1/256 of 0.01 degC with the data sheet's second order, and what pressure needs: dT and the two corrections. */
static int64_t temperature_of(const ms5611 *m, int64_t d2, int64_t *dt, int64_t *off2, int64_t *sens2)
{
    int64_t fine, temp;
    *dt = d2 - ((int64_t)m->prom[5] * 256);
    fine = (2000 * 256) + ((*dt * m->prom[6]) / 32768);
    temp = fine / 256;
    *off2 = 0;
    *sens2 = 0;
    if (temp < 2000) {
        int64_t below = (temp - 2000) * (temp - 2000);
        *off2 = 5 * below / 2;
        *sens2 = 5 * below / 4;
        if (temp < -1500) {
            int64_t cold = (temp + 1500) * (temp + 1500);
            *off2 += 7 * cold;
            *sens2 += 11 * cold / 2;
        }
        fine -= (*dt * *dt) / 8388608;
    }
    return fine;
}

/* The middle of the counts that give this temperature. */
static uint32_t raw_temperature(const ms5611 *m, int64_t temperature)
{
    int64_t dt, off2, sens2;
    uint32_t low = 0u;
    uint32_t high = 0xFFFFFFu;
    while (low < high) { /* the first that gives at least that much */
        uint32_t middle = low + ((high - low) / 2u);
        if (temperature_of(m, (int64_t)middle, &dt, &off2, &sens2) >= (temperature * 256) + 128) {
            high = middle;
        } else {
            low = middle + 1u;
        }
    }
    return low;
}

static uint32_t raw_pressure(const ms5611 *m)
{
    int64_t dt, off2, sens2, off, sens, d1;
    (void)temperature_of(m, (int64_t)raw_temperature(m, m->p.values.temperature), &dt, &off2, &sens2);
    off = ((int64_t)m->prom[2] * 65536) + (((int64_t)m->prom[4] * dt) / 128) - off2;
    sens = ((int64_t)m->prom[1] * 32768) + (((int64_t)m->prom[3] * dt) / 256) - sens2;
    /* P = (D1 * SENS / 2^21 - OFF) / 2^15 in Pa, solved for D1 */
    d1 = part_divide((((m->p.values.pressure * 32768) / 1000) + off) * 2097152, sens);
    if (d1 < 1) {
        return 1u;
    }
    return (d1 > 0xFFFFFF) ? 0xFFFFFFu : (uint32_t)d1;
}

static void advance(part *p)
{
    ms5611 *m = (ms5611 *)p;
    if (p->now >= m->due) {
        m->adc = (m->spoilt != 0u) ? 0u : m->running;
        m->due = PART_NEVER;
        m->spoilt = 0u;
    }
}

static uint64_t next(const part *p)
{
    (void)p;
    return PART_NEVER; /* it has no interrupt pin */
}

/* Conversion times: the data sheet's typical ones. */
static void convert(ms5611 *m, uint8_t command)
{
    static const uint32_t ns[5] = {540000u, 1060000u, 2080000u, 4130000u, 8220000u};
    unsigned osr = (command & 0x0Fu) / 2u;
    if (m->due != PART_NEVER) {
        return; /* busy: the data sheet leaves open what happens; the running conversion goes on here */
    }
    m->adc = 0u;
    m->running = ((command & 0xF0u) == CONVERT_PRESSURE) ? raw_pressure(m) : raw_temperature(m, m->p.values.temperature);
    m->due = m->p.now + ns[osr];
}

/* An unknown command does nothing, and zeros are read after it. */
static void command(ms5611 *m, uint8_t byte)
{
    m->answer = 0u;
    if (byte == (uint8_t)RESET) {
        power(&m->p);
    } else if (byte == (uint8_t)READ_ADC) {
        if (m->due != PART_NEVER) {
            m->spoilt = 1u; /* read too early: zeros now, and a wrong result later, here zero */
        } else {
            m->answer = m->adc;
            m->adc = 0u;
        }
    } else if (((byte & 0xF0u) == (uint8_t)READ_PROM) && ((byte & 1u) == 0u)) {
        uint8_t i = (uint8_t)((byte >> 1) & 7u);
        uint16_t word = m->prom[i];
        if (i == 1u) {
            word ^= m->p.faults.identity;
        }
        m->answer = (uint32_t)word << 8;
    } else if ((((byte & 0xF0u) == (uint8_t)CONVERT_PRESSURE) || ((byte & 0xF0u) == (uint8_t)CONVERT_TEMPERATURE)) && ((byte & 1u) == 0u) && ((byte & 0x0Fu) <= 8u)) {
        convert(m, byte);
    } else {
        /* unknown */
    }
}

static void begin(part *p, int reads)
{
    (void)p;
    (void)reads;
}

static int write(part *p, uint8_t byte)
{
    command((ms5611 *)p, byte);
    return 1;
}

static uint8_t read(part *p)
{
    ms5611 *m = (ms5611 *)p;
    uint8_t byte = (uint8_t)(m->answer >> 16);
    m->answer = (m->answer << 8) & 0xFFFFFFu;
    return byte;
}

static uint8_t exchange(part *p, uint8_t byte)
{
    if (p->first != 0u) {
        command((ms5611 *)p, byte);
        return 0xFEu; /* while a command comes; from memory */
    }
    return read(p);
}

static void end(part *p) { (void)p; }
static int pin(const part *p) { (void)p; return 0; }

const part_kind ms5611_kind = {"ms5611", {0x77u, 0x76u}, 1u, power, advance, next, begin, write, read, exchange, end, pin};

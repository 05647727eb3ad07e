#include "part.h"

#include <string.h>

const part_kind *part_named(const char *name)
{
    static const part_kind *const all[] = {&ms5611_kind, &bmp280_kind, &mpu6050_kind, &adxl375_kind, &mag3110_kind};
    unsigned i;
    for (i = 0u; i < (unsigned)(sizeof all / sizeof all[0]); i++) {
        if (strcmp(all[i]->name, name) == 0) {
            return all[i];
        }
    }
    return NULL;
}

/* ---- the bench ---- */

void part_start(part *p, const part_kind *kind, uint32_t seed)
{
    (void)memset(p, 0, sizeof *p);
    p->kind = kind;
    p->values.pressure = 101325000;
    p->values.temperature = 2500;
    p->values.accel[2] = 9807;
    p->random = (seed == 0u) ? 1u : seed;
}

void part_power(part *p)
{
    p->open = 0u;
    p->told = 0u;
    p->pointer = 0u;
    p->kind->power(p);
}

void part_advance(part *p, uint64_t now)
{
    if (now > p->now) {
        p->now = now;
    }
    p->kind->advance(p);
}

uint64_t part_next(const part *p) { return p->kind->next(p); }

int part_pin(const part *p) { return (p->faults.silent == 0u) && (p->kind->pin(p) != 0); }

/* ---- the bus ---- */

/* Xorshift (Marsaglia, Journal of Statistical Software 8(14), 2003). */
static uint32_t chance(part *p)
{
    p->random ^= p->random << 13;
    p->random ^= p->random >> 17;
    p->random ^= p->random << 5;
    return p->random;
}

static uint8_t noisy(part *p, uint8_t byte)
{
    if ((p->faults.flips != 0u) && ((chance(p) % p->faults.flips) == 0u)) {
        byte ^= (uint8_t)(1u << (chance(p) & 7u));
    }
    return byte;
}

static int answers(const part *p) { return (p->faults.silent == 0u) && (p->faults.stuck == 0u) && (p->now >= p->answers); }

int part_begin(part *p, int reads)
{
    if (p->open != 0u) {
        part_end(p);
    }
    if (!answers(p)) {
        return p->faults.stuck != 0u; /* a data line that is held low looks like an acknowledge */
    }
    p->kind->advance(p);
    p->open = 1u;
    p->kind->begin(p, reads);
    return 1;
}

int part_write(part *p, uint8_t byte)
{
    if ((p->open == 0u) || !answers(p)) {
        return p->faults.stuck != 0u;
    }
    p->kind->advance(p);
    return p->kind->write(p, noisy(p, byte));
}

uint8_t part_read(part *p)
{
    if (p->faults.stuck != 0u) {
        return 0u;
    }
    if ((p->open == 0u) || !answers(p)) {
        return 0xFFu;
    }
    p->kind->advance(p);
    return noisy(p, p->kind->read(p));
}

void part_end(part *p)
{
    if (p->open != 0u) {
        p->open = 0u;
        p->kind->end(p);
    }
}

int part_blocks(const part *p) { return p->faults.stuck != 0u; }

void part_select(part *p)
{
    (void)part_begin(p, 0);
    p->first = 1u;
}

uint8_t part_exchange(part *p, uint8_t byte)
{
    uint8_t out;
    if ((p->open == 0u) || !answers(p) || (p->kind->spi == 0u)) {
        return (p->faults.stuck != 0u) ? 0u : 0xFFu;
    }
    p->kind->advance(p);
    out = noisy(p, p->kind->exchange(p, noisy(p, byte)));
    p->first = 0u;
    return out;
}

/* ---- for parts ---- */

int64_t part_divide(int64_t a, int64_t b) { return ((a >= 0) ? (a + (b / 2)) : (a - (b / 2))) / b; }

int16_t part_clip16(int64_t value)
{
    if (value > INT16_MAX) {
        return INT16_MAX;
    }
    return (value < INT16_MIN) ? (int16_t)INT16_MIN : (int16_t)value;
}

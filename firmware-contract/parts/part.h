/* Stand-in parts: sensors at the level of their registers, from their data sheets. A part is given what it senses and
 * the time; drivers configure and read it over I2C or SPI as the real one. Raw counts are found by inverting the data
 * sheet's own compensation.
 *
 * C99 with 64-bit integers; no heap, no floating point, no variables: the state is the caller's. Time is in ns since
 * any moment, and never goes back. What the data sheet leaves open, and values written from memory, say so. */
#ifndef PART_H
#define PART_H

#include <stdint.h>

#define PART_NEVER UINT64_MAX

/* What a part senses, in the units of the contract. Errors, noise and latency are the caller's. */
typedef struct part_values {
    int64_t pressure;    /* mPa */
    int32_t temperature; /* 0.01 degC, of the part */
    int32_t accel[3];    /* mm/s2, specific force along the part's own axes */
    int32_t gyro[3];     /* urad/s */
    int32_t mag[3];      /* nT */
} part_values;

/* Faults of the bus, all off at 0. They stay over a loss of power. */
typedef struct part_faults {
    uint8_t silent;    /* the part doesn't answer: no acknowledge, and SPI reads ones */
    uint8_t stuck;     /* the part holds its data line low: the bus is blocked, and everything reads zeros */
    uint8_t identity;  /* exclusive-or of the identity register; of a part without one, of its first calibration word */
    uint32_t flips;    /* one bit error in so many bytes, at random */
    uint32_t stretch;  /* ns that the part holds the clock low before each byte of I2C */
} part_faults;

typedef struct part part;

typedef struct part_kind {
    const char *name;
    uint8_t addresses[2];          /* on I2C, 7 bits */
    uint8_t spi;                   /* 1: it has SPI, too */
    void (*power)(part *p);        /* power-up values */
    void (*advance)(part *p);      /* everything up to p->now */
    uint64_t (*next)(const part *p); /* when it next does something by itself */
    void (*begin)(part *p, int reads); /* a transaction: its address on I2C, its select on SPI */
    int (*write)(part *p, uint8_t byte); /* gives 1: acknowledged */
    uint8_t (*read)(part *p);
    uint8_t (*exchange)(part *p, uint8_t byte); /* SPI */
    void (*end)(part *p);
    int (*pin)(const part *p);     /* level of the interrupt pin */
} part_kind;

struct part {
    const part_kind *kind;
    part_values values;
    part_faults faults;
    uint64_t now;
    uint64_t answers; /* from when on it answers, after power-up or reset */
    uint32_t random;
    uint8_t open;     /* in a transaction, and the part answers */
    uint8_t first;    /* SPI: the next byte is the first */
    uint8_t pointer;  /* of registers, or the command */
    uint8_t told;     /* the pointer has come */
};

/* ---- each part; the first field is the part ---- */

typedef struct ms5611 {
    part p;
    uint16_t prom[8];
    uint32_t adc;     /* the finished conversion; 0 after it was read */
    uint32_t running; /* the result to come */
    uint64_t due;
    uint32_t answer;  /* bytes to be read, the first in bits 23 to 16 */
    uint8_t spoilt;   /* read while it converted */
} ms5611;

typedef struct bmp280_words {
    uint16_t t1;
    int16_t t2, t3;
    uint16_t p1;
    int16_t p2, p3, p4, p5, p6, p7, p8, p9;
} bmp280_words;

typedef struct bmp280 {
    part p;
    bmp280_words words;
    uint8_t control; /* ctrl_meas */
    uint8_t config;
    uint32_t raw[2];    /* pressure, temperature: 20 bits */
    uint32_t latched[2]; /* as a burst reads them */
    uint8_t filtered;  /* the filter has a value */
    uint64_t due;      /* end of the running measurement; PART_NEVER: none */
    uint64_t starts;   /* of the next in normal mode */
} bmp280;

typedef struct mpu6050 {
    part p;
    uint8_t regs[128];
    int64_t filtered[6]; /* accel, gyro in units of the contract times 65536 */
    uint64_t step;       /* the next step of the filter */
    uint64_t sample;     /* the next sample */
    uint64_t pulse;      /* end of the interrupt's pulse */
    uint8_t fifo[1024];
    uint16_t head, count;
    uint8_t last;        /* byte read from the FIFO */
    uint8_t latched[14];
} mpu6050;

typedef struct adxl375 {
    part p;
    uint8_t regs[64];
    int16_t fifo[32][3];
    uint8_t head, count;
    int16_t data[3];
    uint64_t sample;
    uint8_t touched;  /* data registers were read in this transaction */
} adxl375;

typedef struct mag3110 {
    part p;
    uint8_t regs[18];
    uint64_t sample;  /* the next */
    uint8_t touched;  /* data registers were read in this transaction */
} mag3110;

typedef union any_part {
    part p;
    ms5611 barometer;
    bmp280 mapped;
    mpu6050 imu;
    adxl375 high;
    mag3110 field;
} any_part;

extern const part_kind ms5611_kind;
extern const part_kind bmp280_kind;
extern const part_kind mpu6050_kind;
extern const part_kind adxl375_kind;
extern const part_kind mag3110_kind;

const part_kind *part_named(const char *name); /* NULL: no such part */

/* ---- what the bench does ---- */

void part_start(part *p, const part_kind *kind, uint32_t seed); /* in an any_part; then part_power */
void part_power(part *p);                  /* the supply comes: all is at its power-up value */
void part_advance(part *p, uint64_t now);  /* ns */
uint64_t part_next(const part *p);         /* when its pin may next change without access; PART_NEVER */
int part_pin(const part *p);               /* 1: the interrupt pin is high */

/* ---- what the bus does ---- */

/* I2C: part_begin after the address, for which it gives 1 if the part acknowledges. */
int part_begin(part *p, int reads);
int part_write(part *p, uint8_t byte); /* 1: acknowledged */
uint8_t part_read(part *p);
void part_end(part *p);                /* a stop, or the next start */
int part_blocks(const part *p);        /* 1: a line is held low, so no start is possible */

/* SPI: part_select, then bytes in both directions, then part_end. */
void part_select(part *p);
uint8_t part_exchange(part *p, uint8_t byte);

/* ---- for parts ---- */

int64_t part_divide(int64_t a, int64_t b); /* rounded to the nearest; b > 0 */
int16_t part_clip16(int64_t value);

#endif

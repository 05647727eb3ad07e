#include "sensors.h"

#include "bus.h"

/* ---- MPU-6050 ---- */

#define IMU 0x68
#define SMPLRT_DIV 0x19
#define FIFO_EN 0x23
#define INT_PIN_CFG 0x37
#define INT_STATUS 0x3A
#define USER_CTRL 0x6A
#define PWR_MGMT_1 0x6B
#define FIFO_COUNT 0x72
#define FIFO_R_W 0x74
#define WHO_AM_I 0x75
#define SET 12 /* bytes of a sample in the FIFO */

static uint8_t imu_set(uint8_t reg, uint8_t value)
{
    uint8_t bytes[2];
    bytes[0] = reg;
    bytes[1] = value;
    return i2c_write(IMU, bytes, 2);
}

static uint8_t imu_empty(void) { return imu_set(USER_CTRL, 0x44); }

uint8_t imu_start(void)
{
    static const uint8_t rates[] = {SMPLRT_DIV, 4, 3, 0x18, 0x18}; /* and low-pass, 2000 deg/s, 16 g */
    static const uint8_t interrupt[] = {INT_PIN_CFG, 0x00, 0x01};
    uint8_t who;
    if (!i2c_read(IMU, WHO_AM_I, &who, 1) || (who != 0x68)) {
        return 0;
    }
    return imu_set(PWR_MGMT_1, 1) && i2c_write(IMU, rates, sizeof rates) && imu_set(FIFO_EN, 0x78) && i2c_write(IMU, interrupt, sizeof interrupt) && imu_empty();
}

static int16_t big_endian(const uint8_t *b) { return (int16_t)(((uint16_t)b[0] << 8) | b[1]); }

uint8_t imu_read(imu_sample *samples, uint8_t most)
{
    uint8_t b[SET];
    uint8_t n = 0;
    uint16_t waiting;
    if (!i2c_read(IMU, INT_STATUS, b, 1)) {
        return 255;
    }
    if ((b[0] & 0x10) != 0) { /* it has run over: the sets in it are out of step */
        (void)imu_empty();
        return 255;
    }
    if (!i2c_read(IMU, FIFO_COUNT, b, 2)) {
        return 255;
    }
    waiting = (uint16_t)big_endian(b);
    while ((waiting >= SET) && (n < most)) {
        uint8_t i;
        if (!i2c_read(IMU, FIFO_R_W, b, SET)) {
            (void)imu_empty();
            return 255;
        }
        for (i = 0; i < 3; i++) {
            samples[n].accel[i] = big_endian(&b[2 * i]);
            samples[n].gyro[i] = big_endian(&b[6 + (2 * i)]);
        }
        n++;
        waiting -= SET;
    }
    return n;
}

/* ---- ADXL375 ---- */

uint8_t high_start(void)
{
    uint8_t id[2] = {0x80, 0};
    uint8_t rate[2] = {0x2C, 0x0B}; /* 200 Hz */
    uint8_t measure[2] = {0x2D, 0x08};
    spi_move(id, 2);
    spi_move(rate, 2);
    spi_move(measure, 2);
    return id[1] == 0xE5;
}

void high_read(int16_t accel[3])
{
    uint8_t b[7] = {0xC0 | 0x32, 0, 0, 0, 0, 0, 0};
    uint8_t i;
    spi_move(b, 7);
    for (i = 0; i < 3; i++) {
        accel[i] = (int16_t)(b[1 + (2 * i)] | ((uint16_t)b[2 + (2 * i)] << 8));
    }
}

/* ---- MS5611 ---- */

#define BARO 0x77
#define PRESSURE 0x48
#define TEMPERATURE 0x58

static uint16_t words[8];
static uint8_t converting; /* the running conversion's command; 0: none */
static int32_t dt;
static int64_t off2, sens2;
static uint8_t has_temperature;

static uint8_t baro_command(uint8_t command) { return i2c_write(BARO, &command, 1); }

static uint8_t words_good(void)
{
    uint16_t rest = 0;
    uint8_t i, bit;
    for (i = 0; i < 16; i++) {
        uint16_t word = (i / 2 == 7) ? (words[7] & 0xFF00) : words[i / 2];
        rest ^= (i & 1) ? (word & 0xFF) : (word >> 8);
        for (bit = 0; bit < 8; bit++) {
            rest = (rest & 0x8000) ? ((rest << 1) ^ 0x3000) : (rest << 1);
        }
    }
    return (rest >> 12) == (words[7] & 0xF);
}

uint8_t baro_start(void)
{
    uint8_t i;
    converting = 0;
    has_temperature = 0;
    for (i = 0; i < 8; i++) {
        uint8_t b[2];
        if (!i2c_read(BARO, (uint8_t)(0xA0 + (2 * i)), b, 2)) {
            return 0;
        }
        words[i] = (uint16_t)big_endian(b);
    }
    if (!words_good() || !baro_command(TEMPERATURE)) {
        return 0;
    }
    converting = TEMPERATURE;
    return 1;
}

static void temperature(uint32_t raw)
{
    int32_t temp;
    dt = (int32_t)raw - ((int32_t)words[5] << 8);
    temp = 2000 + (int32_t)(((int64_t)dt * words[6]) >> 23);
    off2 = 0;
    sens2 = 0;
    if (temp < 2000) {
        int64_t below = (int64_t)(temp - 2000) * (temp - 2000);
        off2 = (5 * below) >> 1;
        sens2 = (5 * below) >> 2;
        if (temp < -1500) {
            int64_t cold = (int64_t)(temp + 1500) * (temp + 1500);
            off2 += 7 * cold;
            sens2 += (11 * cold) >> 1;
        }
    }
    has_temperature = 1;
}

static float pressure_of(uint32_t raw)
{
    int64_t off = ((int64_t)words[2] << 16) + (((int64_t)words[4] * dt) >> 7) - off2;
    int64_t sens = ((int64_t)words[1] << 15) + (((int64_t)words[3] * dt) >> 8) - sens2;
    return (float)((((int64_t)raw * sens) >> 21) - off) / 32768.0f;
}

uint8_t baro_step(float *pressure)
{
    uint8_t b[3];
    uint32_t raw;
    uint8_t was = converting;
    if ((converting == 0) || !i2c_read(BARO, 0x00, b, 3)) {
        converting = 0;
        return 2;
    }
    raw = ((uint32_t)b[0] << 16) | ((uint32_t)b[1] << 8) | b[2];
    converting = (was == PRESSURE) ? TEMPERATURE : PRESSURE;
    if ((raw == 0) || !baro_command(converting)) {
        converting = 0;
        return 2;
    }
    if (was == TEMPERATURE) {
        temperature(raw);
        return 0;
    }
    *pressure = pressure_of(raw);
    return has_temperature;
}

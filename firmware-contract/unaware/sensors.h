/* Drivers: MPU-6050 and MS5611 on I2C, ADXL375 on SPI. x points to the nose. */
#ifndef SENSORS_H
#define SENSORS_H

#include <stdint.h>

#define G0 9.80665f

typedef struct imu_sample {
    int16_t accel[3]; /* 2048 a g */
    int16_t gyro[3];  /* 16.384 a deg/s */
} imu_sample;

uint8_t imu_start(void); /* 1: it is there, and set up: 200 Hz, 44 Hz low-pass, 16 g, 2000 deg/s, FIFO, data ready */
/* The samples that wait, at most `most`. 255: it didn't answer, or its FIFO has run over and was emptied. */
uint8_t imu_read(imu_sample *samples, uint8_t most);

uint8_t high_start(void);
void high_read(int16_t accel[3]); /* 49 mg each */

uint8_t baro_start(void);
/* Every 10 ms. 1: there is a new pressure, in Pa; 2: the part failed. */
uint8_t baro_step(float *pressure);

#endif

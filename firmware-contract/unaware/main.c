/* A flight computer on an ATmega2560 at 16 MHz, as it would be built at a kitchen table: an MPU-6050 and an MS5611 on
 * I2C, an ADXL375 on SPI, three outputs, an arming switch, a battery. It knows nothing of any bench. An example: it
 * has never flown, don't fly it.
 *
 *     PA0 PA1 PA2   igniter, drogue, main: high is on
 *     PE4 (INT4)    data ready of the MPU-6050
 *     PB0           select of the ADXL375
 *     PL0 PL1       arming switch, staging command: low is on
 *     ADC0          battery over two; ADC1 to ADC3 the circuits of the outputs
 *     PB7           lamp: armed
 */
#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/sleep.h>
#include <avr/wdt.h>
#include <string.h>
#include <util/atomic.h>

#include "bus.h"
#include "flight.h"
#include "sensors.h"
#include "store.h"

#define FROZEN 40   /* equal samples: 0.2 s */
#define CLIPPED 31000
#define MOST 8      /* samples read at once */

static volatile uint32_t milliseconds;
static volatile uint8_t data_ready;

ISR(TIMER0_COMPA_vect) { milliseconds++; }
ISR(INT4_vect) { data_ready = 1; }

static uint32_t clock_ms(void)
{
    uint32_t ms;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { ms = milliseconds; }
    return ms;
}

void output(uint8_t which, uint8_t on)
{
    if (on) {
        PORTA |= (uint8_t)(1 << which);
    } else {
        PORTA &= (uint8_t)~(1 << which);
    }
}

static void start_pins(void)
{
    PORTA = 0;
    DDRA = 7;
    DDRB |= (1 << PB7);
    PORTL = 3; /* pull-ups */
    EICRB = (1 << ISC41) | (1 << ISC40); /* rising */
    EIMSK = (1 << INT4);
    TCCR0A = (1 << WGM01);
    OCR0A = 249; /* 16 MHz / 64 / 250 */
    TIMSK0 = (1 << OCIE0A);
    TCCR0B = (1 << CS01) | (1 << CS00);
}

/* ---- inertial sensors ---- */

static uint8_t equal[6];
static int16_t before[6];

/* Bit 0: an axis of the accelerometer repeats itself; bit 1: one of the gyro. */
static uint8_t frozen_axes(const imu_sample *s)
{
    uint8_t frozen = 0;
    uint8_t i;
    for (i = 0; i < 6; i++) {
        int16_t x = (i < 3) ? s->accel[i] : s->gyro[i - 3];
        uint8_t same = (x == before[i]) && (x > -CLIPPED) && (x < CLIPPED);
        equal[i] = same ? ((equal[i] < 255) ? (uint8_t)(equal[i] + 1) : 255) : 0;
        before[i] = x;
        if (equal[i] >= FROZEN) {
            frozen |= (i < 3) ? 1 : 2;
        }
    }
    return frozen;
}

static uint8_t has_high;

static void take(const imu_sample *s, uint32_t ms)
{
    float accel[3], gyro[3];
    int16_t high[3];
    uint8_t i;
    if (has_high) {
        high_read(high);
    }
    for (i = 0; i < 3; i++) {
        accel[i] = (float)s->accel[i] * (G0 / 2048.0f);
        if (has_high && ((s->accel[i] > CLIPPED) || (s->accel[i] < -CLIPPED))) {
            accel[i] = (float)high[i] * (0.049f * G0);
        }
        gyro[i] = (float)s->gyro[i] * (0.01745329f * 2000.0f / 32768.0f);
    }
    flight_imu(ms, accel, gyro, frozen_axes(s));
    flight_step(ms);
}

static uint32_t imu_seen, imu_tried, stepped;

static void inertial(uint32_t ms)
{
    imu_sample samples[MOST];
    uint8_t n = 0;
    uint8_t i;
    if (data_ready) {
        data_ready = 0;
        n = imu_read(samples, MOST);
    }
    if (n == 255) {
        flight_imu_gap();
        n = 0;
    }
    for (i = 0; i < n; i++) {
        stepped = ms - (uint32_t)(5 * (n - 1 - i));
        take(&samples[i], stepped);
        imu_seen = ms;
    }
    if ((ms - imu_seen > 50) && (ms - imu_tried > 100)) { /* it doesn't answer, or has lost its settings */
        imu_tried = ms;
        (void)imu_start();
        has_high = high_start();
    }
    if (ms - stepped >= 6) {
        stepped = ms;
        flight_step(ms);
    }
}

/* ---- barometer ---- */

static uint32_t baro_at, baro_tried;
static uint8_t baro_works;

static void barometer(uint32_t ms)
{
    float pascal;
    uint8_t r;
    if (!baro_works) {
        if (ms - baro_tried > 100) {
            baro_tried = ms;
            baro_works = baro_start();
            baro_at = ms;
        }
        return;
    }
    if (ms - baro_at < 10) {
        return;
    }
    baro_at = ms;
    r = baro_step(&pascal);
    if (r == 1) {
        flight_baro(ms, pascal);
    }
    baro_works = r != 2;
}

/* ---- arming ---- */

static uint8_t circuits_good(void)
{
    uint8_t i;
    for (i = 1; i <= 3; i++) {
        uint16_t x = adc_read(i);
        if ((x < 300) || (x > 700)) { /* 2.5 V with an igniter; 0 open, 5 V shorted */
            return 0;
        }
    }
    return adc_read(0) > 614; /* 6 V */
}

static uint32_t closed_at;
static uint8_t closed, refused, commanded;

static void arming(uint32_t ms)
{
    uint8_t now = (PINL & (1 << PL0)) == 0;
    if (now != closed) {
        closed = now;
        closed_at = ms;
        refused = 0;
    }
    if (!closed) {
        if (flight_armed) {
            flight_arm(0);
        }
    } else if (!flight_armed && !refused && (ms - closed_at >= 20)) {
        if (flight_ready() && circuits_good()) {
            flight_arm(1);
        } else if (ms - closed_at > 1000) {
            refused = 1; /* the switch has to be opened first */
        } else {
            /* the self-test goes on */
        }
    } else {
        /* as before */
    }
    if (((PINL & (1 << PL1)) == 0) && !commanded) {
        commanded = 1;
        flight_stage_now();
    }
    if (flight_armed) {
        PORTB |= (1 << PB7);
    } else {
        PORTB &= (uint8_t)~(1 << PB7);
    }
}

/* A flight goes on after a loss of power if the computer was armed and the switch still is. */
static void resume(void)
{
    static const memory none;
    uint8_t was_armed = store_load(&flight_memory, flight_fired);
    uint8_t on = (PINL & (1 << PL0)) == 0;
    if (!was_armed || !on || (flight_memory.phase == LANDED)) {
        flight_memory = none;
        memset(flight_fired, 0, sizeof flight_fired);
        flight_start(0);
        return;
    }
    closed = 1;
    flight_start(1);
    flight_arm(1);
}

int main(void)
{
    MCUSR = 0;
    wdt_disable();
    start_pins();
    i2c_start();
    spi_start();
    adc_start();
    sei();
    while (clock_ms() < 30) { /* the sensors start */
    }
    resume();
    wdt_enable(WDTO_250MS);
    for (;;) {
        uint32_t ms = clock_ms();
        wdt_reset();
        inertial(ms);
        barometer(ms);
        arming(ms);
        store_step(&flight_memory, flight_fired, flight_armed);
        sleep_mode(); /* until the next interrupt: a millisecond at most */
    }
}

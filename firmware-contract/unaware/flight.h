/* Flight logic of a two-stage rocket's upper computer: liftoff, burnout, staging, apogee, drogue, main, landing. An
 * example for a bench; it has never flown. Don't fly it.
 *
 * It knows no registers and no clock: samples and the time in ms come in, outputs are asked for. */
#ifndef FLIGHT_H
#define FLIGHT_H

#include <stdint.h>

#ifndef STAGING
#define STAGING 1 /* 0: a booster's computer, which has a main only */
#endif
#ifndef STAGING_DELAY
#define STAGING_DELAY 1800 /* ms after burnout */
#endif
#ifndef STAGING_LATEST
#define STAGING_LATEST 5500 /* ms after liftoff */
#endif
#ifndef STAGING_MIN_HEIGHT
#define STAGING_MIN_HEIGHT 60.0f /* m */
#endif
#ifndef STAGING_MIN_SPEED
#define STAGING_MIN_SPEED 40.0f /* m/s */
#endif
#ifndef STAGING_MAX_TILT_COS
#define STAGING_MAX_TILT_COS 0.9396926f /* of 20 deg */
#endif
#ifndef MAIN_HEIGHT
#define MAIN_HEIGHT 150.0f /* m */
#endif

typedef enum phase { PAD, BOOST, COAST, DESCENT, UNDER_MAIN, LANDED } phase;
enum { IGNITE, DROGUE, MAIN, OUTPUTS };
enum { UNFIRED, FIRING, FIRED }; /* FIRED: its pulse was long enough, and it is not fired again after a loss of power */

/* What survives a loss of power. */
typedef struct memory {
    uint8_t phase;
    float ground; /* Pa */
    float highest; /* m */
} memory;

extern memory flight_memory;
extern uint8_t flight_fired[OUTPUTS]; /* UNFIRED or FIRED survives too, and is written first */
extern uint8_t flight_armed;

void flight_start(uint8_t resumes); /* flight_memory and flight_fired hold a flight that goes on, or zeros */
void flight_imu(uint32_t ms, const float accel[3], const float gyro[3], uint8_t frozen); /* m/s2, rad/s, each 5 ms; frozen: bit 0 accel, 1 gyro */
void flight_imu_gap(void);          /* samples were lost */
void flight_baro(uint32_t ms, float pascal);
void flight_step(uint32_t ms);      /* each 5 ms */
uint8_t flight_ready(void);         /* the self-test on the pad: 1 may be armed */
void flight_arm(uint8_t on);
void flight_stage_now(void);

void output(uint8_t which, uint8_t on); /* of main.c */

#endif

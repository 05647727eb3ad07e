/* The messages of the drystage contract, for C. Made from the table in harness/board/contract by
 * go generate; change the table, not this file. Nothing here reads or writes beyond the sizes that
 * it names. */
#ifndef DRYSTAGE_MESSAGES_H
#define DRYSTAGE_MESSAGES_H

#include <stdint.h>

#define DRYSTAGE_VERSION 1u /* of the contract */
#define DRYSTAGE_MAX_TAIL 64u /* bytes of a tail */
#define DRYSTAGE_MAX_FRAME 75u /* bytes of the longest frame on the line, without its delimiter */
#define DRYSTAGE_MAX_CHANNELS 16u /* outputs of a board */
#define DRYSTAGE_LOCKSTEP 0u /* mode: TICK drives the board's clock */
#define DRYSTAGE_REAL_TIME 1u /* mode: the board's own clock counts */
#define DRYSTAGE_CAN_LOCKSTEP 1u /* bit of capabilities */
#define DRYSTAGE_CAN_REAL_TIME 2u /* bit of capabilities */
#define DRYSTAGE_CAN_RESTART 4u /* bit of capabilities */
#define DRYSTAGE_CAN_SETTINGS 8u /* bit of capabilities */
#define DRYSTAGE_CAN_CONTINUITY 16u /* bit of capabilities */
#define DRYSTAGE_CAN_COMMANDS 32u /* bit of capabilities */
#define DRYSTAGE_CAN_TEST 64u /* bit of capabilities */
#define DRYSTAGE_CAN_CIRCUITS 128u /* bit of capabilities */
#define DRYSTAGE_CAN_MAG 256u /* bit of capabilities */
#define DRYSTAGE_FRESH_ACCEL 1u /* bit of IMU's has */
#define DRYSTAGE_FRESH_GYRO 2u /* bit of IMU's has */
#define DRYSTAGE_ARM 1u /* command */
#define DRYSTAGE_DISARM 2u /* command */
#define DRYSTAGE_STAGE 3u /* command: light the upper motor */
#define DRYSTAGE_TEST_GUARD 0x9A7C5EEDuL /* exclusive-or HELLO's nonce: TEST's guard word */
#define DRYSTAGE_TEST_MOST 500u /* ms, the longest pulse of TEST */
#define DRYSTAGE_TEST_OBEYED 0u /* TESTED */
#define DRYSTAGE_TEST_GUARD_WRONG 1u /* TESTED: not the guard word of this run */
#define DRYSTAGE_TEST_LOCKSTEP 2u /* TESTED: no clock would end the pulse */
#define DRYSTAGE_TEST_ARMED 3u /* TESTED: the board is armed */
#define DRYSTAGE_TEST_TOUCHED 4u /* TESTED: a sample or command has come since power-up, or a flight is remembered */
#define DRYSTAGE_TEST_NONSENSE 5u /* TESTED: no such channel or length */
#define DRYSTAGE_TEST_BUSY 6u /* TESTED: an output is on */
#define DRYSTAGE_TEST_OTHER 7u /* TESTED: a reason of the board's own */
#define DRYSTAGE_OPEN_CIRCUIT 0xFFFFFFFFuL /* resistance of an output with nothing on it */

/* The codes of the messages, and the least bytes of their payloads. */
#define DRYSTAGE_HELLO 0x01u
#define DRYSTAGE_HELLO_SIZE 32u
#define DRYSTAGE_SETTING 0x02u
#define DRYSTAGE_SETTING_SIZE 28u
#define DRYSTAGE_IMU 0x10u
#define DRYSTAGE_IMU_SIZE 29u
#define DRYSTAGE_BARO 0x11u
#define DRYSTAGE_BARO_SIZE 10u
#define DRYSTAGE_GNSS 0x12u
#define DRYSTAGE_GNSS_SIZE 30u
#define DRYSTAGE_BATTERY 0x13u
#define DRYSTAGE_BATTERY_SIZE 6u
#define DRYSTAGE_COMMAND 0x14u
#define DRYSTAGE_COMMAND_SIZE 5u
#define DRYSTAGE_CIRCUITS 0x15u
#define DRYSTAGE_CIRCUITS_SIZE 8u
#define DRYSTAGE_MAG 0x16u
#define DRYSTAGE_MAG_SIZE 16u
#define DRYSTAGE_TICK 0x20u
#define DRYSTAGE_TICK_SIZE 4u
#define DRYSTAGE_SYNC 0x21u
#define DRYSTAGE_SYNC_SIZE 4u
#define DRYSTAGE_RESTART 0x22u
#define DRYSTAGE_RESTART_SIZE 4u
#define DRYSTAGE_BYE 0x23u
#define DRYSTAGE_BYE_SIZE 0u
#define DRYSTAGE_TEST 0x24u
#define DRYSTAGE_TEST_SIZE 11u
#define DRYSTAGE_WELCOME 0x81u
#define DRYSTAGE_WELCOME_SIZE 26u
#define DRYSTAGE_ACCEPT 0x82u
#define DRYSTAGE_ACCEPT_SIZE 29u
#define DRYSTAGE_OUTPUT 0x90u
#define DRYSTAGE_OUTPUT_SIZE 6u
#define DRYSTAGE_REPORT 0x91u
#define DRYSTAGE_REPORT_SIZE 32u
#define DRYSTAGE_CONTINUITY 0x92u
#define DRYSTAGE_CONTINUITY_SIZE 9u
#define DRYSTAGE_LOG 0x93u
#define DRYSTAGE_LOG_SIZE 4u
#define DRYSTAGE_DONE 0xA0u
#define DRYSTAGE_DONE_SIZE 11u
#define DRYSTAGE_SYNCED 0xA1u
#define DRYSTAGE_SYNCED_SIZE 8u
#define DRYSTAGE_TESTED 0xA2u
#define DRYSTAGE_TESTED_SIZE 6u

static inline void drystage_put_u16(uint8_t *p, uint16_t v)
{
    p[0] = (uint8_t)(v & 0xFFu);
    p[1] = (uint8_t)(v >> 8);
}

static inline void drystage_put_u32(uint8_t *p, uint32_t v)
{
    drystage_put_u16(p, (uint16_t)(v & 0xFFFFu));
    drystage_put_u16(&p[2], (uint16_t)(v >> 16));
}

static inline void drystage_put_i16(uint8_t *p, int16_t v) { drystage_put_u16(p, (uint16_t)v); }
static inline void drystage_put_i32(uint8_t *p, int32_t v) { drystage_put_u32(p, (uint32_t)v); }

static inline uint16_t drystage_get_u16(const uint8_t *p)
{
    return (uint16_t)(p[0] | ((uint16_t)p[1] << 8));
}

static inline uint32_t drystage_get_u32(const uint8_t *p)
{
    return drystage_get_u16(p) | ((uint32_t)drystage_get_u16(&p[2]) << 16);
}

/* Defined for every value, and nothing at all in machine code: a conversion of what does not fit would be the
 * compiler's choice, C99 6.3.1.3. */
static inline int16_t drystage_get_i16(const uint8_t *p)
{
    uint16_t u = drystage_get_u16(p);
    return (u <= 0x7FFFu) ? (int16_t)u : (int16_t)(-1 - (int16_t)(0xFFFFu - u));
}

static inline int32_t drystage_get_i32(const uint8_t *p)
{
    uint32_t u = drystage_get_u32(p);
    return (u <= 0x7FFFFFFFuL) ? (int32_t)u : (-1 - (int32_t)(0xFFFFFFFFuL - u));
}

/* Text stops at its first zero; the rest of the field is zero. */
static inline void drystage_put_text(uint8_t *p, const char *text, uint8_t size)
{
    uint8_t i = 0u;
    while ((i < size) && (text[i] != '\0')) {
        p[i] = (uint8_t)text[i];
        i++;
    }
    while (i < size) {
        p[i] = 0u;
        i++;
    }
}

/* text has room for size characters and the zero behind them. */
static inline void drystage_get_text(const uint8_t *p, char *text, uint8_t size)
{
    uint8_t i;
    for (i = 0u; i < size; i++) {
        text[i] = (char)p[i];
    }
    text[size] = '\0';
}

/* HELLO, host to board. Begins a run, and begins it anew after a restart. The board answers WELCOME and forgets all settings. */
typedef struct drystage_hello_msg {
    uint8_t version; /* of the contract */
    uint8_t mode; /* 0 lockstep: TICK drives the board's clock; 1 real time: the board's own clock counts */
    uint32_t nonce; /* any number; WELCOME echoes it */
    uint32_t time; /* us; the present time of the run */
    uint16_t imu_hz; /* Hz; rate of IMU messages to come; 0: none */
    uint16_t baro_hz; /* Hz; rate of BARO messages to come; 0: none */
    uint8_t gnss_hz; /* Hz; rate of GNSS messages to come; 0: none */
    uint8_t battery_hz; /* Hz; rate of BATTERY messages to come; 0: none */
    char role[17]; /* the board's place in the vehicle, such as sustainer */
} drystage_hello_msg;

static inline void drystage_put_hello(uint8_t *p, const drystage_hello_msg *m)
{
    p[0] = m->version;
    p[1] = m->mode;
    drystage_put_u32(&p[2], m->nonce);
    drystage_put_u32(&p[6], m->time);
    drystage_put_u16(&p[10], m->imu_hz);
    drystage_put_u16(&p[12], m->baro_hz);
    p[14] = m->gnss_hz;
    p[15] = m->battery_hz;
    drystage_put_text(&p[16], m->role, 16u);
}

static inline void drystage_get_hello(const uint8_t *p, drystage_hello_msg *m)
{
    m->version = p[0];
    m->mode = p[1];
    m->nonce = drystage_get_u32(&p[2]);
    m->time = drystage_get_u32(&p[6]);
    m->imu_hz = drystage_get_u16(&p[10]);
    m->baro_hz = drystage_get_u16(&p[12]);
    m->gnss_hz = p[14];
    m->battery_hz = p[15];
    drystage_get_text(&p[16], m->role, 16u);
}

/* SETTING, host to board. Sets one of the board's own settings. The board answers ACCEPT. */
typedef struct drystage_setting_msg {
    char name[25]; /* of the setting */
    int32_t value; /* 0.001; in SI units */
} drystage_setting_msg;

static inline void drystage_put_setting(uint8_t *p, const drystage_setting_msg *m)
{
    drystage_put_text(&p[0], m->name, 24u);
    drystage_put_i32(&p[24], m->value);
}

static inline void drystage_get_setting(const uint8_t *p, drystage_setting_msg *m)
{
    drystage_get_text(&p[0], m->name, 24u);
    m->value = drystage_get_i32(&p[24]);
}

/* IMU, host to board. One sample of the accelerometer, the gyro, or both, in the parts' own axes. */
typedef struct drystage_imu_msg {
    uint32_t time; /* us; since the run began */
    uint8_t has; /* bit 0: acceleration is fresh; bit 1: rate is fresh */
    int32_t accel_x; /* mm/s2; specific force */
    int32_t accel_y; /* mm/s2; specific force */
    int32_t accel_z; /* mm/s2; specific force */
    int32_t gyro_x; /* urad/s; angular rate */
    int32_t gyro_y; /* urad/s; angular rate */
    int32_t gyro_z; /* urad/s; angular rate */
} drystage_imu_msg;

static inline void drystage_put_imu(uint8_t *p, const drystage_imu_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    p[4] = m->has;
    drystage_put_i32(&p[5], m->accel_x);
    drystage_put_i32(&p[9], m->accel_y);
    drystage_put_i32(&p[13], m->accel_z);
    drystage_put_i32(&p[17], m->gyro_x);
    drystage_put_i32(&p[21], m->gyro_y);
    drystage_put_i32(&p[25], m->gyro_z);
}

static inline void drystage_get_imu(const uint8_t *p, drystage_imu_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->has = p[4];
    m->accel_x = drystage_get_i32(&p[5]);
    m->accel_y = drystage_get_i32(&p[9]);
    m->accel_z = drystage_get_i32(&p[13]);
    m->gyro_x = drystage_get_i32(&p[17]);
    m->gyro_y = drystage_get_i32(&p[21]);
    m->gyro_z = drystage_get_i32(&p[25]);
}

/* BARO, host to board. One sample of the barometer. */
typedef struct drystage_baro_msg {
    uint32_t time; /* us; since the run began */
    uint32_t pressure; /* mPa; static pressure */
    int16_t temperature; /* 0.01 degC; of the barometer itself */
} drystage_baro_msg;

static inline void drystage_put_baro(uint8_t *p, const drystage_baro_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    drystage_put_u32(&p[4], m->pressure);
    drystage_put_i16(&p[8], m->temperature);
}

static inline void drystage_get_baro(const uint8_t *p, drystage_baro_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->pressure = drystage_get_u32(&p[4]);
    m->temperature = drystage_get_i16(&p[8]);
}

/* GNSS, host to board. One fix of the GNSS receiver. */
typedef struct drystage_gnss_msg {
    uint32_t time; /* us; since the run began */
    int32_t latitude; /* 1e-7 deg; north is positive */
    int32_t longitude; /* 1e-7 deg; east is positive */
    int32_t height; /* mm; above mean sea level */
    int32_t east; /* mm/s; velocity */
    int32_t north; /* mm/s; velocity */
    int32_t up; /* mm/s; velocity */
    uint8_t fix; /* 0 none, 2 horizontal only, 3 full */
    uint8_t satellites; /* used in the fix */
} drystage_gnss_msg;

static inline void drystage_put_gnss(uint8_t *p, const drystage_gnss_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    drystage_put_i32(&p[4], m->latitude);
    drystage_put_i32(&p[8], m->longitude);
    drystage_put_i32(&p[12], m->height);
    drystage_put_i32(&p[16], m->east);
    drystage_put_i32(&p[20], m->north);
    drystage_put_i32(&p[24], m->up);
    p[28] = m->fix;
    p[29] = m->satellites;
}

static inline void drystage_get_gnss(const uint8_t *p, drystage_gnss_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->latitude = drystage_get_i32(&p[4]);
    m->longitude = drystage_get_i32(&p[8]);
    m->height = drystage_get_i32(&p[12]);
    m->east = drystage_get_i32(&p[16]);
    m->north = drystage_get_i32(&p[20]);
    m->up = drystage_get_i32(&p[24]);
    m->fix = p[28];
    m->satellites = p[29];
}

/* BATTERY, host to board. One sample of the board's supply. */
typedef struct drystage_battery_msg {
    uint32_t time; /* us; since the run began */
    uint16_t voltage; /* mV; at the board */
} drystage_battery_msg;

static inline void drystage_put_battery(uint8_t *p, const drystage_battery_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    drystage_put_u16(&p[4], m->voltage);
}

static inline void drystage_get_battery(const uint8_t *p, drystage_battery_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->voltage = drystage_get_u16(&p[4]);
}

/* COMMAND, host to board. An operator's command. */
typedef struct drystage_command_msg {
    uint32_t time; /* us; since the run began */
    uint8_t command; /* 1 arm, 2 disarm, 3 stage (light the upper motor) */
} drystage_command_msg;

static inline void drystage_put_command(uint8_t *p, const drystage_command_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    p[4] = m->command;
}

static inline void drystage_get_command(const uint8_t *p, drystage_command_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->command = p[4];
}

/* CIRCUITS, host to board. What a continuity check reads at the outputs, in place of the board's own measurement: a channel that is neither open nor short has its load. */
typedef struct drystage_circuits_msg {
    uint32_t time; /* us; since the run began */
    uint16_t open; /* bit c-1: channel c is open: its igniter has burnt, its wire is lost, or nothing is connected */
    uint16_t shorted; /* bit c-1: channel c is shorted */
} drystage_circuits_msg;

static inline void drystage_put_circuits(uint8_t *p, const drystage_circuits_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    drystage_put_u16(&p[4], m->open);
    drystage_put_u16(&p[6], m->shorted);
}

static inline void drystage_get_circuits(const uint8_t *p, drystage_circuits_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->open = drystage_get_u16(&p[4]);
    m->shorted = drystage_get_u16(&p[6]);
}

/* MAG, host to board. One sample of the magnetometer, in the part's own axes. */
typedef struct drystage_mag_msg {
    uint32_t time; /* us; since the run began */
    int32_t field_x; /* nT; magnetic flux density */
    int32_t field_y; /* nT; magnetic flux density */
    int32_t field_z; /* nT; magnetic flux density */
} drystage_mag_msg;

static inline void drystage_put_mag(uint8_t *p, const drystage_mag_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    drystage_put_i32(&p[4], m->field_x);
    drystage_put_i32(&p[8], m->field_y);
    drystage_put_i32(&p[12], m->field_z);
}

static inline void drystage_get_mag(const uint8_t *p, drystage_mag_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->field_x = drystage_get_i32(&p[4]);
    m->field_y = drystage_get_i32(&p[8]);
    m->field_z = drystage_get_i32(&p[12]);
}

/* TICK, host to board. All samples up to this time have been sent. In lockstep the board goes on to it, sends what it does, and answers DONE. */
typedef struct drystage_tick_msg {
    uint32_t time; /* us; what the board's clock now reads */
} drystage_tick_msg;

static inline void drystage_put_tick(uint8_t *p, const drystage_tick_msg *m)
{
    drystage_put_u32(&p[0], m->time);
}

static inline void drystage_get_tick(const uint8_t *p, drystage_tick_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
}

/* SYNC, host to board. Asks for the board's clock, in real time. The board answers SYNCED at once. */
typedef struct drystage_sync_msg {
    uint32_t time; /* us; the host's; SYNCED echoes it */
} drystage_sync_msg;

static inline void drystage_put_sync(uint8_t *p, const drystage_sync_msg *m)
{
    drystage_put_u32(&p[0], m->time);
}

static inline void drystage_get_sync(const uint8_t *p, drystage_sync_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
}

/* RESTART, host to board. The supply fails: all outputs off, memory lost but for what survives a power cut, silent until HELLO. */
typedef struct drystage_restart_msg {
    uint32_t nonce; /* any number */
} drystage_restart_msg;

static inline void drystage_put_restart(uint8_t *p, const drystage_restart_msg *m)
{
    drystage_put_u32(&p[0], m->nonce);
}

static inline void drystage_get_restart(const uint8_t *p, drystage_restart_msg *m)
{
    m->nonce = drystage_get_u32(&p[0]);
}

/* BYE, host to board. The run is over: all outputs off and disarmed. */

/* TEST, host to board. Asks for one short pulse of one output, to measure the bench itself. The board answers TESTED, and obeys only on the ground, unarmed and new. */
typedef struct drystage_test_msg {
    uint32_t nonce; /* any number; TESTED echoes it */
    uint32_t guard; /* HELLO's nonce, exclusive-or 0x9A7C5EED */
    uint8_t channel; /* from 1 */
    uint16_t length; /* ms; how long it is on, 1 to 500; the board's own clock ends it */
} drystage_test_msg;

static inline void drystage_put_test(uint8_t *p, const drystage_test_msg *m)
{
    drystage_put_u32(&p[0], m->nonce);
    drystage_put_u32(&p[4], m->guard);
    p[8] = m->channel;
    drystage_put_u16(&p[9], m->length);
}

static inline void drystage_get_test(const uint8_t *p, drystage_test_msg *m)
{
    m->nonce = drystage_get_u32(&p[0]);
    m->guard = drystage_get_u32(&p[4]);
    m->channel = p[8];
    m->length = drystage_get_u16(&p[9]);
}

/* WELCOME, board to host. Answers HELLO. Sent unasked, it says that the board has restarted. */
typedef struct drystage_welcome_msg {
    uint8_t version; /* of the contract */
    uint16_t capabilities; /* bit 0 lockstep, 1 real time, 2 RESTART, 3 SETTING, 4 CONTINUITY, 5 COMMAND, 6 TEST, 7 CIRCUITS, 8 MAG */
    uint8_t channels; /* outputs, at most 16 */
    uint32_t nonce; /* of the HELLO; 0 when unasked */
    uint16_t boots; /* how often the board has started, modulo 65536 */
    char name[17]; /* of the firmware */
} drystage_welcome_msg;

static inline void drystage_put_welcome(uint8_t *p, const drystage_welcome_msg *m)
{
    p[0] = m->version;
    drystage_put_u16(&p[1], m->capabilities);
    p[3] = m->channels;
    drystage_put_u32(&p[4], m->nonce);
    drystage_put_u16(&p[8], m->boots);
    drystage_put_text(&p[10], m->name, 16u);
}

static inline void drystage_get_welcome(const uint8_t *p, drystage_welcome_msg *m)
{
    m->version = p[0];
    m->capabilities = drystage_get_u16(&p[1]);
    m->channels = p[3];
    m->nonce = drystage_get_u32(&p[4]);
    m->boots = drystage_get_u16(&p[8]);
    drystage_get_text(&p[10], m->name, 16u);
}

/* ACCEPT, board to host. Answers SETTING. */
typedef struct drystage_accept_msg {
    char name[25]; /* of the setting */
    int32_t value; /* 0.001; what it now is, in SI units */
    uint8_t known; /* 1: the board has this setting; 0: it has not */
} drystage_accept_msg;

static inline void drystage_put_accept(uint8_t *p, const drystage_accept_msg *m)
{
    drystage_put_text(&p[0], m->name, 24u);
    drystage_put_i32(&p[24], m->value);
    p[28] = m->known;
}

static inline void drystage_get_accept(const uint8_t *p, drystage_accept_msg *m)
{
    drystage_get_text(&p[0], m->name, 24u);
    m->value = drystage_get_i32(&p[24]);
    m->known = p[28];
}

/* OUTPUT, board to host. An output has switched. */
typedef struct drystage_output_msg {
    uint32_t time; /* us; since the run began */
    uint8_t channel; /* from 1 */
    uint8_t on; /* 1 on, 0 off */
} drystage_output_msg;

static inline void drystage_put_output(uint8_t *p, const drystage_output_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    p[4] = m->channel;
    p[5] = m->on;
}

static inline void drystage_get_output(const uint8_t *p, drystage_output_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->channel = p[4];
    m->on = p[5];
}

/* REPORT, board to host. What the board thinks. */
typedef struct drystage_report_msg {
    uint32_t time; /* us; since the run began */
    char phase[17]; /* the board's own word for the phase of flight */
    int32_t height; /* mm; above the pad */
    int32_t speed; /* mm/s; upwards */
    int32_t apogee; /* mm; greatest height so far, above the pad */
} drystage_report_msg;

static inline void drystage_put_report(uint8_t *p, const drystage_report_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    drystage_put_text(&p[4], m->phase, 16u);
    drystage_put_i32(&p[20], m->height);
    drystage_put_i32(&p[24], m->speed);
    drystage_put_i32(&p[28], m->apogee);
}

static inline void drystage_get_report(const uint8_t *p, drystage_report_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    drystage_get_text(&p[4], m->phase, 16u);
    m->height = drystage_get_i32(&p[20]);
    m->speed = drystage_get_i32(&p[24]);
    m->apogee = drystage_get_i32(&p[28]);
}

/* CONTINUITY, board to host. A measured resistance at an output. */
typedef struct drystage_continuity_msg {
    uint32_t time; /* us; since the run began */
    uint8_t channel; /* from 1 */
    uint32_t resistance; /* mOhm; 4294967295: open */
} drystage_continuity_msg;

static inline void drystage_put_continuity(uint8_t *p, const drystage_continuity_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    p[4] = m->channel;
    drystage_put_u32(&p[5], m->resistance);
}

static inline void drystage_get_continuity(const uint8_t *p, drystage_continuity_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->channel = p[4];
    m->resistance = drystage_get_u32(&p[5]);
}

/* LOG, board to host. A line of text for people. */
typedef struct drystage_log_msg {
    uint32_t time; /* us; since the run began */
    /* text: a tail, behind the fields above */ /* without an end of line */
} drystage_log_msg;

static inline void drystage_put_log(uint8_t *p, const drystage_log_msg *m)
{
    drystage_put_u32(&p[0], m->time);
}

static inline void drystage_get_log(const uint8_t *p, drystage_log_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
}

/* DONE, board to host. Answers TICK, after everything that the board did up to it. */
typedef struct drystage_done_msg {
    uint32_t time; /* us; of the TICK */
    uint8_t armed; /* 1: outputs may switch on */
    uint16_t outputs; /* bit c-1: channel c is on */
    uint16_t bad; /* corrupt frames received since it started; stays at 65535 */
    uint16_t lost; /* missing frames since it started; stays at 65535 */
} drystage_done_msg;

static inline void drystage_put_done(uint8_t *p, const drystage_done_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    p[4] = m->armed;
    drystage_put_u16(&p[5], m->outputs);
    drystage_put_u16(&p[7], m->bad);
    drystage_put_u16(&p[9], m->lost);
}

static inline void drystage_get_done(const uint8_t *p, drystage_done_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->armed = p[4];
    m->outputs = drystage_get_u16(&p[5]);
    m->bad = drystage_get_u16(&p[7]);
    m->lost = drystage_get_u16(&p[9]);
}

/* SYNCED, board to host. Answers SYNC. */
typedef struct drystage_synced_msg {
    uint32_t time; /* us; of the SYNC */
    uint32_t board_time; /* us; the board's clock when SYNC came */
} drystage_synced_msg;

static inline void drystage_put_synced(uint8_t *p, const drystage_synced_msg *m)
{
    drystage_put_u32(&p[0], m->time);
    drystage_put_u32(&p[4], m->board_time);
}

static inline void drystage_get_synced(const uint8_t *p, drystage_synced_msg *m)
{
    m->time = drystage_get_u32(&p[0]);
    m->board_time = drystage_get_u32(&p[4]);
}

/* TESTED, board to host. Answers TEST. */
typedef struct drystage_tested_msg {
    uint32_t nonce; /* of the TEST */
    uint8_t channel; /* of the TEST */
    uint8_t refused; /* 0 obeyed; 1 wrong guard word; 2 not in real time; 3 armed; 4 a sample or command has come since power-up, or a flight is remembered; 5 no such channel or length; 6 an output is on; 7 another reason */
} drystage_tested_msg;

static inline void drystage_put_tested(uint8_t *p, const drystage_tested_msg *m)
{
    drystage_put_u32(&p[0], m->nonce);
    p[4] = m->channel;
    p[5] = m->refused;
}

static inline void drystage_get_tested(const uint8_t *p, drystage_tested_msg *m)
{
    m->nonce = drystage_get_u32(&p[0]);
    m->channel = p[4];
    m->refused = p[5];
}

/* The bytes that the payload of a message to a board has; -1: no such message. */
static inline int drystage_host_size(uint8_t code)
{
    int size;
    switch (code) {
    case DRYSTAGE_HELLO: size = (int)DRYSTAGE_HELLO_SIZE; break;
    case DRYSTAGE_SETTING: size = (int)DRYSTAGE_SETTING_SIZE; break;
    case DRYSTAGE_IMU: size = (int)DRYSTAGE_IMU_SIZE; break;
    case DRYSTAGE_BARO: size = (int)DRYSTAGE_BARO_SIZE; break;
    case DRYSTAGE_GNSS: size = (int)DRYSTAGE_GNSS_SIZE; break;
    case DRYSTAGE_BATTERY: size = (int)DRYSTAGE_BATTERY_SIZE; break;
    case DRYSTAGE_COMMAND: size = (int)DRYSTAGE_COMMAND_SIZE; break;
    case DRYSTAGE_CIRCUITS: size = (int)DRYSTAGE_CIRCUITS_SIZE; break;
    case DRYSTAGE_MAG: size = (int)DRYSTAGE_MAG_SIZE; break;
    case DRYSTAGE_TICK: size = (int)DRYSTAGE_TICK_SIZE; break;
    case DRYSTAGE_SYNC: size = (int)DRYSTAGE_SYNC_SIZE; break;
    case DRYSTAGE_RESTART: size = (int)DRYSTAGE_RESTART_SIZE; break;
    case DRYSTAGE_BYE: size = (int)DRYSTAGE_BYE_SIZE; break;
    case DRYSTAGE_TEST: size = (int)DRYSTAGE_TEST_SIZE; break;
    default: size = -1; break;
    }
    return size;
}

#endif

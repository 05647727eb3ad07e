#include "board.h"

#include <string.h>

#define PATIENCE 5000000u /* us without a byte, after which the cable counts as unplugged */

static drystage line;
static flight board;
static flight_memory *memory;
static uint32_t heard; /* us, when the last byte came */
static int joining;    /* the first bytes may be the rest of a frame */
static uint8_t tested; /* the output that TEST has switched on; 0: none */
static uint32_t ends;  /* us by the port's clock, when it goes off */

static int on_write(void *user, const uint8_t *bytes, size_t count) { (void)user; return port_write(bytes, count); }

static void on_off(void *user)
{
    (void)user;
    tested = 0u;
    if (board.line != NULL) {
        flight_off(&board);
    }
}

static void on_begin(void *user, const drystage_hello_msg *run) { (void)user; flight_begin(&board, memory, &line, run); }

static int on_tick(void *user, uint32_t time)
{
    (void)user;
    if (!line.real_time) {
        flight_tick(&board, time);
    }
    return 1;
}

static void on_restart(void *user)
{
    (void)user;
    port_restart();
    (void)memset(&board, 0, sizeof board);
}

static uint32_t on_clock(void *user) { (void)user; return port_clock(); }
static void on_end(void *user) { (void)user; (void)memset(memory, 0, sizeof *memory); }
static int on_setting(void *user, const char *name, int32_t *value) { (void)user; return flight_setting(&board, name, value); }
static void on_command(void *user, const drystage_command_msg *m) { (void)user; flight_command(&board, m); }
static void on_imu(void *user, const drystage_imu_msg *m) { (void)user; flight_imu(&board, m); }
static void on_baro(void *user, const drystage_baro_msg *m) { (void)user; flight_baro(&board, m); }

static void on_circuits(void *user, const drystage_circuits_msg *m) { (void)user; flight_circuits(&board, m); }

/* The memory may hold a flight that is going on. */
static uint8_t on_test(void *user, uint8_t channel, uint16_t length)
{
    (void)user;
    if (board.mem->armed || (board.mem->phase != PHASE_STANDING)) {
        return DRYSTAGE_TEST_TOUCHED;
    }
    ends = port_clock() + ((uint32_t)length * 1000u);
    tested = channel;
    flight_switch(&board, channel, 1);
    return DRYSTAGE_TEST_OBEYED;
}

static const drystage_config config = {
    .name = port_name, .channels = DRYSTAGE_MAX_CHANNELS, .write = on_write, .off = on_off, .begin = on_begin,
    .tick = on_tick, .clock = on_clock, .restart = on_restart, .end = on_end, .setting = on_setting, .command = on_command,
    .test = on_test, .imu = on_imu, .baro = on_baro, .circuits = on_circuits,
};

int board_start(flight_memory *kept, uint16_t boots)
{
    memory = kept;
    heard = port_clock();
    return drystage_start(&line, &config, boots);
}

void board_join(void) { joining = 1; }

void board_announce(void) { (void)drystage_announce(&line); }

/* Silence ends pulses when the next bytes come, too: a process may not have run until then. */
static void end_by_silence(void)
{
    if (port_clock() - heard >= PATIENCE) {
        on_off(NULL);
    }
}

void board_feed(const uint8_t *bytes, size_t count)
{
    size_t i;
    end_by_silence();
    for (i = 0u; i < count; i++) {
        if (!joining) {
            (void)drystage_feed(&line, bytes[i]);
        }
        joining = joining && (bytes[i] != 0u);
    }
    heard = port_clock();
}

int board_by_clock(void) { return line.running && line.real_time; }

void board_pass(void)
{
    end_by_silence();
    if (tested != 0u) { /* the logic doesn't run meanwhile: it would end a pulse that isn't its own */
        if ((port_clock() - ends) < 0x80000000u) {
            on_off(NULL);
        }
    } else if (board_by_clock()) {
        flight_pass(&board, drystage_now(&line));
    }
}

/* The reference firmware as a process: standard input and output are its line. Its non-volatile memory
 * lives as long as the process, so a RESTART is a cut of the supply. */
#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#include "flight.h"

#define PATIENCE 5000u /* ms without a byte: the cable is out */
#define BEAT 5         /* ms, in real time the logic runs at least as often */

static drystage line;
static flight board;
static flight_memory memory;

static int on_write(void *user, const uint8_t *bytes, size_t count)
{
    (void)user;
    while (count > 0u) {
        ssize_t n = write(STDOUT_FILENO, bytes, count);
        if (n <= 0) {
            return -1;
        }
        bytes += n;
        count -= (size_t)n;
    }
    return 0;
}

static void on_off(void *user)
{
    (void)user;
    if (board.line != NULL) {
        flight_off(&board);
    }
}

static void on_begin(void *user, const drystage_hello_msg *run) { (void)user; flight_begin(&board, &memory, &line, run); }

static int on_tick(void *user, uint32_t time)
{
    (void)user;
    if (!line.real_time) {
        flight_tick(&board, time);
    }
    return 1;
}

static void on_restart(void *user) { (void)user; (void)memset(&board, 0, sizeof board); }
static void on_end(void *user) { (void)user; (void)memset(&memory, 0, sizeof memory); }
static int on_setting(void *user, const char *name, int32_t *value) { (void)user; return flight_setting(&board, name, value); }
static void on_command(void *user, const drystage_command_msg *m) { (void)user; flight_command(&board, m); }
static void on_imu(void *user, const drystage_imu_msg *m) { (void)user; flight_imu(&board, m); }
static void on_baro(void *user, const drystage_baro_msg *m) { (void)user; flight_baro(&board, m); }

static uint64_t microseconds(void)
{
    struct timespec t;
    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return ((uint64_t)t.tv_sec * 1000000u) + ((uint64_t)t.tv_nsec / 1000u);
}

static uint32_t on_clock(void *user) { (void)user; return (uint32_t)microseconds(); }

static const drystage_config config = {
    .name = "reference", .channels = DRYSTAGE_MAX_CHANNELS, .write = on_write, .off = on_off, .begin = on_begin,
    .tick = on_tick, .clock = on_clock, .restart = on_restart, .end = on_end, .setting = on_setting, .command = on_command, .imu = on_imu,
    .baro = on_baro,
};

int main(void)
{
    struct pollfd in = {.fd = STDIN_FILENO, .events = POLLIN};
    uint8_t bytes[256];
    uint64_t heard = 0u;
    if (drystage_start(&line, &config, 1u) != DRYSTAGE_OK) {
        return EXIT_FAILURE;
    }
    for (;;) {
        int flies = line.running && line.real_time;
        int some = poll(&in, 1u, flies ? BEAT : (int)PATIENCE);
        ssize_t n = (some > 0) ? read(STDIN_FILENO, bytes, sizeof bytes) : 0;
        ssize_t i;
        if ((some < 0) || ((some > 0) && (n <= 0))) {
            return EXIT_SUCCESS;
        }
        for (i = 0; i < n; i++) {
            (void)drystage_feed(&line, bytes[i]);
        }
        if (n > 0) {
            heard = microseconds();
        } else if (microseconds() - heard >= 1000u * PATIENCE) {
            on_off(NULL);
        } else {
            /* the line is only between two frames */
        }
        if (line.running && line.real_time) {
            flight_pass(&board, drystage_now(&line));
        }
    }
}

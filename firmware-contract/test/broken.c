/* A short run with every byte left out, flipped, made zero or followed by another in turn, and cut off
 * there for good; and with the n-th write failing. No message that the host did not send may ever be
 * acted on, and what the damage does not touch must be. */
#include "host.h"

#define TICKS 6u

static drystage d;
static uint32_t last_tick;
static unsigned int ticks;
static unsigned int wrong;
static unsigned int begun;
static unsigned long writes;
static unsigned long failing; /* the write that fails; 0: none */

static int on_write(void *user, const uint8_t *bytes, size_t count)
{
    writes++;
    return (writes == failing) ? -1 : check_write(user, bytes, count);
}

static void on_off(void *user) { (void)user; (void)drystage_output(&d, 1u, 0u); }
static void on_begin(void *user, const drystage_hello_msg *m) { (void)user; begun += (m->nonce == 4711u); wrong += (m->nonce != 4711u); }

static int on_tick(void *user, uint32_t time)
{
    (void)user;
    wrong += (time < last_tick) || (time % 5000u != 0u) || (time > TICKS * 5000u);
    last_tick = time;
    ticks++;
    (void)drystage_output(&d, 1u, (uint8_t)(ticks & 1u));
    return 1;
}

static void on_imu(void *user, const drystage_imu_msg *m)
{
    (void)user;
    wrong += (m->time % 5000u != 0u) || (m->accel_x != -9807) || (m->gyro_z != 123456) || (m->has != 3u);
}

static void on_command(void *user, const drystage_command_msg *m) { (void)user; wrong += (m->command != DRYSTAGE_ARM); }

static const drystage_config config = {.name = "broken", .channels = 1u, .write = on_write, .off = on_off, .begin = on_begin,
    .tick = on_tick, .command = on_command, .imu = on_imu};

static void start(void)
{
    CHECK(drystage_start(&d, &config, 0u) == DRYSTAGE_OK, "start");
    sent_count = 0u;
    last_tick = 0u;
    ticks = 0u;
    begun = 0u;
    writes = 0u;
}

/* The run's bytes: HELLO, ARM, then a sample and a TICK for each instant. */
static size_t run(uint8_t *line)
{
    uint8_t p[DRYSTAGE_MAX_FRAME];
    drystage_hello_msg h = {.version = 1u, .nonce = 4711u, .role = "sustainer"};
    drystage_command_msg c = {.command = DRYSTAGE_ARM};
    drystage_imu_msg m = {.has = 3u, .accel_x = -9807, .gyro_z = 123456};
    size_t n;
    uint32_t t;
    host_seq = 0u;
    drystage_put_hello(p, &h);
    n = host_frame(line, DRYSTAGE_HELLO, p, DRYSTAGE_HELLO_SIZE);
    drystage_put_command(p, &c);
    n += host_frame(&line[n], DRYSTAGE_COMMAND, p, DRYSTAGE_COMMAND_SIZE);
    for (t = 1u; t <= TICKS; t++) {
        m.time = t * 5000u;
        drystage_put_imu(p, &m);
        n += host_frame(&line[n], DRYSTAGE_IMU, p, DRYSTAGE_IMU_SIZE);
        drystage_put_u32(p, m.time);
        n += host_frame(&line[n], DRYSTAGE_TICK, p, DRYSTAGE_TICK_SIZE);
    }
    return n;
}

static void feed(const uint8_t *bytes, size_t n)
{
    size_t i;
    for (i = 0u; i < n; i++) {
        (void)drystage_feed(&d, bytes[i]);
    }
}

static void corrupt(const uint8_t *whole, size_t n, size_t at, unsigned int how)
{
    uint8_t byte = whole[at];
    start();
    feed(whole, at);
    if (how < 8u) {
        byte = (uint8_t)(byte ^ (1u << how));
        feed(&byte, 1u);
    } else if (how == 8u) {
        byte = 0u;
        feed(&byte, 1u);
    } else if (how == 9u) {
        feed(&byte, 1u);
        byte = 0x55u;
        feed(&byte, 1u);
    } else {
        /* left out */
    }
    feed(&whole[at + 1u], n - at - 1u);
    CHECK(wrong == 0u, "nothing is acted on that was not sent");
    if (begun != 0u) {
        CHECK(ticks >= TICKS - 1u, "one byte costs one frame, or two where frames touch");
        CHECK((ticks == TICKS) || (d.bad > 0u) || (d.lost > 0u) || (d.count > 0u), "and it is noticed");
    } else {
        CHECK((ticks == 0u) && (d.bad > 0u), "without HELLO nothing happens");
    }
}

int main(void)
{
    uint8_t line[1024];
    size_t n = run(line);
    size_t at;
    unsigned int how;
    unsigned int want;
    start();
    feed(line, n);
    CHECK((ticks == TICKS) && (begun == 1u) && (d.bad == 0u) && (d.lost == 0u) && (wrong == 0u), "undamaged");
    for (at = 0u; at < n; at++) {
        for (how = 0u; how <= 10u; how++) {
            corrupt(line, n, at, how);
        }
        start(); /* cut off for good */
        feed(line, at);
        CHECK((wrong == 0u) && (d.bad == 0u) && (d.lost == 0u), "a cut is no damage");
    }
    for (want = 1u; want < 64u; want++) { /* every write fails once */
        start();
        failing = want;
        feed(line, n);
        CHECK((ticks == TICKS) && (begun == 1u) && (wrong == 0u), "a failed write changes nothing else");
        CHECK(drystage_first_error(&d) == ((writes >= want) ? DRYSTAGE_ERR_WRITE : DRYSTAGE_OK), "and is kept");
        if (writes < want) {
            break;
        }
    }
    CHECK(want == 14u, "WELCOME, then an edge and DONE of each TICK");
    return check_end("broken");
}

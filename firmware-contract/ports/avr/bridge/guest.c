#include "guest.h"

#include <errno.h>
#include <poll.h>
#include <simavr/avr_eeprom.h>
#include <simavr/sim_core.h>
#include <simavr/sim_cycle_timers.h>
#include <simavr/sim_interrupts.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "drystage.h"
#include "flash.h"

#define SILENCE_MS 5000 /* the host says nothing: the supply goes */
#define MISSED 3u       /* periods without a sample, after which a part doesn't answer */

static avr_t *chip;
static wiring *wires;
static int out_fd;
static drystage bench;
static int resets;              /* of the chip, that nobody asked for */
static int powered;
static int hangs;               /* the chip can't go on by itself */
static uint32_t base_us;        /* the run's time at base_cycle */
static avr_cycle_count_t base_cycle;
static avr_cycle_count_t until;
static avr_eeprom_desc_t memory; /* the EEPROM as the firmware's file has it */
static uint8_t bytes_out[65536];
static size_t out_count;

static struct stream { /* of samples */
    uint32_t period; /* us; 0: there are none */
    uint32_t last;
    int fresh;
} imu, baro, mag;
static drystage_imu_msg imu_now;
static drystage_baro_msg baro_now;
static drystage_mag_msg mag_now;

static void flush(void)
{
    size_t done = 0u;
    while (done < out_count) {
        ssize_t n = write(out_fd, &bytes_out[done], out_count - done);
        if ((n < 0) && (errno == EINTR)) {
            continue;
        }
        if (n <= 0) {
            exit(EXIT_SUCCESS); /* the host is gone */
        }
        done += (size_t)n;
    }
    out_count = 0u;
}

static int put(void *user, const uint8_t *bytes, size_t count)
{
    (void)user;
    if (out_count + count > sizeof bytes_out) {
        flush();
    }
    (void)memcpy(&bytes_out[out_count], bytes, count);
    out_count += count;
    return 0;
}

/* ---- the chip ---- */

static uint32_t us_of(avr_cycle_count_t cycle) { return base_us + (uint32_t)((cycle - base_cycle) / (chip->frequency / 1000000u)); }

/* The library stamps with its clock, which is the present TICK's; the edge was before that. */
void guest_edge(uint8_t channel, uint8_t on)
{
    uint32_t now = bench.now;
    if (powered) {
        bench.now = us_of(chip->cycle);
    }
    (void)drystage_output(&bench, channel, on);
    bench.now = now;
}

/* A cycle timer at the end of a run: the library runs instructions without looking around until its next timer. */
static int stop_is_set;

static avr_cycle_count_t stop(avr_t *avr, avr_cycle_count_t when, void *param)
{
    (void)avr;
    (void)when;
    (void)param;
    stop_is_set = 0;
    return 0u;
}

/* As the library's, but it stops at a cycle, and a chip that sleeps for ever or has crashed is only a chip that does
 * nothing more. Where instructions are counted, the library runs one at a time. */
static void run_exactly(avr_t *avr)
{
    avr_flashaddr_t pc = avr->pc;
    avr_cycle_count_t left = until - avr->cycle;
    avr_cycle_count_t wait;
    if (!stop_is_set) {
        avr_cycle_timer_register(avr, left, stop, NULL);
        stop_is_set = 1;
    }
    avr->run_cycle_limit = flash_counts() ? 1u : left;
    if (avr->run_cycle_count > avr->run_cycle_limit) {
        avr->run_cycle_count = avr->run_cycle_limit;
    }
    if (avr->state == cpu_Running) {
        pc = avr_run_one(avr);
        flash_ran(avr->pc, pc);
    }
    wait = avr_cycle_timer_process(avr);
    avr->pc = pc;
    if (avr->state == cpu_Sleeping) {
        if (!avr->sreg[S_I]) {
            hangs = 1;
        }
        if (avr->cycle < until) {
            left = until - avr->cycle;
            avr->cycle += (wait < 1u) ? 1u : ((wait < left) ? wait : left);
        }
    }
    if (avr->interrupt_state != 0) {
        avr_service_interrupts(avr);
    }
}

static void run_to(uint32_t us)
{
    until = base_cycle + ((avr_cycle_count_t)(us - base_us) * (chip->frequency / 1000000u));
    avr_cycle_timer_cancel(chip, stop, NULL);
    stop_is_set = 0;
    while (powered && !hangs && (chip->cycle < until)) {
        run_exactly(chip);
        hangs |= (chip->state == cpu_Crashed) || (chip->state == cpu_Done) || (chip->state == cpu_Stopped);
    }
    if (chip->cycle < until) {
        chip->cycle = until;
    }
}

static void power_off(void)
{
    powered = 0;
    avr_reset(chip);
    wiring_look(wires);
}

static void power_on(uint32_t us)
{
    if (powered) {
        power_off();
    }
    (void)memset(&chip->data[0x200], 0xA5, (size_t)chip->ramend + 1u - 0x200u); /* what a RAM holds after power-up is anything */
    avr_reset(chip);
    avr_regbit_set(chip, chip->reset_flags.porf);
    base_us = us;
    base_cycle = chip->cycle;
    hangs = 0;
    powered = 1;
    resets = 0;
    wiring_power(wires);
}

void guest_reset(void)
{
    stop_is_set = 0; /* a reset clears the library's timers */
    resets += powered;
}

/* ---- the contract ---- */

static void off(void *user)
{
    (void)user;
    power_off();
}

static void stream_of(struct stream *s, uint16_t hz, uint32_t now)
{
    s->period = (hz == 0u) ? 0u : 1000000u / hz;
    s->last = now;
    s->fresh = 0;
}

static void begin(void *user, const drystage_hello_msg *run)
{
    (void)user;
    stream_of(&imu, run->imu_hz, run->time);
    stream_of(&baro, run->baro_hz, run->time);
    stream_of(&mag, 0u, run->time);
    power_on(run->time);
    drystage_armed(&bench, (uint8_t)wiring_switched(wires, 0));
}

static int late(const struct stream *s, uint32_t now) { return (s->period == 0u) || ((now - s->last) > (MISSED * s->period) + (s->period / 2u)); }

/* What a part senses, and the stream of its samples. */
static const struct stream *sensed(const part_kind *kind, part_values *v)
{
    if ((kind == &ms5611_kind) || (kind == &bmp280_kind)) {
        if (baro.fresh) {
            v->pressure = baro_now.pressure;
            v->temperature = baro_now.temperature;
        }
        return &baro;
    }
    if (kind == &mag3110_kind) {
        v->mag[0] = mag_now.field_x;
        v->mag[1] = mag_now.field_y;
        v->mag[2] = mag_now.field_z;
        v->temperature = baro_now.temperature;
        return &mag;
    }
    if (imu.fresh && ((imu_now.has & 1u) != 0u)) {
        v->accel[0] = imu_now.accel_x;
        v->accel[1] = imu_now.accel_y;
        v->accel[2] = imu_now.accel_z;
    }
    if (imu.fresh && ((imu_now.has & 2u) != 0u)) {
        v->gyro[0] = imu_now.gyro_x;
        v->gyro[1] = imu_now.gyro_y;
        v->gyro[2] = imu_now.gyro_z;
    }
    return &imu;
}

/* The parts sense what has come with this TICK from now on. A half of an IMU whose samples don't come keeps its last
 * value, since the other half still works. */
static void sense(uint32_t now)
{
    int i;
    for (i = 0; i < wires->part_count; i++) {
        wired_part *p = &wires->parts[i];
        p->lost = (uint8_t)late(sensed(p->any.p.kind, &p->any.p.values), now);
    }
    imu.fresh = 0;
    baro.fresh = 0;
    wiring_faults(wires, now / 1000u);
    wiring_follow(wires);
}

static int tick(void *user, uint32_t time)
{
    (void)user;
    run_to(time);
    sense(time);
    if (resets > 0) {
        resets = 0;
        (void)drystage_log(&bench, "the chip has reset itself");
    }
    drystage_armed(&bench, (uint8_t)wiring_switched(wires, 0));
    return 1;
}

static void on_imu(void *user, const drystage_imu_msg *m)
{
    (void)user;
    imu_now = *m;
    imu.last = m->time;
    imu.fresh = 1;
}

static void on_baro(void *user, const drystage_baro_msg *m)
{
    (void)user;
    baro_now = *m;
    baro.last = m->time;
    baro.fresh = 1;
}

/* HELLO says no rate: it is the time from one sample to the next. */
static void on_mag(void *user, const drystage_mag_msg *m)
{
    (void)user;
    mag_now = *m;
    mag.period = m->time - mag.last;
    mag.last = m->time;
}

static void on_gnss(void *user, const drystage_gnss_msg *m)
{
    gnss_fix f = {m->time / 1000u, m->latitude, m->longitude, m->height, m->east, m->north, m->fix, m->satellites};
    (void)user;
    wiring_fix(wires, &f);
}

static void on_battery(void *user, const drystage_battery_msg *m)
{
    (void)user;
    wiring_battery(wires, m->voltage);
}

static void on_circuits(void *user, const drystage_circuits_msg *m)
{
    (void)user;
    wiring_circuits(wires, m->open, m->shorted);
}

static void on_command(void *user, const drystage_command_msg *m)
{
    (void)user;
    if (m->command == DRYSTAGE_STAGE) {
        wiring_switch(wires, 1, 1);
    } else {
        wiring_switch(wires, 0, m->command == DRYSTAGE_ARM);
    }
    drystage_armed(&bench, (uint8_t)wiring_switched(wires, 0));
}

/* What the firmware is built with is kept; another value is answered with that. */
static int on_setting(void *user, const char *name, int32_t *value)
{
    (void)user;
    return wiring_setting(wires, name, value);
}

static void restart(void *user)
{
    (void)user;
    power_off();
}

/* The next run is another board's. */
static void end(void *user)
{
    (void)user;
    power_off();
    wiring_switch(wires, 0, 0);
    wiring_switch(wires, 1, 0);
    (void)avr_ioctl(chip, AVR_IOCTL_EEPROM_SET, &memory);
}

static void remember_eeprom(void)
{
    memory.offset = 0u;
    memory.size = (uint32_t)chip->e2end + 1u;
    memory.ee = malloc(memory.size);
    if (memory.ee == NULL) {
        exit(EXIT_FAILURE);
    }
    (void)avr_ioctl(chip, AVR_IOCTL_EEPROM_GET, &memory); /* it gives -1 although it has copied */
}

void guest_serve(avr_t *avr, wiring *w, int in, int out)
{
    static drystage_config config = {.name = "unaware-avr", .write = put, .off = off, .begin = begin, .tick = tick, .restart = restart,
        .end = end, .setting = on_setting, .command = on_command, .imu = on_imu, .baro = on_baro, .mag = on_mag, .gnss = on_gnss, .battery = on_battery, .circuits = on_circuits};
    chip = avr;
    wires = w;
    out_fd = out;
    config.channels = w->channels;
    remember_eeprom();
    (void)drystage_start(&bench, &config, 1u);
    power_off();
    for (;;) {
        uint8_t bytes[4096];
        struct pollfd p = {.fd = in, .events = POLLIN};
        ssize_t n;
        ssize_t i;
        flush();
        if (poll(&p, 1u, SILENCE_MS) == 0) {
            power_off();
        }
        n = read(in, bytes, sizeof bytes);
        if ((n < 0) && (errno == EINTR)) {
            continue;
        }
        if (n <= 0) {
            exit(EXIT_SUCCESS);
        }
        for (i = 0; i < n; i++) {
            (void)drystage_feed(&bench, bytes[i]);
        }
    }
}

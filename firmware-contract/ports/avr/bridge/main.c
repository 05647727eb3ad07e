/* An emulated AVR as a board: USART 0 is standard input and output, or a unix socket.
 *
 *     bridge [options] FIRMWARE.elf
 *
 * In lockstep, which is the rule, the chip's time stands still while the chip sleeps (or has been quiet for
 * 20 ms) and the host has sent nothing: the host may think as long as it likes, and a flight takes the same
 * cycles each time. When the host thinks for more than a second, time catches up and follows the clock on the
 * wall, so that a firmware which waits for a cable sees the silence. With --real-time it always does.
 *
 * With --wire the firmware doesn't speak the contract: see guest.h. Each says one wire: see wiring.h.
 *
 * With --wire, --counts writes what was executed; --flip turns the condition of a branch around: see flash.h.
 *
 * --pins writes each edge of a driven pin: its cycle, cycles since the last byte came in, bytes that had
 * come in, bytes that had gone out, the pin (A0 is bit 0 of port A), its level. */
#include <errno.h>
#include <getopt.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <time.h>
#include <unistd.h>

#include "board.h"
#include "flash.h"
#include "guest.h"
#include "wiring.h"

#include <simavr/sim_core.h>
#include <simavr/sim_cycle_timers.h>
#include <simavr/sim_elf.h>
#include <simavr/sim_interrupts.h>

#define THINK 1000   /* ms that the host may take before time goes on without it */
#define SLICE 1      /* ms of the wall's time at once */
#define QUIET_MS 20u /* of the chip's time, without a byte */
#define BEHIND 200u  /* ms that a slow emulator may lag before it stops catching up */

static usart line;
static int in = STDIN_FILENO;
static int out = STDOUT_FILENO;
static int server = -1;
static uint8_t gathered[4096]; /* for the host */
static size_t gathered_count;
static avr_cycle_count_t until; /* where the current run ends */
static int holds;               /* lockstep: the time of a sleeping chip stands still */
static volatile sig_atomic_t brown_out;

static void die(const char *what)
{
    (void)fprintf(stderr, "bridge: %s\n", what);
    exit(EXIT_FAILURE);
}

static void flush(void)
{
    size_t done = 0u;
    while (done < gathered_count) {
        ssize_t n = write(out, &gathered[done], gathered_count - done);
        if ((n < 0) && (errno == EINTR)) {
            continue;
        }
        if (n <= 0) {
            break; /* the host is gone; the board's output is lost */
        }
        done += (size_t)n;
    }
    gathered_count = 0u;
}

static void on_sent(void *user, uint8_t byte)
{
    (void)user;
    gathered[gathered_count] = byte;
    gathered_count++;
    if ((byte == 0u) || (gathered_count == sizeof gathered)) {
        flush();
    }
}

static int rests(const avr_t *avr)
{
    return usart_idle(&line)
        && ((avr->state == cpu_Sleeping) || (avr->cycle - line.active > (avr_cycle_count_t)avr->frequency / 1000u * QUIET_MS));
}

/* The library's own sleep goes to the next timer even beyond the end of a run. */
static void run_exactly(avr_t *avr)
{
    avr_flashaddr_t pc = avr->pc;
    avr_cycle_count_t wait;
    if (avr->state == cpu_Running) {
        pc = avr_run_one(avr);
    }
    wait = avr_cycle_timer_process(avr);
    avr->pc = pc;
    if (avr->state == cpu_Sleeping) {
        if (!avr->sreg[S_I]) {
            die("the firmware sleeps with interrupts off, for ever");
        }
        if (!(holds && rests(avr)) && (avr->cycle < until)) {
            avr_cycle_count_t left = until - avr->cycle;
            avr->cycle += (wait < 1u) ? 1u : ((wait < left) ? wait : left);
        }
    }
    if (avr->interrupt_state != 0) {
        avr_service_interrupts(avr);
    }
}

static void run(avr_t *avr, avr_cycle_count_t to)
{
    until = to;
    while ((avr->cycle < until) && !(holds && rests(avr))) {
        avr->run(avr);
        if ((avr->state == cpu_Crashed) || (avr->state == cpu_Done)) {
            die("the firmware has crashed");
        }
    }
}

/* Takes what the host sends within some ms. 0: nothing. */
static int listen_to_host(int ms)
{
    struct pollfd p = {.fd = in, .events = POLLIN};
    uint8_t bytes[4096];
    size_t room = usart_room(&line);
    ssize_t n;
    if (poll(&p, (room > 0u) ? 1u : 0u, ms) <= 0) {
        return 0;
    }
    n = read(in, bytes, (room < sizeof bytes) ? room : sizeof bytes);
    if ((n < 0) && (errno == EINTR)) {
        return 0;
    }
    if (n <= 0) {
        if (server < 0) {
            exit(EXIT_SUCCESS);
        }
        (void)close(in);
        in = accept(server, NULL, NULL); /* the board's state stays: a new connection is made */
        if (in < 0) {
            die("no more connections");
        }
        out = in;
        return 1;
    }
    usart_bring(&line, bytes, (uint32_t)n);
    return 1;
}

static uint64_t wall(void) /* us */
{
    struct timespec t;
    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return ((uint64_t)t.tv_sec * 1000000u) + ((uint64_t)t.tv_nsec / 1000u);
}

/* SIGUSR1: the supply dips, and the brown-out detector resets the chip. */
static int dips(avr_t *avr)
{
    if (!brown_out) {
        return 0;
    }
    brown_out = 0;
    avr_reset(avr);
    pins_look();
    avr_regbit_set(avr, avr->reset_flags.borf);
    return 1;
}

/* Time follows the wall clock; in lockstep until the host sends or the supply dips, and the time that the host has
 * already taken counts too. */
static void follow(avr_t *avr, int real_time)
{
    uint64_t per_us = avr->frequency / 1000000u;
    uint64_t from;
    avr_cycle_count_t base;
    int heard;
    holds = 0;
    if (!real_time) {
        run(avr, avr->cycle + (THINK * 1000u * per_us));
    }
    from = wall();
    base = avr->cycle;
    do {
        uint64_t due = base + ((wall() - from) * per_us);
        if (due > avr->cycle + (BEHIND * 1000u * per_us)) {
            base -= due - avr->cycle;
            due = avr->cycle;
        }
        run(avr, due);
        flush();
        heard = listen_to_host(SLICE) | dips(avr);
    } while (real_time || !heard);
    holds = 1;
}

static void lockstep(avr_t *avr)
{
    holds = 1;
    for (;;) {
        run(avr, UINT64_MAX);
        flush();
        if (!dips(avr) && !listen_to_host(THINK) && !brown_out) {
            follow(avr, 0);
        }
    }
}

static void on_signal(int number)
{
    (void)number;
    brown_out = 1;
}

static void serve(const char *path)
{
    struct sockaddr_un a = {.sun_family = AF_UNIX};
    if (strlen(path) >= sizeof a.sun_path) {
        die("the socket's path is too long");
    }
    (void)strcpy(a.sun_path, path);
    (void)unlink(path);
    server = socket(AF_UNIX, SOCK_STREAM, 0);
    if ((server < 0) || (bind(server, (struct sockaddr *)&a, sizeof a) < 0) || (listen(server, 1) < 0)) {
        die("can't listen on that socket");
    }
    in = accept(server, NULL, NULL);
    out = in;
}

static avr_t *chip(const char *mcu, uint32_t frequency, const char *file)
{
    elf_firmware_t firmware = {0};
    avr_t *avr;
    if (elf_read_firmware(file, &firmware) != 0) {
        die("can't read the firmware; it is an ELF file made by avr-gcc");
    }
    avr = avr_make_mcu_by_name(mcu);
    if ((avr == NULL) || (avr_init(avr) != 0)) {
        die("the library does not know this --mcu");
    }
    avr_load_firmware(avr, &firmware);
    avr->frequency = frequency;
    avr->log = LOG_ERROR;
    avr->run = run_exactly;
    return avr;
}

static void unheard(void *user, uint8_t byte)
{
    (void)user;
    (void)byte;
}

/* A firmware that doesn't speak the contract; its serial line isn't connected. */
static void unaware(avr_t *avr, wiring *wires)
{
    line.sent = unheard;
    if (!wiring_attach(wires, avr, guest_edge, guest_reset)) {
        die("this chip has no two-wire interface, or no SPI");
    }
    guest_serve(avr, wires, in, out);
}

int main(int argc, char **argv)
{
    static const struct option options[] = {{"mcu", 1, NULL, 'm'}, {"clock", 1, NULL, 'c'}, {"real-time", 0, NULL, 'r'},
        {"listen", 1, NULL, 'l'}, {"pins", 1, NULL, 'p'}, {"wire", 1, NULL, 'w'},
        {"counts", 1, NULL, 'n'}, {"flip", 1, NULL, 'f'}, {NULL, 0, NULL, 0}};
    const char *mcu = "atmega2560";
    const char *path = NULL;
    const char *counts = NULL;
    const char *flip = NULL;
    FILE *pins = NULL;
    uint32_t frequency = 16000000u;
    int real_time = 0;
    int o;
    static wiring wires;
    avr_t *avr;
    while ((o = getopt_long(argc, argv, "", options, NULL)) >= 0) {
        switch (o) {
        case 'm': mcu = optarg; break;
        case 'c': frequency = (uint32_t)strtoul(optarg, NULL, 10); break;
        case 'r': real_time = 1; break;
        case 'l': path = optarg; break;
        case 'p': pins = fopen(optarg, "w"); break;
        case 'n': counts = optarg; break;
        case 'f': flip = optarg; break;
        case 'w':
            if (!wiring_add(&wires, optarg)) {
                (void)fprintf(stderr, "bridge: this isn't a wire, or one too many: %s\n", optarg);
                return EXIT_FAILURE;
            }
            break;
        default: die("usage: bridge [--mcu=NAME] [--clock=HZ] [--real-time] [--listen=SOCKET] [--pins=FILE] [--wire=WORDS ...] [--counts=FILE] [--flip=ADDRESS] FIRMWARE.elf");
        }
    }
    if ((optind + 1 != argc) || (frequency < 1000000u)) {
        die("one firmware is wanted, and a clock of at least 1 MHz");
    }
    out = dup(STDOUT_FILENO); /* the line; what the library prints goes to standard error */
    (void)dup2(STDERR_FILENO, STDOUT_FILENO);
    (void)signal(SIGPIPE, SIG_IGN);
    (void)signal(SIGUSR1, on_signal);
    avr = chip(mcu, frequency, argv[optind]);
    if ((flip != NULL) && !flash_flip(avr, (avr_flashaddr_t)strtoul(flip, NULL, 0))) {
        die("there is no conditional branch at the address of --flip that could be turned around");
    }
    if ((counts != NULL) && !flash_count(avr, counts)) {
        die("can't write the file of --counts");
    }
    line.sent = on_sent;
    if (!usart_attach(&line, avr, '0') || !eeprom_attach(avr)) {
        die("this chip has no USART 0, or no EEPROM");
    }
    if (pins != NULL) {
        (void)setvbuf(pins, NULL, _IOLBF, 0u);
        pins_watch(avr, &line, pins);
    }
    if (wires.part_count + wires.other_count > 0) {
        unaware(avr, &wires);
    }
    if (path != NULL) {
        serve(path);
    }
    if (real_time) {
        follow(avr, 1);
    }
    lockstep(avr);
}

/* drystage: a flight computer's side of the drystage contract. SPEC.md next to this folder defines every
 * byte, README.md shows how to start.
 *
 * For inert benches only: no motor, igniter or charge is connected to the board or near it while it listens
 * to this contract. Its sensors are then messages on a line, and its outputs are live.
 *
 * The library has no memory, pin or clock of its own, and keeps its state only in the caller's struct. It
 * uses no heap and no recursion, and trusts no byte: for any input it calls the functions below with
 * whole messages, or counts the bytes as bad. Call all functions of one struct from one context: an
 * interrupt stores bytes, the main loop feeds them. */
#ifndef DRYSTAGE_H
#define DRYSTAGE_H

#include <stddef.h>
#include <stdint.h>

#include "drystage_messages.h"

#ifdef __cplusplus
extern "C" {
#endif

/* Results of functions. Negative numbers are errors; the first one is kept (drystage_first_error). */
#define DRYSTAGE_OK 0
#define DRYSTAGE_IDLE 1          /* there is no run, so nothing was sent: not an error */
#define DRYSTAGE_FRAME 1         /* from drystage_feed: this byte ended a valid frame */
#define DRYSTAGE_ERR_CONFIG (-1) /* a required function is missing, or more than 16 outputs */
#define DRYSTAGE_ERR_CHANNEL (-2) /* no such output */
#define DRYSTAGE_ERR_WRITE (-3)  /* the user's write failed; the host will miss a frame and see it */
#define DRYSTAGE_ERR_BUSY (-4)   /* called from inside write, or drystage_feed from inside itself */
#define DRYSTAGE_BAD_COBS (-10)  /* a frame whose stuffing is broken */
#define DRYSTAGE_BAD_LONG (-11)  /* more bytes than any frame has */
#define DRYSTAGE_BAD_CRC (-12)   /* a check that does not match */
#define DRYSTAGE_BAD_UNKNOWN (-13) /* a valid frame of a type that no host sends */
#define DRYSTAGE_BAD_LENGTH (-14) /* a valid frame of another length than its type has */

/* The user's side. Every function gets `user`. Optional functions may be null pointers; what is missing is
 * not offered to the host. Only `write` must not call the library. */
typedef struct drystage_config {
    const char *name;    /* of the firmware, up to 16 characters */
    uint8_t channels;    /* outputs, numbered from 1; at most 16 */
    uint8_t continuity;  /* 1: this firmware calls drystage_continuity */
    void *user;

    /* Required. Sends all bytes, or copies them, before it returns; negative: it could not. */
    int (*write)(void *user, const uint8_t *bytes, size_t count);
    /* Required. Switches all outputs off at once, and reports it with drystage_output. */
    void (*off)(void *user);
    /* Required. A run begins, or continues after a supply failure; settings are back to defaults. The
     * non-volatile memory decides which it is, and whether drystage_armed(d, 1) follows. */
    void (*begin)(void *user, const drystage_hello_msg *run);

    /* Lockstep: the clock is now `time`; run the logic. 1: all is done, DONE is sent at once; 0:
     * drystage_done will be called later. */
    int (*tick)(void *user, uint32_t time);
    /* Real time: microseconds of the board's own free-running clock, modulo 2^32. */
    uint32_t (*clock)(void *user);
    /* The supply has failed: clear everything but non-volatile memory. A reset of the processor that doesn't
     * return is best. */
    void (*restart)(void *user);
    /* BYE: the run is over. Disarm, and clear its memory. */
    void (*end)(void *user);
    /* In: the requested value, in thousandths of the SI unit. Out: the value now. 1: known, 0: not. */
    int (*setting)(void *user, const char *name, int32_t *value);
    void (*command)(void *user, const drystage_command_msg *m);
    /* DANGER: the output is live. For measuring the bench, with a dummy load. Switches one output on at once
     * and reports it with drystage_output. It must go off by itself, by `clock`, after `length` ms, and at
     * once when `off` is called. The library has checked that the run is in real time, the board unarmed,
     * every output off, and that no sample or command has come since power-up; check everything else, such
     * as a flight in memory. Gives DRYSTAGE_TEST_OBEYED, or the reason to refuse. Needs `clock`. */
    uint8_t (*test)(void *user, uint8_t channel, uint16_t length);
    void (*imu)(void *user, const drystage_imu_msg *m);
    void (*baro)(void *user, const drystage_baro_msg *m);
    void (*gnss)(void *user, const drystage_gnss_msg *m);
    void (*battery)(void *user, const drystage_battery_msg *m);
    /* What a continuity check reads, in place of the board's own measurement. Only boards that have one. */
    void (*circuits)(void *user, const drystage_circuits_msg *m);
    /* A sample of the magnetometer. Only boards that use one. */
    void (*mag)(void *user, const drystage_mag_msg *m);
} drystage_config;

/* The state of the library. The caller owns it and must not write to it. */
typedef struct drystage {
    const drystage_config *config;
    uint32_t now;      /* us: of the last TICK; in real time, of HELLO */
    uint32_t base;     /* the board's own clock at HELLO, in real time */
    uint32_t due;      /* time of the TICK that waits for DONE */
    uint32_t nonce;    /* of the last HELLO */
    uint16_t boots;
    uint16_t outputs;  /* bit c-1: channel c is on */
    uint16_t bad;      /* frames that could not be used; stays at 65535 */
    uint16_t lost;     /* frames missing by number; stays at 65535 */
    int8_t first;      /* first error */
    uint8_t running;   /* there is a run */
    uint8_t real_time;
    uint8_t armed;
    uint8_t owes;      /* DONE */
    uint8_t busy;
    uint8_t touched;   /* a sample or command has come since power-up: no more TEST */
    uint8_t testing;   /* TEST was obeyed since the last HELLO */
    uint8_t begun;     /* a valid frame has come */
    uint8_t expected;  /* number of the next frame from the host */
    uint8_t seq;       /* number of the next frame to the host */
    uint8_t too_long;  /* skipping to a delimiter */
    uint8_t count;     /* bytes in `in` */
    uint8_t in[DRYSTAGE_MAX_FRAME];
    uint8_t out[DRYSTAGE_MAX_FRAME + 1u];
} drystage;

/* Initialises *d; config must outlive it. boots is how often the board has started, from non-volatile memory.
 * The board stays silent until HELLO. */
int drystage_start(drystage *d, const drystage_config *config, uint16_t boots);

/* Tells the host that the board has just restarted by itself (brown-out, watchdog). */
int drystage_announce(drystage *d);

/* Takes one byte from the line. DRYSTAGE_FRAME: it ended a frame, which has been handled; 0: the frame goes
 * on; negative: it ended something that was refused. */
int drystage_feed(drystage *d, uint8_t byte);

/* Takes bytes as they lie in memory, such as what a DMA controller has stored since the last call; from a ring, the part
 * up to its end and then the part from its start. Frames need not begin or end with it. It gives how many frames it has
 * handled, up to 32767; what it refuses is counted as ever. DRYSTAGE_ERR_BUSY: nothing was taken. */
int drystage_feed_block(drystage *d, const uint8_t *bytes, size_t count);

/* Reports the level of a pin, as soon as it changes: the true level, armed or not. Without a change nothing is
 * sent. */
int drystage_output(drystage *d, uint8_t channel, uint8_t on);

/* The same for a pin whose edge was stamped when it came, as in an interrupt: `clock` is what the clock function gave
 * then. Call it from the context of all other functions, in the order of the edges. In lockstep the clock is that of
 * the last TICK, and the stamp is not used. */
int drystage_output_at(drystage *d, uint8_t channel, uint8_t on, uint32_t clock);

/* Sets whether outputs may switch on. It is sent with the next DONE. */
void drystage_armed(drystage *d, uint8_t armed);

/* Answers TICK, for boards whose tick function gave 0. */
int drystage_done(drystage *d);

/* Reports the board's estimate: phase in up to 16 characters, mm above the pad, mm/s upwards, and the greatest
 * height so far in mm. */
int drystage_report(drystage *d, const char *phase, int32_t height, int32_t speed, int32_t apogee);

/* Reports a resistance at an output in mOhm, or DRYSTAGE_OPEN_CIRCUIT. */
int drystage_continuity(drystage *d, uint8_t channel, uint32_t resistance);

/* Sends a line of text for people, cut at 64 characters. */
int drystage_log(drystage *d, const char *text);

/* The time of the run in us: in lockstep that of the last TICK, in real time the board's clock. */
uint32_t drystage_now(const drystage *d);

/* 1: there is a run, from HELLO to BYE or RESTART. */
uint8_t drystage_running(const drystage *d);

/* 1: the run goes by the board's own clock; 0: by TICK, or there is none. */
uint8_t drystage_real_time(const drystage *d);

/* The first error since drystage_start, or DRYSTAGE_OK. */
int drystage_first_error(const drystage *d);

/* CRC-32C of `count` bytes. */
uint32_t drystage_crc(const uint8_t *bytes, uint8_t count);

#ifdef __cplusplus
}
#endif

#endif

/* The board's side of the drystage contract. See drystage.h. */
#include "drystage.h"

/* Offsets in a COBS-encoded frame: the first distance, then the raw frame. */
#define TYPE 1u
#define SEQ 2u
#define PAYLOAD 3u
#define CHECK 4u     /* bytes of the CRC */
#define NAME_SIZE 16u /* of the firmware, last in WELCOME */

/* Bits of busy. */
#define FEEDING 1u
#define WRITING 2u

static int fail(drystage *d, int error)
{
    if (d->first == 0) {
        d->first = (int8_t)error;
    }
    return error;
}

/* Counts stop at 65535. */
static void count_up(uint16_t *counter, uint8_t by)
{
    uint32_t sum = (uint32_t)*counter + by;
    *counter = (sum > 0xFFFFuL) ? (uint16_t)0xFFFFu : (uint16_t)sum;
}

/* Bit by bit, since a table would take 1 KiB of flash, or of RAM on processors that copy tables.
 * The polynomial is Castagnoli's, 0x1EDC6F41 reflected: RFC 3720, 12.1. */
uint32_t drystage_crc(const uint8_t *bytes, uint8_t count)
{
    uint32_t crc = 0xFFFFFFFFuL;
    uint8_t i;
    uint8_t bit;
    for (i = 0u; i < count; i++) {
        crc ^= bytes[i];
        for (bit = 0u; bit < 8u; bit++) {
            crc = ((crc & 1u) != 0u) ? ((crc >> 1) ^ 0x82F63B78uL) : (crc >> 1);
        }
    }
    return crc ^ 0xFFFFFFFFuL;
}

/* Consistent overhead byte stuffing: each zero becomes the distance to the next one or to the end;
 * b[0] is room for the first distance. Frames are shorter than 254 bytes, so distances fit. */
static void stuff(uint8_t *b, uint8_t count)
{
    uint8_t last = 0u;
    uint8_t i;
    for (i = 1u; i < count; i++) {
        if (b[i] == 0u) {
            b[last] = (uint8_t)(i - last);
            last = i;
        }
    }
    b[last] = (uint8_t)(count - last);
}

/* Decodes COBS; 0: not a valid encoding. */
static int unstuff(uint8_t *b, uint8_t count)
{
    uint8_t i = 0u;
    while (i < count) {
        uint8_t distance = b[i];
        if ((distance == 0u) || (distance > (uint8_t)(count - i))) {
            return 0;
        }
        b[i] = 0u;
        i = (uint8_t)(i + distance);
    }
    return 1;
}

/* ---- to the host ---- */

/* Says whether a frame may be sent now. Without a run only WELCOME may be sent. */
static int ready(drystage *d)
{
    int r = DRYSTAGE_OK;
    if ((d->busy & WRITING) != 0u) {
        r = fail(d, DRYSTAGE_ERR_BUSY);
    } else if (d->running == 0u) {
        r = DRYSTAGE_IDLE;
    } else {
        /* may be made */
    }
    return r;
}

/* Sends the frame whose payload is in out. A frame that could not be written gets a number too, so that the
 * host sees the gap. */
static int transmit(drystage *d, uint8_t type, uint8_t size)
{
    uint8_t end = (uint8_t)(PAYLOAD + size);
    int r;
    d->out[TYPE] = type;
    d->out[SEQ] = d->seq;
    d->seq++;
    drystage_put_u32(&d->out[end], drystage_crc(&d->out[TYPE], (uint8_t)(end - TYPE)));
    end = (uint8_t)(end + CHECK);
    stuff(d->out, end);
    d->out[end] = 0u;
    d->busy |= WRITING;
    r = d->config->write(d->config->user, d->out, (size_t)end + 1u);
    d->busy &= (uint8_t)~WRITING;
    return (r < 0) ? fail(d, DRYSTAGE_ERR_WRITE) : DRYSTAGE_OK;
}

static int welcome(drystage *d, uint32_t nonce)
{
    const drystage_config *c = d->config;
    drystage_welcome_msg m;
    m.version = DRYSTAGE_VERSION;
    m.capabilities = (uint16_t)(((c->tick != NULL) ? DRYSTAGE_CAN_LOCKSTEP : 0u)
        | ((c->clock != NULL) ? DRYSTAGE_CAN_REAL_TIME : 0u)
        | ((c->restart != NULL) ? DRYSTAGE_CAN_RESTART : 0u)
        | ((c->setting != NULL) ? DRYSTAGE_CAN_SETTINGS : 0u)
        | ((c->continuity != 0u) ? DRYSTAGE_CAN_CONTINUITY : 0u)
        | ((c->command != NULL) ? DRYSTAGE_CAN_COMMANDS : 0u)
        | ((c->circuits != NULL) ? DRYSTAGE_CAN_CIRCUITS : 0u)
        | ((c->mag != NULL) ? DRYSTAGE_CAN_MAG : 0u)
        | (((c->test != NULL) && (c->clock != NULL)) ? DRYSTAGE_CAN_TEST : 0u));
    m.channels = c->channels;
    m.nonce = nonce;
    m.boots = d->boots;
    m.name[0] = '\0';
    drystage_put_welcome(&d->out[PAYLOAD], &m);
    if (c->name != NULL) {
        drystage_put_text(&d->out[PAYLOAD + DRYSTAGE_WELCOME_SIZE - NAME_SIZE], c->name, NAME_SIZE);
    }
    return transmit(d, DRYSTAGE_WELCOME, DRYSTAGE_WELCOME_SIZE);
}

int drystage_announce(drystage *d)
{
    return ((d->busy & WRITING) != 0u) ? fail(d, DRYSTAGE_ERR_BUSY) : welcome(d, 0u);
}

/* Reports an output at a time of the run. */
static int output(drystage *d, uint8_t channel, uint8_t on, uint32_t time)
{
    drystage_output_msg m;
    uint16_t bit;
    uint16_t outputs;
    int r;
    if ((channel == 0u) || (channel > d->config->channels) || (channel > DRYSTAGE_MAX_CHANNELS)) {
        return fail(d, DRYSTAGE_ERR_CHANNEL);
    }
    bit = (uint16_t)(1uL << (channel - 1u));
    outputs = (on != 0u) ? (uint16_t)(d->outputs | bit) : (uint16_t)(d->outputs & (uint16_t)~bit);
    if (outputs == d->outputs) {
        return DRYSTAGE_OK;
    }
    d->outputs = outputs;
    r = ready(d);
    if (r == DRYSTAGE_OK) {
        m.time = time;
        m.channel = channel;
        m.on = (on != 0u) ? 1u : 0u;
        drystage_put_output(&d->out[PAYLOAD], &m);
        r = transmit(d, DRYSTAGE_OUTPUT, DRYSTAGE_OUTPUT_SIZE);
    }
    return r;
}

int drystage_output(drystage *d, uint8_t channel, uint8_t on)
{
    return output(d, channel, on, drystage_now(d));
}

int drystage_output_at(drystage *d, uint8_t channel, uint8_t on, uint32_t clock)
{
    return output(d, channel, on, (d->real_time != 0u) ? (d->now + (clock - d->base)) : d->now);
}

void drystage_armed(drystage *d, uint8_t armed)
{
    d->armed = (armed != 0u) ? 1u : 0u;
}

int drystage_done(drystage *d)
{
    drystage_done_msg m;
    int r = ready(d);
    if ((r == DRYSTAGE_OK) && (d->owes == 0u)) {
        r = DRYSTAGE_IDLE;
    }
    if (r == DRYSTAGE_OK) {
        d->owes = 0u;
        m.time = d->due;
        m.armed = d->armed;
        m.outputs = d->outputs;
        m.bad = d->bad;
        m.lost = d->lost;
        drystage_put_done(&d->out[PAYLOAD], &m);
        r = transmit(d, DRYSTAGE_DONE, DRYSTAGE_DONE_SIZE);
    }
    return r;
}

int drystage_report(drystage *d, const char *phase, int32_t height, int32_t speed, int32_t apogee)
{
    int r = ready(d);
    if (r == DRYSTAGE_OK) {
        uint8_t *p = &d->out[PAYLOAD];
        drystage_put_u32(p, drystage_now(d));
        drystage_put_text(&p[4], phase, 16u);
        drystage_put_i32(&p[20], height);
        drystage_put_i32(&p[24], speed);
        drystage_put_i32(&p[28], apogee);
        r = transmit(d, DRYSTAGE_REPORT, DRYSTAGE_REPORT_SIZE);
    }
    return r;
}

int drystage_continuity(drystage *d, uint8_t channel, uint32_t resistance)
{
    drystage_continuity_msg m;
    int r;
    if ((channel == 0u) || (channel > d->config->channels)) {
        return fail(d, DRYSTAGE_ERR_CHANNEL);
    }
    r = ready(d);
    if (r == DRYSTAGE_OK) {
        m.time = drystage_now(d);
        m.channel = channel;
        m.resistance = resistance;
        drystage_put_continuity(&d->out[PAYLOAD], &m);
        r = transmit(d, DRYSTAGE_CONTINUITY, DRYSTAGE_CONTINUITY_SIZE);
    }
    return r;
}

int drystage_log(drystage *d, const char *text)
{
    int r = ready(d);
    if (r == DRYSTAGE_OK) {
        uint8_t *p = &d->out[PAYLOAD];
        uint8_t n = 0u;
        drystage_put_u32(p, drystage_now(d));
        while ((n < DRYSTAGE_MAX_TAIL) && (text[n] != '\0')) {
            p[DRYSTAGE_LOG_SIZE + n] = (uint8_t)text[n];
            n++;
        }
        r = transmit(d, DRYSTAGE_LOG, (uint8_t)(DRYSTAGE_LOG_SIZE + n));
    }
    return r;
}

uint32_t drystage_now(const drystage *d)
{
    uint32_t now = d->now;
    if (d->real_time != 0u) {
        now += d->config->clock(d->config->user) - d->base;
    }
    return now;
}

/* ---- from the host ---- */

static void on_hello(drystage *d, const uint8_t *p)
{
    const drystage_config *c = d->config;
    drystage_hello_msg m;
    drystage_get_hello(p, &m);
    c->off(c->user);
    d->testing = 0u;
    d->nonce = m.nonce;
    d->running = 0u;
    d->owes = 0u;
    d->armed = 0u;
    d->now = m.time;
    d->real_time = ((m.mode == DRYSTAGE_REAL_TIME) && (c->clock != NULL)) ? 1u : 0u;
    if (d->real_time != 0u) {
        d->base = c->clock(c->user);
    }
    (void)welcome(d, m.nonce);
    if ((m.version == DRYSTAGE_VERSION)
        && ((d->real_time != 0u) || ((m.mode == DRYSTAGE_LOCKSTEP) && (c->tick != NULL)))) {
        d->running = 1u;
        c->begin(c->user, &m);
    }
}

/* The run ends first: a board without supply sends nothing, not even that its outputs went off. */
static void on_restart(drystage *d)
{
    const drystage_config *c = d->config;
    d->running = 0u;
    c->off(c->user);
    d->boots++;
    d->bad = 0u;
    d->lost = 0u;
    d->owes = 0u;
    d->armed = 0u;
    d->real_time = 0u;
    d->begun = 0u;
    d->seq = 0u;
    d->touched = 0u;
    d->testing = 0u;
    if (c->restart != NULL) {
        c->restart(c->user);
    }
}

static void on_setting(drystage *d, const uint8_t *p)
{
    const drystage_config *c = d->config;
    drystage_setting_msg m;
    drystage_accept_msg a;
    uint8_t i;
    drystage_get_setting(p, &m);
    a.value = m.value;
    a.known = 0u;
    if (c->setting != NULL) {
        a.known = (c->setting(c->user, m.name, &a.value) != 0) ? 1u : 0u;
    }
    for (i = 0u; i < sizeof a.name; i++) {
        a.name[i] = m.name[i];
    }
    drystage_put_accept(&d->out[PAYLOAD], &a);
    (void)transmit(d, DRYSTAGE_ACCEPT, DRYSTAGE_ACCEPT_SIZE);
}

/* Hands a message to the firmware's function for it, if there is one. */
#define HAND_OVER(name) \
    static void on_##name(drystage *d, const uint8_t *p) \
    { \
        drystage_##name##_msg m; \
        drystage_get_##name(p, &m); \
        if (d->config->name != NULL) { \
            d->config->name(d->config->user, &m); \
        } \
    }

HAND_OVER(imu)
HAND_OVER(baro)
HAND_OVER(gnss)
HAND_OVER(battery)
HAND_OVER(circuits)
HAND_OVER(mag)

static void on_command(drystage *d, const uint8_t *p)
{
    drystage_command_msg m;
    drystage_get_command(p, &m);
    if (d->config->command != NULL) {
        d->config->command(d->config->user, &m);
    }
}

static void on_tick(drystage *d, const uint8_t *p)
{
    const drystage_config *c = d->config;
    d->due = drystage_get_u32(p);
    d->owes = 1u;
    if ((d->real_time == 0u) && ((d->due - d->now) < 0x80000000uL)) {
        d->now = d->due; /* in lockstep this is the clock; it wraps after 2^32 us, and never goes back in a run */
    }
    if ((c->tick == NULL) || (c->tick(c->user, drystage_now(d)) != 0)) {
        (void)drystage_done(d);
    }
}

static void on_sync(drystage *d, const uint8_t *p)
{
    drystage_synced_msg m;
    m.time = drystage_get_u32(p);
    m.board_time = drystage_now(d);
    drystage_put_synced(&d->out[PAYLOAD], &m);
    (void)transmit(d, DRYSTAGE_SYNCED, DRYSTAGE_SYNCED_SIZE);
}

static void on_bye(drystage *d)
{
    const drystage_config *c = d->config;
    c->off(c->user);
    d->testing = 0u;
    d->running = 0u;
    d->owes = 0u;
    d->armed = 0u;
    if (c->end != NULL) {
        c->end(c->user);
    }
}

/* Gives the library's reason to refuse TEST now, before the board's own. */
static unsigned int untestable(const drystage *d, const drystage_test_msg *m)
{
    unsigned int why = DRYSTAGE_TEST_OBEYED;
    if (m->guard != (d->nonce ^ DRYSTAGE_TEST_GUARD)) {
        why = DRYSTAGE_TEST_GUARD_WRONG;
    } else if (d->real_time == 0u) {
        why = DRYSTAGE_TEST_LOCKSTEP;
    } else if (d->armed != 0u) {
        why = DRYSTAGE_TEST_ARMED;
    } else if (d->touched != 0u) {
        why = DRYSTAGE_TEST_TOUCHED;
    } else if ((m->channel == 0u) || (m->channel > d->config->channels) || (m->length == 0u)
        || (m->length > DRYSTAGE_TEST_MOST)) {
        why = DRYSTAGE_TEST_NONSENSE;
    } else if (d->outputs != 0u) {
        why = DRYSTAGE_TEST_BUSY;
    } else {
        /* may be obeyed */
    }
    return why;
}

static void on_test(drystage *d, const uint8_t *p)
{
    const drystage_config *c = d->config;
    drystage_test_msg m;
    drystage_tested_msg a;
    drystage_get_test(p, &m);
    a.nonce = m.nonce;
    a.channel = m.channel;
    a.refused = (uint8_t)((c->test == NULL) ? DRYSTAGE_TEST_OTHER : untestable(d, &m));
    if (a.refused == DRYSTAGE_TEST_OBEYED) {
        a.refused = c->test(c->user, m.channel, m.length);
        d->testing = (a.refused == DRYSTAGE_TEST_OBEYED) ? 1u : 0u;
    }
    drystage_put_tested(&d->out[PAYLOAD], &a);
    (void)transmit(d, DRYSTAGE_TESTED, DRYSTAGE_TESTED_SIZE);
}

/* A sample or a command ends a test, and no more are allowed until the next power-up. */
static void touch(drystage *d, uint8_t type)
{
    if ((type >= DRYSTAGE_IMU) && (type <= DRYSTAGE_MAG)) {
        d->touched = 1u;
        if (d->testing != 0u) {
            d->testing = 0u;
            d->config->off(d->config->user);
        }
    }
}

/* Acts on a valid message. Without a run only HELLO and RESTART are taken. */
static void act(drystage *d, uint8_t type, const uint8_t *p)
{
    if (type == DRYSTAGE_HELLO) {
        on_hello(d, p);
    } else if (type == DRYSTAGE_RESTART) {
        on_restart(d);
    } else if (d->running != 0u) {
        touch(d, type);
        switch (type) {
        case DRYSTAGE_SETTING: on_setting(d, p); break;
        case DRYSTAGE_IMU: on_imu(d, p); break;
        case DRYSTAGE_BARO: on_baro(d, p); break;
        case DRYSTAGE_GNSS: on_gnss(d, p); break;
        case DRYSTAGE_BATTERY: on_battery(d, p); break;
        case DRYSTAGE_COMMAND: on_command(d, p); break;
        case DRYSTAGE_CIRCUITS: on_circuits(d, p); break;
        case DRYSTAGE_MAG: on_mag(d, p); break;
        case DRYSTAGE_TICK: on_tick(d, p); break;
        case DRYSTAGE_SYNC: on_sync(d, p); break;
        case DRYSTAGE_BYE: on_bye(d); break;
        case DRYSTAGE_TEST: on_test(d, p); break;
        default: break; /* whole lets no other pass */
        }
    } else {
        /* no run is on */
    }
}

static int refuse(drystage *d, int why)
{
    count_up(&d->bad, 1u);
    return fail(d, why);
}

/* Counts missing frames by their numbers. HELLO restarts the count, since the host may just have started; so
 * does a WELCOME, which can only be an echo. */
static void follow(drystage *d, uint8_t type, uint8_t seq)
{
    if ((d->begun != 0u) && (type != DRYSTAGE_HELLO) && (type != DRYSTAGE_WELCOME)) {
        count_up(&d->lost, (uint8_t)(seq - d->expected));
    }
    d->begun = 1u;
    d->expected = (uint8_t)(seq + 1u);
}

/* Handles the bytes kept, when a delimiter has come. */
static int whole(drystage *d)
{
    uint8_t count = d->count;
    uint8_t *b = d->in;
    int size;
    d->count = 0u;
    if (d->too_long != 0u) {
        d->too_long = 0u;
        return refuse(d, DRYSTAGE_BAD_LONG);
    }
    if (count == 0u) {
        return 0; /* a delimiter sent in front */
    }
    if (unstuff(b, count) == 0) {
        return refuse(d, DRYSTAGE_BAD_COBS);
    }
    if ((count < (PAYLOAD + CHECK))
        || (drystage_crc(&b[TYPE], (uint8_t)(count - TYPE - CHECK)) != drystage_get_u32(&b[count - CHECK]))) {
        return refuse(d, DRYSTAGE_BAD_CRC);
    }
    follow(d, b[TYPE], b[SEQ]);
    size = drystage_host_size(b[TYPE]);
    if (size < 0) {
        return refuse(d, DRYSTAGE_BAD_UNKNOWN);
    }
    if ((unsigned int)size != (count - (PAYLOAD + CHECK))) {
        return refuse(d, DRYSTAGE_BAD_LENGTH);
    }
    act(d, b[TYPE], &b[PAYLOAD]);
    return DRYSTAGE_FRAME;
}

int drystage_feed(drystage *d, uint8_t byte)
{
    int r = 0;
    if (d->busy != 0u) {
        r = fail(d, DRYSTAGE_ERR_BUSY);
    } else if (byte == 0u) {
        d->busy = FEEDING;
        r = whole(d);
        d->busy = 0u;
    } else if ((d->too_long != 0u) || (d->count >= DRYSTAGE_MAX_FRAME)) {
        d->too_long = 1u;
    } else {
        d->in[d->count] = byte;
        d->count++;
    }
    return r;
}

int drystage_feed_block(drystage *d, const uint8_t *bytes, size_t count)
{
    int frames = 0;
    size_t i;
    for (i = 0u; i < count; i++) {
        int r = drystage_feed(d, bytes[i]);
        if (r == DRYSTAGE_ERR_BUSY) {
            return r;
        }
        if ((r == DRYSTAGE_FRAME) && (frames < 32767)) {
            frames++;
        }
    }
    return frames;
}

/* ---- begin and end ---- */

int drystage_start(drystage *d, const drystage_config *config, uint16_t boots)
{
    uint8_t *byte = (uint8_t *)d;
    size_t i;
    for (i = 0u; i < sizeof *d; i++) {
        byte[i] = 0u;
    }
    d->config = config;
    d->boots = boots;
    if ((config->write == NULL) || (config->off == NULL) || (config->begin == NULL)
        || (config->channels > DRYSTAGE_MAX_CHANNELS)) {
        d->busy = FEEDING | WRITING; /* permanently: nothing is taken, nothing is sent */
        return fail(d, DRYSTAGE_ERR_CONFIG);
    }
    return DRYSTAGE_OK;
}

int drystage_first_error(const drystage *d)
{
    return d->first;
}

uint8_t drystage_running(const drystage *d)
{
    return d->running;
}

uint8_t drystage_real_time(const drystage *d)
{
    return d->real_time;
}

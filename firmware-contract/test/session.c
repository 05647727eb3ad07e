/* What a board says and does in a run, one fact at a time. */
#include "host.h"

typedef struct world {
    drystage d;
    drystage_config config;
    unsigned int begins;
    unsigned int offs;
    unsigned int ends;
    unsigned int restarts;
    unsigned int samples;
    unsigned int commands;
    unsigned int tests;
    uint8_t test_gives;
    uint32_t ticked;
    uint32_t clock;
    int done_now;
    int write_gives;
    int nested; /* what the library gave to a call from inside write or feed */
    uint8_t lights; /* a pin that off() can't switch off, for the test of truth */
} world;

static world w;
static uint8_t p[DRYSTAGE_MAX_FRAME];

static int on_write(void *user, const uint8_t *bytes, size_t count)
{
    CHECK(user == &w, "the user's own pointer comes back");
    return (w.write_gives < 0) ? w.write_gives : check_write(user, bytes, count);
}

static int write_that_calls_back(void *user, const uint8_t *bytes, size_t count)
{
    w.nested = drystage_log(&w.d, "from inside write");
    return check_write(user, bytes, count);
}

static void on_off(void *user)
{
    (void)user;
    w.offs++;
    if (w.lights == 0u) {
        uint8_t c;
        for (c = 1u; c <= w.config.channels; c++) {
            (void)drystage_output(&w.d, c, 0u);
        }
    }
}

static void on_begin(void *user, const drystage_hello_msg *m)
{
    (void)user;
    CHECK(strcmp(m->role, "sustainer") == 0, "role");
    w.begins++;
    (void)drystage_log(&w.d, "begun");
}

static int on_tick(void *user, uint32_t time) { (void)user; w.ticked = time; return w.done_now; }
static uint32_t on_clock(void *user) { (void)user; return w.clock; }
static void on_restart(void *user) { (void)user; w.restarts++; }
static void on_end(void *user) { (void)user; w.ends++; }

static int on_setting(void *user, const char *name, int32_t *value)
{
    (void)user;
    if (strcmp(name, "main_height") != 0) {
        return 0;
    }
    *value = (*value > 300000) ? 300000 : *value;
    return 1;
}

static uint8_t on_test(void *user, uint8_t channel, uint16_t length)
{
    (void)user;
    w.tests++;
    CHECK(length == 20u, "the length that was asked for");
    if (w.test_gives == DRYSTAGE_TEST_OBEYED) {
        (void)drystage_output(&w.d, channel, 1u);
    }
    return w.test_gives;
}

static void on_command(void *user, const drystage_command_msg *m) { (void)user; (void)m; w.commands++; }

static void on_baro(void *user, const drystage_baro_msg *m)
{
    (void)user;
    (void)m;
    w.samples++;
    w.nested = drystage_feed(&w.d, 0u);
}

static void start(void)
{
    (void)memset(&w, 0, sizeof w);
    w.done_now = 1;
    w.config = (drystage_config){
        .name = "session of a long name", .channels = 3u, .user = &w, .write = on_write, .off = on_off, .begin = on_begin,
        .tick = on_tick, .clock = on_clock, .restart = on_restart, .end = on_end, .setting = on_setting,
        .command = on_command, .test = on_test, .baro = on_baro};
    host_seq = 0u;
    sent_count = 0u;
    CHECK(drystage_start(&w.d, &w.config, 7u) == DRYSTAGE_OK, "start");
}

/* Starts and shakes hands in lockstep at a time. */
static void begin(uint32_t time)
{
    start();
    CHECK(host_hello(&w.d, 1u, DRYSTAGE_LOCKSTEP, 99u, time) == DRYSTAGE_FRAME, "hello");
    host_expect(DRYSTAGE_WELCOME, p, "welcome");
    host_expect(DRYSTAGE_LOG, p, "the log of begin");
    CHECK(sent_count == 0u, "nothing else");
}

static void baro(uint32_t time)
{
    drystage_baro_msg m = {.time = time, .pressure = 101325000u, .temperature = -4000};
    uint8_t q[DRYSTAGE_BARO_SIZE];
    drystage_put_baro(q, &m);
    (void)host_say(&w.d, DRYSTAGE_BARO, q, sizeof q);
}

static void command(uint8_t word)
{
    uint8_t q[DRYSTAGE_COMMAND_SIZE] = {0u, 0u, 0u, 0u, 0u};
    q[4] = word;
    (void)host_say(&w.d, DRYSTAGE_COMMAND, q, sizeof q);
}

static drystage_done_msg done(void)
{
    drystage_done_msg m;
    host_expect(DRYSTAGE_DONE, p, "done");
    drystage_get_done(p, &m);
    return m;
}

static void silent_until_hello(void)
{
    start();
    (void)host_tick(&w.d, 5u);
    baro(5u);
    command(DRYSTAGE_ARM);
    CHECK((w.samples == 0u) && (w.commands == 0u) && (w.ticked == 0u), "nothing is acted on before HELLO");
    CHECK(drystage_log(&w.d, "x") == DRYSTAGE_IDLE, "log before HELLO");
    CHECK(drystage_report(&w.d, "pad", 0, 0, 0) == DRYSTAGE_IDLE, "report before HELLO");
    CHECK(drystage_output(&w.d, 1u, 1u) == DRYSTAGE_IDLE, "output before HELLO");
    CHECK(drystage_done(&w.d) == DRYSTAGE_IDLE, "done before HELLO");
    CHECK(sent_count == 0u, "silent");
    CHECK(drystage_first_error(&w.d) == DRYSTAGE_OK, "none of this is an error");
}

static void welcome_says_what_it_can(void)
{
    drystage_welcome_msg m;
    start();
    (void)host_hello(&w.d, 1u, DRYSTAGE_LOCKSTEP, 0xAABBCCDDu, 1000u);
    host_expect(DRYSTAGE_WELCOME, p, "welcome");
    drystage_get_welcome(p, &m);
    CHECK((m.version == 1u) && (m.nonce == 0xAABBCCDDu) && (m.boots == 7u) && (m.channels == 3u), "fields");
    CHECK(strcmp(m.name, "session of a lon") == 0, "16 characters of the name");
    CHECK(m.capabilities == (DRYSTAGE_CAN_LOCKSTEP | DRYSTAGE_CAN_REAL_TIME | DRYSTAGE_CAN_RESTART | DRYSTAGE_CAN_SETTINGS
        | DRYSTAGE_CAN_COMMANDS | DRYSTAGE_CAN_TEST), "what has a function is offered, continuity is not");
    CHECK(drystage_now(&w.d) == 1000u, "the clock begins with HELLO's");

    start();
    w.config.clock = NULL;
    w.config.restart = NULL;
    w.config.setting = NULL;
    w.config.command = NULL;
    w.config.name = NULL;
    w.config.continuity = 1u;
    (void)host_hello(&w.d, 1u, DRYSTAGE_LOCKSTEP, 1u, 0u);
    host_expect(DRYSTAGE_WELCOME, p, "welcome");
    drystage_get_welcome(p, &m);
    CHECK(m.capabilities == (DRYSTAGE_CAN_LOCKSTEP | DRYSTAGE_CAN_CONTINUITY), "the least");
    CHECK(m.name[0] == '\0', "no name");
}

static void wrong_version_or_mode_begins_nothing(void)
{
    start();
    (void)host_hello(&w.d, 2u, DRYSTAGE_LOCKSTEP, 1u, 0u);
    host_expect(DRYSTAGE_WELCOME, p, "the host learns our version");
    (void)host_hello(&w.d, 1u, 7u, 1u, 0u);
    host_expect(DRYSTAGE_WELCOME, p, "no such mode");
    w.config.clock = NULL;
    (void)host_hello(&w.d, 1u, DRYSTAGE_REAL_TIME, 1u, 0u);
    host_expect(DRYSTAGE_WELCOME, p, "real time without a clock");
    w.config.tick = NULL;
    (void)host_hello(&w.d, 1u, DRYSTAGE_LOCKSTEP, 1u, 0u);
    host_expect(DRYSTAGE_WELCOME, p, "lockstep without tick");
    (void)host_tick(&w.d, 5u);
    CHECK((sent_count == 0u) && (w.begins == 0u), "nothing has begun");
}

static void done_tells_the_truth(void)
{
    drystage_done_msg m;
    drystage_output_msg o;
    begin(0u);
    baro(5000u);
    CHECK((w.samples == 1u) && (drystage_now(&w.d) == 0u), "a sample does not move the clock");
    (void)host_tick(&w.d, 5000u);
    (void)done();
    CHECK(drystage_now(&w.d) == 5000u, "TICK does");
    (void)drystage_output(&w.d, 3u, 1u);
    (void)drystage_output(&w.d, 3u, 9u);
    (void)host_tick(&w.d, 5000u);
    host_expect(DRYSTAGE_OUTPUT, p, "one edge for one change");
    drystage_get_output(p, &o);
    CHECK((o.time == 5000u) && (o.channel == 3u) && (o.on == 1u), "edge");
    m = done();
    CHECK((m.time == 5000u) && (m.outputs == 4u) && (m.armed == 0u), "an unarmed output that is on is told");
    drystage_armed(&w.d, 5u);
    (void)host_tick(&w.d, 4000u);
    m = done();
    CHECK((m.time == 4000u) && (m.armed == 1u), "TICK's time comes back");
    CHECK(w.ticked == 5000u, "but the clock never goes back");
    CHECK(drystage_output(&w.d, 0u, 1u) == DRYSTAGE_ERR_CHANNEL, "channels begin with 1");
    CHECK(drystage_output(&w.d, 4u, 1u) == DRYSTAGE_ERR_CHANNEL, "and end with the last");
    CHECK(drystage_continuity(&w.d, 4u, 1u) == DRYSTAGE_ERR_CHANNEL, "continuity too");
    CHECK(sent_count == 0u, "nothing was sent for them");
}

static void the_clock_wraps(void)
{
    begin(0xFFFFFF00u);
    (void)host_tick(&w.d, 0x00000100u);
    (void)done();
    CHECK((drystage_now(&w.d) == 0x100u) && (w.ticked == 0x100u), "after 2^32 us it goes on from 0");
    (void)host_tick(&w.d, 0xFFFFFFF0u);
    (void)done();
    CHECK(drystage_now(&w.d) == 0x100u, "and doesn't go back behind it");
}

static void done_may_come_later(void)
{
    begin(0u);
    w.done_now = 0;
    (void)host_tick(&w.d, 5000u);
    CHECK(sent_count == 0u, "not yet");
    CHECK(drystage_done(&w.d) == DRYSTAGE_OK, "now");
    CHECK(done().time == 5000u, "for that TICK");
    CHECK(drystage_done(&w.d) == DRYSTAGE_IDLE, "once");
}

static void damage_is_counted_in_done(void)
{
    drystage_done_msg m;
    uint8_t line[160];
    uint8_t q[DRYSTAGE_TICK_SIZE] = {1u, 2u, 3u, 4u};
    size_t n;
    size_t i;
    begin(0u);
    n = host_frame(line, DRYSTAGE_TICK, q, sizeof q);
    line[2] ^= 4u;
    for (i = 0u; i < n; i++) {
        (void)drystage_feed(&w.d, line[i]);
    }
    CHECK(sent_count == 0u, "a corrupt TICK has no answer");
    CHECK(drystage_first_error(&w.d) < 0, "the cause is kept");
    (void)host_tick(&w.d, 10u);
    m = done();
    CHECK((m.bad == 1u) && (m.lost == 1u), "counted");
    w.d.bad = 0xFFFFu;
    w.d.lost = 0xFFF0u;
    host_seq = (uint8_t)(host_seq + 100u);
    (void)host_say(&w.d, 0x7Fu, NULL, 0u);
    (void)host_tick(&w.d, 11u);
    m = done();
    CHECK((m.bad == 0xFFFFu) && (m.lost == 0xFFFFu), "counts stay at their end");
}

/* However a line is cut into blocks, as by the halves of a DMA buffer, the board does what it does byte by byte. */
static void blocks_are_as_bytes(void)
{
    uint8_t line[8u * 160u];
    uint8_t q[DRYSTAGE_TICK_SIZE];
    size_t total = 1u;
    size_t cut;
    unsigned int k;
    for (cut = 0u; cut <= total; cut++) {
        drystage_done_msg m = {0};
        int frames;
        begin(0u);
        total = 0u;
        for (k = 1u; k <= 8u; k++) { /* the fourth is damaged */
            size_t start = total;
            drystage_put_u32(q, 5000u * k);
            total += host_frame(&line[total], DRYSTAGE_TICK, q, sizeof q);
            line[start + 2u] ^= (k == 4u) ? 0x40u : 0u;
        }
        frames = drystage_feed_block(&w.d, line, cut);
        frames += drystage_feed_block(&w.d, &line[cut], total - cut);
        CHECK((frames == 7) && (w.ticked == 40000u), "each sound frame once, up to the last one");
        for (k = 0u; k < 7u; k++) {
            m = done();
        }
        CHECK((sent_count == 0u) && (m.time == 40000u) && (m.bad == 1u) && (m.lost == 1u), "answers and counts as ever");
    }
    CHECK(cut > 80u, "every place was tried");
    CHECK(drystage_feed_block(&w.d, line, 0u) == 0, "nothing came");
    w.d.busy = 1u;
    CHECK(drystage_feed_block(&w.d, line, total) == DRYSTAGE_ERR_BUSY, "not from inside another call");
    w.d.busy = 0u;
    CHECK(w.d.count == 0u, "and takes nothing");
}

static void settings_are_answered(void)
{
    uint8_t q[DRYSTAGE_SETTING_SIZE];
    drystage_setting_msg s = {.name = "main_height", .value = 400000};
    drystage_accept_msg a;
    begin(0u);
    drystage_put_setting(q, &s);
    (void)host_say(&w.d, DRYSTAGE_SETTING, q, sizeof q);
    host_expect(DRYSTAGE_ACCEPT, p, "accept");
    drystage_get_accept(p, &a);
    CHECK((strcmp(a.name, "main_height") == 0) && (a.value == 300000) && (a.known == 1u), "what it now is");
    (void)memcpy(s.name, "a name of 24 characters!", 25u);
    drystage_put_setting(q, &s);
    (void)host_say(&w.d, DRYSTAGE_SETTING, q, sizeof q);
    host_expect(DRYSTAGE_ACCEPT, p, "accept");
    drystage_get_accept(p, &a);
    CHECK((memcmp(a.name, s.name, sizeof a.name) == 0) && (a.known == 0u), "unknown");
}

static void restart_is_silent(void)
{
    drystage_welcome_msg m;
    size_t size;
    uint8_t seq;
    uint8_t nonce[DRYSTAGE_RESTART_SIZE] = {1u, 0u, 0u, 0u};
    begin(0u);
    (void)drystage_output(&w.d, 1u, 1u);
    drystage_armed(&w.d, 1u);
    host_expect(DRYSTAGE_OUTPUT, p, "edge");
    (void)host_say(&w.d, DRYSTAGE_RESTART, nonce, sizeof nonce);
    CHECK((w.restarts == 1u) && (w.d.outputs == 0u) && (sent_count == 0u), "off, without a word");
    (void)host_tick(&w.d, 10u);
    CHECK((sent_count == 0u) && (w.ticked == 0u), "silent until HELLO");
    (void)host_hello(&w.d, 1u, DRYSTAGE_LOCKSTEP, 5u, 700000u);
    CHECK(host_hear(p, &size, &seq) == DRYSTAGE_WELCOME, "welcome");
    drystage_get_welcome(p, &m);
    CHECK((m.boots == 8u) && (seq == 0u), "it has started once more, numbers begin anew");
    host_expect(DRYSTAGE_LOG, p, "begun");
    (void)host_tick(&w.d, 700000u);
    CHECK(done().armed == 0u, "disarmed, unless begin says that it was armed");
}

static void hello_within_a_run_begins_anew(void)
{
    begin(0u);
    drystage_armed(&w.d, 1u);
    (void)host_tick(&w.d, 900u);
    CHECK(done().armed == 1u, "armed");
    (void)drystage_output(&w.d, 2u, 1u);
    host_expect(DRYSTAGE_OUTPUT, p, "on");
    (void)host_hello(&w.d, 1u, DRYSTAGE_LOCKSTEP, 6u, 100u);
    host_expect(DRYSTAGE_OUTPUT, p, "off comes first");
    host_expect(DRYSTAGE_WELCOME, p, "then WELCOME");
    CHECK((w.begins == 2u) && (drystage_now(&w.d) == 100u), "the clock begins anew");
    host_expect(DRYSTAGE_LOG, p, "begun");
    (void)host_tick(&w.d, 200u);
    CHECK(done().armed == 0u, "and arming is for begin to say");
}

static void bye_ends(void)
{
    begin(0u);
    drystage_armed(&w.d, 1u);
    (void)drystage_output(&w.d, 2u, 1u);
    host_expect(DRYSTAGE_OUTPUT, p, "on");
    (void)host_say(&w.d, DRYSTAGE_BYE, NULL, 0u);
    host_expect(DRYSTAGE_OUTPUT, p, "off");
    CHECK((w.ends == 1u) && (w.d.armed == 0u) && (w.d.running == 0u), "over");
    (void)host_tick(&w.d, 10u);
    CHECK(sent_count == 0u, "silent");
}

static void an_output_that_stays_on_is_not_hidden(void)
{
    begin(0u);
    w.lights = 1u; /* off() fails to switch it off */
    (void)drystage_output(&w.d, 2u, 1u);
    host_expect(DRYSTAGE_OUTPUT, p, "on");
    (void)host_hello(&w.d, 1u, DRYSTAGE_LOCKSTEP, 6u, 0u);
    host_expect(DRYSTAGE_WELCOME, p, "welcome");
    host_expect(DRYSTAGE_LOG, p, "begun");
    (void)host_tick(&w.d, 10u);
    CHECK(done().outputs == 2u, "DONE says that it is on");
}

static void real_time_has_its_own_clock(void)
{
    drystage_synced_msg s;
    uint8_t q[DRYSTAGE_SYNC_SIZE] = {77u, 0u, 0u, 0u};
    start();
    w.clock = 0xFFFFFF00u;
    (void)host_hello(&w.d, 1u, DRYSTAGE_REAL_TIME, 1u, 5000u);
    host_expect(DRYSTAGE_WELCOME, p, "welcome");
    host_expect(DRYSTAGE_LOG, p, "begun");
    w.clock += 1000u; /* wraps */
    CHECK(drystage_now(&w.d) == 6000u, "the board's clock since HELLO");
    baro(999999u);
    CHECK(drystage_now(&w.d) == 6000u, "a sample doesn't move it");
    (void)host_say(&w.d, DRYSTAGE_SYNC, q, sizeof q);
    host_expect(DRYSTAGE_SYNCED, p, "synced");
    drystage_get_synced(p, &s);
    CHECK((s.time == 77u) && (s.board_time == 6000u), "both clocks");
}

static void an_edge_has_the_time_of_its_stamp(void)
{
    drystage_output_msg m;
    begin(0u);
    CHECK((drystage_running(&w.d) == 1u) && (drystage_real_time(&w.d) == 0u), "lockstep");
    (void)host_tick(&w.d, 700u);
    (void)done();
    CHECK(drystage_output_at(&w.d, 1u, 1u, 123456u) == DRYSTAGE_OK, "a stamp without a clock");
    host_expect(DRYSTAGE_OUTPUT, p, "output");
    drystage_get_output(p, &m);
    CHECK((m.time == 700u) && (m.channel == 1u) && (m.on == 1u), "has the time of the last TICK");
    w.clock = 0xFFFFFF00u;
    (void)host_hello(&w.d, 1u, DRYSTAGE_REAL_TIME, 1u, 5000u);
    CHECK((drystage_running(&w.d) == 1u) && (drystage_real_time(&w.d) == 1u), "real time");
    sent_count = 0u;
    w.clock += 2000u; /* wraps */
    CHECK(drystage_output_at(&w.d, 1u, 1u, (uint32_t)(0xFFFFFF00uL + 300u)) == DRYSTAGE_OK, "stamped 1700 us ago");
    host_expect(DRYSTAGE_OUTPUT, p, "output");
    drystage_get_output(p, &m);
    CHECK(m.time == 5300u, "and reported so");
    CHECK(drystage_output_at(&w.d, 4u, 1u, 0u) == DRYSTAGE_ERR_CHANNEL, "no such output");
    (void)host_say(&w.d, DRYSTAGE_BYE, NULL, 0u);
    CHECK((drystage_running(&w.d) == 0u), "over");
}

static void announce_says_restarted(void)
{
    drystage_welcome_msg m;
    start();
    CHECK(drystage_announce(&w.d) == DRYSTAGE_OK, "announce");
    host_expect(DRYSTAGE_WELCOME, p, "unasked");
    drystage_get_welcome(p, &m);
    CHECK((m.nonce == 0u) && (m.boots == 7u), "nobody asked");
    (void)host_tick(&w.d, 10u);
    CHECK(sent_count == 0u, "no run is on");
}

static void calls_from_the_wrong_place(void)
{
    begin(0u);
    baro(1u);
    CHECK(w.nested == DRYSTAGE_ERR_BUSY, "feed from inside feed");
    w.config.write = write_that_calls_back;
    (void)host_tick(&w.d, 2u);
    CHECK(w.nested == DRYSTAGE_ERR_BUSY, "log from inside write");
    CHECK(done().time == 2u, "the frame being written is whole");
    CHECK(drystage_first_error(&w.d) == DRYSTAGE_ERR_BUSY, "kept");
    CHECK(drystage_log(&w.d, "afterwards") == DRYSTAGE_OK, "and all goes on");
}

static void wrong_config(void)
{
    start();
    w.config.off = NULL;
    CHECK(drystage_start(&w.d, &w.config, 0u) == DRYSTAGE_ERR_CONFIG, "off is required");
    w.config.off = on_off;
    w.config.begin = NULL;
    CHECK(drystage_start(&w.d, &w.config, 0u) == DRYSTAGE_ERR_CONFIG, "begin is required");
    w.config.begin = on_begin;
    w.config.write = NULL;
    CHECK(drystage_start(&w.d, &w.config, 0u) == DRYSTAGE_ERR_CONFIG, "write is required");
    CHECK(host_hello(&w.d, 1u, DRYSTAGE_LOCKSTEP, 1u, 0u) == DRYSTAGE_ERR_BUSY, "and nothing is called");
    CHECK(drystage_announce(&w.d) == DRYSTAGE_ERR_BUSY, "nor sent");
    CHECK(drystage_log(&w.d, "x") == DRYSTAGE_ERR_BUSY, "nor said");
    CHECK(drystage_first_error(&w.d) == DRYSTAGE_ERR_CONFIG, "the first cause is kept");
    w.config.write = on_write;
    w.config.channels = 17u;
    CHECK(drystage_start(&w.d, &w.config, 0u) == DRYSTAGE_ERR_CONFIG, "17 outputs");
    w.config.channels = 255u;
    CHECK(drystage_start(&w.d, &w.config, 0u) == DRYSTAGE_ERR_CONFIG, "255 outputs");
    CHECK(drystage_output(&w.d, 200u, 1u) == DRYSTAGE_ERR_CHANNEL, "a channel that no board has");
}

static void write_that_fails(void)
{
    size_t size;
    uint8_t seq;
    begin(0u);
    w.write_gives = -42;
    CHECK(drystage_log(&w.d, "lost") == DRYSTAGE_ERR_WRITE, "it says so");
    w.write_gives = 0;
    CHECK(drystage_log(&w.d, "kept") == DRYSTAGE_OK, "goes on");
    CHECK(host_hear(p, &size, &seq) == DRYSTAGE_LOG, "log");
    CHECK(seq == 3u, "WELCOME 0, log of begin 1, lost 2: the host sees the gap");
    CHECK(drystage_first_error(&w.d) == DRYSTAGE_ERR_WRITE, "kept");
}

static void long_text_is_cut(void)
{
    char text[100];
    size_t size;
    uint8_t seq;
    begin(0u);
    (void)memset(text, 'x', sizeof text);
    text[99] = '\0';
    (void)drystage_log(&w.d, text);
    CHECK((host_hear(p, &size, &seq) == DRYSTAGE_LOG) && (size == 68u), "64 characters");
    (void)drystage_report(&w.d, text, -1, 2, 3);
    CHECK((host_hear(p, &size, &seq) == DRYSTAGE_REPORT) && (size == DRYSTAGE_REPORT_SIZE), "16 characters");
    CHECK(drystage_get_i32(&p[20]) == -1, "and what follows is not touched");
}

/* The check values of RFC 3720, B.4. */
static void crc_of_the_rfc(void)
{
    uint8_t b[32];
    unsigned int i;
    (void)memset(b, 0, sizeof b);
    CHECK(drystage_crc(b, 32u) == 0x8A9136AAuL, "zeros");
    (void)memset(b, 0xFF, sizeof b);
    CHECK(drystage_crc(b, 32u) == 0x62A8AB43uL, "ones");
    for (i = 0u; i < 32u; i++) {
        b[i] = (uint8_t)i;
    }
    CHECK(drystage_crc(b, 32u) == 0x46DD794EuL, "rising");
    CHECK(host_crc(b, 32u) == 0x46DD794EuL, "the second path");
}

/* Sends TEST with a guard word made from a nonce, and gives what TESTED says. */
static uint8_t test(uint32_t nonce, uint8_t channel, uint16_t length)
{
    uint8_t q[DRYSTAGE_TEST_SIZE];
    size_t size;
    uint8_t seq;
    drystage_test_msg m = {.nonce = 0xABCDu, .guard = nonce ^ DRYSTAGE_TEST_GUARD, .channel = channel, .length = length};
    drystage_tested_msg a;
    unsigned int code;
    drystage_put_test(q, &m);
    (void)host_say(&w.d, DRYSTAGE_TEST, q, sizeof q);
    do {
        code = host_hear(p, &size, &seq);
    } while (code == DRYSTAGE_OUTPUT);
    CHECK(code == DRYSTAGE_TESTED, "each TEST is answered");
    drystage_get_tested(p, &a);
    CHECK((a.nonce == 0xABCDu) && (a.channel == channel), "by its own nonce and channel");
    return a.refused;
}

static void begin_real_time(void)
{
    start();
    CHECK(host_hello(&w.d, 1u, DRYSTAGE_REAL_TIME, 99u, 0u) == DRYSTAGE_FRAME, "hello");
    host_expect(DRYSTAGE_WELCOME, p, "welcome");
    host_expect(DRYSTAGE_LOG, p, "the log of begin");
}

static void test_pulses_one_output(void)
{
    begin_real_time();
    CHECK((test(99u, 2u, 20u) == DRYSTAGE_TEST_OBEYED) && (w.tests == 1u) && (w.d.outputs == 2u), "obeyed");
    CHECK((test(99u, 1u, 20u) == DRYSTAGE_TEST_BUSY) && (w.tests == 1u), "one at a time");
    (void)host_tick(&w.d, 5u);
    CHECK(done().armed == 0u, "and is not armed by it");
    baro(5u);
    CHECK(w.d.outputs == 0u, "a sample ends the pulse");
    host_expect(DRYSTAGE_OUTPUT, p, "and that is told");
    CHECK((test(99u, 2u, 20u) == DRYSTAGE_TEST_TOUCHED) && (w.tests == 1u), "from then on it is refused");
    (void)host_say(&w.d, DRYSTAGE_BYE, NULL, 0u);
    (void)host_hello(&w.d, 1u, DRYSTAGE_REAL_TIME, 7u, 0u);
    host_expect(DRYSTAGE_WELCOME, p, "welcome");
    host_expect(DRYSTAGE_LOG, p, "begun");
    CHECK(test(7u, 2u, 20u) == DRYSTAGE_TEST_TOUCHED, "whatever the host says");
}

static void test_is_over_by_its_ends(void)
{
    uint8_t nonce[DRYSTAGE_RESTART_SIZE] = {1u, 0u, 0u, 0u};
    begin_real_time();
    (void)test(99u, 2u, 20u);
    (void)host_say(&w.d, DRYSTAGE_BYE, NULL, 0u);
    CHECK(w.d.outputs == 0u, "BYE");
    begin_real_time();
    command(DRYSTAGE_DISARM);
    CHECK(test(99u, 2u, 20u) == DRYSTAGE_TEST_TOUCHED, "any command");
    (void)host_say(&w.d, DRYSTAGE_RESTART, nonce, sizeof nonce);
    (void)host_hello(&w.d, 1u, DRYSTAGE_REAL_TIME, 3u, 0u);
    host_expect(DRYSTAGE_WELCOME, p, "welcome");
    host_expect(DRYSTAGE_LOG, p, "begun");
    CHECK(test(3u, 2u, 20u) == DRYSTAGE_TEST_OBEYED, "new again after power-up");
    (void)host_say(&w.d, DRYSTAGE_RESTART, nonce, sizeof nonce);
    CHECK(w.d.outputs == 0u, "RESTART");
}

static void test_is_refused(void)
{
    begin(0u);
    CHECK(test(99u, 2u, 20u) == DRYSTAGE_TEST_LOCKSTEP, "no clock would end the pulse");
    begin_real_time();
    CHECK(test(98u, 2u, 20u) == DRYSTAGE_TEST_GUARD_WRONG, "the guard word of another run");
    CHECK(test(99u ^ DRYSTAGE_TEST_GUARD, 2u, 20u) == DRYSTAGE_TEST_GUARD_WRONG, "none");
    CHECK(test(99u, 0u, 20u) == DRYSTAGE_TEST_NONSENSE, "channels begin with 1");
    CHECK(test(99u, 4u, 20u) == DRYSTAGE_TEST_NONSENSE, "and end with the last");
    CHECK(test(99u, 2u, 0u) == DRYSTAGE_TEST_NONSENSE, "no time");
    CHECK(test(99u, 2u, DRYSTAGE_TEST_MOST + 1u) == DRYSTAGE_TEST_NONSENSE, "too long");
    drystage_armed(&w.d, 1u);
    CHECK(test(99u, 2u, 20u) == DRYSTAGE_TEST_ARMED, "armed");
    drystage_armed(&w.d, 0u);
    CHECK((w.tests == 0u) && (w.d.outputs == 0u), "the firmware never heard of them");
    w.test_gives = DRYSTAGE_TEST_OTHER;
    CHECK((test(99u, 2u, 20u) == DRYSTAGE_TEST_OTHER) && (w.tests == 1u), "a reason of its own");
    w.config.test = NULL;
    CHECK((test(99u, 2u, 20u) == DRYSTAGE_TEST_OTHER) && (w.tests == 1u), "not offered");
}

static void test_before_hello_is_not_heard(void)
{
    uint8_t q[DRYSTAGE_TEST_SIZE];
    drystage_test_msg m = {.nonce = 1u, .guard = DRYSTAGE_TEST_GUARD, .channel = 2u, .length = 20u};
    start();
    drystage_put_test(q, &m);
    (void)host_say(&w.d, DRYSTAGE_TEST, q, sizeof q);
    CHECK((w.tests == 0u) && (sent_count == 0u), "only HELLO and RESTART are heard");
}

int main(void)
{
    test_pulses_one_output();
    test_is_over_by_its_ends();
    test_is_refused();
    test_before_hello_is_not_heard();
    silent_until_hello();
    welcome_says_what_it_can();
    wrong_version_or_mode_begins_nothing();
    done_tells_the_truth();
    the_clock_wraps();
    done_may_come_later();
    damage_is_counted_in_done();
    blocks_are_as_bytes();
    settings_are_answered();
    restart_is_silent();
    hello_within_a_run_begins_anew();
    bye_ends();
    an_output_that_stays_on_is_not_hidden();
    real_time_has_its_own_clock();
    an_edge_has_the_time_of_its_stamp();
    announce_says_restarted();
    calls_from_the_wrong_place();
    wrong_config();
    write_that_fails();
    long_text_is_cut();
    crc_of_the_rfc();
    return check_end("session");
}

/* Golden frames through the library: those of a host are fed to it, those of a board are made by it.
 * Usage: vectors messages.txt corrupt.txt */
#include "check.h"

static uint8_t got[DRYSTAGE_MAX_FRAME]; /* the payload that the last callback's struct packs to */
static size_t got_count;
static drystage board;

#define GOT(kind, KIND)                                                        \
    static void got_##kind(void *user, const drystage_##kind##_msg *m)         \
    {                                                                          \
        (void)user;                                                            \
        drystage_put_##kind(got, m);                                           \
        got_count = KIND;                                                      \
    }
GOT(hello, DRYSTAGE_HELLO_SIZE)
GOT(imu, DRYSTAGE_IMU_SIZE)
GOT(baro, DRYSTAGE_BARO_SIZE)
GOT(gnss, DRYSTAGE_GNSS_SIZE)
GOT(battery, DRYSTAGE_BATTERY_SIZE)
GOT(command, DRYSTAGE_COMMAND_SIZE)

static int got_setting(void *user, const char *name, int32_t *value)
{
    (void)user;
    drystage_put_text(got, name, 24u);
    drystage_put_i32(&got[24], *value);
    got_count = DRYSTAGE_SETTING_SIZE;
    return 1;
}

static void got_circuits(void *user, const drystage_circuits_msg *m)
{
    (void)user;
    drystage_put_u32(got, m->time);
    drystage_put_u16(&got[4], m->open);
    drystage_put_u16(&got[6], m->shorted);
    got_count = DRYSTAGE_CIRCUITS_SIZE;
}

static void got_mag(void *user, const drystage_mag_msg *m)
{
    (void)user;
    drystage_put_u32(got, m->time);
    drystage_put_i32(&got[4], m->field_x);
    drystage_put_i32(&got[8], m->field_y);
    drystage_put_i32(&got[12], m->field_z);
    got_count = DRYSTAGE_MAG_SIZE;
}

static int got_tick(void *user, uint32_t time)
{
    (void)user;
    drystage_put_u32(got, time);
    got_count = DRYSTAGE_TICK_SIZE;
    return 1;
}

static void got_end(void *user) { (void)user; got_count = DRYSTAGE_BYE_SIZE; }
static void off(void *user) { (void)user; }

static const drystage_config config = {
    .name = "vectors", .channels = 16u, .continuity = 1u, .user = NULL,
    .write = check_write, .off = off, .begin = got_hello, .tick = got_tick, .clock = NULL, .restart = NULL,
    .end = got_end, .setting = got_setting, .command = got_command,
    .imu = got_imu, .baro = got_baro, .gnss = got_gnss, .battery = got_battery, .circuits = got_circuits, .mag = got_mag,
};

static void fresh(uint8_t seq)
{
    CHECK(drystage_start(&board, &config, 0u) == DRYSTAGE_OK, "start");
    board.running = 1u;
    board.seq = seq;
    sent_count = 0u;
    got_count = 0xFFu;
}

/* Feeds a frame of a host and looks at what the callback made of it. SYNC, TEST and RESTART give no
 * struct: the first two are seen by their answer, the last by silence. */
static void from_host(const char *name, unsigned int type, const uint8_t *payload, size_t size, const uint8_t *line, size_t n)
{
    size_t i;
    int r = 0;
    fresh(0u);
    if (type == DRYSTAGE_TICK) {
        board.now = drystage_get_u32(payload) - 1u; /* a TICK from long before would not move the clock */
    }
    for (i = 0u; i < n; i++) {
        r = drystage_feed(&board, line[i]);
        CHECK(r == ((i + 1u < n) ? 0 : DRYSTAGE_FRAME), name);
    }
    CHECK(board.expected == (uint8_t)(board.in[2] + 1u), name);
    if (type == DRYSTAGE_RESTART) {
        CHECK((board.running == 0u) && (sent_count == 0u) && (board.boots == 1u), name);
    } else if (type == DRYSTAGE_SYNC) {
        CHECK((sent_count == DRYSTAGE_SYNCED_SIZE + 8u), name);
    } else if (type == DRYSTAGE_TEST) {
        CHECK((sent_count == DRYSTAGE_TESTED_SIZE + 8u), name);
    } else if ((type == DRYSTAGE_HELLO) && ((payload[0] != DRYSTAGE_VERSION) || (payload[1] != DRYSTAGE_LOCKSTEP))) {
        CHECK((board.running == 0u) && (got_count == 0xFFu) && (sent_count > 0u), name);
    } else {
        CHECK((got_count == size) && (memcmp(got, payload, size) == 0), name);
    }
}

/* Says what the payload says and compares the line. */
static void say(unsigned int type, const uint8_t *p, size_t size)
{
    char text[DRYSTAGE_MAX_TAIL + 1u];
    drystage_report_msg report;
    drystage_continuity_msg resistance;
    drystage_output_msg output;
    drystage_done_msg done;
    board.now = drystage_get_u32(p);
    switch (type) {
    case DRYSTAGE_OUTPUT:
        drystage_get_output(p, &output);
        board.outputs = (output.on != 0u) ? 0u : 0xFFFFu;
        (void)drystage_output(&board, output.channel, output.on);
        break;
    case DRYSTAGE_REPORT:
        drystage_get_report(p, &report);
        (void)drystage_report(&board, report.phase, report.height, report.speed, report.apogee);
        break;
    case DRYSTAGE_CONTINUITY:
        drystage_get_continuity(p, &resistance);
        (void)drystage_continuity(&board, resistance.channel, resistance.resistance);
        break;
    case DRYSTAGE_LOG:
        (void)memcpy(text, &p[DRYSTAGE_LOG_SIZE], size - DRYSTAGE_LOG_SIZE);
        text[size - DRYSTAGE_LOG_SIZE] = '\0';
        (void)drystage_log(&board, text);
        break;
    case DRYSTAGE_DONE:
        drystage_get_done(p, &done);
        board.due = done.time;
        board.owes = 1u;
        board.armed = done.armed;
        board.outputs = done.outputs;
        board.bad = done.bad;
        board.lost = done.lost;
        (void)drystage_done(&board);
        break;
    default:
        break;
    }
}

/* WELCOME, ACCEPT, SYNCED and TESTED answer; their structs are compared here, the answers in session.c. */
static int repacks(unsigned int type, const uint8_t *p)
{
    uint8_t q[DRYSTAGE_MAX_FRAME];
    drystage_welcome_msg w;
    drystage_accept_msg a;
    drystage_synced_msg s;
    drystage_tested_msg t;
    size_t n = 0u;
    switch (type) {
    case DRYSTAGE_WELCOME: drystage_get_welcome(p, &w); drystage_put_welcome(q, &w); n = DRYSTAGE_WELCOME_SIZE; break;
    case DRYSTAGE_ACCEPT: drystage_get_accept(p, &a); drystage_put_accept(q, &a); n = DRYSTAGE_ACCEPT_SIZE; break;
    case DRYSTAGE_SYNCED: drystage_get_synced(p, &s); drystage_put_synced(q, &s); n = DRYSTAGE_SYNCED_SIZE; break;
    case DRYSTAGE_TESTED: drystage_get_tested(p, &t); drystage_put_tested(q, &t); n = DRYSTAGE_TESTED_SIZE; break;
    default: break;
    }
    if (n > 0u) {
        CHECK(memcmp(p, q, n) == 0, "struct and payload");
    }
    return n > 0u;
}

/* An OUTPUT of a channel that no board has can't be said; the library refuses it. */
static void from_board(const char *name, unsigned int type, uint8_t seq, const uint8_t *payload, size_t size, const uint8_t *line, size_t n)
{
    int sayable = 1;
    fresh(seq);
    if (repacks(type, payload)) {
        return;
    }
    if ((type == DRYSTAGE_OUTPUT) || (type == DRYSTAGE_CONTINUITY)) {
        sayable = (payload[4] >= 1u) && (payload[4] <= 16u) && ((type != DRYSTAGE_OUTPUT) || (payload[5] <= 1u));
    }
    say(type, payload, size);
    if (sayable) {
        CHECK((sent_count == n) && (memcmp(sent, line, n) == 0), name);
    } else if ((payload[4] < 1u) || (payload[4] > 16u)) {
        CHECK((sent_count == 0u) && (drystage_first_error(&board) == DRYSTAGE_ERR_CHANNEL), name);
    } else {
        CHECK(sent_count == n, name); /* on is sent as 1, whatever is not zero */
    }
}

static void messages(FILE *f)
{
    char text[1024];
    char name[32];
    char payload_hex[256];
    char line_hex[512];
    unsigned int type;
    unsigned int seq;
    unsigned int rows = 0u;
    while (fgets(text, (int)sizeof text, f) != NULL) {
        uint8_t payload[128];
        uint8_t line[128];
        size_t size;
        size_t n;
        if (sscanf(text, "%31[A-Z] %x %x %255s %511s", name, &type, &seq, payload_hex, line_hex) != 5) {
            CHECK(text[0] == '#', text);
            continue;
        }
        rows++;
        size = check_hex(payload_hex, payload, sizeof payload);
        n = check_hex(line_hex, line, sizeof line);
        CHECK(n == size + 8u, name);
        if (type < 0x80u) {
            from_host(name, type, payload, size, line, n);
        } else {
            from_board(name, type, (uint8_t)seq, payload, size, line, n);
        }
    }
    CHECK(rows == 92u, "four golden frames of each of the 23 messages");
}

static void corrupt(FILE *f)
{
    char text[2048];
    char name[64];
    char hex[1600];
    int want[7]; /* frames, cobs, long, crc, unknown, length, lost */
    unsigned int rows = 0u;
    while (fgets(text, (int)sizeof text, f) != NULL) {
        uint8_t line[800];
        int have[6] = {0, 0, 0, 0, 0, 0};
        size_t n;
        size_t i;
        if (sscanf(text, "%63s %d %d %d %d %d %d %d %1599s", name, &want[0], &want[1], &want[2], &want[3], &want[4],
                &want[5], &want[6], hex) != 9) {
            CHECK(text[0] == '#', text);
            continue;
        }
        rows++;
        fresh(0u);
        n = check_hex(hex, line, sizeof line);
        for (i = 0u; i < n; i++) {
            int r = drystage_feed(&board, line[i]);
            have[0] += (r == DRYSTAGE_FRAME);
            have[1] += (r == DRYSTAGE_BAD_COBS);
            have[2] += (r == DRYSTAGE_BAD_LONG);
            have[3] += (r == DRYSTAGE_BAD_CRC);
            have[4] += (r == DRYSTAGE_BAD_UNKNOWN);
            have[5] += (r == DRYSTAGE_BAD_LENGTH);
        }
        CHECK(memcmp(have, want, sizeof have) == 0, name);
        CHECK(board.lost == want[6], name);
        CHECK(board.bad == want[1] + want[2] + want[3] + want[4] + want[5], name);
    }
    CHECK(rows >= 25u, "damaged lines");
}

int main(int argc, char **argv)
{
    FILE *f;
    FILE *g;
    if ((argc != 3) || ((f = fopen(argv[1], "r")) == NULL) || ((g = fopen(argv[2], "r")) == NULL)) {
        (void)fprintf(stderr, "usage: vectors messages.txt corrupt.txt\n");
        return EXIT_FAILURE;
    }
    messages(f);
    corrupt(g);
    (void)fclose(f);
    (void)fclose(g);
    return check_end("vectors");
}

/* The library's decoder as a child process, for comparison with another one. On standard input: two
 * bytes of length (most significant first), then so many bytes, again and again. For each such line a
 * fresh decoder answers with lines of text: "frame TYPE SEQ PAYLOAD", "error NUMBER" and at last
 * "end BAD LOST PENDING". */
#include "check.h"

static int on_write(void *user, const uint8_t *bytes, size_t count) { (void)user; (void)bytes; (void)count; return 0; }
static void on_off(void *user) { (void)user; }
static void on_begin(void *user, const drystage_hello_msg *m) { (void)user; (void)m; }
static int on_tick(void *user, uint32_t time) { (void)user; (void)time; return 1; }

static const drystage_config config = {.name = "decoder", .write = on_write, .off = on_off, .begin = on_begin, .tick = on_tick};

static void tell(const drystage *d, int r)
{
    int i;
    if (r < 0) {
        (void)printf("error %d\n", r);
    } else if (r == DRYSTAGE_FRAME) {
        (void)printf("frame %02x %02x ", (unsigned int)d->in[1], (unsigned int)d->in[2]);
        for (i = 0; i < drystage_host_size(d->in[1]); i++) {
            (void)printf("%02x", (unsigned int)d->in[3 + i]);
        }
        (void)printf("\n");
    } else {
        /* more to come */
    }
}

int main(void)
{
    int high;
    int low;
    while (((high = getchar()) != EOF) && ((low = getchar()) != EOF)) {
        int left = high * 256 + low;
        drystage d;
        if (drystage_start(&d, &config, 0u) != DRYSTAGE_OK) {
            return EXIT_FAILURE;
        }
        for (; left > 0; left--) {
            int c = getchar();
            if (c == EOF) {
                return EXIT_FAILURE;
            }
            d.running = 1u; /* whatever was fed, all messages are looked at */
            tell(&d, drystage_feed(&d, (uint8_t)c));
        }
        (void)printf("end %u %u %d\n", (unsigned int)d.bad, (unsigned int)d.lost, (d.count > 0u) || (d.too_long != 0u));
        (void)fflush(stdout);
    }
    return EXIT_SUCCESS;
}

/* The host's side for the tests, written apart from the library: another way to the same bytes. */
#ifndef HOST_H
#define HOST_H

#include "check.h"

static uint8_t host_seq;

/* CRC-32C by long division over the message's bits, most significant first on a reversed byte. */
static inline uint32_t host_crc(const uint8_t *bytes, size_t count)
{
    uint32_t r = 0xFFFFFFFFu;
    uint32_t reversed = 0u;
    size_t i;
    int bit;
    for (i = 0u; i < count; i++) {
        for (bit = 0; bit < 8; bit++) {
            uint32_t in = ((uint32_t)bytes[i] >> bit) & 1u;
            uint32_t top = (r >> 31) ^ in;
            r = (r << 1) ^ ((top != 0u) ? 0x1EDC6F41u : 0u);
        }
    }
    for (bit = 0; bit < 32; bit++) {
        reversed |= ((r >> bit) & 1u) << (31 - bit);
    }
    return reversed ^ 0xFFFFFFFFu;
}

/* Makes a frame with its delimiter and gives its length. */
static inline size_t host_frame(uint8_t *line, unsigned int type, const uint8_t *payload, size_t size)
{
    uint8_t raw[128];
    size_t n = 0u;
    size_t at = 0u;
    size_t start = 0u;
    raw[n++] = (uint8_t)type;
    raw[n++] = host_seq++;
    if (size > 0u) {
        (void)memcpy(&raw[n], payload, size);
    }
    n += size;
    drystage_put_u32(&raw[n], host_crc(raw, n));
    n += 4u;
    for (;;) { /* a block: the distance, then bytes up to the next zero or the end */
        size_t end = start;
        while ((end < n) && (raw[end] != 0u)) {
            end++;
        }
        line[at++] = (uint8_t)(end - start + 1u);
        (void)memcpy(&line[at], &raw[start], end - start);
        at += end - start;
        if (end == n) {
            break;
        }
        start = end + 1u;
    }
    line[at++] = 0u;
    return at;
}

/* Sends a frame to a board. */
static inline int host_say(drystage *d, unsigned int type, const uint8_t *payload, size_t size)
{
    uint8_t line[160];
    size_t n = host_frame(line, type, payload, size);
    size_t i;
    int r = 0;
    for (i = 0u; i < n; i++) {
        r = drystage_feed(d, line[i]);
    }
    return r;
}

static inline int host_hello(drystage *d, uint8_t version, uint8_t mode, uint32_t nonce, uint32_t time)
{
    uint8_t p[DRYSTAGE_HELLO_SIZE];
    drystage_hello_msg m = {.version = version, .mode = mode, .nonce = nonce, .time = time, .imu_hz = 200u, .role = "sustainer"};
    drystage_put_hello(p, &m);
    return host_say(d, DRYSTAGE_HELLO, p, sizeof p);
}

static inline int host_tick(drystage *d, uint32_t time)
{
    uint8_t p[DRYSTAGE_TICK_SIZE];
    drystage_put_u32(p, time);
    return host_say(d, DRYSTAGE_TICK, p, sizeof p);
}

/* Takes the first frame out of what the board wrote; 0: there is none. Every frame must be sound. */
static inline unsigned int host_hear(uint8_t *payload, size_t *size, uint8_t *seq)
{
    uint8_t raw[128];
    size_t n = 0u;
    size_t end = 0u;
    size_t i = 0u;
    if (sent_count == 0u) {
        return 0u;
    }
    while ((end < sent_count) && (sent[end] != 0u)) {
        end++;
    }
    CHECK(end < sent_count, "a frame ends with a delimiter");
    while (i < end) {
        size_t distance = sent[i];
        CHECK((distance > 0u) && (i + distance <= end), "stuffing");
        (void)memcpy(&raw[n], &sent[i + 1u], distance - 1u);
        n += distance - 1u;
        i += distance;
        if (i < end) {
            raw[n++] = 0u;
        }
    }
    CHECK((n >= 6u) && (drystage_get_u32(&raw[n - 4u]) == host_crc(raw, n - 4u)), "check");
    *seq = raw[1];
    *size = n - 6u;
    (void)memcpy(payload, &raw[2], *size);
    (void)memmove(sent, &sent[end + 1u], sent_count - end - 1u);
    sent_count -= end + 1u;
    return raw[0];
}

/* Takes a frame that must be of this type. */
static inline void host_expect(unsigned int type, uint8_t *payload, const char *what)
{
    size_t size;
    uint8_t seq;
    CHECK(host_hear(payload, &size, &seq) == type, what);
}

#endif

/* Stand-in parts as a process: a line of standard input is a command, a line of standard output its answer. For
 * drivers in other languages. The first part of the command's line:
 *
 *     part NAME         powers a part; ok
 *     values P T AX AY AZ GX GY GZ MX MY MZ   in the units of part_values; ok
 *     fix MS LAT LON HEIGHT EAST NORTH KIND SATELLITES   the sentences of a receiver, see gnss.h, and an empty line
 *     faults SILENT STUCK IDENTITY FLIPS STRETCH; ok
 *     power             loses the supply and gets it back; ok
 *     after NS          lets time pass; ok
 *     edges NS          lets time pass; the number of rising edges of the interrupt pin
 *     pin               0 or 1
 *     i2c ADDRESS BYTES COUNT   writes BYTES in hex (- for none), then reads COUNT; hex, nack, refused or blocked
 *     spi BYTES         hex
 */
#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "gnss.h"
#include "part.h"

#define BYTE_NS 22500u /* nine bits at 400 kHz */

static any_part any;

static int digit(int c)
{
    static const char digits[] = "0123456789abcdef";
    const char *at = (c == 0) ? NULL : strchr(digits, c);
    return (at == NULL) ? -1 : (int)(at - digits);
}

static unsigned bytes_of(const char *hex, uint8_t *out, unsigned most)
{
    unsigned n = 0u;
    while ((n < most) && (digit(hex[0]) >= 0) && (digit(hex[1]) >= 0)) {
        out[n] = (uint8_t)((digit(hex[0]) * 16) + digit(hex[1]));
        n++;
        hex += 2;
    }
    return n;
}

static void pass(uint64_t ns) { part_advance(&any.p, any.p.now + ns); }

static int begins(unsigned address, int reads)
{
    unsigned i;
    pass(BYTE_NS);
    for (i = 0u; i < 2u; i++) {
        if (any.p.kind->addresses[i] == address) {
            return part_begin(&any.p, reads);
        }
    }
    return 0;
}

static void i2c(unsigned address, const char *hex, unsigned count)
{
    uint8_t bytes[256];
    unsigned n = bytes_of(hex, bytes, sizeof bytes);
    unsigned i;
    if (part_blocks(&any.p)) {
        (void)puts("blocked");
        return;
    }
    if (((n > 0u) || (count == 0u)) && !begins(address, 0)) {
        (void)puts("nack");
        return;
    }
    for (i = 0u; i < n; i++) {
        pass(BYTE_NS + any.p.faults.stretch);
        if (!part_write(&any.p, bytes[i])) {
            part_end(&any.p);
            (void)puts("refused");
            return;
        }
    }
    if ((count > 0u) && !begins(address, 1)) {
        (void)puts("nack");
        return;
    }
    for (i = 0u; i < count; i++) {
        pass(BYTE_NS + any.p.faults.stretch);
        (void)printf("%02x", part_read(&any.p));
    }
    part_end(&any.p);
    (void)puts((count == 0u) ? "ok" : "");
}

static void spi(const char *hex)
{
    uint8_t bytes[256];
    unsigned n = bytes_of(hex, bytes, sizeof bytes);
    unsigned i;
    part_select(&any.p);
    for (i = 0u; i < n; i++) {
        pass(8000u); /* 1 MHz */
        (void)printf("%02x", part_exchange(&any.p, bytes[i]));
    }
    part_end(&any.p);
    (void)puts("");
}

static unsigned edges(uint64_t ns)
{
    uint64_t until = any.p.now + ns;
    unsigned n = 0u;
    int was = part_pin(&any.p);
    while (any.p.now < until) {
        uint64_t to = part_next(&any.p);
        part_advance(&any.p, (to < until) ? to : until);
        n += ((was == 0) && (part_pin(&any.p) != 0)) ? 1u : 0u;
        was = part_pin(&any.p);
    }
    return n;
}

/* Gives 0 for a line that isn't a command. */
static int obey(const char *line)
{
    char word[600];
    unsigned a, b, c, d, e;
    uint64_t ns;
    part_values v;
    gnss_fix fix;
    if (sscanf(line, "part %15s", word) == 1) {
        const part_kind *kind = part_named(word);
        if (kind == NULL) {
            return 0;
        }
        part_start(&any.p, kind, 1u);
        part_power(&any.p);
    } else if (sscanf(line, "values %" SCNd64 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %" SCNd32,
                   &v.pressure, &v.temperature, &v.accel[0], &v.accel[1], &v.accel[2], &v.gyro[0], &v.gyro[1], &v.gyro[2], &v.mag[0], &v.mag[1], &v.mag[2]) == 11) {
        any.p.values = v;
    } else if (sscanf(line, "faults %u %u %u %u %u", &a, &b, &c, &d, &e) == 5) {
        part_faults f = {(uint8_t)a, (uint8_t)b, (uint8_t)c, d, e};
        any.p.faults = f;
    } else if (sscanf(line, "fix %" SCNu32 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %" SCNd32 " %u %u", &fix.ms, &fix.latitude, &fix.longitude,
                   &fix.height, &fix.east, &fix.north, &a, &b) == 8) {
        char text[GNSS_MOST];
        fix.kind = (uint8_t)a;
        fix.satellites = (uint8_t)b;
        (void)fwrite(text, 1u, gnss_sentences(&fix, text), stdout);
        (void)puts("");
        return 1;
    } else if (strcmp(line, "power\n") == 0) {
        part_power(&any.p);
    } else if (sscanf(line, "after %" SCNu64, &ns) == 1) {
        pass(ns);
    } else if (sscanf(line, "edges %" SCNu64, &ns) == 1) {
        (void)printf("%u\n", edges(ns));
        return 1;
    } else if (strcmp(line, "pin\n") == 0) {
        (void)printf("%d\n", part_pin(&any.p));
        return 1;
    } else if (sscanf(line, "i2c %u %599s %u", &a, word, &b) == 3) {
        i2c(a, word, b);
        return 1;
    } else if (sscanf(line, "spi %599s", word) == 1) {
        spi(word);
        return 1;
    } else {
        return 0;
    }
    (void)puts("ok");
    return 1;
}

int main(void)
{
    char line[700];
    while (fgets(line, sizeof line, stdin) != NULL) {
        if (((any.p.kind == NULL) && (strncmp(line, "part ", 5u) != 0)) || !obey(line)) {
            (void)puts("what?");
        }
        (void)fflush(stdout);
    }
    return 0;
}

/* What the host tests share: a check that counts, and lines of hexadecimal. */
#ifndef CHECK_H
#define CHECK_H

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "drystage.h"

static unsigned long checks;
static unsigned long failures;

#define CHECK(so, what)                                                        \
    do {                                                                       \
        checks++;                                                              \
        if (!(so)) {                                                           \
            failures++;                                                        \
            (void)fprintf(stderr, "%s:%d: %s: %s\n", __FILE__, __LINE__, (what), #so); \
        }                                                                      \
    } while (0)

/* The number of checks is printed, so that a test of nothing can be told from a good one. */
static inline int check_end(const char *name)
{
    (void)printf("%s: %lu checks, %lu failures\n", name, checks, failures);
    return ((failures == 0u) && (checks > 0u)) ? EXIT_SUCCESS : EXIT_FAILURE;
}

/* Takes hexadecimal, or a dash for nothing; gives the number of bytes. */
static inline size_t check_hex(const char *text, uint8_t *bytes, size_t room)
{
    size_t n = 0u;
    unsigned int v;
    if (text[0] == '-') {
        return 0u;
    }
    while ((n < room) && (sscanf(&text[2u * n], "%2x", &v) == 1)) {
        bytes[n] = (uint8_t)v;
        n++;
    }
    return n;
}

/* What the board wrote. */
static uint8_t sent[4096];
static size_t sent_count;

static inline int check_write(void *user, const uint8_t *bytes, size_t count)
{
    (void)user;
    if (sent_count + count > sizeof sent) {
        return -1;
    }
    (void)memcpy(&sent[sent_count], bytes, count);
    sent_count += count;
    return 0;
}

#endif

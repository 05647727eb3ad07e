/* What a GNSS receiver says on its serial line: GGA and RMC of NMEA 0183, each with checksum and line end. The dates and
 * times of day are those of a run that begins at midnight of 1 January 2000. */
#ifndef GNSS_H
#define GNSS_H

#include <stddef.h>
#include <stdint.h>

#define GNSS_MOST 166 /* bytes: two sentences of 82 at most, which the standard allows, and a bit */

typedef struct gnss_fix {
    uint32_t ms;        /* of the run */
    int32_t latitude;   /* 1e-7 deg, north is positive */
    int32_t longitude;  /* 1e-7 deg, east is positive */
    int32_t height;     /* mm above mean sea level */
    int32_t east;       /* mm/s */
    int32_t north;      /* mm/s */
    uint8_t kind;       /* 0 no fix, 2 horizontal only, 3 full */
    uint8_t satellites; /* used */
} gnss_fix;

/* Writes the sentences of a fix into GNSS_MOST bytes, and gives how many they are. */
size_t gnss_sentences(const gnss_fix *f, char *out);

#endif

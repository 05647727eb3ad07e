/* Two records in EEPROM, written in turn, so that a power cut at any byte leaves one valid. A byte takes
 * 3.4 ms, so only bytes that differ are written. What changes at each tick (the time, the ground pressure before
 * arming, the greatest height) is written with an event, or each half second of the climb: 120 writes a
 * flight, of the 100,000 that the part allows. */
#include "parts.h"

#include <avr/eeprom.h>
#include <string.h>

#define CLIMB_EVERY 500000 /* us */

typedef struct record {
    uint8_t turn; /* the newer is one ahead */
    uint16_t boots;
    flight_memory flight;
    uint32_t check;
} record;

#define CHECKED ((uint8_t)(sizeof(record) - sizeof(uint32_t)))

static record slots[2] EEMEM;
static record image;  /* the content of slots[image.turn % 2], or what is being written there */
static uint8_t at = (uint8_t)sizeof(record); /* the next byte of it to write */

static int sound(const record *r) { return drystage_crc((const uint8_t *)r, CHECKED) == r->check; }

static void write_next(const flight_memory *now)
{
    image.turn++;
    image.flight = *now;
    image.check = drystage_crc((const uint8_t *)&image, CHECKED);
    at = 0u;
}

void keep_load(flight_memory *kept, uint16_t *boots)
{
    record other;
    eeprom_read_block(&image, &slots[0], sizeof image);
    eeprom_read_block(&other, &slots[1], sizeof other);
    if (sound(&other) && (!sound(&image) || ((uint8_t)(other.turn - image.turn) == 1u))) {
        image = other;
    }
    if (!sound(&image)) {
        (void)memset(&image, 0, sizeof image);
    }
    image.boots++;
    *kept = image.flight;
    *boots = image.boots;
    write_next(kept);
}

int keep_busy(void) { return at < sizeof(record); }

static int changed(const flight_memory *a, const flight_memory *b)
{
    int climbs = (a->phase == PHASE_POWERED) || (a->phase == PHASE_UNPOWERED);
    return (a->valid != b->valid) || (a->armed != b->armed) || (a->phase != b->phase) || (a->liftoff != b->liftoff)
        || (a->burnout != b->burnout) || (a->staged != b->staged) || (a->drogue != b->drogue) || (a->main != b->main)
        || (climbs && (a->clock - b->clock >= CLIMB_EVERY));
}

void keep_work(const flight_memory *now)
{
    const uint8_t *bytes = (const uint8_t *)&image;
    uint8_t *slot = (uint8_t *)&slots[image.turn & 1u];
    if (!keep_busy()) {
        if (changed(now, &image.flight)) {
            write_next(now);
        }
    } else if (eeprom_is_ready()) {
        while (keep_busy() && (eeprom_read_byte(&slot[at]) == bytes[at])) {
            at++;
        }
        if (keep_busy()) {
            eeprom_write_byte(&slot[at], bytes[at]);
            at++;
        }
    } else {
        /* the last byte is being written */
    }
}

void keep_finish(const flight_memory *now)
{
    while (keep_busy() || changed(now, &image.flight)) {
        keep_work(now);
    }
    eeprom_busy_wait();
}

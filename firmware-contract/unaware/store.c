#include "store.h"

#include <avr/eeprom.h>
#include <string.h>
#include <util/crc16.h>

typedef struct record {
    uint8_t turn;
    uint8_t armed;
    memory state;
    uint16_t check;
} record;

#define ERASED 0xFF /* not fired; a byte whose writing was cut off counts as fired */

static uint8_t fired_bytes[OUTPUTS] EEMEM = {ERASED, ERASED, ERASED};
static record slots[2] EEMEM;
static record image;
static uint8_t at = (uint8_t)sizeof(record); /* the next byte to write */

static uint16_t check_of(const record *r)
{
    const uint8_t *b = (const uint8_t *)r;
    uint16_t crc = 0xFFFF;
    uint8_t i;
    for (i = 0; i < sizeof(record) - sizeof(uint16_t); i++) {
        crc = _crc_xmodem_update(crc, b[i]);
    }
    return crc;
}

uint8_t store_load(memory *m, uint8_t fired[OUTPUTS])
{
    record other;
    uint8_t i;
    for (i = 0; i < OUTPUTS; i++) {
        fired[i] = (eeprom_read_byte(&fired_bytes[i]) != ERASED) ? FIRED : UNFIRED;
    }
    eeprom_read_block(&image, &slots[0], sizeof image);
    eeprom_read_block(&other, &slots[1], sizeof other);
    if ((check_of(&other) == other.check) && ((check_of(&image) != image.check) || ((uint8_t)(other.turn - image.turn) == 1))) {
        image = other;
    }
    if (check_of(&image) != image.check) {
        memset(&image, 0, sizeof image);
    }
    *m = image.state;
    return image.armed;
}

/* The height is kept in steps of 10 m, and the ground only while the computer isn't armed yet. */
static uint8_t changed(const memory *m, uint8_t armed)
{
    const memory *was = &image.state;
    return (armed != image.armed) || (m->phase != was->phase) || (m->highest > was->highest + 10.0f);
}

static uint8_t store_fired(const uint8_t fired[OUTPUTS])
{
    uint8_t i;
    for (i = 0; i < OUTPUTS; i++) {
        uint8_t want = (fired[i] == FIRED) ? 0 : ERASED;
        if (eeprom_read_byte(&fired_bytes[i]) != want) {
            eeprom_write_byte(&fired_bytes[i], want);
            return 1;
        }
    }
    return 0;
}

void store_step(const memory *m, const uint8_t fired[OUTPUTS], uint8_t armed)
{
    const uint8_t *bytes = (const uint8_t *)&image;
    uint8_t *slot = (uint8_t *)&slots[image.turn & 1];
    if (!eeprom_is_ready() || store_fired(fired)) {
        return;
    }
    if (at == sizeof(record)) {
        if (changed(m, armed)) {
            image.turn++;
            image.armed = armed;
            image.state = *m;
            image.check = check_of(&image);
            at = 0;
        }
        return;
    }
    while ((at < sizeof(record)) && (eeprom_read_byte(&slot[at]) == bytes[at])) {
        at++;
    }
    if (at < sizeof(record)) {
        eeprom_write_byte(&slot[at], bytes[at]);
        at++;
    }
}

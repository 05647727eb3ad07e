/* The board's own settings, in SI units. */
#ifndef SETTINGS_H
#define SETTINGS_H

#include <stdint.h>

typedef enum setting {
    STAGING_CHANNEL,
    DROGUE_CHANNEL,
    MAIN_CHANNEL,
    PULSE,
    AXIAL_AXIS,
    SITE_TEMPERATURE,
    LIFTOFF_ACCELERATION,
    LIFTOFF_TIME,
    BURNOUT_ACCELERATION,
    STAGING_DELAY,
    STAGING_BY_COMMAND,
    STAGING_MIN_HEIGHT,
    STAGING_MIN_SPEED,
    STAGING_MAX_TILT,
    STAGING_LATEST,
    APOGEE_LOCKOUT_SPEED,
    DROGUE_DELAY,
    DROGUE_BACKUP,
    MAIN_HEIGHT,
    MAIN_LOCKOUT,
    MAIN_BACKUP,
    SETTINGS
} setting;

void settings_defaults(double *values); /* SETTINGS of them */

/* Sets a setting if it is known and in range; *value (thousandths) becomes its value afterwards. */
int settings_accept(double *values, const char *name, int32_t *value);

#endif

#include "settings.h"

#include <string.h>

#include "plain.h"

typedef struct row {
    const char *name;
    int whole; /* a plain number without a fraction */
    double standard;
    double least;
    double most;
} row;

static const row rows[SETTINGS] = {
    [STAGING_CHANNEL] = {"staging_channel", 1, 0.0, 0.0, 16.0},
    [DROGUE_CHANNEL] = {"drogue_channel", 1, 0.0, 0.0, 16.0},
    [MAIN_CHANNEL] = {"main_channel", 1, 0.0, 0.0, 16.0},
    [PULSE] = {"pulse", 0, 1.0, 0.001, 10.0},                                    /* s */
    [AXIAL_AXIS] = {"axial_axis", 1, 1.0, -3.0, 3.0},                            /* 1, 2, 3: x, y, z to the nose; negative: to the tail */
    [SITE_TEMPERATURE] = {"site_temperature", 0, 0.0, 0.0, 330.0},               /* K */
    [LIFTOFF_ACCELERATION] = {"liftoff_acceleration", 0, 25.0, 12.0, 200.0},     /* m/s2 */
    [LIFTOFF_TIME] = {"liftoff_time", 0, 0.1, 0.02, 2.0},                        /* s */
    [BURNOUT_ACCELERATION] = {"burnout_acceleration", 0, 3.0, -50.0, 20.0},      /* m/s2 */
    [STAGING_DELAY] = {"staging_delay", 0, 1.5, 0.0, 60.0},                      /* s */
    [STAGING_BY_COMMAND] = {"staging_by_command", 1, 0.0, 0.0, 1.0},
    [STAGING_MIN_HEIGHT] = {"staging_min_height", 0, 100.0, 0.0, 10000.0},       /* m */
    [STAGING_MIN_SPEED] = {"staging_min_speed", 0, 40.0, 0.0, 1000.0},           /* m/s */
    [STAGING_MAX_TILT] = {"staging_max_tilt", 0, 0.349, 0.0, 3.141},             /* rad */
    [STAGING_LATEST] = {"staging_latest", 0, 6.0, 0.0, 120.0},                   /* s after liftoff */
    [APOGEE_LOCKOUT_SPEED] = {"apogee_lockout_speed", 0, 40.0, 1.0, 1000.0},     /* m/s */
    [DROGUE_DELAY] = {"drogue_delay", 0, 0.0, 0.0, 60.0},                        /* s */
    [DROGUE_BACKUP] = {"drogue_backup", 0, 0.0, 0.0, 600.0},                     /* s after liftoff; 0: none */
    [MAIN_HEIGHT] = {"main_height", 0, 150.0, 0.0, 10000.0},                     /* m */
    [MAIN_LOCKOUT] = {"main_lockout", 0, 2.0, 0.0, 60.0},                        /* s after the drogue */
    [MAIN_BACKUP] = {"main_backup", 0, 0.0, 0.0, 600.0},                         /* s after the drogue; 0: none */
};

void settings_defaults(double *values)
{
    int i;
    for (i = 0; i < (int)SETTINGS; i++) {
        values[i] = rows[i].standard;
    }
}

static int allowed(int i, double v)
{
    const row *r = &rows[i];
    return (v >= r->least) && (v <= r->most) && (!r->whole || !(v > (double)(int)v || v < (double)(int)v))
        && ((i != (int)AXIAL_AXIS) || (v > 0.0) || (v < 0.0));
}

int settings_accept(double *values, const char *name, int32_t *value)
{
    int i;
    for (i = 0; i < (int)SETTINGS; i++) {
        if (strcmp(rows[i].name, name) == 0) {
            double v = (double)*value / 1000.0;
            if (allowed(i, v)) {
                values[i] = v; /* *value stays */
            } else {
                *value = plain_thousandths(values[i]);
            }
            return 1;
        }
    }
    return 0;
}

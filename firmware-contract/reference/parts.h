/* Shared by the files of the reference firmware only. */
#ifndef PARTS_H
#define PARTS_H

#include "flight.h"

#define CONFIRM_HEIGHT 5.0     /* m */
#define LIFT_HEIGHT 30.0       /* m: liftoff by height */

void flight_note(flight *f, const char *text);
void flight_note_two(flight *f, const char *before, const char *after);
void flight_note_height(flight *f, const char *before, double height);
void flight_report(flight *f);
int64_t flight_time(const flight *f, uint32_t t);
double flight_since(const flight *f, int64_t t);
int persistence_lasts(persistence *h, int64_t now, int so, double seconds);
int flight_fire(flight *f, setting channel);
int flight_has(const flight *f, setting s);
int detector_stuck(const stuck_detector *w);
int triad_stuck(const stuck_detector *w);
int flight_accel_usable(const flight *f);
int flight_timely(const flight *f, uint32_t t);
void flight_arm(flight *f);
void flight_set_phase(flight *f, phase p);
void flight_liftoff(flight *f);
void flight_climb(flight *f);
void flight_recover(flight *f);
void flight_staging(flight *f);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Time of day for people: the rehearsal's clock begins at launch, the crew's at midnight.
#ifndef SLOWMATCH_TIME_OF_DAY_H
#define SLOWMATCH_TIME_OF_DAY_H

#include "slowmatch/base.h"

// The moment of launch, in microseconds since 1970 (UTC).
typedef struct sm_time_of_day {
    int64_t launch_us;
} sm_time_of_day;

// "21:14", "21:14:05" in local time. Returns BUFFER.
char *sm_time_of_day_minute(const sm_time_of_day *day, sm_wall_time wall, char buffer[16]);
char *sm_time_of_day_second(const sm_time_of_day *day, sm_wall_time wall, char buffer[16]);
// The next moment after NOW at which the clock shows TEXT ("21:30" or "21:30:05"). False: no such time.
bool sm_time_of_day_find(const sm_time_of_day *day, const char *text, sm_wall_time now, sm_wall_time *out);
// Reads an ISO 8601 date with or without a time ("2026-06-18", "2026-06-18T21:14", with seconds, a zone `Z` or `+02:00`; local time
// without one) as microseconds since 1970. False: it is none, *out is unchanged.
bool sm_time_of_day_read_date(const char *text, int64_t *out);
// "12 s", "4 min", "2 h 05 min" for a span that people need no closer. Returns BUFFER.
char *sm_age_format(sm_us span, char buffer[24]);
// "04:10", "1:04:10": a wait. Negative spans count as 0. Returns BUFFER.
char *sm_wait_format(sm_us span, char buffer[24]);
// "12 s" from ten seconds on, "3.2 s" below: how long until something, rounded up, so that 0 means now. Returns BUFFER.
char *sm_countdown_format(sm_us span, char buffer[24]);

#endif

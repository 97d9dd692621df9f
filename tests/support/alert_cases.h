// SPDX-License-Identifier: GPL-3.0-or-later
// What brings each alert about: a small show, and the lines for every row of the table but those that hang on the date, the logbook or
// the device.
#ifndef SLOWMATCH_TESTS_ALERT_CASES_H
#define SLOWMATCH_TESTS_ALERT_CASES_H

#include "engine_run.h"

#include "slowmatch/alerts.h"

#define ALERT_CUES                                                                                           \
    "1,A-01,fountain,,\n2,A-02,comet,,\n3,A-03,shell,,\n4,A-04,comet,,\n"                                    \
    "1,F1,permit=255,,20\n5,F1,flame=255,,2\n30,B-01,fountain,,\n"

// To engine_show, beside ALERT_CUES. The wind limit is 8 m/s; a reading of A-01 has a date.
extern const engine_file alert_files[];

// Armed at 1 s, running from 2 s, show 0 at 4 s; the flame burns from wall 9 s to 11 s, its enable is open from 5 s to 25 s.
#define ALERT_ARMED "0 call-clear J\n0 key on\n0 arm\n"
#define ALERT_RUNNING ALERT_ARMED "2 start\n"

typedef struct alert_case {
    sm_alert_id id;
    double at_s; // looked at then
    const char *
        lines; // "WALL LINE" a line; "!" before an injection, "~" before news of a timecode: "~7 lost no sound"
    const char *words; // begins so
    const char *undo;  // at AT_S, takes it away; NULL: nothing does at once
} alert_case;

// Row I brings about the alert I.
#define ALERT_CASES 31
extern const alert_case alert_cases[ALERT_CASES];
// Tells REHEARSAL the LINE, if it is one of a timecode's. Fails the test on one that cannot be read.
bool alert_case_timecode(sm_rehearsal *rehearsal, const char *line);

#endif

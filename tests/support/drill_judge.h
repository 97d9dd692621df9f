// SPDX-License-Identifier: GPL-3.0-or-later
// What could have hurt somebody in a drill, judged from the rows of the log alone: a second opinion that shares no code with the drill's
// own rules. Common practice of small crews, from memory.
#ifndef TESTS_DRILL_JUDGE_H
#define TESTS_DRILL_JUDGE_H

#include "slowmatch/drill.h"

#define DRILL_JUDGE_CREW 2

// {0} but for the first two is how a drill begins.
typedef struct drill_judge {
    bool spotter;        // the trainee's seat
    const sm_show *show; // NULL: wind is not judged
    bool key, clear, link_lost;
    sm_state state;
    int people;
    bool rail_out[26];
    bool heard[DRILL_JUDGE_CREW];         // of K and M, who are the crew of every drill of the course
    double wind_shown_m_s, wind_told_m_s; // by the meter, by the trainee
    bool held_back;                       // every aerial
    bool waits;                           // something went, and no wait has run
    int unreported;                       // misfires
    const char *broken; // what was done that practice forbids, the first of it; NULL: nothing
} drill_judge;

// A sink of a run; CONTEXT is the drill_judge.
void drill_judge_watch(void *context, const sm_log_row *row);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// The latest rows of the log, for the screen.
#ifndef SLOWMATCH_CONSOLE_RECENT_H
#define SLOWMATCH_CONSOLE_RECENT_H

#include "slowmatch/engine.h"

#define SM_RECENT_ROWS 512

typedef struct sm_recent_row {
    sm_wall_time wall;
    bool has_show;
    sm_show_time show;
    sm_source source;
    char what[24], cue[32], target[64], detail[192]; // cut where longer
} sm_recent_row;

// A ring: row number N (from 0) is in rows[N % SM_RECENT_ROWS]. {0} is a valid empty one.
typedef struct sm_recent {
    uint64_t count; // rows ever put in
    sm_recent_row rows[SM_RECENT_ROWS];
} sm_recent;

void sm_recent_put(sm_recent *recent, const sm_log_row *row);
// Brings TO, an older copy of FROM, up to date.
void sm_recent_follow(sm_recent *to, const sm_recent *from);
// Row AGE rows before the newest (0); NULL where there is none.
const sm_recent_row *sm_recent_at(const sm_recent *recent, uint64_t age);

#endif

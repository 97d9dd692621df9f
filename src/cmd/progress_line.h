// SPDX-License-Identifier: GPL-3.0-or-later
// How far something has come that takes longer than a second, on a terminal.
#ifndef CMD_PROGRESS_LINE_H
#define CMD_PROGRESS_LINE_H

#include "slowmatch/progress.h"

typedef struct cmd_progress cmd_progress;

// What is counted.
typedef enum cmd_progress_unit {
    CMD_PROGRESS_BYTES,
    CMD_PROGRESS_MUSIC, // us
    CMD_PROGRESS_ROWS,
    CMD_PROGRESS_RULES,
    CMD_PROGRESS_UNITS
} cmd_progress_unit;

// NULL where there is nothing to draw on; then nobody looks, and the functions below do nothing.
cmd_progress *cmd_progress_begin(void);
// What is done next ("reading cues.csv", a literal): whoever does it counts in what is returned, which is the line's, from 0.
sm_progress *cmd_progress_of(cmd_progress *line, const char *what, cmd_progress_unit unit);
// Before anything else is printed: the line is gone from the terminal, and LINE is freed.
void cmd_progress_end(cmd_progress *line);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// When the screen is drawn again: soon after a key, but never so often that the terminal or a core has too much of it.
#ifndef SLOWMATCH_CONSOLE_PACE_H
#define SLOWMATCH_CONSOLE_PACE_H

#include "slowmatch/base.h"

// No second has more redraws than these.
#define SM_REDRAWS_A_SECOND 30

// {0} is a valid one, before the first redraw. Times are monotonic.
typedef struct sm_pace {
    int64_t drawn_us, before_us;             // when the latest redraw began, and the one before it
    int64_t redraws_us[SM_REDRAWS_A_SECOND]; // when the latest ones began, in a ring
    size_t redraws;
    double bytes_a_second; // sent to the terminal, as counted
    double larger;         // than 80x24 the terminal is so many times
} sm_pace;

typedef enum sm_pace_kind {
    SM_PACE_IDLE,   // nothing has changed
    SM_PACE_MOVING, // something moves by itself
    SM_PACE_KEYED   // a person did something that is not drawn yet
} sm_pace_kind;

// The terminal has COLUMNS by ROWS now.
void sm_pace_fit(sm_pace *pace, int columns, int rows);
// A redraw begins, and has sent so many BYTES.
void sm_pace_begin(sm_pace *pace, int64_t now_us);
void sm_pace_count(sm_pace *pace, size_t bytes);
// When the next redraw is due.
int64_t sm_pace_due_us(const sm_pace *pace, sm_pace_kind kind);

#endif

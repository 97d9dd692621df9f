// SPDX-License-Identifier: GPL-3.0-or-later
// The state of the rehearsal in words: what it is, what comes next, what to do. Always there, on every board.
#ifndef SLOWMATCH_BOARDS_WORDS_STATE_LINE_H
#define SLOWMATCH_BOARDS_WORDS_STATE_LINE_H

#include "slowmatch/engine.h"
#include "slowmatch/time_of_day.h"

#define SM_STATE_LINE_PREFIX "REHEARSAL "
#define SM_STATE_LINE_PREVIEW "PREVIEW " // behind it, while music is tried out

typedef struct sm_state_line {
    size_t word_at, word_length; // the state word, in columns (ASCII): shown in reverse video
    bool armed;                  // one of the armed conditions: armed, running, paused, ended
} sm_state_line;

// Appends the line for SNAPSHOT to OUT ("REHEARSAL SAFE key OFF ...").
sm_state_line sm_state_line_format(const sm_snapshot *snapshot, const sm_time_of_day *day, sm_text *out);
// The same for what is shown: a rehearsal that is told elsewhere says so ("REHEARSAL FOLLOWING RUNNING ...").
struct sm_view;
sm_state_line sm_state_line_look(const struct sm_view *view, sm_text *out);

// Wall time from now until the event EVENT is due, as the show goes now; while paused, from the end of the count.
sm_us sm_snapshot_until_event(const sm_snapshot *snapshot, uint32_t event);
// How long a count takes on the wall at the speed set now ("5 s", "2.5 s"): slow motion stretches it. Returns BUFFER.
const char *sm_snapshot_count(const sm_snapshot *snapshot, char buffer[24]);
// Programmed slots in which something is left to fire, whether or not their rail is plugged.
uint32_t sm_snapshot_live(const sm_snapshot *snapshot);
// Slots whose misfire nobody has reported yet.
uint32_t sm_snapshot_unreported(const sm_snapshot *snapshot);

#endif

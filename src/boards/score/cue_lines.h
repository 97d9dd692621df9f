// SPDX-License-Identifier: GPL-3.0-or-later
// Cue lines: what the score shows of a show, in order. They are made once for a show and a filter, a piece at a time.
//
// A line is a run of events of one cue that follow each other in the order of time, as far as they pass the filter. An
// instant is all lines that are due at the same microsecond; one of several lines is a single row until it is
// opened. Lines and instants are found by halving, so that no key and no frame goes through a million of them.
#ifndef SLOWMATCH_BOARDS_SCORE_CUE_LINES_H
#define SLOWMATCH_BOARDS_SCORE_CUE_LINES_H

#include "boards/score/filter.h"

typedef struct sm_cue_line {
    uint32_t first, end; // places in show->order: its first event, behind its last one
    uint32_t before;     // events of the lines before it
} sm_cue_line;

typedef struct sm_cue_lines {
    const sm_show *show;
    sm_filter filter;
    bool *wrong_slots, *wrong_fixtures; // only what went wrong, as it stood at the beginning; NULL: all
    sm_cue_line *at;
    uint32_t line_count;
    uint32_t *instants; // first line of each
    uint32_t instant_count;
    uint32_t events; // that pass, of `looked`
    uint32_t looked; // places gone through so far
    sm_us due_us;    // of the latest line
} sm_cue_lines;

// Begins the lines of SHOW under FILTER. With WRONG only those of what misfired, was passed over or held, or is inhibited there.
// The show must outlive it. NULL when memory runs out.
sm_cue_lines *sm_cue_lines_create(const sm_show *show, const sm_filter *filter, const sm_snapshot *wrong);
void sm_cue_lines_destroy(sm_cue_lines *lines);
// Goes through at most STEPS more events. True: it is whole; only then may the functions below be asked.
bool sm_cue_lines_work(sm_cue_lines *lines, uint32_t steps);
bool sm_cue_lines_is_whole(const sm_cue_lines *lines);

// The first line that ends behind PLACE; line_count where there is none.
uint32_t sm_cue_lines_at(const sm_cue_lines *lines, uint32_t place);
// The first line that is due at or after AT; line_count.
uint32_t sm_cue_lines_due(const sm_cue_lines *lines, sm_us at);
// The instant that LINE belongs to; instant_count for line_count.
uint32_t sm_cue_lines_instant_of(const sm_cue_lines *lines, uint32_t line);
// First line, and the one behind the last, of INSTANT.
uint32_t sm_cue_lines_instant_first(const sm_cue_lines *lines, uint32_t instant);
uint32_t sm_cue_lines_instant_end(const sm_cue_lines *lines, uint32_t instant);
// EVENT is one of its own (also while it is being made).
bool sm_cue_lines_wants(const sm_cue_lines *lines, uint32_t event);
// How many events the lines from FIRST up to END (not included) hold.
uint32_t sm_cue_lines_events(const sm_cue_lines *lines, uint32_t first, uint32_t end);
// When LINE is due.
sm_us sm_cue_lines_due_us(const sm_cue_lines *lines, uint32_t line);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Looking for a text in cue lines: in targets, effects, notes and cue ids, small and capital letters alike. All
// matches are found once, a piece at a time; the next one is then found by halving.
#ifndef SLOWMATCH_BOARDS_SCORE_SEARCH_H
#define SLOWMATCH_BOARDS_SCORE_SEARCH_H

#include "boards/score/cue_lines.h"

#define SM_SEARCH_BYTES 128

typedef struct sm_search {
    const sm_cue_lines *lines;
    char text[SM_SEARCH_BYTES];
    bool *effects, *fixtures; // those whose names match
    uint8_t *slots;           // what is known of their names: 0 nothing yet, 1 no match, 2 a match
    uint32_t *matches;        // lines, ascending
    uint32_t match_count;
    uint32_t looked; // lines gone through so far
} sm_search;

// Begins to look for TEXT (cut to SM_SEARCH_BYTES) in LINES. They are whole, and must outlive the search. NULL when memory
// runs out.
sm_search *sm_search_create(const sm_cue_lines *lines, const char *text);
void sm_search_destroy(sm_search *search);
// Goes through about STEPS more lines. True: all have been looked at.
bool sm_search_work(sm_search *search, uint32_t steps);
bool sm_search_is_whole(const sm_search *search);
// Which of the matches is the first one after LINE (SM_NONE: the very first). Behind the last it begins again, and *WRAPPED is
// true. match_count: there is no match.
uint32_t sm_search_after(const sm_search *search, uint32_t line, bool *wrapped);

#endif

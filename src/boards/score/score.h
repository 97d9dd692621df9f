// SPDX-License-Identifier: GPL-3.0-or-later
// What the files of the score share: which rows it has (chosen_row.c), and how one of them is drawn (draw_row.c).
#ifndef SLOWMATCH_BOARDS_SCORE_SCORE_H
#define SLOWMATCH_BOARDS_SCORE_SCORE_H

#include "boards/score/opened.h"
#include "boards/score/search.h"
#include "boards/view.h"

#define SM_SCORE_ROWS_KEPT 256

typedef enum sm_score_question {
    SM_SCORE_ASKS_NOTHING,
    SM_SCORE_ASKS_FILTER,
    SM_SCORE_ASKS_SEARCH
} sm_score_question;

typedef struct sm_score {
    bool begun; // the filter has been set up
    sm_filter filter;
    bool only_wrong;
    uint64_t wrong_sum;   // of what was wrong when the lines were begun
    sm_cue_lines *lines;  // whole; NULL: none yet
    sm_cue_lines *coming; // being made, NULL
    sm_opened opened;
    bool scrolled;
    uint32_t place;  // in show->order, of the chosen row, while scrolled
    bool on_heading; // the chosen row is the heading at that place
    int offset;      // of the chosen row from the top, while scrolled
    sm_score_question asks;
    sm_search *search; // NULL: none
    char sought[SM_SEARCH_BYTES];
    uint32_t match;   // number of the match shown; SM_NONE: none yet
    unsigned to_jump; // next matches asked for and not yet gone to
    bool wrapped;
    uint32_t cue_wanted; // a cue to be shown, as 1 + its number; 0: none
    char notice[96];     // what the board did by itself
    int rows;            // of the latest drawing
    int list_y;          // of the list within the board
    int first_y;         // of the first row in `shown`, within the list
    int shown_count;
    sm_row shown[SM_SCORE_ROWS_KEPT]; // the rows as drawn last; the now-line is instant SM_NONE
} sm_score;

void sm_score_forget(sm_score *self);
// Sees to it that the right lines are there or being made. Before all that follows.
void sm_score_refresh(sm_score *self, const sm_view *view);
// Begins to make lines anew, after the filter was changed.
void sm_score_begin_lines(sm_score *self, const sm_view *view);
// Begins to look for `sought`; the lines must be there.
void sm_score_begin_search(sm_score *self);
uint64_t sm_score_sum_wrong(const sm_snapshot *now);
// Lines are being made, or a search is under way.
bool sm_score_is_busy(const sm_score *self);
// Does one piece of that. True: there is more.
bool sm_score_work(sm_score *self, const sm_view *view);

// ---- once `lines` are there ---------------------------------------------------------------

// The instant that the now-line stands before.
uint32_t sm_score_instant_now(const sm_score *self, const sm_view *view);
sm_row sm_score_chosen(const sm_score *self, const sm_view *view);
void sm_score_choose(sm_score *self, const sm_view *view, sm_row row);
// Where the chosen row stands from the top.
int sm_score_offset(const sm_score *self);
void sm_score_scroll_by(sm_score *self, const sm_view *view, int rows);
void sm_score_open_or_close(sm_score *self, const sm_view *view);
// Goes to the matches that were asked for; the search is whole.
void sm_score_go_to_matches(sm_score *self, const sm_view *view);
// Puts the cue that is wanted before people, or takes off the filter that hides it.
void sm_score_show_wanted_cue(sm_score *self, const sm_view *view);

// ---- drawing ------------------------------------------------------------------------------

typedef struct sm_score_row {
    sm_row row;
    bool past;
    bool next; // among what is due next
    bool open; // a heading whose lines are shown under it
    bool selected;
} sm_score_row;

void sm_score_row_draw(const sm_view *view, const sm_cue_lines *lines, sm_area area, int y,
                       const sm_score_row *row);
// "A-01 fountain +1": what fires at the moment of EVENT, a firing; appended to OUT.
void sm_score_firing_format(const sm_view *view, uint32_t event, sm_text *out);
// What is in the air, burning and in flame.
void sm_score_burning_draw(const sm_view *view, sm_area area);

#endif

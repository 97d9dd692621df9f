// SPDX-License-Identifier: GPL-3.0-or-later
// What a line of the action vocabulary may go on with: actions by name, those allowed now first, then their arguments by what they
// are. And the lines typed before. Knows no screen.
#ifndef SLOWMATCH_CONSOLE_COMPLETE_H
#define SLOWMATCH_CONSOLE_COMPLETE_H

#include "boards/view.h"

#define SM_CANDIDATES 64
#define SM_CANDIDATE_BYTES 48
#define SM_LINE_BYTES 256
#define SM_HISTORY 64

typedef struct sm_candidates {
    size_t start;                                  // in bytes: where in the line the word to complete begins
    size_t count;                                  // all that fit
    size_t kept;                                   // of them in `names`, the likeliest first
    char names[SM_CANDIDATES][SM_CANDIDATE_BYTES]; // in place of the line from `start` on
    char common[SM_CANDIDATE_BYTES];               // what they all begin with
    sm_act act;                                    // the action that the line names, SM_ACT_COUNT: none yet
    bool more;                                     // the action takes another argument after this one
} sm_candidates;

// Looks at the LENGTH bytes of LINE, up to where one types. An action's TARGET for `allow` is not completed: it is typed in full.
void sm_complete(const sm_view *view, const char *line, size_t length, sm_candidates *out);

// "start: not while safe; allowed in: armed" where ACT is not allowed now; false where it is.
bool sm_not_now(const sm_view *view, sm_act act, sm_text *out);

// The lines of a session, oldest forgotten first. {0} is a valid empty one.
typedef struct sm_history {
    char lines[SM_HISTORY][SM_LINE_BYTES];
    size_t count;              // ever kept
    size_t back;               // how far back one looks, 0: at what is being typed
    char typed[SM_LINE_BYTES]; // it, while one looks back
} sm_history;
// Keeps LINE, unless it is the latest one already, and looks at nothing before.
void sm_history_keep(sm_history *history, const char *line);
// The line BY steps further back (negative: forward) from what is shown, TYPED being what is typed now; NULL where there is none.
const char *sm_history_look(sm_history *history, int by, const char *typed);

#endif

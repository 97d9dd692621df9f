// SPDX-License-Identifier: GPL-3.0-or-later
// What a line of the action vocabulary may go on with: names of actions, those allowed now first; then arguments of the action.
#ifndef SLOWMATCH_CONSOLE_COMPLETE_H
#define SLOWMATCH_CONSOLE_COMPLETE_H

#include "boards/view.h"
#include "screen/prompt.h"

#define SM_LINE_BYTES 256

typedef struct sm_completion {
    sm_candidates words; // for the word at the end of the line, the likeliest first
    sm_act act;          // the action that the line names, SM_ACT_COUNT: none yet
    bool more;           // the action takes another argument after this one
} sm_completion;

// Looks at the LENGTH bytes of LINE, up to where one types. An action's TARGET for `allow` is not completed: it is typed in full.
void sm_complete(const sm_view *view, const char *line, size_t length, sm_completion *out);

// "start: not while safe; allowed in: armed" where ACT is not allowed now; false where it is.
bool sm_not_now(const sm_view *view, sm_act act, sm_text *out);

#endif

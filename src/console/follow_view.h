// SPDX-License-Identifier: GPL-3.0-or-later
// A rehearsal that is told elsewhere, as the console shows it: the follower, and the ui that looks at it and acts on nothing.
#ifndef SLOWMATCH_CONSOLE_FOLLOW_VIEW_H
#define SLOWMATCH_CONSOLE_FOLLOW_VIEW_H

#include "console/ui.h"

#include "slowmatch/rig_explainer.h"
#include "slowmatch/tell.h"

#define SM_FOLLOW_TOLD 400

// {0} is a valid one, before it begins.
typedef struct sm_follow_seen {
    sm_follower *follower; // the caller's; NULL: a rehearsal of our own is shown
    sm_ui *ui;
    sm_findings *findings; // none
    sm_rig_explainer rig_explanation;
    sm_audio_status sound;
    sm_time_of_day day;
    int32_t show;        // as shown last
    sm_follow_seat seat; // as said last
    sm_follow_hold hold;
    sm_follow_said said;
    char told[SM_FOLLOW_TOLD]; // the latest prompt
    char run[80];
    size_t runs;               // as said last
    size_t runs_asked;         // there were so many when it was asked whether to go to another
    char line[SM_FOLLOW_LINE]; // said last
    sm_debrief debrief;        // of the seat, as text alone
    sm_text *notes;            // the owner's: what was told stays there
    bool has_quit;
} sm_follow_seen;

// UI shows what FOLLOWER sees, which has a show already. SM_NO_MEMORY: end it all the same.
SM_MUST_CHECK sm_result sm_follow_seen_begin(sm_follow_seen *seen, sm_follower *follower, sm_ui *ui,
                                             sm_text *notes);
// Takes what there is of the follower, and shows it to the ui.
void sm_follow_seen_look(sm_follow_seen *seen);
void sm_follow_seen_end(sm_follow_seen *seen);

#endif

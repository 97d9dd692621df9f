// SPDX-License-Identifier: GPL-3.0-or-later
// The rehearsal as the console sees it, on a screen or in lines: the session, what it gives out, and the ui that looks at it.
#ifndef SLOWMATCH_CONSOLE_REHEARSAL_VIEW_H
#define SLOWMATCH_CONSOLE_REHEARSAL_VIEW_H

#include "console/show_watch.h"
#include "console/ui.h"

#include "slowmatch/console.h"
#include "slowmatch/rig_explainer.h"
#include "slowmatch/session.h"
#include "slowmatch/walk_answers.h"

// {0} is a valid one, before it begins.
typedef struct sm_rehearsal_view sm_rehearsal_view;
struct sm_rehearsal_view {
    sm_session *session; // driven by a thread of its own
    sm_ui ui;
    sm_show *to_hand_over; // until the session has it
    sm_time_of_day time_of_day;
    sm_recent recent;
    sm_findings *findings;
    char *paper_words;
    char *tuning_words;
    sm_walkthrough *walkthrough;
    sm_show_watch *watch;
    sm_folder_reader *folders;
    char show_changed[SM_SHOW_WATCH_NAME];
    sm_rig_explainer rig_explanation;
    sm_audio_status sound;
    sm_drill_view drill;
    sm_seats_view seats;
    sm_debrief *debrief;
    const sm_text *stray_output; // what libraries printed; the owner's
    char logbook_problem[400];   // as said last
    char unkept[400];            // after the end: why it is not in its logbook
    bool acted;                  // the ui has done something; the owner takes it back
    // Told of each outcome, of which the ui shows only the latest; NULL: nobody.
    void (*outcome)(sm_rehearsal_view *v, const sm_outcome_note *note);
};

// Makes the session of OPTIONS and starts it; to_hand_over is its show. False: PROBLEM says why; end it all the same.
SM_MUST_CHECK bool sm_rehearsal_view_begin(sm_rehearsal_view *v, const sm_console_options *options,
                                           const sm_text *stray_output, char problem[SM_CONSOLE_PROBLEM]);
// Takes what there is of the session, and shows it to the ui.
void sm_rehearsal_view_look(sm_rehearsal_view *v);
// Something changes by itself, without news.
bool sm_rehearsal_moves(const sm_snapshot *snapshot);
// The caller makes safe before.
void sm_rehearsal_view_end(sm_rehearsal_view *v);

#endif

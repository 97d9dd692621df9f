// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/follow_view.h"

#include <string.h>

static bool act(void *owner, const char *line) {
    sm_follow_seen *seen = owner;
    seen->has_quit |= strcmp(line, "quit") == 0;
    return true;
}

static void take(sm_follow_seen *seen, const sm_follow_view *told) {
    sm_view *view = &seen->ui->view;
    seen->day = told->day;
    view->snapshot = told->now;
    view->show = told->show;
    view->time_of_day = &seen->day;
    view->recent = told->recent;
    view->findings = seen->findings;
    view->sound = &seen->sound;
    view->following = told->words;
    view->age_not_proven = told->link == SM_FOLLOW_UNPROVEN;
    view->rig_explanation = sm_rig_explainer_look(&seen->rig_explanation, told->now);
}

void sm_follow_seen_look(sm_follow_seen *seen) {
    const sm_follow_view *told = sm_follower_look(seen->follower);
    const int32_t before = seen->show;
    take(seen, told);
    seen->show = told->show_number;
    if (before != told->show_number)
        sm_ui_show_changed(seen->ui);
    sm_ui_look(seen->ui);
    seen->ui->tones = 0; // another's tones, at another place
}

sm_result sm_follow_seen_begin(sm_follow_seen *seen, sm_follower *follower, sm_ui *ui,
                               const sm_text *stray_output) {
    const sm_follow_view *told = sm_follower_look(follower);
    *seen = (sm_follow_seen){.follower = follower, .ui = ui, .findings = sm_findings_create()};
    if (!seen->findings || !told->now)
        return SM_NO_MEMORY;
    ui->view = (sm_view){.paper_words = "", .stray_output = stray_output, .offset_measured = true};
    seen->show = told->show_number;
    take(seen, told);
    ui->owner = seen;
    ui->act = act;
    return sm_ui_init(ui);
}

void sm_follow_seen_end(sm_follow_seen *seen) {
    if (!seen->follower)
        return;
    sm_ui_deinit(seen->ui);
    sm_rig_explainer_deinit(&seen->rig_explanation);
    sm_findings_destroy(seen->findings);
}

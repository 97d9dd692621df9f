// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/follow_view.h"

#include "console/tell.h"

#include <string.h>

static bool act(void *owner, const char *line) {
    sm_follow_seen *seen = owner;
    seen->has_quit |= strcmp(line, "quit") == 0;
    if (strcmp(line, "hold") == 0)
        sm_follower_hold(seen->follower, "");
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
    view->seat = told->seat == SM_SEAT_NONE ? NULL : "";
    view->age_not_proven = told->link == SM_FOLLOW_UNPROVEN;
    view->rig_explanation = sm_rig_explainer_look(&seen->rig_explanation, told->now);
}

// What became of the seat, and of a hold: said when it changes.
static void say_seat(sm_follow_seen *seen, const sm_follow_view *told) {
    static const struct {
        sm_outcome_kind kind;
        const char *text;
    } seats[] = {[SM_SEAT_UNHEARD] = {SM_OUTCOME_TOLD, "asking for the seat"},
                 [SM_SEAT_UNKNOWN] = {SM_OUTCOME_REFUSED,
                                      "THE SEAT IS NOT YOURS: the lead granted none of that name"},
                 [SM_SEAT_REFUSED] =
                     {SM_OUTCOME_REFUSED,
                      "THE SEAT IS NOT YOURS: another sits there, or was lost and the lead has not freed it"},
                 [SM_SEAT_TAKEN] = {SM_OUTCOME_TOLD,
                                    "the seat is yours: SPACE or h calls hold, from any screen"}},
      holds[] = {
          [SM_HOLD_ON_ITS_WAY] = {SM_OUTCOME_TOLD, "HOLD called; the lead's console has not answered yet"},
          [SM_HOLD_NOT_DELIVERED] = {SM_OUTCOME_WRONG, "HOLD NOT DELIVERED, SHOUT IT"},
          [SM_HOLD_RECEIVED] = {SM_OUTCOME_TOLD, "HOLD received by the lead's console"}};
    if (told->seat != seen->seat && seats[told->seat].text)
        sm_ui_say(seen->ui, seats[told->seat].kind, seats[told->seat].text);
    if (told->hold != seen->hold && holds[told->hold].text)
        sm_ui_say(seen->ui, holds[told->hold].kind, holds[told->hold].text);
    seen->seat = told->seat;
    seen->hold = told->hold;
}

void sm_follow_seen_look(sm_follow_seen *seen) {
    const sm_follow_view *told = sm_follower_look(seen->follower);
    const int32_t before = seen->show;
    take(seen, told);
    seen->show = told->show_number;
    if (before != told->show_number)
        sm_ui_show_changed(seen->ui);
    say_seat(seen, told);
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

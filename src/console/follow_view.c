// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/follow_view.h"

#include "console/modes/second_key.h"
#include "console/tell.h"

#include <stdio.h>
#include <string.h>

static bool act(void *owner, const char *line) {
    sm_follow_seen *seen = owner;
    seen->has_quit |= strcmp(line, "quit") == 0;
    if (strcmp(line, SM_NEXT_RUN) == 0) {
        sm_follower_go_on(seen->follower);
        return true;
    }
    if (strcmp(line, "hold") == 0)
        return sm_follower_hold(seen->follower, "");
    snprintf(seen->line, sizeof seen->line, "%s", line);
    return seen->has_quit || sm_follower_say(seen->follower, line);
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
    view->told_ended = told->ended;
    snprintf(seen->run, sizeof seen->run, "run %s%s", told->run,
             told->ended ? ", ITS CONSOLE HAS ENDED" : "");
    view->told_run = seen->run;
    view->seat = told->seat == SM_SEAT_TAKEN || told->seat == SM_SEAT_UNHEARD
                     ? sm_follower_seat(seen->follower)
                     : NULL;
    view->seat_asked = told->seat == SM_SEAT_UNHEARD;
    view->seat_refused = told->seat == SM_SEAT_REFUSED || told->seat == SM_SEAT_UNKNOWN;
    view->seat_drills = told->drill && told->seat == SM_SEAT_TAKEN && told->link != SM_FOLLOW_LOST;
    view->told_drills = told->drill;
    view->told = seen->told[0] ? seen->told : NULL;
    view->seats = told->seats.count > 0 ? &told->seats : NULL;
    view->debrief = NULL;
    if (told->debrief) { // no steps, and nothing to be asked: it is text
        seen->debrief = (sm_debrief){.head = told->debrief, .tail = "", .broken_off = true};
        view->debrief = &seen->debrief;
    }
    view->age_not_proven = told->link == SM_FOLLOW_UNPROVEN;
    view->rig_explanation = sm_rig_explainer_look(&seen->rig_explanation, told->now);
    view->swapped = seen->rig_explanation.swapped;
}

static void say_received(sm_follow_seen *seen) {
    char text[SM_FOLLOW_LINE + 40];
    snprintf(text, sizeof text, "received by the lead's console: %s", seen->line);
    sm_ui_say(seen->ui, SM_OUTCOME_TOLD, text);
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
                                    "the seat is yours: SPACE or h calls hold from any screen"}},
      holds[] = {
          [SM_HOLD_ON_ITS_WAY] = {SM_OUTCOME_TOLD, "HOLD called; the lead's console has not answered yet"},
          [SM_HOLD_NOT_DELIVERED] = {SM_OUTCOME_WRONG, "HOLD NOT DELIVERED, SHOUT IT"},
          [SM_HOLD_RECEIVED] = {SM_OUTCOME_TOLD, "HOLD received by the lead's console"}};
    if (told->seat != seen->seat && seats[told->seat].text)
        sm_ui_say(seen->ui, seats[told->seat].kind, seats[told->seat].text);
    if (told->hold != seen->hold && holds[told->hold].text)
        sm_ui_say(seen->ui, holds[told->hold].kind, holds[told->hold].text);
    if (told->said != seen->said && told->said == SM_SAID_NOT_DELIVERED)
        sm_ui_say(seen->ui, SM_OUTCOME_WRONG, "NOT DELIVERED, SAY IT ALOUD");
    if (told->said != seen->said && told->said == SM_SAID_RECEIVED)
        say_received(seen);
    seen->seat = told->seat;
    seen->hold = told->hold;
    seen->said = told->said;
}

// Another rehearsal is told there, which this screen does not show.
static void say_runs(sm_follow_seen *seen, const sm_follow_view *told) {
    char names[256], text[480];
    size_t runs = sm_follower_runs(seen->follower, names);
    if (told->link == SM_FOLLOW_LOST && runs > 1 && runs > seen->runs_asked &&
        seen->ui->mode == SM_UI_BOARD) {
        snprintf(text, sizeof text,
                 "ANOTHER REHEARSAL is told there:%s. The link to this one, %s, was lost: it may still be "
                 "armed. Go to the other?",
                 names, told->run);
        sm_ui_confirm(seen->ui, SM_ACT_QUIT, SM_NEXT_RUN, text);
        seen->runs_asked = runs;
    } else if (runs > seen->runs && runs > 1) {
        snprintf(text, sizeof text,
                 "another rehearsal is told there; to see it leave (q) and follow it by name:%s", names);
        sm_ui_say(seen->ui, SM_OUTCOME_WRONG, text);
    }
    seen->runs = runs;
}

// What the seat alone is told: what to do stands in its own row, what came of a line is a message, and all of it is noted.
static void take_words(sm_follow_seen *seen) {
    sm_seat_word word;
    for (const char *text = sm_follower_told(seen->follower, &word); text;
         text = sm_follower_told(seen->follower, &word)) {
        if (word == SM_SEAT_PROMPTED)
            snprintf(seen->told, sizeof seen->told, "%s", text);
        else if (word == SM_SEAT_ANSWERED)
            sm_ui_say(seen->ui, SM_OUTCOME_REFUSED, text);
        else
            sm_ui_say(seen->ui, SM_OUTCOME_TOLD, "the drill is over; F11 has your debrief");
        if (word != SM_SEAT_DEBRIEFED)
            sm_text_printf(seen->notes, "%s\n", text);
    }
}

void sm_follow_seen_look(sm_follow_seen *seen) {
    const sm_follow_view *told = sm_follower_look(seen->follower);
    const int32_t before = seen->show;
    take(seen, told);
    seen->show = told->show_number;
    if (before != told->show_number)
        sm_ui_show_changed(seen->ui);
    say_seat(seen, told);
    take_words(seen);
    say_runs(seen, told);
    sm_ui_look(seen->ui);
    seen->ui->tones = 0; // another's tones, at another place
}

sm_result sm_follow_seen_begin(sm_follow_seen *seen, sm_follower *follower, sm_ui *ui, sm_text *notes) {
    const sm_follow_view *told = sm_follower_look(follower);
    *seen =
        (sm_follow_seen){.follower = follower, .ui = ui, .findings = sm_findings_create(), .notes = notes};
    if (!seen->findings || !told->now)
        return SM_NO_MEMORY;
    ui->view = (sm_view){.paper_words = "", .stray_output = notes, .offset_measured = true};
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

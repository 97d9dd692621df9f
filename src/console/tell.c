// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/tell.h"

#include <stdio.h>
#include <string.h>

void sm_ui_say(sm_ui *ui, sm_outcome_kind kind, const char *text) {
    ui->has_message = true;
    ui->message.kind = kind;
    ui->message.wall = ui->view.snapshot->wall;
    snprintf(ui->message.text, sizeof ui->message.text, "%s", text);
}

void sm_ui_only_follows(sm_ui *ui) {
    const sm_view *view = &ui->view;
    sm_ui_say(ui, SM_OUTCOME_REFUSED,
              view->seat_refused
                  ? "THE SEAT IS NOT YOURS: nothing here acts; call out loud what you want stopped"
              : view->seat_drills ? "not from this seat: ? lists what is; call out loud what you want done"
              : view->seat ? "a seat calls hold, and no more outside a drill; call out loud what you want"
                           : "THIS SCREEN ONLY FOLLOWS: it makes nothing safe; call out loud what you "
                             "want stopped");
}

bool sm_ui_seat_may(const sm_view *view, sm_act act) {
    return view->seat && view->seat_drills && sm_drill_seat_may(view->seat, act);
}

// What any stop becomes at a seat: in a drill what it is, else a hold.
static void follow(sm_ui *ui, const char *line) {
    bool stops = strcmp(line, "safe") == 0 || strcmp(line, "pause") == 0 || strcmp(line, "hold") == 0;
    bool as_is = strcmp(line, "quit") == 0 || strcmp(line, SM_NEXT_RUN) == 0 ||
                 (ui->view.seat_drills && strcmp(line, "pause") != 0);
    if ((!stops && !as_is) || (stops && !ui->view.seat))
        sm_ui_only_follows(ui);
    else if (!ui->act(ui->owner, as_is ? line : "hold"))
        sm_ui_say(ui, SM_OUTCOME_WRONG, "NOT SAID: too many lines wait for an answer; say it aloud");
}

void sm_ui_do(sm_ui *ui, const char *line) {
    if (ui->view.following) {
        follow(ui, line);
        return;
    }
    ui->has_message = false;
    if (!ui->act(ui->owner, line))
        sm_ui_say(ui, SM_OUTCOME_WRONG, "memory ran out: nothing was done");
}

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
    sm_ui_say(ui, SM_OUTCOME_REFUSED,
              "THIS SCREEN ONLY FOLLOWS: it makes nothing safe; call out loud what you want stopped");
}

void sm_ui_do(sm_ui *ui, const char *line) {
    bool stops = strcmp(line, "safe") == 0 || strcmp(line, "pause") == 0 || strcmp(line, "hold") == 0;
    if (ui->view.following && ui->view.seat && stops) {
        ui->act(ui->owner, "hold");
        return;
    }
    if (ui->view.following && strcmp(line, "quit") != 0) {
        sm_ui_only_follows(ui);
        return;
    }
    ui->has_message = false;
    if (!ui->act(ui->owner, line))
        sm_ui_say(ui, SM_OUTCOME_WRONG, "memory ran out: nothing was done");
}

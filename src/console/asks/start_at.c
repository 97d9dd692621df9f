// SPDX-License-Identifier: GPL-3.0-or-later
// A start at a clock time.
#include "boards/words/state_line.h"
#include "console/asks/asks.h"
#include "console/complete.h"
#include "console/confirm_words.h"
#include "console/modes/second_key.h"
#include "console/modes/typing.h"
#include "console/tell.h"

#include <string.h>

static void start_at_typed(sm_ui *ui) {
    const sm_snapshot *now = ui->view.snapshot;
    const char *typed = ui->prompt.text;
    sm_wall_time at;
    sm_us span;
    if (ui->prompt.length == 0) {
        ui->mode = SM_UI_BOARD;
        return;
    }
    if (strncmp(typed, "in ", 3) == 0 &&
        sm_span_read(typed + 3, strlen(typed) - 3, SM_US_PER_S, &span) == SM_OK &&
        span <= SM_START_IN_MAX_US) {
        at.us = now->wall.us + span;
    } else if (!sm_time_of_day_find(ui->view.time_of_day, typed, now->wall, &at)) {
        sm_ui_say(ui, SM_OUTCOME_WRONG, "no such time: write 21:30, 21:30:05 or in 5 min (24 h at most)");
        return;
    }
    char clock[16], place[24], span_text[24];
    sm_text says = {0};
    sm_text_printf(&says, "STARTS BY ITSELF AT %s", sm_time_of_day_second(ui->view.time_of_day, at, clock));
    sm_text_printf(&says, ": then it counts down %s", sm_snapshot_count(now, span_text));
    sm_text_printf(&says, " and begins at %s. Any stop or lapse, or the link lost, cancels it for good.",
                   sm_clock_format(place, now->place.us));
    sm_confirm_add_standing(now, &says);
    sm_ui_confirm(ui, SM_ACT_START_IN, "", sm_text_get(&says));
    ui->confirm.starts_at = at;
    sm_text_deinit(&says);
}

void sm_ask_start_at(sm_ui *ui) {
    static const sm_asked asked = {.typed = start_at_typed};
    sm_text why = {0};
    if (ui->view.snapshot->starts_at.us != SM_UNSET_US)
        sm_ui_do(ui, sm_action_row_of(SM_ACT_START_IN_OFF)->name);
    else if (sm_not_now(&ui->view, SM_ACT_START_IN, &why))
        sm_ui_say(ui, SM_OUTCOME_REFUSED, sm_text_get(&why));
    else
        sm_ui_ask(ui, &asked, SM_ACT_COUNT, "start by itself at (21:30, 21:30:05, in 5 min):", "");
    sm_text_deinit(&why);
}

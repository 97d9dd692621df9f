// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/modes/second_key.h"

#include "console/complete.h"
#include "console/confirm_words.h"
#include "console/hints.h"
#include "console/modes/mode.h"
#include "console/tell.h"

#include <stdio.h>
#include <string.h>

void sm_ui_confirm(sm_ui *ui, sm_act act, const char *line, const char *says) {
    ui->confirm = (sm_confirm){.act = act, .starts_at = {SM_UNSET_US}};
    snprintf(ui->confirm.line, sizeof ui->confirm.line, "%s", line);
    snprintf(ui->confirm.says, sizeof ui->confirm.says, "%s", says);
    ui->mode = SM_UI_CONFIRM;
}

static bool leads_to_firing(sm_act act) {
    return act == SM_ACT_ARM || act == SM_ACT_START || act == SM_ACT_RESUME || act == SM_ACT_START_IN;
}

// What takes two keys takes them also where the screen is behind: a start pressed at the end of the arming tone would be refused as
// the screen has it, and done as the engine has it. So it is refused here.
void sm_ui_refuse(sm_ui *ui, sm_act act, const char *because) {
    const char *name = sm_action_row_of(act)->name;
    sm_text why = {0}, text = {0};
    if (!sm_not_now(&ui->view, act, &why))
        sm_text_printf(&why, "%s: %s", name, because);
    sm_text_printf(&text, "%s refused%s", name, why.failed ? "" : sm_text_get(&why) + strlen(name));
    sm_ui_say(ui, SM_OUTCOME_REFUSED, sm_text_get(&text));
    sm_text_deinit(&text);
    sm_text_deinit(&why);
}

void sm_ui_confirm_key(sm_ui *ui, sm_act act) {
    const sm_action_row *action = sm_action_row_of(act);
    if (action->states & 1u << ui->view.snapshot->state)
        sm_ui_confirm(ui, act, action->name, "");
    else
        sm_ui_refuse(ui, act, "");
}

bool sm_ui_asks_to_fire(const sm_ui *ui) {
    return leads_to_firing(ui->confirm.act) && ui->mode == SM_UI_CONFIRM;
}

void sm_ui_jump(sm_ui *ui, const char *line, sm_show_time to, bool asks) {
    const sm_snapshot *now = ui->view.snapshot;
    bool further = now->state == SM_STATE_RUNNING || now->state == SM_STATE_PAUSED;
    // What was given and is not seen yet may have started the show.
    bool unseen = now->state != SM_STATE_SAFE && ui->is_behind && ui->is_behind(ui->owner);
    if (!(sm_action_row_of(SM_ACT_SEEK)->states & 1u << now->state)) {
        sm_ui_refuse(ui, SM_ACT_SEEK, "");
        return;
    }
    if (!asks && !unseen && !(further && sm_jump_leaves_live(now, to))) {
        sm_ui_do(ui, line);
        return;
    }
    sm_ui_confirm(ui, SM_ACT_SEEK, line, "");
    ui->confirm.jumps_to = to;
}

// In the words of the question, which said that any key leaves it.
static bool leave_refused(sm_ui *ui) {
    sm_text text = {0};
    sm_text_printf(&text, "not done: ");
    bool refused = sm_confirm_describe_refusal(&ui->view, ui->confirm.act, &text);
    if (!refused && ui->confirm.said_refused)
        sm_text_printf(&text, "%s would have been refused when it was asked",
                       sm_action_row_of(ui->confirm.act)->name);
    refused |= ui->confirm.said_refused;
    if (refused)
        sm_ui_say(ui, SM_OUTCOME_REFUSED, sm_text_get(&text));
    sm_text_deinit(&text);
    return refused;
}

static void press(sm_ui *ui, int key) {
    const sm_confirm *confirm = &ui->confirm;
    const char *name = sm_action_row_of(confirm->act)->name;
    ui->mode = SM_UI_BOARD;
    if (leave_refused(ui))
        return;
    if (key != SM_KEY_ENTER) {
        char text[96];
        snprintf(text, sizeof text, "left: %s was not done", name);
        sm_ui_say(ui, SM_OUTCOME_TOLD, text);
    } else if (confirm->starts_at.us != SM_UNSET_US) { // the engine knows no time of day: it is told how long
        char line[64];
        snprintf(line, sizeof line, "%s %.3f", name,
                 (double)(confirm->starts_at.us - ui->view.snapshot->wall.us) / 1e6);
        sm_ui_do(ui, line);
    } else {
        sm_ui_do(ui, confirm->line);
    }
}

static void question(const sm_ui *ui, int columns, sm_text *out) {
    (void)columns;
    if (sm_confirm_describe_refusal(&ui->view, ui->confirm.act, out)) {
        sm_text_printf(out, " Any %s leaves it.", ui->view.as_lines ? "line" : "key");
        return;
    }
    if (ui->confirm.says[0])
        sm_text_printf(out, "%s", ui->confirm.says);
    else if (ui->confirm.act == SM_ACT_SEEK) // what it passes over changes while the show runs
        sm_jump_describe(&ui->view, ui->confirm.jumps_to, out);
    else
        sm_confirm_describe(&ui->view, ui->confirm.act, out);
    sm_text_printf(out, " Enter does it, any other %s leaves it.", ui->view.as_lines ? "line" : "key");
}

static void draw_keys(sm_ui *ui, sm_area row, int x) {
    sm_text why = {0};
    ui->confirm.said_refused = sm_snapshot_refuses(ui->view.snapshot, ui->confirm.act, &why);
    if (ui->confirm.said_refused)
        sm_hint_draw(row, x, SM_KEY_ESCAPE, "leave it");
    else
        sm_hint_draw(row, x, SM_KEY_ENTER, sm_action_row_of(ui->confirm.act)->name);
    sm_text_deinit(&why);
}

const sm_mode sm_mode_confirm = {.asks = true, .press = press, .question = question, .keys = draw_keys};

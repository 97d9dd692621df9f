// SPDX-License-Identifier: GPL-3.0-or-later
// Actions: any of them, or the arguments of one that a key has named.
#include "boards/boards.h"
#include "boards/words/alert_line.h"
#include "console/asks/asks.h"
#include "console/complete.h"
#include "console/let_go.h"
#include "console/modes/second_key.h"
#include "console/modes/typing.h"
#include "console/tell.h"

#include <stdio.h>
#include <string.h>

// A signature while a reason for NO-GO stands would only be shown as void: the command refuses it, and so does this.
static bool may_sign(sm_ui *ui) {
    const sm_walk *walk = ui->view.walk;
    if (!walk || walk->reason_count == 0)
        return true;
    char text[160];
    snprintf(text, sizeof text, "not signed: NO-GO stands for %zu reason%s (on the walk board, End)",
             walk->reason_count, walk->reason_count == 1 ? "" : "s");
    sm_ui_say(ui, SM_OUTCOME_REFUSED, text);
    return false;
}

#define SHEETS "paper:" // the words of a printed sheet, which the session holds against it

static const char *item_id_at(const void *context, size_t index) {
    const sm_walk_list *list = context;
    return list->items[index].id;
}

// The engine knows no list, and would write the answer of an item that nobody has. In a drill it is the instructor's remark.
static bool may_tick(sm_ui *ui, const sm_action *action) {
    const sm_walk *walk = ui->view.walk;
    if (!walk || ui->view.drill || ui->view.following ||
        strncmp(action->target, SHEETS, strlen(SHEETS)) == 0 ||
        sm_walk_item_find(walk->list, action->target) != SM_NONE)
        return true;
    char text[200];
    const char *near = sm_nearest_name(action->target, walk->list->count, item_id_at, walk->list);
    const char *how = near ? "did you mean " : ui->view.as_lines ? "`tick ?` lists them" : "Tab lists them";
    snprintf(text, sizeof text, "no item '%.40s' on this walk; %s%.60s", action->target, how,
             near ? near : "");
    sm_ui_say(ui, SM_OUTCOME_WRONG, text);
    return false;
}

// To a moment, or to a mark by its name. Where the show runs it asks first.
static void jump(sm_ui *ui, const sm_action *action, const char *line) {
    const sm_snapshot *now = ui->view.snapshot;
    sm_show_time to = {action->moment_us};
    for (uint32_t i = 0; i < now->mark_count && to.us == SM_UNSET_US; i++)
        if (strcmp(now->marks[i].name, action->target) == 0)
            to = now->marks[i].at;
    if (to.us == SM_UNSET_US)
        sm_ui_give(ui, SM_ACT_SEEK, line); // no such mark: refused, and the engine says so
    else
        sm_ui_jump(ui, line, to, now->state == SM_STATE_RUNNING);
}

// The engine will refuse it, and what was typed stays to be mended.
static bool is_refused(const sm_ui *ui, const sm_action *action) {
    sm_text why = {0};
    if (ui->view.following) // the lead's console says so
        return false;
    bool refused =
        sm_not_now(&ui->view, action->act, &why) || sm_snapshot_refuses(ui->view.snapshot, action->act, &why);
    sm_text_deinit(&why);
    return refused;
}

// What is no action and is said all the same: that it is no drill, and an instructor's words.
static bool is_said_plainly(const sm_ui *ui, const char *line) {
    const sm_view *view = &ui->view;
    bool drills = view->following ? view->seat && view->seat_drills : view->drill != NULL;
    return drills && (strcmp(line, SM_NO_DRILL) == 0 ||
                      (view->following && strcmp(view->seat, SM_SEAT_INSTRUCTOR) == 0));
}

static void action_typed(sm_ui *ui) {
    sm_text line = {0};
    if (ui->asking != SM_ACT_COUNT)
        sm_text_printf(&line, "%s%s", sm_action_row_of(ui->asking)->name, ui->prompt.length > 0 ? " " : "");
    sm_text_printf(&line, "%s", ui->prompt.text);
    sm_action action;
    char why[200];
    size_t at;
    if (is_said_plainly(ui, sm_text_get(&line))) {
        ui->mode = SM_UI_BOARD;
        sm_ui_do(ui, sm_text_get(&line));
        sm_text_deinit(&line);
        return;
    }
    // Looked at here as well as by the engine's thread, so that a slip can be mended where it was typed.
    if (sm_action_read(ui->view.show, sm_text_get(&line), line.length, &action, why, &at) != SM_OK) {
        sm_ui_say(ui, SM_OUTCOME_WRONG, why);
    } else if (action.act == SM_ACT_TICK && !may_tick(ui, &action)) {
        ui->mode = SM_UI_PROMPT; // to be mended where it was typed
    } else if (action.act == SM_ACT_ALLOW && action.remote == 0) {
        sm_ui_let_go(ui, action.target);
    } else if (action.act == SM_ACT_SEEK && action.remote == 0) {
        ui->mode = SM_UI_BOARD;
        jump(ui, &action, sm_text_get(&line));
    } else if (action.act == SM_ACT_SIGN && !may_sign(ui)) {
        ui->mode = is_refused(ui, &action) ? SM_UI_PROMPT : SM_UI_BOARD;
    } else if (is_refused(ui, &action)) {
        ui->mode = sm_ui_can_mend(ui, action.act) ? SM_UI_PROMPT : SM_UI_BOARD;
        sm_ui_do(ui, sm_text_get(&line));
    } else {
        sm_ui_give(ui, action.act, sm_text_get(&line));
    }
    if (ui->asking == SM_ACT_COUNT)
        sm_history_keep(&ui->history, sm_text_get(&line));
    sm_text_deinit(&line);
}

// ---- any action -------------------------------------------------------------------------------------

static void command_typed(sm_ui *ui) {
    if (ui->prompt.length == 0)
        ui->mode = SM_UI_BOARD;
    else
        action_typed(ui);
}

void sm_ask_command(sm_ui *ui, const char *initial) {
    static const sm_asked asked = {.completes = true, .recalls = true, .typed = command_typed};
    sm_ui_ask(ui, &asked, SM_ACT_COUNT, ":", initial);
}

// ---- the arguments of one -----------------------------------------------------------------------------

// What reads bad on a rail that is out is what somebody stands at: not where the cursor was left. SM_NONE: nothing does.
static uint32_t slot_in_hand(const sm_snapshot *now) {
    const sm_show *show = now->show;
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        const sm_slot_view *view = &now->slots[slot];
        if (!now->rail_plugged[show->slot_rails[slot]] && view->phase != SM_SLOT_SPARE &&
            view->reading.kind != SM_READ_NOTHING &&
            sm_verdict_refuses(sm_rig_judge(show, slot, true, view->reading)))
            return slot;
    }
    return SM_NONE;
}

// Of those that misfired and nobody reported, the first; SM_NONE.
static uint32_t first_unreported(const sm_snapshot *now) {
    uint32_t slot = 0;
    while (slot < now->show->slot_count &&
           (now->slots[slot].phase != SM_SLOT_MISFIRED || now->slots[slot].reported))
        slot++;
    return slot < now->show->slot_count ? slot : SM_NONE;
}

// What the next step names, what is to be put right or reported; else what the cursor is on.
static void offer_target(const sm_ui *ui, const sm_board *board, const sm_action_row *row, sm_act act,
                         sm_text *out) {
    const sm_snapshot *now = ui->view.snapshot;
    const uint32_t slot = act == SM_ACT_REPAIR   ? slot_in_hand(now)
                          : act == SM_ACT_REPORT ? first_unreported(now)
                                                 : SM_NONE;
    char name[48];
    if (sm_view_next_target(&ui->view, act, out))
        return;
    if (slot != SM_NONE)
        sm_text_printf(out, "%s", sm_slot_format(ui->view.show, slot, name));
    else if (board->suggest)
        board->suggest(ui->states[ui->chosen], &ui->view, row->arguments[0], out);
}

// Who called it, and who leads: whoever called clear here. In a drill a spotter may have, and the lead types their own.
static void offer_lift(sm_ui *ui) {
    const sm_snapshot *now = ui->view.snapshot;
    char who[SM_PROMPT_BYTES];
    bool leads = !ui->view.drill && now->clear_who[0] && !strchr(now->clear_who, ' ') &&
                 strcmp(now->clear_who, now->hold_who) != 0;
    snprintf(who, sizeof who, "%s %s", now->hold_who, leads ? now->clear_who : "");
    sm_prompt_offer(&ui->prompt, who);
}

void sm_ask_arguments(sm_ui *ui, sm_act act) {
    static const sm_asked asked = {.completes = true, .typed = action_typed};
    const sm_action_row *row = sm_action_row_of(act);
    if (row->drill_only && !ui->view.drill && !ui->view.seat) { // nobody asks, so nobody is to answer
        sm_ui_refuse(ui, act, "");
        return;
    }
    const sm_board *board = sm_board_at(ui->chosen);
    char label[96];
    snprintf(label, sizeof label, "%s:", row->form);
    sm_ui_ask(ui, &asked, act, label, "");
    if (act == SM_ACT_LIFT && ui->view.snapshot->hold_count > 0)
        offer_lift(ui);
    // What can be left out is not offered: Enter with nothing typed leaves it out. `allow` is typed in full.
    if (row->needed > 0 && act != SM_ACT_ALLOW) {
        sm_text offer = {0};
        offer_target(ui, board, row, act, &offer);
        if (offer.length > 0 && row->needed > 1)
            sm_text_printf(&offer, " ");
        sm_prompt_offer(&ui->prompt, sm_text_get(&offer));
        sm_text_deinit(&offer);
    }
}

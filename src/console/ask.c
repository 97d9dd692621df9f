// SPDX-License-Identifier: GPL-3.0-or-later
// Asking: lines of text with what they may go on with, and the second of two keys.
#include "boards/words/standing_conditions.h"
#include "boards/words/state_line.h"
#include "console/ui.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- what the line may go on with -------------------------------------------------------------------

// The line of the action vocabulary as far as the cursor; *before: bytes of it that are not in the prompt.
static void line_so_far(const sm_ui *ui, sm_text *out, size_t *before) {
    if (ui->ask == SM_ASK_ARGUMENTS)
        sm_text_printf(out, "%s ", sm_action_row_of(ui->asking)->name);
    *before = out->length;
    sm_text_append(out, ui->prompt.text, ui->prompt.cursor);
}

static bool completes(const sm_ui *ui) {
    return ui->ask == SM_ASK_ARGUMENTS || ui->ask == SM_ASK_COMMAND;
}

void sm_ui_ask_look(sm_ui *ui) {
    ui->cycle = 0;
    ui->candidates = (sm_candidates){.act = SM_ACT_COUNT};
    if (ui->mode != SM_UI_PROMPT || !completes(ui))
        return;
    sm_text line = {0};
    size_t before;
    line_so_far(ui, &line, &before);
    sm_complete(&ui->view, sm_text_get(&line), line.length, &ui->candidates);
    ui->candidates.start = ui->candidates.start > before ? ui->candidates.start - before : 0;
    sm_text_deinit(&line);
}

// What was completed goes on with an argument: a blank after it.
static void add_blank(sm_ui *ui) {
    sm_ui_ask_look(ui);
    const sm_candidates *next = &ui->candidates;
    bool at_end = ui->prompt.cursor == ui->prompt.length && ui->prompt.length > 0;
    if (at_end && next->act != SM_ACT_COUNT && next->more && next->count <= 1 &&
        ui->prompt.text[ui->prompt.length - 1] != ' ' &&
        sm_prompt_replace(&ui->prompt, ui->prompt.cursor, " "))
        sm_ui_ask_look(ui);
}

static void cycle(sm_ui *ui, bool forward) {
    sm_candidates *all = &ui->candidates;
    size_t at = ui->cycle == 0 ? (forward ? 0 : all->kept - 1)
                : forward      ? ui->cycle % all->kept
                               : (ui->cycle + all->kept - 2) % all->kept;
    if (sm_prompt_replace(&ui->prompt, all->start, all->names[at]))
        ui->cycle = at + 1;
}

static void complete(sm_ui *ui, bool forward) {
    const sm_candidates *all = &ui->candidates;
    if (!completes(ui) || (ui->cycle == 0 && sm_prompt_take(&ui->prompt))) {
        sm_ui_ask_look(ui);
        return;
    }
    size_t typed = ui->prompt.cursor - all->start;
    if (all->count == 0)
        return;
    if (all->count == 1) {
        (void)sm_prompt_replace(&ui->prompt, all->start, all->names[0]);
        add_blank(ui);
    } else if (ui->cycle == 0 && strlen(all->common) > typed) {
        (void)sm_prompt_replace(&ui->prompt, all->start, all->common);
        sm_ui_ask_look(ui);
    } else {
        cycle(ui, forward);
    }
}

// ---- asking for a line ----------------------------------------------------------------------------------

void sm_ui_ask_line(sm_ui *ui, sm_ui_ask ask, const char *label, const char *initial) {
    sm_prompt_begin(&ui->prompt, label, initial);
    ui->ask = ask;
    ui->mode = SM_UI_PROMPT;
    ui->history.back = 0;
    sm_ui_ask_look(ui);
}

void sm_ui_ask_arguments(sm_ui *ui, sm_act act) {
    const sm_action_row *row = sm_action_row_of(act);
    const sm_board *board = sm_board_at(ui->chosen);
    char label[96];
    snprintf(label, sizeof label, "%s:", row->form);
    ui->asking = act;
    sm_ui_ask_line(ui, SM_ASK_ARGUMENTS, label, "");
    if (board->suggest && row->arguments[0] != SM_ARG_NONE && act != SM_ACT_ALLOW) { // that is typed in full
        sm_text offer = {0};
        board->suggest(ui->states[ui->chosen], &ui->view, row->arguments[0], &offer);
        if (offer.length > 0 && row->needed > 1)
            sm_text_printf(&offer, " ");
        sm_prompt_offer(&ui->prompt, sm_text_get(&offer));
        sm_text_deinit(&offer);
    }
}

static void line_typed(const sm_ui *ui, sm_text *out) {
    if (ui->ask == SM_ASK_ARGUMENTS) {
        sm_text_printf(out, "%s", sm_action_row_of(ui->asking)->name);
        if (ui->prompt.length > 0)
            sm_text_printf(out, " %s", ui->prompt.text);
    } else {
        sm_text_printf(out, "%s", ui->prompt.text);
    }
}

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

void sm_ui_ask_board(sm_ui *ui, size_t asker, const char *label) {
    ui->asker = asker;
    sm_ui_ask_line(ui, SM_ASK_BOARD, label, "");
}

static void answer_board(sm_ui *ui) {
    sm_request request = {0};
    if (!sm_board_at(ui->asker)->answer(ui->states[ui->asker], &ui->view, ui->prompt.text, &request)) {
        sm_ui_say(ui, SM_OUTCOME_WRONG, request.line);
        return;
    }
    ui->mode = SM_UI_BOARD;
    if ((request.next & SM_NEXT_ANSWER) && !ui->answer(ui->owner, request.question, ui->prompt.text))
        sm_ui_say(ui, SM_OUTCOME_WRONG, "memory ran out: the answer is not kept");
    if (request.next & SM_NEXT_ASK)
        sm_ui_ask_board(ui, ui->asker, request.line);
}

static void action_typed(sm_ui *ui) {
    sm_text line = {0};
    line_typed(ui, &line);
    sm_action action;
    char why[200];
    size_t at;
    // Looked at here as well as by the engine's thread, so that a slip can be mended where it was typed.
    if (sm_action_read(ui->view.show, sm_text_get(&line), line.length, &action, why, &at) != SM_OK) {
        sm_ui_say(ui, SM_OUTCOME_WRONG, why);
    } else if (action.act == SM_ACT_ALLOW && action.remote == 0) {
        sm_ui_read_back_allow(ui, action.target);
    } else {
        ui->mode = SM_UI_BOARD;
        if (action.act != SM_ACT_SIGN || may_sign(ui))
            sm_ui_do(ui, sm_text_get(&line));
    }
    if (ui->ask == SM_ASK_COMMAND)
        sm_history_keep(&ui->history, sm_text_get(&line));
    sm_text_deinit(&line);
}

// With nothing typed Enter takes the offer where the action needs just that; where it needs more, the offer is taken to go on from.
static bool only_takes_offer(sm_ui *ui) {
    uint8_t needed = sm_action_row_of(ui->asking)->needed;
    return ui->ask == SM_ASK_ARGUMENTS && ui->prompt.length == 0 && needed > 0 &&
           sm_prompt_take(&ui->prompt) && needed > 1;
}

static void prompt_done(sm_ui *ui) {
    switch (ui->ask) {
    case SM_ASK_BOARD:
        answer_board(ui);
        return;
    case SM_ASK_READINGS:
        ui->mode = SM_UI_BOARD;
        if (ui->prompt.length > 0)
            ui->read_file(ui->owner, ui->prompt.text);
        return;
    case SM_ASK_CALLS:
    case SM_ASK_DEVICE:
        if (sm_ui_sound_typed(ui, ui->prompt.text))
            ui->mode = SM_UI_BOARD;
        return;
    case SM_ASK_START_AT:
        sm_ui_start_at_typed(ui);
        return;
    default:
        break;
    }
    if (ui->ask == SM_ASK_COMMAND && ui->prompt.length == 0)
        ui->mode = SM_UI_BOARD;
    else if (!only_takes_offer(ui))
        action_typed(ui);
}

static void look_back(sm_ui *ui, int by) {
    const char *line = ui->ask == SM_ASK_COMMAND ? sm_history_look(&ui->history, by, ui->prompt.text) : NULL;
    if (line) {
        ui->prompt.cursor = ui->prompt.length;
        (void)sm_prompt_replace(&ui->prompt, 0, line);
    }
}

void sm_ui_press_prompt(sm_ui *ui, int key) {
    if (key == SM_KEY_TAB || key == SM_KEY_BACK_TAB) {
        complete(ui, key == SM_KEY_TAB);
        return;
    }
    if (key == SM_KEY_UP || key == SM_KEY_DOWN) {
        look_back(ui, key == SM_KEY_UP ? 1 : -1);
    } else {
        switch (sm_prompt_press(&ui->prompt, key)) {
        case SM_PROMPT_DONE:
            prompt_done(ui);
            break;
        case SM_PROMPT_LEFT:
            ui->mode = SM_UI_BOARD;
            break;
        default:
            break;
        }
    }
    sm_ui_ask_look(ui);
}

// ---- the second of two keys --------------------------------------------------------------------------------

void sm_ui_confirm(sm_ui *ui, sm_act act, const char *line, const char *says) {
    ui->confirm = (sm_confirm){.act = act, .starts_at = {SM_UNSET_US}};
    snprintf(ui->confirm.line, sizeof ui->confirm.line, "%s", line);
    snprintf(ui->confirm.says, sizeof ui->confirm.says, "%s", says);
    ui->mode = SM_UI_CONFIRM;
}

void sm_ui_confirm_key(sm_ui *ui, sm_act act) {
    const sm_action_row *action = sm_action_row_of(act);
    if (action->states & 1u << ui->view.snapshot->state)
        sm_ui_confirm(ui, act, action->name, "");
    else
        sm_ui_do(ui, action->name); // refused, and the engine says why
}

void sm_ui_press_confirm(sm_ui *ui, int key) {
    const sm_confirm *confirm = &ui->confirm;
    const char *name = sm_action_row_of(confirm->act)->name;
    ui->mode = SM_UI_BOARD;
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

// ---- a start at a clock time --------------------------------------------------------------------------------

void sm_ui_ask_start_at(sm_ui *ui) {
    sm_text why = {0};
    if (ui->view.snapshot->starts_at.us != SM_UNSET_US)
        sm_ui_do(ui, sm_action_row_of(SM_ACT_START_IN_OFF)->name);
    else if (sm_not_now(&ui->view, SM_ACT_START_IN, &why))
        sm_ui_say(ui, SM_OUTCOME_REFUSED, sm_text_get(&why));
    else
        sm_ui_ask_line(ui, SM_ASK_START_AT, "start by itself at (21:30, 21:30:05, in 5 min):", "");
    sm_text_deinit(&why);
}

void sm_ui_start_at_typed(sm_ui *ui) {
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
    sm_confirm_add_unmet(now, SM_ACT_START_IN, &says);
    sm_confirm_add_standing(now, &says);
    sm_ui_confirm(ui, SM_ACT_START_IN, "", sm_text_get(&says));
    ui->confirm.starts_at = at;
    sm_text_deinit(&says);
}

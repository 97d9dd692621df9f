// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/modes/typing.h"

#include "console/complete.h"
#include "console/hints.h"
#include "console/modes/mode.h"
#include "console/tell.h"

#include <stdio.h>
#include <string.h>

void sm_ui_ask(sm_ui *ui, const sm_asked *asked, sm_act asking, const char *label, const char *initial) {
    sm_prompt_begin(&ui->prompt, label, initial);
    ui->asked = asked;
    ui->asking = asking;
    ui->mode = SM_UI_PROMPT;
    ui->history.back = 0;
    sm_ui_ask_look(ui);
}

void sm_ui_keep_typed(sm_ui *ui, sm_act act, const char *begins) {
    ui->given = (sm_given){.waits = true,
                           .act = act,
                           .begins = begins,
                           .prompt = ui->prompt,
                           .asked = ui->asked,
                           .asking = ui->asking};
    ui->mode = SM_UI_BOARD;
}

void sm_ui_give(sm_ui *ui, sm_act act, const char *line) {
    sm_ui_keep_typed(ui, act, sm_action_row_of(act)->name);
    sm_ui_do(ui, line);
}

bool sm_ui_can_mend(const sm_ui *ui, sm_act act) {
    return act != SM_ACT_CALL_CLEAR && ui->view.snapshot->state == SM_STATE_SAFE;
}

void sm_ui_refused(sm_ui *ui, const char *says) {
    const char *begins = ui->given.begins;
    if (!ui->given.waits || ui->mode != SM_UI_BOARD || strncmp(says, begins, strlen(begins)) != 0)
        return;
    ui->given.waits = false;
    if (!sm_ui_can_mend(ui, ui->given.act))
        return;
    ui->prompt = ui->given.prompt;
    ui->asked = ui->given.asked;
    ui->asking = ui->given.asking;
    ui->mode = SM_UI_PROMPT;
    sm_ui_ask_look(ui);
}

// ---- what the line may go on with -------------------------------------------------------------------

// Where the path of a file begins that is typed; false: the cursor is in none.
static bool finds_path(const sm_ui *ui, size_t *from) {
    const sm_prompt *prompt = &ui->prompt;
    const char *paper = sm_action_row_of(SM_ACT_PAPER)->name;
    size_t length = strlen(paper);
    bool named = ui->asked->completes && ui->asking == SM_ACT_COUNT && prompt->cursor > length &&
                 strncmp(prompt->text, paper, length) == 0 && prompt->text[length] == ' ';
    *from = named ? length + 1 : 0;
    return named || ui->asked->paths || (ui->asked->completes && ui->asking == SM_ACT_PAPER);
}

// Names in the folder that is typed so far, FROM on; the current one where none is.
static void look_for_paths(sm_ui *ui, size_t from) {
    const sm_prompt *prompt = &ui->prompt;
    char folder[SM_PROMPT_BYTES] = ".";
    size_t start = prompt->cursor;
    while (start > from && prompt->text[start - 1] != '/')
        start--;
    if (start > from)
        snprintf(folder, sizeof folder, "%.*s", (int)(start - from), prompt->text + from);
    const sm_folder_names *names = ui->names_in ? ui->names_in(ui->owner, folder) : NULL;
    ui->completion.words.start = start;
    for (size_t i = 0; names && i < names->count; i++)
        sm_candidates_put(&ui->completion.words, prompt->text + start, prompt->cursor - start,
                          names->names[i]);
}

bool sm_ui_awaits_names(const sm_ui *ui) {
    size_t from;
    return ui->mode == SM_UI_PROMPT && ui->completion.words.count == 0 && finds_path(ui, &from);
}

void sm_ui_ask_look(sm_ui *ui) {
    size_t from;
    ui->completion = (sm_completion){.act = SM_ACT_COUNT};
    if (ui->mode == SM_UI_PROMPT && ui->asked->paths)
        look_for_paths(ui, 0);
    if (ui->mode != SM_UI_PROMPT || !ui->asked->completes)
        return;
    sm_text line = {0};
    if (ui->asking != SM_ACT_COUNT)
        sm_text_printf(&line, "%s ", sm_action_row_of(ui->asking)->name);
    size_t before = line.length; // bytes that are not in the prompt
    sm_text_append(&line, ui->prompt.text, ui->prompt.cursor);
    sm_complete(&ui->view, sm_text_get(&line), line.length, &ui->completion);
    sm_candidates *words = &ui->completion.words;
    words->start = words->start > before ? words->start - before : 0;
    if (finds_path(ui, &from))
        look_for_paths(ui, from);
    sm_text_deinit(&line);
}

// What was completed goes on with an argument: a blank after it.
static void add_blank(sm_ui *ui) {
    sm_ui_ask_look(ui);
    const sm_completion *next = &ui->completion;
    bool at_end = ui->prompt.cursor == ui->prompt.length && ui->prompt.length > 0;
    if (at_end && next->act != SM_ACT_COUNT && next->more && next->words.count <= 1 &&
        ui->prompt.text[ui->prompt.length - 1] != ' ' &&
        sm_prompt_replace(&ui->prompt, ui->prompt.cursor, " "))
        sm_ui_ask_look(ui);
}

static void complete(sm_ui *ui, bool forward) {
    sm_candidates *words = &ui->completion.words;
    if (!(ui->asked->completes || ui->asked->paths) || (words->chosen == 0 && sm_prompt_take(&ui->prompt))) {
        sm_ui_ask_look(ui);
        return;
    }
    switch (sm_prompt_complete(&ui->prompt, words, forward)) {
    case SM_COMPLETED_WHOLE:
        add_blank(ui);
        break;
    case SM_COMPLETED_PART:
        sm_ui_ask_look(ui);
        break;
    default: // the candidates stay, to be gone through
        break;
    }
}

// ---- keys ----------------------------------------------------------------------------------------------

static void look_back(sm_ui *ui, int by) {
    const char *line = ui->asked->recalls ? sm_history_look(&ui->history, by, ui->prompt.text) : NULL;
    if (line) {
        ui->prompt.cursor = ui->prompt.length;
        (void)sm_prompt_replace(&ui->prompt, 0, line);
    }
}

// With nothing typed Enter takes what is offered. False: an offer that ends in a blank, or a folder, is to be gone on from.
static bool takes_offer(sm_ui *ui) {
    sm_prompt *prompt = &ui->prompt;
    return prompt->length > 0 || !sm_prompt_take(prompt) || !strchr(" /", prompt->text[prompt->length - 1]);
}

static void press(sm_ui *ui, int key) {
    if (key == SM_KEY_TAB || key == SM_KEY_BACK_TAB) {
        complete(ui, key == SM_KEY_TAB);
        return;
    }
    if (key == SM_KEY_UP || key == SM_KEY_DOWN) {
        look_back(ui, key == SM_KEY_UP ? 1 : -1);
    } else {
        switch (sm_prompt_press(&ui->prompt, key)) {
        case SM_PROMPT_DONE:
            if (takes_offer(ui))
                ui->asked->typed(ui);
            break;
        case SM_PROMPT_LEFT:
            ui->mode = SM_UI_BOARD;
            ui->has_message &=
                ui->message.kind == SM_OUTCOME_TOLD; // what was wrong with the line goes with it
            break;
        default:
            break;
        }
    }
    sm_ui_ask_look(ui);
}

// ---- drawing -----------------------------------------------------------------------------------------------

static bool draw(sm_ui *ui, sm_area area) {
    if (!ui->asked->draw)
        return false;
    ui->asked->draw(&ui->view, area);
    return true;
}

// What is typed so far names an action that is refused as things stand.
static bool will_be_refused(const sm_ui *ui) {
    const sm_act act = ui->completion.act;
    sm_text why = {0};
    bool refused = act != SM_ACT_COUNT &&
                   (sm_not_now(&ui->view, act, &why) || sm_snapshot_refuses(ui->view.snapshot, act, &why));
    sm_text_deinit(&why);
    return refused;
}

static void draw_keys(sm_ui *ui, sm_area row, int x) {
    if (ui->view.snapshot->state != SM_STATE_SAFE)
        x = sm_hint_draw(row, x, SM_KEY_STOP, "twice too");
    if (!will_be_refused(ui))
        x = sm_hint_draw(row, x, SM_KEY_ENTER, "do it");
    x = sm_hint_draw(row, x, SM_KEY_ESCAPE, "leave it");
    if (sm_prompt_offers(&ui->prompt))
        x = sm_hint_draw(row, x, SM_KEY_TAB, "take it");
    else if (ui->completion.words.count > 0)
        x = sm_hint_draw(row, x, SM_KEY_TAB, "complete");
    if (ui->asked->recalls && ui->history.count > 0)
        sm_hint_draw(row, x, SM_KEY_UP, "lines before");
}

const sm_mode sm_mode_prompt = {.asks = true, .types = true, .press = press, .draw = draw, .keys = draw_keys};

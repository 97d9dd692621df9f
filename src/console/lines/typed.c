// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/lines/typed.h"

#include "console/asks/asks.h"
#include "console/modes/apply.h"
#include "console/modes/modes.h"
#include "console/modes/second_key.h"
#include "console/placement.h"
#include "console/tell.h"

#include <stdio.h>
#include <string.h>

// ---- keys by their names ------------------------------------------------------------------------

// SM_KEY_NONE: LINE names none.
static int key_named(const char *line) {
    static const int named[] = {SM_KEY_TAB,  SM_KEY_ENTER,   SM_KEY_ESCAPE,   SM_KEY_UP,
                                SM_KEY_DOWN, SM_KEY_LEFT,    SM_KEY_RIGHT,    SM_KEY_HOME,
                                SM_KEY_END,  SM_KEY_PAGE_UP, SM_KEY_PAGE_DOWN};
    char name[16];
    if (line[0] > ' ' && line[0] < 0x7F && line[1] == '\0')
        return line[0];
    for (size_t i = 0; i < sizeof named / sizeof named[0]; i++)
        if (strcmp(sm_key_name(named[i], name), line) == 0)
            return named[i];
    for (int key = SM_KEY_F0 + 1; key <= SM_KEY_F12; key++)
        if (strcmp(sm_key_name(key, name), line) == 0)
            return key;
    return SM_KEY_NONE;
}

// A key that the table does not know is the board's own: what it did is shown.
static void press(sm_lines *lines, int key) {
    sm_ui *ui = &lines->seen.ui;
    size_t before = ui->chosen;
    ui->has_message = false;
    sm_ui_press(ui, key);
    bool of_board = !sm_keymap_find(key) || ui->chosen != before;
    lines->shows_board = of_board && ui->mode == SM_UI_BOARD && !ui->has_message;
}

// ---- actions --------------------------------------------------------------------------------------

// Types LINE where text is asked for, behind an offer that was taken to be gone on from. What is wrong is typed again as a whole.
static void type(sm_ui *ui, const char *line) {
    sm_prompt *prompt = &ui->prompt;
    prompt->cursor = prompt->length;
    if (sm_prompt_replace(prompt, prompt->length, line))
        sm_ui_press(ui, SM_KEY_ENTER);
    else
        sm_ui_say(ui, SM_OUTCOME_WRONG, "not done: the line is too long");
    ui->given.prompt.text[0] = '\0'; // a refused line too
    ui->given.prompt.length = ui->given.prompt.cursor = 0;
    if (ui->mode == SM_UI_PROMPT && ui->has_message) {
        prompt->cursor = prompt->length;
        (void)sm_prompt_replace(prompt, 0, "");
    }
}

static bool is_confirmed(sm_act act) {
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    for (size_t i = 0; i < count; i++)
        if (rows[i].act == act && rows[i].how == SM_HOW_CONFIRM)
            return true;
    return false;
}

// The action of which LINE is the bare name. SM_ACT_COUNT: of none.
static sm_act action_named(const char *line) {
    int act = 0;
    while (act < SM_ACT_COUNT && strcmp(sm_action_row_of((sm_act)act)->name, line) != 0)
        act++;
    return (sm_act)act;
}

static void act(sm_ui *ui, const char *line) {
    sm_act named = action_named(line);
    if (named == SM_ACT_APPLY) {
        sm_ui_ask_apply(ui);
        return;
    }
    if (named != SM_ACT_COUNT && is_confirmed(named)) {
        sm_ui_confirm_key(ui, named);
    } else if (named != SM_ACT_COUNT && sm_action_row_of(named)->needed > 0) {
        sm_ask_arguments(ui, named);
    } else {
        sm_ask_command(ui, "");
        type(ui, line);
        ui->given.waits = false; // what is wrong or refused is typed again as a whole
        if (ui->mode == SM_UI_PROMPT)
            ui->mode = SM_UI_BOARD;
    }
}

// ---- words of the lines' own ------------------------------------------------------------------------

static void list_what_may_follow(sm_ui *ui, const char *line, size_t length) {
    sm_completion found;
    sm_text text = {0};
    sm_complete(&ui->view, line, length, &found);
    for (size_t i = 0; i < found.words.kept; i++)
        sm_text_printf(&text, "%s%s", i > 0 ? " " : "", found.words.names[i]);
    if (found.words.count > found.words.kept)
        sm_text_printf(&text, " and %zu more", found.words.count - found.words.kept);
    sm_ui_say(ui, SM_OUTCOME_TOLD,
              text.length > 0 ? sm_text_get(&text) : "nothing that is known goes on from there");
    sm_text_deinit(&text);
}

// `j 30`: a key that asks for text, and the text. Keys that are in no table are the board's own: `/ flame`.
static bool is_key_with_more(const char *line) {
    const bool key = line[0] > ' ' && line[1] == ' ';
    const sm_key_row *row = key ? sm_keymap_find(line[0]) : NULL;
    return key && (!row || row->how == SM_HOW_ASK);
}

static bool own_word(sm_lines *lines, const char *line) {
    static const char *const rows[] = {
        [SM_LINES_SOME] = "rows some", [SM_LINES_ALL] = "rows all", [SM_LINES_NONE] = "rows none"};
    sm_ui *ui = &lines->seen.ui;
    size_t length = strlen(line), board = sm_board_named(line);
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        if (strcmp(line, rows[i]) == 0) {
            lines->rows = (sm_lines_rows)i;
            return true;
        }
    }
    if (length > 1 && strcmp(line + length - 2, " ?") == 0) {
        list_what_may_follow(ui, line, length - 1);
        return true;
    }
    if (strncmp(line, "help ", strlen("help ")) == 0) {
        press(lines, '?');
        snprintf(ui->help_sought, sizeof ui->help_sought, "%.63s", line + strlen("help "));
        return true;
    }
    if (board < SM_BOARDS) {
        sm_ui_choose(ui, board);
        lines->shows_board = true;
        return true;
    }
    if (is_key_with_more(line)) {
        press(lines, line[0]);
        bool of_board = ui->mode == SM_UI_PROMPT && ui->asking == SM_ACT_COUNT;
        if (ui->mode == SM_UI_PROMPT)
            type(ui, line + 2 + strspn(line + 2, " "));
        lines->shows_board |= of_board && ui->mode == SM_UI_BOARD && !ui->has_message;
        return true;
    }
    int key = strcmp(line, "help") == 0 ? '?' : strcmp(line, "alerts") == 0 ? '!' : key_named(line);
    if (key != SM_KEY_NONE)
        press(lines, key);
    return key != SM_KEY_NONE;
}

// ---- what is asked --------------------------------------------------------------------------------------

// SM_ACT_COUNT: LINE is no stop.
static sm_act stop_named(const char *line) {
    static const sm_act acts[] = {SM_ACT_SAFE, SM_ACT_KEY_OFF, SM_ACT_PAUSE};
    for (size_t i = 0; i < sizeof acts / sizeof acts[0]; i++)
        if (strcmp(line, sm_action_row_of(acts[i])->name) == 0)
            return acts[i];
    return SM_ACT_COUNT;
}

// The bar that stops, and Enter.
static bool is_bar(const char *line) {
    return line[0] == ' ' && line[strspn(line, " ")] == '\0';
}

bool sm_lines_stops(const char *line) {
    return is_bar(line) || stop_named(line) != SM_ACT_COUNT;
}

// A stop is never an answer: it is done, whatever is asked.
static void stop(sm_ui *ui, sm_act act) {
    if (sm_mode_of(ui->mode)->asks)
        ui->mode = SM_UI_BOARD;
    sm_ui_do(ui, sm_action_row_of(act)->name);
}

// Only the one key that is meant does it; any other line leaves it.
static void answer_by_key(sm_ui *ui, const char *line) {
    int key = line[0] == '\0' ? SM_KEY_ENTER : key_named(line);
    sm_ui_press(ui, key == SM_KEY_NONE || key == SM_KEY_STOP ? SM_KEY_ESCAPE : key);
}

// False: LINE is no answer. The question is left, and the line is still to be done.
static bool answer_first(sm_lines *lines, const char *line) {
    sm_ui *ui = &lines->seen.ui;
    bool answered = strcmp(line, "y") == 0 || strcmp(line, "yes") == 0 || strcmp(line, "n") == 0 ||
                    strcmp(line, "no") == 0;
    sm_ui_press(ui, answered ? line[0] : SM_KEY_ESCAPE);
    if (!answered) // said before what the line does
        sm_lines_out_say(&lines->out, ui->message.text);
    ui->has_message &= answered;
    return answered;
}

static void answer(sm_lines *lines, const char *line) {
    sm_ui *ui = &lines->seen.ui;
    bool of_board = ui->mode == SM_UI_PROMPT && ui->asking == SM_ACT_COUNT;
    if (ui->mode != SM_UI_PROMPT)
        answer_by_key(ui, line);
    else if (strcmp(line, ".") == 0)
        sm_ui_press(ui, SM_KEY_ESCAPE);
    else
        type(ui, line);
    lines->shows_board = of_board && ui->mode == SM_UI_BOARD && !ui->has_message && strcmp(line, ".") != 0;
}

void sm_lines_typed(sm_lines *lines, const char *line) {
    sm_ui *ui = &lines->seen.ui;
    ui->has_message = false;
    lines->typed = lines->asked_anew = true;
    if (is_bar(line))
        sm_ui_press(ui, SM_KEY_STOP_TYPING);
    else if (sm_lines_stops(line))
        stop(ui, stop_named(line));
    else if (ui->mode == SM_UI_FIRST && answer_first(lines, line))
        return;
    else if (ui->mode != SM_UI_BOARD)
        answer(lines, line);
    else if (line[0] != '\0' && strcmp(line, ".") != 0 && !own_word(lines, line))
        act(ui, line);
}

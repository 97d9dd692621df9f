// SPDX-License-Identifier: GPL-3.0-or-later
// Lines for a board, and the name of a file of readings.
#include "boards/boards.h"
#include "console/asks/asks.h"
#include "console/modes/typing.h"
#include "console/tell.h"

#include <stdio.h>

static void board_typed(sm_ui *ui);

static void ask_for(sm_ui *ui, const char *label) {
    static const sm_asked asked = {.typed = board_typed};
    sm_ui_ask(ui, &asked, SM_ACT_COUNT, label, "");
}

static void board_typed(sm_ui *ui) {
    sm_request request = {0};
    if (!sm_board_at(ui->asker)->answer(ui->states[ui->asker], &ui->view, ui->prompt.text, &request)) {
        sm_ui_say(ui, SM_OUTCOME_WRONG, request.line);
        return;
    }
    ui->mode = SM_UI_BOARD;
    if ((request.next & SM_NEXT_ANSWER) && !ui->answer(ui->owner, request.question, ui->prompt.text))
        sm_ui_say(ui, SM_OUTCOME_WRONG, "memory ran out: the answer is not kept");
    if (request.next & SM_NEXT_ASK)
        ask_for(ui, request.line);
}

void sm_ask_for_board(sm_ui *ui, const char *label) {
    ui->asker = ui->chosen;
    ask_for(ui, label);
}

static void readings_typed(sm_ui *ui) {
    ui->mode = SM_UI_BOARD;
    if (ui->prompt.length == 0)
        return;
    sm_ui_keep_typed(ui, SM_ACT_READ, SM_SESSION_NO_FILE);
    ui->read_file(ui->owner, ui->prompt.text);
}

// What is typed begins where the program was started; most files of readings lie with the show.
void sm_ask_readings(sm_ui *ui) {
    static const sm_asked asked = {.paths = true, .typed = readings_typed};
    char folder[SM_PROMPT_BYTES];
    snprintf(folder, sizeof folder, "%.*s/", (int)sizeof folder - 2, ui->view.show->folder);
    sm_ui_ask(ui, &asked, SM_ACT_COUNT, "file of readings:", "");
    sm_prompt_offer(&ui->prompt, folder);
}

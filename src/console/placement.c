// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/placement.h"

#include "boards/boards.h"
#include "console/tell.h"

#include <stdio.h>
#include <string.h>

size_t sm_ui_beside(const sm_ui *ui, size_t boards[SM_BESIDE]) {
    size_t count = 0;
    for (size_t i = 0; i < ui->choices.beside_count; i++) {
        size_t board = sm_board_named(ui->choices.beside[i]);
        if (board < SM_BOARDS && sm_board_is_offered(sm_board_at(board), &ui->view))
            boards[count++] = board;
    }
    return count;
}

void sm_ui_go_to(sm_ui *ui, size_t board) {
    size_t beside[SM_BESIDE], count = sm_ui_beside(ui, beside);
    ui->chosen = board;
    bool stands = false;
    for (size_t i = 0; i < count; i++)
        stands = stands || beside[i] == board;
    ui->left = stands ? ui->left : board;
}

void sm_ui_choose(sm_ui *ui, size_t board) {
    ui->choices.big = false;
    sm_ui_go_to(ui, board);
    snprintf(ui->choices.board, sizeof ui->choices.board, "%s", sm_board_at(board)->name);
    ui->chose = true;
}

void sm_ui_choose_next(sm_ui *ui, size_t step) {
    size_t board = ui->chosen;
    do {
        board = (board + step) % SM_BOARDS;
    } while (!sm_board_is_offered(sm_board_at(board), &ui->view));
    sm_ui_choose(ui, board);
}

void sm_ui_step_beside(sm_ui *ui) {
    sm_choices *choices = &ui->choices;
    const char *name = sm_board_at(ui->chosen)->name;
    size_t at = 0;
    while (at < choices->beside_count && strcmp(choices->beside[at], name) != 0)
        at++;
    bool stood = at < choices->beside_count, full = choices->beside_count == SM_BESIDE;
    if (stood || full) {
        size_t out = stood ? at : 0;
        choices->beside_count--;
        memmove(choices->beside[out], choices->beside[out + 1],
                (choices->beside_count - out) * sizeof choices->beside[0]);
    }
    if (!stood)
        snprintf(choices->beside[choices->beside_count++], SM_BOARD_NAME, "%s", name);
    ui->left = ui->chosen;
    ui->chose = true;
    char text[96];
    snprintf(text, sizeof text, "%s %s on a wide terminal", name,
             stood ? "has the left half for itself" : "stands beside the others");
    sm_ui_say(ui, SM_OUTCOME_TOLD, text);
}

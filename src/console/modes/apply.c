// SPDX-License-Identifier: GPL-3.0-or-later
// What would be written into cues.csv and what `check` would newly find, before the key that writes it.
#include "console/modes/apply.h"

#include "console/modes/mode.h"
#include "console/modes/second_key.h"
#include "console/tell.h"

#include <string.h>

void sm_ui_ask_apply(sm_ui *ui) {
    const sm_snapshot *now = ui->view.snapshot;
    bool can =
        (sm_action_row_of(SM_ACT_APPLY)->states & 1u << now->state) && !now->key && now->proposal_count > 0;
    if (!ui->want_tuning) {
        sm_ui_do(ui, sm_action_row_of(SM_ACT_APPLY)->name); // by whoever sees nothing first
    } else if (!can) { // refused here: the screen may be behind, and the engine would write what nobody saw
        sm_ui_refuse(ui, SM_ACT_APPLY,
                     now->key ? "the key is on: tables are written in safe with the key off"
                              : "nothing is proposed");
    } else {
        ui->want_tuning(ui->owner);
        ui->mode = SM_UI_APPLY;
        ui->help.top = 0;
    }
}

static bool is_known(const sm_ui *ui) {
    return ui->view.tuning_words && ui->view.tuning_words[0];
}

// Nothing is written that nobody could see.
static void press(sm_ui *ui, int key) {
    if (sm_scroller_press(&ui->help, key))
        return;
    if (key == SM_KEY_ENTER && !is_known(ui))
        return;
    ui->mode = SM_UI_BOARD;
    if (key == SM_KEY_ENTER)
        sm_ui_do(ui, sm_action_row_of(SM_ACT_APPLY)->name);
    else
        sm_ui_say(ui, SM_OUTCOME_TOLD, "left: nothing was written");
}

static bool draw(sm_ui *ui, sm_area area) {
    const sm_area text = sm_area_part(area, 1, 0, area.columns - 2, area.rows);
    const char *at = is_known(ui) ? ui->view.tuning_words : "cues.csv is being looked at ...\n";
    int y = -ui->help.top;
    for (const char *end; (end = strchr(at, '\n')); at = end + 1) {
        char line[400];
        sm_text row = {.bytes = line, .capacity = sizeof line, .lent = true};
        line[0] = '\0';
        sm_text_append(&row, at, (size_t)(end - at));
        y += sm_area_wrap(text, y, 4, SM_LOOK_PLAIN, sm_text_get(&row));
        sm_text_deinit(&row);
    }
    sm_scroller_drawn_in(&ui->help, y, area);
    return true;
}

static void question(const sm_ui *ui, int columns, sm_text *out) {
    (void)columns;
    const char *what = ui->view.as_lines ? "line" : "key";
    if (is_known(ui))
        sm_text_printf(
            out,
            "APPLY: writes this into cues.csv and reads the folder again. Enter does it, any other %s "
            "leaves it.",
            what);
    else
        sm_text_printf(out, "APPLY: looking what would change. Any %s leaves it.", what);
}

const sm_mode sm_mode_apply = {.asks = true, .press = press, .draw = draw, .question = question};

// SPDX-License-Identifier: GPL-3.0-or-later
// What is asked before lights go out on a wire: what would be sent where stands in place of the boards while it is answered.
#include "console/asks/asks.h"
#include "console/modes/typing.h"
#include "console/tell.h"

#include <stdio.h>
#include <string.h>

static void draw_question(const sm_view *view, sm_area area) {
    const sm_lights_view *lights = &view->lights;
    const sm_area inner = sm_area_part(area, 1, 0, area.columns - 2, area.rows);
    int y = sm_area_wrap(inner, 0, 0, SM_LOOK_TITLE,
                         lights->on ? "LIGHTS ON A WIRE, REHEARSAL. Esc leaves."
                                    : "LIGHTS ON A WIRE, REHEARSAL. Nothing is sent before all is answered.");
    if (lights->alert[0] != '\0')
        y += sm_area_wrap(inner, y, 2, SM_LOOK_WARN, lights->alert);
    if (lights->asks[0] != '\0')
        y += 1 + sm_area_wrap(inner, y + 1, 2, SM_LOOK_NOW, lights->asks);
    y++;
    for (const char *line = lights->words; *line != '\0' && y < inner.rows;) {
        const size_t length = strcspn(line, "\n");
        sm_text text = {0};
        sm_text_append(&text, line, length);
        y += sm_area_wrap(inner, y, 2, SM_LOOK_PLAIN, sm_text_get(&text));
        sm_text_deinit(&text);
        line += length + (line[length] == '\n');
    }
}

static void answer_typed(sm_ui *ui) {
    char line[SM_SESSION_LINE];
    if (ui->prompt.length == 0 || ui->view.lights.asks[0] == '\0') {
        ui->mode = SM_UI_BOARD;
        return;
    }
    snprintf(line, sizeof line, "%s %.200s", sm_action_row_of(SM_ACT_LIGHTS_ANSWER)->name, ui->prompt.text);
    sm_ui_do(ui, line);
    sm_ask_lights(ui);
}

void sm_ask_lights(sm_ui *ui) {
    static const sm_asked asked = {.typed = answer_typed, .draw = draw_question};
    sm_ui_ask(ui, &asked, SM_ACT_COUNT, "lights (Esc leaves it; ~ then gives it up):", "");
}

void sm_begin_lights(sm_ui *ui) {
    if (!ui->view.lights.there) {
        sm_ui_say(ui, SM_OUTCOME_TOLD,
                  "no wire was named: start slowmatch with --lights INTERFACE --lights-to ADDRESS");
        return;
    }
    if (!ui->view.lights.on && ui->view.lights.asks[0] == '\0')
        sm_ui_do(ui, sm_action_row_of(SM_ACT_LIGHTS_ON)->name);
    sm_ask_lights(ui);
}

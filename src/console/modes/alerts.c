// SPDX-License-Identifier: GPL-3.0-or-later
// The alerts that stand, one below the other: what, since when, what to do, who does it. Looking at them acknowledges the attention
// that they ask for, never the fact.
#include "boards/words/alert_line.h"
#include "console/modes/scrolled.h"

static int draw_alert(const sm_view *view, sm_area area, int y, const sm_alert *alert) {
    const sm_alert_row *row = sm_alert_row_of(alert->id);
    sm_area text = sm_area_part(area, 1, 0, area.columns - 2, area.rows);
    sm_text words = {0};
    char age[24];
    sm_text_printf(&words, "%s %s", sm_alert_rank_text(row->rank), alert->words);
    int rows = sm_area_wrap(text, y, 2, sm_alert_look(row->rank), sm_text_get(&words));
    sm_text_clear(&words);
    sm_text_printf(&words, "  for %s; %s: %s", sm_age_format(view->snapshot->wall.us - alert->since.us, age),
                   row->who, sm_alert_to_do(alert->id, view->snapshot->state, view->snapshot->key));
    rows += sm_area_wrap(text, y + rows, 4, SM_LOOK_PLAIN, sm_text_get(&words));
    sm_text_deinit(&words);
    return rows + 1;
}

static bool draw(sm_ui *ui, sm_area area) {
    int y = -ui->help.top;
    if (ui->alerts.count == 0)
        y += sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 2, area.rows), y, 0, SM_LOOK_PLAIN,
                          "No alert stands. It is no statement that nothing is wrong.");
    for (uint32_t i = 0; i < ui->alerts.count; i++)
        y += draw_alert(&ui->view, area, y, &ui->alerts.at[i]);
    sm_scroller_drawn_in(&ui->help, y, area);
    return true;
}

const sm_mode sm_mode_alerts = {
    .press = sm_scrolled_press, .point = sm_scrolled_point, .draw = draw, .keys = sm_scrolled_keys};

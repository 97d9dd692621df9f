// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/foot.h"

#include "boards/words/alert_line.h"
#include "boards/words/log_line.h"
#include "console/complete.h"
#include "console/confirm_words.h"
#include "console/modes/modes.h"

#include <stdio.h>
#include <string.h>

// ---- messages and questions ------------------------------------------------------------------------

// Draws TEXT so that it ends in the last row of AREA; returns how many rows it took.
static int draw_upwards(sm_area area, sm_look look, const char *text) {
    sm_area nowhere = sm_area_part(area, 1, area.rows, area.columns - 2, 0);
    int rows = sm_area_wrap(nowhere, 0, 2, look, text);
    rows = rows > area.rows ? area.rows : rows;
    sm_area part = sm_area_part(area, 0, area.rows - rows, area.columns, rows);
    for (int y = 0; y < rows; y++)
        sm_area_field(part, 0, y, part.columns, SM_LOOK_PLAIN, "");
    sm_area_wrap_cut(sm_area_part(part, 1, 0, part.columns - 2, rows), 2, look, text);
    return rows;
}

// A message of what was told or done makes room for the next step after this time; one of what is wrong stays until a key is
// pressed. Our own figure, no source.
#define TOLD_FOR_US (10 * SM_US_PER_S)

// NULL: none.
static const sm_recent_row *latest_action(const sm_view *view) {
    const sm_recent_row *row = sm_recent_at(view->recent, 0);
    for (uint64_t age = 1; row && row->source == SM_SOURCE_ENGINE; age++)
        row = sm_recent_at(view->recent, age);
    return row;
}

// What was done just now; after that the one thing to do, but in a drill, which has its own row for that.
static sm_look idle_words(const sm_view *view, sm_text *out) {
    const sm_recent_row *row = latest_action(view);
    bool old = !row || view->snapshot->wall.us - row->wall.us > TOLD_FOR_US;
    sm_text step = {0};
    bool steps = old && !view->drill && sm_next_step_describe(view, &step);
    if (steps) {
        sm_text_printf(out, "NEXT: %s", sm_text_get(&step));
    } else if (row) {
        char second[16];
        sm_text_printf(out, "%s ", sm_time_of_day_second(view->time_of_day, row->wall, second));
        sm_log_line(row, out);
    }
    sm_text_deinit(&step);
    return steps ? SM_LOOK_NOW : SM_LOOK_DIM;
}

// ---- what is typed ------------------------------------------------------------------------------------

static void describe_action(const sm_view *view, sm_act act, sm_text *out) {
    const sm_action_row *row = sm_action_row_of(act);
    const sm_snapshot *now = view->snapshot;
    if (act == SM_ACT_MEASURE || act == SM_ACT_RERIG || act == SM_ACT_PLUG ||
        act == SM_ACT_EXCHANGE) // nobody is at product during a test, or when a line is closed
        sm_confirm_add_people(now, out);
    if (act == SM_ACT_CALL_CLEAR &&
        sm_snapshot_all_stay_out(now)) { // nobody has been where it is called clear
        sm_text_printf(out, "ALL STAY OUT%s", sm_snapshot_wait(now).asked ? ", " : "");
        sm_wait_describe(now, out);
        sm_text_printf(out, ". ");
    }
    sm_text_printf(out, "%s: %s", row->form, row->help);
    if (act == SM_ACT_ALLOW) {
        sm_text_printf(out, "; typed in full, what holds now:%s", now->inhibit_count == 0 ? " nothing" : "");
        for (uint32_t i = 0; i < now->inhibit_count; i++)
            sm_text_printf(out, "%s %s", i > 0 ? "," : "", now->inhibits[i]);
    }
}

static void list_candidates(const sm_candidates *all, sm_text *out) {
    sm_text_printf(out, "Tab:");
    for (size_t i = 0; i < all->kept; i++)
        sm_text_printf(out, "%s %s", i > 0 ? " " : "", all->names[i]);
    if (all->count > all->kept)
        sm_text_printf(out, "  and %zu more", all->count - all->kept);
}

// Draws, above the message, help on the action that is typed and the words that may follow.
static void draw_candidates(const sm_ui *ui, sm_area area) {
    const sm_completion *typed = &ui->completion;
    sm_text text = {0};
    if (typed->words.count > 0) {
        list_candidates(&typed->words, &text);
        area.rows -= draw_upwards(sm_area_part(area, 0, area.rows - 2, area.columns, 2), SM_LOOK_DIM,
                                  sm_text_get(&text));
        sm_text_clear(&text);
    }
    if (typed->act != SM_ACT_COUNT) {
        bool refused = sm_not_now(&ui->view, typed->act, &text) ||
                       sm_confirm_describe_refusal(&ui->view, typed->act, &text);
        sm_look look = refused ? SM_LOOK_WARN : SM_LOOK_PLAIN;
        if (text.length == 0)
            describe_action(&ui->view, typed->act, &text);
        draw_upwards(area, look, sm_text_get(&text));
    }
    sm_text_deinit(&text);
}

// The message as it is shown, with the second it was said.
static void message_text(const sm_ui *ui, sm_text *out) {
    char second[16];
    sm_text_printf(out, "%s %s", sm_time_of_day_second(ui->view.time_of_day, ui->message.wall, second),
                   ui->message.text);
}

static bool has_message(const sm_ui *ui) {
    bool old = ui->view.snapshot->wall.us - ui->message.wall.us > TOLD_FOR_US;
    return ui->has_message && !(old && ui->message.kind == SM_OUTCOME_TOLD && ui->mode == SM_UI_BOARD);
}

int sm_foot_rows(const sm_ui *ui, sm_area area) {
    if (ui->mode != SM_UI_BOARD || !has_message(ui))
        return 2;
    sm_text text = {0};
    message_text(ui, &text);
    sm_area nowhere = sm_area_part(area, 1, area.rows, area.columns - 2, 0);
    int rows = sm_area_wrap(nowhere, 0, 2, SM_LOOK_PLAIN, sm_text_get(&text));
    sm_text_deinit(&text);
    return rows > 1 ? rows + 1 : 2;
}

static void draw_prompt(sm_ui *ui, sm_area row) {
    for (int x = 0; x < row.columns; x++)
        sm_area_text(row, x, 0, SM_LOOK_PLAIN, " ");
    row = sm_area_part(row, 1, 0, row.columns - 2, 1);
    sm_prompt_draw(&ui->prompt, row, &ui->cursor_x);
    ui->cursor_x += row.x;
    ui->cursor_y = row.y;
}

// AREA ends with the message's row; what needs more rows grows upwards.
static void draw_message(sm_ui *ui, sm_area area) {
    sm_text text = {0};
    bool prompt = ui->mode == SM_UI_PROMPT;
    ui->cursor_x = -1;
    const sm_mode *mode = sm_mode_of(ui->mode);
    if (mode->question)
        mode->question(ui, area.columns, &text);
    if (text.length > 0) {
        draw_upwards(area, SM_LOOK_NOW, sm_text_get(&text));
        sm_text_deinit(&text);
        return;
    }
    if (prompt) {
        draw_prompt(ui, sm_area_part(area, 0, area.rows - 1, area.columns, 1));
        area.rows--;
    }
    if (has_message(ui)) {
        message_text(ui, &text);
        sm_look look = ui->message.kind == SM_OUTCOME_TOLD ? SM_LOOK_PLAIN : SM_LOOK_WARN;
        if (ui->mode == SM_UI_HELP && area.rows < 10) // one row, cut: it must not cover what is read
            sm_area_field(sm_area_part(area, 0, area.rows - 1, area.columns, 1), 1, 0, area.columns - 2, look,
                          sm_text_get(&text));
        else
            area.rows -= draw_upwards(area, look, sm_text_get(&text));
    } else if (!prompt && ui->mode != SM_UI_FIRST) { // what is asked there comes first
        sm_look look = idle_words(&ui->view, &text);
        sm_area_field(sm_area_part(area, 0, area.rows - 1, area.columns, 1), 1, 0, area.columns - 2, look,
                      sm_text_get(&text));
    }
    if (prompt)
        draw_candidates(ui, area);
    sm_text_deinit(&text);
}

// ---- the keys ------------------------------------------------------------------------------------------

static int draw_stop(sm_hits *hits, sm_area area, int key) {
    char name[16];
    int x = 1;
    x += sm_area_printf(area, x, 0, SM_LOOK_STOP, " %s MAKE SAFE ", sm_key_name(key, name));
    sm_hits_add(hits, SM_HIT_SAFE, 0, sm_area_part(area, 1, 0, x - 1, 1));
    return x + 2;
}

// What a stop does where the rehearsal is told elsewhere.
static int draw_follows(const sm_view *view, sm_area area, int key) {
    char name[16];
    sm_key_name(key, name);
    if (view->seat_refused)
        return 3 + sm_area_text(area, 1, 0, SM_LOOK_WARN, "THE SEAT IS NOT YOURS, SHOUT");
    if (!view->seat)
        return 3 + sm_area_text(area, 1, 0, SM_LOOK_WARN, "FOLLOWS ONLY, CANNOT MAKE SAFE");
    if (view->seat_asked)
        return 3 + sm_area_text(area, 1, 0, SM_LOOK_WARN, "NO SEAT YET, SHOUT");
    if (view->snapshot->incidents.link_lost)
        return 3 + sm_area_text(area, 1, 0, SM_LOOK_WARN, "NOTHING IS HEARD OF YOU, SHOUT");
    return 3 + sm_area_printf(area, 1, 0, SM_LOOK_WARN, "%s CALLS HOLD", name);
}

static void draw_keys(sm_ui *ui, sm_area area) {
    const sm_mode *mode = sm_mode_of(ui->mode);
    const int stop = mode->types ? SM_KEY_STOP_TYPING : SM_KEY_STOP;
    int x = ui->view.following ? draw_follows(&ui->view, area, stop) : draw_stop(&ui->hits, area, stop);
    if (mode->keys)
        mode->keys(ui, area, x);
}

void sm_foot_draw(sm_ui *ui, sm_area area) {
    draw_message(ui, sm_area_part(area, 0, 0, area.columns, area.rows - 1));
    draw_keys(ui, sm_area_part(area, 0, area.rows - 1, area.columns, 1));
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The foot of the screen: the message, what is asked and typed, what it may go on with, and the keys.
#include "boards/words/state_line.h"
#include "console/ui.h"

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

static void latest_action(const sm_view *view, sm_text *out) {
    for (uint64_t age = 0; sm_recent_at(view->recent, age); age++) {
        const sm_recent_row *row = sm_recent_at(view->recent, age);
        if (row->source != SM_SOURCE_ENGINE) {
            char second[16];
            sm_text_printf(out, "%s %s%s%s%s%s", sm_time_of_day_second(view->time_of_day, row->wall, second),
                           sm_log_word(row->kind), row->target[0] ? " " : "", row->target,
                           row->detail[0] ? " " : "", row->detail);
            return;
        }
    }
}

static void question(const sm_ui *ui, sm_text *out) {
    if (ui->mode == SM_UI_INHIBIT) {
        sm_inhibit_describe(&ui->view, out);
        return;
    }
    if (ui->confirm.says[0])
        sm_text_printf(out, "%s", ui->confirm.says);
    else
        sm_confirm_describe(&ui->view, ui->confirm.act, out);
    sm_text_printf(out, " Enter does it, any other key leaves it.");
}

// ---- what is typed ------------------------------------------------------------------------------------

static void describe_action(const sm_view *view, sm_act act, sm_text *out) {
    const sm_action_row *row = sm_action_row_of(act);
    const sm_snapshot *now = view->snapshot;
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

// About the action that is typed, and what it may go on with; above the message.
static void draw_candidates(const sm_ui *ui, sm_area area) {
    const sm_candidates *all = &ui->candidates;
    sm_text text = {0};
    if (all->count > 0) {
        list_candidates(all, &text);
        area.rows -= draw_upwards(sm_area_part(area, 0, area.rows - 2, area.columns, 2), SM_LOOK_DIM,
                                  sm_text_get(&text));
        sm_text_clear(&text);
    }
    if (all->act != SM_ACT_COUNT) {
        sm_look look = sm_not_now(&ui->view, all->act, &text) ? SM_LOOK_WARN : SM_LOOK_PLAIN;
        if (text.length == 0)
            describe_action(&ui->view, all->act, &text);
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

int sm_foot_rows(const sm_ui *ui, sm_area area) {
    if (ui->mode != SM_UI_BOARD || !ui->has_message)
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
    if (ui->mode == SM_UI_CONFIRM || ui->mode == SM_UI_INHIBIT) {
        question(ui, &text);
        draw_upwards(area, SM_LOOK_NOW, sm_text_get(&text));
        sm_text_deinit(&text);
        return;
    }
    if (ui->mode == SM_UI_FIRST && ui->view.drill) { // no brief is so long that the question is not seen
        draw_upwards(area, SM_LOOK_NOW,
                     area.columns < 80
                         ? "Live product in earshot? y yes, n no"
                         : "Live product within earshot? y yes, n no, any other key: unanswered, no tones");
        return;
    }
    if (prompt) {
        draw_prompt(ui, sm_area_part(area, 0, area.rows - 1, area.columns, 1));
        area.rows--;
    }
    if (ui->has_message) {
        message_text(ui, &text);
        sm_look look = ui->message.kind == SM_OUTCOME_TOLD ? SM_LOOK_PLAIN : SM_LOOK_WARN;
        if (ui->mode == SM_UI_HELP && area.rows < 10) // one row, cut: it must not cover what is read
            sm_area_field(sm_area_part(area, 0, area.rows - 1, area.columns, 1), 1, 0, area.columns - 2, look,
                          sm_text_get(&text));
        else
            area.rows -= draw_upwards(area, look, sm_text_get(&text));
    } else if (!prompt) {
        latest_action(&ui->view, &text);
        sm_area_field(sm_area_part(area, 0, area.rows - 1, area.columns, 1), 1, 0, area.columns - 2,
                      SM_LOOK_DIM, sm_text_get(&text));
    }
    if (prompt)
        draw_candidates(ui, area);
    sm_text_deinit(&text);
}

// ---- the keys ------------------------------------------------------------------------------------------

// A hint is drawn whole or not at all.
static int draw_hint(sm_area area, int x, int key, const char *word) {
    char name[16];
    sm_key_name(key, name);
    if (x + sm_text_columns(name) + 1 + sm_text_columns(word) >= area.columns)
        return x;
    x += sm_area_text(area, x, 0, SM_LOOK_KEY, name) + 1;
    return x + sm_area_text(area, x, 0, SM_LOOK_PLAIN, word) + 2;
}

static int draw_stop(sm_hits *hits, sm_area area, int key) {
    char name[16];
    int x = 1;
    x += sm_area_printf(area, x, 0, SM_LOOK_STOP, " %s MAKE SAFE ", sm_key_name(key, name));
    sm_hits_add(hits, SM_HIT_SAFE, 0, sm_area_part(area, 1, 0, x - 1, 1));
    return x + 2;
}

// A hint is shown where its action is allowed and has something to do.
static bool hint_helps(const sm_view *view, const sm_key_row *row) {
    const sm_snapshot *now = view->snapshot;
    if (!row->hint || (row->act != SM_ACT_COUNT && !(sm_action_row_of(row->act)->states & 1u << now->state)))
        return false;
    if (row->act != SM_ACT_COUNT && sm_action_row_of(row->act)->drill_only && !view->drill)
        return false;
    sm_act act = row->how == SM_HOW_KEY ? now->key ? SM_ACT_KEY_OFF : SM_ACT_KEY_ON : row->act;
    if (act != SM_ACT_COUNT && view->drill && sm_drill_not_theirs(view->drill->drill, act))
        return false;
    switch (row->act) {
    case SM_ACT_HINT:
        return view->drill->drill->hints == SM_HINTS_ASKED;
    case SM_ACT_ANSWER:
        return now->sights.calls_open > 0;
    case SM_ACT_REPORT:
        return sm_snapshot_unreported(now) > 0;
    case SM_ACT_RERIG:
        return now->made_safe_at[0] || now->misfired + now->passed > 0;
    case SM_ACT_CALL_CLEAR:
        return !now->clear_called;
    case SM_ACT_INHIBIT:
        return now->state != SM_STATE_SAFE && now->state != SM_STATE_ENDED;
    default:
        return true;
    }
}

// Help keeps its place at the right end, whatever else there is no room for.
static int draw_help(sm_area area) {
    int width = sm_text_columns("? help");
    draw_hint(area, area.columns - width - 1, '?', "help");
    return area.columns - width - 2;
}

static void draw_prompt_keys(sm_ui *ui, sm_area area) {
    int x = draw_stop(&ui->hits, area, SM_KEY_SAFE_TYPING);
    if (ui->view.snapshot->state != SM_STATE_SAFE)
        x = draw_hint(area, x, SM_KEY_SAFE, "twice too");
    x = draw_hint(area, x, SM_KEY_ENTER, "do it");
    x = draw_hint(area, x, SM_KEY_ESCAPE, "leave it");
    if (ui->prompt.offer[0])
        x = draw_hint(area, x, SM_KEY_TAB, "take it");
    else if (ui->candidates.count > 0)
        x = draw_hint(area, x, SM_KEY_TAB, "complete");
    if (ui->ask == SM_ASK_COMMAND && ui->history.count > 0)
        draw_hint(area, x, SM_KEY_UP, "lines before");
}

static void draw_keys(sm_ui *ui, sm_area area) {
    if (ui->mode == SM_UI_PROMPT) {
        draw_prompt_keys(ui, area);
        return;
    }
    int x = draw_stop(&ui->hits, area, SM_KEY_SAFE);
    switch (ui->mode) {
    case SM_UI_CONFIRM:
        draw_hint(area, x, SM_KEY_ENTER, sm_action_row_of(ui->confirm.act)->name);
        return;
    case SM_UI_HELP:
        sm_area_text(area, x, 0, SM_LOOK_PLAIN,
                     area.columns < 60 ? "Up Down scroll" : "Up Down scroll, any other key leaves");
        return;
    case SM_UI_FIRST:
    case SM_UI_INHIBIT:
        return;
    default:
        break;
    }
    sm_area left = sm_area_part(area, 0, 0, draw_help(area), 1);
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    for (size_t i = 0; i < count; i++)
        if (rows[i].how != SM_HOW_HELP && hint_helps(&ui->view, &rows[i]))
            x = draw_hint(left, x, rows[i].key, rows[i].hint);
}

void sm_foot_draw(sm_ui *ui, sm_area area) {
    draw_message(ui, sm_area_part(area, 0, 0, area.columns, area.rows - 1));
    draw_keys(ui, sm_area_part(area, 0, area.rows - 1, area.columns, 1));
}

// SPDX-License-Identifier: GPL-3.0-or-later
// Help: a page a board, its own keys first (in a drill after its brief); then the boards, the keys that work everywhere, the alerts. Or, of
// all pages, only the rows with a text that is looked for.
#include "boards/boards.h"
#include "console/drill_rows.h"
#include "console/hints.h"
#include "console/key_acts.h"
#include "console/modes/scrolled.h"
#include "console/modes/typing.h"

#include <stdio.h>
#include <string.h>

typedef struct page {
    sm_area area;
    int y;
    const char *sought; // "": everything is shown
    sm_text title;      // of what comes, while nothing of it was shown
    int found;
} page;

// ---- rows -------------------------------------------------------------------------------------

static void put_paragraph(page *p, sm_look look, const char *text) {
    p->y += sm_area_wrap(sm_area_part(p->area, 1, 0, p->area.columns - 1, p->area.rows), p->y, 0, look, text);
}

// What is looked for brings its title along; a title alone is not shown.
static void put_title(page *p, const char *name, const char *about) {
    sm_text_clear(&p->title);
    sm_text_printf(&p->title, "%s%s%s", name, about[0] ? ": " : "", about);
    if (p->sought[0])
        return;
    put_paragraph(p, SM_LOOK_TITLE, sm_text_get(&p->title));
    sm_text_clear(&p->title);
}

static void put_gap(page *p) {
    p->y += p->sought[0] == '\0';
}

static bool is_wanted(page *p, const char *keys, const char *text) {
    if (!p->sought[0])
        return true;
    bool found = strcasestr(keys, p->sought) || strcasestr(text, p->sought) ||
                 strcasestr(sm_text_get(&p->title), p->sought);
    if (found && p->title.length > 0) {
        put_paragraph(p, SM_LOOK_TITLE, sm_text_get(&p->title));
        sm_text_clear(&p->title);
    }
    p->found += found;
    return found;
}

static void put_row(page *p, const char *keys, const char *text) {
    int columns = p->area.columns, width = columns >= 60 ? 12 : 10;
    if (!is_wanted(p, keys, text))
        return;
    if (sm_text_columns(keys) > width - 2)
        width = columns >= 60 ? 28 : columns / 2;
    sm_area_field(p->area, 1, p->y, width - 2, SM_LOOK_KEY, keys);
    int rows = sm_area_wrap(sm_area_part(p->area, width, 0, columns - width, p->area.rows), p->y, 2,
                            SM_LOOK_PLAIN, text);
    p->y += rows > 0 ? rows : 1;
}

static void put_key(page *p, const char *keys, const char *form, const char *help) {
    sm_text text = {0};
    sm_text_printf(&text, "%s%s%s", form, form[0] && help[0] ? ": " : "", help);
    put_row(p, keys, sm_text_get(&text));
    sm_text_deinit(&text);
}

// ---- what there is ------------------------------------------------------------------------------

static void put_board(page *p, const sm_board *board) {
    put_title(p, board->name, board->about);
    for (size_t i = 0; i < board->key_count; i++)
        put_row(p, board->keys[i].keys, board->keys[i].help);
}

static void put_boards(page *p) {
    put_title(p, "boards", "Left and Right show the keys of the others");
    for (size_t i = 0; i < SM_BOARDS; i++) {
        char name[16];
        put_key(p, sm_key_name(sm_board_at(i)->key, name), sm_board_at(i)->name, sm_board_at(i)->about);
    }
}

static void put_everywhere(page *p, const sm_view *view) {
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    put_title(p,
              view->following ? "everywhere; this screen only follows, and makes nothing safe"
                              : "everywhere; arm, start, resume and quit are two steps: the key, then Enter",
              "");
    for (size_t i = 0; i < count; i++) {
        char name[16];
        const sm_action_row *action = rows[i].act == SM_ACT_COUNT ? NULL : sm_action_row_of(rows[i].act);
        if (!sm_key_row_is_offered(view, &rows[i]))
            continue;
        const char *help = rows[i].help ? rows[i].help : action ? action->help : "";
        put_key(p, sm_key_name(rows[i].key, name), action ? action->form : "", help);
    }
}

static void put_other_actions(page *p) {
    char name[16];
    for (int act = 0; act < SM_ACT_COUNT; act++) {
        const sm_action_row *row = sm_action_row_of((sm_act)act);
        if (!sm_keymap_key_of((sm_act)act, name) && !row->drill_only)
            put_key(p, ":", row->form, row->help);
    }
}

static void put_alerts(page *p) {
    put_title(p, "alerts, the most pressing first (! shows those that stand)", "");
    for (int id = 0; id < SM_ALERT_COUNT; id++) {
        const sm_alert_row *row = sm_alert_row_of((sm_alert_id)id);
        sm_text text = {0};
        sm_text_printf(&text, "%s: %s; %s: %s", sm_alert_rank_text(row->rank), row->when, row->who,
                       row->to_do);
        put_row(p, row->name, sm_text_get(&text));
        sm_text_deinit(&text);
    }
}

static void put_common(page *p, const sm_view *view) {
    put_boards(p);
    put_gap(p);
    put_everywhere(p, view);
    if (!view->following)
        put_other_actions(p);
    put_gap(p);
    put_alerts(p);
}

static void put_page(page *p, const sm_ui *ui) {
    if (ui->view.drill) { // what the row above promises
        p->y += sm_drill_rows_help(ui->view.drill, p->area, p->y);
        put_gap(p);
    }
    put_board(p, sm_board_at(ui->help_page));
    put_gap(p);
    put_paragraph(
        p, SM_LOOK_TITLE,
        "SAFE means that the rehearsed module is not armed; it says nothing about slots, flames, heat, "
        "fuel or people. This is a simulation with no way to fire anything.");
    put_gap(p);
    put_common(p, &ui->view);
}

static void put_found(page *p, const sm_view *view) {
    for (size_t i = 0; i < SM_BOARDS; i++)
        put_board(p, sm_board_at(i));
    put_common(p, view);
    if (p->found == 0)
        put_paragraph(p, SM_LOOK_PLAIN, "Nothing here has that text.");
}

static bool draw(sm_ui *ui, sm_area area) {
    page p = {.area = area, .y = -ui->help.top, .sought = ui->help_sought};
    if (p.sought[0]) {
        sm_text heading = {0};
        sm_text_printf(&heading, "help on “%s” (/ looks for something else)", p.sought);
        put_paragraph(&p, SM_LOOK_NOW, sm_text_get(&heading));
        sm_text_deinit(&heading);
        put_found(&p, &ui->view);
    } else {
        put_page(&p, ui);
    }
    ui->help.rows = area.rows;
    ui->help.needed = p.y + ui->help.top;
    sm_text_deinit(&p.title);
    return true;
}

// ---- keys -----------------------------------------------------------------------------------------

static void sought_typed(sm_ui *ui) {
    snprintf(ui->help_sought, sizeof ui->help_sought, "%.63s", ui->prompt.text);
    ui->help.top = 0;
    ui->mode = SM_UI_HELP;
}

static void turn(sm_ui *ui, size_t step) {
    ui->help_page = (ui->help_page + step) % SM_BOARDS;
    ui->help_sought[0] = '\0';
    ui->help.top = 0;
}

static void press(sm_ui *ui, int key) {
    static const sm_asked asked = {.typed = sought_typed};
    if (key == SM_KEY_RIGHT || key == SM_KEY_TAB)
        turn(ui, 1);
    else if (key == SM_KEY_LEFT || key == SM_KEY_BACK_TAB)
        turn(ui, SM_BOARDS - 1);
    else if (key == '/')
        sm_ui_ask(ui, &asked, SM_ACT_COUNT, "help on:", "");
    else
        sm_scrolled_press(ui, key);
}

static void draw_keys(sm_ui *ui, sm_area row, int x) {
    (void)ui;
    if (row.columns < 60) {
        sm_area_text(row, x, 0, SM_LOOK_PLAIN, "Up Down scroll /find");
        return;
    }
    x = sm_hint_draw(row, x, SM_KEY_DOWN, "scrolls");
    x = sm_hint_draw(row, x, SM_KEY_RIGHT, "next board");
    x = sm_hint_draw(row, x, '/', "finds");
    sm_area_text(row, x, 0, SM_LOOK_PLAIN, "others leave");
}

const sm_mode sm_mode_help = {.press = press, .point = sm_scrolled_point, .draw = draw, .keys = draw_keys};

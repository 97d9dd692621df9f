// SPDX-License-Identifier: GPL-3.0-or-later
// Help: the brief of a drill, the keys of the board, the boards, the keys that work everywhere.
#include "boards/boards.h"
#include "console/drill_rows.h"
#include "console/modes/scrolled.h"

static int draw_key(sm_area area, int y, const char *keys, const char *form, const char *help) {
    int width = area.columns >= 60 ? 12 : 10;
    if (sm_text_columns(keys) > width - 2)
        width = area.columns >= 60 ? 28 : area.columns / 2;
    sm_area_field(area, 1, y, width - 2, SM_LOOK_KEY, keys);
    sm_text text = {0};
    sm_text_printf(&text, "%s%s%s", form, form[0] && help[0] ? ": " : "", help);
    int rows = sm_area_wrap(sm_area_part(area, width, 0, area.columns - width, area.rows), y, 2,
                            SM_LOOK_PLAIN, sm_text_get(&text));
    sm_text_deinit(&text);
    return rows > 0 ? rows : 1;
}

static int draw_title(sm_area area, int y, const char *text) {
    return sm_area_wrap(sm_area_part(area, 1, 0, area.columns - 1, area.rows), y, 0, SM_LOOK_TITLE, text);
}

static int draw_board_help(const sm_board *board, sm_area area, int y) {
    int begin = y;
    sm_text title = {0};
    sm_text_printf(&title, "%s: %s", board->name, board->about);
    y += draw_title(area, y, sm_text_get(&title));
    sm_text_deinit(&title);
    for (size_t i = 0; i < board->key_count; i++)
        y += draw_key(area, y, board->keys[i].keys, "", board->keys[i].help);
    return y - begin;
}

static int draw_key_rows(sm_area area, int y) {
    int begin = y;
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    for (size_t i = 0; i < count; i++) {
        char name[16];
        const sm_action_row *action = rows[i].act == SM_ACT_COUNT ? NULL : sm_action_row_of(rows[i].act);
        const char *help = rows[i].help ? rows[i].help : action ? action->help : "";
        y += draw_key(area, y, sm_key_name(rows[i].key, name), action ? action->form : "", help);
    }
    return y - begin;
}

static bool has_key(sm_act act) {
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    for (size_t i = 0; i < count; i++)
        if (rows[i].act == act ||
            (rows[i].how == SM_HOW_KEY && (act == SM_ACT_KEY_ON || act == SM_ACT_KEY_OFF)))
            return true;
    return false;
}

static int draw_other_actions(sm_area area, int y) {
    int begin = y;
    for (int act = 0; act < SM_ACT_COUNT; act++) {
        const sm_action_row *row = sm_action_row_of((sm_act)act);
        if (!has_key((sm_act)act) && !row->drill_only)
            y += draw_key(area, y, ":", row->form, row->help);
    }
    return y - begin;
}

static int draw_all(const sm_board *board, const sm_drill_view *drill, sm_area area, int top) {
    int y = -top;
    if (drill)
        y += sm_drill_rows_help(drill, area, y) + 1;
    y += draw_title(
        area, y,
        "SAFE means that the rehearsed module is not armed; it says nothing about slots, flames, heat, fuel "
        "or people. This is a simulation with no way to fire anything.");
    y++;
    y += draw_board_help(board, area, y) + 1;
    y += draw_title(area, y, "boards");
    for (size_t i = 0; i < SM_BOARDS; i++) {
        char name[16];
        y += draw_key(area, y, sm_key_name(sm_board_at(i)->key, name), sm_board_at(i)->name,
                      sm_board_at(i)->about);
    }
    y++;
    y += draw_title(area, y, "everywhere; arm, start, resume and quit are two steps: the key, then Enter");
    y += draw_key_rows(area, y);
    y += draw_other_actions(area, y);
    return y + top;
}

static bool draw(sm_ui *ui, sm_area area) {
    ui->help.rows = area.rows;
    ui->help.needed = draw_all(sm_board_at(ui->chosen), ui->view.drill, area, ui->help.top);
    return true;
}

const sm_mode sm_mode_help = {
    .press = sm_scrolled_press, .point = sm_scrolled_point, .draw = draw, .keys = sm_scrolled_keys};

// SPDX-License-Identifier: GPL-3.0-or-later
// The board at hand has the keys, then the key table.
#include "boards/boards.h"
#include "boards/words/alert_line.h"
#include "boards/words/state_line.h"
#include "console/asks/asks.h"
#include "console/confirm_words.h"
#include "console/hints.h"
#include "console/key_acts.h"
#include "console/modes/mode.h"
#include "console/modes/second_key.h"
#include "console/placement.h"
#include "console/tell.h"

#include "slowmatch/conditions.h"

#include <assert.h>
#include <ctype.h>
#include <stdio.h>

// ---- keys ------------------------------------------------------------------------------------------

static bool choose_by_key(sm_ui *ui, int key) {
    for (size_t i = 0; i < SM_BOARDS; i++) {
        if (sm_board_at(i)->key == key) {
            sm_ui_choose(ui, i);
            return true;
        }
    }
    return false;
}

// What a board, or the strip, asks for after a key or the mouse.
static void grant(sm_ui *ui, unsigned next, const sm_request *request) {
    if (next & SM_NEXT_ACT)
        sm_ui_do(ui, request->line);
    if (next & SM_NEXT_SAY)
        sm_ui_say(ui, SM_OUTCOME_WRONG, request->line);
    if (next & SM_NEXT_CUE) {
        sm_board_score.show_cue(ui->states[SM_BOARD_SCORE], &ui->view, request->cue);
        sm_ui_choose(ui, SM_BOARD_SCORE);
    }
    if ((next & SM_NEXT_PROMPT) && ui->view.following)
        sm_ui_only_follows(ui);
    else if (next & SM_NEXT_PROMPT)
        sm_ask_command(ui, request->line);
    if (next & SM_NEXT_ASK)
        sm_ask_for_board(ui, request->line);
}

static void press(sm_ui *ui, int key) {
    const sm_board *board = sm_board_at(ui->chosen);
    sm_request request = {0};
    bool shown = board->press && !ui->choices.big; // a board that is not seen takes no keys
    unsigned next = shown ? board->press(ui->states[ui->chosen], &ui->view, key, &request) : SM_NEXT_UNUSED;
    grant(ui, next, &request);
    if (!(next & SM_NEXT_UNUSED) || choose_by_key(ui, key))
        return;
    const sm_key_row *row = sm_keymap_find(key);
    const bool offered = row && sm_key_row_is_offered(&ui->view, row);
    if (row)
        sm_ui_do_row(ui, row);
    if (ui->view.seat && !offered && isalnum(key)) {
        // Words that were begun without the key that asks for them: they are typed, and are no keys.
        sm_ask_command(ui, (char[]){(char)key, '\0'});
    } else if (row) {
        return;
    } else if (key == SM_KEY_ESCAPE) {
        ui->has_message = false;
        ui->chose |= ui->choices.big;
        ui->choices.big = false;
    } else if (key > SM_KEY_STOP && key < SM_KEY_SPECIAL) {
        char text[64], name[16];
        snprintf(text, sizeof text, "no key %s on this board: ? lists those it has", sm_key_name(key, name));
        sm_ui_say(ui, SM_OUTCOME_TOLD, text);
    }
}

// ---- the mouse -------------------------------------------------------------------------------------

static void point_board(sm_ui *ui, size_t number, sm_mouse mouse) {
    const sm_board *board = sm_board_at(number);
    sm_request request = {0};
    unsigned next = SM_NEXT_NOTHING;
    if (mouse.what == SM_MOUSE_CLICK)
        sm_ui_choose(ui, number);
    if (board->point) {
        next = board->point(ui->states[number], &ui->view, mouse, &request);
    } else if (mouse.what != SM_MOUSE_CLICK && board->press) {
        int key = mouse.what == SM_MOUSE_WHEEL_UP ? SM_KEY_UP : SM_KEY_DOWN;
        for (int i = 0; i < SM_WHEEL_STEPS; i++)
            next |= board->press(ui->states[number], &ui->view, key, &request);
    }
    grant(ui, next & ~(unsigned)SM_NEXT_ACT, &request);
}

// A click asks for a second key before the show is elsewhere; the wheel shows less or more of it.
static void point_strip(sm_ui *ui, sm_mouse mouse) {
    sm_show_time moment;
    if (mouse.what != SM_MOUSE_CLICK) {
        sm_strip_zoom(ui->strip, ui->view.show, mouse.what == SM_MOUSE_WHEEL_UP);
    } else if (ui->view.following) {
        sm_ui_only_follows(ui);
    } else if (sm_strip_moment(ui->strip, &ui->view, mouse.x, &moment)) {
        char clock[24], line[40];
        snprintf(line, sizeof line, "seek %s", sm_clock_format(clock, moment.us));
        sm_ui_jump(ui, line, moment, true);
    }
}

static bool point(sm_ui *ui, sm_hit hit, sm_mouse mouse) {
    if (ui->too_small)
        return false;
    switch (hit.what) {
    case SM_HIT_TAB:
        if (mouse.what == SM_MOUSE_CLICK)
            sm_ui_choose(ui, hit.board);
        break;
    case SM_HIT_BOARD:
        point_board(ui, hit.board, mouse);
        break;
    case SM_HIT_STRIP:
        point_strip(ui, mouse);
        break;
    default:
        break;
    }
    return true;
}

// ---- the row of keys ----------------------------------------------------------------------------------

static bool is_refused(const sm_snapshot *now, sm_act act) {
    sm_text why = {0};
    bool refused = sm_snapshot_refuses(now, act, &why);
    sm_text_deinit(&why);
    return refused;
}

static sm_act act_of(const sm_snapshot *now, const sm_key_row *row) {
    return row->how != SM_HOW_KEY ? row->act : now->key ? SM_ACT_KEY_OFF : SM_ACT_KEY_ON;
}

// A hint is shown where its action is allowed, is not refused as things stand, and has something to do.
static bool hint_helps(const sm_view *view, const sm_key_row *row) {
    const sm_snapshot *now = view->snapshot;
    const bool lost = now->incidents.link_lost;
    if (row->how == SM_HOW_ALERTS)
        return view->alerts->count > 0;
    if (!row->hint || is_refused(now, row->act) ||
        (row->act != SM_ACT_COUNT && !(sm_action_row_of(row->act)->states & 1u << now->state)))
        return false;
    if (row->act != SM_ACT_COUNT && sm_action_row_of(row->act)->drill_only && !view->drill &&
        !sm_ui_seat_may(view, row->act))
        return false;
    const sm_act act = act_of(now, row);
    if (act != SM_ACT_COUNT && view->drill && sm_drill_not_theirs(view->drill->drill, act))
        return false;
    switch (row->act) {
    case SM_ACT_HINT:
        assert(view->drill); // there is no such action elsewhere
        return view->drill->drill->hints == SM_HINTS_ASKED;
    case SM_ACT_ANSWER:
        return now->incidents.calls_open > 0;
    case SM_ACT_REPORT:
        return sm_snapshot_unreported(now) > 0;
    case SM_ACT_RERIG:
        return !lost && now->people_count == 0 &&
               (now->made_safe_at[0] || now->misfired + now->passed > 0 || sm_condition_any_spent(now));
    case SM_ACT_CALL_CLEAR:
        return !now->clear_called && !lost && now->state == SM_STATE_SAFE && !sm_snapshot_danger(now) &&
               !sm_snapshot_all_stay_out(now);
    case SM_ACT_LIGHTS_ON:
        return view->lights.there && !view->lights.on;
    case SM_ACT_LIGHTS_OFF:
        return view->lights.on || view->lights.asks[0] != '\0';
    case SM_ACT_INHIBIT:
        return now->state != SM_STATE_SAFE && now->state != SM_STATE_ENDED;
    default: // the key goes in when the field is clear
        return act != SM_ACT_KEY_ON || (now->clear_called && !lost);
    }
}

// Calling clear, the key, arming, starting or going on, where something else comes first. A drill that tells nothing gives nothing away here either.
static bool leads_past(const sm_view *view, sm_act act, sm_act next) {
    const bool in_drill = view->drill && !view->drill->over;
    const bool leads = act == SM_ACT_CALL_CLEAR || act == SM_ACT_KEY_ON || act == SM_ACT_ARM ||
                       act == SM_ACT_START || act == SM_ACT_RESUME;
    return leads && act != next && !(in_drill && next == SM_ACT_COUNT);
}

// First of all keys: on the narrowest screen it is the only one. The stop has its own place.
static int draw_next_key(const sm_view *view, sm_area row, int x, sm_act act) {
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    for (size_t i = 0; i < count && act != SM_ACT_COUNT && act != SM_ACT_SAFE; i++) {
        bool turns = rows[i].how == SM_HOW_KEY && (act == SM_ACT_KEY_ON || act == SM_ACT_KEY_OFF);
        if ((rows[i].act == act || turns) && sm_key_row_is_offered(view, &rows[i]))
            return sm_hint_draw(row, x, rows[i].key,
                                rows[i].hint && !turns ? rows[i].hint : sm_action_row_of(act)->name);
    }
    return x;
}

// The key switch by what the key does now; a stop at a seat is a hold.
static const char *hint_word(const sm_view *view, const sm_key_row *row) {
    if (row->how == SM_HOW_KEY)
        return sm_action_row_of(act_of(view->snapshot, row))->name;
    return view->following && row->act == SM_ACT_PAUSE ? "hold" : row->hint;
}

// Help keeps its place at the right end, whatever else there is no room for.
static int draw_help(sm_area area) {
    int width = sm_text_columns("? help");
    sm_hint_draw(area, area.columns - width - 1, '?', "help");
    return area.columns - width - 2;
}

static void draw_keys(sm_ui *ui, sm_area row, int x) {
    sm_area left = sm_area_part(row, 0, 0, draw_help(row), 1);
    size_t count;
    const sm_key_row *rows = sm_keymap(&count);
    const sm_act next = sm_view_next_act(&ui->view);
    const bool turns = next == SM_ACT_KEY_ON || next == SM_ACT_KEY_OFF;
    x = draw_next_key(&ui->view, left, x, next);
    for (size_t i = 0; i < count; i++)
        if (rows[i].how != SM_HOW_HELP && !(next != SM_ACT_COUNT && rows[i].act == next) &&
            !leads_past(&ui->view, act_of(ui->view.snapshot, &rows[i]), next) &&
            !(turns && rows[i].how == SM_HOW_KEY) && sm_key_row_is_offered(&ui->view, &rows[i]) &&
            hint_helps(&ui->view, &rows[i]))
            x = sm_hint_draw(left, x, rows[i].key, hint_word(&ui->view, &rows[i]));
}

const sm_mode sm_mode_board = {.press = press, .point = point, .keys = draw_keys};

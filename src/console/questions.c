// SPDX-License-Identifier: GPL-3.0-or-later
// What the console says at length: the first screen, the questions before two-step actions, the help.
#include "boards/words/standing_conditions.h"
#include "boards/words/state_line.h"
#include "console/drill_rows.h"
#include "console/ui.h"

#include <stdio.h>
#include <string.h>

void sm_confirm_add_unmet(const sm_snapshot *now, sm_act act, sm_text *out) {
    static const unsigned people = 1u << SM_GUARD_KEY | 1u << SM_GUARD_FIELD | 1u << SM_GUARD_CLEAR;
    unsigned asked = act == SM_ACT_ARM ? (1u << SM_GUARD_COUNT) - 1 : people;
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++)
        if (asked & 1u << guard && now->guards[guard].word == SM_GUARD_NOT_MET)
            sm_text_printf(out, " %s NOT MET: %s.", sm_guard_text((sm_guard)guard), now->guards[guard].why);
}

void sm_confirm_add_standing(const sm_snapshot *now, sm_text *out) {
    sm_text text = {0};
    sm_conditions_add(now, &text);
    if (text.length > 2)
        sm_text_printf(out, " %s.", sm_text_get(&text) + 2); // without the comma before the first
    sm_text_clear(&text);
    if (sm_condition_stray(now, &text))
        sm_text_printf(out, " %s.", sm_text_get(&text));
    sm_text_deinit(&text);
}

void sm_confirm_describe(const sm_view *view, sm_act act, sm_text *out) {
    const sm_snapshot *now = view->snapshot;
    char span[24], clock[24], name[48];
    switch (act) {
    case SM_ACT_ARM:
        sm_text_printf(out, "ARM the rehearsed module, armed after %s.",
                       sm_age_format(view->show->settings.arm_time_us, span));
        if (now->guards[SM_GUARD_READINGS].word == SM_GUARD_NOT_CHECKED)
            sm_text_printf(out, " Readings NOT CHECKED: %s.", now->guards[SM_GUARD_READINGS].why);
        if (now->wind_known && now->wind_m_s > view->show->settings.wind_limit_m_s)
            sm_text_printf(out, " WIND OVER YOUR LIMIT: no aerials.");
        sm_confirm_add_unmet(now, act, out);
        sm_confirm_add_standing(now, out);
        break;
    case SM_ACT_START:
        sm_text_printf(out, "START counts down %s", sm_snapshot_count(now, span));
        sm_text_printf(out, " and begins at %s.", sm_clock_format(clock, now->place.us));
        sm_confirm_add_unmet(now, act, out);
        sm_confirm_add_standing(now, out);
        break;
    case SM_ACT_RESUME:
        sm_text_printf(out, "RESUME counts down %s", sm_snapshot_count(now, span));
        if (now->next_firing != SM_NONE) {
            const sm_event *event = &view->show->events[now->next_firing];
            sm_text_printf(out, ", FIRES %s",
                           sm_slot_format(view->show, view->show->firings[event->target].slot, name));
            sm_text_printf(out, " %s after the count.",
                           sm_countdown_format(sm_snapshot_until_event(now, now->next_firing), span));
        } else {
            sm_text_printf(out, "; nothing more fires.");
        }
        sm_confirm_add_unmet(now, act, out);
        break;
    case SM_ACT_QUIT:
        sm_text_printf(out, view->drill && !view->drill->over
                                ? "END THE DRILL: makes safe; then the debrief asks you four questions."
                                : "quit: makes safe, and leaves.");
        break;
    default:
        sm_text_printf(out, "%s: %s.", sm_action_row_of(act)->name, sm_action_row_of(act)->help);
        break;
    }
}

void sm_jump_describe(const sm_view *view, sm_show_time moment, sm_text *out) {
    const sm_snapshot *now = view->snapshot;
    char clock[24];
    uint32_t passed = 0;
    for (uint32_t slot = 0; slot < view->show->slot_count; slot++) {
        uint32_t firing = view->show->slot_firings[slot];
        passed += firing != SM_NONE && now->slots[slot].phase == SM_SLOT_WAITING &&
                  view->show->firings[firing].fire_us < moment.us;
    }
    sm_clock_format(clock, moment.us);
    switch (now->state) {
    case SM_STATE_RUNNING:
        sm_text_printf(out, "JUMP while RUNNING: the show goes on from %s", clock);
        break;
    case SM_STATE_PAUSED:
        sm_text_printf(out, "JUMP while PAUSED, STILL ARMED: RESUME will go on from %s", clock);
        break;
    default:
        sm_text_printf(out, "JUMP: START WILL BEGIN AT %s", clock);
        break;
    }
    if (passed > 0) {
        sm_text_printf(out, "; %u slot%s not fired yet %s passed over: LIVE", passed, passed == 1 ? "" : "s",
                       passed == 1 ? "is" : "are");
    }
    sm_text_printf(out, ".");
}

// ---- the first screen ------------------------------------------------------------------------

typedef struct paragraph {
    sm_look look;
    const char *text;
} paragraph;

static int draw_paragraphs(const paragraph *paragraphs, size_t count, sm_area area, int y, bool gaps) {
    sm_area text = sm_area_part(area, 1, 0, area.columns > 92 ? 90 : area.columns - 2, area.rows);
    for (size_t i = 0; i < count; i++)
        if (paragraphs[i].text[0])
            y += sm_area_wrap(text, y, 0, paragraphs[i].look, paragraphs[i].text);
        else if (gaps)
            y++;
    return y;
}

void sm_first_draw(sm_area area, bool asks) {
    static const paragraph whole[] = {
        {SM_LOOK_TITLE,
         "This is a simulation. It has no way to fire anything: no part of it leads to an igniter, and it "
         "moves no flame."},
        {SM_LOOK_PLAIN, ""},
        {SM_LOOK_PLAIN,
         "SAFE means that the rehearsed module is not armed; it says nothing about slots, flames, heat, "
         "fuel or people. On a site the local code, the makers' data and the licensed operator go first."},
        {SM_LOOK_PLAIN, ""},
        {SM_LOOK_NOW, "Is live product rigged within earshot?"},
        {SM_LOOK_PLAIN, "y  yes: this console makes no tones, nobody can take them for real ones"},
        {SM_LOOK_PLAIN, "n  no: tones sound while arming"},
        {SM_LOOK_PLAIN, "Any other key leaves it unanswered: no tones."},
    };
    static const paragraph brief[] = {
        {SM_LOOK_TITLE,
         "A simulation: it has no way to fire anything. SAFE means only that the rehearsed module is not "
         "armed."},
        {SM_LOOK_NOW, "Live product within earshot? y yes, n no"},
    };
    bool small = area.rows < 12 || area.columns < 60;
    if (small || !asks) // its last paragraph asks
        draw_paragraphs(brief, sizeof brief / sizeof brief[0] - !asks, area, 0, false);
    else
        draw_paragraphs(whole, sizeof whole / sizeof whole[0], area, 0, true);
}

// ---- help ----------------------------------------------------------------------------------------

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

int sm_help_draw(const sm_board *board, const sm_drill_view *drill, sm_area area, int top) {
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

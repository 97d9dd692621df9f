// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/ui.h"

#include "boards/boards.h"
#include "console/modes/modes.h"
#include "console/modes/second_key.h"
#include "console/modes/tune.h"
#include "console/modes/typing.h"
#include "console/placement.h"
#include "console/tell.h"

#include <assert.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

// ---- boards -----------------------------------------------------------------------------------

sm_result sm_ui_init(sm_ui *ui) {
    ui->mode = ui->view.following ? SM_UI_BOARD : SM_UI_FIRST; // what only follows makes no tones
    ui->cursor_x = -1;
    ui->view.alerts = &ui->alerts;
    ui->view.key_of = ui->view.following ? NULL : sm_keymap_key_of;
    ui->state = ui->view.snapshot->state;
    sm_choices_init(&ui->choices);
    ui->strip = sm_strip_create();
    bool made = ui->strip != NULL;
    for (size_t i = 0; i < SM_BOARDS; i++) {
        ui->states[i] = calloc(1, sm_board_at(i)->state_size);
        made = made && ui->states[i];
    }
    return made ? SM_OK : SM_NO_MEMORY;
}

void sm_ui_deinit(sm_ui *ui) {
    sm_strip_destroy(ui->strip);
    for (size_t i = 0; i < SM_BOARDS; i++) {
        if (ui->states[i] && sm_board_at(i)->forget)
            sm_board_at(i)->forget(ui->states[i]);
        free(ui->states[i]);
    }
}

void sm_ui_show_changed(sm_ui *ui) {
    sm_strip_forget(ui->strip);
    for (size_t i = 0; i < SM_BOARDS; i++) {
        const sm_board *board = sm_board_at(i);
        if (board->show_changed) {
            board->show_changed(ui->states[i], &ui->view);
        } else {
            if (board->forget)
                board->forget(ui->states[i]);
            memset(ui->states[i], 0, board->state_size);
        }
    }
}

bool sm_ui_work(sm_ui *ui) {
    bool more = false;
    for (size_t i = 0; i < SM_BOARDS; i++) {
        const sm_board *board = sm_board_at(i);
        more |= board->work && board->work(ui->states[i], &ui->view);
    }
    return more;
}

void sm_ui_begin_as_chosen(sm_ui *ui) {
    size_t board = sm_board_named(ui->choices.board);
    if (board < SM_BOARDS && sm_board_is_offered(sm_board_at(board), &ui->view))
        sm_ui_go_to(ui, board);
}

// ---- what happens by itself ----------------------------------------------------------------------

// What misfired is put before people when the show has ended or was made safe, and taken away when they arm again.
static void follow_state(sm_ui *ui, sm_state from, sm_state to) {
    bool over = to == SM_STATE_ENDED || (to == SM_STATE_SAFE && from >= SM_STATE_RUNNING);
    if (over && ui->chosen != SM_BOARD_AFTER) {
        ui->before_after = ui->chosen;
        sm_ui_go_to(ui, SM_BOARD_AFTER);
    } else if (to == SM_STATE_ARMING && ui->chosen == SM_BOARD_AFTER) {
        sm_ui_go_to(ui, ui->before_after);
    }
    // A question put in one state is not answered in another.
    if (ui->mode == SM_UI_CONFIRM && ui->confirm.act != SM_ACT_QUIT)
        ui->mode = SM_UI_BOARD;
}

// The debrief comes up by itself, once, but not in a real emergency. A text under way is typed to its end.
static void follow_drill(sm_ui *ui) {
    const sm_drill_view *drill = ui->view.drill;
    if (ui->drill_ended || !drill || !drill->over || drill->broken_off || !ui->view.debrief)
        return;
    ui->drill_ended = true;
    sm_ui_go_to(ui, SM_BOARD_DEBRIEF);
    if (ui->mode != SM_UI_PROMPT)
        ui->mode = SM_UI_BOARD;
}

// Where no sound plays, the terminal's bell stands in for TONE.
static void sound(sm_ui *ui, sm_tone tone) {
    bool sounds = ui->view.sound->state == SM_AUDIO_SOUNDING && !ui->view.snapshot->incidents.sound_lost;
    if (sounds)
        ui->tones |= 1u << tone;
    else
        ui->bell = true;
}

// How often a warning or caution asks for attention until somebody acknowledges it, and with which tone. Ours, no source.
static const struct {
    sm_tone tone;
    sm_us every_us;
} attention[] = {[SM_ALERT_WARNING] = {SM_TONE_WARNING, 4 * SM_US_PER_S},
                 [SM_ALERT_CAUTION] = {SM_TONE_CAUTION, 20 * SM_US_PER_S}};

// A new one is heard at once, by the bell where no sound plays; after that only its tone, where there is one.
static void call_attention(sm_ui *ui, bool is_new) {
    const sm_us now = ui->view.snapshot->wall.us;
    sm_alert_rank rank = sm_alerts_calls(&ui->alerts);
    if (!ui->view.tones || rank == 0 || rank == SM_ALERT_ADVISORY || (!is_new && now < ui->alert_at))
        return;
    bool bell = ui->bell;
    sound(ui, attention[rank].tone);
    ui->bell = is_new ? ui->bell : bell;
    ui->alert_at = now + attention[rank].every_us;
}

// A new warning or caution asks for attention; where no tone may sound it is only seen.
static void follow_alerts(sm_ui *ui) {
    const sm_view *view = &ui->view;
    const sm_alert_facts facts = {.day = view->time_of_day,
                                  .age_not_proven = view->age_not_proven,
                                  .told_ended = view->told_ended,
                                  .sound_lost = view->sound->state == SM_AUDIO_LOST,
                                  .sounds = view->sound->state == SM_AUDIO_SOUNDING,
                                  .offset_measured = view->offset_measured,
                                  .show_changed = view->show_changed,
                                  .swapped = view->swapped,
                                  .not_kept = view->not_kept,
                                  .lights = view->lights.alert[0] ? view->lights.alert : NULL};
    uint64_t before = 0, now = 0;
    static_assert(SM_ALERT_COUNT <= 64, "a bit for each alert");
    for (uint32_t i = 0; i < ui->alerts.count; i++)
        before |= UINT64_C(1) << ui->alerts.at[i].id;
    sm_alerts_look(&ui->alerts, view->snapshot, &facts, NULL, NULL);
    for (uint32_t i = 0; i < ui->alerts.count; i++)
        if (sm_alert_row_of(ui->alerts.at[i].id)->rank < SM_ALERT_ADVISORY)
            now |= UINT64_C(1) << ui->alerts.at[i].id;
    call_attention(ui, (now & ~before) != 0);
}

void sm_ui_look(sm_ui *ui) {
    const sm_snapshot *now = ui->view.snapshot;
    follow_alerts(ui);
    if (now->state != ui->state) {
        follow_state(ui, ui->state, now->state);
        ui->bell |= ui->view.tones && (now->state == SM_STATE_ARMED || now->state == SM_STATE_ENDED);
        ui->bell_at = now->wall.us;
        ui->state = now->state;
        sm_ui_ask_look(ui); // other actions are allowed now
    }
    follow_drill(ui);
    sm_ui_tune_look(ui);
    if (sm_ui_awaits_names(ui))
        sm_ui_ask_look(ui); // the names may be there by now
    if (now->state == SM_STATE_ARMING && now->wall.us >= ui->bell_at) {
        if (ui->view.tones)
            sound(ui, SM_TONE_ARMING);
        ui->bell_at += SM_US_PER_S;
    }
    const sm_calls_wanted wanted = {ui->view.tones, ui->view.calls, ui->view.ticks};
    if (!sm_call_tones_follow(&ui->call_tones, ui->view.session, ui->view.snapshot, &wanted))
        sm_ui_say(ui, SM_OUTCOME_WRONG, "memory ran out: the call tones are as they were");
}

// ---- keys ------------------------------------------------------------------------------------------

// At a seat every stop key calls hold: one meaning, in a drill and out of it.
static const char *stop_of(const sm_ui *ui) {
    return ui->view.following ? "hold" : "safe";
}

static void make_safe(sm_ui *ui) {
    sm_ui_do(ui, stop_of(ui));
    if (sm_mode_of(ui->mode)->asks)
        ui->mode = SM_UI_BOARD;
}

// By a blank that was typed: what follows is typed as well, and must not become keys.
static void make_safe_typing(sm_ui *ui) {
    sm_ui_do(ui, stop_of(ui));
    sm_ui_ask_look(ui);
}

// A blank before the first word, or after another blank, separates nothing. While the module is not safe it is taken for the stop:
// a hand that reaches for the stop types it, and no line needs it.
static bool blank_stops(const sm_ui *ui) {
    const sm_prompt *prompt = &ui->prompt;
    return ui->view.snapshot->state != SM_STATE_SAFE &&
           (prompt->cursor == 0 || prompt->text[prompt->cursor - 1] == ' ');
}

bool sm_ui_press(sm_ui *ui, int key) {
    if (key == SM_KEY_SPECIAL || key == SM_KEY_NONE)
        return false;
    ui->given.waits = false;
    // First of all, from everywhere: make safe.
    bool types = sm_mode_of(ui->mode)->types && !ui->too_small;
    if (key == SM_KEY_STOP_TYPING || (key == SM_KEY_STOP && !types)) {
        make_safe(ui);
        return true;
    }
    if (key == SM_KEY_STOP && blank_stops(ui)) {
        make_safe_typing(ui);
        return true;
    }
    if (ui->too_small) { // what cannot be seen is neither asked nor answered
        if (key == 'p')
            sm_ui_do(ui, "pause");
        return true;
    }
    if (key == SM_KEY_REDRAW) {
        ui->repaint = true;
        return true;
    }
    sm_mode_of(ui->mode)->press(ui, key);
    return true;
}

void sm_ui_paste(sm_ui *ui, const sm_paste *paste) {
    if (!sm_mode_of(ui->mode)->types || ui->too_small)
        sm_ui_say(ui, SM_OUTCOME_WRONG, "pasted text does nothing here: no line is asked for");
    else if (paste->spoilt || !sm_prompt_put(&ui->prompt, paste->text, paste->count))
        sm_ui_say(ui, SM_OUTCOME_WRONG, "the pasted text is too long, or broken off: nothing of it is taken");
    sm_ui_ask_look(ui);
}

bool sm_ui_interrupt(sm_ui *ui) {
    if (ui->view.following || ui->too_small || (ui->mode == SM_UI_CONFIRM && ui->confirm.act == SM_ACT_QUIT))
        return false;
    make_safe(ui);
    sm_ui_confirm_key(ui, SM_ACT_QUIT);
    return true;
}

// ---- the mouse -------------------------------------------------------------------------------------

static bool point(sm_ui *ui, sm_hit hit, sm_mouse mouse) {
    const sm_mode *mode = sm_mode_of(ui->mode);
    if (!mode->asks || mode->types || mouse.what != SM_MOUSE_CLICK)
        return mode->point && mode->point(ui, hit, mouse);
    mode->press(ui, SM_KEY_NONE); // as any key that does nothing else
    return true;
}

bool sm_ui_point(sm_ui *ui, sm_mouse mouse) {
    sm_hit hit = sm_hits_find(&ui->hits, &mouse);
    if (hit.what == SM_HIT_SAFE) {
        bool click = mouse.what == SM_MOUSE_CLICK;
        if (click)
            make_safe(ui);
        return click;
    }
    sm_ui_mode before = ui->mode;
    // A mode that a click leaves hands it on to the next one.
    return point(ui, hit, mouse) || (ui->mode != before && point(ui, hit, mouse));
}

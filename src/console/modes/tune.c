// SPDX-License-Identifier: GPL-3.0-or-later
// A cue's time is put right by keys: each is a `propose`, which changes nothing yet. Taps along with the music offer their median, and
// the nearest accent of the music beside it.
#include "console/modes/tune.h"

#include "boards/boards.h"
#include "console/modes/apply.h"
#include "console/modes/mode.h"
#include "console/tell.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- which cue -------------------------------------------------------------------------------------

// The one chosen on the board, else the one that comes next, else the first.
static uint32_t chosen_cue(const sm_ui *ui) {
    const sm_show *show = ui->view.show;
    const sm_board *board = sm_board_at(ui->chosen);
    sm_text id = {0};
    uint32_t cue = SM_NONE;
    if (board->suggest)
        board->suggest(ui->states[ui->chosen], &ui->view, SM_ARG_CUE, &id);
    if (id.length > 0)
        cue = sm_cue_find(show, id.bytes, id.length);
    sm_text_deinit(&id);
    if (cue == SM_NONE && ui->view.snapshot->cursor < show->event_count)
        cue = show->events[show->order[ui->view.snapshot->cursor]].cue;
    return cue != SM_NONE ? cue : 0;
}

void sm_ui_tune(sm_ui *ui) {
    if (ui->view.drill || ui->view.show->cue_count == 0) {
        sm_ui_say(ui, SM_OUTCOME_TOLD, ui->view.drill ? "not in a drill" : "there is no cue in this show");
        return;
    }
    sm_tune *tune = &ui->tune;
    tune->cue = chosen_cue(ui);
    tune->onwards = false;
    tune->taps.count = 0; // their habit is kept
    tune->notice = NULL;
    ui->mode = SM_UI_TUNE;
}

static void listen(sm_ui *ui, uint32_t cue) {
    const sm_preview *preview = &ui->view.snapshot->preview;
    char id[12], line[100];
    snprintf(line, sizeof line, "%s %.60s", sm_action_row_of(SM_ACT_LISTEN)->name,
             sm_cue_id(ui->view.show, cue, id));
    sm_ui_do(ui, preview->on && preview->cue == cue ? sm_action_row_of(SM_ACT_LISTEN_OFF)->name : line);
}

void sm_ui_listen(sm_ui *ui) {
    const sm_preview *preview = &ui->view.snapshot->preview;
    if (ui->view.show->cue_count == 0)
        sm_ui_say(ui, SM_OUTCOME_TOLD, "there is no cue in this show");
    else
        listen(ui, preview->on ? preview->cue : chosen_cue(ui));
}

// ---- proposing ----------------------------------------------------------------------------------------

static void propose(sm_ui *ui, const char *step) {
    char id[12], line[160];
    snprintf(line, sizeof line, "%s %.60s %s%s", sm_action_row_of(SM_ACT_PROPOSE)->name,
             sm_cue_id(ui->view.show, ui->tune.cue, id), step, ui->tune.onwards ? " on" : "");
    sm_ui_do(ui, line);
}

static void other_cue(sm_ui *ui, int by) {
    const uint32_t count = ui->view.show->cue_count;
    if (by > 0 ? ui->tune.cue + 1 >= count : ui->tune.cue == 0) {
        ui->tune.notice = by > 0 ? "this is the last cue" : "this is the first cue";
        return;
    }
    ui->tune.cue += (uint32_t)by;
    ui->tune.taps.count = 0;
    if (ui->view.snapshot->preview.on)
        listen(ui, ui->tune.cue);
}

// ---- tapping --------------------------------------------------------------------------------------------

// What is heard at this moment: of the running show, or of a preview. False: nothing.
static bool heard_us(const sm_ui *ui, sm_us *out) {
    const sm_snapshot *now = ui->view.snapshot;
    sm_us later_us = // than the snapshot
        ui->view.session ? sm_session_now(ui->view.session).us - now->wall.us : 0;
    if (later_us < 0 || later_us > SM_US_PER_S)
        later_us = 0;
    if (now->preview.on)
        *out = sm_preview_place(&now->preview, (sm_wall_time){now->wall.us + later_us}).us;
    else
        *out = now->at.us + later_us * now->speed_ppm / 1000000;
    return now->preview.on || now->state == SM_STATE_RUNNING;
}

// It takes some milliseconds, so the session looks for it beside the screen, once for each offer.
#define ACCENT_WITHIN_US (3 * SM_US_PER_S / 20)

static void look_for_accent(sm_ui *ui) {
    sm_tune *tune = &ui->tune;
    tune->accent_us = SM_UNSET_US;
    tune->accent_waits = ui->view.session != NULL;
    if (tune->accent_waits)
        sm_session_want_accent(ui->view.session, (sm_show_time){sm_taps_place(&tune->taps, &tune->habit)},
                               ACCENT_WITHIN_US);
}

void sm_ui_tune_look(sm_ui *ui) {
    sm_tune *tune = &ui->tune;
    sm_show_time accent;
    if (!tune->accent_waits || !sm_session_accent(ui->view.session, &accent))
        return;
    tune->accent_waits = false;
    tune->accent_us = accent.us != SM_UNSET_US ? (accent.us + 500) / 1000 * 1000 : SM_UNSET_US;
}

static void tap(sm_ui *ui) {
    sm_us at_us;
    if (!heard_us(ui, &at_us)) {
        ui->tune.notice = "taps count while music is heard: \" listens to the cue, round and round";
        return;
    }
    sm_taps_add(&ui->tune.taps, at_us);
    look_for_accent(ui);
}

static void take(sm_ui *ui, sm_us at_us) {
    char moment[48];
    snprintf(moment, sizeof moment, "%" PRId64 ".%03" PRId64, at_us / SM_US_PER_S,
             at_us % SM_US_PER_S / 1000);
    propose(ui, moment);
    ui->tune.taps.count = 0;
}

static void take_taps(sm_ui *ui) {
    if (ui->tune.taps.count == 0)
        ui->tune.notice = "nothing was tapped yet (t taps)";
    else
        take(ui, sm_taps_place(&ui->tune.taps, &ui->tune.habit));
}

static void take_accent(sm_ui *ui) {
    const sm_tune *tune = &ui->tune;
    if (tune->taps.count == 0)
        ui->tune.notice = "nothing was tapped yet (t taps)";
    else if (tune->accent_waits)
        ui->tune.notice = "the nearest accent of the music is still being looked for";
    else if (tune->accent_us == SM_UNSET_US)
        ui->tune.notice = "the music has no accent near there";
    else
        take(ui, tune->accent_us);
}

// The cue stands right: what the taps are off is the habit of whoever taps.
static void learn_habit(sm_ui *ui) {
    const sm_snapshot *now = ui->view.snapshot;
    sm_tune *tune = &ui->tune;
    const sm_us is_us = sm_proposed_us(ui->view.show, now->proposals, now->proposal_count, tune->cue);
    if (tune->taps.count == 0)
        tune->notice = "tap along at a cue that stands right, then h: what the taps are off is your habit";
    sm_taps_learn(&tune->habit, &tune->taps, is_us);
    tune->taps.count = 0;
}

// ---- the mode ---------------------------------------------------------------------------------------------

static void press(sm_ui *ui, int key) {
    static const struct {
        int key;
        const char *step;
    } steps[] = {{',', "-0.05 s"}, {'.', "+0.05 s"}, {'<', "-0.1 s"}, {'>', "+0.1 s"},
                 {'(', "-1 f"},    {')', "+1 f"},    {'b', "beat"}};
    ui->tune.notice = NULL;
    ui->has_message = false;
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
        if (steps[i].key == key) {
            propose(ui, steps[i].step);
            return;
        }
    switch (key) {
    case SM_KEY_UP:
    case SM_KEY_DOWN:
        other_cue(ui, key == SM_KEY_DOWN ? 1 : -1);
        break;
    case 'o':
        ui->tune.onwards = !ui->tune.onwards;
        break;
    case 'u':
        sm_ui_do(ui, sm_action_row_of(SM_ACT_UNDO)->name);
        break;
    case 't':
        tap(ui);
        break;
    case SM_KEY_ENTER:
        take_taps(ui);
        break;
    case 'a':
        take_accent(ui);
        break;
    case 'h':
        learn_habit(ui);
        break;
    case '"':
        listen(ui, ui->tune.cue);
        break;
    case '@':
        ui->mode = SM_UI_BOARD;
        sm_ui_ask_apply(ui);
        break;
    default:
        ui->mode = SM_UI_BOARD;
        if (ui->view.snapshot->preview.on)
            sm_ui_do(ui, sm_action_row_of(SM_ACT_LISTEN_OFF)->name);
        break;
    }
}

// What was tapped, and the nearest accent of the music.
static void add_offer(const sm_tune *tune, sm_text *out) {
    char to[24];
    const int habit_ms = (int)(sm_taps_median(&tune->habit) / 1000);
    if (tune->habit.count > 0)
        sm_text_printf(out, ", your habit: %d ms %s", abs(habit_ms), habit_ms < 0 ? "early" : "late");
    if (tune->taps.count == 0)
        return;
    sm_text_printf(out, ", %zu tap%s: %s, Enter proposes it", tune->taps.count,
                   tune->taps.count == 1 ? "" : "s",
                   sm_clock_format(to, sm_taps_place(&tune->taps, &tune->habit)));
    if (tune->accent_us != SM_UNSET_US)
        sm_text_printf(out, "; accent of the music: %s, a proposes it", sm_clock_format(to, tune->accent_us));
}

// A cue that was moved twice is one.
static uint32_t cues_named(const sm_snapshot *now) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < now->proposal_count; i++) {
        bool again = false;
        for (uint32_t k = 0; k < i; k++)
            again |= now->proposals[k].cue == now->proposals[i].cue;
        count += !again;
    }
    return count;
}

static void question(const sm_ui *ui, int columns, sm_text *out) {
    const sm_snapshot *now = ui->view.snapshot;
    const sm_show *show = ui->view.show;
    char id[12], is[24], to[24];
    const sm_us is_us = show->cues[ui->tune.cue].time_us;
    const sm_us to_us = sm_proposed_us(show, now->proposals, now->proposal_count, ui->tune.cue);
    if (ui->tune.notice || ui->has_message)
        sm_text_printf(out, "%s. ", ui->tune.notice ? ui->tune.notice : ui->message.text);
    sm_text_printf(out, "CUE %.40s at %s", sm_cue_id(show, ui->tune.cue, id), sm_clock_format(is, is_us));
    if (to_us != is_us)
        sm_text_printf(out, ", PROPOSED %s", sm_clock_format(to, to_us));
    add_offer(&ui->tune, out);
    sm_text_printf(out,
                   ". , . 0.05 s  < > 0.1 s  ( ) a frame  b beat  \" %s  t tap  o from here on: %s  u undo",
                   now->preview.on ? "listen no more" : "listen", ui->tune.onwards ? "YES" : "no");
    if (columns >= 60)
        sm_text_printf(out,
                       "  h these taps are my habit  Up Down another cue  @ write; any other key leaves. %u "
                       "cue%s proposed, nothing written.",
                       cues_named(now), cues_named(now) == 1 ? "" : "s");
}

const sm_mode sm_mode_tune = {.asks = true, .press = press, .question = question};

// SPDX-License-Identifier: GPL-3.0-or-later
// A cue's time is put right by keys: each is a `propose`, which changes nothing yet. Taps along with the music offer their median.
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
    ui->tune = (sm_tune){.cue = chosen_cue(ui)};
    ui->mode = SM_UI_TUNE;
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
    ui->tune.cue = (ui->tune.cue + (by > 0 ? 1 : count - 1)) % count;
    ui->tune.tap_count = 0;
}

// ---- tapping --------------------------------------------------------------------------------------------

static int by_value(const void *a, const void *b) {
    const sm_us first = *(const sm_us *)a, second = *(const sm_us *)b;
    return (first > second) - (first < second);
}

static sm_us median_of(const sm_tune *tune) {
    sm_us sorted[SM_TUNE_TAPS];
    memcpy(sorted, tune->taps, tune->tap_count * sizeof sorted[0]);
    qsort(sorted, tune->tap_count, sizeof sorted[0], by_value);
    const size_t half = tune->tap_count / 2;
    return tune->tap_count % 2 == 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

// In whole milliseconds: no hand is closer.
static sm_us rounded(sm_us us) {
    return (us + 500) / 1000 * 1000;
}

static void tap(sm_ui *ui) {
    const sm_snapshot *now = ui->view.snapshot;
    sm_tune *tune = &ui->tune;
    if (now->state != SM_STATE_RUNNING) {
        tune->notice = "taps count while the show runs: a repeat round the cue gives several";
        return;
    }
    if (tune->tap_count == SM_TUNE_TAPS)
        memmove(tune->taps, tune->taps + 1, --tune->tap_count * sizeof tune->taps[0]);
    sm_us later_us =
        ui->view.session ? sm_session_now(ui->view.session).us - now->wall.us : 0; // than the snapshot
    if (later_us < 0 || later_us > SM_US_PER_S)
        later_us = 0;
    tune->taps[tune->tap_count++] = now->at.us + later_us * now->speed_ppm / 1000000;
}

static void take_taps(sm_ui *ui) {
    char moment[48];
    if (ui->tune.tap_count == 0) {
        ui->tune.notice = "nothing was tapped yet (t taps)";
        return;
    }
    const sm_us at_us = rounded(median_of(&ui->tune));
    snprintf(moment, sizeof moment, "%" PRId64 ".%03" PRId64, at_us / SM_US_PER_S,
             at_us % SM_US_PER_S / 1000);
    propose(ui, moment);
    ui->tune.tap_count = 0;
}

// ---- the mode ---------------------------------------------------------------------------------------------

static void press(sm_ui *ui, int key) {
    static const struct {
        int key;
        const char *step;
    } steps[] = {{',', "-0.05 s"}, {'.', "+0.05 s"}, {'<', "-0.1 s"}, {'>', "+0.1 s"},
                 {'(', "-1 f"},    {')', "+1 f"},    {'b', "beat"}};
    ui->tune.notice = NULL;
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
    case '@':
        ui->mode = SM_UI_BOARD;
        sm_ui_ask_apply(ui);
        break;
    default:
        ui->mode = SM_UI_BOARD;
        break;
    }
}

static void question(const sm_ui *ui, int columns, sm_text *out) {
    const sm_snapshot *now = ui->view.snapshot;
    const sm_show *show = ui->view.show;
    char id[12], is[24], to[24];
    const sm_us is_us = show->cues[ui->tune.cue].time_us;
    const sm_us to_us = sm_proposed_us(show, now->proposals, now->proposal_count, ui->tune.cue);
    if (ui->tune.notice)
        sm_text_printf(out, "%s. ", ui->tune.notice);
    sm_text_printf(out, "CUE %.40s at %s", sm_cue_id(show, ui->tune.cue, id), sm_clock_format(is, is_us));
    if (to_us != is_us)
        sm_text_printf(out, ", PROPOSED %s", sm_clock_format(to, to_us));
    if (ui->tune.tap_count > 0)
        sm_text_printf(out, ", %zu tap%s: %s, Enter proposes it", ui->tune.tap_count,
                       ui->tune.tap_count == 1 ? "" : "s",
                       sm_clock_format(to, rounded(median_of(&ui->tune))));
    sm_text_printf(out, ". , . 0.05 s  < > 0.1 s  ( ) a frame  b beat  t tap  o from here on: %s  u undo",
                   ui->tune.onwards ? "YES" : "no");
    if (columns >= 60)
        sm_text_printf(out,
                       "  Up Down another cue  @ write; any other key leaves. %u proposed, nothing written.",
                       now->proposal_count);
}

const sm_mode sm_mode_tune = {.asks = true, .press = press, .question = question};

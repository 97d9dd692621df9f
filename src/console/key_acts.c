// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/key_acts.h"

#include "boards/boards.h"
#include "console/asks/asks.h"
#include "console/modes/hold_back.h"
#include "console/modes/second_key.h"
#include "console/placement.h"
#include "console/tell.h"

#include <assert.h>
#include <inttypes.h>
#include <stdio.h>

// ---- actions and questions --------------------------------------------------------------------------

static void act(sm_ui *ui, const sm_key_row *row) {
    sm_ui_do(ui, sm_action_row_of(row->act)->name);
}

static void turn_key(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    sm_ui_do(ui, sm_action_row_of(ui->view.snapshot->key ? SM_ACT_KEY_OFF : SM_ACT_KEY_ON)->name);
}

static void confirm(sm_ui *ui, const sm_key_row *row) {
    sm_ui_confirm_key(ui, row->act);
}

static void ask(sm_ui *ui, const sm_key_row *row) {
    sm_ask_arguments(ui, row->act);
}

static void inhibit(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    sm_ui_ask_inhibit(ui);
}

static void start_at(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    sm_ask_start_at(ui);
}

static void command(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    sm_ask_command(ui, "");
}

static void readings(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    sm_ask_readings(ui);
}

static void calls(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    sm_ask_calls(ui);
}

static void ticks(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    sm_toggle_ticks(ui);
}

static void device(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    sm_ask_device(ui);
}

// The next step of a scale above or below VALUE.
static double step(const double *scale, size_t count, double value, bool up) {
    if (up) {
        for (size_t i = 0; i < count; i++)
            if (scale[i] > value + 1e-9)
                return scale[i];
        return scale[count - 1];
    }
    for (size_t i = count; i > 0; i--)
        if (scale[i - 1] < value - 1e-9)
            return scale[i - 1];
    return scale[0];
}

static void step_speed(sm_ui *ui, const sm_key_row *row) {
    static const double speeds[] = {0.1, 0.25, 0.5, 0.75, 1, 1.25, 1.5, 2};
    char line[32];
    double speed = step(speeds, sizeof speeds / sizeof speeds[0], ui->view.snapshot->speed_ppm / 1e6,
                        row->how == SM_HOW_FASTER);
    snprintf(line, sizeof line, "speed %g", speed);
    sm_ui_do(ui, line);
}

static void step_volume(sm_ui *ui, const sm_key_row *row) {
    static const double volumes[] = {0, 5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 100};
    char line[32];
    double volume = step(volumes, sizeof volumes / sizeof volumes[0], ui->view.snapshot->volume,
                         row->how == SM_HOW_LOUDER);
    snprintf(line, sizeof line, "volume %g", volume);
    sm_ui_do(ui, line);
}

// ---- jumps ---------------------------------------------------------------------------------------------

static sm_wall_time now_of(const sm_ui *ui) {
    return ui->view.audio ? sm_audio_now(ui->view.audio) : ui->view.snapshot->wall;
}

static void jump(sm_ui *ui, const sm_key_row *row) {
    static const char *const nothing[] = {
        [SM_HOW_SECOND_BACK] = "this is the beginning of the show",
        [SM_HOW_SECOND_ON] = "this is the end of the show",
        [SM_HOW_CUE_BACK] = "no cue before this moment",
        [SM_HOW_CUE_ON] = "no cue after this moment",
        [SM_HOW_BEAT_BACK] = "no beat was tapped before this moment (B taps one)",
        [SM_HOW_BEAT_ON] = "no beat was tapped after this moment (B taps one)",
    };
    sm_show_time to;
    if (!sm_jumps_to(&ui->jumps, ui->view.snapshot, now_of(ui), row->how, &to)) {
        sm_ui_say(ui, SM_OUTCOME_TOLD, nothing[row->how]);
        return;
    }
    char line[48];
    snprintf(line, sizeof line, "seek %" PRId64 ".%06" PRId64, to.us / SM_US_PER_S, to.us % SM_US_PER_S);
    sm_ui_do(ui, line);
}

static void tap_beat(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    char line[32];
    snprintf(line, sizeof line, "mark beat-%u", sm_jumps_beat(&ui->jumps, ui->view.snapshot, now_of(ui)));
    sm_ui_do(ui, line);
}

// ---- the screen ----------------------------------------------------------------------------------------

static void ask_about_tones(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    ui->mode = SM_UI_FIRST;
}

static void zoom_strip(sm_ui *ui, const sm_key_row *row) {
    sm_strip_zoom(ui->strip, ui->view.show, row->how == SM_HOW_STRIP_CLOSER);
}

static void big(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    ui->choices.big = !ui->choices.big;
    ui->chose = true;
}

static void help(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    ui->mode = SM_UI_HELP;
    ui->help.top = 0;
}

static void next_board(sm_ui *ui, const sm_key_row *row) {
    sm_ui_choose_next(ui, row->how == SM_HOW_NEXT_BOARD ? 1 : SM_BOARDS - 1);
}

static void beside(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    sm_ui_step_beside(ui);
}

static void redraw(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    ui->repaint = true;
}

static void next_colours(sm_ui *ui, const sm_key_row *row) {
    (void)row;
    ui->choices.colours = (sm_palette)((ui->choices.colours + 1) % SM_PALETTE_COUNT);
    ui->chose = true;
    const sm_palette_row *palette = sm_palette_row_of(ui->choices.colours);
    char text[96];
    snprintf(text, sizeof text, "colours: %s, %s", palette->name, palette->about);
    sm_ui_say(ui, SM_OUTCOME_TOLD, text);
}

// ---- all of them ------------------------------------------------------------------------------------------

void sm_ui_do_row(sm_ui *ui, const sm_key_row *row) {
    static void (*const acts[])(sm_ui *, const sm_key_row *) = {
        [SM_HOW_ACT] = act,
        [SM_HOW_KEY] = turn_key,
        [SM_HOW_CONFIRM] = confirm,
        [SM_HOW_ASK] = ask,
        [SM_HOW_INHIBIT] = inhibit,
        [SM_HOW_START_AT] = start_at,
        [SM_HOW_FASTER] = step_speed,
        [SM_HOW_SLOWER] = step_speed,
        [SM_HOW_LOUDER] = step_volume,
        [SM_HOW_SOFTER] = step_volume,
        [SM_HOW_SECOND_BACK] = jump,
        [SM_HOW_SECOND_ON] = jump,
        [SM_HOW_CUE_BACK] = jump,
        [SM_HOW_CUE_ON] = jump,
        [SM_HOW_BEAT_BACK] = jump,
        [SM_HOW_BEAT_ON] = jump,
        [SM_HOW_BEAT] = tap_beat,
        [SM_HOW_COMMAND] = command,
        [SM_HOW_READINGS] = readings,
        [SM_HOW_TONES] = ask_about_tones,
        [SM_HOW_CALLS] = calls,
        [SM_HOW_TICKS] = ticks,
        [SM_HOW_DEVICE] = device,
        [SM_HOW_STRIP_CLOSER] = zoom_strip,
        [SM_HOW_STRIP_WIDER] = zoom_strip,
        [SM_HOW_BIG] = big,
        [SM_HOW_HELP] = help,
        [SM_HOW_NEXT_BOARD] = next_board,
        [SM_HOW_PREVIOUS_BOARD] = next_board,
        [SM_HOW_COLOURS] = next_colours,
        [SM_HOW_BESIDE] = beside,
        [SM_HOW_REDRAW] = redraw,
    };
    static_assert(sizeof acts / sizeof acts[0] == SM_HOWS, "something to do for each kind of row");
    acts[row->how](ui, row);
}

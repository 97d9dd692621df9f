// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/key_acts.h"

#include "boards/boards.h"
#include "console/asks/asks.h"
#include "console/modes/apply.h"
#include "console/modes/hold_back.h"
#include "console/modes/second_key.h"
#include "console/modes/tune.h"
#include "console/placement.h"
#include "console/tell.h"

#include <assert.h>
#include <inttypes.h>
#include <stdio.h>

// ---- actions and questions --------------------------------------------------------------------------

static void act(sm_ui *ui, const sm_key_row *row) {
    sm_ui_do(ui, sm_action_row_of(row->act)->name);
}

static void turn_key(sm_ui *ui) {
    sm_ui_do(ui, sm_action_row_of(ui->view.snapshot->key ? SM_ACT_KEY_OFF : SM_ACT_KEY_ON)->name);
}

static void confirm(sm_ui *ui, const sm_key_row *row) {
    sm_ui_confirm_key(ui, row->act);
}

static void ask(sm_ui *ui, const sm_key_row *row) {
    sm_ask_arguments(ui, row->act);
}

static void command(sm_ui *ui) {
    sm_ask_command(ui, "");
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
    return ui->view.session ? sm_session_now(ui->view.session) : ui->view.snapshot->wall;
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
    char line[48], clock[24];
    snprintf(line, sizeof line, "seek %s", sm_clock_format(clock, to.us));
    if (to.us % 1000 != 0) // between the thousandths of a clock
        snprintf(line, sizeof line, "seek %" PRId64 ".%06" PRId64, to.us / SM_US_PER_S, to.us % SM_US_PER_S);
    sm_ui_jump(ui, line, to, false);
}

static void tap_beat(sm_ui *ui) {
    char line[32];
    snprintf(line, sizeof line, "mark beat-%u", sm_jumps_beat(&ui->jumps, ui->view.snapshot, now_of(ui)));
    sm_ui_do(ui, line);
}

// ---- the screen ----------------------------------------------------------------------------------------

static void ask_about_tones(sm_ui *ui) {
    ui->mode = SM_UI_FIRST;
}

static void zoom_strip(sm_ui *ui, const sm_key_row *row) {
    sm_strip_zoom(ui->strip, ui->view.show, row->how == SM_HOW_STRIP_CLOSER);
}

static void big(sm_ui *ui) {
    ui->choices.big = !ui->choices.big;
    ui->chose = true;
}

static void help(sm_ui *ui) {
    ui->mode = SM_UI_HELP;
    ui->help.top = 0;
    ui->help_page = ui->chosen;
    ui->help_sought[0] = '\0';
}

static void list_alerts(sm_ui *ui) {
    ui->mode = SM_UI_ALERTS;
    ui->help.top = 0;
    for (uint32_t i = 0; i < ui->alerts.count; i++)
        sm_alerts_acknowledge(&ui->alerts, ui->alerts.at[i].id);
}

static void next_board(sm_ui *ui, const sm_key_row *row) {
    sm_ui_choose_next(ui, row->how == SM_HOW_NEXT_BOARD ? 1 : SM_BOARDS - 1);
}

static void redraw(sm_ui *ui) {
    ui->repaint = true;
}

static void next_colours(sm_ui *ui) {
    ui->choices.colours = (sm_palette)((ui->choices.colours + 1) % SM_PALETTE_COUNT);
    ui->chose = true;
    const sm_palette_row *palette = sm_palette_row_of(ui->choices.colours);
    char text[96];
    snprintf(text, sizeof text, "colours: %s, %s", palette->name, palette->about);
    sm_ui_say(ui, SM_OUTCOME_TOLD, text);
}

// ---- all of them ------------------------------------------------------------------------------------------

// Of each kind of row: what it does, with the row or without.
static const struct {
    void (*plain)(sm_ui *ui);
    void (*with)(sm_ui *ui, const sm_key_row *row);
    bool looks; // and acts on nothing
} acts[] = {
    [SM_HOW_ACT] = {.with = act},
    [SM_HOW_KEY] = {.plain = turn_key},
    [SM_HOW_CONFIRM] = {.with = confirm},
    [SM_HOW_ASK] = {.with = ask},
    [SM_HOW_INHIBIT] = {.plain = sm_ui_ask_inhibit},
    [SM_HOW_START_AT] = {.plain = sm_ask_start_at},
    [SM_HOW_TUNE] = {.plain = sm_ui_tune},
    [SM_HOW_LISTEN] = {.plain = sm_ui_listen},
    [SM_HOW_APPLY] = {.plain = sm_ui_ask_apply},
    [SM_HOW_FASTER] = {.with = step_speed},
    [SM_HOW_SLOWER] = {.with = step_speed},
    [SM_HOW_LOUDER] = {.with = step_volume},
    [SM_HOW_SOFTER] = {.with = step_volume},
    [SM_HOW_SECOND_BACK] = {.with = jump},
    [SM_HOW_SECOND_ON] = {.with = jump},
    [SM_HOW_CUE_BACK] = {.with = jump},
    [SM_HOW_CUE_ON] = {.with = jump},
    [SM_HOW_BEAT_BACK] = {.with = jump},
    [SM_HOW_BEAT_ON] = {.with = jump},
    [SM_HOW_BEAT] = {.plain = tap_beat},
    [SM_HOW_COMMAND] = {.plain = command},
    [SM_HOW_READINGS] = {.plain = sm_ask_readings},
    [SM_HOW_TONES] = {.plain = ask_about_tones},
    [SM_HOW_CALLS] = {.plain = sm_ask_calls},
    [SM_HOW_TICKS] = {.plain = sm_toggle_ticks},
    [SM_HOW_LIGHTS] = {.plain = sm_begin_lights},
    [SM_HOW_DEVICE] = {.plain = sm_ask_device},
    [SM_HOW_STRIP_CLOSER] = {.with = zoom_strip, .looks = true},
    [SM_HOW_STRIP_WIDER] = {.with = zoom_strip, .looks = true},
    [SM_HOW_BIG] = {.plain = big, .looks = true},
    [SM_HOW_HELP] = {.plain = help, .looks = true},
    [SM_HOW_ALERTS] = {.plain = list_alerts, .looks = true},
    [SM_HOW_NEXT_BOARD] = {.with = next_board, .looks = true},
    [SM_HOW_PREVIOUS_BOARD] = {.with = next_board, .looks = true},
    [SM_HOW_COLOURS] = {.plain = next_colours, .looks = true},
    [SM_HOW_BESIDE] = {.plain = sm_ui_step_beside, .looks = true},
    [SM_HOW_REDRAW] = {.plain = redraw, .looks = true},
};
static_assert(sizeof acts / sizeof acts[0] == SM_HOWS, "something to do for each kind of row");

// At a seat of another console's rehearsal the keys of hold and of pause both call hold.
static bool calls_hold(const sm_view *view, const sm_key_row *row) {
    return view->seat && (row->act == SM_ACT_HOLD || row->act == SM_ACT_PAUSE);
}

// At such a seat, while a drill runs, the keys of the actions that are the seat's own work, and so does the command line. Answering is
// offered at any time: whoever is called begins to type, and what they type must not be taken for keys.
static bool is_the_seats(const sm_view *view, const sm_key_row *row) {
    bool plain = row->how == SM_HOW_ACT || row->how == SM_HOW_ASK;
    if (view->seat && row->act == SM_ACT_ANSWER)
        return true;
    return view->seat && view->seat_drills &&
           (row->how == SM_HOW_COMMAND || (plain && sm_ui_seat_may(view, row->act)));
}

bool sm_key_row_is_offered(const sm_view *view, const sm_key_row *row) {
    return !view->following || acts[row->how].looks || row->act == SM_ACT_QUIT || calls_hold(view, row) ||
           is_the_seats(view, row);
}

void sm_ui_do_row(sm_ui *ui, const sm_key_row *row) {
    if (calls_hold(&ui->view, row))
        sm_ui_do(ui, "hold");
    else if (!sm_key_row_is_offered(&ui->view, row))
        sm_ui_only_follows(ui);
    else if (ui->view.seat && row->act == SM_ACT_QUIT)
        sm_ui_confirm(ui, row->act, sm_action_row_of(row->act)->name,
                      "LEAVE THE SEAT: it is free then, and nobody calls hold there.");
    else if (ui->view.following && row->act == SM_ACT_QUIT)
        sm_ui_do(ui, sm_action_row_of(row->act)->name); // nothing goes on without it
    else if (acts[row->how].plain)
        acts[row->how].plain(ui);
    else
        acts[row->how].with(ui, row);
}

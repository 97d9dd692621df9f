// SPDX-License-Identifier: GPL-3.0-or-later
// Keys about what is heard: moves through the music, call tones, ticks, devices.
#include "console/ui.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static sm_wall_time now_of(const sm_ui *ui) {
    return ui->view.audio ? sm_audio_now(ui->view.audio) : ui->view.snapshot->wall;
}

static void move(sm_ui *ui, sm_key_how how) {
    static const char *const nothing[] = {
        [SM_HOW_SECOND_BACK] = "this is the beginning of the show",
        [SM_HOW_SECOND_ON] = "this is the end of the show",
        [SM_HOW_CUE_BACK] = "no cue before this moment",
        [SM_HOW_CUE_ON] = "no cue after this moment",
        [SM_HOW_BEAT_BACK] = "no beat was tapped before this moment (B taps one)",
        [SM_HOW_BEAT_ON] = "no beat was tapped after this moment (B taps one)",
    };
    sm_show_time to;
    if (!sm_jumps_to(&ui->jumps, ui->view.snapshot, now_of(ui), how, &to)) {
        sm_ui_say(ui, SM_OUTCOME_TOLD, nothing[how]);
        return;
    }
    char line[48];
    snprintf(line, sizeof line, "seek %" PRId64 ".%06" PRId64, to.us / SM_US_PER_S, to.us % SM_US_PER_S);
    sm_ui_do(ui, line);
}

static void tap_beat(sm_ui *ui) {
    char line[32];
    snprintf(line, sizeof line, "mark beat-%u", sm_jumps_beat(&ui->jumps, ui->view.snapshot, now_of(ui)));
    sm_ui_do(ui, line);
}

// ---- tones -------------------------------------------------------------------------------------------

static void say_tones(sm_ui *ui, const char *what) {
    char text[256];
    snprintf(text, sizeof text, "%s%s", what,
             ui->view.tones ? "" : "; NOT HEARD while tones are off (T asks about live product)");
    sm_ui_say(ui, SM_OUTCOME_TOLD, text);
}

static void toggle_ticks(sm_ui *ui) {
    ui->view.ticks = !ui->view.ticks;
    if (ui->view.ticks)
        say_tones(ui, "a tick at each cue, at the moment when the audience should see it");
    else
        sm_ui_say(ui, SM_OUTCOME_TOLD, "no tick at the cues");
}

static bool calls_typed(sm_ui *ui, const char *text) {
    char what[192];
    if (text[0] == '\0' || strcmp(text, "off") == 0) {
        ui->view.calls[0] = '\0';
        sm_ui_say(ui, SM_OUTCOME_TOLD, "no call tones");
        return true;
    }
    if (strlen(text) >= SM_CALLS_BYTES || !sm_call_tones_know(ui->view.show, text)) {
        snprintf(what, sizeof what,
                 "'%.60s': a slot, rail, effect, fixture, group, position or zone of this show, pyro or off",
                 text);
        sm_ui_say(ui, SM_OUTCOME_WRONG, what);
        return false;
    }
    snprintf(ui->view.calls, sizeof ui->view.calls, "%s", text);
    snprintf(what, sizeof what, "call tones for %.90s: three, two, one, now", text);
    say_tones(ui, what);
    return true;
}

// ---- devices -----------------------------------------------------------------------------------------

static size_t list_devices(const sm_view *view, sm_audio_device devices[SM_AUDIO_DEVICES_MAX]) {
    return view->audio ? sm_audio_devices(view->audio, devices, SM_AUDIO_DEVICES_MAX) : 0;
}

void sm_devices_draw(const sm_view *view, sm_area area) {
    sm_audio_device devices[SM_AUDIO_DEVICES_MAX];
    size_t count = list_devices(view, devices);
    sm_area inner = sm_area_part(area, 1, 0, area.columns - 1, area.rows);
    int y = sm_area_wrap(inner, 0, 2, SM_LOOK_TITLE,
                         count ? "Sound devices, as found when the sound was last opened"
                               : "No sound device was found (or none was looked for: --silent)");
    for (size_t i = 0; i < count; i++) {
        if (y == inner.rows - 1 && i + 1 < count) {
            sm_area_printf(inner, 0, y, SM_LOOK_DIM, "and %zu more: type a part of the name", count - i);
            break;
        }
        sm_text line = {0};
        sm_text_printf(
            &line, "%zu  %s  (%s, %d channels, %d Hz)%s%s", i + 1, devices[i].name, devices[i].host,
            devices[i].channels, devices[i].rate_hz, devices[i].is_default ? ", the default" : "",
            view->sound->state == SM_AUDIO_SOUNDING && strcmp(devices[i].name, view->sound->device) == 0
                ? ", IN USE"
                : "");
        sm_area_field(inner, 0, y++, inner.columns, SM_LOOK_PLAIN, sm_text_get(&line));
        sm_text_deinit(&line);
    }
}

// A number of the list, or a name that is not looked at here: the device may come later.
static bool device_typed(sm_ui *ui, const char *text) {
    sm_audio_device devices[SM_AUDIO_DEVICES_MAX];
    size_t count = list_devices(&ui->view, devices);
    char *end, what[192];
    unsigned long number = strtoul(text, &end, 10);
    bool numbered = text[0] >= '0' && text[0] <= '9' && *end == '\0';
    if (numbered && (number < 1 || number > count)) {
        snprintf(what, sizeof what, "%.20s: the list has numbers 1 to %zu", text, count);
        sm_ui_say(ui, SM_OUTCOME_WRONG, count ? what : "the list is empty: type a part of the name");
        return false;
    }
    const char *name = numbered ? devices[number - 1].name : text[0] ? text : NULL;
    if (ui->view.audio)
        sm_audio_choose(ui->view.audio, name);
    snprintf(what, sizeof what, "going over to %.120s", name ? name : "the default device");
    sm_ui_say(ui, SM_OUTCOME_TOLD, what);
    return true;
}

static void ask_device(sm_ui *ui) {
    if (ui->view.silent) {
        sm_ui_say(ui, SM_OUTCOME_TOLD, "this rehearsal was begun with --silent: no sound device is opened");
        return;
    }
    sm_ui_ask_line(ui, SM_ASK_DEVICE, "device (number, part of a name, nothing: default):", "");
}

// ---- all of it ---------------------------------------------------------------------------------------

bool sm_ui_sound_row(sm_ui *ui, const sm_key_row *row) {
    switch (row->how) {
    case SM_HOW_SECOND_BACK:
    case SM_HOW_SECOND_ON:
    case SM_HOW_CUE_BACK:
    case SM_HOW_CUE_ON:
    case SM_HOW_BEAT_BACK:
    case SM_HOW_BEAT_ON:
        move(ui, row->how);
        return true;
    case SM_HOW_BEAT:
        tap_beat(ui);
        return true;
    case SM_HOW_CALLS:
        sm_ui_ask_line(ui, SM_ASK_CALLS, "call tones for (a target, pyro, off):", ui->view.calls);
        return true;
    case SM_HOW_TICKS:
        toggle_ticks(ui);
        return true;
    case SM_HOW_DEVICE:
        ask_device(ui);
        return true;
    default:
        return false;
    }
}

bool sm_ui_sound_typed(sm_ui *ui, const char *text) {
    return ui->ask == SM_ASK_CALLS ? calls_typed(ui, text) : device_typed(ui, text);
}

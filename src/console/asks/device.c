// SPDX-License-Identifier: GPL-3.0-or-later
// Choosing a sound device: the list stands in place of the boards while its number or name is typed.
#include "console/asks/asks.h"
#include "console/modes/typing.h"
#include "console/tell.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static size_t list_devices(const sm_view *view, sm_audio_device devices[SM_AUDIO_DEVICES_MAX]) {
    return view->session ? sm_session_sound_devices(view->session, devices, SM_AUDIO_DEVICES_MAX) : 0;
}

static void draw_devices(const sm_view *view, sm_area area) {
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
static void device_typed(sm_ui *ui) {
    const char *text = ui->prompt.text;
    sm_audio_device devices[SM_AUDIO_DEVICES_MAX];
    size_t count = list_devices(&ui->view, devices);
    char *end, what[192];
    unsigned long number = strtoul(text, &end, 10);
    bool numbered = text[0] >= '0' && text[0] <= '9' && *end == '\0';
    if (numbered && (number < 1 || number > count)) {
        snprintf(what, sizeof what, "%.20s: the list has numbers 1 to %zu", text, count);
        sm_ui_say(ui, SM_OUTCOME_WRONG, count ? what : "the list is empty: type a part of the name");
        return;
    }
    const char *name = numbered ? devices[number - 1].name : text[0] ? text : NULL;
    if (ui->view.session)
        sm_session_sound_choose(ui->view.session, name);
    snprintf(what, sizeof what, "going over to %.120s", name ? name : "the default device");
    sm_ui_say(ui, SM_OUTCOME_TOLD, what);
    ui->mode = SM_UI_BOARD;
}

void sm_ask_device(sm_ui *ui) {
    static const sm_asked asked = {.typed = device_typed, .draw = draw_devices};
    if (ui->view.silent)
        sm_ui_say(ui, SM_OUTCOME_TOLD, "this rehearsal was begun with --silent: no sound device is opened");
    else
        sm_ui_ask(ui, &asked, SM_ACT_COUNT, "device (number, part of a name, nothing: default):", "");
}

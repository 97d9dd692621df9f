// SPDX-License-Identifier: GPL-3.0-or-later
// What is heard beside the music: call tones, a tick at each cue.
#include "console/asks/asks.h"
#include "console/modes/typing.h"
#include "console/tell.h"

#include <stdio.h>
#include <string.h>

static void say_tones(sm_ui *ui, const char *what) {
    char text[256];
    snprintf(text, sizeof text, "%s%s", what,
             ui->view.tones ? "" : "; NOT HEARD while tones are off (T asks about live product)");
    sm_ui_say(ui, SM_OUTCOME_TOLD, text);
}

// Nothing is heard beside the music where nothing is heard at all. True: that was said.
static bool says_silent(sm_ui *ui) {
    sm_audio_state state = ui->view.sound->state;
    if (ui->view.silent)
        sm_ui_say(ui, SM_OUTCOME_REFUSED, "no sound: this rehearsal was begun with --silent");
    else if (state != SM_AUDIO_SOUNDING && state != SM_AUDIO_STARTING && state != SM_AUDIO_LOST)
        sm_ui_say(ui, SM_OUTCOME_REFUSED, "no sound: no device is open (o chooses one)");
    else
        return false;
    return true;
}

void sm_toggle_ticks(sm_ui *ui) {
    if (!ui->view.ticks && says_silent(ui))
        return;
    ui->view.ticks = !ui->view.ticks;
    if (ui->view.ticks)
        say_tones(ui, "a tick at each cue, at the moment when the audience should see it");
    else
        sm_ui_say(ui, SM_OUTCOME_TOLD, "no tick at the cues");
}

static void calls_typed(sm_ui *ui) {
    const char *text = ui->prompt.text;
    char what[192];
    if (text[0] == '\0' || strcmp(text, "off") == 0) {
        ui->view.calls[0] = '\0';
        ui->mode = SM_UI_BOARD;
        sm_ui_say(ui, SM_OUTCOME_TOLD, "no call tones");
        return;
    }
    size_t length = strlen(text);
    if (length >= SM_CALLS_BYTES || !sm_call_tones_know(ui->view.show, text)) {
        snprintf(what, sizeof what,
                 "'%.60s': a slot, rail, effect, fixture, group, position or zone of this show, pyro or off",
                 text);
        sm_ui_say(ui, SM_OUTCOME_WRONG, what);
        return;
    }
    memcpy(ui->view.calls, text, length + 1);
    snprintf(what, sizeof what, "call tones for %.90s: three, two, one, now", text);
    say_tones(ui, what);
    ui->mode = SM_UI_BOARD;
}

void sm_ask_calls(sm_ui *ui) {
    static const sm_asked asked = {.typed = calls_typed};
    if (says_silent(ui))
        return;
    sm_ui_ask(ui, &asked, SM_ACT_COUNT, "call tones for (a target, pyro, off):", "");
    sm_prompt_offer(&ui->prompt, ui->view.calls);
}

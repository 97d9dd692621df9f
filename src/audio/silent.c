// SPDX-License-Identifier: GPL-3.0-or-later
// No device, no process, no thread: the clock keeps the monotonic clock's time.
#include "audio/internal.h"

#include <stdio.h>

static sm_result start(sm_audio *audio) {
    audio->state = SM_AUDIO_SILENT;
    snprintf(audio->reason, sizeof audio->reason, "begun with --silent");
    sm_audio_event_add(audio, SM_AUDIO_EVENT_SILENT, "begun with --silent");
    return SM_OK;
}

static void nothing(sm_audio *audio) {
    (void)audio;
}

const sm_output SM_OUTPUT_SILENT = {.start = start, .stop = nothing, .changed = nothing};

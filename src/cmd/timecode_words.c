// SPDX-License-Identifier: GPL-3.0-or-later
#include "cmd/timecode_words.h"

#include "cmd/cmd.h"

#include "slowmatch/audio.h"

#include <stdio.h>
#include <string.h>

bool cmd_timecode_input_read(const char *option, const char *text, int *channel, const char **device) {
    char side[8] = "";
    const size_t length = strcspn(text, ":");
    if (length < sizeof side)
        memcpy(side, text, length);
    if (sm_audio_side_read(side, channel) != SM_OK) {
        cmd_complain(
            "--%s %s names no side; write left or right, and after a colon the input device: left:line",
            option, text);
        return false;
    }
    *device = text[length] && text[length + 1] ? text + length + 1 : NULL;
    return true;
}

char *cmd_timecode_number(const sm_timecode_heard *heard, char buffer[16]) {
    snprintf(buffer, 16, "%02u:%02u:%02u%c%02u", (unsigned)heard->hours % 100, (unsigned)heard->minutes % 100,
             (unsigned)heard->seconds % 100, heard->drop ? ';' : ':', (unsigned)heard->frame % 100);
    return buffer;
}

void cmd_timecode_rate(sm_timecode_rate rate, bool drop, sm_text *out) {
    sm_text_printf(out, "%s frames a second%s", sm_timecode_rate_text(rate), drop ? ", drop-frame" : "");
}

// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch devices: the sound devices, by the names that --device and --timecode-in take.
#include "cmd/cmd.h"

#include "slowmatch/audio.h"

void cmd_put_device(const sm_audio_device *device, sm_text *out) {
    sm_text_printf(out, "%s (%s, %d channel%s, %d Hz%s)", device->name, device->host, device->channels,
                   device->channels == 1 ? "" : "s", device->rate_hz,
                   device->is_default ? ", the default" : "");
}

// One side, a line each. False: the sound system did not tell.
static bool put_side(bool inputs, sm_text *out) {
    sm_audio_device devices[SM_AUDIO_DEVICES_MAX];
    char why[SM_AUDIO_WHY];
    const char *side = inputs ? "input" : "output";
    const int count = sm_audio_ask_devices(inputs, devices, why);
    for (int i = 0; i < count; i++) {
        sm_text_printf(out, "%-7s ", side);
        cmd_put_device(&devices[i], out);
        sm_text_printf(out, "\n");
    }
    if (count < 0)
        cmd_complain("no %ss are known: %s", side, why);
    else if (count == 0)
        cmd_complain("there is no %s: connect one, or let the sound system show it", side);
    return count >= 0;
}

int cmd_devices(const cmd_command *self, int argc, char **argv) {
    const char *words[1];
    int count;
    int status = cmd_options_read(self, NULL, 0, argc, argv, 0, 0, words, &count);
    if (status >= 0)
        return status;
    sm_text out = {0};
    status = put_side(false, &out) && put_side(true, &out) ? CMD_GOOD : CMD_UNUSABLE;
    return cmd_print(&out, status);
}

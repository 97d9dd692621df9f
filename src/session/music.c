// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/music.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

char *sm_music_path(const sm_show *show) {
    if (!show->settings.audio[0])
        return NULL;
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", show->folder, show->settings.audio);
    if (path.failed)
        sm_text_deinit(&path);
    return path.bytes; // handed over
}

void sm_music_ask(const sm_show *show, sm_progress *progress, sm_audio_info *info, sm_check_options *out) {
    *info = (sm_audio_info){0};
    *out = (sm_check_options){.audio_looked_for = show->settings.audio[0], .audio_end_us = SM_UNSET_US};
    char *path = sm_music_path(show);
    if (!path && out->audio_looked_for)
        snprintf(info->problem, sizeof info->problem, "cannot be opened: %s", strerror(ENOMEM));
    if (path && sm_audio_probe(path, progress, info) == SM_OK) {
        out->audio_exists = true;
        out->audio_end_us = show->settings.audio_start_us + info->length_us;
    }
    out->audio_error = info->problem;
    free(path);
}

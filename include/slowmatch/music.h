// SPDX-License-Identifier: GPL-3.0-or-later
// The music that a show names: where it is, whether it can be played, when it ends. Any thread.
#ifndef SLOWMATCH_MUSIC_H
#define SLOWMATCH_MUSIC_H

#include "slowmatch/audio.h"
#include "slowmatch/check.h"
#include "slowmatch/show.h"

// "FOLDER/music.ogg", freed by the caller; NULL where the show is silent (or memory ran out).
char *sm_music_path(const sm_show *show);
// Reads the music of SHOW as far as its end is to be known (see sm_audio_probe: blocks). What the rules ask about it goes into OUT, whose
// texts are in INFO; without music, and where nothing of it can be played, the end is SM_UNSET_US. SHOW is not changed. PROGRESS as of
// sm_audio_probe.
void sm_music_ask(const sm_show *show, sm_progress *progress, sm_audio_info *info, sm_check_options *out);

#endif

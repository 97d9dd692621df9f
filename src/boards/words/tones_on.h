// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_BOARDS_WORDS_TONES_ON_H
#define SLOWMATCH_BOARDS_WORDS_TONES_ON_H

#include "boards/view.h"

// Appends what is on beside the music: "calls pyro, ticks, timecode right"; nothing where nothing is.
void sm_tones_describe(const sm_view *view, sm_text *out);

#endif

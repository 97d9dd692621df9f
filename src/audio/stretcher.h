// SPDX-License-Identifier: GPL-3.0-or-later
// Music slower or faster at true pitch (Rubber Band in its real-time mode, the finer engine, which keeps the
// place of the music better below full speed).
#ifndef SM_AUDIO_STRETCHER_H
#define SM_AUDIO_STRETCHER_H

#include "audio/music_reader.h"

#include <rubberband/rubberband-c.h>

typedef struct sm_stretcher {
    sm_reader reader;
    RubberBandState band; // NULL when there is none: silence
    int32_t speed_ppm;
    size_t drop; // output frames still to be thrown away
} sm_stretcher;

void sm_stretcher_init(sm_stretcher *stretcher, const sm_music *music, int rate_hz);
void sm_stretcher_deinit(sm_stretcher *stretcher);
// Goes on at PLACE (card frames of music) at SPEED_PPM. False when memory runs out: silence.
bool sm_stretcher_seek(sm_stretcher *stretcher, int64_t place, int32_t speed_ppm);
void sm_stretcher_read(sm_stretcher *stretcher, float (*out)[2], size_t frames);

#endif

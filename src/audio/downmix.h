// SPDX-License-Identifier: GPL-3.0-or-later
// 1 to 8 channels to stereo.
#ifndef SM_AUDIO_DOWNMIX_H
#define SM_AUDIO_DOWNMIX_H

#include <stddef.h>

typedef struct sm_downmix {
    int channels;
    float left[8], right[8];
} sm_downmix;

// MAP names each channel's place (SF_CHANNEL_MAP_*); NULL: the order of WAVE files. Mono goes to both sides
// and stereo passes untouched; of more, centre and surrounds go in at -3 dB (ITU-R BS.775, read second-hand),
// low frequency effects are left out, and all is scaled so that nothing can clip.
void sm_downmix_init(sm_downmix *downmix, int channels, const int *map);
void sm_downmix_apply(const sm_downmix *downmix, const float *samples, float (*out)[2], size_t frames);

#endif

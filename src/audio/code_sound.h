// SPDX-License-Identifier: GPL-3.0-or-later
// Sound from a line made fit for a timecode decoder of 8 bit: hum, offset and hiss out (a high-pass of 200 Hz, a low-pass of 6 kHz), then brought to one level
// whatever it came in at, down to some -70 dBFS.
#ifndef SM_AUDIO_CODE_SOUND_H
#define SM_AUDIO_CODE_SOUND_H

#include <stddef.h>

typedef struct sm_code_filter { // of second order
    double in[2], out[2], forward[3], back[2];
} sm_code_filter;

typedef struct sm_code_sound {
    sm_code_filter high_pass, low_pass;
    float envelope, envelope_falls; // of what passed it; falls by that factor a sample
    double mean_square, follows;    // the same, slower: what is shown
} sm_code_sound;

void sm_code_sound_init(sm_code_sound *sound, int rate_hz);
// IN and OUT, COUNT samples each, may be the same.
void sm_code_sound_pass(sm_code_sound *sound, const float *in, float *out, size_t count);
// Root mean square of what came in of late between 200 Hz and 6 kHz, dB of full scale; -120 for nothing. Of timecode, which is nearly
// square, that is its peak.
double sm_code_sound_level_dbfs(const sm_code_sound *sound);

#endif

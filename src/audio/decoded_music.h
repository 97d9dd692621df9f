// SPDX-License-Identifier: GPL-3.0-or-later
// The music in memory: decoded once by a thread of its own, read from anywhere without waiting.
//
// A file is decoded whole because a seek in a Vorbis file lands elsewhere. The frames lie in chunks that are
// never moved or freed before the end; `ready` tells how many frames, from the first, may be read.
#ifndef SM_AUDIO_MUSIC_H
#define SM_AUDIO_MUSIC_H

#include "audio/decoder.h"

#include "slowmatch/audio.h"

typedef struct sm_music sm_music;

typedef enum sm_music_phase {
    SM_MUSIC_OPENING,
    SM_MUSIC_DECODING,
    SM_MUSIC_DONE,
    SM_MUSIC_FAILED
} sm_music_phase;

typedef struct sm_music_state {
    sm_music_phase phase;
    int rate_hz; // 0 before decoding begins and after a failed opening
    int64_t frames;
    int64_t said_frames;
    char format[64];
    char problem[256];
} sm_music_state;

// Starts decoding PATH; its shape is taken from CACHE_FOLDER and put there (NULL: neither). SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_music_create(const char *path, const char *cache_folder, sm_music **out);
void sm_music_destroy(sm_music *music);

// Any thread. Texts are "" until they are known.
void sm_music_state_get(const sm_music *music, sm_music_state *out);

// The rate of the file, 0 while it is not open or if it cannot be.
int sm_music_rate(const sm_music *music);

// Frames FROM .. FROM+FRAMES into OUT; what lies outside or is not decoded yet is 0.
void sm_music_copy(const sm_music *music, int64_t from, float (*out)[2], size_t frames);

// Shape of the frames FROM .. TO (TO excluded); false where not all of the part inside the music is decoded
// yet.
bool sm_music_peak(const sm_music *music, int64_t from, int64_t to, sm_audio_peak *out);

#endif

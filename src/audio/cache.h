// SPDX-License-Identifier: GPL-3.0-or-later
// The shape of music seen before, kept in a folder of its own and keyed by the file's content: a waveform that is there
// at once. Whatever is wrong with it only means that it is computed again.
#ifndef SM_AUDIO_CACHE_H
#define SM_AUDIO_CACHE_H

#include "slowmatch/audio.h"

#include <stdatomic.h>

#define SM_CACHE_BIN_FRAMES 1024 // frames a bin
#define SM_CACHE_FILES_MAX 64    // then the oldest goes

typedef struct sm_cache_key {
    uint64_t hash, bytes; // FNV-1a of the file's bytes, and their number
} sm_cache_key;

typedef struct sm_cache_shape {
    sm_audio_peak *bins; // owned
    uint64_t bin_count;
    int64_t frames;
} sm_cache_shape;

// Reads the whole file, which may be long: once STOP (may be NULL) is set it is left. False: so, or PATH cannot be read.
bool sm_cache_key_of(const char *path, const atomic_bool *stop, sm_cache_key *out);
// False if FOLDER has nothing (whole) for KEY with bins of BIN_FRAMES frames. The caller frees out->bins.
bool sm_cache_load(const char *folder, const sm_cache_key *key, int bin_frames, sm_cache_shape *out);
// Makes FOLDER if need be. Two programs may do it at once.
void sm_cache_store(const char *folder, const sm_cache_key *key, int bin_frames, const sm_cache_shape *shape);

#endif

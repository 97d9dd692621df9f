// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/cache.h"
#include "audio/decoder.h"

#include "slowmatch/audio.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static sm_result count_all(sm_decoder *decoder, sm_progress *progress, sm_audio_info *info) {
    float(*frames)[2] = malloc(SM_DECODER_BLOCK * sizeof *frames);
    if (!frames)
        return SM_NO_MEMORY;
    info->frames = 0;
    for (size_t got; (got = sm_decoder_read(decoder, frames, SM_DECODER_BLOCK)) > 0;) {
        info->frames += (int64_t)got;
        (void)sm_progress_count(progress, (uint64_t)sm_frames_us((int64_t)got, info->rate_hz));
    }
    free(frames);
    sm_decoder_verdict(decoder, info->frames, info->problem, sizeof info->problem);
    return SM_OK;
}

// Counting means decoding all of it, some 100 ms for 90 s of music. Where it was decoded to its end before, and the header said the
// same, that count stands.
static bool counted_before(const char *path, const sm_decoder_facts *facts) {
    sm_text folder = {0};
    sm_cache_key key;
    sm_cache_shape shape = {0};
    bool found = facts->said_frames > 0 && sm_audio_cache_folder(&folder) == SM_OK &&
                 sm_cache_key_of(path, NULL, &key) &&
                 sm_cache_load(sm_text_get(&folder), &key, SM_CACHE_BIN_FRAMES, &shape) &&
                 shape.frames == facts->said_frames;
    free(shape.bins);
    sm_text_deinit(&folder);
    return found;
}

sm_result sm_audio_probe(const char *path, sm_progress *progress, sm_audio_info *out) {
    sm_decoder_facts facts;
    sm_audio_info info = {0};
    sm_decoder *decoder = sm_decoder_open(path, &facts, info.problem, sizeof info.problem);
    if (!decoder) {
        memcpy(out->problem, info.problem, sizeof out->problem);
        return SM_UNREADABLE;
    }
    info.rate_hz = facts.rate_hz;
    info.channels = facts.channels;
    memcpy(info.format, facts.format, sizeof info.format);
    sm_result result = SM_OK;
    if (facts.header_is_exact ? sm_decoder_reaches(decoder, facts.said_frames - 1)
                              : counted_before(path, &facts)) {
        info.frames = facts.said_frames;
    } else {
        // A seek beyond the data may have left the decoder anywhere: count with a fresh one.
        sm_decoder_close(decoder);
        decoder = sm_decoder_open(path, &facts, info.problem, sizeof info.problem);
        if (facts.said_frames > 0)
            sm_progress_expect(progress, (uint64_t)sm_frames_us(facts.said_frames, facts.rate_hz));
        result = decoder ? count_all(decoder, progress, &info) : SM_UNREADABLE;
    }
    sm_decoder_close(decoder);
    if (result == SM_OK && info.frames == 0)
        result = SM_UNREADABLE;
    if (result != SM_OK) {
        memcpy(out->problem, info.problem, sizeof out->problem);
        return result;
    }
    info.length_us = sm_frames_us(info.frames, info.rate_hz);
    *out = info;
    return SM_OK;
}

// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/decoded_music.h"

#include "audio/cache.h"

#include "slowmatch/clock.h"

#include <math.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define BIN_FRAMES SM_CACHE_BIN_FRAMES
#define CHUNK_FRAMES 131072
#define CHUNK_BINS (CHUNK_FRAMES / BIN_FRAMES)
#define CHUNKS_MAX 8192 // 6.2 hours at 48 kHz

typedef struct chunk {
    sm_audio_peak bins[CHUNK_BINS];
    float frames[CHUNK_FRAMES][2];
} chunk;

struct sm_music {
    char *path, *cache_folder; // cache_folder NULL: none
    pthread_t thread;
    bool has_thread;
    atomic_bool stop;
    _Atomic sm_music_phase phase; // publishes facts, and at the end problem
    sm_decoder_facts facts;
    char problem[256];
    _Atomic int64_t ready;
    sm_cache_shape cached; // published by has_cached
    atomic_bool has_cached;
    _Atomic(chunk *) chunks[CHUNKS_MAX];
};

static chunk *chunk_of(const sm_music *music, int64_t frame) {
    return atomic_load_explicit(&music->chunks[frame / CHUNK_FRAMES], memory_order_relaxed);
}

static void bin_compute(chunk *block, size_t bin, size_t frames) {
    const float(*samples)[2] = (const float(*)[2])block->frames + bin * BIN_FRAMES;
    sm_audio_peak peak = {samples[0][0], samples[0][0], 0};
    float power = 0;
    for (size_t i = 0; i < frames; i++)
        for (int side = 0; side < 2; side++) {
            float sample = samples[i][side];
            peak.low = sample < peak.low ? sample : peak.low;
            peak.high = sample > peak.high ? sample : peak.high;
            power += sample * sample;
        }
    peak.rms = sqrtf(power / (float)(2 * frames));
    block->bins[bin] = peak;
}

// Decodes the next piece after FRAMES; returns how many frames it gave, 0 at the end, -1 when there is no
// room.
static int64_t decode_piece(sm_music *music, sm_decoder *decoder, int64_t frames) {
    if (frames / CHUNK_FRAMES >= CHUNKS_MAX)
        return -1;
    if (frames % CHUNK_FRAMES == 0) {
        chunk *fresh = malloc(sizeof *fresh);
        if (!fresh)
            return -1;
        atomic_store_explicit(&music->chunks[frames / CHUNK_FRAMES], fresh, memory_order_relaxed);
    }
    chunk *block = chunk_of(music, frames);
    size_t at = (size_t)(frames % CHUNK_FRAMES), room = BIN_FRAMES - at % BIN_FRAMES;
    size_t got = 0, more;
    while (got < room && (more = sm_decoder_read(decoder, block->frames + at + got, room - got)) > 0)
        got += more;
    if (got > 0)
        bin_compute(block, at / BIN_FRAMES, got);
    return (int64_t)got;
}

// Keeps the shape of the whole music for the next time.
static void shape_store(const sm_music *music, const sm_cache_key *key, int64_t frames) {
    size_t count = (size_t)((frames + BIN_FRAMES - 1) / BIN_FRAMES);
    sm_cache_shape shape = {.bins = malloc(count * sizeof *shape.bins), .bin_count = count, .frames = frames};
    if (!shape.bins)
        return;
    for (size_t i = 0; i < count; i++)
        shape.bins[i] = chunk_of(music, (int64_t)i * BIN_FRAMES)->bins[i % CHUNK_BINS];
    sm_cache_store(music->cache_folder, key, BIN_FRAMES, &shape);
    free(shape.bins);
}

// Decodes all; returns the frames, negative when there was no room for more.
static int64_t decode_all(sm_music *music, sm_decoder *decoder) {
    int64_t frames = 0, got = 0;
    while (!atomic_load_explicit(&music->stop, memory_order_relaxed) &&
           (got = decode_piece(music, decoder, frames)) > 0) {
        frames += got;
        atomic_store_explicit(&music->ready, frames, memory_order_release);
    }
    return got < 0 ? -1 : frames;
}

static void *decode_main(void *context) {
    sm_music *music = context;
    sm_thread_stand_back(); // the first screen goes first; a tenth of a processor still decodes faster than anything plays
    sm_decoder *decoder = sm_decoder_open(music->path, &music->facts, music->problem, sizeof music->problem);
    if (!decoder) {
        music->facts = (sm_decoder_facts){0};
        atomic_store(&music->phase, SM_MUSIC_FAILED);
        return NULL;
    }
    atomic_store(&music->phase, SM_MUSIC_DECODING);
    sm_cache_key key;
    bool has_key = music->cache_folder && sm_cache_key_of(music->path, &music->stop, &key);
    bool cached = has_key && sm_cache_load(music->cache_folder, &key, BIN_FRAMES, &music->cached);
    atomic_store(&music->has_cached, cached);
    int64_t frames = decode_all(music, decoder);
    if (frames < 0)
        snprintf(music->problem, sizeof music->problem,
                 "is too long for this machine's memory; the rest is silent");
    else
        sm_decoder_verdict(decoder, frames, music->problem, sizeof music->problem);
    // Only of a whole file: sm_audio_probe takes its frames for counted.
    if (frames > 0 && has_key && !cached && !music->problem[0] && !atomic_load(&music->stop))
        shape_store(music, &key, frames);
    sm_decoder_close(decoder);
    atomic_store(&music->phase, SM_MUSIC_DONE);
    return NULL;
}

sm_result sm_music_create(const char *path, const char *cache_folder, sm_music **out) {
    sm_music *music = calloc(1, sizeof *music);
    if (!music)
        return SM_NO_MEMORY;
    music->path = strdup(path);
    if (cache_folder)
        music->cache_folder = strdup(cache_folder); // without memory for it nothing is kept
    sigset_t all, old;
    sigfillset(&all);
    pthread_sigmask(SIG_SETMASK, &all, &old);
    music->has_thread = music->path && pthread_create(&music->thread, NULL, decode_main, music) == 0;
    pthread_sigmask(SIG_SETMASK, &old, NULL);
    if (!music->has_thread) {
        sm_music_destroy(music);
        return SM_NO_MEMORY;
    }
    *out = music;
    return SM_OK;
}

void sm_music_destroy(sm_music *music) {
    if (!music)
        return;
    atomic_store(&music->stop, true);
    if (music->has_thread)
        pthread_join(music->thread, NULL);
    for (size_t i = 0; i < CHUNKS_MAX; i++)
        free(atomic_load(&music->chunks[i]));
    free(music->cached.bins);
    free(music->path);
    free(music->cache_folder);
    free(music);
}

void sm_music_state_get(const sm_music *music, sm_music_state *out) {
    memset(out, 0, sizeof *out);
    out->phase = atomic_load(&music->phase);
    if (out->phase != SM_MUSIC_OPENING) {
        out->rate_hz = music->facts.rate_hz;
        out->said_frames = music->facts.said_frames;
        memcpy(out->format, music->facts.format, sizeof out->format);
    }
    if (out->phase == SM_MUSIC_DONE || out->phase == SM_MUSIC_FAILED)
        memcpy(out->problem, music->problem, sizeof out->problem);
    out->frames = atomic_load_explicit(&music->ready, memory_order_acquire);
}

int sm_music_rate(const sm_music *music) {
    return atomic_load(&music->phase) == SM_MUSIC_OPENING ? 0 : music->facts.rate_hz;
}

void sm_music_copy(const sm_music *music, int64_t from, float (*out)[2], size_t frames) {
    int64_t ready = music ? atomic_load_explicit(&music->ready, memory_order_acquire) : 0;
    size_t done = 0;
    while (done < frames) {
        int64_t at = from + (int64_t)done;
        size_t left = frames - done;
        if (at < 0 || at >= ready) {
            size_t quiet = at < 0 && -at < (int64_t)left ? (size_t)-at : left;
            memset(out + done, 0, quiet * sizeof *out);
            done += quiet;
            continue;
        }
        int64_t whole = CHUNK_FRAMES - at % CHUNK_FRAMES;
        whole = whole < ready - at ? whole : ready - at;
        size_t take = whole < (int64_t)left ? (size_t)whole : left;
        memcpy(out + done, chunk_of(music, at)->frames + at % CHUNK_FRAMES, take * sizeof *out);
        done += take;
    }
}

static const sm_audio_peak *bin_at(const sm_music *music, int64_t bin, bool cached) {
    return cached ? &music->cached.bins[bin] : &chunk_of(music, bin * BIN_FRAMES)->bins[bin % CHUNK_BINS];
}

bool sm_music_peak(const sm_music *music, int64_t from, int64_t to, sm_audio_peak *out) {
    *out = (sm_audio_peak){0};
    bool cached = atomic_load(&music->has_cached), ended = atomic_load(&music->phase) >= SM_MUSIC_DONE;
    int64_t ready = cached ? music->cached.frames : atomic_load_explicit(&music->ready, memory_order_acquire);
    if (from < 0)
        from = 0;
    int64_t known = to < ready ? to : ready;
    float power = 0;
    int64_t first = from / BIN_FRAMES, bin = first;
    for (; bin == first ? from < known : bin * BIN_FRAMES < known; bin++) {
        const sm_audio_peak *peak = bin_at(music, bin, cached);
        if (bin == first || peak->low < out->low)
            out->low = peak->low;
        if (bin == first || peak->high > out->high)
            out->high = peak->high;
        power += peak->rms * peak->rms;
    }
    if (bin > first)
        out->rms = sqrtf(power / (float)(bin - first));
    return cached || ended || to <= ready;
}

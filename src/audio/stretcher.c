// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/stretcher.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#define FEED_FRAMES 512
#define BYTES_A_HERTZ 200 // that Rubber Band takes at most: 134 to 151 as measured at 44.1 to 192 kHz
#define MASK (SM_STRETCHER_KEPT - 1)
#define LEAD_S 0.0015 // the stretched voice gives way within it; no ear and no lens tells it from the attack
#define DRY_S 0.02    // of an attack, after which little of it is left
#define FADE_S 0.005
#define EVEN_S 0.25 // of music within which what an attack was too quick is made good, if no other comes

// Rubber Band before 3.0 (Ubuntu 22.04 has 2.0) has only its faster engine, and one name for what it keeps back: half a
// window, which is the pad ahead of the first frame and the delay behind it.
#if RUBBERBAND_API_MAJOR_VERSION > 2 || RUBBERBAND_API_MINOR_VERSION >= 7
#define ENGINE RubberBandOptionEngineFiner
#define START_PAD rubberband_get_preferred_start_pad
#define START_DELAY rubberband_get_start_delay
#else
#define ENGINE 0
#define START_PAD rubberband_get_latency
#define START_DELAY rubberband_get_latency
#endif

static size_t frames_of(const sm_stretcher *stretcher, double seconds) {
    return (size_t)(seconds * stretcher->reader.rate_hz);
}

void sm_stretcher_init(sm_stretcher *stretcher, const sm_music *music, int rate_hz) {
    memset(stretcher, 0, sizeof *stretcher);
    sm_reader_init(&stretcher->reader, music, rate_hz);
    stretcher->lead = frames_of(stretcher, LEAD_S);
    stretcher->fade = frames_of(stretcher, FADE_S);
    assert(stretcher->lead <= SM_STRETCHER_LEAD_MAX);
}

void sm_stretcher_deinit(sm_stretcher *stretcher) {
    if (stretcher->band)
        rubberband_delete(stretcher->band);
    stretcher->band = NULL;
    free(stretcher->kept);
    stretcher->kept = NULL;
    sm_reader_deinit(&stretcher->reader);
}

// ---- the music, and its attacks ---------------------------------------------------------------

// Reads until END is at hand, and looks for attacks in what it reads. Those closer than a lead to where the music was sought are passed
// over, and those of music that goes quicker: there they are early by a few milliseconds at most.
static void hear(sm_stretcher *stretcher, int64_t end) {
    while (stretcher->reader.place < end) {
        const int64_t from = stretcher->reader.place;
        float block[FEED_FRAMES][2];
        sm_reader_read(&stretcher->reader, block, FEED_FRAMES);
        for (size_t i = 0; i < FEED_FRAMES; i++) {
            const int64_t place = from + (int64_t)i;
            memcpy(stretcher->kept[place & MASK], block[i], sizeof block[i]);
            if (sm_attacks_take(&stretcher->attacks, block[i]) && stretcher->attack == SM_STRETCHER_NONE &&
                place >= stretcher->origin + (int64_t)stretcher->lead && stretcher->speed_ppm < SM_SPEED_ONE)
                stretcher->attack = place;
        }
    }
}

// The frame of the music that the stretched voice has at PLACE: behind the next attack it is what went before that, in a mirror, so
// that nothing of the attack is heard ahead of it.
static const float *voiced(const sm_stretcher *stretcher, int64_t place) {
    const int64_t wall = stretcher->attack - (int64_t)stretcher->lead;
    return stretcher
        ->kept[(stretcher->attack != SM_STRETCHER_NONE && place >= wall ? 2 * wall - 1 - place : place) &
               MASK];
}

// The output frame at which PLACE is to be heard.
static int64_t heard_at(const sm_stretcher *stretcher, int64_t place) {
    return (place - stretcher->origin) * SM_SPEED_ONE / stretcher->speed_ppm;
}

// ---- the stretched voice ----------------------------------------------------------------------

static void feed(sm_stretcher *stretcher, size_t frames) {
    float left[FEED_FRAMES], right[FEED_FRAMES];
    hear(stretcher, stretcher->fed + (int64_t)frames);
    for (size_t i = 0; i < frames; i++) {
        const float *frame = voiced(stretcher, stretcher->fed + (int64_t)i);
        left[i] = frame[0];
        right[i] = frame[1];
    }
    stretcher->fed += (int64_t)frames;
    const float *sides[2] = {left, right};
    rubberband_process(stretcher->band, sides, (unsigned)frames, 0);
}

// The voice goes on at PLACE, RATIO output frames to a frame of music. The pad that the stretcher wants ahead of the first frame is the
// music before it rather than silence.
static void start_voice(sm_stretcher *stretcher, int64_t place, double ratio) {
    rubberband_reset(stretcher->band);
    rubberband_set_time_ratio(stretcher->band, ratio);
    const size_t pad = START_PAD(stretcher->band);
    stretcher->drop = START_DELAY(stretcher->band);
    stretcher->fed = place - (int64_t)pad;
    for (size_t left = pad; left > 0;) {
        const size_t take = left < FEED_FRAMES ? left : FEED_FRAMES;
        feed(stretcher, take);
        left -= take;
    }
}

static size_t retrieve(sm_stretcher *stretcher, float (*out)[2], size_t frames) {
    float left[FEED_FRAMES], right[FEED_FRAMES];
    float *const sides[2] = {left, right};
    int available = rubberband_available(stretcher->band);
    size_t most = frames < FEED_FRAMES ? frames : FEED_FRAMES;
    if (available > 0 && (size_t)available < most)
        most = (size_t)available;
    size_t got = available > 0 ? rubberband_retrieve(stretcher->band, sides, (unsigned)most) : 0;
    for (size_t i = 0; out && i < got; i++) {
        out[i][0] = left[i];
        out[i][1] = right[i];
    }
    return got;
}

static void read_voice(sm_stretcher *stretcher, float (*out)[2], size_t frames) {
    while (frames > 0) {
        bool waste = stretcher->drop > 0;
        size_t want = waste ? stretcher->drop : frames;
        size_t got = retrieve(stretcher, waste ? NULL : out, want);
        if (got == 0)
            feed(stretcher, FEED_FRAMES);
        else if (waste)
            stretcher->drop -= got;
        else {
            out += got;
            frames -= got;
        }
    }
}

// ---- attacks as they are ----------------------------------------------------------------------

// The stretched voice has come to an attack: what it would go on with is kept to be faded from, and it starts anew behind the attack, so
// much slower that the music is at its place again at the next one, or after EVEN_S.
static void begin_attack(sm_stretcher *stretcher) {
    read_voice(stretcher, stretcher->before, stretcher->lead);
    const size_t dry = frames_of(stretcher, DRY_S);
    const int64_t behind = stretcher->attack + (int64_t)dry,
                  even = behind + (int64_t)frames_of(stretcher, EVEN_S);
    const int64_t at = heard_at(stretcher, stretcher->attack) + (int64_t)dry;
    stretcher->attack_from = stretcher->attack - (int64_t)stretcher->lead;
    stretcher->into = 0;
    stretcher->whole = stretcher->lead + dry + stretcher->fade;
    stretcher->attack = SM_STRETCHER_NONE;
    hear(stretcher, even);
    const bool another = stretcher->attack < even;
    const int64_t end = another ? stretcher->attack - (int64_t)stretcher->lead : even;
    stretcher->even_at = another ? INT64_MAX : heard_at(stretcher, end);
    start_voice(stretcher, behind, (double)(heard_at(stretcher, end) - at) / (double)(end - behind));
}

static void mix(float to[2], const float from[2], double share) {
    for (int side = 0; side < 2; side++)
        to[side] = (float)(to[side] * share + from[side] * (1 - share));
}

// Up to FRAMES of the attack that sounds; returns how many.
static size_t read_attack(sm_stretcher *stretcher, float (*out)[2], size_t frames) {
    assert(out && stretcher->into < stretcher->whole);
    const size_t stretched = stretcher->whole - stretcher->fade; // from here on the voice comes in
    const size_t end = stretcher->into < stretched ? stretched : stretcher->whole;
    const size_t count = end - stretcher->into < frames ? end - stretcher->into : frames;
    if (stretcher->into >= stretched)
        read_voice(stretcher, out, count);
    for (size_t i = 0; i < count; i++, stretcher->into++) {
        const float *frame = stretcher->kept[(stretcher->attack_from + (int64_t)stretcher->into) & MASK];
        if (stretcher->into >= stretched)
            mix(out[i], frame, (double)(stretcher->into - stretched + 1) / (double)(stretcher->fade + 1));
        else {
            memcpy(out[i], frame, sizeof out[i]);
            if (stretcher->into < stretcher->lead)
                mix(out[i], stretcher->before[stretcher->into],
                    (double)(stretcher->into + 1) / (double)(stretcher->lead + 1));
        }
    }
    if (stretcher->into == stretcher->whole)
        stretcher->whole = 0;
    return count;
}

// Up to FRAMES of the stretched voice, not beyond the next attack nor beyond where its speed changes; returns how many.
static size_t read_between(sm_stretcher *stretcher, float (*out)[2], size_t frames) {
    if (stretcher->written >= stretcher->even_at) {
        rubberband_set_time_ratio(stretcher->band, (double)SM_SPEED_ONE / stretcher->speed_ppm);
        stretcher->even_at = INT64_MAX;
    }
    int64_t end = stretcher->even_at;
    if (stretcher->attack != SM_STRETCHER_NONE) {
        const int64_t attack = heard_at(stretcher, stretcher->attack) - (int64_t)stretcher->lead;
        end = attack < end ? attack : end;
        if (stretcher->written >= attack) {
            begin_attack(stretcher);
            return 0;
        }
    }
    // A block at most, so that an attack is known before it is due: what is fed is read ahead.
    size_t count = frames < FEED_FRAMES ? frames : FEED_FRAMES;
    if (end - stretcher->written < (int64_t)count)
        count = (size_t)(end - stretcher->written);
    read_voice(stretcher, out, count);
    return count;
}

// ---- as it is used ----------------------------------------------------------------------------

// Rubber Band is C++: where memory runs out within it, the program ends. So it is asked for before.
static bool has_room(int rate_hz) {
    void *volatile trial = malloc((size_t)rate_hz * BYTES_A_HERTZ); // volatile, or it would be compiled away
    const bool has = trial;
    free(trial);
    return has;
}

static bool make(sm_stretcher *stretcher, double ratio) {
    if (!stretcher->kept)
        stretcher->kept = malloc(SM_STRETCHER_KEPT * sizeof *stretcher->kept);
    if (!stretcher->kept)
        return false;
    if (stretcher->band)
        return true;
    if (!has_room(stretcher->reader.rate_hz))
        return false;
    rubberband_set_default_debug_level(0);
    stretcher->band = rubberband_new((unsigned)stretcher->reader.rate_hz, 2,
                                     RubberBandOptionProcessRealTime | ENGINE |
                                         RubberBandOptionThreadingNever | RubberBandOptionChannelsTogether,
                                     ratio, 1.0);
    if (!stretcher->band)
        return false;
    rubberband_set_max_process_size(stretcher->band, FEED_FRAMES);
    assert(START_PAD(stretcher->band) + frames_of(stretcher, EVEN_S) + FEED_FRAMES <= SM_STRETCHER_KEPT);
    return true;
}

bool sm_stretcher_seek(sm_stretcher *stretcher, int64_t place, int32_t speed_ppm) {
    const double ratio = (double)SM_SPEED_ONE / speed_ppm;
    if (!make(stretcher, ratio))
        return false;
    // Twice the pad: a mirror reaches as far back from an attack as the voice reads ahead of it.
    const int64_t from = place - 2 * ((int64_t)START_PAD(stretcher->band) + FEED_FRAMES);
    stretcher->speed_ppm = speed_ppm;
    stretcher->attack = SM_STRETCHER_NONE;
    stretcher->origin = place;
    stretcher->written = 0;
    stretcher->even_at = INT64_MAX;
    stretcher->whole = 0;
    sm_attacks_begin(&stretcher->attacks, from, stretcher->reader.rate_hz);
    if (!sm_reader_seek(&stretcher->reader, from))
        return false;
    start_voice(stretcher, place, ratio);
    return true;
}

void sm_stretcher_read(sm_stretcher *stretcher, float (*out)[2], size_t frames) {
    if (!stretcher->band) {
        memset(out, 0, frames * sizeof *out);
        return;
    }
    while (frames > 0) {
        const size_t got =
            stretcher->whole > 0 ? read_attack(stretcher, out, frames) : read_between(stretcher, out, frames);
        stretcher->written += (int64_t)got;
        out += got;
        frames -= got;
    }
}

// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/tones.h"

#include <assert.h>
#include <math.h>

#define RISE_S 0.002 // against clicks

// The count climbs by a chord's steps to the octave, so that an ear that missed one knows where it is.
static const struct {
    float hertz, lasts_s, level;
    int pulses; // with as much silence between them as one lasts
} SOUNDS[] = {
    [SM_TONE_THREE] = {523.25f, 0.08f, 0.5f, 1},   [SM_TONE_TWO] = {659.26f, 0.08f, 0.5f, 1},
    [SM_TONE_ONE] = {783.99f, 0.08f, 0.5f, 1},     [SM_TONE_GO] = {1046.50f, 0.20f, 0.6f, 1},
    [SM_TONE_TICK] = {2000.0f, 0.01f, 0.8f, 1},    [SM_TONE_ARMING] = {880.0f, 0.15f, 0.5f, 3},
    [SM_TONE_WARNING] = {932.33f, 0.07f, 0.6f, 5}, [SM_TONE_CAUTION] = {349.23f, 0.18f, 0.6f, 2},
};
static_assert(sizeof SOUNDS / sizeof SOUNDS[0] == SM_TONE_COUNT, "a sound for each tone");

static uint64_t length(sm_tone tone, int rate_hz) {
    return (uint64_t)(SOUNDS[tone].lasts_s * (float)(2 * SOUNDS[tone].pulses - 1) * (float)rate_hz);
}

void sm_tones_add(sm_tones *tones, uint64_t frame, sm_tone tone, bool planned, uint64_t taken, int rate_hz) {
    int kept = 0;
    for (int i = 0; i < tones->count; i++)
        if (tones->at[i].frame + length(tones->at[i].tone, rate_hz) > taken)
            tones->at[kept++] = tones->at[i];
    tones->count = kept;
    if (kept < SM_TONES_MAX)
        tones->at[tones->count++] = (struct sm_tone_begun){.frame = frame, .tone = tone, .planned = planned};
}

void sm_tones_forget(sm_tones *tones, uint64_t frame) {
    int kept = 0;
    for (int i = 0; i < tones->count; i++)
        if (!tones->at[i].planned || tones->at[i].frame < frame)
            tones->at[kept++] = tones->at[i];
    tones->count = kept;
}

static float sample(sm_tone tone, float at_s) {
    float pulse_s = SOUNDS[tone].lasts_s, in_s = fmodf(at_s, 2 * pulse_s);
    if (in_s >= pulse_s)
        return 0;
    float edge_s = fminf(in_s, pulse_s - in_s), rise = edge_s < (float)RISE_S ? edge_s / (float)RISE_S : 1;
    return SOUNDS[tone].level * rise * sinf(2 * (float)M_PI * SOUNDS[tone].hertz * in_s);
}

static float within(float value) {
    return value > 1 ? 1 : value < -1 ? -1 : value;
}

void sm_tones_mix(const sm_tones *tones, int rate_hz, uint64_t first, float (*out)[2], size_t frames) {
    for (int i = 0; i < tones->count; i++) {
        uint64_t begin = tones->at[i].frame, end = begin + length(tones->at[i].tone, rate_hz);
        uint64_t from = begin > first ? begin : first, to = end < first + frames ? end : first + frames;
        for (uint64_t frame = from; frame < to; frame++) {
            float value = tones->gain * sample(tones->at[i].tone, (float)(frame - begin) / (float)rate_hz);
            out[frame - first][0] = within(out[frame - first][0] + value);
            out[frame - first][1] = within(out[frame - first][1] + value);
        }
    }
}

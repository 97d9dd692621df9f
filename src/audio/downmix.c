// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/downmix.h"

#include <sndfile.h>
#include <string.h>

#define HALF_POWER 0.70710678f

// How much of a loudspeaker's channel goes to either side.
static const struct {
    int place;
    float left, right;
} PLACES[] = {
    {SF_CHANNEL_MAP_MONO, 1, 1},
    {SF_CHANNEL_MAP_LEFT, 1, 0},
    {SF_CHANNEL_MAP_RIGHT, 0, 1},
    {SF_CHANNEL_MAP_CENTER, HALF_POWER, HALF_POWER},
    {SF_CHANNEL_MAP_FRONT_LEFT, 1, 0},
    {SF_CHANNEL_MAP_FRONT_RIGHT, 0, 1},
    {SF_CHANNEL_MAP_FRONT_CENTER, HALF_POWER, HALF_POWER},
    {SF_CHANNEL_MAP_REAR_CENTER, 0.5f, 0.5f},
    {SF_CHANNEL_MAP_REAR_LEFT, HALF_POWER, 0},
    {SF_CHANNEL_MAP_REAR_RIGHT, 0, HALF_POWER},
    {SF_CHANNEL_MAP_LFE, 0, 0},
    {SF_CHANNEL_MAP_FRONT_LEFT_OF_CENTER, 1, 0},
    {SF_CHANNEL_MAP_FRONT_RIGHT_OF_CENTER, 0, 1},
    {SF_CHANNEL_MAP_SIDE_LEFT, HALF_POWER, 0},
    {SF_CHANNEL_MAP_SIDE_RIGHT, 0, HALF_POWER},
};

// The order of WAVE files by number of channels (Microsoft's WAVEFORMATEXTENSIBLE speaker order; FLAC uses
// the same).
enum {
    L = SF_CHANNEL_MAP_LEFT,
    R = SF_CHANNEL_MAP_RIGHT,
    C = SF_CHANNEL_MAP_CENTER,
    F = SF_CHANNEL_MAP_LFE,
    BL = SF_CHANNEL_MAP_REAR_LEFT,
    BR = SF_CHANNEL_MAP_REAR_RIGHT,
    BC = SF_CHANNEL_MAP_REAR_CENTER,
    SL = SF_CHANNEL_MAP_SIDE_LEFT,
    SR = SF_CHANNEL_MAP_SIDE_RIGHT
};
static const int WAVE_ORDER[9][8] = {
    [1] = {SF_CHANNEL_MAP_MONO},
    [2] = {L, R},
    [3] = {L, R, C},
    [4] = {L, R, BL, BR},
    [5] = {L, R, C, BL, BR},
    [6] = {L, R, C, F, BL, BR},
    [7] = {L, R, C, F, BC, SL, SR},
    [8] = {L, R, C, F, BL, BR, SL, SR},
};

static void place_gains(int place, float *left, float *right) {
    for (size_t i = 0; i < sizeof PLACES / sizeof *PLACES; i++)
        if (PLACES[i].place == place) {
            *left = PLACES[i].left;
            *right = PLACES[i].right;
            return;
        }
    *left = *right = HALF_POWER; // a place without a rule is heard on both sides rather than not at all
}

void sm_downmix_init(sm_downmix *downmix, int channels, const int *map) {
    memset(downmix, 0, sizeof *downmix);
    downmix->channels = channels;
    if (channels <= 2)
        return;
    float left = 0, right = 0;
    for (int i = 0; i < channels; i++) {
        place_gains(map ? map[i] : WAVE_ORDER[channels][i], &downmix->left[i], &downmix->right[i]);
        left += downmix->left[i];
        right += downmix->right[i];
    }
    float most = left > right ? left : right;
    for (int i = 0; i < channels && most > 1; i++) {
        downmix->left[i] /= most;
        downmix->right[i] /= most;
    }
}

void sm_downmix_apply(const sm_downmix *downmix, const float *samples, float (*out)[2], size_t frames) {
    int channels = downmix->channels;
    if (channels == 2) {
        memcpy(out, samples, frames * sizeof *out);
        return;
    }
    for (size_t i = 0; i < frames; i++, samples += channels) {
        if (channels == 1) {
            out[i][0] = out[i][1] = samples[0];
            continue;
        }
        float left = 0, right = 0;
        for (int c = 0; c < channels; c++) {
            left += samples[c] * downmix->left[c];
            right += samples[c] * downmix->right[c];
        }
        out[i][0] = left;
        out[i][1] = right;
    }
}

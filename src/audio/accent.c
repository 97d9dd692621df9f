// SPDX-License-Identifier: GPL-3.0-or-later
// The nearest accent of the music: where its spectrum gains most.
//
// At each place the spectrum of what follows is held against that of what went before, and what the bands have gained is added up: the
// spectral flux. Both windows are loudest at the place itself and fade away from it, so that the sum is greatest where a sound begins,
// to a few milliseconds, and a sound that goes on adds nothing.
#include "audio/internal.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#define WINDOW_S 0.0235 // at most; a low drum has a period or two in it
#define RISE_S 0.001    // of a window at its loud end
#define STEP_US 2000
#define LOW_HZ 40
#define FLOOR_GAIN 300.0F // what is 50 dB below full scale counts half
#define STRONG 0.2F       // of the strongest one within reach; weaker ones are no accents
#define ABOVE_USUAL 2.5F  // times the usual flux there, else the music only goes on
#define LEAST_FLUX 0.02F  // a band; below it is noise or silence

typedef struct spectra {
    const sm_music *music;
    int rate_hz;
    size_t points;        // of a window, a power of two
    float gain;           // from a bin to what loudness goes by
    float *window, *turn; // the window; cosines and sines of the transform
    float *real, *imaginary;
    float (*samples)[2];
} spectra;

// ---- the transform ----------------------------------------------------------------------------

static void swap(float *a, float *b) {
    float kept = *a;
    *a = *b;
    *b = kept;
}

static void put_in_bit_order(float *real, float *imaginary, size_t points) {
    for (size_t i = 1, j = 0; i < points; i++) {
        size_t bit = points >> 1;
        for (; j & bit; bit >>= 1)
            j ^= bit;
        j |= bit;
        if (i < j) {
            swap(&real[i], &real[j]);
            swap(&imaginary[i], &imaginary[j]);
        }
    }
}

// Radix 2, in place.
static void transform(const spectra *s) {
    float *re = s->real, *im = s->imaginary;
    put_in_bit_order(re, im, s->points);
    for (size_t half = 1; half < s->points; half *= 2)
        for (size_t first = 0; first < s->points; first += 2 * half)
            for (size_t k = 0; k < half; k++) {
                const float *turn = &s->turn[2 * (k * (s->points / (2 * half)))];
                size_t a = first + k, b = a + half;
                float real = re[b] * turn[0] + im[b] * turn[1], imaginary = im[b] * turn[0] - re[b] * turn[1];
                re[b] = re[a] - real;
                im[b] = im[a] - imaginary;
                re[a] += real;
                im[a] += imaginary;
            }
}

// ---- the flux -----------------------------------------------------------------------------------

static void deinit(spectra *s) {
    free(s->window);
    free(s->turn);
    free(s->real);
    free(s->imaginary);
    free(s->samples);
}

static bool init(spectra *s, const sm_music *music) {
    *s = (spectra){.music = music, .rate_hz = sm_music_rate(music), .points = 128};
    while (2.0 * (double)s->points <= WINDOW_S * s->rate_hz)
        s->points *= 2;
    s->window = calloc(s->points, sizeof *s->window);
    s->turn = calloc(s->points, sizeof *s->turn);
    s->real = calloc(s->points, sizeof *s->real);
    s->imaginary = calloc(s->points, sizeof *s->imaginary);
    s->samples = calloc(2 * s->points, sizeof *s->samples);
    if (!s->window || !s->turn || !s->real || !s->imaginary || !s->samples)
        return false;
    const float rise = (float)(RISE_S * s->rate_hz);
    float sum = 0;
    for (size_t i = 0; i < s->points; i++) {
        const float part = ((float)i + 0.5F) / (float)s->points;
        s->window[i] = (0.5F + 0.5F * cosf((float)M_PI * part)) * fminf(1, ((float)i + 0.5F) / rise);
        sum += s->window[i];
    }
    s->gain = FLOOR_GAIN / (2 * sum); // of two sides, and twice each
    for (size_t i = 0; i < s->points / 2; i++) {
        s->turn[2 * i] = cosf(2 * (float)M_PI * (float)i / (float)s->points);
        s->turn[2 * i + 1] = sinf(2 * (float)M_PI * (float)i / (float)s->points);
    }
    return true;
}

// How loud a band is, on a scale of loudness, by a bin of its transform.
static float loudness(const spectra *s, float real, float imaginary) {
    return log1pf(s->gain * hypotf(real, imaginary));
}

// Both windows are transformed at once, what went before as the real part and what follows as the imaginary one; they come apart by
// the symmetry of the transform of real samples.
static float flux_at(const spectra *s, int64_t frame) {
    const size_t lowest = (size_t)(LOW_HZ * (double)s->points / s->rate_hz) + 1;
    float gained = 0;
    sm_music_copy(s->music, frame - (int64_t)s->points, s->samples, 2 * s->points);
    for (size_t i = 0; i < s->points; i++) {
        const float *before = s->samples[s->points - 1 - i], *after = s->samples[s->points + i];
        s->real[i] = (before[0] + before[1]) * s->window[i];
        s->imaginary[i] = (after[0] + after[1]) * s->window[i];
    }
    transform(s);
    for (size_t k = lowest; k < s->points / 2; k++) {
        const size_t other = s->points - k;
        const float before = loudness(s, s->real[k] + s->real[other], s->imaginary[k] - s->imaginary[other]);
        const float after = loudness(s, s->imaginary[k] + s->imaginary[other], s->real[other] - s->real[k]);
        gained += fmaxf(0, after - before);
    }
    return 2 * gained / (float)s->points;
}

// ---- the nearest ----------------------------------------------------------------------------------

static int by_value(const void *a, const void *b) {
    const float first = *(const float *)a, second = *(const float *)b;
    return (first > second) - (first < second);
}

static float usual(const float *flux, float *room, size_t count) {
    memcpy(room, flux, count * sizeof *flux);
    qsort(room, count, sizeof *room, by_value);
    return room[count / 2];
}

static bool is_peak(const float *flux, size_t count, size_t at) {
    const size_t reach = 5; // steps: two accents so near are one
    for (size_t i = at > reach ? at - reach : 0; i < count && i <= at + reach; i++)
        if (flux[i] > flux[at] || (flux[i] == flux[at] && i < at))
            return false;
    return true;
}

// The nearest peak to the middle that is strong enough; COUNT: none is.
static size_t nearest_peak(const float *flux, float *room, size_t count) {
    const size_t middle = count / 2;
    size_t nearest = count, least_away = SIZE_MAX;
    float most = 0;
    for (size_t i = 0; i < count; i++)
        most = fmaxf(most, flux[i]);
    const float least = fmaxf(fmaxf(STRONG * most, ABOVE_USUAL * usual(flux, room, count)), LEAST_FLUX);
    for (size_t i = 0; i < count; i++) {
        const size_t away = i > middle ? i - middle : middle - i;
        if (flux[i] >= least && away < least_away && is_peak(flux, count, i)) {
            nearest = i;
            least_away = away;
        }
    }
    return nearest;
}

bool sm_audio_accent(sm_audio *audio, sm_show_time near, sm_us within, sm_show_time *out) {
    const size_t count = (size_t)(2 * within / STEP_US) + 1;
    if (!audio->music || sm_music_rate(audio->music) == 0 || within < 0 || within > SM_US_PER_S)
        return false;
    spectra s;
    float *const flux = calloc(2 * count, sizeof *flux);
    const bool made = init(&s, audio->music) && flux;
    size_t found = count;
    for (size_t i = 0; made && i < count; i++) {
        const sm_us at_us = near.us - within + (sm_us)i * STEP_US - audio->audio_start_us;
        flux[i] = flux_at(&s, llround((double)at_us * s.rate_hz / SM_US_PER_S));
    }
    if (made)
        found = nearest_peak(flux, flux + count, count);
    if (found < count)
        out->us = near.us - within + (sm_us)found * STEP_US;
    free(flux);
    deinit(&s);
    return found < count;
}

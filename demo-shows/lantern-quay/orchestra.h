// SPDX-License-Identifier: GPL-3.0-or-later
// What the composers of the demo shows play on: FM and additive voices, noise drums, one reverb, and how the result is written.
// A composer's score.h gives the beat (SCORE_BEAT_US, SCORE_BEATS_PER_BAR); the composer defines RATE (frames a second) and
// what chord stands in a bar.
#ifndef DEMO_ORCHESTRA_H
#define DEMO_ORCHESTRA_H

#include <math.h>
#include <sndfile.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TWO_PI 6.283185307179586
#define COUNT(table) (sizeof(table) / sizeof((table)[0]))

enum { LEFT, RIGHT, SIDES };

struct song {
    size_t frames;
    double *dry[SIDES];
    double *send[SIDES]; // what the reverb hears
    uint32_t noise;
};

struct voice {
    int partials;       // above 0: additive, harmonics at 1/n^2; 0: FM
    double mod_ratio;   // modulator over carrier frequency
    double index;       // FM index at the attack
    double index_decay; // s
    double attack;      // s
    double decay;       // s, time constant towards sustain
    double sustain;     // 0..1
    double release;     // s, time constant
    int unison;         // copies
    double cents;       // detune between copies
    double spread;      // 0..1 across the stereo field
    double send;        // part of it that goes to the reverb
};

static const struct voice bell = {0, 3.5, 2.2, 0.35, 0.002, 0.9, 0.0, 0.6, 1, 0, 0, 0.6};
static const struct voice pad = {6, 0, 0, 1, 0.6, 1.0, 0.9, 0.5, 3, 9, 0.9, 0.5};
static const struct voice bass = {0, 1.0, 1.8, 0.12, 0.004, 0.5, 0.5, 0.05, 1, 0, 0, 0.0};
static const struct voice lead = {0, 1.0, 1.4, 0.5, 0.015, 0.4, 0.7, 0.12, 2, 8, 0.5, 0.35};
static const struct voice pluck = {0, 2.0, 1.6, 0.08, 0.002, 0.16, 0.0, 0.1, 2, 6, 0.8, 0.4};
static const struct voice stab = {0, 1.0, 3.2, 0.2, 0.005, 0.3, 0.0, 0.15, 3, 10, 0.9, 0.5};

struct chord {
    int root; // bass note, MIDI
    int tones[4];
};

// The composer's own.
static const struct chord *chord_of_bar(int bar);

struct tune_note {
    double beat, beats;
    int midi;
};

static double seconds_of_beat(double beat) {
    return beat * (double)SCORE_BEAT_US / 1e6;
}

static size_t frame_at(double seconds) {
    return (size_t)(seconds * RATE + 0.5);
}

static double noise_next(struct song *song) {
    song->noise = song->noise * 1664525u + 1013904223u; // a linear congruence: the same hiss every time
    return (double)(song->noise >> 8) / 8388608.0 - 1.0;
}

static void song_add(struct song *song, size_t frame, double value, double pan, double send) {
    if (frame >= song->frames)
        return;
    static double last_pan = 9, gain[SIDES]; // worked out once a note
    if (pan != last_pan) {
        gain[LEFT] = cos((pan + 1) * TWO_PI / 8);
        gain[RIGHT] = sin((pan + 1) * TWO_PI / 8);
        last_pan = pan;
    }
    for (int side = 0; side < SIDES; side++) {
        song->dry[side][frame] += value * gain[side];
        song->send[side][frame] += value * gain[side] * send;
    }
}

static double voice_level(const struct voice *v, double t, double length) {
    double held = t < length ? t : length;
    double level = held < v->attack ? held / v->attack
                                    : v->sustain + (1 - v->sustain) * exp(-(held - v->attack) / v->decay);
    return t < length ? level : level * exp(-(t - length) / v->release);
}

static double voice_wave(const struct voice *v, double hz, double t) {
    double phase = TWO_PI * hz * t;
    if (v->partials == 0)
        return sin(phase + v->index * exp(-t / v->index_decay) * sin(phase * v->mod_ratio));
    double sum = 0;
    for (int n = 1; n <= v->partials; n++)
        sum += sin(phase * n) / (n * n);
    return sum;
}

static void play(struct song *song, const struct voice *v, double beat, double beats, int midi, double gain,
                 double pan) {
    double length = seconds_of_beat(beats);
    size_t start = frame_at(seconds_of_beat(beat)), frames = frame_at(length + 6 * v->release);
    for (int copy = 0; copy < v->unison; copy++) {
        double place = v->unison > 1 ? 2.0 * copy / (v->unison - 1) - 1 : 0;
        double hz = 440.0 * pow(2.0, (midi - 69) / 12.0 + place * v->cents / 2400.0);
        for (size_t i = 0; i < frames; i++) {
            double t = (double)i / RATE;
            double value = voice_wave(v, hz, t) * voice_level(v, t, length) * gain / v->unison;
            song_add(song, start + i, value, pan + place * v->spread * (1 - fabs(pan)), v->send);
        }
    }
}

static void kick(struct song *song, double beat, double gain) {
    size_t start = frame_at(seconds_of_beat(beat));
    for (size_t i = 0; i < frame_at(0.4); i++) {
        double t = (double)i / RATE;
        double phase = TWO_PI * (48 * t + 0.035 * 110 * (1 - exp(-t / 0.035)));
        song_add(song, start + i, gain * sin(phase) * exp(-t / 0.13), 0, 0);
    }
}

static void snare(struct song *song, double beat, double gain) {
    size_t start = frame_at(seconds_of_beat(beat));
    for (size_t i = 0; i < frame_at(0.3); i++) {
        double t = (double)i / RATE;
        double body = 0.5 * sin(TWO_PI * 185 * t) * exp(-t / 0.05);
        song_add(song, start + i, gain * (body + 0.6 * noise_next(song) * exp(-t / 0.075)), 0.05, 0.3);
    }
}

// Hats and crashes are hiss through a one-pole high pass.
static void cymbal(struct song *song, double beat, double gain, double decay, double pan) {
    size_t start = frame_at(seconds_of_beat(beat));
    double low = 0;
    for (size_t i = 0; i < frame_at(6 * decay); i++) {
        double hiss = noise_next(song);
        low += 0.55 * (hiss - low);
        song_add(song, start + i, gain * (hiss - low) * exp(-(double)i / RATE / decay), pan, 0.2);
    }
}

static void riser(struct song *song, double beat, double beats, double gain) {
    size_t start = frame_at(seconds_of_beat(beat)), frames = frame_at(seconds_of_beat(beats));
    double low = 0, band = 0;
    for (size_t i = 0; i < frames; i++) {
        double part = (double)i / (double)frames;
        double corner = 0.02 + 0.35 * part * part; // a state-variable filter that opens
        low += corner * band;
        band += corner * (noise_next(song) - low - 0.5 * band);
        song_add(song, start + i, gain * part * part * band, sin(part * 9) * 0.6, 0.4);
    }
}

static void play_tune(struct song *song, const struct voice *v, const struct tune_note *tune, size_t notes,
                      int beat, int up, double gain) {
    for (size_t i = 0; i < notes; i++)
        play(song, v, beat + tune[i].beat, tune[i].beats * 0.92, tune[i].midi + up, gain, 0.1);
}

// Bells step through the chord; the chases of the lamps follow these very notes.
static void score_bells(struct song *song, int from_beat, int to_beat, int step, double gain) {
    static const int order[4] = {0, 1, 2, 1};
    for (int beat = from_beat, n = 0; beat < to_beat; beat += step, n++) {
        int tone = chord_of_bar(beat / SCORE_BEATS_PER_BAR)->tones[order[n % 4]];
        play(song, &bell, beat, 1.0, tone + 12, gain, 0.7 * sin(n * 0.8));
    }
}

static void score_bass(struct song *song, int from_bar, int to_bar, double gain) {
    static const int octave[8] = {0, 0, 12, 0, 0, 12, 0, 12};
    for (int bar = from_bar; bar < to_bar; bar++) {
        for (int eighth = 0; eighth < 8; eighth++) {
            play(song, &bass, bar * SCORE_BEATS_PER_BAR + eighth * 0.5, 0.42,
                 chord_of_bar(bar)->root + octave[eighth], gain, 0);
        }
    }
}

static void score_arpeggio(struct song *song, int from_bar, int to_bar, double gain) {
    static const int order[8] = {0, 2, 1, 3, 2, 1, 3, 2};
    for (int bar = from_bar; bar < to_bar; bar++) {
        for (int step = 0; step < 16; step++) {
            int tone = chord_of_bar(bar)->tones[order[step % 8]] + 12;
            play(song, &pluck, bar * SCORE_BEATS_PER_BAR + step * 0.25, 0.22, tone, gain,
                 step % 2 ? 0.5 : -0.5);
        }
    }
}

static void score_drums(struct song *song, int from_bar, int to_bar, double gain, int backbeat) {
    for (int beat = from_bar * SCORE_BEATS_PER_BAR; beat < to_bar * SCORE_BEATS_PER_BAR; beat++) {
        kick(song, beat, 0.75 * gain);
        cymbal(song, beat + 0.5, 0.22 * gain, 0.05, 0.3);
        if (backbeat) {
            cymbal(song, beat + 0.25, 0.09 * gain, 0.03, -0.3);
            cymbal(song, beat + 0.75, 0.09 * gain, 0.03, -0.3);
            if (beat % 2 == 1)
                snare(song, beat, 0.5 * gain);
        }
    }
}

// Snare strokes that double and swell up to the beat `to`.
static void score_roll(struct song *song, int from_beat, int to_beat) {
    double length = to_beat - from_beat;
    for (double at = 0; at < length; at += at < length / 2 ? 1.0 : at < length * 0.75 ? 0.5 : 0.25)
        snare(song, from_beat + at, 0.12 + 0.3 * at / length);
}

// Parallel feedback delays, then two all-passes: the usual small hall, a little longer on the right.
static void reverb_side(const double *in, double *out, size_t frames, size_t offset) {
    static const size_t comb_length[4] = {1557, 1617, 1491, 1422}, pass_length[2] = {556, 225};
    static double comb[4][2048], pass[2][1024], damp[4];
    memset(comb, 0, sizeof comb);
    memset(pass, 0, sizeof pass);
    memset(damp, 0, sizeof damp);
    for (size_t i = 0; i < frames; i++) {
        double sum = 0;
        for (size_t c = 0; c < 4; c++) {
            double *cell = &comb[c][i % (comb_length[c] + offset)];
            sum += *cell;
            damp[c] += 0.7 * (*cell - damp[c]);
            *cell = in[i] + 0.84 * damp[c];
        }
        for (size_t p = 0; p < 2; p++) {
            double *cell = &pass[p][i % (pass_length[p] + offset)];
            double late = *cell;
            *cell = sum + 0.5 * late;
            sum = late - 0.5 * *cell;
        }
        out[i] += 0.22 * sum;
    }
}

// Reverb, a soft limit, a short fade at both ends, peak at -1 dB.
static float *song_finish(struct song *song) {
    float *out = malloc(song->frames * SIDES * sizeof *out);
    if (!out)
        return NULL;
    double peak = 1e-9;
    for (int side = 0; side < SIDES; side++) {
        reverb_side(song->send[side], song->dry[side], song->frames, side == RIGHT ? 23 : 0);
        for (size_t i = 0; i < song->frames; i++) {
            double fade_in = (double)i / (0.02 * RATE),
                   fade_out = (double)(song->frames - 1 - i) / (1.2 * RATE);
            double edge = fmin(1.0, fmin(fade_in, fade_out));
            song->dry[side][i] = edge * tanh(1.1 * song->dry[side][i]);
            peak = fmax(peak, fabs(song->dry[side][i]));
        }
    }
    double gain = 0.891 / peak;
    for (size_t i = 0; i < song->frames * SIDES; i++)
        out[i] = (float)(gain * song->dry[i % SIDES][i / SIDES]);
    return out;
}

struct recording {
    const char *title, *comment;
    int channels; // 1: both sides in one
    double quality;
};

static sf_count_t write_second(SNDFILE *file, const float *samples, int channels, sf_count_t frames) {
    static float mono[RATE];
    if (channels == SIDES)
        return sf_writef_float(file, samples, frames);
    for (sf_count_t i = 0; i < frames; i++)
        mono[i] = 0.5f * (samples[i * SIDES + LEFT] + samples[i * SIDES + RIGHT]);
    return sf_writef_float(file, mono, frames);
}

static int write_file(const struct recording *recording, const char *path, const float *samples,
                      size_t frames) {
    SF_INFO info = {
        .samplerate = RATE, .channels = recording->channels, .format = SF_FORMAT_OGG | SF_FORMAT_VORBIS};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (!file) {
        fprintf(stderr, "compose: %s: %s\n", path, sf_strerror(NULL));
        return 1;
    }
    double quality = recording->quality;
    sf_command(file, SFC_SET_VBR_ENCODING_QUALITY, &quality, sizeof quality);
    sf_set_string(file, SF_STR_TITLE, recording->title);
    sf_set_string(file, SF_STR_COMMENT, recording->comment);
    sf_set_string(file, SF_STR_LICENSE, "GPL-3.0-or-later");
    sf_count_t left = (sf_count_t)frames, done = 0;
    while (left > 0) { // a second at a time: the Vorbis encoder takes stack in proportion
        sf_count_t part =
            write_second(file, samples + done * SIDES, recording->channels, left < RATE ? left : RATE);
        if (part <= 0)
            break;
        done += part;
        left -= part;
    }
    if (sf_close(file) != 0 || left != 0) {
        fprintf(stderr, "compose: %s: not written whole\n", path);
        return 1;
    }
    return 0;
}

// What a composer's main does: SCORE plays BEATS beats, which are written to the file that the call names.
static int record(const struct recording *recording, int beats, void (*score)(struct song *song), int argc,
                  char **argv) {
    if (argc != 2) {
        fprintf(stderr, "usage: compose OUT.ogg\n");
        return 2;
    }
    struct song song = {.frames = frame_at(seconds_of_beat(beats)), .noise = 1};
    double *memory = calloc(song.frames * 4, sizeof *memory);
    if (!memory) {
        fprintf(stderr, "compose: out of memory\n");
        return 1;
    }
    for (size_t side = 0; side < SIDES; side++) {
        song.dry[side] = memory + side * song.frames;
        song.send[side] = memory + (SIDES + side) * song.frames;
    }
    score(&song);
    float *samples = song_finish(&song);
    int status = samples ? write_file(recording, argv[1], samples, song.frames) : 1;
    free(samples);
    free(memory);
    return status;
}

#endif

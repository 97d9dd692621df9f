// SPDX-License-Identifier: GPL-3.0-or-later
// Composes "Lantern Quay", the music of the demo show, and writes it as Ogg Vorbis. Our own piece, from
// nothing but the tables below: FM and additive voices, noise drums, one reverb. Build and run:  cc -std=c11
// -O2 compose.c -lsndfile -lm -o compose && ./compose music.ogg The samples are the same every time; the file
// differs in the stream's serial number, which libsndfile draws by lot.
#include "score.h"

#include <math.h>
#include <sndfile.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define RATE 44100
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

// Four bars: B minor, G, D, A.
static const struct chord round_of_chords[4] = {
    {35, {59, 62, 66, 74}}, {31, {59, 62, 67, 74}}, {38, {57, 62, 66, 74}}, {33, {57, 61, 64, 73}}};
static const struct chord home_chord = {38, {62, 66, 69, 74}};

struct tune_note {
    double beat, beats;
    int midi;
};

static const struct tune_note chorus_tune[] = {
    {0, 1.5, 78}, {1.5, 0.5, 76}, {2, 1, 74},  {3, 1, 78},  {4, 1.5, 79}, {5.5, 0.5, 78}, {6, 1, 76},
    {7, 1, 74},   {8, 2, 78},     {10, 1, 81}, {11, 1, 78}, {12, 3, 76},  {15, 0.5, 74},  {15.5, 0.5, 76}};
static const struct tune_note calm_tune[] = {{0, 3, 74},  {3, 1, 73},  {4, 4, 71}, {8, 2, 69},
                                             {10, 2, 74}, {12, 3, 73}, {15, 1, 76}};

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
    double gain[SIDES] = {cos((pan + 1) * TWO_PI / 8), sin((pan + 1) * TWO_PI / 8)};
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

static const struct chord *chord_of_bar(int bar) {
    return bar >= score_first_bar[SCORE_CLOSE] ? &home_chord : &round_of_chords[bar % 4];
}

static void play_tune(struct song *song, const struct voice *v, const struct tune_note *tune, size_t notes,
                      int beat, int up, double gain) {
    for (size_t i = 0; i < notes; i++)
        play(song, v, beat + tune[i].beat, tune[i].beats * 0.92, tune[i].midi + up, gain, 0.1);
}

// Pads lie under everything; louder where there are no drums.
static void score_pads(struct song *song) {
    for (int bar = 0; bar < score_first_bar[SCORE_CLOSE]; bar++) {
        const struct chord *chord = chord_of_bar(bar);
        int calm = bar < score_first_bar[SCORE_BUILD] ||
                   (bar >= score_first_bar[SCORE_BREAKDOWN] && bar < score_first_bar[SCORE_RISE]);
        for (int i = 0; i < 4; i++) {
            play(song, &pad, bar * SCORE_BEATS_PER_BAR, SCORE_BEATS_PER_BAR,
                 chord->tones[i] - (i == 3 ? 12 : 0), calm ? 0.11 : 0.075, 0.4 * (i - 1.5));
        }
    }
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

static void score_hit_figure(struct song *song, enum score_part part, enum score_part next) {
    for (int beat = score_beat(part, 0, 0); beat < score_beat(next, 0, 0); beat += SCORE_HIT_BEATS) {
        for (size_t h = 0; h < COUNT(score_hits); h++) {
            int at = beat + score_hits[h].beat;
            const struct chord *chord = chord_of_bar(at / SCORE_BEATS_PER_BAR);
            double gain = score_hits[h].who == SCORE_HIT_ALL ? 0.17 : 0.11;
            for (int i = 0; i < 4; i++)
                play(song, &stab, at, 0.8, chord->tones[i], gain, 0);
        }
    }
}

static void score_quiet_parts(struct song *song) {
    score_pads(song);
    score_bells(song, score_beat(SCORE_INTRO, 2, 0), score_beat(SCORE_CHORUS, 0, 0), 1, 0.17);
    score_bells(song, score_beat(SCORE_BREAKDOWN, 0, 0), score_beat(SCORE_RISE, 0, 0), 2, 0.2);
    score_bells(song, score_beat(SCORE_RISE, 0, 0), score_beat(SCORE_FINALE, 0, 0), 1, 0.17);
    for (int bar = 4; bar < 8; bar++) { // the heartbeat under the second half of the intro
        kick(song, score_beat(SCORE_INTRO, bar, 0), 0.4);
        kick(song, score_beat(SCORE_INTRO, bar, 2), 0.3);
    }
    play_tune(song, &lead, calm_tune, COUNT(calm_tune), score_beat(SCORE_BREAKDOWN, 0, 0), 0, 0.1);
    play_tune(song, &lead, calm_tune, COUNT(calm_tune), score_beat(SCORE_BREAKDOWN, 4, 0), 0, 0.12);
}

static void score_rising_parts(struct song *song) {
    int build = score_first_bar[SCORE_BUILD], chorus = score_first_bar[SCORE_CHORUS];
    score_drums(song, build, chorus - 1, 0.8, 0);
    score_bass(song, build, chorus, 0.2);
    score_arpeggio(song, build + 4, chorus, 0.07);
    score_roll(song, score_beat(SCORE_CHORUS, -2, 0), score_beat(SCORE_CHORUS, 0, 0));
    riser(song, score_beat(SCORE_CHORUS, -4, 0), 16, 0.3);

    score_drums(song, score_first_bar[SCORE_RISE], score_first_bar[SCORE_FINALE] - 1, 0.7, 0);
    score_bass(song, score_first_bar[SCORE_RISE], score_first_bar[SCORE_FINALE], 0.18);
    score_roll(song, score_beat(SCORE_RISE, 0, 0), score_beat(SCORE_FINALE, 0, 0));
    riser(song, score_beat(SCORE_RISE, 0, 0), 16, 0.35);
}

static void score_full_parts(struct song *song) {
    static const struct {
        enum score_part part, next;
    } full[] = {{SCORE_CHORUS, SCORE_BREAKDOWN}, {SCORE_FINALE, SCORE_CLOSE}};
    for (size_t i = 0; i < COUNT(full); i++) {
        int from = score_first_bar[full[i].part], to = score_first_bar[full[i].next];
        score_drums(song, from, to, 1.0, 1);
        score_bass(song, from, to, 0.24);
        score_arpeggio(song, from, to, full[i].part == SCORE_FINALE ? 0.08 : 0.05);
        score_hit_figure(song, full[i].part, full[i].next);
        for (int bar = from; bar < to; bar += 4) {
            cymbal(song, bar * SCORE_BEATS_PER_BAR, 0.4, 0.7, -0.2);
            play_tune(song, &lead, chorus_tune, COUNT(chorus_tune), bar * SCORE_BEATS_PER_BAR, 0, 0.17);
            if (full[i].part == SCORE_FINALE)
                play_tune(song, &lead, chorus_tune, COUNT(chorus_tune), bar * SCORE_BEATS_PER_BAR, -12, 0.1);
        }
    }
}

static void score_close(struct song *song) {
    int at = score_beat(SCORE_CLOSE, 0, 0);
    kick(song, at, 0.9);
    cymbal(song, at, 0.5, 1.0, 0);
    play(song, &bass, at, 4, home_chord.root, 0.25, 0);
    for (int i = 0; i < 4; i++) {
        play(song, &pad, at, 4, home_chord.tones[i], 0.13, 0.4 * (i - 1.5));
        play(song, &stab, at, 1.5, home_chord.tones[i], 0.2, 0);
        play(song, &bell, at + i * 0.5, 2, home_chord.tones[i] + 12, 0.18, 0.5 * (i - 1.5));
    }
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

static int write_file(const char *path, const float *samples, size_t frames) {
    SF_INFO info = {.samplerate = RATE, .channels = SIDES, .format = SF_FORMAT_OGG | SF_FORMAT_VORBIS};
    SNDFILE *file = sf_open(path, SFM_WRITE, &info);
    if (!file) {
        fprintf(stderr, "compose: %s: %s\n", path, sf_strerror(NULL));
        return 1;
    }
    double quality = 0.3;
    sf_command(file, SFC_SET_VBR_ENCODING_QUALITY, &quality, sizeof quality);
    sf_set_string(file, SF_STR_TITLE, "Lantern Quay");
    sf_set_string(file, SF_STR_COMMENT, "composed by demo-shows/lantern-quay/compose.c");
    sf_set_string(file, SF_STR_LICENSE, "GPL-3.0-or-later");
    sf_count_t left = (sf_count_t)frames, done = 0;
    while (left > 0) { // a second at a time: the Vorbis encoder takes stack in proportion
        sf_count_t part = sf_writef_float(file, samples + done * SIDES, left < RATE ? left : RATE);
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

int main(int argc, char **argv) {
    if (argc != 2) {
        fprintf(stderr, "usage: compose OUT.ogg\n");
        return 2;
    }
    struct song song = {.frames = frame_at(seconds_of_beat(score_beat(SCORE_END, 0, 0))), .noise = 1};
    double *memory = calloc(song.frames * 4, sizeof *memory);
    if (!memory) {
        fprintf(stderr, "compose: out of memory\n");
        return 1;
    }
    for (size_t side = 0; side < SIDES; side++) {
        song.dry[side] = memory + side * song.frames;
        song.send[side] = memory + (SIDES + side) * song.frames;
    }
    score_quiet_parts(&song);
    score_rising_parts(&song);
    score_full_parts(&song);
    score_close(&song);
    float *samples = song_finish(&song);
    int status = samples ? write_file(argv[1], samples, song.frames) : 1;
    free(samples);
    free(memory);
    return status;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// Composes "Lantern Quay", the music of the demo show, and writes it as Ogg Vorbis. Our own piece, from
// nothing but the tables below: FM and additive voices, noise drums, one reverb. Build and run:  cc -std=c11
// -O2 compose.c -lsndfile -lm -o compose && ./compose music.ogg The samples are the same every time; the file
// differs in the stream's serial number, which libsndfile draws by lot.
#include "score.h"

#define RATE 44100
#include "orchestra.h"

// Four bars: B minor, G, D, A.
static const struct chord round_of_chords[4] = {
    {35, {59, 62, 66, 74}}, {31, {59, 62, 67, 74}}, {38, {57, 62, 66, 74}}, {33, {57, 61, 64, 73}}};
static const struct chord home_chord = {38, {62, 66, 69, 74}};

static const struct tune_note chorus_tune[] = {
    {0, 1.5, 78}, {1.5, 0.5, 76}, {2, 1, 74},  {3, 1, 78},  {4, 1.5, 79}, {5.5, 0.5, 78}, {6, 1, 76},
    {7, 1, 74},   {8, 2, 78},     {10, 1, 81}, {11, 1, 78}, {12, 3, 76},  {15, 0.5, 74},  {15.5, 0.5, 76}};
static const struct tune_note calm_tune[] = {{0, 3, 74},  {3, 1, 73},  {4, 4, 71}, {8, 2, 69},
                                             {10, 2, 74}, {12, 3, 73}, {15, 1, 76}};

static const struct chord *chord_of_bar(int bar) {
    return bar >= score_first_bar[SCORE_CLOSE] ? &home_chord : &round_of_chords[bar % 4];
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

static void score_all(struct song *song) {
    score_quiet_parts(song);
    score_rising_parts(song);
    score_full_parts(song);
    score_close(song);
}

int main(int argc, char **argv) {
    static const struct recording recording = {.title = "Lantern Quay",
                                               .comment = "composed by demo-shows/lantern-quay/compose.c",
                                               .channels = SIDES,
                                               .quality = 0.3};
    return record(&recording, score_beat(SCORE_END, 0, 0), score_all, argc, argv);
}

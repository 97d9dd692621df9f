// SPDX-License-Identifier: GPL-3.0-or-later
// Composes "Tallow Weir", the music of the large demo show, as mono Ogg Vorbis of a low rate: twenty minutes are to stay small.
// Our own piece, from the tables below. Build and run:
//   cc -std=c11 -O2 compose.c -lsndfile -lm -o compose && ./compose music.ogg
// The samples are the same every time; the file differs in the stream's serial number, which libsndfile draws by lot.
#include "score.h"

#define RATE 22050
#include "../lantern-quay/orchestra.h"

#define CHORDS 8
// Eight bars: A minor, F, C, G, A minor, D minor, F, E.
static const struct chord round_of_chords[CHORDS] = {
    {33, {57, 60, 64, 69}}, {29, {57, 60, 65, 69}}, {36, {55, 60, 64, 72}}, {31, {55, 59, 62, 71}},
    {33, {57, 60, 64, 69}}, {38, {57, 62, 65, 69}}, {29, {57, 60, 65, 72}}, {28, {56, 59, 64, 71}}};
static const struct chord home_chord = {33, {57, 61, 64, 69}};

static const struct tune_note weir_tune[] = {{0, 2, 76},  {2, 1, 74},  {3, 1, 72},  {4, 3, 77},  {7, 1, 76},
                                             {8, 2, 79},  {10, 2, 76}, {12, 3, 74}, {15, 1, 71}, {16, 2, 72},
                                             {18, 2, 76}, {20, 3, 77}, {23, 1, 74}, {24, 4, 72}, {28, 4, 71}};
static const struct tune_note mill_tune[] = {{0, 4, 69},  {4, 3, 72},  {7, 1, 69},  {8, 4, 67},
                                             {12, 4, 71}, {16, 6, 72}, {24, 4, 69}, {28, 4, 68}};

static const struct chord *chord_of_bar(int bar) {
    return bar >= score_first_bar[SCORE_CLOSE] ? &home_chord : &round_of_chords[bar % CHORDS];
}

static void score_pads(struct song *song, enum score_part part) {
    for (int bar = score_first_bar[part]; bar < score_first_bar[part + 1]; bar++)
        for (int i = 0; i < 3; i++)
            play(song, &pad, bar * SCORE_BEATS_PER_BAR, SCORE_BEATS_PER_BAR, chord_of_bar(bar)->tones[i],
                 score_is_loud[part] ? 0.07 : 0.11, 0);
}

static void score_tune(struct song *song, enum score_part part, const struct tune_note *tune, size_t notes,
                       double gain) {
    for (int bar = 0; bar + CHORDS <= score_bars(part); bar += CHORDS)
        play_tune(song, &lead, tune, notes, score_beat(part, bar, 0), 0, gain);
}

static void score_quiet_part(struct song *song, enum score_part part) {
    const int next = score_beat((enum score_part)(part + 1), 0, 0);
    score_bells(song, score_beat(part, 2, 0), next, part == SCORE_WHEEL ? 1 : 2, 0.18);
    if (score_is_loud[part + 1])
        riser(song, next - 16, 16, 0.25);
    if (part == SCORE_WHEEL)
        score_bass(song, score_first_bar[part] + 16, score_first_bar[part + 1], 0.14);
    else
        score_tune(song, part, mill_tune, COUNT(mill_tune), 0.11);
}

// A crash where the weir opens and every eight bars from there; a roll into the next part.
static void score_loud_part(struct song *song, enum score_part part) {
    const int from = score_first_bar[part], to = score_first_bar[part + 1];
    score_drums(song, from, to, 0.8, part == SCORE_STORM || part == SCORE_FINALE);
    score_bass(song, from, to, 0.22);
    score_tune(song, part, weir_tune, COUNT(weir_tune), 0.15);
    if (part == SCORE_FINALE)
        score_arpeggio(song, from, to, 0.06);
    for (int bar = from; bar < to; bar += CHORDS)
        cymbal(song, bar * SCORE_BEATS_PER_BAR, 0.35, 0.6, 0);
    score_roll(song, (to - 2) * SCORE_BEATS_PER_BAR, to * SCORE_BEATS_PER_BAR);
}

static void score_close(struct song *song) {
    const int at = score_beat(SCORE_CLOSE, 0, 0);
    kick(song, at, 0.9);
    cymbal(song, at, 0.5, 1.0, 0);
    for (int i = 0; i < 4; i++)
        play(song, &stab, at, 3, home_chord.tones[i], 0.2, 0);
    score_bells(song, at + 2, score_beat(SCORE_CLOSE, 7, 0), 2, 0.16);
}

static void score_all(struct song *song) {
    for (enum score_part part = SCORE_DUSK; part < SCORE_CLOSE; part++) {
        score_pads(song, part);
        if (score_is_loud[part])
            score_loud_part(song, part);
        else
            score_quiet_part(song, part);
    }
    score_pads(song, SCORE_CLOSE);
    score_close(song);
}

int main(int argc, char **argv) {
    static const struct recording recording = {.title = "Tallow Weir",
                                               .comment = "composed by demo-shows/tallow-weir/compose.c",
                                               .channels = 1,
                                               .quality = 0.0};
    return record(&recording, score_beat(SCORE_END, 0, 0), score_all, argc, argv);
}

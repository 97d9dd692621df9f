// SPDX-License-Identifier: GPL-3.0-or-later
// Tempo and form of "Tallow Weir": the one source of every moment in the music (compose.c) and in the tables (tables.c).
#ifndef TALLOW_WEIR_SCORE_H
#define TALLOW_WEIR_SCORE_H

#include <stdint.h>

// 120 beats a minute, four to the bar: a beat is 0.5 s and a bar 2 s.
#define SCORE_BEAT_US INT64_C(500000)
#define SCORE_BEATS_PER_BAR 4

enum score_part {
    SCORE_DUSK,
    SCORE_WHEEL,
    SCORE_WEIR,
    SCORE_LANTERNS,
    SCORE_FLOODGATE,
    SCORE_MILL_SONG,
    SCORE_STORM,
    SCORE_STILL_WATER,
    SCORE_FINALE,
    SCORE_CLOSE,
    SCORE_END, // no part: the bar at which the piece is over
    SCORE_PARTS
};

static const int score_first_bar[SCORE_PARTS] = {
    [SCORE_DUSK] = 0,        [SCORE_WHEEL] = 40,      [SCORE_WEIR] = 100,  [SCORE_LANTERNS] = 180,
    [SCORE_FLOODGATE] = 240, [SCORE_MILL_SONG] = 330, [SCORE_STORM] = 390, [SCORE_STILL_WATER] = 480,
    [SCORE_FINALE] = 520,    [SCORE_CLOSE] = 590,     [SCORE_END] = 600,
};

// Parts with drums.
static const int score_is_loud[SCORE_PARTS] = {
    [SCORE_WEIR] = 1, [SCORE_FLOODGATE] = 1, [SCORE_STORM] = 1, [SCORE_FINALE] = 1};

static inline int score_beat(enum score_part part, int bar, int beat) {
    return (score_first_bar[part] + bar) * SCORE_BEATS_PER_BAR + beat;
}

static inline int score_bars(enum score_part part) {
    return score_first_bar[part + 1] - score_first_bar[part];
}

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Tempo and form of "Lantern Quay": the one source of every moment in the music (compose.c) and in the cues
// (cues.c).
#ifndef LANTERN_QUAY_SCORE_H
#define LANTERN_QUAY_SCORE_H

#include <stdint.h>

// 120 beats a minute, four to the bar: a beat is 0.5 s and a bar 2 s, so that cue times stay readable.
#define SCORE_BEAT_US INT64_C(500000)
#define SCORE_BEATS_PER_BAR 4

enum score_part {
    SCORE_INTRO,
    SCORE_BUILD,
    SCORE_CHORUS,
    SCORE_BREAKDOWN,
    SCORE_RISE,
    SCORE_FINALE,
    SCORE_CLOSE,
    SCORE_END, // no part: the bar at which the piece is over
    SCORE_PARTS
};

static const int score_first_bar[SCORE_PARTS] = {
    [SCORE_INTRO] = 0, [SCORE_BUILD] = 8,   [SCORE_CHORUS] = 16, [SCORE_BREAKDOWN] = 24,
    [SCORE_RISE] = 32, [SCORE_FINALE] = 36, [SCORE_CLOSE] = 44,  [SCORE_END] = 46,
};

// The figure that music and flames share in chorus and finale, every two bars: one stab by all, then two
// answers.
enum score_hit_who { SCORE_HIT_ALL, SCORE_HIT_OUTER, SCORE_HIT_INNER };
struct score_hit {
    int beat;
    enum score_hit_who who;
};
#define SCORE_HIT_BEATS 8
static const struct score_hit score_hits[] = {{0, SCORE_HIT_ALL}, {4, SCORE_HIT_OUTER}, {5, SCORE_HIT_INNER}};

static inline int score_beat(enum score_part part, int bar, int beat) {
    return (score_first_bar[part] + bar) * SCORE_BEATS_PER_BAR + beat;
}

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Random shows for the engine's tests: many events at equal moments, cancelled returns, fades cut short.
#ifndef SLOWMATCH_TESTS_ENGINE_RANDOM_H
#define SLOWMATCH_TESTS_ENGINE_RANDOM_H

#include "engine_run.h"

typedef struct engine_dice {
    uint64_t state;
} engine_dice;
// 0 to BELOW - 1 (splitmix64: the same on every machine).
uint32_t engine_roll(engine_dice *dice, uint32_t below);

#define ENGINE_RANDOM_LENGTH_S 25
// A show of CUES cues from -3 s to 25 s on a grid of a quarter second (finer now and then), countdown 2 s, arm-time 1 s. The caller
// destroys it.
sm_show *engine_random_show(engine_dice *dice, unsigned cues);
// With other files; CHANGES must keep the length.
sm_show *engine_random_show_with(engine_dice *dice, unsigned cues, const engine_file *changes);

// True for a long run (make soak).
bool engine_soaks(void);

#endif

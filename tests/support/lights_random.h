// SPDX-License-Identifier: GPL-3.0-or-later
// Random shows of lights and what is none: flame units, forgotten marks, overlaps, wrong universes, lines that cross. Beside each what
// may be sent of it, by what the test itself has put there.
#ifndef SLOWMATCH_TESTS_LIGHTS_RANDOM_H
#define SLOWMATCH_TESTS_LIGHTS_RANDOM_H

#include "show_folder.h"

#define LIGHTS_RANDOM_UNIVERSES 6 // 1 to 6
#define LIGHTS_RANDOM_FIXTURES 24

typedef struct lights_random {
    bool may[LIGHTS_RANDOM_UNIVERSES + 1];        // lights alone are patched, none astray
    bool owned[LIGHTS_RANDOM_UNIVERSES + 1][513]; // a channel of a light, by address
} lights_random;

// Writes the tables of random show SEED into FOLDER, in place of those of folder_small_show or show_folder_make_small. CUES: also a
// cues.csv that moves the lights within the first 4 s, the show being 6 s long.
void lights_random_put(const show_folder *folder, uint64_t seed, bool cues, lights_random *out);

#endif

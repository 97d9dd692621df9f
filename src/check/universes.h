// SPDX-License-Identifier: GPL-3.0-or-later
// The universes of a show, found by number.
#ifndef SLOWMATCH_CHECK_UNIVERSES_H
#define SLOWMATCH_CHECK_UNIVERSES_H

#include "slowmatch/show.h"

typedef struct check_universe {
    int32_t number;
} check_universe;

// The universes of all fixtures in rising order, allocated in ARENA. SM_NO_MEMORY.
SM_MUST_CHECK sm_result check_universes(const sm_show *show, sm_arena *arena, check_universe **out,
                                        size_t *count);
// Place of NUMBER among them; it must be there.
size_t check_universe_find(const check_universe *universes, size_t count, int32_t number);

#endif

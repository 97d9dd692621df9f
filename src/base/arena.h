// SPDX-License-Identifier: GPL-3.0-or-later
// What the other files of base need of an arena beyond its public header.
#ifndef SLOWMATCH_BASE_ARENA_H
#define SLOWMATCH_BASE_ARENA_H

#include "slowmatch/base.h"

// Frees everything in ARENA and keeps it usable.
void sm_arena_clear(sm_arena *arena);

#endif

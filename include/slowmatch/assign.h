// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_ASSIGN_H
#define SLOWMATCH_ASSIGN_H

#include "slowmatch/base.h"

// The assignment of N rows to N columns with the least sum of COSTS (row-major, finite): COLUMN_OF[row].
// Scratch is taken from ARENA. n^3 (shortest augmenting paths with potentials: Kuhn 1955, Jonker and
// Volgenant 1987).
SM_MUST_CHECK sm_result sm_assign(const double *costs, uint32_t n, sm_arena *arena, uint32_t *column_of);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_CHECK_FOLD_H
#define SLOWMATCH_CHECK_FOLD_H

#include "slowmatch/base.h"

// Puts ALL (sorted) into OUT, with what follows from a name that is none told at that name alone. Scratch in ARENA.
SM_MUST_CHECK sm_result check_fold(const sm_findings *all, sm_arena *arena, sm_findings *out);

#endif

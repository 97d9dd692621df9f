// SPDX-License-Identifier: GPL-3.0-or-later
// What a drill has put in the trainee's way and what still stands of it, as far as it can be seen or heard from outside.
// Each appends words to OUT and returns whether there was anything.
#ifndef SLOWMATCH_BOARDS_WORDS_PLANTED_H
#define SLOWMATCH_BOARDS_WORDS_PLANTED_H

#include "slowmatch/engine.h"

// All of it.
bool sm_planted_describe(const sm_snapshot *snapshot, sm_text *out);
// All but what the latest thing seen or heard says already.
bool sm_planted_describe_older(const sm_snapshot *snapshot, sm_text *out);
// What is wrong at RAIL: "FIRE HERE, 2 TIPPED OVER".
bool sm_planted_describe_at_rail(const sm_snapshot *snapshot, uint32_t rail, sm_text *out);

#endif

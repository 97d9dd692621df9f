// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef ENGINE_PROPOSALS_H
#define ENGINE_PROPOSALS_H

#include "engine/rehearsal.h"
#include "engine/words_read.h"

// Reads what follows `propose CUE`: a moment, a step or `beat`, then perhaps `on`. False: it is none.
bool sm_propose_read(const sm_show *show, sm_word word, sm_action *out);
// Adds the proposal of ACTION. False: WHY not.
bool sm_propose(sm_rehearsal *r, const sm_action *action, char why[160]);
// Asks for what is proposed to be written. False: WHY not now.
bool sm_apply_ask(sm_rehearsal *r, sm_source source, char why[160]);
// R's show is another one now: proposals of OLD stay by the cues' ids, unless they were written into it.
void sm_proposals_carry(sm_rehearsal *r, const sm_show *old);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef ENGINE_PROPOSALS_H
#define ENGINE_PROPOSALS_H

#include "engine/rehearsal.h"
#include "engine/words_read.h"

// Reads what follows `propose CUE`: a moment, a step or `beat`, then perhaps `on`. False: it is none.
bool sm_propose_read(const sm_show *show, sm_word word, sm_action *out);
// The tapped beat (`beat-3`) nearest to AT_US among the marks, but OTHER. SM_NONE: there is none.
uint32_t sm_nearest_beat(const sm_rehearsal *r, sm_us at_us, uint32_t other);
// Adds the proposal of ACTION. False: WHY not.
bool sm_propose(sm_rehearsal *r, const sm_action *action, char why[160]);
// Asks for what is proposed to be written. False: WHY not now.
bool sm_apply_ask(sm_rehearsal *r, sm_source source, char why[160]);
// ACTION's cue is heard from now on where it is proposed to be. False: WHY not; else WHY gets the stretch, for the log.
bool sm_preview_begin(sm_rehearsal *r, const sm_action *action, char why[160]);
// After ACT, which was DONE or refused: what is heard follows a proposal, and any act that has nothing to do with listening ends it.
void sm_preview_after(sm_rehearsal *r, sm_act act, bool done);
void sm_preview_sound(sm_rehearsal *r, sm_sound_change change, const char *detail);
// R's show is another one now: proposals of OLD stay by the cues' ids, unless they were written into it.
void sm_proposals_carry(sm_rehearsal *r, const sm_show *old);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Who owns each slot, recomputed from the tables alone. Shares no code with the frame.
#ifndef SLOWMATCH_LIGHTS_JUDGE_H
#define SLOWMATCH_LIGHTS_JUDGE_H

#include "lights/verdict.h"

#include "slowmatch/lights.h"

typedef struct lights_judge lights_judge;

// Made from the tables of SHOW, which it does not need afterwards. SM_NO_MEMORY.
SM_MUST_CHECK sm_result lights_judge_create(const sm_show *show, lights_judge **out);
void lights_judge_destroy(lights_judge *judge);
// Lets SLOTS pass as those of UNIVERSE: it holds lights alone, every slot that is no named channel of one is 0, every other has the
// level of its channel in LEVELS (show-wide; NULL: any level). False: WHY says what is wrong, *OUT is unchanged.
bool lights_judge_pass(const lights_judge *judge, int32_t universe, const uint8_t slots[SM_SACN_SLOTS],
                       const uint8_t *levels, lights_verdict *out, char why[SM_LIGHTS_WHY]);
// A judge made VERDICT, and nothing has changed it since.
bool lights_verdict_holds(const lights_verdict *verdict);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// What would be lit, in words.
#ifndef SLOWMATCH_LIGHTS_PLAN_H
#define SLOWMATCH_LIGHTS_PLAN_H

#include "slowmatch/lights.h"

// "par-1 (1 to 3), par-2 (510 to 512) and 6 more": at most MOST of the fixtures of UNIVERSE with their addresses.
void lights_put_lamps(const sm_show *show, int32_t universe, uint32_t most, sm_text *out);
// A line for each destination that was typed for a universe of which nothing is ever sent, and why. SM_NO_MEMORY.
SM_MUST_CHECK sm_result lights_put_useless(const sm_show *show, const sm_lights_options *options,
                                           sm_text *out);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// The slots of each universe that may be sent: zeros, then the named channels of its lights.
#ifndef SLOWMATCH_LIGHTS_FRAME_H
#define SLOWMATCH_LIGHTS_FRAME_H

#include "slowmatch/lights.h"

typedef struct lights_frame lights_frame;

// For the universes of SHOW that hold lights alone and have a destination in OPTIONS. SHOW must outlive it. SM_NO_MEMORY;
// SM_OUT_OF_RANGE: more than SM_LIGHTS_UNIVERSES.
SM_MUST_CHECK sm_result lights_frame_create(const sm_show *show, const sm_lights_options *options,
                                            lights_frame **out);
void lights_frame_destroy(lights_frame *frame);
// Its universes in rising order.
size_t lights_frame_count(const lights_frame *frame);
int32_t lights_frame_universe(const lights_frame *frame, size_t index);
// LEVELS of all channels of the show as SLOTS of universe INDEX.
void lights_frame_fill(const lights_frame *frame, size_t index, const uint8_t *levels,
                       uint8_t slots[SM_SACN_SLOTS]);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
#include "cmd/outlets.h"

#include <assert.h>

static const sm_outlet *const outlets[] = {&cmd_outlet_lines, &cmd_outlet_lights, &cmd_outlet_tell,
                                           &cmd_outlet_timecode};
static_assert(sizeof outlets / sizeof outlets[0] <= SM_OUTLETS_MAX, "a session takes all of them");

const sm_outlet *const *cmd_outlets(size_t *count) {
    *count = sizeof outlets / sizeof outlets[0];
    return outlets;
}

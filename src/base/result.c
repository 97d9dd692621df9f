// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/base.h"

#include <assert.h>

const char *sm_result_text(sm_result result) {
    static const char *const texts[] = {
        [SM_OK] = "done",
        [SM_NO_MEMORY] = "out of memory",
        [SM_UNREADABLE] = "cannot be read or written",
        [SM_INVALID] = "not valid",
        [SM_OUT_OF_RANGE] = "out of range",
        [SM_NOT_FOUND] = "no such name",
        [SM_REFUSED] = "refused in this state",
    };
    static_assert(sizeof texts / sizeof texts[0] == SM_RESULT_COUNT, "a text for each result");
    return (unsigned)result < SM_RESULT_COUNT ? texts[result] : "unknown result";
}

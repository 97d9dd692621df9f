// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/words/tones_on.h"

void sm_tones_describe(const sm_view *view, sm_text *out) {
    const char *between = "";
    if (view->calls[0]) {
        sm_text_printf(out, "calls %s", view->calls);
        between = ", ";
    }
    if (view->ticks) {
        sm_text_printf(out, "%sticks", between);
        between = ", ";
    }
    if (between[0] && !view->tones)
        sm_text_printf(out, " (tones off)");
    if (view->timecode_side)
        sm_text_printf(out, "%stimecode %s", between, view->timecode_side);
}

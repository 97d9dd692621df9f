// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/words/log_line.h"

#include <string.h>

// A reading that is a figure; "open" and "short" have no unit.
static bool is_in_ohms(const sm_recent_row *row) {
    const char *at = row->detail + strspn(row->detail, "0123456789.");
    return sm_log_is_act(row->kind, SM_ACT_READ) && at > row->detail && *at == '\0';
}

void sm_log_line(const sm_recent_row *row, sm_text *out) {
    sm_text_printf(out, "%s%s%s%s%s%s%s%s", row->cue, row->cue[0] ? " " : "", sm_log_word(row->kind),
                   row->target[0] ? " " : "", row->target, row->detail[0] ? " " : "", row->detail,
                   is_in_ohms(row) ? " ohm" : "");
}

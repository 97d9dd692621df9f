// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/words/log_line.h"

void sm_log_line(const sm_recent_row *row, sm_text *out) {
    sm_text_printf(out, "%s%s%s%s%s%s%s", row->cue, row->cue[0] ? " " : "", sm_log_word(row->kind),
                   row->target[0] ? " " : "", row->target, row->detail[0] ? " " : "", row->detail);
}

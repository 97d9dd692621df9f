// SPDX-License-Identifier: GPL-3.0-or-later
#include "session/drill_view.h"

#include <stdio.h>
#include <string.h>

static void fill_mark(sm_drill_view *view, const sm_drill_run *run) {
    for (uint32_t i = sm_drill_entry_count(run); i-- > 0;) {
        sm_drill_entry entry = sm_drill_entry_at(run, i);
        if (entry.kind.what != SM_LOG_MARK)
            continue;
        snprintf(view->marked, sizeof view->marked, "%.40s %.190s", entry.target, entry.detail);
        view->marked_at = entry.at;
        return;
    }
}

static void fill_asked(sm_drill_view *view, const sm_drill_run *run) {
    for (uint32_t i = sm_drill_entry_count(run); i-- > 0;) {
        sm_drill_entry entry = sm_drill_entry_at(run, i);
        if (!sm_log_is_act(entry.kind, SM_ACT_HINT))
            continue;
        snprintf(view->asked, sizeof view->asked, "%s", entry.detail);
        view->asked_at = entry.at;
        return;
    }
}

void sm_drill_view_fill(sm_drill_view *view, const sm_drill_run *run) {
    *view = (sm_drill_view){0};
    if (!run)
        return;
    view->drill = sm_drill_of(run);
    view->over = sm_drill_is_over(run);
    view->held = sm_drill_is_held(run);
    view->broken_off = sm_drill_was_broken_off(run);
    view->next = sm_drill_hint(run, view->hint);
    if (view->drill->hints != SM_HINTS_NONE)
        fill_mark(view, run);
    if (view->drill->hints == SM_HINTS_ASKED)
        fill_asked(view, run);
}

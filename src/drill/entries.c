// SPDX-License-Identifier: GPL-3.0-or-later
// The rows of a drill's log that its debrief needs, and which of them nobody saw.
#include "drill/run.h"

#include "slowmatch/alerts.h"

#include <stdio.h>
#include <string.h>

// What the debrief's timeline keeps: not the show's own course, which would drown it.
static bool is_kept(const sm_log_row *row) {
    static const bool left_out[SM_LOG_COUNT] = {
        [SM_LOG_FIRE] = true,  [SM_LOG_SET] = true,       [SM_LOG_HOME] = true,
        [SM_LOG_OUT] = true,   [SM_LOG_INHIBITED] = true, [SM_LOG_PASSED] = true,
        [SM_LOG_SPENT] = true, [SM_LOG_SOUND] = true,     [SM_LOG_ALERT] = true};
    return row->source != SM_SOURCE_ENGINE || !left_out[row->kind.what] ||
           (row->kind.what == SM_LOG_FIRE && row->kind.fired != SM_FIRED_WHEN_DUE);
}

static const char *keep(sm_drill_run *run, const char *text) {
    const char *kept = text[0] == '\0' ? "" : sm_arena_text(run->texts, text, strlen(text));
    run->no_memory = run->no_memory || !kept;
    return kept;
}

// What the trainee had before them.
static const char *alert_now(sm_drill_run *run) {
    const sm_alerts *alerts = run->rehearsal ? sm_rehearsal_alerts(run->rehearsal) : NULL;
    char text[SM_ALERT_WORDS + 16];
    if (!alerts || alerts->count == 0)
        return NULL;
    const sm_alert *first = &alerts->at[0];
    snprintf(text, sizeof text, "%s %s", sm_alert_rank_text(sm_alert_row_of(first->id)->rank), first->words);
    return keep(run, text);
}

void drill_entry_keep(sm_drill_run *run, const sm_log_row *row) {
    if (!is_kept(row))
        return;
    if (run->entry_count == run->entry_capacity) {
        uint32_t capacity = run->entry_capacity == 0 ? 64 : run->entry_capacity * 2;
        sm_drill_entry *grown = sm_arena_resize(run->texts, run->entries, capacity * sizeof *grown);
        if (!grown) {
            run->no_memory = true;
            return;
        }
        run->entries = grown;
        run->entry_capacity = capacity;
    }
    const sm_drill_entry entry = {{row->wall.us - row->late_us},
                                  row->source,
                                  keep(run, row->seat ? row->seat : ""),
                                  row->kind,
                                  keep(run, row->target),
                                  keep(run, row->detail),
                                  row->kind.what == SM_LOG_MARK ? alert_now(run) : NULL};
    if (!run->no_memory)
        run->entries[run->entry_count++] = entry;
}

uint32_t sm_drill_entry_count(const sm_drill_run *run) {
    return run->entry_count;
}

sm_drill_entry sm_drill_entry_at(const sm_drill_run *run, uint32_t index) {
    return run->entries[index];
}

static bool is_heard(sm_inject what) {
    return what == SM_INJECT_CALL || what == SM_INJECT_NO_ANSWER || what == SM_INJECT_FALSE_CLEAR;
}

bool sm_drill_is_unseen(const sm_drill_run *run, sm_log_kind kind, const char *target) {
    bool seen = kind.what != SM_LOG_EVENT;
    for (uint32_t i = 0; i < run->drill->event_count && !seen; i++) {
        const sm_drill_event *event = &run->drill->events[i];
        sm_text told = {0};
        if (strcmp(event->name, target) == 0)
            seen = is_heard(event->injection.what) ||
                   sm_injection_tell(run->drill->show, &event->injection, &told);
        sm_text_deinit(&told);
    }
    return !seen;
}

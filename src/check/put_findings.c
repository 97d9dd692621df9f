// SPDX-License-Identifier: GPL-3.0-or-later
// How rules put what they find: kept with its figures until all rules have run.
#include "check/rule.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

sm_figure check_figure(figure_kind kind, double value) {
    sm_figure figure;
    snprintf(figure.text, sizeof figure.text, "\001%c%.17g\002", (char)kind, value);
    return figure;
}

check_figures check_no_figures(void) {
    return (check_figures){.kind = FIGURE_PLAIN, .value = (double)NAN, .limit = (double)NAN, .unit = ""};
}

check_place check_at_cue(const sm_check *check, uint32_t cue, const char *column) {
    return (check_place){"cues.csv", check->show->cues[cue].line, column};
}

check_place check_at_event(const sm_check *check, uint32_t event, const char *column) {
    return check_at_cue(check, check->show->events[event].cue, column);
}

static bool reserve_pending(sm_check *check) {
    check_pending *grown = sm_arena_grow(check->arena, check->pending, check->pending_count, sizeof *grown);
    check->pending = grown ? grown : check->pending;
    return grown != NULL;
}

SM_PRINTF(6, 0)
static void put(sm_check *check, sm_severity severity, const sm_check_rule *rule, check_place place,
                check_figures figures, const char *format, va_list args) {
    sm_text message = {0};
    sm_text_vprintf(&message, format, args);
    const char *kept =
        message.failed ? NULL : sm_arena_text(check->arena, sm_text_get(&message), message.length);
    sm_text_deinit(&message);
    if (!kept || !reserve_pending(check)) {
        check->no_memory = true;
        return;
    }
    check->pending[check->pending_count] = (check_pending){
        .place = place,
        .rule = rule,
        .severity = severity,
        .figures = figures,
        .message = kept,
        .ordinal = check->moment ? *check->moment : check->pending_count,
    };
    check->pending_count++;
}

static void put_again(sm_check *check, const check_pending *pending) {
    const char *kept = sm_arena_text(check->arena, pending->message, strlen(pending->message));
    if (!kept || !reserve_pending(check)) {
        check->no_memory = true;
        return;
    }
    check_pending *mine = &check->pending[check->pending_count];
    *mine = *pending;
    mine->message = kept;
    mine->ordinal = check->pending_count++;
}

void check_join(sm_check *check, const sm_check *strands, size_t count) {
    size_t next[CHECK_STRANDS] = {0};
    for (;;) {
        const check_pending *first = NULL;
        size_t from = 0;
        for (size_t s = 0; s < count; s++) {
            const check_pending *each = &strands[s].pending[next[s]];
            if (next[s] < strands[s].pending_count && (!first || each->ordinal < first->ordinal)) {
                first = each;
                from = s;
            }
        }
        if (!first)
            break;
        put_again(check, first);
        next[from]++;
    }
    for (size_t s = 0; s < count; s++)
        check->no_memory |= strands[s].no_memory;
}

void check_put(sm_check *check, const char *rule, check_place place, check_figures figures,
               const char *format, ...) {
    const sm_check_rule *row = check->find_rule(rule);
    va_list args;
    va_start(args, format);
    put(check, row->severity, row, place, figures, format, args);
    va_end(args);
}

void check_put_as(sm_check *check, sm_severity severity, const char *rule, check_place place,
                  check_figures figures, const char *format, ...) {
    va_list args;
    va_start(args, format);
    put(check, severity, check->find_rule(rule), place, figures, format, args);
    va_end(args);
}

bool check_is_incomplete(const sm_check *check, const char *file) {
    const sm_findings *loaded = check->options.loaded;
    for (size_t i = 0; loaded && i < sm_findings_count(loaded); i++) {
        const sm_finding *finding = sm_findings_at(loaded, i);
        if (finding->severity == SM_ERROR && strcmp(finding->file, file) == 0)
            return true;
    }
    return false;
}

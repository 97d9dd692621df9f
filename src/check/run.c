// SPDX-License-Identifier: GPL-3.0-or-later
// A run: every rule of the table once, then all that they put is placed.
#include "check/rule.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
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
    if (check->pending_count < check->pending_capacity)
        return true;
    const size_t capacity = check->pending_capacity > 0 ? check->pending_capacity * 2 : 64;
    check_pending *grown = sm_arena_resize(check->arena, check->pending, capacity * sizeof *grown);
    if (!grown)
        return false;
    check->pending = grown;
    check->pending_capacity = capacity;
    return true;
}

SM_PRINTF(6, 0)
static void put(sm_check *check, sm_severity severity, const char *rule, check_place place,
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
        .ordinal = check->pending_count,
    };
    check->pending_count++;
}

void check_put(sm_check *check, const char *rule, check_place place, check_figures figures,
               const char *format, ...) {
    va_list args;
    va_start(args, format);
    put(check, sm_check_rule_find(rule)->severity, rule, place, figures, format, args);
    va_end(args);
}

void check_put_as(sm_check *check, sm_severity severity, const char *rule, check_place place,
                  check_figures figures, const char *format, ...) {
    va_list args;
    va_start(args, format);
    put(check, severity, rule, place, figures, format, args);
    va_end(args);
}

bool check_is_incomplete(const sm_check *check, const char *file) {
    const sm_findings *loaded = check->options.loaded;
    for (size_t i = 0; loaded && i < sm_findings_count(loaded); i++) {
        const sm_finding *finding = sm_findings_at(loaded, i);
        if (finding->severity == SM_ERROR && (!file || strcmp(finding->file, file) == 0))
            return true;
    }
    return false;
}

// What the show and the options have of what rules may need.
static unsigned what_is_there(const sm_check *check) {
    const sm_show *show = check->show;
    unsigned there = check->options.audio_looked_for ? CHECK_NEEDS_AUDIO : 0;
    there |= show->cue_count > 0 ? CHECK_NEEDS_CUES : 0;
    there |= show->firing_count > 0 ? CHECK_NEEDS_FIRINGS : 0;
    there |= show->module_count > 0 ? CHECK_NEEDS_MODULES : 0;
    there |= show->rail_count > 0 ? CHECK_NEEDS_RAILS : 0;
    there |= show->fixture_count > 0 ? CHECK_NEEDS_FIXTURES : 0;
    there |= show->feed_count > 0 ? CHECK_NEEDS_FEEDS : 0;
    there |= show->line_count > 0 ? CHECK_NEEDS_LINES : 0;
    there |= show->position_count > 0 ? CHECK_NEEDS_POSITIONS : 0;
    return there;
}

// Rules that one function judges together stand together in the table: it runs once for them.
static sm_result run_rules(sm_check *check) {
    const unsigned there = what_is_there(check);
    sm_result (*last)(sm_check *) = NULL;
    sm_result result = SM_OK;
    const sm_check_rule *rule;
    for (size_t i = 0; result == SM_OK && (rule = sm_check_rule_at(i)); i++) {
        if (!rule->run || rule->run == last || (rule->needs & ~there & ~(unsigned)CHECK_TELLS_EACH) != 0)
            continue;
        last = rule->run;
        result = rule->run(check);
    }
    return result == SM_OK && check->no_memory ? SM_NO_MEMORY : result;
}

sm_result sm_check_run(const sm_show *show, const sm_check_options *options, sm_findings *findings) {
    sm_check check = {.show = show, .arena = sm_arena_create()};
    if (!check.arena)
        return SM_NO_MEMORY;
    if (options)
        check.options = *options;
    sm_result result = run_rules(&check);
    if (result == SM_OK)
        result = check_place_pending(&check, findings);
    check_free_flames(&check);
    sm_arena_destroy(check.arena);
    return result;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// What follows from one error is folded under it: a row whose name is no name cannot be found by any cue that names it, and
// one wrong cell would be told at every use.
#include "check/fold.h"

#include <string.h>

#define NO_NAME " is not a name;"
#define LINES_SAID 5

typedef struct cause {
    size_t at;          // its number among the findings
    const char *quoted; // "\"comet white\"", at the beginning of its message
    size_t length;
    size_t follows;
    const char *file; // of the first that follows
    uint32_t lines[LINES_SAID];
} cause;

// The cell that a finding of a bad name quotes; 0: it is none of these.
static size_t quoted_name(const sm_finding *finding) {
    const char *end = finding->severity == SM_ERROR && strcmp(finding->rule, "value") == 0
                          ? strstr(finding->message, NO_NAME)
                          : NULL;
    return end && finding->message[0] == '"' ? (size_t)(end - finding->message) : 0;
}

// The message of an unknown name quotes it: what is between the first two quotes.
static cause *cause_of(cause *causes, size_t count, const sm_finding *finding) {
    const size_t rule = strlen(finding->rule);
    const bool unknown = rule > 8 && strcmp(finding->rule + rule - 8, "-unknown") == 0;
    const char *quoted = unknown && finding->severity == SM_ERROR ? strchr(finding->message, '"') : NULL;
    for (size_t i = 0; quoted && i < count; i++)
        if (strncmp(quoted, causes[i].quoted, causes[i].length) == 0)
            return &causes[i];
    return NULL;
}

static void tell(const cause *from, const sm_finding *finding, sm_text *out) {
    sm_text_printf(out, "%s; what names it follows from that and is left out: %zu row%s, %s",
                   finding->message, from->follows, from->follows == 1 ? "" : "s", from->file);
    for (size_t i = 0; i < from->follows && i < LINES_SAID; i++)
        sm_text_printf(out, "%s %u", i > 0 ? "," : " line", from->lines[i]);
    if (from->follows > LINES_SAID)
        sm_text_printf(out, " and %zu more", from->follows - LINES_SAID);
}

static void follow(cause *from, const sm_finding *finding) {
    if (from->follows == 0)
        from->file = finding->file;
    if (from->follows < LINES_SAID)
        from->lines[from->follows] = finding->line;
    from->follows++;
}

static void put_cause(const cause *from, const sm_finding *finding, sm_findings *out) {
    sm_finding told = *finding;
    sm_text message = {0};
    tell(from, finding, &message);
    told.message = message.failed ? finding->message : sm_text_get(&message);
    sm_findings_put(out, &told);
    sm_text_deinit(&message);
}

sm_result check_fold(const sm_findings *all, sm_arena *arena, sm_findings *out) {
    const size_t count = sm_findings_count(all);
    cause *causes = sm_arena_alloc(arena, (count + 1) * sizeof *causes);
    size_t found = 0;
    if (!causes)
        return SM_NO_MEMORY;
    for (size_t i = 0; i < count; i++) {
        const size_t length = quoted_name(sm_findings_at(all, i));
        if (length > 0)
            causes[found++] = (cause){.at = i, .quoted = sm_findings_at(all, i)->message, .length = length};
    }
    for (size_t i = 0; found > 0 && i < count; i++) {
        cause *from = cause_of(causes, found, sm_findings_at(all, i));
        if (from)
            follow(from, sm_findings_at(all, i));
    }
    for (size_t i = 0, next = 0; i < count; i++) {
        const sm_finding *finding = sm_findings_at(all, i);
        const bool is_cause = next < found && causes[next].at == i;
        if (is_cause && causes[next].follows > 0)
            put_cause(&causes[next], finding, out);
        else if (found == 0 || !cause_of(causes, found, finding))
            sm_findings_put(out, finding);
        next += is_cause;
    }
    return sm_findings_failed(out) ? SM_NO_MEMORY : SM_OK;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// What follows from one error is folded under it: a row whose name is no name cannot be found by any cue that names it, and
// one wrong cell would be told at every use.
#include "show/load.h"

#include <string.h>

#define NO_NAME " is not a name;"
#define LINES_SAID 5

typedef struct cause {
    size_t at;        // its number among the findings
    const char *name; // as its message quotes it
    size_t length;
    size_t follows;
    const char *file; // of the first that follows
    uint32_t lines[LINES_SAID];
} cause;

// The name that the message of a bad name quotes at its beginning; 0: it is none of these.
static size_t quoted_name(const sm_finding *finding) {
    const char *const end = finding->severity == SM_ERROR && strcmp(finding->rule, "value") == 0
                                ? strstr(finding->message, NO_NAME)
                                : NULL;
    return end && finding->message[0] == '"' ? (size_t)(end - finding->message) - 2 : 0;
}

// TEXT is NAME, or one of the words that a list of names makes of it at its blanks.
static bool is_part_of(const char *name, size_t name_length, const char *text, size_t length) {
    for (size_t at = 0, end; at < name_length; at = end + 1) {
        end = at;
        while (end < name_length && name[end] != ' ' && name[end] != '\t')
            end++;
        if (end - at == length && memcmp(name + at, text, length) == 0)
            return true;
    }
    return length == name_length && memcmp(name, text, length) == 0;
}

// The message of an unknown name quotes it: what is between the first two quotes.
static cause *cause_of(cause *causes, size_t count, const sm_finding *finding) {
    const size_t rule = strlen(finding->rule);
    const bool is_unknown = rule > 8 && strcmp(finding->rule + rule - 8, "-unknown") == 0;
    const char *const quote =
        is_unknown && finding->severity == SM_ERROR ? strchr(finding->message, '"') : NULL;
    const char *const end = quote ? strchr(quote + 1, '"') : NULL;
    for (size_t i = 0; end && i < count; i++)
        if (is_part_of(causes[i].name, causes[i].length, quote + 1, (size_t)(end - quote) - 1))
            return &causes[i];
    return NULL;
}

static void tell(const cause *from, sm_findings *findings) {
    sm_text more = {0};
    sm_text_printf(&more, "%s; what names it follows from that and is left out: %zu row%s, %s",
                   sm_findings_at(findings, from->at)->message, from->follows, from->follows == 1 ? "" : "s",
                   from->file);
    for (size_t i = 0; i < from->follows && i < LINES_SAID; i++)
        sm_text_printf(&more, "%s %u", i > 0 ? "," : " line", from->lines[i]);
    if (from->follows > LINES_SAID)
        sm_text_printf(&more, " and %zu more", from->follows - LINES_SAID);
    if (!more.failed)
        sm_findings_retell(findings, from->at, sm_text_get(&more));
    sm_text_deinit(&more);
}

static void follow(cause *from, const sm_finding *finding) {
    if (from->follows == 0)
        from->file = finding->file;
    if (from->follows < LINES_SAID)
        from->lines[from->follows] = finding->line;
    from->follows++;
}

static size_t find_causes(const sm_findings *findings, cause *causes) {
    size_t found = 0;
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        const sm_finding *const each = sm_findings_at(findings, i);
        const size_t length = quoted_name(each);
        if (length > 0)
            causes[found++] = (cause){.at = i, .name = each->message + 1, .length = length};
    }
    return found;
}

sm_result sm_load_fold_causes(sm_findings *findings, sm_arena *scratch) {
    const size_t count = sm_findings_count(findings);
    cause *const causes = sm_arena_alloc(scratch, (count + 1) * sizeof *causes);
    bool *const is_dropped = sm_arena_alloc(scratch, count + 1);
    if (!causes || !is_dropped)
        return SM_NO_MEMORY;
    const size_t found = find_causes(findings, causes);
    memset(is_dropped, 0, count);
    for (size_t i = 0; found > 0 && i < count; i++) {
        cause *const from = cause_of(causes, found, sm_findings_at(findings, i));
        is_dropped[i] = from;
        if (from)
            follow(from, sm_findings_at(findings, i));
    }
    for (size_t i = 0; i < found; i++)
        if (causes[i].follows > 0)
            tell(&causes[i], findings);
    sm_findings_drop(findings, is_dropped);
    return SM_OK;
}

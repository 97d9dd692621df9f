// SPDX-License-Identifier: GPL-3.0-or-later
#include "base/findings.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct entry {
    sm_finding finding;
    size_t ordinal; // keeps the sort stable
} entry;

struct sm_findings {
    sm_arena *arena; // the texts and the entries
    entry *entries;
    size_t count;
    size_t counts[SM_SEVERITY_COUNT];
    const char *last_file; // most findings are about the file of the one before
    bool failed;
};

const char *sm_severity_text(sm_severity severity) {
    static const char *const texts[] = {"error", "warning", "note"};
    static_assert(sizeof texts / sizeof texts[0] == SM_SEVERITY_COUNT, "a word for each severity");
    return texts[severity];
}

sm_findings *sm_findings_create(void) {
    sm_findings *const findings = calloc(1, sizeof *findings);
    if (!findings)
        return NULL;
    findings->arena = sm_arena_create();
    if (!findings->arena) {
        sm_findings_destroy(findings);
        return NULL;
    }
    return findings;
}

void sm_findings_destroy(sm_findings *findings) {
    if (!findings)
        return;
    sm_arena_destroy(findings->arena);
    free(findings);
}

static bool reserve_entry(sm_findings *findings) {
    entry *const grown = sm_arena_grow(findings->arena, findings->entries, findings->count, sizeof *grown);
    findings->entries = grown ? grown : findings->entries;
    return grown != NULL;
}

static const char *keep_file(sm_findings *findings, const char *file) {
    const char *const name = file ? file : "";
    if (!findings->last_file || strcmp(findings->last_file, name) != 0) {
        const char *const copy = sm_arena_text(findings->arena, name, strlen(name));
        if (copy)
            findings->last_file = copy;
        return copy;
    }
    return findings->last_file;
}

// Adds FINDING, whose message (NULL: there was no memory for it) the arena holds already.
static void keep(sm_findings *findings, const sm_finding *finding) {
    findings->counts[finding->severity]++;
    const char *const file = keep_file(findings, finding->file);
    if (!finding->message || !file || !reserve_entry(findings)) {
        findings->failed = true;
        return;
    }
    entry *const made = &findings->entries[findings->count];
    *made = (entry){.finding = *finding, .ordinal = findings->count};
    made->finding.file = file;
    made->finding.unit = finding->unit ? finding->unit : "";
    findings->count++;
}

// The message in the arena; NULL when memory runs out.
SM_PRINTF(2, 0) static const char *format_message(sm_findings *findings, const char *format, va_list args) {
    char buffer[512];
    va_list again;
    va_copy(again, args);
    const int length = vsnprintf(buffer, sizeof buffer, format, args);
    char *message = NULL;
    if (length >= 0 && (size_t)length < sizeof buffer) {
        message = sm_arena_text(findings->arena, buffer, (size_t)length);
    } else if (length >= 0) {
        message = sm_arena_alloc(findings->arena, (size_t)length + 1);
        if (message)
            vsnprintf(message, (size_t)length + 1, format, again);
    }
    va_end(again);
    return message;
}

void sm_findings_add(sm_findings *findings, const char *file, uint32_t line, uint32_t column,
                     sm_severity severity, const char *rule, const char *format, ...) {
    va_list args;
    va_start(args, format);
    const sm_finding finding = {
        .file = file,
        .line = line,
        .column = column,
        .severity = severity,
        .rule = rule,
        .message = format_message(findings, format, args),
        .value = (double)NAN,
        .limit = (double)NAN,
        .unit = "",
    };
    va_end(args);
    keep(findings, &finding);
}

void sm_findings_put(sm_findings *findings, const sm_finding *finding) {
    sm_finding copy = *finding;
    copy.message = sm_arena_text(findings->arena, finding->message, strlen(finding->message));
    keep(findings, &copy);
}

sm_arena *sm_findings_arena(sm_findings *findings) {
    return findings->arena;
}

size_t sm_findings_count(const sm_findings *findings) {
    return findings->count;
}

size_t sm_findings_count_of(const sm_findings *findings, sm_severity severity) {
    return findings->counts[severity];
}

const sm_finding *sm_findings_at(const sm_findings *findings, size_t index) {
    return index < findings->count ? &findings->entries[index].finding : NULL;
}

bool sm_findings_failed(const sm_findings *findings) {
    return findings->failed;
}

static int compare_numbers(size_t a, size_t b) {
    return (a > b) - (a < b);
}

static int compare_entries(const void *left, const void *right) {
    const entry *const a = left, *const b = right;
    int order = a->finding.file == b->finding.file ? 0 : strcmp(a->finding.file, b->finding.file);
    if (order == 0)
        order = compare_numbers(a->finding.line, b->finding.line);
    if (order == 0)
        order = compare_numbers(a->finding.column, b->finding.column);
    return order != 0 ? order : compare_numbers(a->ordinal, b->ordinal);
}

void sm_findings_sort(sm_findings *findings) {
    if (findings->count > 1)
        qsort(findings->entries, findings->count, sizeof *findings->entries, compare_entries);
}

void sm_findings_retell(sm_findings *findings, size_t index, const char *message) {
    assert(index < findings->count);
    const char *const kept = sm_arena_text(findings->arena, message, strlen(message));
    if (kept)
        findings->entries[index].finding.message = kept;
    else
        findings->failed = true;
}

void sm_findings_drop(sm_findings *findings, const bool *is_dropped) {
    size_t kept = 0;
    for (size_t i = 0; i < findings->count; i++)
        if (is_dropped[i])
            findings->counts[findings->entries[i].finding.severity]--;
        else
            findings->entries[kept++] = findings->entries[i];
    findings->count = kept;
}

// ---- one mistake in many places ----------------------------------------------------

enum { TOLD_EACH = 3 }; // as many are told each at its place

typedef struct group {
    const entry *first;
    size_t index, count;
    uint32_t places[TOLD_EACH][2]; // line and column
} group;

static const char *sameness(const sm_finding *finding) {
    return finding->same ? finding->same : finding->message;
}

static bool is_same(const sm_finding *a, const sm_finding *b) {
    return a->severity == b->severity && strcmp(a->rule, b->rule) == 0 && strcmp(a->file, b->file) == 0 &&
           strcmp(sameness(a), sameness(b)) == 0;
}

// The group of FINDING among CAPACITY (a power of two, more than there are groups).
static group *find_group(group *groups, size_t capacity, const sm_finding *finding) {
    uint64_t hash = 14695981039346656037u; // FNV-1a
    for (const char *at = sameness(finding); *at != '\0'; at++)
        hash = (hash ^ (unsigned char)*at) * 1099511628211u;
    size_t at = (size_t)(hash ^ (hash >> 32)) & (capacity - 1);
    while (groups[at].first && !is_same(&groups[at].first->finding, finding))
        at = (at + 1) & (capacity - 1);
    return &groups[at];
}

static void enter(group *into, const entry *which, size_t index) {
    if (!into->first)
        *into = (group){.first = which, .index = index};
    if (into->count < TOLD_EACH) {
        into->places[into->count][0] = which->finding.line;
        into->places[into->count][1] = which->finding.column;
    }
    into->count++;
}

static void tell_places(sm_findings *findings, size_t index, const group *told) {
    sm_text text = {0};
    sm_text_printf(&text, "%s (%zu times:", findings->entries[index].finding.message, told->count);
    for (size_t i = 0; i < TOLD_EACH; i++) {
        sm_text_printf(&text, "%s %u", i > 0 ? "," : "", (unsigned)told->places[i][0]);
        if (told->places[i][1] > 0)
            sm_text_printf(&text, ":%u", (unsigned)told->places[i][1]);
    }
    sm_text_printf(&text, " ...)");
    if (text.failed)
        findings->failed = true;
    else
        sm_findings_retell(findings, index, sm_text_get(&text));
    sm_text_deinit(&text);
}

// Keeps what is the first of its group or one of few. OF: by finding, its group.
static void drop_repeated(sm_findings *findings, size_t from, group *const *of) {
    size_t kept = from;
    for (size_t i = from; i < findings->count; i++) {
        entry *const each = &findings->entries[i];
        const group *const in = of[i - from];
        if (in->count > TOLD_EACH && in->index != i) {
            findings->counts[each->finding.severity]--;
            continue;
        }
        if (in->count > TOLD_EACH)
            tell_places(findings, i, in);
        findings->entries[kept++] = *each;
    }
    findings->count = kept;
}

void sm_findings_fold(sm_findings *findings, size_t from) {
    const size_t count = findings->count - from;
    size_t capacity = 8;
    while (capacity < 2 * count)
        capacity *= 2;
    group *const groups = count > TOLD_EACH ? calloc(capacity, sizeof *groups) : NULL;
    group **const of = groups ? calloc(count, sizeof(group *)) : NULL;
    for (size_t i = 0; of && i < count; i++) {
        of[i] = find_group(groups, capacity, &findings->entries[from + i].finding);
        enter(of[i], &findings->entries[from + i], from + i);
    }
    if (of)
        drop_repeated(findings, from, of);
    free(of);
    free(groups);
}

// Appends TEXT such that it stays one line and moves no cursor: what a cell held may be anything.
static void append_visible(sm_text *out, const char *text) {
    sm_text_append_shown(out, text, strlen(text), "");
}

static void append_path(sm_text *out, const char *folder, const char *file) {
    if (folder && folder[0] != '\0' && file[0] != '/') {
        append_visible(out, folder);
        if (file[0] != '\0' && folder[strlen(folder) - 1] != '/')
            sm_text_append(out, "/", 1);
    }
    append_visible(out, file);
}

void sm_finding_format(sm_text *out, const char *folder, const sm_finding *finding) {
    const size_t start = out->length;
    append_path(out, folder, finding->file);
    if (finding->line > 0)
        sm_text_printf(out, ":%u", (unsigned)finding->line);
    if (finding->line > 0 && finding->column > 0)
        sm_text_printf(out, ":%u", (unsigned)finding->column);
    sm_text_printf(out, "%s%s: ", out->length > start ? ": " : "", sm_severity_text(finding->severity));
    append_visible(out, finding->message);
    sm_text_printf(out, " [%s]", finding->rule);
}

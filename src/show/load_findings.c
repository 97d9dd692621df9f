// SPDX-License-Identifier: GPL-3.0-or-later
// Findings of the loader, and the names that they suggest.
#include "show/load.h"
#include "show/spreadsheet.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

// FINDING has what only its caller knows.
SM_PRINTF(4, 0)
static void put(sm_loader *loader, const sm_spot *spot, sm_finding finding, const char *format,
                va_list args) {
    sm_text message = {0};
    sm_text_vprintf(&message, format, args);
    finding.file = spot->file;
    finding.line = spot->line;
    finding.column = spot->record ? sm_csv_column(spot->record, spot->cell) : spot->column;
    finding.severity = SM_ERROR;
    finding.message = sm_text_get(&message);
    loader->no_memory = loader->no_memory || message.failed;
    sm_findings_put(loader->findings, &finding);
    sm_text_deinit(&message);
}

void sm_load_error(sm_loader *loader, const sm_spot *spot, const char *rule, const char *format, ...) {
    const sm_finding finding = {.rule = rule, .value = (double)NAN, .limit = (double)NAN, .unit = ""};
    va_list args;
    va_start(args, format);
    put(loader, spot, finding, format, args);
    va_end(args);
}

void sm_load_error_same(sm_loader *loader, const sm_spot *spot, const char *rule, const char *same,
                        const char *format, ...) {
    const sm_finding finding = {
        .rule = rule, .same = same, .value = (double)NAN, .limit = (double)NAN, .unit = ""};
    va_list args;
    va_start(args, format);
    put(loader, spot, finding, format, args);
    va_end(args);
}

void sm_load_error_figures(sm_loader *loader, const sm_spot *spot, const char *rule, double value,
                           double limit, const char *unit, const char *format, ...) {
    const sm_finding finding = {.rule = rule, .value = value, .limit = limit, .unit = unit};
    va_list args;
    va_start(args, format);
    put(loader, spot, finding, format, args);
    va_end(args);
}

bool sm_load_tell_comma(sm_loader *loader, const sm_spot *spot, const char *text, size_t length) {
    char mended[64];
    if (!sm_spreadsheet_comma(text, length, mended))
        return false;
    sm_load_error_same(loader, spot, "value", "decimal-comma", "\"%.*s\" has a comma for its point; write %s",
                       (int)length, text, mended);
    return true;
}

char *sm_load_clip(char buffer[SM_CLIP_BYTES], const char *text, size_t length) {
    static const char dots[] = "...";
    size_t kept = 0, step;
    const size_t room = SM_CLIP_BYTES - sizeof dots;
    while (kept < length && (step = sm_utf8_length(text + kept, length - kept)) > 0 && kept + step <= room)
        kept += step;
    memcpy(buffer, text, kept);
    snprintf(buffer + kept, SM_CLIP_BYTES - kept, "%s", kept < length ? dots : "");
    return buffer;
}

char *sm_load_hint(sm_loader *loader, char buffer[SM_HINT_BYTES], const char *word, size_t length,
                   const sm_names *const *lists, size_t list_count) {
    // Enough for any honest show; a file of nothing but wrong names must not take minutes to say so.
    enum { SUGGESTIONS_MAX = 4000000 };
    char text[SM_CLIP_BYTES];
    sm_load_clip(text, word, length);
    buffer[0] = '\0';
    for (size_t i = 0; i < list_count && buffer[0] == '\0'; i++) {
        loader->suggestions += lists[i]->count;
        if (loader->suggestions > SUGGESTIONS_MAX)
            break;
        const char *const found = sm_nearest_name(text, lists[i]->count, sm_names_at, lists[i]);
        if (found)
            snprintf(buffer, SM_HINT_BYTES, "; did you mean %s?", found);
    }
    return buffer;
}

const char *sm_load_keep(sm_loader *loader, const char *text, size_t length) {
    const char *const kept = sm_arena_text(loader->show->arena, text, length);
    if (!kept)
        loader->no_memory = true;
    return kept;
}

bool sm_load_reserve(sm_loader *loader, void **rows, uint32_t count, uint32_t *capacity, size_t row_size) {
    if (count < *capacity)
        return true;
    const uint32_t wanted = *capacity > 0 ? *capacity * 2 : 16;
    void *const grown = sm_arena_resize(loader->show->arena, *rows, wanted * row_size);
    if (!grown) {
        loader->no_memory = true;
        return false;
    }
    *rows = grown;
    *capacity = wanted;
    return true;
}

// ORDER sm_limit
static const struct {
    uint32_t most;
    const char *what;
} limits[] = {
    [SM_LIMIT_SLOTS] = {1000000, "slots of all rails"},
    [SM_LIMIT_MEMBERS] = {10000000, "members of all groups"},
    [SM_LIMIT_EVENTS] = {10000000, "events"},
};

bool sm_load_is_within(sm_limit limit, uint32_t total, uint32_t count) {
    return (uint64_t)total + count <= limits[limit].most;
}

bool sm_load_within(sm_loader *loader, const sm_spot *spot, sm_limit limit, uint32_t *total, uint32_t count) {
    if (sm_load_is_within(limit, *total, count)) {
        *total += count;
        return true;
    }
    if (!loader->is_limit_told[limit])
        sm_load_error_figures(loader, spot, "range", (double)*total + (double)count, limits[limit].most, "",
                              "more than %u %s; from here on rows are left out", (unsigned)limits[limit].most,
                              limits[limit].what);
    loader->is_limit_told[limit] = true;
    return false;
}

const char *sm_load_next_word(const char *text, size_t length, size_t *at, size_t *word_length) {
    size_t begin = *at;
    while (begin < length && (text[begin] == ' ' || text[begin] == '\t'))
        begin++;
    size_t end = begin;
    while (end < length && text[end] != ' ' && text[end] != '\t')
        end++;
    *at = end;
    *word_length = end - begin;
    return end > begin ? text + begin : NULL;
}

bool sm_load_tell_missing(sm_loader *loader, const sm_spot *spot, sm_table_id table) {
    size_t count;
    const char *const file = sm_show_schema(&count)[table].file;
    if (loader->tables[table].is_present)
        return false;
    if (!loader->tables[table].is_told_missing) {
        const sm_spot whole = {.file = file};
        sm_load_error(loader, &whole, "file-missing",
                      "%s is not in the folder, and %s points at it in line %u", file, spot->file,
                      (unsigned)spot->line);
    }
    loader->tables[table].is_told_missing = true;
    loader->unreadable = true;
    return true;
}

uint32_t sm_load_refer(sm_loader *loader, const sm_spot *spot, sm_table_id table, const char *rule,
                       const char *name, size_t length) {
    size_t count;
    const sm_names *const names = &loader->index->names[table];
    const sm_name_entry *const entry = sm_names_find(names, name, length);
    if (entry)
        return entry->value;
    if (sm_load_tell_missing(loader, spot, table) || loader->tables[table].is_incomplete)
        return SM_NONE;
    char shown[SM_CLIP_BYTES], hint[SM_HINT_BYTES];
    sm_load_error(loader, spot, rule, "there is no \"%s\" in %s%s", sm_load_clip(shown, name, length),
                  sm_show_schema(&count)[table].file, sm_load_hint(loader, hint, name, length, &names, 1));
    return SM_NONE;
}

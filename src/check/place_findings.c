// SPDX-License-Identifier: GPL-3.0-or-later
// Where findings stand, and in which units they speak.
//
// Rules put findings at (file, record, column's name). Here each file that has any is read again once: for the column of
// each cell, and for the unit that the cell is written in. Stages, for the findings of one file after another: sort by
// record; drop those that say the same of one row (a group of forty lamps told a thing is one row to edit) to the first,
// counting; ask the show for columns; take the units from the cells; put the messages together.
#include "check/figure_units.h"
#include "check/rule.h"
#include "check/source.h"

#include "slowmatch/ini.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static int compare_numbers(size_t a, size_t b) {
    return a < b ? -1 : a > b;
}

static int compare_pending(const void *left, const void *right) {
    const check_pending *a = left, *b = right;
    int order = strcmp(a->place.file, b->place.file);
    if (order == 0)
        order = compare_numbers(a->place.line, b->place.line);
    if (order == 0 && a->rule != b->rule)
        order = strcmp(a->rule->id, b->rule->id);
    if (order == 0)
        order = strcmp(a->place.column ? a->place.column : "", b->place.column ? b->place.column : "");
    return order != 0 ? order : compare_numbers(a->ordinal, b->ordinal);
}

// Whether B says of the row of A what A says already, of another target of the same row. Only cues have several.
static bool says_the_same(const check_pending *a, const check_pending *b) {
    return a->place.line == b->place.line && a->rule == b->rule && a->severity == b->severity &&
           a->place.column && b->place.column && strcmp(a->place.column, b->place.column) == 0 &&
           strcmp(a->place.file, "cues.csv") == 0 && (a->rule->needs & CHECK_TELLS_EACH) == 0;
}

static bool speaks_of_moments(const check_pending *pending) {
    return strstr(pending->message, "\001t") != NULL;
}

// Columns of cells of a table, and of the `time` cells of cues that messages name moments of (kept in TIMES).
static sm_result resolve_columns(const sm_show *show, const char *file, check_pending *first, size_t count,
                                 uint32_t *times) {
    sm_place *places = calloc(2 * count, sizeof *places);
    if (!places)
        return SM_NO_MEMORY;
    const bool cues = strcmp(file, "cues.csv") == 0;
    size_t used = 0;
    for (size_t i = 0; i < count; i++) {
        if (first[i].place.line == 0)
            continue;
        if (first[i].place.column)
            places[used++] = (sm_place){.line = first[i].place.line, .column_name = first[i].place.column};
        if (cues && speaks_of_moments(&first[i]))
            places[used++] = (sm_place){.line = first[i].place.line, .column_name = "time"};
    }
    sm_result result = used > 0 ? sm_places_resolve(show, file, places, used) : SM_OK;
    for (size_t i = 0, at = 0; result == SM_OK && i < count; i++) {
        if (first[i].place.line == 0)
            continue;
        if (first[i].place.column)
            first[i].column = places[at++].column;
        if (cues && speaks_of_moments(&first[i]))
            times[i] = places[at++].column;
    }
    free(places);
    return result == SM_UNREADABLE ? SM_OK : result;
}

// show.ini: `column` is "section.key"; the record is the key's own line.
static sm_result resolve_keys(sm_check *check, const check_source *source, check_pending *first,
                              size_t count) {
    sm_findings *ignored = sm_findings_create(); // they were told when the show was loaded
    sm_ini ini = {0};
    sm_result result = !ignored ? SM_NO_MEMORY : SM_OK;
    if (result == SM_OK && source->bytes)
        result = sm_ini_read("show.ini", source->bytes, source->length, check->arena, ignored, &ini);
    for (size_t i = 0; result == SM_OK && i < count; i++) {
        char section[32];
        const char *column = first[i].place.column;
        const size_t length = column ? strcspn(column, ".") : 0;
        if (!column || column[length] == '\0' || length >= sizeof section)
            continue;
        snprintf(section, sizeof section, "%.*s", (int)length, column);
        const sm_ini_entry *entry = sm_ini_find(&ini, section, column + length + 1);
        first[i].place.line = entry ? entry->line : 0;
        first[i].column = entry ? entry->value_column : 0;
    }
    sm_findings_destroy(ignored);
    return result;
}

static void put_finding(const sm_show *show, check_source *source, const check_pending *pending, size_t more,
                        uint32_t time_column, sm_findings *findings) {
    const bool ini = strcmp(pending->place.file, "show.ini") == 0;
    check_piece line = {0};
    if (!ini)
        line = check_source_line(source, pending->place.line);
    check_source fresh = *source;
    if (ini && pending->place.line > 0)
        line = check_source_line(&fresh, pending->place.line);
    const check_piece cell = check_line_cell(line, pending->column, ini);
    const check_piece moment = time_column > 0 ? check_line_cell(line, time_column, false) : cell;
    const check_units units = check_units_of(show, &pending->place, cell, moment);
    sm_text message = {0};
    check_units_render(&units, pending->message, &message);
    if (more > 0)
        sm_text_printf(&message, " (and %zu more of this row)", more);
    sm_finding finding = {
        .file = pending->place.file,
        .line = pending->place.line,
        .column = pending->column,
        .severity = pending->severity,
        .rule = pending->rule->id,
        .message = message.failed ? pending->message : sm_text_get(&message),
        .value = check_units_value(&units, pending->figures.kind, pending->figures.value),
        .limit = check_units_value(&units, pending->figures.kind, pending->figures.limit),
        .unit = check_units_name(&units, pending->figures.kind, pending->figures.unit),
    };
    sm_findings_put(findings, &finding);
    sm_text_deinit(&message);
}

static sm_result place_file(sm_check *check, check_pending *first, size_t count, sm_findings *findings) {
    const char *file = first->place.file;
    check_source source;
    sm_result result = check_source_init(&source, check->show->folder, file);
    uint32_t *times = calloc(count, sizeof *times);
    if (!times)
        result = SM_NO_MEMORY;
    if (result == SM_OK && strcmp(file, "show.ini") == 0)
        result = resolve_keys(check, &source, first, count);
    else if (result == SM_OK)
        result = resolve_columns(check->show, file, first, count, times);
    for (size_t i = 0, end = 0; result == SM_OK && i < count; i = end) {
        end = i + 1;
        while (end < count && says_the_same(&first[i], &first[end]))
            end++;
        put_finding(check->show, &source, &first[i], end - i - 1, times[i], findings);
    }
    free(times);
    check_source_deinit(&source);
    return result;
}

sm_result check_place_pending(sm_check *check, sm_findings *findings) {
    sm_result result = SM_OK;
    if (check->pending_count > 1)
        qsort(check->pending, check->pending_count, sizeof *check->pending, compare_pending);
    for (size_t first = 0, end = 0; result == SM_OK && first < check->pending_count; first = end) {
        while (end < check->pending_count &&
               strcmp(check->pending[end].place.file, check->pending[first].place.file) == 0)
            end++;
        result = place_file(check, check->pending + first, end - first, findings);
    }
    return result == SM_OK && sm_findings_failed(findings) ? SM_NO_MEMORY : result;
}

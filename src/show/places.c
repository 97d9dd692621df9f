// SPDX-License-Identifier: GPL-3.0-or-later
// Where cells stand, found by reading their file once more.
#include "show/load.h"
#include "show/text_file.h"

#include "slowmatch/ini.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

typedef struct search {
    sm_place *places;
    size_t count, next; // places before `next` have been passed
    sm_arena *scratch;
    char **header; // names of the columns, NULL until it was read
    size_t header_count;
    bool no_memory;
} search;

static void keep_header(search *in, const sm_csv_record *record) {
    const size_t count = record->cell_count < SM_CSV_CELLS_MAX ? record->cell_count : SM_CSV_CELLS_MAX;
    in->header = sm_arena_alloc(in->scratch, count * sizeof *in->header);
    in->no_memory = !in->header;
    for (size_t i = 0; i < count && !in->no_memory; i++) {
        in->header[i] =
            sm_arena_text(in->scratch, record->bytes + record->cells[i].at, record->cells[i].length);
        in->no_memory = !in->header[i];
    }
    in->header_count = count;
}

static uint32_t column_in(const search *in, const sm_csv_record *record, const char *name) {
    for (size_t i = 0; i < in->header_count; i++)
        if (strcmp(in->header[i], name) == 0)
            return sm_csv_column(record, i);
    return 0;
}

static bool visit_record(void *context, const sm_csv_record *record) {
    search *const in = context;
    if (sm_csv_is_comment(record))
        return true;
    if (!in->header)
        keep_header(in, record);
    while (in->next < in->count && in->places[in->next].line < record->line)
        in->next++;
    for (; in->next < in->count && in->places[in->next].line == record->line && !in->no_memory; in->next++)
        in->places[in->next].column = column_in(in, record, in->places[in->next].column_name);
    return in->next < in->count && !in->no_memory;
}

static sm_result search_table(search *in, const char *path, const char *file, sm_findings *ignored) {
    sm_lines lines;
    size_t dropped;
    sm_result result = sm_lines_open(&lines, path, in->scratch);
    if (result != SM_OK)
        return result;
    result = sm_csv_read(file, &lines, in->scratch, ignored, visit_record, in, &dropped);
    const int why = errno;
    sm_lines_deinit(&lines);
    errno = why;
    return result == SM_REFUSED && !in->no_memory ? SM_OK : result == SM_REFUSED ? SM_NO_MEMORY : result;
}

static sm_result search_settings(search *in, const char *path, const char *file, sm_findings *ignored) {
    size_t length;
    char *bytes;
    sm_ini ini = {0};
    sm_result result = sm_file_read(path, &bytes, &length);
    if (result != SM_OK)
        return result;
    sm_text_clean(file, bytes, length, ignored);
    result = sm_ini_read(file, bytes, length, in->scratch, ignored, &ini);
    for (size_t i = 0; i < in->count; i++) {
        for (size_t k = 0; k < ini.count; k++) {
            const sm_ini_entry *const entry = &ini.entries[k];
            if (entry->key && entry->line == in->places[i].line &&
                strcmp(entry->key, in->places[i].column_name) == 0)
                in->places[i].column = entry->value_column;
        }
    }
    free(bytes);
    return result;
}

static sm_result search_file(const sm_show *show, const char *file, search *in, sm_findings *ignored) {
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", show->folder, file);
    const sm_table_id id = sm_schema_find(file);
    sm_result result = SM_NO_MEMORY;
    if (!path.failed) {
        result = id == SM_SCHEMA_SETTINGS ? search_settings(in, sm_text_get(&path), file, ignored)
                                          : search_table(in, sm_text_get(&path), file, ignored);
        if (result == SM_OK && id < SM_SCHEMA_COUNT &&
            !sm_stamp_is_same(sm_text_get(&path), &show->index->stamps[id]))
            for (size_t i = 0; i < in->count; i++)
                in->places[i].column = 0;
    }
    const int why = errno;
    sm_text_deinit(&path);
    errno = why;
    return result;
}

sm_result sm_places_resolve(const sm_show *show, const char *file, sm_place *places, size_t count) {
    sm_arena *const scratch = sm_arena_create();
    sm_findings *const ignored = sm_findings_create(); // they were told when the show was loaded
    search in = {.places = places, .count = count, .scratch = scratch};
    sm_result result = SM_NO_MEMORY;
    for (size_t i = 0; i < count; i++)
        places[i].column = 0;
    if (scratch && ignored)
        result = search_file(show, file, &in, ignored);
    const int why = errno;
    sm_findings_destroy(ignored);
    sm_arena_destroy(scratch);
    errno = why;
    return result;
}

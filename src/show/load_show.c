// SPDX-License-Identifier: GPL-3.0-or-later
// A folder into a show: each file in the order of the schema, so that what a row points at is there already.
#include "show/load.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

static void stamp(const char *path, sm_file_stamp *out) {
    struct stat found;
    *out = (sm_file_stamp){.size = -1};
    if (stat(path, &found) == 0)
        *out = (sm_file_stamp){
            .size = found.st_size, .seconds = found.st_mtim.tv_sec, .nanoseconds = found.st_mtim.tv_nsec};
}

bool sm_stamp_is_same(const char *path, const sm_file_stamp *before) {
    sm_file_stamp now;
    stamp(path, &now);
    return now.size == before->size && now.seconds == before->seconds &&
           now.nanoseconds == before->nanoseconds;
}

static void tell_unreadable(sm_loader *loader, const char *file, const sm_table_schema *schema, int why) {
    const sm_spot whole = {.file = file};
    loader->unreadable = true;
    if (why == ENOENT)
        sm_load_error(loader, &whole, "file-missing", "this file is needed and is not there: %s",
                      schema->help);
    else
        sm_load_error(loader, &whole, "file-unreadable", "cannot be read: %s", sm_file_why(why));
}

static sm_result read_settings(sm_loader *loader, const char *path) {
    size_t length;
    char *bytes;
    const sm_result result = sm_file_read(path, &bytes, &length);
    if (result != SM_OK)
        return result;
    sm_settings_read(loader, bytes, length);
    free(bytes);
    return SM_OK;
}

static sm_result read_records(sm_loader *loader, sm_table_id id, const char *file, sm_lines *lines) {
    sm_table_reader reader;
    bool is_table;
    sm_result result = sm_table_begin(&reader, loader, id, file, lines, &is_table);
    if (result != SM_OK || !is_table)
        return result;
    result = id == SM_SCHEMA_CUES ? sm_cues_read(&reader, lines) : sm_table_records(&reader, lines);
    if (result == SM_OK)
        sm_table_end(&reader);
    return result;
}

static sm_result read_rows(sm_loader *loader, sm_table_id id, const char *path, const char *file) {
    sm_lines lines;
    sm_result result = sm_lines_open(&lines, path, loader->scratch);
    if (result != SM_OK)
        return result;
    result = read_records(loader, id, file, &lines);
    const int why = errno;
    sm_lines_deinit(&lines);
    errno = why;
    return result;
}

// Reads the file of a table at PATH, called FILE in findings.
static void read_file(sm_loader *loader, sm_table_id id, const char *path, const char *file, bool is_needed) {
    size_t count;
    stamp(path, &loader->index->stamps[id]);
    loader->tables[id].is_present = true;
    const sm_result result =
        id == SM_SCHEMA_SETTINGS ? read_settings(loader, path) : read_rows(loader, id, path, file);
    const int why = errno;
    if (result == SM_NO_MEMORY)
        loader->no_memory = true;
    if (result != SM_UNREADABLE)
        return;
    // What cannot be read may hold any name; what is not there is told by those that point at it.
    loader->tables[id].is_present = is_needed || why != ENOENT;
    loader->tables[id].is_incomplete = loader->tables[id].is_present;
    if (loader->tables[id].is_present)
        tell_unreadable(loader, file, &sm_show_schema(&count)[id], why);
}

static void read_table(sm_loader *loader, sm_table_id id) {
    size_t count;
    const char *const readings_file = loader->options->readings_file;
    sm_text path = {0};
    const sm_table_schema *const schema = &sm_show_schema(&count)[id];
    const bool is_elsewhere = id == SM_SCHEMA_READINGS && readings_file;
    if (is_elsewhere)
        sm_text_printf(&path, "%s", readings_file);
    else
        sm_text_printf(&path, "%s/%s", loader->show->folder, schema->file);
    if (path.failed)
        loader->no_memory = true;
    else
        read_file(loader, id, sm_text_get(&path), is_elsewhere ? readings_file : schema->file,
                  (schema->needed && (id != SM_SCHEMA_CUES || !loader->options->cues_may_miss)) ||
                      is_elsewhere);
    sm_text_deinit(&path);
}

// True where the folder is one; a finding otherwise.
static bool is_folder(sm_loader *loader) {
    struct stat found;
    const sm_spot whole = {.file = ""};
    if (stat(loader->show->folder, &found) != 0)
        sm_load_error(loader, &whole, "file-missing", "the show's folder cannot be opened: %s",
                      sm_file_why(errno));
    else if (!S_ISDIR(found.st_mode))
        sm_load_error(loader, &whole, "file-missing", "this is not a folder; a show is a folder of tables");
    else
        return true;
    return false;
}

// Arrays were given more than they came to need.
static void trim(sm_show *show, const sm_cue_reader *cues) {
    sm_arena_trim(show->arena, show->cues, show->cue_count * sizeof *show->cues);
    sm_arena_trim(show->arena, show->events, show->event_count * sizeof *show->events);
    sm_arena_trim(show->arena, show->firings, show->firing_count * sizeof *show->firings);
    sm_arena_trim(show->arena, show->levels, show->level_count * sizeof *show->levels);
    sm_arena_trim(show->arena, show->level_runs, show->level_run_count * sizeof *show->level_runs);
    sm_arena_trim(show->arena, show->text_pool, cues->pool_length);
}

sm_result sm_load_show(sm_show *show, sm_arena *scratch, const sm_show_load_options *options,
                       sm_findings *findings) {
    sm_cue_reader cues = {0};
    struct sm_show_index *const index = sm_arena_alloc(show->arena, sizeof *index);
    static const sm_show_load_options plain = {0};
    sm_loader loader = {.show = show, .index = index, .scratch = scratch, .findings = findings};
    loader.options = options ? options : &plain;
    if (!index)
        return SM_NO_MEMORY;
    show->index = index;
    if (!is_folder(&loader))
        return loader.no_memory ? SM_NO_MEMORY : SM_UNREADABLE;
    for (size_t id = 0; id < SM_SCHEMA_COUNT && !loader.no_memory; id++) {
        loader.cues = id == SM_SCHEMA_CUES ? &cues : NULL;
        read_table(&loader, (sm_table_id)id);
        sm_table_finish(&loader, (sm_table_id)id);
    }
    if (loader.no_memory || sm_findings_failed(findings))
        return SM_NO_MEMORY;
    trim(show, &cues);
    show->cues_left_out = cues.has_left_out || loader.tables[SM_SCHEMA_CUES].is_incomplete;
    const sm_result result = sm_events_finish(show, scratch, !cues.is_out_of_order);
    if (result != SM_OK)
        return result;
    sm_show_set_audio_end(show, SM_UNSET_US);
    return loader.unreadable ? SM_UNREADABLE : SM_OK;
}

static sm_show *create_show(const char *folder) {
    sm_arena *const arena = sm_arena_create();
    if (!arena)
        return NULL;
    sm_show *const show = sm_arena_alloc(arena, sizeof *show);
    char *const kept = show ? sm_arena_text(arena, folder, strlen(folder)) : NULL;
    if (!kept) {
        sm_arena_destroy(arena);
        return NULL;
    }
    show->arena = arena;
    show->folder = kept;
    return show;
}

sm_result sm_show_load(const char *folder, const sm_show_load_options *options, sm_findings *findings,
                       sm_show **out) {
    const size_t errors_before = sm_findings_count_of(findings, SM_ERROR);
    const bool keeps_invalid = options && options->keep_invalid;
    sm_show *const show = create_show(folder);
    sm_arena *const scratch = sm_arena_create();
    sm_result result = SM_NO_MEMORY;
    if (show && scratch)
        result = sm_load_show(show, scratch, options, findings);
    const bool has_errors = sm_findings_count_of(findings, SM_ERROR) > errors_before;
    sm_findings_sort(findings);
    if (scratch && sm_load_fold_causes(findings, scratch) != SM_OK)
        result = SM_NO_MEMORY;
    sm_arena_destroy(scratch);
    sm_findings_fold(findings, 0);
    if (result == SM_OK && has_errors)
        result = SM_INVALID;
    if (result == SM_OK || (result == SM_INVALID && keeps_invalid))
        *out = show;
    else
        sm_show_destroy(show);
    return result;
}

bool sm_show_file_is_same(const sm_show *show, const char *file) {
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", show->folder, file);
    const bool same = !path.failed && sm_show_file_is_same_at(show, file, path.bytes);
    sm_text_deinit(&path);
    return same;
}

bool sm_show_file_is_same_at(const sm_show *show, const char *file, const char *path) {
    const sm_table_id id = sm_schema_find(file);
    return id < SM_SCHEMA_COUNT && sm_stamp_is_same(path, &show->index->stamps[id]);
}

void sm_show_destroy(sm_show *show) {
    if (show)
        sm_arena_destroy(show->arena);
}

sm_result sm_readings_load(const sm_show *show, const char *path, sm_findings *findings, sm_reading **out,
                           size_t *count, sm_arena *texts) {
    const size_t errors_before = sm_findings_count_of(findings, SM_ERROR);
    sm_arena *const scratch = sm_arena_create();
    if (!scratch)
        return SM_NO_MEMORY;
    // The rows go into a copy of the show that has no readings yet, and whose arena is the caller's.
    sm_show copy = *show;
    struct sm_show_index index = *show->index;
    copy.arena = texts;
    copy.readings = NULL;
    copy.reading_count = copy.allow_count = 0;
    copy.allows = NULL;
    sm_loader loader = {.show = &copy, .index = &index, .scratch = scratch, .findings = findings};
    loader.tables[SM_SCHEMA_RAILS].is_present = true;
    read_file(&loader, SM_SCHEMA_READINGS, path, path, true);
    sm_arena_destroy(scratch);
    sm_findings_sort(findings);
    if (loader.no_memory || sm_findings_failed(findings))
        return SM_NO_MEMORY;
    if (loader.unreadable)
        return SM_UNREADABLE;
    if (sm_findings_count_of(findings, SM_ERROR) > errors_before)
        return SM_INVALID;
    const size_t bytes = copy.reading_count * sizeof **out;
    sm_reading *const rows = malloc(bytes > 0 ? bytes : 1);
    if (!rows)
        return SM_NO_MEMORY;
    if (bytes > 0)
        memcpy(rows, copy.readings, bytes);
    *out = rows;
    *count = copy.reading_count;
    return SM_OK;
}

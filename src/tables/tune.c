// SPDX-License-Identifier: GPL-3.0-or-later
// Proposed cue times as changes of cues.csv, and what `check` would find in the folder as it would be: it is loaded from a passing
// folder, in which every file but cues.csv is a link.
#include "slowmatch/files.h"
#include "slowmatch/json.h"
#include "slowmatch/tables.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define CUES "cues.csv"

typedef struct tuned {
    uint32_t cue;
    sm_us to_us;
    const char *was, *now; // cells
} tuned;

struct sm_tuning {
    const sm_show *show;
    sm_arena *arena;
    char *bytes; // of cues.csv
    size_t length;
    tuned *rows;
    sm_cell_change *changes;
    size_t count;
    sm_findings *found; // what `check` would newly find
};

static char *path_of(const char *folder, const char *file) {
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", folder, file);
    if (path.failed)
        sm_text_deinit(&path);
    return path.bytes;
}

// ---- what changes ------------------------------------------------------------------------

static sm_result read_cues(sm_tuning *tuning, sm_text *why) {
    char *const path = path_of(tuning->show->folder, CUES);
    sm_result result = path ? sm_file_read(path, &tuning->bytes, &tuning->length) : SM_NO_MEMORY;
    if (result == SM_UNREADABLE)
        sm_text_printf(why, CUES ": %s", sm_file_why(errno));
    if (result == SM_OK && !sm_show_file_is_same(tuning->show, CUES)) {
        sm_text_printf(why, CUES ": somebody else saved it meanwhile; load the show again");
        result = SM_REFUSED;
    }
    free(path);
    return result;
}

static sm_result list_rows(sm_tuning *tuning, const sm_proposal *proposals, uint32_t count) {
    const sm_show *const show = tuning->show;
    tuning->rows = sm_arena_alloc(tuning->arena, (show->cue_count + 1u) * sizeof *tuning->rows);
    tuning->changes = sm_arena_alloc(tuning->arena, (show->cue_count + 1u) * sizeof *tuning->changes);
    if (!tuning->rows || !tuning->changes)
        return SM_NO_MEMORY;
    for (uint32_t cue = 0; cue < show->cue_count; cue++) {
        const sm_us to_us = sm_proposed_us(show, proposals, count, cue);
        if (to_us == show->cues[cue].time_us)
            continue;
        tuning->rows[tuning->count] = (tuned){.cue = cue, .to_us = to_us};
        tuning->changes[tuning->count++] = (sm_cell_change){.line = show->cues[cue].line, .column = "time"};
    }
    return SM_OK;
}

// Each cell keeps its notation; one that stays the same (a timecode moved by less than half a frame) is no change.
static sm_result write_cells(sm_tuning *tuning, sm_text *why) {
    const char **held;
    size_t kept = 0;
    sm_result result = sm_table_cells(tuning->bytes, tuning->length, tuning->changes, tuning->count,
                                      tuning->arena, &held, why);
    for (size_t i = 0; i < tuning->count && result == SM_OK; i++) {
        char text[32];
        tuned row = tuning->rows[i];
        sm_cell_change change = tuning->changes[i];
        if (sm_moment_write_like(held[i], strlen(held[i]), &tuning->show->settings.timecode, row.to_us,
                                 text) != SM_OK) {
            sm_text_printf(why, CUES ": line %u: the new time cannot be written as %s is",
                           (unsigned)change.line, held[i]);
            return SM_INVALID;
        }
        row.was = change.was = held[i];
        row.now = change.text = sm_arena_text(tuning->arena, text, strlen(text));
        if (!row.now)
            return SM_NO_MEMORY;
        if (strcmp(row.was, row.now) == 0)
            continue;
        tuning->rows[kept] = row;
        tuning->changes[kept++] = change;
    }
    if (result == SM_OK)
        tuning->count = kept;
    return result;
}

// ---- what `check` would say ------------------------------------------------------------------

static bool link_rest(const char *folder, const char *real) {
    size_t count;
    const sm_table_schema *const schema = sm_show_schema(&count);
    bool made = true;
    for (size_t i = 0; i < count && made; i++) {
        char *const from = path_of(real, schema[i].file), *const to = path_of(folder, schema[i].file);
        made = from && to &&
               (strcmp(schema[i].file, CUES) == 0 || access(from, F_OK) != 0 || symlink(from, to) == 0);
        free(from);
        free(to);
    }
    return made;
}

static void remove_folder(const char *folder) {
    size_t count;
    const sm_table_schema *const schema = sm_show_schema(&count);
    for (size_t i = 0; i < count; i++) {
        char *const path = path_of(folder, schema[i].file);
        if (path)
            unlink(path);
        free(path);
    }
    rmdir(folder);
}

// The same rule at the same row was broken before: only its figures are others.
static bool is_known(const sm_findings *before, const sm_finding *finding) {
    for (size_t i = 0; i < sm_findings_count(before); i++) {
        const sm_finding *const each = sm_findings_at(before, i);
        if (each->line == finding->line && strcmp(each->rule, finding->rule) == 0 &&
            strcmp(each->file, finding->file) == 0)
            return true;
    }
    return false;
}

static sm_result check_folder(const char *folder, const sm_check_options *music, sm_findings *out) {
    sm_show *show = NULL;
    const sm_show_load_options keep = {.keep_invalid = true};
    sm_result result = sm_show_load(folder, &keep, out, &show);
    if (show && music && music->audio_exists)
        sm_show_set_audio_end(show, music->audio_end_us);
    if (show)
        result = sm_check_run(show, music, out);
    sm_show_destroy(show);
    return result == SM_NO_MEMORY ? result : SM_OK;
}

static sm_result compare_findings(sm_tuning *tuning, const char *folder, const sm_check_options *music) {
    sm_findings *const before = sm_findings_create(), *const after = sm_findings_create();
    tuning->found = sm_findings_create();
    sm_result result = before && after && tuning->found ? SM_OK : SM_NO_MEMORY;
    if (result == SM_OK)
        result = check_folder(tuning->show->folder, music, before);
    if (result == SM_OK)
        result = check_folder(folder, music, after);
    for (size_t i = 0; result == SM_OK && i < sm_findings_count(after); i++)
        if (!is_known(before, sm_findings_at(after, i)))
            sm_findings_put(tuning->found, sm_findings_at(after, i));
    sm_findings_destroy(before);
    sm_findings_destroy(after);
    return result;
}

static sm_result try_in(sm_tuning *tuning, const char *folder, const char *real,
                        const sm_check_options *music, sm_text *why) {
    sm_text made = {0};
    char *const path = path_of(folder, CUES);
    const sm_table_edit edit = {.changes = tuning->changes, .change_count = tuning->count};
    sm_result result = path && link_rest(folder, real)
                           ? sm_table_edit_bytes(tuning->bytes, tuning->length, &edit, &made, why)
                           : SM_UNREADABLE;
    if (result == SM_OK)
        result = sm_file_replace(
            path, &(sm_file_new){.bytes = sm_text_get(&made), .length = made.length, .mode = 0600});
    if (result == SM_OK)
        result = compare_findings(tuning, folder, music);
    sm_text_deinit(&made);
    free(path);
    return result;
}

static sm_result try_out(sm_tuning *tuning, const sm_check_options *music, sm_text *why) {
    sm_text folder = {0};
    const char *const passing = getenv("TMPDIR");
    char *const real = realpath(tuning->show->folder, NULL);
    sm_text_printf(&folder, "%s/slowmatch-try-XXXXXX", passing && passing[0] == '/' ? passing : "/tmp");
    sm_result result = SM_UNREADABLE;
    if (folder.failed)
        result = SM_NO_MEMORY;
    else if (real && mkdtemp(folder.bytes)) {
        result = try_in(tuning, folder.bytes, real, music, why);
        const int reason = errno;
        remove_folder(folder.bytes);
        errno = reason;
    }
    if (result == SM_UNREADABLE && why->length == 0)
        sm_text_printf(why, "it could not be tried out in %s: %s", sm_text_get(&folder), strerror(errno));
    free(real);
    sm_text_deinit(&folder);
    return result;
}

// ---- made and used ----------------------------------------------------------------------------

sm_result sm_tuning_create(const sm_show *show, const sm_proposal *proposals, uint32_t count,
                           const sm_check_options *music, sm_text *why, sm_tuning **out) {
    sm_tuning *const tuning = calloc(1, sizeof *tuning);
    if (!tuning)
        return SM_NO_MEMORY;
    *tuning = (sm_tuning){.show = show, .arena = sm_arena_create()};
    sm_result result = tuning->arena ? read_cues(tuning, why) : SM_NO_MEMORY;
    if (result == SM_OK)
        result = list_rows(tuning, proposals, count);
    if (result == SM_OK)
        result = write_cells(tuning, why);
    if (result == SM_OK && music)
        result = try_out(tuning, music, why);
    if (result == SM_OK)
        *out = tuning;
    else
        sm_tuning_destroy(tuning);
    return result;
}

void sm_tuning_destroy(sm_tuning *tuning) {
    if (!tuning)
        return;
    sm_findings_destroy(tuning->found);
    free(tuning->bytes);
    sm_arena_destroy(tuning->arena);
    free(tuning);
}

size_t sm_tuning_count(const sm_tuning *tuning) {
    return tuning->count;
}

const sm_findings *sm_tuning_found(const sm_tuning *tuning) {
    return tuning->found;
}

void sm_tuning_text(const sm_tuning *tuning, sm_text *out) {
    sm_text_printf(out, "%zu cue%s of " CUES " would change\n", tuning->count, tuning->count == 1 ? "" : "s");
    for (size_t i = 0; i < tuning->count; i++) {
        char id[12];
        const tuned *const row = &tuning->rows[i];
        sm_text_printf(out, "  cue %s: %s, was %s\n", sm_cue_id(tuning->show, row->cue, id), row->now,
                       row->was);
    }
    for (size_t i = 0; tuning->found && i < sm_findings_count(tuning->found); i++) {
        sm_text_printf(out, "%s", i == 0 ? "check would newly find\n  " : "  ");
        sm_finding_format(out, NULL, sm_findings_at(tuning->found, i));
        sm_text_append(out, "\n", 1);
    }
    if (tuning->found && sm_findings_count(tuning->found) == 0)
        sm_text_printf(out, "check would find nothing new\n");
}

void sm_tuning_json(const sm_tuning *tuning, sm_text *out) {
    for (size_t i = 0; i < tuning->count; i++) {
        char id[12];
        const tuned *const row = &tuning->rows[i];
        sm_json json = sm_json_line_open(out);
        sm_json_text(&json, "kind", "change");
        sm_json_text(&json, "file", CUES);
        sm_json_integer(&json, "line", tuning->changes[i].line);
        sm_json_text(&json, "cue", sm_cue_id(tuning->show, row->cue, id));
        sm_json_text(&json, "was", row->was);
        sm_json_text(&json, "now", row->now);
        sm_json_line_close(&json);
    }
    for (size_t i = 0; tuning->found && i < sm_findings_count(tuning->found); i++) {
        sm_json json = sm_json_line_open(out);
        sm_json_text(&json, "kind", "found");
        sm_check_finding_json(&json, "finding", sm_findings_at(tuning->found, i));
        sm_json_line_close(&json);
    }
}

sm_result sm_tuning_save(const sm_tuning *tuning, const char *backups, sm_text *why) {
    const sm_table_edit edit = {.changes = tuning->changes, .change_count = tuning->count};
    char *const path = path_of(tuning->show->folder, CUES);
    sm_result result = SM_NO_MEMORY;
    if (path && tuning->count == 0)
        result = SM_OK;
    else if (path)
        result = sm_table_save(path, tuning->bytes, tuning->length, &edit, backups, why);
    free(path);
    return result;
}

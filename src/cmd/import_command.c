// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch import: a crew's cue list into a show.
#include "cmd/cmd.h"
#include "cmd/progress_line.h"

#include "slowmatch/files.h"
#include "slowmatch/import.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

typedef struct import_call {
    const char *file, *folder, *map;
    bool preview;
} import_call;

static bool is_there(const char *folder, const char *name) {
    struct stat found;
    sm_text path = {0};
    sm_text_printf(&path, "%s%s%s", folder, name ? "/" : "", name ? name : "");
    const bool there = !path.failed && lstat(sm_text_get(&path), &found) == 0;
    sm_text_deinit(&path);
    return there;
}

// The last part of PATH, without its ending: what a new show is called.
static void title_of(const char *path, char out[80]) {
    const char *const slash = strrchr(path, '/');
    snprintf(out, 80, "%s", slash ? slash + 1 : path);
    char *const dot = strrchr(out, '.');
    if (dot && dot != out)
        *dot = '\0';
}

// ---- writing ---------------------------------------------------------------------------

static bool complain(const char *path, sm_result result) {
    cmd_complain("%s: %s", path, result == SM_NO_MEMORY ? sm_result_text(result) : sm_file_why(errno));
    return false;
}

static bool write_file(const char *folder, const sm_import_file *file) {
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", folder, file->name);
    const sm_file_new made = {.bytes = sm_text_get(&file->text), .length = file->text.length, .mode = 0644};
    const sm_result result = path.failed ? SM_NO_MEMORY : sm_file_replace(sm_text_get(&path), &made);
    const bool done = result == SM_OK || complain(sm_text_get(&path), result);
    sm_text_deinit(&path);
    return done;
}

static bool write_files(const char *folder, const sm_import *import) {
    for (size_t i = 0; i < import->file_count; i++)
        if (!write_file(folder, &import->files[i]))
            return false;
    return true;
}

// A new show is made beside its name and takes it when it is whole: what was killed on the way is written anew the next time.
static bool write_new(const char *folder, const sm_import *import) {
    size_t length = strlen(folder);
    sm_text beside = {0};
    while (length > 1 && folder[length - 1] == '/')
        length--;
    sm_text_printf(&beside, "%.*s.slowmatch-new", (int)length, folder);
    const sm_result result = beside.failed ? SM_NO_MEMORY : sm_folder_make(sm_text_get(&beside), 0755);
    bool done = result == SM_OK || complain(folder, result);
    done = done && write_files(sm_text_get(&beside), import);
    if (done && renameat2(AT_FDCWD, sm_text_get(&beside), AT_FDCWD, folder, RENAME_NOREPLACE) != 0)
        done = complain(folder, SM_UNREADABLE);
    sm_text_deinit(&beside);
    return done;
}

static int write_all(const import_call *call, const sm_import *import, bool is_new) {
    if (!(is_new ? write_new : write_files)(call->folder, import))
        return CMD_UNUSABLE;
    cmd_say("%u cues of %u rows in %s/%s; every row and what became of it in %s/%s\n", (unsigned)import->cues,
            (unsigned)import->rows, call->folder, import->files[0].name, call->folder, import->files[1].name);
    if (is_new)
        cmd_say(
            "The modules and rails are made up and the leads not known; look at rails.csv and effects.csv "
            "first, then:\n"
            "  slowmatch check %s\n  slowmatch rehearse %s\n",
            call->folder, call->folder);
    else
        cmd_say("Nothing else was changed. When it is right: mv %s/%s %s/cues.csv\n", call->folder,
                import->files[0].name, call->folder);
    return CMD_GOOD;
}

static int report(const import_call *call, const sm_import *import, sm_result result, bool is_new) {
    if (result == SM_OK && call->preview) {
        cmd_put(stdout, sm_text_get(&import->files[0].text), import->files[0].text.length);
        return CMD_GOOD;
    }
    if (result == SM_OK)
        return write_all(call, import, is_new);
    if (import->questions == 0) {
        cmd_complain(
            "nothing was written: mend these rows in %s, or leave them out there, and import it again",
            call->file);
        return CMD_FINDINGS;
    }
    // Not into the file that is being read: the shell would empty it first.
    const char *const next = call->map && strcmp(call->map, "map.ini") == 0 ? "map-2.ini" : "map.ini";
    cmd_put(stdout, sm_text_get(&import->map), import->map.length);
    fflush(stdout);
    cmd_complain("%u question%s open; nothing was written. Standard output holds the mapping file with the "
                 "answers to choose from:\n"
                 "  slowmatch import %s %s%s%s > %s    (then take the ; away from each line that is right)\n"
                 "  slowmatch import %s %s --map %s",
                 (unsigned)import->questions, import->questions == 1 ? " is" : "s are", call->file,
                 call->folder, call->map ? " --map " : "", call->map ? call->map : "", next, call->file,
                 call->folder, next);
    return CMD_FINDINGS;
}

// ---- reading ----------------------------------------------------------------------------

static bool read_bytes(const char *path, char **bytes, size_t *length) {
    if (sm_file_read(path, bytes, length) == SM_OK)
        return true;
    cmd_complain("%s: %s", path, sm_file_why(errno));
    return false;
}

static int run(const import_call *call, const sm_show *show, sm_import_source *source) {
    char title[80];
    sm_import *import = NULL;
    sm_findings *const findings = sm_findings_create();
    int status = CMD_UNUSABLE;
    title_of(call->folder, title);
    source->show = show;
    source->title = title;
    cmd_progress *const line = cmd_progress_begin();
    source->progress = cmd_progress_of(line, "reading the list", CMD_PROGRESS_ROWS);
    const sm_result result = findings ? sm_import_create(source, findings, &import) : SM_NO_MEMORY;
    cmd_progress_end(line);
    if (findings) {
        sm_findings_sort(findings);
        sm_findings_fold(findings, 0);
        cmd_print_findings(STDERR_FILENO, NULL, findings);
    }
    if (import)
        status = report(call, import, result, !show);
    else if (result == SM_NO_MEMORY)
        cmd_complain("%s", sm_result_text(result));
    source->title = NULL;
    source->progress = NULL;
    sm_import_destroy(import);
    sm_findings_destroy(findings);
    return status;
}

static int import_into(const import_call *call) {
    char *bytes = NULL, *map = NULL;
    sm_import_source source = {.file = call->file, .map = call->map};
    sm_show *show = NULL;
    int status = CMD_UNUSABLE;
    const bool is_show = is_there(call->folder, "show.ini");
    if (!is_show && is_there(call->folder, NULL)) {
        cmd_complain(
            "%s is there and is no show (no show.ini); name a show, or a folder that is not there yet",
            call->folder);
        return CMD_UNUSABLE;
    }
    if (read_bytes(call->file, &bytes, &source.length) &&
        (!call->map || read_bytes(call->map, &map, &source.map_length)) &&
        (!is_show || (show = cmd_show_open_without_cues(call->folder)))) {
        source.bytes = bytes;
        source.map_bytes = map;
        status = run(call, show, &source);
    }
    sm_show_destroy(show);
    free(bytes);
    free(map);
    return status;
}

int cmd_import(const cmd_command *self, int argc, char **argv) {
    import_call call = {0};
    const cmd_option options[] = {
        {"map", "MAP.ini", "what the columns mean, see slowmatch-import(5)", NULL, &call.map},
        {"preview", NULL, "print the cues and write nothing", &call.preview, NULL},
    };
    const char *words[2];
    int count;
    const int status =
        cmd_options_read(self, options, sizeof options / sizeof *options, argc, argv, 2, 2, words, &count);
    if (status >= 0)
        return status;
    call.file = words[0];
    call.folder = words[1];
    return import_into(&call);
}

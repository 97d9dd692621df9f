// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch readings SHOW [FILE...]: what the readings mean, what is wrong with the rig, what changed.
#include "cmd/cmd.h"

#include "slowmatch/rig.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

typedef struct owned_rows {
    sm_reading *rows; // NULL where they belong to the show
} owned_rows;

typedef struct file_sets {
    sm_rig_set *sets;
    owned_rows *owned; // per set
    size_t count;
    sm_arena *texts;
} file_sets;

static void file_sets_deinit(file_sets *files) {
    for (size_t i = 0; files->owned && i < files->count; i++)
        free(files->owned[i].rows);
    free(files->owned);
    free(files->sets);
    sm_arena_destroy(files->texts);
}

// Reads PATH as the next set. False after a message.
static bool add_file(file_sets *files, const sm_show *show, const char *path) {
    sm_findings *findings = sm_findings_create();
    sm_result result = SM_NO_MEMORY;
    size_t count = 0;
    if (findings)
        result =
            sm_readings_load(show, path, findings, &files->owned[files->count].rows, &count, files->texts);
    int why = errno;
    if (findings)
        cmd_print_findings(STDERR_FILENO, NULL, findings);
    if (result != SM_OK && (!findings || sm_findings_count(findings) == 0))
        cmd_complain("%s: %s", path, result == SM_UNREADABLE ? sm_file_why(why) : sm_result_text(result));
    sm_findings_destroy(findings);
    if (result != SM_OK)
        return false;
    files->sets[files->count] = (sm_rig_set){path, files->owned[files->count].rows, count};
    files->count++;
    return true;
}

static bool file_sets_init(file_sets *files, const sm_show *show, const char *paths[], size_t count) {
    size_t room = count > 0 ? count : 1;
    files->sets = calloc(room, sizeof *files->sets);
    files->owned = calloc(room, sizeof *files->owned);
    files->texts = sm_arena_create();
    if (!files->sets || !files->owned || !files->texts) {
        cmd_failed(NULL, SM_NO_MEMORY);
        return false;
    }
    if (count == 0)
        files->sets[files->count++] = (sm_rig_set){"readings.csv", show->readings, show->reading_count};
    for (size_t i = 0; i < count; i++)
        if (!add_file(files, show, paths[i]))
            return false;
    return true;
}

static int print_report(const sm_show *show, const file_sets *files, bool json) {
    sm_rig_report *report;
    sm_result result = sm_rig_report_create(show, files->sets, files->count, &report);
    if (result != SM_OK)
        return cmd_failed(NULL, result);
    sm_text text = {0};
    if (json)
        sm_rig_report_json(report, &text);
    else
        sm_rig_report_text(report, &text);
    int status = cmd_print(&text, report->all_good ? CMD_GOOD : CMD_FINDINGS);
    sm_rig_report_destroy(report);
    return status;
}

// WORDS: the show, then files. Files stand in place of the show's own readings.csv.
static int report_on(const char *words[], size_t count, bool json) {
    sm_show *show = cmd_show_open(words[0], NULL);
    if (!show)
        return CMD_UNUSABLE;
    file_sets files = {0};
    int status = CMD_UNUSABLE;
    if (file_sets_init(&files, show, words + 1, count - 1))
        status = print_report(show, &files, json);
    file_sets_deinit(&files);
    sm_show_destroy(show);
    return status;
}

int cmd_readings(const cmd_command *self, int argc, char **argv) {
    bool json = false;
    const cmd_option options[] = {
        {"json", NULL, "one JSON object a line: slots, then findings", &json, NULL}};
    const char **words = calloc((size_t)argc + 1, sizeof *words);
    if (!words)
        return cmd_failed(NULL, SM_NO_MEMORY);
    int count;
    int status = cmd_options_read(self, options, 1, argc, argv, 1, argc, words, &count);
    if (status < 0)
        status = report_on(words, (size_t)count, json);
    free(words);
    return status;
}

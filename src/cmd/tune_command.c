// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch tune SHOW: a list of proposed cue times, tried out or written into cues.csv.
#include "cmd/cmd.h"

#include "slowmatch/engine.h"
#include "slowmatch/json.h"
#include "slowmatch/tables.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

// One line of the list as an action of the rehearsal; adds what is wrong with it.
static void take_line(sm_rehearsal *rehearsal, const sm_show *show, const char *file, uint32_t number,
                      const char *line, size_t length, sm_findings *findings) {
    static const char word[] = "propose ";
    const size_t skip =
        length > sizeof word - 1 && memcmp(line, word, sizeof word - 1) == 0 ? sizeof word - 1 : 0;
    sm_text text = {0};
    sm_action action;
    char why[200];
    size_t at = 0;
    sm_text_printf(&text, "%s%.*s", word, (int)(length - skip), line + skip);
    if (sm_action_read(show, sm_text_get(&text), text.length, &action, why, &at) != SM_OK) {
        const size_t column = at + skip >= sizeof word ? at + skip - sizeof word + 2 : 1;
        sm_findings_add(findings, file, number, (uint32_t)column, SM_ERROR, "proposal", "%s", why);
    } else if (sm_rehearsal_act(rehearsal, &action, SM_SOURCE_SCRIPT, (sm_wall_time){0}) != SM_OK) {
        sm_findings_add(findings, file, number, 1, SM_ERROR, "proposal", "%s",
                        sm_rehearsal_refusal(rehearsal));
    }
    sm_text_deinit(&text);
}

static void take_lines(sm_rehearsal *rehearsal, const sm_show *show, const char *file, const char *bytes,
                       size_t length, sm_findings *findings) {
    uint32_t number = 1;
    for (size_t at = 0; at < length; number++) {
        const char *const stop = memchr(bytes + at, '\n', length - at);
        size_t end = stop ? (size_t)(stop - bytes) : length;
        const size_t next = end + 1;
        while (end > at && strchr(" \t\r", bytes[end - 1]))
            end--;
        while (at < end && strchr(" \t", bytes[at]))
            at++;
        if (at < end && bytes[at] != '#')
            take_line(rehearsal, show, file, number, bytes + at, end - at, findings);
        at = next;
    }
}

// The proposals of FILE. False: what is wrong has been said.
static bool read_list(const sm_show *show, const char *file, sm_proposal out[SM_PROPOSALS_MAX],
                      uint32_t *count) {
    char *bytes = NULL;
    size_t length = 0;
    sm_rehearsal *rehearsal = NULL;
    sm_findings *const findings = sm_findings_create();
    const sm_rehearsal_options options = {0};
    sm_result result = findings ? sm_rehearsal_create(show, &options, &rehearsal) : SM_NO_MEMORY;
    if (result == SM_OK)
        result = sm_file_read(file, &bytes, &length);
    if (result == SM_OK) {
        take_lines(rehearsal, show, file, bytes, length, findings);
        *count = sm_rehearsal_proposals(rehearsal, out);
        cmd_print_findings(STDERR_FILENO, NULL, findings);
    } else {
        cmd_complain("%s: %s", file, result == SM_UNREADABLE ? sm_file_why(errno) : sm_result_text(result));
    }
    const bool good = result == SM_OK && sm_findings_count(findings) == 0;
    if (result == SM_OK && !good)
        cmd_complain("nothing was written: mend these lines of %s first", file);
    free(bytes);
    sm_rehearsal_destroy(rehearsal);
    sm_findings_destroy(findings);
    return good;
}

static int complain(const char *folder, sm_result result, const sm_text *why) {
    cmd_complain("%s: %s", folder, why->length > 0 ? why->bytes : sm_result_text(result));
    return CMD_UNUSABLE;
}

typedef struct tune_call {
    const char *file;
    bool save, json;
} tune_call;

static void add_result(const sm_tuning *tuning, const tune_call *call, bool is_written, const char *backups,
                       sm_text *out) {
    if (!call->json) {
        if (is_written)
            sm_text_printf(out, "written; what was is kept in %s\n", backups);
        return;
    }
    sm_json json = sm_json_line_open(out);
    sm_json_integer(&json, "changes", (int64_t)sm_tuning_count(tuning));
    sm_json_integer(&json, "errors", (int64_t)sm_findings_count_of(sm_tuning_found(tuning), SM_ERROR));
    sm_json_bool(&json, "written", is_written);
    sm_json_text(&json, "kept", is_written ? backups : NULL);
    sm_json_line_close(&json);
}

// What would change stands on standard output before anything is written.
static int print_and_save(const sm_tuning *tuning, const char *folder, const tune_call *call) {
    sm_text text = {0}, why = {0};
    char *const backups = sm_table_backups_path();
    int status = sm_findings_count_of(sm_tuning_found(tuning), SM_ERROR) > 0 ? CMD_FINDINGS : CMD_GOOD;
    if (call->json)
        sm_tuning_json(tuning, &text);
    else
        sm_tuning_text(tuning, &text);
    bool is_printed = cmd_print(&text, CMD_GOOD) == CMD_GOOD;
    sm_result result = SM_OK;
    if (call->save && is_printed)
        result = backups ? sm_tuning_save(tuning, backups, &why) : SM_NO_MEMORY;
    if (result == SM_OK && is_printed) {
        add_result(tuning, call, call->save && sm_tuning_count(tuning) > 0, backups, &text);
        is_printed = cmd_print(&text, CMD_GOOD) == CMD_GOOD;
    }
    if (result != SM_OK)
        status = complain(folder, result, &why);
    sm_text_deinit(&why);
    free(backups);
    return is_printed ? status : CMD_UNUSABLE;
}

static int tune(const sm_show *show, const tune_call *call) {
    sm_proposal proposals[SM_PROPOSALS_MAX];
    uint32_t count = 0;
    sm_audio_info info;
    sm_check_options music;
    sm_tuning *tuning = NULL;
    sm_text why = {0};
    if (!read_list(show, call->file, proposals, &count))
        return CMD_UNUSABLE;
    cmd_music_look(show, &info, &music);
    const sm_result result = sm_tuning_create(show, proposals, count, &music, &why, &tuning);
    const int status =
        result == SM_OK ? print_and_save(tuning, show->folder, call) : complain(show->folder, result, &why);
    sm_tuning_destroy(tuning);
    sm_text_deinit(&why);
    return status;
}

int cmd_tune(const cmd_command *self, int argc, char **argv) {
    const char *apply = NULL, *try = NULL;
    tune_call call = {0};
    int count;
    const char *words[1];
    const cmd_option options[] = {
        {"apply", "FILE", "write the proposals of FILE into cues.csv: CUE MOMENT|+0.05 s|-1 f [on] a line",
         NULL, &apply},
        {"try", "FILE", "only say what would change, and what check would newly find", NULL, &try},
        {"json", NULL, "one object a line: each change and each finding, then what was done", &call.json,
         NULL},
    };
    int status =
        cmd_options_read(self, options, sizeof options / sizeof *options, argc, argv, 1, 1, words, &count);
    if (status >= 0)
        return status;
    if (!apply == !try) {
        cmd_complain("one of --apply FILE and --try FILE is needed");
        return CMD_UNUSABLE;
    }
    sm_show *show = cmd_show_open(words[0], NULL);
    if (!show)
        return CMD_UNUSABLE;
    sm_tables_sweep(words[0]);
    call.file = apply ? apply : try;
    call.save = apply != NULL;
    status = tune(show, &call);
    sm_show_destroy(show);
    return status;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch walk SHOW: what is asked on the walk before the show, what is open.
#include "slowmatch/walk.h"
#include "cmd/cmd.h"
#include "slowmatch/audio.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

typedef struct walk_options {
    const char *folder, *from, *readings;
    bool print, json;
} walk_options;

typedef struct walk_run {
    const walk_options *options;
    sm_show *show;
    sm_walk_list *list;
    sm_check_report *report;
    sm_findings *loaded;
    sm_arena *texts;
    sm_walk_tick *ticks;
    size_t tick_count;
} walk_run;

static int no_memory(void) {
    cmd_complain("%s", sm_result_text(SM_NO_MEMORY));
    return CMD_UNUSABLE;
}

static int read_answers(walk_run *r) {
    char *text;
    size_t length;
    sm_findings *findings = sm_findings_create();
    if (findings == NULL)
        return no_memory();
    sm_result result = sm_file_read(r->options->from, &text, &length);
    if (result == SM_OK) {
        result = sm_walk_ticks_read(r->list, r->options->from, text, length, findings, r->texts, &r->ticks,
                                    &r->tick_count);
        free(text);
    } else {
        cmd_complain("%s: %s", r->options->from, strerror(errno));
    }
    cmd_print_findings(STDERR_FILENO, NULL, findings);
    sm_findings_destroy(findings);
    if (result == SM_NO_MEMORY)
        return no_memory();
    return result == SM_OK ? CMD_GOOD : CMD_UNUSABLE;
}

static int check_show(walk_run *r) {
    char *path = cmd_audio_path(r->show);
    sm_audio_info info = {0};
    bool there = path != NULL && sm_audio_probe(path, &info) == SM_OK;
    const sm_check_options options = {
        .audio_looked_for = true,
        .audio_exists = there,
        .audio_error = info.problem,
        .audio_end_us = there ? r->show->settings.audio_start_us + info.length_us : SM_UNSET_US};
    free(path);
    sm_result result = sm_check_report_create(r->show, r->options->folder, r->loaded, &options, &r->report);
    return result == SM_OK ? CMD_GOOD : no_memory();
}

static int print_walk(const walk_run *r) {
    const sm_walk_past past = {.ticks = r->ticks, .tick_count = r->tick_count};
    const sm_walk_facts facts = {.now_us = (sm_unix_us)time(NULL) * SM_US_PER_S,
                                 .findings = r->report->findings};
    sm_walk *walk;
    if (sm_walk_create(r->list, &past, &facts, &walk) != SM_OK)
        return no_memory();
    sm_text text = {0};
    if (r->options->json)
        sm_walk_print_json(&text, walk);
    else if (r->options->print)
        sm_walk_print(&text, walk);
    else
        sm_walk_print_state(&text, walk);
    int status = walk->reason_count > 0 ? CMD_FINDINGS : CMD_GOOD;
    if (text.failed)
        status = no_memory();
    else if (fputs(sm_text_get(&text), stdout) == EOF || fflush(stdout) == EOF) {
        cmd_complain("output: %s", strerror(errno));
        status = CMD_UNUSABLE;
    }
    sm_text_deinit(&text);
    sm_walk_destroy(walk);
    return status;
}

static int make_list(walk_run *r) {
    r->texts = sm_arena_create();
    r->loaded = sm_findings_create();
    if (r->texts == NULL || r->loaded == NULL)
        return no_memory();
    sm_result result = sm_walk_list_create(r->show, &r->list);
    if (result == SM_UNREADABLE)
        cmd_complain("%s: %s", r->options->folder, strerror(errno));
    else if (result != SM_OK)
        return no_memory();
    return result == SM_OK ? CMD_GOOD : CMD_UNUSABLE;
}

static int run_walk(const walk_options *options) {
    walk_run r = {.options = options, .show = cmd_show_open(options->folder, options->readings)};
    if (r.show == NULL)
        return CMD_UNUSABLE;
    int status = make_list(&r);
    if (status == CMD_GOOD && options->from != NULL)
        status = read_answers(&r);
    if (status == CMD_GOOD)
        status = check_show(&r);
    if (status == CMD_GOOD)
        status = print_walk(&r);
    sm_check_report_destroy(r.report);
    sm_findings_destroy(r.loaded);
    sm_walk_list_destroy(r.list);
    sm_arena_destroy(r.texts);
    sm_show_destroy(r.show);
    return status;
}

int cmd_walk(int argc, char **argv) {
    walk_options o = {0};
    const cmd_option options[] = {
        {"print", NULL, "the whole list, in walking order, for paper", &o.print, NULL},
        {"from", "FILE", "take answers from FILE (item, answer, value, note, by, when)", NULL, &o.from},
        {"readings", "FILE", "readings from FILE in place of readings.csv", NULL, &o.readings},
        {"json", NULL, "one JSON object a line: items, reasons, notes, names, summary", &o.json, NULL},
    };
    int count;
    int status = cmd_options_read(cmd_command_named("walk"), options, sizeof options / sizeof options[0],
                                  argc, argv, 1, 1, &o.folder, &count);
    return status >= 0 ? status : run_walk(&o);
}

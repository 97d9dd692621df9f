// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch walk SHOW: what is asked on the walk before the show, what is open.
#include "cmd/cmd.h"
#include "cmd/progress_line.h"

#include "slowmatch/audio.h"
#include "slowmatch/clock.h"
#include "slowmatch/logbook.h"
#include "slowmatch/music.h"
#include "slowmatch/walk.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

typedef struct walk_options {
    const char *folder, *from, *readings, *sign, *logbook;
    bool print, json;
} walk_options;

typedef struct walk_run {
    const walk_options *options;
    sm_show *show;
    sm_walk_list *list;
    sm_check_report *report;
    sm_findings *loaded;
    sm_arena *texts;
    sm_logbook *logbook; // NULL: there is none yet
    sm_walk_past past;   // of all walks kept, the answers of --from behind them
    sm_walk_past given;  // here and now
    sm_walk *walk;
} walk_run;

static int read_answers(walk_run *r) {
    char *text;
    size_t length;
    sm_findings *findings = sm_findings_create();
    if (!findings)
        return cmd_failed(NULL, SM_NO_MEMORY);
    sm_result result = sm_file_read(r->options->from, &text, &length);
    if (result == SM_OK) {
        sm_walk_tick *ticks = NULL;
        result = sm_walk_ticks_read(r->list, r->options->from, text, length, findings, r->texts, &ticks,
                                    &r->given.tick_count);
        for (size_t i = 0; i < r->given.tick_count; i++)
            if (ticks[i].when_us == SM_UNSET_US)
                ticks[i].when_us = sm_unix_now_us();
        r->given.ticks = ticks;
        free(text);
    } else {
        cmd_failed(r->options->from, result);
    }
    cmd_print_findings(STDERR_FILENO, NULL, findings);
    sm_findings_destroy(findings);
    if (result == SM_NO_MEMORY)
        return cmd_failed(NULL, SM_NO_MEMORY);
    return result == SM_OK ? CMD_GOOD : CMD_UNUSABLE;
}

static int check_show(walk_run *r) {
    sm_audio_info info;
    sm_check_options options;
    cmd_music_look(r->show, &info, &options);
    sm_result result = sm_check_report_create(r->show, r->options->folder, r->loaded, &options, &r->report);
    return result == SM_OK ? CMD_GOOD : cmd_failed(NULL, SM_NO_MEMORY);
}

// ---- what is kept -------------------------------------------------------------------------

static int complain_logbook(const walk_run *r) {
    cmd_complain("the logbook: %s", sm_logbook_problem(r->logbook));
    return CMD_UNUSABLE;
}

// What nothing is given to need not be there.
static int open_logbook(walk_run *r) {
    const walk_options *o = r->options;
    bool gives = o->from || o->sign;
    char why[400];
    char *path = cmd_logbook_path(o->logbook);
    if (!path)
        return CMD_UNUSABLE;
    sm_result result = sm_logbook_open(path, gives, why, &r->logbook);
    bool missing = result == SM_NOT_FOUND && !o->logbook;
    if ((result != SM_OK && !missing) || (result == SM_OK && why[0] != '\0'))
        cmd_complain("%s: %s", path, why[0] != '\0' ? why : sm_result_text(result));
    free(path);
    return result == SM_OK || missing ? CMD_GOOD : CMD_UNUSABLE;
}

static int keep_given(walk_run *r) {
    if (r->given.tick_count == 0 && r->given.sign_count == 0)
        return CMD_GOOD;
    return sm_logbook_keep_walk(r->logbook, r->show->settings.title, &r->given) == SM_OK
               ? CMD_GOOD
               : complain_logbook(r);
}

static int judge(walk_run *r) {
    const sm_walk_facts facts = {.now_us = sm_unix_now_us(), .findings = r->report->findings};
    if (r->logbook && sm_logbook_walk_past(r->logbook, r->show->settings.title, r->texts, &r->past) != SM_OK)
        return complain_logbook(r);
    sm_walk *walk;
    if (sm_walk_create(r->list, &r->past, &facts, &walk) != SM_OK)
        return cmd_failed(NULL, SM_NO_MEMORY);
    sm_walk_destroy(r->walk);
    r->walk = walk;
    if (r->logbook && sm_logbook_keep_voids(r->logbook, r->show->settings.title, walk) != SM_OK)
        return complain_logbook(r);
    return CMD_GOOD;
}

// A name is taken only where no reason stands.
static int sign(walk_run *r) {
    const sm_walk_sign given = {r->options->sign, sm_unix_now_us(), r->list->content, r->list->hash, NULL};
    if (r->walk->reason_count > 0) {
        cmd_complain("not signed by %s: NO-GO stands", r->options->sign);
        return CMD_GOOD;
    }
    r->given = (sm_walk_past){.signs = &given, .sign_count = 1};
    int status = keep_given(r);
    return status == CMD_GOOD ? judge(r) : status;
}

// ---- the whole --------------------------------------------------------------------------------

static int print_walk(const walk_run *r) {
    sm_text text = {0};
    if (r->options->json)
        sm_walk_print_json(&text, r->walk);
    else if (r->options->print)
        sm_walk_print(&text, r->walk);
    else
        sm_walk_print_state(&text, r->walk);
    return cmd_print(&text, r->walk->reason_count > 0 ? CMD_FINDINGS : CMD_GOOD);
}

static int make_list(walk_run *r) {
    r->texts = sm_arena_create();
    r->loaded = sm_findings_create();
    if (!r->texts || !r->loaded)
        return cmd_failed(NULL, SM_NO_MEMORY);
    sm_walk_hash music;
    char *path = sm_music_path(r->show);
    cmd_progress *const line = cmd_progress_begin();
    sm_result result =
        sm_walk_hash_music(path, cmd_progress_of(line, "reading the music", CMD_PROGRESS_BYTES), &music);
    cmd_progress_end(line);
    free(path);
    if (result == SM_OK)
        result = sm_walk_list_create(r->show, &music, &r->list);
    return result == SM_OK ? CMD_GOOD : cmd_failed(r->options->folder, result);
}

static int run_walk(const walk_options *options) {
    char buffer[CMD_PATH];
    const char *readings = options->readings;
    if (!cmd_readings_find(options->folder, &readings, buffer))
        return CMD_UNUSABLE;
    walk_run r = {.options = options, .show = cmd_show_open(options->folder, readings)};
    if (!r.show)
        return CMD_UNUSABLE;
    int status = make_list(&r);
    if (status == CMD_GOOD && options->from)
        status = read_answers(&r);
    if (status == CMD_GOOD)
        status = open_logbook(&r);
    if (status == CMD_GOOD)
        status = keep_given(&r);
    if (status == CMD_GOOD)
        status = check_show(&r);
    if (status == CMD_GOOD)
        status = judge(&r);
    if (status == CMD_GOOD && options->sign)
        status = sign(&r);
    if (status == CMD_GOOD)
        status = print_walk(&r);
    sm_walk_destroy(r.walk);
    sm_logbook_close(r.logbook);
    sm_check_report_destroy(r.report);
    sm_findings_destroy(r.loaded);
    sm_walk_list_destroy(r.list);
    sm_arena_destroy(r.texts);
    sm_show_destroy(r.show);
    return status;
}

int cmd_walk(const cmd_command *self, int argc, char **argv) {
    walk_options o = {0};
    const cmd_option options[] = {
        {"print", NULL, "the whole list, in walking order, for paper", &o.print, NULL},
        {"from", "FILE", "take answers from FILE (item, answer, value, note, by, when)", NULL, &o.from},
        {"sign", "WHO", "sign by name, where no reason for NO-GO stands: a record, not a permission", NULL,
         &o.sign},
        {"logbook", "FILE", "the logbook FILE in place of the user's own", NULL, &o.logbook},
        {"readings", "FILE", "readings from FILE in place of readings.csv", NULL, &o.readings},
        {"json", NULL, "one JSON object a line: items, reasons, notes, names, summary", &o.json, NULL},
    };
    int count;
    int status = cmd_options_read(self, options, sizeof options / sizeof options[0], argc, argv, 1, 1,
                                  &o.folder, &count);
    return status >= 0 ? status : run_walk(&o);
}

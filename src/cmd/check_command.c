// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch check: what the rules find in a show, on paper.
#include "cmd/cmd.h"
#include "cmd/progress_line.h"

#include "slowmatch/audio.h"
#include "slowmatch/check.h"
#include "slowmatch/drill.h"
#include "slowmatch/workers.h"

#include <errno.h>
#include <malloc.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

typedef struct check_call {
    bool json, sarif, rules;
    const char *explain;
} check_call;

static const char *rule_name_at(const void *context, size_t index) {
    (void)context;
    return sm_check_rule_at(index)->id;
}

static int explain_rule(const char *id) {
    const sm_check_rule *rule = sm_check_rule_find(id);
    sm_text text = {0};
    if (rule) {
        sm_check_format_rule(&text, rule);
        return cmd_print(&text, CMD_GOOD);
    }
    size_t count = 0;
    while (sm_check_rule_at(count))
        count++;
    const char *near = sm_nearest_name(id, count, rule_name_at, NULL);
    cmd_complain("no rule %s; %s%s", id, near ? "did you mean " : "--rules lists them", near ? near : "");
    return CMD_UNUSABLE;
}

static int list_rules(bool json) {
    sm_text text = {0};
    if (json)
        sm_check_format_rules_json(&text);
    else
        sm_check_format_rules(&text);
    return cmd_print(&text, CMD_GOOD);
}

// Looks at the audio, tells the show where it ends, and the rules what is wrong with it. INFO holds the text.
static void ask_audio(sm_show *show, sm_progress *progress, sm_audio_info *info, sm_check_options *options) {
    if (!show)
        return;
    cmd_music_ask(show, progress, info, options);
    if (options->audio_exists)
        sm_show_set_audio_end(show, options->audio_end_us);
}

static bool is_coloured(void) {
    const char *no_colour = getenv("NO_COLOR"), *terminal = getenv("TERM");
    return isatty(STDOUT_FILENO) != 0 && (!no_colour || no_colour[0] == '\0') &&
           (!terminal || strcmp(terminal, "dumb") != 0);
}

static int print_report(const check_call *call, const sm_check_report *report) {
    const int status = sm_findings_count_of(report->findings, SM_ERROR) > 0 ? CMD_FINDINGS : CMD_GOOD;
    const bool coloured = !call->json && !call->sarif && is_coloured();
    sm_text text = {0};
    if (call->json)
        sm_check_format_json(&text, report);
    else if (call->sarif)
        sm_check_format_sarif(&text, report, cmd_version());
    else
        sm_check_format_text(&text, report, coloured);
    return coloured ? cmd_print_coloured(&text, status) : cmd_print(&text, status);
}

// What is wrong in the show's drills. A folder or a file that cannot be read is a finding like any.
static sm_result check_drills(const sm_show *show, sm_findings *findings) {
    const char *const *names = NULL;
    size_t count = 0;
    sm_arena *arena = sm_arena_create();
    sm_result result = arena ? sm_drill_names(show, arena, &names, &count) : SM_NO_MEMORY;
    if (result == SM_UNREADABLE)
        sm_findings_add(findings, "drills", 0, 0, SM_ERROR, "file-unreadable", "cannot be read: %s",
                        sm_file_why(errno));
    for (size_t i = 0; i < count && result != SM_NO_MEMORY; i++) {
        sm_drill *drill = NULL;
        result = sm_drill_load(show, names[i], findings, &drill);
        if (result == SM_UNREADABLE)
            sm_findings_add(findings, "drills", 0, 0, SM_ERROR, "file-unreadable",
                            "%s.ini cannot be read: %s", names[i], sm_file_why(errno));
        sm_drill_destroy(drill);
    }
    sm_arena_destroy(arena);
    return result == SM_NO_MEMORY ? SM_NO_MEMORY : SM_OK;
}

// Of so many events a rule that follows each of them is worth threads.
enum { MANY_EVENTS = 50000 };

static int check_show(const check_call *call, const char *folder) {
    // Large pieces of memory that are given back leave the process at once, however many there are: it lives for one show.
    mallopt(M_MMAP_THRESHOLD, 128 * 1024);
    sm_findings *loaded = sm_findings_create();
    sm_show *show = NULL;
    sm_check_report *report = NULL;
    sm_check_options options = {0};
    sm_audio_info music;
    cmd_progress *const line = cmd_progress_begin();
    const sm_show_load_options keep = {.keep_invalid = true,
                                       .together = sm_workers,
                                       .progress =
                                           cmd_progress_of(line, "reading cues.csv", CMD_PROGRESS_BYTES)};
    const sm_result read = loaded ? sm_show_load(folder, &keep, loaded, &show) : SM_NO_MEMORY;
    int status = CMD_UNUSABLE;
    ask_audio(show, cmd_progress_of(line, "reading the music", CMD_PROGRESS_MUSIC), &music, &options);
    // Names in a drill are only judged against a show that is whole.
    const bool drills_fit = read != SM_OK || check_drills(show, loaded) == SM_OK;
    options.progress = cmd_progress_of(line, "checking", CMD_PROGRESS_RULES);
    options.together = show && show->event_count >= MANY_EVENTS ? sm_workers : NULL;
    const bool judged = read != SM_NO_MEMORY && drills_fit &&
                        sm_check_report_create(show, folder, loaded, &options, &report) == SM_OK;
    cmd_progress_end(line);
    if (!judged)
        cmd_failed(NULL, SM_NO_MEMORY);
    else
        status = print_report(call, report);
    sm_check_report_destroy(report);
    sm_show_destroy(show);
    sm_findings_destroy(loaded);
    return read == SM_UNREADABLE ? CMD_UNUSABLE : status;
}

int cmd_check(const cmd_command *self, int argc, char **argv) {
    check_call call = {0};
    const cmd_option options[] = {
        {"json", NULL, "one object a line: each finding, then the summary", &call.json, NULL},
        {"sarif", NULL, "a SARIF 2.1.0 log", &call.sarif, NULL},
        {"rules", NULL, "list the rules with their meaning and source", &call.rules, NULL},
        {"explain", "RULE", "tell more about one rule", NULL, &call.explain},
    };
    const char *words[1];
    int count;
    const int status =
        cmd_options_read(self, options, sizeof options / sizeof *options, argc, argv, 0, 1, words, &count);
    if (status >= 0)
        return status;
    if (call.explain)
        return explain_rule(call.explain);
    if (call.rules)
        return list_rules(call.json);
    if (call.json && call.sarif) {
        cmd_complain("--json or --sarif, not both");
        return CMD_UNUSABLE;
    }
    if (count == 0) {
        cmd_complain("the show's folder is missing: slowmatch %s", self->form);
        return CMD_UNUSABLE;
    }
    return check_show(&call, words[0]);
}

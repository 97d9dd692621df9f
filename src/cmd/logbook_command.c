// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch logbook: what is kept, played again, compared, carried elsewhere.
#include "cmd/cmd.h"
#include "cmd/progress_line.h"

#include "slowmatch/clock.h"
#include "slowmatch/json.h"
#include "slowmatch/logbook.h"
#include "slowmatch/show.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct call {
    sm_logbook *logbook;
    const char **words; // behind the verb
    size_t count;
    bool json;
    const char *slot, *again;
    sm_text out;
    int status;
} call;

// ---- words ------------------------------------------------------------------------------

static bool read_number(const char *text, int64_t *out) {
    int32_t number;
    if (sm_integer_read(text, strlen(text), &number) != SM_OK || number < 1) {
        cmd_complain("'%s' is no number of a rehearsal; slowmatch logbook lists them", text);
        return false;
    }
    *out = number;
    return true;
}

static bool read_days(const char *text, int64_t *out) {
    int32_t days;
    if (sm_integer_read(text, strlen(text), &days) != SM_OK || days < 0 || days > 100000) {
        cmd_complain("'%s' is no number of days", text);
        return false;
    }
    *out = days;
    return true;
}

// Ends a call whose logbook answered RESULT.
static void finish(call *c, sm_result result, bool good) {
    if (result == SM_OK) {
        c->status = good ? CMD_GOOD : CMD_FINDINGS;
        return;
    }
    cmd_complain("%s", sm_logbook_problem(c->logbook));
    c->status = CMD_UNUSABLE;
}

// ---- the verbs -----------------------------------------------------------------------------

static void do_list(call *c) {
    finish(c, sm_logbook_list(c->logbook, c->json, &c->out), true);
}

static void do_show(call *c) {
    int64_t number;
    if (read_number(c->words[0], &number))
        finish(c, sm_logbook_show(c->logbook, number, c->json, &c->out), true);
}

static void do_replay(call *c) {
    int64_t number;
    bool same = false;
    if (!read_number(c->words[0], &number))
        return;
    sm_result result = sm_logbook_replay(c->logbook, number, c->json, &c->out, &same);
    if (result == SM_OK) // a drill's steps
        result = sm_logbook_steps(c->logbook, number, cmd_columns(), c->json, &c->out);
    finish(c, result, same);
}

static void do_debrief(call *c) {
    int64_t number;
    if (read_number(c->words[0], &number))
        finish(c, sm_logbook_debrief(c->logbook, number, cmd_columns(), c->json, &c->out), true);
}

static void do_compare(call *c) {
    int64_t a, b;
    bool same = false;
    if (read_number(c->words[0], &a) && read_number(c->words[1], &b))
        finish(c, sm_logbook_compare(c->logbook, a, b, c->json, &c->out, &same), true);
}

// SHOW is a folder, or the title as the logbook has it.
static void do_readings(call *c) {
    sm_findings *findings = sm_findings_create();
    const sm_show_load_options options = {.keep_invalid = true};
    sm_show *show = NULL;
    sm_result loaded = findings ? sm_show_load(c->words[0], &options, findings, &show) : SM_NO_MEMORY;
    const char *title = (loaded == SM_OK || loaded == SM_INVALID) && show && show->settings.title
                            ? show->settings.title
                            : c->words[0];
    finish(c, sm_logbook_readings(c->logbook, title, c->slot, c->json, &c->out), true);
    sm_show_destroy(show);
    sm_findings_destroy(findings);
}

static void do_crew(call *c) {
    int64_t days = -1;
    if (!c->again || read_days(c->again, &days))
        finish(c, sm_logbook_crew(c->logbook, days, sm_unix_now_us(), c->json, &c->out), true);
}

static void do_progress(call *c) {
    finish(c, sm_logbook_progress(c->logbook, c->words[0], c->json, &c->out), true);
}

static void say_count(call *c, sm_result result, int64_t count, const char *done) {
    if (result == SM_OK && c->json) {
        sm_json line = sm_json_line_open(&c->out);
        sm_json_integer(&line, "rehearsals", count);
        sm_json_line_close(&line);
    } else if (result == SM_OK)
        sm_text_printf(&c->out, "%lld rehearsal%s %s\n", (long long)count, count == 1 ? "" : "s", done);
    finish(c, result, true);
}

// Export and import of many rehearsals take their time.
static cmd_progress *watch(call *c, const char *what) {
    cmd_progress *const line = cmd_progress_begin();
    sm_logbook_watch(c->logbook, cmd_progress_of(line, what, CMD_PROGRESS_ROWS));
    return line;
}

static void do_export(call *c) {
    int64_t number = 0, count = 0;
    if (c->count > 1 && !read_number(c->words[1], &number))
        return;
    cmd_progress *const line = watch(c, "writing rehearsals");
    sm_result result = sm_logbook_export(c->logbook, number, c->words[0], &count);
    cmd_progress_end(line);
    sm_logbook_watch(c->logbook, NULL);
    say_count(c, result, count, "written");
}

static void do_import(call *c) {
    int64_t count = 0;
    cmd_progress *const line = watch(c, "taking rehearsals in");
    sm_result result = sm_logbook_import(c->logbook, c->words[0], &count);
    cmd_progress_end(line);
    sm_logbook_watch(c->logbook, NULL);
    say_count(c, result, count, "taken in");
}

static void do_prune(call *c) {
    int64_t days, count = 0;
    if (!read_days(c->words[0], &days))
        return;
    sm_result result = sm_logbook_prune(c->logbook, sm_unix_now_us() - days * 86400 * SM_US_PER_S, &count);
    say_count(c, result, count, "forgotten; readings, walks and drills stay");
}

static void do_check(call *c) {
    bool whole = false;
    sm_result result = sm_logbook_check(c->logbook, c->json, &c->out, &whole);
    finish(c, result, whole);
}

typedef struct verb {
    const char *name, *form;
    size_t least, most; // words behind it
    bool makes;         // a logbook that is not there
    void (*run)(call *c);
} verb;

static const verb verbs[] = {
    {"list", "list", 0, 0, false, do_list},
    {"show", "show N", 1, 1, false, do_show},
    {"replay", "replay N", 1, 1, false, do_replay},
    {"debrief", "debrief N", 1, 1, false, do_debrief},
    {"compare", "compare N M", 2, 2, false, do_compare},
    {"readings", "readings SHOW", 1, 1, false, do_readings},
    {"crew", "crew", 0, 0, false, do_crew},
    {"progress", "progress PERSON", 1, 1, false, do_progress},
    {"export", "export FILE [N]", 1, 2, false, do_export},
    {"import", "import FILE", 1, 1, true, do_import},
    {"prune", "prune DAYS", 1, 1, false, do_prune},
    {"check", "check", 0, 0, false, do_check},
};
#define VERBS (sizeof verbs / sizeof verbs[0])

static const char *verb_name_at(const void *context, size_t index) {
    (void)context;
    return verbs[index].name;
}

static const verb *find_verb(const char *name, size_t words) {
    for (size_t i = 0; i < VERBS; i++) {
        if (strcmp(verbs[i].name, name) != 0)
            continue;
        if (words >= verbs[i].least && words <= verbs[i].most)
            return &verbs[i];
        cmd_complain("write slowmatch logbook %s", verbs[i].form);
        return NULL;
    }
    const char *near = sm_nearest_name(name, VERBS, verb_name_at, NULL);
    cmd_complain("no logbook %s; %s%s", name,
                 near ? "did you mean "
                      : "there are list, show, replay, "
                        "debrief, compare, readings, crew, progress, export, import, prune and check",
                 near ? near : "");
    return NULL;
}

// ---- the command -----------------------------------------------------------------------------

static int run_verb(const verb *v, call *c, const char *path) {
    c->logbook = cmd_logbook_open(path, v->makes);
    if (!c->logbook)
        return CMD_UNUSABLE;
    c->status = CMD_UNUSABLE;
    v->run(c);
    if (c->status != CMD_UNUSABLE)
        c->status = cmd_print(&c->out, c->status);
    sm_text_deinit(&c->out);
    sm_logbook_close(c->logbook);
    return c->status;
}

int cmd_logbook(const cmd_command *self, int argc, char **argv) {
    call c = {0};
    const char *path = NULL;
    const cmd_option options[] = {
        {"logbook", "FILE", "the logbook FILE in place of the user's own", NULL, &path},
        {"slot", "SLOT", "readings: of this slot alone", NULL, &c.slot},
        {"again", "DAYS",
         "crew: each drill is due again DAYS after its mark was reached (0: never), in place of its file's "
         "`again`",
         NULL, &c.again},
        {"json", NULL, "one JSON object a line", &c.json, NULL},
    };
    const char *words[4] = {"list"};
    int count;
    int status =
        cmd_options_read(self, options, sizeof options / sizeof options[0], argc, argv, 0, 4, words, &count);
    if (status >= 0)
        return status;
    const verb *v = find_verb(words[0], count > 0 ? (size_t)count - 1 : 0);
    if (!v)
        return CMD_UNUSABLE;
    c.words = words + 1;
    c.count = count > 0 ? (size_t)count - 1 : 0;
    return run_verb(v, &c, path);
}

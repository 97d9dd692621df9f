// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine_run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static const engine_file shared[] = {
    {"show.ini", "[show]\ntitle = Trial\ncountdown = 2 s\nlength = 60\n[limits]\narm-time = 1 s\n"},
    {"modules.csv", "name,slots\nM,16\n"},
    {"rails.csv", "name,module,first,slots,position\nA,M,1,8,left\nB,M,9,4,right\nC,M,13,2,\n"},
    {"effects.csv", "name,lead,lasts,zone\nfountain,0,10,ground\ncomet,0.5,2,aerial\n"
                    "mine,0.2,0,near\nshell,3.5,3,aerial\n"},
    {"positions.csv", "name,x,y\nleft,-10,5\nright,10,5\n"},
    {"profiles.csv", "name,channels,home,hazard,enable,fire\nlamp,dim red,0 7,,,\n"
                     "burner,permit flame dim,0 0 3,flame,permit 128-255,flame 1-255\n"},
    {"fixtures.csv", "name,profile,address,position\nL1,lamp,1,left\nL2,lamp,3,right\n"
                     "F1,burner,11,left\nF2,burner,21,right\n"},
    {"groups.csv", "name,members\nlamps,L1 L2\nflames,F1 F2\nrack,A-01 A-02\n"},
};

// ---- shows ----------------------------------------------------------------------------------

static const engine_file *find_file(const engine_file *files, const char *name) {
    for (; files && files->name; files++)
        if (strcmp(files->name, name) == 0)
            return files;
    return NULL;
}

static void write_file(const char *folder, const engine_file *file) {
    char path[256];
    snprintf(path, sizeof path, "%s/%s", folder, file->name);
    FILE *stream = fopen(path, "w");
    assert_non_null(stream);
    assert_true(fputs(file->text, stream) >= 0);
    assert_int_equal(fclose(stream), 0);
}

void engine_folder_write(const char *folder, const char *cues, const engine_file *changes) {
    for (size_t i = 0; i < sizeof shared / sizeof *shared; i++)
        if (!find_file(changes, shared[i].name))
            write_file(folder, &shared[i]);
    for (const engine_file *file = changes; file && file->name; file++)
        write_file(folder, file);
    sm_text table = {0};
    bool has_header = strncmp(cues, "time,", 5) == 0;
    sm_text_printf(&table, "%s%s", has_header ? "" : "time,target,do,fade,lasts\n", cues);
    write_file(folder, &(engine_file){"cues.csv", sm_text_get(&table)});
    sm_text_deinit(&table);
}

void engine_folder_remove(const char *folder) {
    static const char *const others[] = {"cues.csv",  "readings.csv", "walk.csv",
                                         "feeds.csv", "script",       "log"};
    char path[256];
    for (size_t i = 0; i < sizeof shared / sizeof *shared; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, shared[i].name);
        unlink(path);
    }
    for (size_t i = 0; i < sizeof others / sizeof *others; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, others[i]);
        unlink(path);
    }
    assert_int_equal(rmdir(folder), 0);
}

sm_show *engine_show(const char *cues, const engine_file *changes) {
    char folder[] = "/tmp/slowmatch-engine-XXXXXX";
    assert_non_null(mkdtemp(folder));
    engine_folder_write(folder, cues, changes);
    sm_findings *findings = sm_findings_create();
    assert_non_null(findings);
    sm_show *show = NULL;
    sm_result result = sm_show_load(folder, &(sm_show_load_options){0}, findings, &show);
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        const sm_finding *finding = sm_findings_at(findings, i);
        if (finding->severity == SM_ERROR)
            print_error("%s:%u: %s\n", finding->file, finding->line, finding->message);
    }
    sm_findings_destroy(findings);
    engine_folder_remove(folder);
    assert_int_equal(result, SM_OK);
    return show;
}

uint32_t engine_channel(const sm_show *show, const char *fixture, const char *channel) {
    const sm_fixture *row = &show->fixtures[sm_fixture_find(show, fixture)];
    const sm_profile *profile = &show->profiles[row->profile];
    for (uint32_t c = 0; c < profile->channel_count; c++)
        if (strcmp(profile->channels[c], channel) == 0)
            return row->channel_base + c;
    fail_msg("%s has no channel %s", fixture, channel);
    return 0;
}

uint32_t engine_slot(const sm_show *show, const char *slot) {
    uint32_t number = 0;
    assert_int_equal(sm_slot_find(show, slot, strlen(slot), &number), SM_OK);
    return number;
}

// ---- rows -----------------------------------------------------------------------------------

static void put_time(sm_text *out, sm_us us) {
    char text[24];
    sm_us_format(text, us);
    size_t length = strlen(text);
    while (text[length - 1] == '0')
        length--;
    length -= text[length - 1] == '.';
    sm_text_append(out, text, length);
    sm_text_append(out, ",", 1);
}

static void take_row(void *context, const sm_log_row *row) {
    engine_run *run = context;
    sm_log_row_format(&run->log, row);
    if (row->kind.what == SM_LOG_ALERT) // follows from the rows before it: alerts_test holds that
        return;
    sm_text *out = &run->rows;
    put_time(out, row->wall.us);
    if (row->has_show)
        put_time(out, row->show.us);
    else
        sm_text_append(out, ",", 1);
    sm_text_printf(out, "%s,%s,%s,%s,%s", sm_source_text(row->source), sm_log_word(row->kind), row->cue,
                   row->target, row->detail);
    if (row->late_us != 0)
        sm_text_printf(out, " late %lld", (long long)row->late_us);
    sm_text_append(out, "\n", 1);
}

void engine_expect_at(engine_run *run, const char *expected, const char *file, int line) {
    const char *rows = sm_text_get(&run->rows);
    for (const char *look = strstr(rows, ",note,,look,\n"); look; look = strstr(rows, ",note,,look,\n"))
        rows = strchr(look, '\n') + 1;
    if (strcmp(rows, expected) != 0) {
        print_error("%s\nexpected:\n%s\nlogged:\n%s\n", run->says ? run->says : "", expected, rows);
        _fail(file, line);
    }
    sm_text_clear(&run->rows);
}

// ---- running --------------------------------------------------------------------------------

void engine_run_init(engine_run *run, const sm_show *show, const sm_rehearsal_options *options) {
    *run = (engine_run){.show = show};
    sm_rehearsal_options own = options ? *options : (sm_rehearsal_options){0};
    own.sink = take_row;
    own.sink_context = run;
    assert_int_equal(sm_rehearsal_create(show, &own, &run->rehearsal), SM_OK);
    assert_int_equal(sm_snapshot_create(show, &run->snapshot), SM_OK);
}

void engine_run_deinit(engine_run *run) {
    sm_rehearsal_destroy(run->rehearsal);
    sm_operator_destroy(run->operator_);
    sm_snapshot_destroy(run->snapshot);
    sm_text_deinit(&run->log);
    sm_text_deinit(&run->rows);
}

static sm_wall_time wall(double at_s) {
    return (sm_wall_time){(sm_us)(at_s * 1e6 + 0.5)};
}

sm_result engine_act_from(engine_run *run, double at_s, const char *text, sm_source source) {
    sm_action action;
    char why[200] = "";
    size_t at;
    if (sm_action_read(run->show, text, strlen(text), &action, why, &at) != SM_OK)
        fail_msg("%s: %s", text, why);
    run->now = wall(at_s);
    return sm_rehearsal_act(run->rehearsal, &action, source, run->now);
}

sm_result engine_act(engine_run *run, double at_s, const char *action) {
    return engine_act_from(run, at_s, action, SM_SOURCE_CONSOLE);
}

void engine_to(engine_run *run, double at_s) {
    run->now = wall(at_s);
    assert_int_equal(sm_rehearsal_run(run->rehearsal, run->now), SM_OK);
}

const sm_snapshot *engine_look(engine_run *run) {
    sm_rehearsal_snapshot(run->rehearsal, run->now, run->snapshot);
    return run->snapshot;
}

static void read_script(engine_run *run, const char *script) {
    sm_operator_destroy(run->operator_);
    run->operator_ = NULL;
    if (!script) {
        assert_int_equal(sm_operator_builtin(run->show, &run->operator_), SM_OK);
        return;
    }
    sm_findings *findings = sm_findings_create();
    assert_non_null(findings);
    sm_result result =
        sm_operator_read(run->show, "script", script, strlen(script), findings, &run->operator_);
    for (size_t i = 0; i < sm_findings_count(findings); i++)
        print_error("script:%u: %s\n", sm_findings_at(findings, i)->line,
                    sm_findings_at(findings, i)->message);
    sm_findings_destroy(findings);
    assert_int_equal(result, SM_OK);
}

sm_operator_word engine_play(engine_run *run, const char *script) {
    read_script(run, script);
    for (int steps = 0; steps < 1000000; steps++) {
        sm_wall_time acts, runs;
        sm_operator_word word = sm_operator_next(run->operator_, run->rehearsal, &acts);
        if (sm_rehearsal_is_over(run->rehearsal, word))
            return word;
        bool due = sm_rehearsal_next_due(run->rehearsal, &runs);
        if (word == SM_OPERATOR_WAIT && (!due || acts.us <= runs.us)) {
            run->now = acts;
            sm_result result = sm_rehearsal_act(run->rehearsal, sm_operator_take(run->operator_, acts),
                                                SM_SOURCE_SCRIPT, acts);
            assert_true(result == SM_OK || result == SM_REFUSED);
        } else {
            assert_true(due);
            run->now = runs;
            assert_int_equal(sm_rehearsal_run(run->rehearsal, runs), SM_OK);
        }
    }
    fail_msg("the script goes on for ever");
    return SM_OPERATOR_OUT;
}

void engine_run_case(const engine_case *one, const engine_file *changes) {
    sm_show *show = engine_show(one->cues, changes);
    engine_run run;
    engine_run_init(&run, show, NULL);
    (void)engine_play(&run, one->script);
    run.says = one->says;
    engine_expect(&run, one->rows);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

void engine_run_cases(const engine_case *cases, size_t count) {
    for (size_t i = 0; i < count; i++)
        engine_run_case(&cases[i], NULL);
}

void engine_expect_caution(engine_run *run, const char *line, const char *expected) {
    sm_action action;
    char why[200];
    size_t at;
    sm_text text = {0};
    assert_int_equal(sm_action_read(run->show, line, strlen(line), &action, why, &at), SM_OK);
    sm_rehearsal_caution(run->rehearsal, &action, &text);
    assert_string_equal(sm_text_get(&text), expected);
    sm_text_deinit(&text);
}

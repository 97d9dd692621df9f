// SPDX-License-Identifier: GPL-3.0-or-later
#include "drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

sm_show *drill_play_show(const char *folder) {
    sm_findings *findings = sm_findings_create();
    static const sm_show_load_options options = {0};
    sm_show *show = NULL;
    assert_non_null(findings);
    sm_result result = sm_show_load(folder, &options, findings, &show);
    for (size_t i = 0; i < sm_findings_count(findings); i++)
        print_message("%s\n", sm_findings_at(findings, i)->message);
    assert_int_equal(result, SM_OK);
    sm_findings_destroy(findings);
    return show;
}

int drill_play_load_demo(void **state) {
    *state = drill_play_show("demo-shows/lantern-quay");
    return 0;
}

int drill_play_drop_demo(void **state) {
    sm_show_destroy(*state);
    return 0;
}

static char *say_findings(const sm_findings *findings) {
    sm_text text = {0};
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        const sm_finding *f = sm_findings_at(findings, i);
        sm_text_printf(&text, "%u:%u %s [%s]\n", f->line, f->column, f->message, f->rule);
    }
    char *said = strdup(sm_text_get(&text));
    sm_text_deinit(&text);
    return said;
}

sm_drill *drill_play_read(const sm_show *show, const char *text) {
    sm_findings *findings = sm_findings_create();
    sm_drill *drill = NULL;
    char *bytes = strdup(text);
    sm_result result = sm_drill_read(show, "drills/test.ini", bytes, strlen(bytes), findings, &drill);
    if (result != SM_OK)
        fail_msg("%s", say_findings(findings));
    free(bytes);
    sm_findings_destroy(findings);
    return drill;
}

sm_drill *drill_play_load(const sm_show *show, const char *name) {
    sm_findings *findings = sm_findings_create();
    sm_drill *drill = NULL;
    if (sm_drill_load(show, name, findings, &drill) != SM_OK)
        fail_msg("%s: %s", name, say_findings(findings));
    sm_findings_destroy(findings);
    return drill;
}

char *drill_play_findings(const sm_show *show, const char *text) {
    sm_findings *findings = sm_findings_create();
    sm_drill *drill = NULL;
    char *bytes = strdup(text);
    assert_int_equal(sm_drill_read(show, "drills/test.ini", bytes, strlen(bytes), findings, &drill),
                     SM_INVALID);
    assert_null(drill);
    free(bytes);
    sm_findings_sort(findings);
    char *said = say_findings(findings);
    sm_findings_destroy(findings);
    return said;
}

// ---- playing --------------------------------------------------------------------------------

typedef struct line {
    const drill_play_line *as;
    bool based, done;
    sm_wall_time due;
} line;

typedef struct player {
    sm_drill_run *run;
    const sm_drill *drill;
    line lines[DRILL_PLAY_LINES];
    size_t count;
    bool entered[SM_STATE_COUNT];
    sm_wall_time entered_at[SM_STATE_COUNT];
    const drill_play_options *options;
} player;

static void hear(void *context, const sm_log_row *row) {
    player *p = context;
    if (row->kind.what == SM_LOG_STATE && !p->entered[row->kind.state]) {
        p->entered[row->kind.state] = true;
        p->entered_at[row->kind.state] = row->wall;
    }
    if (p->options && p->options->sink)
        p->options->sink(p->options->sink_context, row);
}

size_t drill_play_read_lines(const sm_drill *drill, const char *script, drill_play_line *lines) {
    size_t count = 0;
    for (const char *at = script; *at != '\0'; count++) {
        size_t length = strcspn(at, "\n");
        char text[256], why[200];
        assert_true(length < sizeof text && count < DRILL_PLAY_LINES);
        drill_play_line *l = &lines[count];
        snprintf(text, sizeof text, "%.*s", (int)length, at);
        l->instructor = text[0] == '!';
        int used = 0;
        size_t fault = 0;
        if (sscanf(text + l->instructor, "%47s %lf %n", l->what, &l->seconds, &used) < 2)
            fail_msg("no line of a script: %s", text);
        const char *action = text + l->instructor + used;
        if (sm_action_read(drill->show, action, strlen(action), &l->action, why, &fault) != SM_OK)
            fail_msg("%s: %s", action, why);
        at += length + (at[length] == '\n');
    }
    return count;
}

static bool came(const player *p, const char *what, sm_wall_time *at) {
    *at = (sm_wall_time){0};
    if (strcmp(what, "begin") == 0)
        return true;
    for (int state = 0; state < SM_STATE_COUNT; state++)
        if (strcmp(what, sm_state_text((sm_state)state)) == 0) {
            *at = p->entered_at[state];
            return p->entered[state];
        }
    for (uint32_t i = 0; i < p->drill->event_count; i++)
        if (strcmp(p->drill->events[i].name, what) == 0)
            return sm_drill_event_came(p->run, i, at);
    for (uint32_t i = 0; i < p->drill->expect_count; i++)
        if (strcmp(p->drill->expects[i].name, what) == 0) {
            *at = sm_drill_mark_at(p->run, i).at;
            return sm_drill_mark_at(p->run, i).decided;
        }
    fail_msg("the drill has no %s", what);
    return false;
}

static line *next_line(player *p) {
    line *next = NULL;
    for (size_t i = 0; i < p->count; i++) {
        line *l = &p->lines[i];
        sm_wall_time at;
        if (!l->based && !l->done && came(p, l->as->what, &at)) {
            l->based = true;
            l->due.us = at.us + (sm_us)(l->as->seconds * 1e6 + 0.5);
        }
        if (l->based && !l->done && (!next || l->due.us < next->due.us))
            next = l;
    }
    return next;
}

// Looks every half second up to what comes next, the line L or what is DUE (NULL: none).
static void look_on_the_way(player *p, const line *l, const sm_wall_time *due) {
    if (!p->options || !p->options->look)
        return;
    sm_us until = due ? due->us : SM_UNSET_US;
    if (l && (!due || l->due.us < until))
        until = l->due.us;
    sm_us now = sm_rehearsal_facts(sm_drill_rehearsal(p->run)).now.us;
    p->options->look(p->options->sink_context, p->run);
    for (sm_us at = now + SM_US_PER_S / 2; until != SM_UNSET_US && at < until; at += SM_US_PER_S / 2) {
        assert_int_equal(sm_drill_run_to(p->run, (sm_wall_time){at}), SM_OK);
        p->options->look(p->options->sink_context, p->run);
    }
}

sm_drill_run *drill_play_lines(const sm_drill *drill, const drill_play_line *lines, size_t count,
                               const drill_play_options *options) {
    player p = {.drill = drill, .options = options, .count = count};
    assert_true(count <= DRILL_PLAY_LINES);
    for (size_t i = 0; i < count; i++)
        p.lines[i].as = &lines[i];
    const sm_drill_options run_options = {.seed = options ? options->seed : (uint64_t)drill->seed,
                                          .bare = options && options->bare,
                                          .no_alerts = options && options->no_alerts,
                                          .sink = hear,
                                          .sink_context = &p};
    assert_int_equal(sm_drill_run_create(drill, &run_options, &p.run), SM_OK);
    for (;;) {
        sm_wall_time due;
        line *l = next_line(&p);
        bool runs = sm_drill_next_due(p.run, &due);
        look_on_the_way(&p, l, runs ? &due : NULL);
        if (l && (!runs || l->due.us <= due.us)) {
            l->done = true;
            sm_result result = sm_drill_act(
                p.run, &l->as->action, l->as->instructor ? SM_SOURCE_INSTRUCTOR : SM_SOURCE_SCRIPT, l->due);
            assert_true(result == SM_OK || result == SM_REFUSED);
        } else if (runs) {
            assert_int_equal(sm_drill_run_to(p.run, due), SM_OK);
        } else {
            break;
        }
    }
    assert_int_equal(sm_drill_finish(p.run, (sm_wall_time){0}), SM_OK);
    return p.run;
}

sm_drill_run *drill_play(const sm_drill *drill, const char *script, const drill_play_options *options) {
    drill_play_line lines[DRILL_PLAY_LINES];
    return drill_play_lines(drill, lines, drill_play_read_lines(drill, script, lines), options);
}

sm_drill_run *drill_play_plain(const sm_drill *drill, const char *script) {
    return drill_play(drill, script, NULL);
}

// ---- marks -------------------------------------------------------------------------------------

static bool find_mark(const sm_drill_run *run, const char *name, sm_drill_mark *out) {
    for (uint32_t i = 0; i < sm_drill_mark_count(run); i++) {
        *out = sm_drill_mark_at(run, i);
        if (strcmp(out->name, name) == 0)
            return true;
    }
    return false;
}

int drill_play_got(const sm_drill_run *run, const char *name) {
    sm_drill_mark mark;
    if (!find_mark(run, name, &mark))
        fail_msg("no mark %s", name);
    return mark.got;
}

bool drill_play_has_mark(const sm_drill_run *run, const char *name) {
    sm_drill_mark mark;
    return find_mark(run, name, &mark);
}

void drill_play_debrief(const sm_drill_run *run, sm_text *out) {
    sm_debrief *debrief = NULL;
    if (sm_debrief_create(run, &debrief) != SM_OK) {
        out->failed = true;
        return;
    }
    sm_debrief_text(debrief, 80, out);
    sm_debrief_destroy(debrief);
}

void drill_play_expect_score(const sm_drill *drill, const char *who, const char *script, int score) {
    sm_drill_run *run = drill_play_plain(drill, script);
    if (sm_drill_score(run) != score) {
        sm_text text = {0};
        drill_play_debrief(run, &text);
        fputs(sm_text_get(&text), stderr);
        sm_text_deinit(&text);
        fail_msg("%s, %s: %d, not %d", drill->name, who, sm_drill_score(run), score);
    }
    assert_int_equal(sm_drill_passed(run), score >= drill->pass && sm_drill_rules_broken(run) == 0);
    sm_drill_run_destroy(run);
}

void drill_play_follow_hint(sm_act act, const char *hint, char typed[128]) {
    char name[96] = "";
    const char *rail = strstr(hint, "rail "), *put = strstr(hint, "Put "), *asked = strstr(hint, "yet: ");
    const char *colon = strchr(hint, ':');
    if (act == SM_ACT_ASK && asked)
        sscanf(asked, "yet: %47[A-Za-z0-9]", name);
    else if (act == SM_ACT_ANSWER || act == SM_ACT_NOTE)
        snprintf(name, sizeof name, "%.90s", colon ? colon + 2 : hint);
    else if (act == SM_ACT_CALL_CLEAR || act == SM_ACT_ENTER || act == SM_ACT_LEAVE)
        strcpy(name, "K");
    else if (put)
        sscanf(put, "Put %47s", name);
    else if (rail && (act == SM_ACT_PLUG || act == SM_ACT_UNPLUG))
        sscanf(rail, "rail %47[A-Za-z0-9]", name);
    snprintf(typed, 128, "%s%s%s", sm_action_row_of(act)->name, name[0] != '\0' ? " " : "", name);
}

int drill_play_marks_to_earn(const sm_drill *drill) {
    int marks = 0;
    for (uint32_t e = 0; e < drill->expect_count; e++) {
        const sm_drill_expect *x = &drill->expects[e];
        bool stop =
            x->action.act == SM_ACT_PAUSE || x->action.act == SM_ACT_SAFE || x->action.act == SM_ACT_KEY_OFF;
        marks += x->marks;
        assert_true(stop ? x->within_us < 60 * SM_US_PER_S : x->within_us >= 120 * SM_US_PER_S);
        assert_int_equal(x->late_none, !stop);
        assert_true(x->say[0] != '\0' && (drill->hints == SM_HINTS_NONE || x->hint[0] != '\0'));
    }
    for (uint32_t b = 0; b < drill->before_count; b++)
        marks += drill->befores[b].marks;
    return marks;
}

sm_result drill_play_act(sm_drill_run *run, double at_s, const char *text, sm_source source) {
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(sm_drill_of(run)->show, text, strlen(text), &action, why, &at), SM_OK);
    return sm_drill_act(run, &action, source, (sm_wall_time){(sm_us)(at_s * 1e6)});
}

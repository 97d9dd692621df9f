// SPDX-License-Identifier: GPL-3.0-or-later
// The vocabulary: how a line is read and what is wrong with one that cannot be, undo, marks, readings, reload, and the log's records.
#include "support/engine_run.h"

#include "slowmatch/inject.h"
#include "slowmatch/rig_explainer.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define PAIR "1,A-01,mine,,\n2,A-02,mine,,\n"

static const struct {
    const char *line, *target, *detail;
} readable[] = {
    {"key on", "on", ""},
    {"  key \t off ", "off", ""},
    {"call-clear", "", ""},
    {"call-clear  Ann Lee ", "Ann Lee", ""},
    {"enter Ann Lee", "Ann Lee", ""},
    {"seek 0:20.500", "0:20.500", ""},
    {"seek 01:00:20:12", "01:00:20:12", ""},
    {"seek the second half", "the second half", ""},
    {"speed 0.5", "0.5", ""},
    {"repeat 1 2", "1", "2"},
    {"repeat 1 2 rerig", "1", "2 rerig"},
    {"repeat off", "off", ""},
    {"mark the second half", "the second half", ""},
    {"inhibit A-1", "A-01", ""},
    {"inhibit aerial", "aerial", ""},
    {"measure", "", ""},
    {"measure A", "A", ""},
    {"read A-1 1.83", "A-01", "1.83"},
    {"read A-01 open", "A-01", "open"},
    {"report B-4", "B-04", ""},
    {"wind 5 m/s", "5 m/s", ""},
    {"wind 12kn", "12kn", ""},
    {"waive rails A is cut by K", "rails", "A is cut by K"},
    {"tick fence yes", "fence", "yes"},
    {"tick wind later 3.5 m/s at the mast", "wind", "later 3.5 m/s at the mast"},
    {"call K hold, hold, hold", "K", "hold, hold, hold"},
    {"answer understood", "understood", ""},
    {"note a \"quoted\", thing", "a \"quoted\", thing", ""},
    {"remote 2 arm", "", ""},
    {"volume 30", "30", ""},
};

static void lines_are_read(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t i = 0; i < COUNT(readable); i++) {
        sm_action action;
        char why[200] = "";
        size_t at;
        if (sm_action_read(show, readable[i].line, strlen(readable[i].line), &action, why, &at) != SM_OK)
            fail_msg("%s: %s", readable[i].line, why);
        assert_string_equal(action.target, readable[i].target);
        assert_string_equal(action.detail, readable[i].detail);
        assert_int_equal(action.remote, strncmp(readable[i].line, "remote", 6) == 0 ? 2 : 0);
    }
    sm_show_destroy(show);
}

static const struct {
    const char *line;
    size_t at;
    const char *why;
} wrong[] = {
    {"", 0, "an action is missing"},
    {"arn", 0, "no action 'arn'; did you mean arm?"},
    {"key", 0, "write key on or key off"},
    {"key up", 0, "write key on or key off"},
    {"arm now", 4, "'now' is too much: write arm"},
    {"seek", 4, "'seek' needs more: write seek MOMENT"},
    {"seek 1:99", 5, "'1:99' is no moment; write 0:20.000, 20.5, a timecode or the name of a mark"},
    {"speed fast", 6, "'fast' is no speed; write a number from 0.1 to 2"},
    {"plug X", 5, "no rail 'X'"},
    {"read A-09 1.8", 5, "no slot 'A-09'; write RAIL-NN as in rails.csv"},
    {"read A-01 much", 10, "'much' is no reading; write ohms, open or short"},
    {"read A-01 -1", 10, "'-1' is no reading; write ohms, open or short"},
    {"inhibit Z", 8, "no slot, rail, effect, fixture, group, position or zone 'Z'"},
    {"waive doors K", 6, "no guard 'doors'; there are key, field, clear, rails and readings"},
    {"repeat 1 2 again", 11, "'again': only the word rerig may follow"},
    {"remote two arm", 7, "'two' is no remote's number; write remote N ACTION"},
    {"remote 2", 8, "an action is missing"},
    {"tick fence perhaps", 11, "'perhaps' is no answer; write yes, no, na or later"},
    {"note a\x01z", 6, "a control character or no UTF-8 stands here; write plain text"},
};

static void what_is_wrong_with_a_line_is_said(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t i = 0; i < COUNT(wrong); i++) {
        sm_action action = {.remote = 77};
        char why[200] = "";
        size_t at = 999;
        assert_int_equal(sm_action_read(show, wrong[i].line, strlen(wrong[i].line), &action, why, &at),
                         SM_INVALID);
        assert_string_equal(why, wrong[i].why);
        assert_int_equal(at, wrong[i].at);
        assert_int_equal(action.remote, 77);
    }
    char line[400];
    memset(line, 'x', sizeof line);
    memcpy(line, "note ", 5);
    sm_action action;
    char why[200] = "";
    size_t at;
    assert_int_equal(sm_action_read(show, line, sizeof line, &action, why, &at), SM_INVALID);
    assert_string_equal(why, "too long: 395 bytes, at most 95");
    sm_show_destroy(show);
}

// ---- what an action in part means -----------------------------------------------------------------

static sm_action read_partly(const sm_show *show, const char *line) {
    sm_action action;
    char why[200] = "";
    size_t at;
    if (sm_action_read_partly(show, line, strlen(line), &action, why, &at) != SM_OK)
        fail_msg("%s: %s", line, why);
    return action;
}

// "action matches by name and by the arguments given": in lines that all differ, a line is met by itself alone, and its first word by
// all that begin with it.
static void a_pattern_is_met_by_what_it_gives(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t p = 0; p < COUNT(readable); p++) {
        const sm_action whole = read_partly(show, readable[p].line);
        const bool bare = whole.target[0] == '\0'; // gives nothing: met by all of its name
        for (size_t a = 0; a < COUNT(readable); a++) {
            const sm_action action = read_partly(show, readable[a].line);
            const bool met = a == p || (bare && whole.remote == 0 && whole.act == action.act);
            if (sm_action_matches(&whole, &action) != met)
                fail_msg("'%s' %s '%s'", readable[a].line, met ? "does not meet" : "meets", readable[p].line);
        }
    }
    sm_show_destroy(show);
}

static void arguments_are_compared_as_what_they_mean(void **state) {
    (void)state;
    static const struct {
        const char *pattern, *action;
        bool met;
    } rows[] = {
        {"key on", "key off", false},
        {"wind", "wind 5 m/s", true},
        {"wind 5 m/s", "wind 5", true},
        {"wind 18 km/h", "wind 5 m/s", true}, // 3.6 km/h are 1 m/s
        {"wind 5 m/s", "wind 6 m/s", false},
        {"volume 30", "volume 30 %", true},
        {"volume 30", "volume 31", false},
        {"speed .5", "speed 0.50", true},
        {"speed 0.5", "speed 0.6", false},
        {"seek 20", "seek 0:20.000", true},
        {"seek 20", "seek 0:20.001", false},
        {"seek the second half", "seek the second half", true},
        {"seek the second half", "seek the first half", false},
        {"seek here", "seek 20", false},
        {"seek 20", "seek here", false},
        {"repeat 1", "repeat 0:01 2", true},
        {"repeat 1", "repeat 1.5 2", false},
        {"repeat 1 2", "repeat 1 2", true},
        {"repeat 1 2", "repeat 1 3", false},
        {"repeat 1 2", "repeat off", false},
        {"start-in 90 s", "start-in 1:30", true},
        {"start-in 90 s", "start-in 91 s", false},
        {"read", "read A-01 open", true},
        {"read A-1", "read A-01 open", true},
        {"read A-01 open", "read A-01 short", false},
        {"read A-01", "read A-02 open", false},
        {"inhibit A-1", "inhibit A-01", true},
        {"call K", "call K hold", true},
        {"call K hold", "call K go on", false},
        {"remote 2 arm", "remote 2 arm", true},
        {"remote 2 arm", "remote 3 arm", false},
        {"remote 2 arm", "arm", false},
        {"arm", "remote 2 arm", true}, // whoever does it
        {"arm", "start", false},
    };
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t i = 0; i < COUNT(rows); i++) {
        const sm_action pattern = read_partly(show, rows[i].pattern),
                        action = read_partly(show, rows[i].action);
        if (sm_action_matches(&pattern, &action) != rows[i].met)
            fail_msg("'%s' %s '%s'", rows[i].action, rows[i].met ? "does not meet" : "meets",
                     rows[i].pattern);
    }
    sm_show_destroy(show);
}

// Of each action: its name alone is read in part, and in whole only where nothing is needed; one word too many is refused where the last
// argument is one word.
static void what_an_action_needs_may_be_left_out_of_a_pattern(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    for (int act = 0; act < SM_ACT_COUNT; act++) {
        const sm_action_row *row = sm_action_row_of((sm_act)act);
        sm_action action;
        char why[200] = "";
        size_t at;
        assert_int_equal(read_partly(show, row->name).act, act);
        const sm_result whole = sm_action_read(show, row->name, strlen(row->name), &action, why, &at);
        assert_int_equal(whole, row->needed > 0 ? SM_INVALID : SM_OK);
        if (whole == SM_INVALID)
            assert_non_null(strstr(why, " needs more: write "));
    }
    sm_show_destroy(show);
}

static const engine_case undos[] = {
    {"undo takes back the last reading, mark, tick or note, and nothing else", PAIR,
     "0 undo\n0 read A-01 open\n0 key on\n0 mark here\n0 tick x yes\n0 note look here\n0 undo\n0 undo\n0 "
     "undo\n0 seek here\n0 undo\n0 undo\n",
     "0,,script,refused,,undo,no reading, mark, tick, note or proposal to take back\n"
     "0,,script,read,,A-01,open\n"
     "0,,script,key,,on,\n"
     "0,,script,mark,,here,\n"
     "0,,script,tick,,x,yes\n"
     "0,,script,note,,look here,\n"
     "0,,script,undo,,,note\n"
     "0,,script,undo,,,tick\n"
     "0,,script,undo,,,mark\n"
     "0,,script,refused,,seek,no mark here\n"
     "0,,script,undo,,,read A-01\n"
     "0,,script,refused,,undo,no reading, mark, tick, note or proposal to take back\n"},
    {"several at once, at most those there are", PAIR,
     "0 note look\n0 read A-01 open\n0 read A-02 short\n0 mark here\n0 undo 2\n0 read A-02 2\n0 undo 9\n0 "
     "undo\n",
     "0,,script,read,,A-01,open\n"
     "0,,script,read,,A-02,short\n"
     "0,,script,mark,,here,\n"
     "0,,script,undo,,2,mark and 1 before it\n"
     "0,,script,read,,A-02,2\n"
     "0,,script,undo,,9,read A-02 and 2 before it\n"
     "0,,script,refused,,undo,no reading, mark, tick, note or proposal to take back\n"},
    {"of two marks of one name the first is meant", "",
     "0 seek 5\n0 mark x\n0 seek 7\n0 mark x\n0 mark y\n0 seek x\n0 note look\n0 seek y\n0 note a\n",
     "0,5,script,seek,,y,\n0,7,script,note,,a,\n"},
};

static void undo_takes_back(void **state) {
    (void)state;
    engine_run_cases(undos, COUNT(undos));
}

static void expect_slot(engine_run *run, const char *slot, sm_verdict verdict, const char *reading) {
    const sm_slot_view *view = &engine_look(run)->slots[engine_slot(run->show, slot)];
    char text[24];
    assert_string_equal(sm_verdict_text(view->verdict), sm_verdict_text(verdict));
    assert_string_equal(sm_read_value_format(text, view->reading), reading);
}

static void act_ok(engine_run *run, double at_s, const char *action) {
    if (engine_act(run, at_s, action) != SM_OK)
        fail_msg("%s: %s", action, sm_rehearsal_refusal(run->rehearsal));
}

// The default igniter: 1.6 ohm with a pair of 2 m of 24 AWG at 15 C (0.33 ohm, recomputed from IEC 60028) reads 1.93 ohm.
static void readings_follow_the_field_and_the_field_readings_by_hand(void **state) {
    (void)state;
    static const engine_file changes[] = {{"readings.csv", "rail,slot,reading\nA,2,short\n"}, {NULL, NULL}};
    sm_show *show = engine_show(PAIR, changes);
    engine_run run;
    engine_run_init(&run, show, NULL);
    expect_slot(&run, "A-01", SM_VERDICT_UNREAD, "");
    expect_slot(&run, "A-02", SM_VERDICT_SHORT, "short");
    act_ok(&run, 0, "measure");
    expect_slot(&run, "A-01", SM_VERDICT_GOOD, "1.93");
    expect_slot(&run, "A-02", SM_VERDICT_SHORT, "short");
    expect_slot(&run, "A-03", SM_VERDICT_SPARE, "open");
    act_ok(&run, 0, "read A-02 1.9");
    expect_slot(&run, "A-02", SM_VERDICT_GOOD, "1.90");
    act_ok(&run, 0, "undo");
    expect_slot(&run, "A-02", SM_VERDICT_SHORT, "short");
    act_ok(&run, 0, "repair A-02");
    expect_slot(&run, "A-02", SM_VERDICT_UNREAD, "");
    assert_int_equal(engine_act(&run, 0, "undo"), SM_REFUSED);
    act_ok(&run, 1, "unplug A");
    expect_slot(&run, "A-01", SM_VERDICT_UNPLUGGED, "1.93");
    act_ok(&run, 1, "measure A");
    act_ok(&run, 1, "plug A");
    expect_slot(&run, "A-02", SM_VERDICT_UNREAD, "");
    act_ok(&run, 2, "measure A");
    expect_slot(&run, "A-02", SM_VERDICT_GOOD, "1.93");
    assert_int_equal(engine_look(&run)->slots[engine_slot(show, "A-02")].read_at.us, 2000000);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void a_spent_slot_reads_open_until_rerigged(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    (void)engine_play(&run, ENGINE_START "4 safe\n4 measure\n4 call-clear\n4 note look\n4 arm\n4 rerig\n4 "
                                         "call-clear\n4 arm\n5 start\n8 safe\n");
    engine_expect(&run, "4,,script,refused,,arm,readings\n"
                        "4,,script,rerig,,,\n"
                        "4,,engine,guard,,clear,NOT MET, lapsed: re-rigged\n"
                        "4,,script,call-clear,,,\n"
                        "4,,script,arm,,,\n"
                        "4,,engine,state,,arming,safe\n"
                        "5,,engine,state,,armed,arming\n"
                        "5,,script,start,,,\n"
                        "5,-2,engine,state,,running,armed\n"
                        "7.8,0.8,engine,fire,1,A-01,mine\n"
                        "8,1,script,safe,,,\n"
                        "8,,engine,state,,safe,running\n"
                        "8,,engine,guard,,clear,NOT MET, lapsed: made safe\n");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// What has fired reads open, and that is no cut cable: four slots in a row would otherwise be one.
static void what_is_spent_reads_as_spent(void **state) {
    (void)state;
    sm_show *show = engine_show("1,A-01 A-02 A-03 A-04,mine,,\n9,A-05 A-06,mine,,\n", NULL);
    engine_run run;
    sm_rig_explainer explainer = {0};
    engine_run_init(&run, show, NULL);
    (void)engine_play(&run, ENGINE_START "6 safe\n6 measure\n");
    const sm_snapshot *now = engine_look(&run);
    assert_int_equal(now->slots[engine_slot(show, "A-01")].reading.kind, SM_READ_OPEN);
    assert_int_equal(now->slots[engine_slot(show, "A-05")].verdict, SM_VERDICT_GOOD);
    assert_string_equal(now->guards[SM_GUARD_READINGS].why, "A-01 spent, A-02 spent, A-03 spent and 1 more");
    assert_string_equal(sm_rig_explainer_look(&explainer, now), "");
    sm_rig_explainer_deinit(&explainer);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// Hands and feet only while safe with the key off, nobody at product during a measurement: common practice, no source.
static void what_is_done_all_the_same_is_cautioned_of(void **state) {
    (void)state;
    static const engine_file waits[] = {
        {"show.ini",
         "[show]\ntitle=t\nlength=60\ncountdown=2\n[limits]\narm-time=1\nreentry-wait=5\nmisfire-wait=30\n"},
        {NULL, NULL}};
    sm_show *show = engine_show(PAIR, waits);
    engine_run run;
    engine_run_init(&run, show, NULL);
    const char *const quiet[] = {"enter K", "unplug A", "key on", "measure", "note x", "call-clear J"};
    for (size_t i = 0; i < COUNT(quiet); i++)
        engine_expect_caution(&run, quiet[i], "");
    engine_expect_caution(&run, "repair A-01", "its rail is plugged: unplug it at the module end first");
    act_ok(&run, 0, "enter K");
    engine_expect_caution(&run, "key on", "1 in the field: K");
    engine_expect_caution(&run, "measure A", "1 in the field: K");
    engine_expect_caution(&run, "plug A", "1 in the field: K");
    act_ok(&run, 0, "key on");
    engine_expect_caution(&run, "unplug A", "the module is safe with the key ON");
    act_ok(&run, 0, "unplug A");
    act_ok(&run, 0, "plug A");
    act_ok(&run, 0, "leave K");
    (void)engine_play(&run, ENGINE_START "4.1 safe\n4.1 key off\n4.2 note x\n");
    engine_expect_caution(&run, "enter K", "the wait has 4:59 to run");
    engine_expect_caution(&run, "measure", "the wait has 4:59 to run");
    (void)engine_play(&run, "5 rerig\n5 key on\n5 call-clear\n5 arm\n5.5 unplug A\n5.5 call-clear\n6 start\n"
                            "9 safe\n9 note x\n");
    engine_expect_caution(&run, "measure A", "the wait has 30:00 to run; 1 misfired and not reported");
    engine_expect_caution(
        &run, "enter K",
        "the module is safe with the key ON; the wait has 30:00 to run; 1 misfired and not reported");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// Long lists of names are cut between characters, never in one.
static void a_long_reason_is_cut_at_a_character(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    for (int i = 0; i < 12; i++) {
        char enter[64];
        snprintf(enter, sizeof enter, "enter %d\u00e4\u00f6\u00fc\u00e4\u00f6\u00fc\u00e4\u00f6\u00fc\u00e4",
                 i);
        act_ok(&run, 0, enter);
    }
    const char *why = engine_look(&run)->guards[SM_GUARD_FIELD].why;
    size_t length = strlen(why);
    assert_in_range(length, 150, 159);
    for (size_t i = 0; i < length;) {
        size_t next = sm_utf8_length(why + i, length - i);
        assert_true(next > 0);
        i += next;
    }
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void fill_run_for_reload(engine_run *run) {
    act_ok(run, 0, "plug B");
    act_ok(run, 0, "plug A");
    act_ok(run, 0, "read A-02 short");
    act_ok(run, 0, "inhibit A-02");
    act_ok(run, 0, "inhibit aerial");
    act_ok(run, 0, "inhibit F1");
    act_ok(run, 0, "enter K");
    act_ok(run, 0, "seek 9");
}

// Rails in another order, A shorter, one fixture gone, another cue list: what is kept is kept by name.
static void a_reload_keeps_by_name(void **state) {
    (void)state;
    static const engine_file changes[] = {
        {"rails.csv", "name,module,first,slots,position\nD,M,14,2,\nB,M,9,4,right\nA,M,1,3,left\n"},
        {"fixtures.csv", "name,profile,address,position\nF2,burner,21,right\nF1,burner,11,left\n"},
        {"groups.csv", "name,members\nrack,A-01 A-02\n"},
        {NULL, NULL}};
    sm_show *old = engine_show("1,A-01,mine,,\n2,A-02,mine,,\n3,L1,dim=9,,\n", NULL);
    sm_show *fresh =
        engine_show("1,B-01,comet,,\n2,A-02,mine,,\n3,F1,permit=255,,\n4,D-01,mine,,\n", changes);
    engine_run run;
    engine_run_init(&run, old, &(sm_rehearsal_options){.bare = true});
    fill_run_for_reload(&run);
    assert_int_equal(engine_act_from(&run, 1, "reload", SM_SOURCE_SCRIPT), SM_OK);
    assert_true(sm_rehearsal_reload_asked(run.rehearsal));
    sm_text_clear(&run.rows);
    assert_int_equal(sm_rehearsal_replace_show(run.rehearsal, fresh), SM_OK);
    engine_expect(&run, "1,9,script,reload,,,\n");
    assert_false(sm_rehearsal_reload_asked(run.rehearsal));
    sm_snapshot_destroy(run.snapshot);
    assert_int_equal(sm_snapshot_create(fresh, &run.snapshot), SM_OK);
    run.show = fresh;
    sm_show_destroy(old);
    expect_slot(&run, "A-02", SM_VERDICT_SHORT, "short");
    const sm_snapshot *s = engine_look(&run);
    assert_true(s->rail_plugged[sm_rail_find(fresh, "A")]);
    assert_true(s->rail_plugged[sm_rail_find(fresh, "B")]);
    assert_false(s->rail_plugged[sm_rail_find(fresh, "D")]);
    assert_true(s->slots[engine_slot(fresh, "A-02")].inhibited);
    assert_true(s->slots[engine_slot(fresh, "B-01")].inhibited);
    assert_false(s->slots[engine_slot(fresh, "A-01")].inhibited);
    assert_true(s->fixture_inhibited[sm_fixture_find(fresh, "F1")]);
    assert_false(s->fixture_inhibited[sm_fixture_find(fresh, "F2")]);
    assert_int_equal(s->inhibit_count, 3);
    assert_int_equal(s->people_count, 1);
    assert_string_equal(s->people[0].name, "K");
    assert_int_equal(s->at.us, 0);
    assert_false(s->has_show);
    engine_run_deinit(&run);
    sm_show_destroy(fresh);
}

static void a_reload_that_failed_is_refused_and_changes_nothing(void **state) {
    (void)state;
    sm_show *show = engine_show("1,A-01,comet,,\n", NULL);
    engine_run run;
    engine_run_init(&run, show, &(sm_rehearsal_options){.bare = true});
    fill_run_for_reload(&run);
    sm_text before = {0}, after = {0};
    engine_snapshot_text(&before, engine_look(&run));
    assert_int_equal(engine_act(&run, 0, "reload"), SM_OK);
    sm_text_clear(&run.rows);
    sm_rehearsal_reload_failed(run.rehearsal, "2 errors in the folder", run.now);
    engine_expect(&run, "0,9,console,refused,,reload,2 errors in the folder\n");
    assert_string_equal(sm_rehearsal_refusal(run.rehearsal), "2 errors in the folder");
    engine_snapshot_text(&after, engine_look(&run));
    assert_string_equal(sm_text_get(&before), sm_text_get(&after));
    sm_text_deinit(&before);
    sm_text_deinit(&after);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void a_reload_waits_for_what_burns(void **state) {
    (void)state;
    static const engine_case one = {
        "", "1,A-01,comet,,\n", ENGINE_START "4 safe\n5 note look\n5 reload\n5.999 reload\n7 note x\n",
        "5,,script,refused,,reload,A-01 still burns: read the folder again when it is out\n"
        "5.999,,script,refused,,reload,A-01 still burns: read the folder again when it is out\n"
        "6,,engine,out,1,A-01,comet\n"
        "7,,script,note,,x,\n"};
    engine_run_case(&one, NULL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_are_read),
        cmocka_unit_test(what_is_wrong_with_a_line_is_said),
        cmocka_unit_test(a_pattern_is_met_by_what_it_gives),
        cmocka_unit_test(arguments_are_compared_as_what_they_mean),
        cmocka_unit_test(what_an_action_needs_may_be_left_out_of_a_pattern),
        cmocka_unit_test(undo_takes_back),
        cmocka_unit_test(readings_follow_the_field_and_the_field_readings_by_hand),
        cmocka_unit_test(a_spent_slot_reads_open_until_rerigged),
        cmocka_unit_test(what_is_spent_reads_as_spent),
        cmocka_unit_test(what_is_done_all_the_same_is_cautioned_of),
        cmocka_unit_test(a_reload_keeps_by_name),
        cmocka_unit_test(a_reload_that_failed_is_refused_and_changes_nothing),
        cmocka_unit_test(a_reload_waits_for_what_burns),
        cmocka_unit_test(a_long_reason_is_cut_at_a_character),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// A hold that any station calls by name and that is lifted only by two names; two plugs that are exchanged. Common practice of small
// crews, no source.
#include "support/engine_run.h"

#include "slowmatch/alerts.h"
#include "slowmatch/next_step.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define CUES "5,A-01,fountain,,\n6,B-01,fountain,,\n"

static const engine_file even_rails[] = {
    {"rails.csv", "name,module,first,slots,position\nA,M,1,4,left\nB,M,5,4,right\nC,M,9,2,\n"}, {NULL, NULL}};

typedef struct field {
    sm_show *show;
    engine_run run;
} field;

static void begin(field *f) {
    f->show = engine_show(CUES, even_rails);
    engine_run_init(&f->run, f->show, NULL);
}

static void end(field *f) {
    engine_run_deinit(&f->run);
    sm_show_destroy(f->show);
}

static void ok(field *f, double at_s, const char *line) {
    if (engine_act(&f->run, at_s, line) != SM_OK)
        fail_msg("%s: %s", line, sm_rehearsal_refusal(f->run.rehearsal));
}

static void refused(field *f, double at_s, const char *line, const char *why) {
    assert_int_equal(engine_act(&f->run, at_s, line), SM_REFUSED);
    assert_string_equal(sm_rehearsal_refusal(f->run.rehearsal), why);
}

static void to_armed(field *f) {
    ok(f, 0, "call-clear J");
    ok(f, 0, "key on");
    ok(f, 0, "arm");
    engine_to(&f->run, 1);
}

static void a_hold_stops_at_once_and_two_names_lift_it(void **state) {
    (void)state;
    field f;
    begin(&f);
    to_armed(&f);
    ok(&f, 1, "start");
    engine_to(&f.run, 4);
    sm_text_clear(&f.run.rows);
    ok(&f, 4, "hold M a person at the fence");
    ok(&f, 4.5, "hold K smoke");
    assert_int_equal(engine_look(&f.run)->state, SM_STATE_PAUSED);
    refused(&f, 5, "resume", "hold by M: a person at the fence, and 1 more; to be lifted when each agrees");
    refused(&f, 5, "lift J J", "J has called no hold that stands");
    ok(&f, 6, "lift M J");
    refused(&f, 6, "resume", "hold by K: smoke; to be lifted when K agrees");
    ok(&f, 7, "lift K J");
    ok(&f, 8, "resume");
    engine_expect(&f.run,
                  "4,1,console,hold,,M,a person at the fence\n4,1,engine,state,,paused,running\n"
                  "4.5,1,console,hold,,K,smoke\n"
                  "5,1,console,refused,,resume,hold by M: a person at the fence, and 1 more; to be lifted "
                  "when each agrees\n"
                  "5,1,console,refused,,lift,J has called no hold that stands\n6,1,console,lift,,M,J\n"
                  "6,1,console,refused,,resume,hold by K: smoke; to be lifted when K agrees\n"
                  "7,1,console,lift,,K,J\n8,1,console,resume,,,\n8,-1,engine,state,,running,paused\n");
    end(&f);
}

static void nothing_is_armed_or_started_under_a_hold(void **state) {
    (void)state;
    field f;
    begin(&f);
    ok(&f, 0, "call-clear J");
    ok(&f, 0, "key on");
    ok(&f, 0, "hold M wind");
    refused(&f, 0, "arm", "hold by M: wind; to be lifted when M agrees");
    ok(&f, 0, "lift m J");
    ok(&f, 0, "arm");
    engine_to(&f.run, 1);
    ok(&f, 1, "start-in 90 s");
    ok(&f, 2, "hold M wind again");
    ok(&f, 3, "hold m the wind, still"); // the same hold with another reason: case makes nobody another
    refused(&f, 3, "start", "hold by M: the wind, still; to be lifted when M agrees");
    refused(&f, 3, "start-in 90 s", "hold by M: the wind, still; to be lifted when M agrees");
    engine_to(&f.run, 200);
    assert_int_equal(engine_look(&f.run)->state, SM_STATE_ARMED);
    assert_string_equal(engine_look(&f.run)->start_cancelled, "M called hold");
    ok(&f, 200, "safe");
    assert_int_equal(engine_look(&f.run)->hold_count, 1); // made safe is not lifted
    end(&f);
}

// Arming would go on to armed by itself, under the hold.
static void a_hold_while_arming_makes_safe(void **state) {
    (void)state;
    field f;
    begin(&f);
    ok(&f, 0, "call-clear J");
    ok(&f, 0, "key on");
    ok(&f, 0, "arm");
    sm_text_clear(&f.run.rows);
    ok(&f, 0.5, "hold M a person at the fence");
    engine_to(&f.run, 5);
    engine_expect(&f.run, "0.5,,console,hold,,M,a person at the fence\n0.5,,engine,state,,safe,arming\n"
                          "0.5,,engine,guard,,clear,NOT MET, lapsed: M called hold\n");
    assert_int_equal(engine_look(&f.run)->state, SM_STATE_SAFE);
    assert_int_equal(engine_look(&f.run)->hold_count, 1);
    end(&f);
}

static void a_hold_is_the_alert_and_its_lifting_the_step(void **state) {
    (void)state;
    static const sm_alert_facts facts = {0};
    field f;
    sm_alerts alerts = {0};
    begin(&f);
    to_armed(&f);
    ok(&f, 1, "start");
    ok(&f, 2, "hold M a person at the fence");
    const sm_snapshot *now = engine_look(&f.run);
    sm_alerts_look(&alerts, now, &facts, NULL, NULL);
    assert_string_equal(alerts.at[0].words, "HOLD called by M: a person at the fence");
    assert_string_equal(sm_next_step(now, NULL).words, "ask M why; lift the hold when they agree");
    sm_text why = {0};
    assert_true(sm_snapshot_refuses(now, SM_ACT_RESUME, &why));
    assert_string_equal(sm_text_get(&why), "hold by M: a person at the fence; to be lifted when M agrees");
    sm_text_clear(&why);
    ok(&f, 3, "lift M J");
    ok(&f, 3, "enter K"); // another reason, and no hold any more
    assert_true(sm_snapshot_refuses(engine_look(&f.run), SM_ACT_RESUME, &why));
    assert_null(strstr(sm_text_get(&why), "hold"));
    sm_text_deinit(&why);
    end(&f);
}

static sm_read_kind read_at(field *f, const char *slot) {
    return engine_look(&f->run)->slots[engine_slot(f->show, slot)].reading.kind;
}

// What hung on one plug hangs on the other, and shows when it is measured.
static void two_plugs_are_exchanged_in_one_action(void **state) {
    (void)state;
    field f;
    begin(&f);
    ok(&f, 0, "read A-01 open"); // the field follows it
    ok(&f, 0, "call-clear J");
    ok(&f, 1, "exchange A B");
    assert_int_equal(read_at(&f, "A-01"), SM_READ_NOTHING);
    assert_int_equal(read_at(&f, "B-01"), SM_READ_NOTHING);
    assert_false(engine_look(&f.run)->clear_called);
    ok(&f, 2, "measure");
    assert_int_equal(read_at(&f, "A-01"), SM_READ_OHMS);
    assert_int_equal(read_at(&f, "B-01"), SM_READ_OPEN);
    ok(&f, 3, "exchange B A");
    ok(&f, 4, "measure");
    assert_int_equal(read_at(&f, "A-01"), SM_READ_OPEN);
    assert_int_equal(read_at(&f, "B-01"), SM_READ_OHMS);
    end(&f);
}

static void what_cannot_be_exchanged_is_refused(void **state) {
    (void)state;
    field f;
    begin(&f);
    refused(&f, 0, "exchange A A", "rail A twice: name two");
    refused(&f, 0, "exchange A C", "rails A and C have not as many slots");
    ok(&f, 0, "unplug B");
    refused(&f, 0, "exchange A B", "rail B is not plugged");
    ok(&f, 0, "plug B");
    to_armed(&f);
    refused(&f, 1, "exchange A B", "not while armed; allowed in: safe");
    ok(&f, 1, "start");
    engine_to(&f.run, 9); // A-01 has fired
    ok(&f, 9, "safe");
    refused(&f, 9, "exchange A B", "something on rail A fired or misfired: not before that is dealt with");
    end(&f);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_hold_stops_at_once_and_two_names_lift_it),
        cmocka_unit_test(nothing_is_armed_or_started_under_a_hold),
        cmocka_unit_test(a_hold_while_arming_makes_safe),
        cmocka_unit_test(a_hold_is_the_alert_and_its_lifting_the_step),
        cmocka_unit_test(two_plugs_are_exchanged_in_one_action),
        cmocka_unit_test(what_cannot_be_exchanged_is_refused),
    };
    return cmocka_run_group_tests_name("engine_holds", tests, NULL, NULL);
}

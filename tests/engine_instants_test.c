// SPDX-License-Identifier: GPL-3.0-or-later
// Firings and what happens within one instant: the order of ends and beginnings, lead and burning, misfires, spent slots, pauses and
// stops that meet an event. Each case is a sentence of the format's page; wall is show time + 3 s.
#include "support/engine_run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define LOOK ENGINE_START "1 note look\n"
#define ENDED "63,60,engine,state,,ended,running\n"
#define LAPSED ",,engine,guard,,clear,NOT MET, lapsed: made safe\n"

static const engine_case flight[] = {
    {"the module fires at cue time less lead; out comes lead plus lasts after the firing",
     "1,A-01,fountain,,\n2,A-02,comet,,\n", LOOK,
     "4,1,engine,fire,1,A-01,fountain\n"
     "4.5,1.5,engine,fire,2,A-02,comet\n"
     "7,4,engine,out,2,A-02,comet\n"
     "14,11,engine,out,1,A-01,fountain\n" ENDED},
    {"no out row where lasts is 0", "1,A-01,mine,,\n", LOOK, "3.8,0.8,engine,fire,1,A-01,mine\n" ENDED},
    {"lasts of the cue goes before the effect's own", "1,A-01,fountain,,3\n", LOOK,
     "4,1,engine,fire,1,A-01,fountain\n7,4,engine,out,1,A-01,fountain\n" ENDED},
    {"burning runs in wall time at half speed", "1,A-01,comet,,\n2,L1,dim=1,,\n",
     LOOK "1 speed 0.5\n1 note look\n",
     "6,0.5,engine,fire,1,A-01,comet\n"
     "8.5,1.75,engine,out,1,A-01,comet\n"
     "9,2,engine,set,2,L1,dim=1\n"
     "125,60,engine,state,,ended,running\n"},
    {"burning goes on through a pause", "1,A-01,fountain,,\n", LOOK "5 pause\n15 note x\n",
     "4,1,engine,fire,1,A-01,fountain\n"
     "5,2,script,pause,,,\n"
     "5,2,engine,state,,paused,running\n"
     "14,2,engine,out,1,A-01,fountain\n"
     "15,2,script,note,,x,\n"},
    {"burning goes on after make safe, without a show time", "1,A-01,fountain,,\n",
     LOOK "5 safe\n15 note x\n",
     "4,1,engine,fire,1,A-01,fountain\n"
     "5,2,script,safe,,,\n"
     "5,,engine,state,,safe,running\n"
     "5" LAPSED "14,,engine,out,1,A-01,fountain\n"
     "15,,script,note,,x,\n"},
    {"burning goes on after ended", "59,A-01,fountain,,\n", LOOK,
     "62,59,engine,fire,1,A-01,fountain\n" ENDED "72,60,engine,out,1,A-01,fountain\n"},
    {"a seek puts nothing out", "1,A-01,fountain,,\n", LOOK "5 seek 40\n",
     "4,1,engine,fire,1,A-01,fountain\n"
     "5,2,script,seek,,40,\n"
     "14,49,engine,out,1,A-01,fountain\n"
     "25,60,engine,state,,ended,running\n"},
};

static const engine_case order[] = {
    {"end of arming, then actions in the order given, then ends", "1,A-01,fountain,,\n",
     LOOK "5 safe\n13 call-clear\n13 arm\n14 note a\n14 start\n14 note b\n15 safe\n",
     "4,1,engine,fire,1,A-01,fountain\n"
     "5,2,script,safe,,,\n"
     "5,,engine,state,,safe,running\n"
     "5" LAPSED "13,,script,call-clear,,,\n"
     "13,,script,arm,,,\n"
     "13,,engine,state,,arming,safe\n"
     "14,,engine,state,,armed,arming\n"
     "14,,script,note,,a,\n"
     "14,,script,start,,,\n"
     "14,-2,engine,state,,running,armed\n"
     "14,-2,script,note,,b,\n"
     "14,-2,engine,out,1,A-01,fountain\n"
     "15,-1,script,safe,,,\n"
     "15,,engine,state,,safe,running\n"
     "15" LAPSED},
    {"actions, then ends in table order of their cues, then beginnings in table order",
     "1,A-01,comet,,\n1,L1,dim=255,,2\n3,L2,dim=9,,\n3,A-02,fountain,,1\n", LOOK "6 note a\n6 note b\n",
     "3.5,0.5,engine,fire,1,A-01,comet\n"
     "4,1,engine,set,2,L1,dim=255\n"
     "6,3,script,note,,a,\n"
     "6,3,script,note,,b,\n"
     "6,3,engine,out,1,A-01,comet\n"
     "6,3,engine,home,2,L1,dim\n"
     "6,3,engine,set,3,L2,dim=9\n"
     "6,3,engine,fire,4,A-02,fountain\n"
     "7,4,engine,out,4,A-02,fountain\n" ENDED},
    {"the same cues in another table order",
     "3,A-02,fountain,,1\n3,L2,dim=9,,\n1,L1,dim=255,,2\n1,A-01,comet,,\n", LOOK,
     "3.5,0.5,engine,fire,4,A-01,comet\n"
     "4,1,engine,set,3,L1,dim=255\n"
     "6,3,engine,home,3,L1,dim\n"
     "6,3,engine,out,4,A-01,comet\n"
     "6,3,engine,fire,1,A-02,fountain\n"
     "6,3,engine,set,2,L2,dim=9\n"
     "7,4,engine,out,1,A-02,fountain\n" ENDED},
    {"target order within a row, a group in its own order", "1,L2 L1,dim=5,,1\n3,A-03 rack,fountain,,1\n",
     LOOK,
     "4,1,engine,set,1,L2,dim=5\n4,1,engine,set,1,L1,dim=5\n"
     "5,2,engine,home,1,L2,dim\n5,2,engine,home,1,L1,dim\n"
     "6,3,engine,fire,2,A-03,fountain\n6,3,engine,fire,2,A-01,fountain\n6,3,engine,fire,2,A-02,fountain\n"
     "7,4,engine,out,2,A-03,fountain\n7,4,engine,out,2,A-01,fountain\n7,4,engine,out,2,A-02,"
     "fountain\n" ENDED},
    {"ended comes after everything due at that instant",
     "60,A-01,fountain,,1\n60,L1,dim=5,,\n50,A-02,fountain,,\n55,L2,dim=5,,5\n", LOOK,
     "53,50,engine,fire,3,A-02,fountain\n"
     "58,55,engine,set,4,L2,dim=5\n"
     "63,60,engine,out,3,A-02,fountain\n"
     "63,60,engine,home,4,L2,dim\n"
     "63,60,engine,fire,1,A-01,fountain\n"
     "63,60,engine,set,2,L1,dim=5\n" ENDED "64,60,engine,out,1,A-01,fountain\n"},
    {"an event due at the instant of a pause happens at the resume", "1,A-01,mine,,\n1,L1,dim=5,,\n",
     LOOK "@0.8 pause\n5 resume\n",
     "3.8,0.8,script,pause,,,\n"
     "3.8,0.8,engine,state,,paused,running\n"
     "5,0.8,script,resume,,,\n"
     "5,-1.2,engine,state,,running,paused\n"
     "7,0.8,engine,fire,1,A-01,mine\n"
     "7.2,1,engine,set,2,L1,dim=5\n"
     "66.2,60,engine,state,,ended,running\n"},
    {"a return due at the instant of a pause happens at the resume", "1,L1,dim=5,,2\n",
     LOOK "@3 pause\n7 resume\n",
     "4,1,engine,set,1,L1,dim=5\n"
     "6,3,script,pause,,,\n"
     "6,3,engine,state,,paused,running\n"
     "7,3,script,resume,,,\n"
     "7,1,engine,state,,running,paused\n"
     "9,3,engine,home,1,L1,dim\n"
     "66,60,engine,state,,ended,running\n"},
    {"an event due at the instant of a make safe does not happen", "1,A-01,fountain,,\n1,L1,dim=5,,\n",
     LOOK "@1 safe\n+5 note x\n",
     "4,1,script,safe,,,\n"
     "4,,engine,state,,safe,running\n"
     "4" LAPSED "9,,script,note,,x,\n"},
    {"nor at that of a key off", "1,A-01,fountain,,\n", LOOK "@1 key off\n+5 note x\n",
     "4,1,script,key,,off,\n"
     "4,,engine,state,,safe,running\n"
     "4,,engine,guard,,clear,NOT MET, lapsed: key off\n"
     "9,,script,note,,x,\n"},
    {"a burn-out at the instant of a make safe comes after it", "1,A-01,comet,,\n", LOOK "6 safe\n7 note x\n",
     "3.5,0.5,engine,fire,1,A-01,comet\n"
     "6,3,script,safe,,,\n"
     "6,,engine,state,,safe,running\n"
     "6" LAPSED "6,,engine,out,1,A-01,comet\n"
     "7,,script,note,,x,\n"},
    {"a seek at the instant of an event skips it, a seek to that moment does not",
     "1,A-01,mine,,\n3,A-02,mine,,\n", LOOK "@0.8 seek 2.8\n",
     "3.8,0.8,script,seek,,2.8,\n"
     "3.8,0.8,engine,passed,1,A-01,mine\n"
     "3.8,2.8,engine,fire,2,A-02,mine\n"
     "61,60,engine,state,,ended,running\n"},
};

static const engine_case slots[] = {
    {"a spent slot that is due again logs spent", "1,A-01,fountain,,1\n3,A-01,comet,,\n", LOOK,
     "4,1,engine,fire,1,A-01,fountain\n"
     "5,2,engine,out,1,A-01,fountain\n"
     "5.5,2.5,engine,spent,2,A-01,comet\n" ENDED},
    {"a rail unplugged in mid-show misfires and changes no state",
     "1,A-01,mine,,\n2,A-02,comet,,\n3,B-01,mine,,\n", LOOK "4 unplug A\n",
     "3.8,0.8,engine,fire,1,A-01,mine\n"
     "4,1,script,unplug,,A,\n"
     "4,1,engine,guard,,clear,NOT MET, lapsed: unplugged A\n"
     "4.5,1.5,engine,misfire,2,A-02,comet rail unplugged\n"
     "5.8,2.8,engine,fire,3,B-01,mine\n" ENDED},
    {"a misfired slot misfires when it is due again", "1,A-01,mine,,\n3,A-01,fountain,,1\n",
     LOOK "1 read A-01 open\n1 note look\n",
     "3.8,0.8,engine,misfire,1,A-01,mine open\n6,3,engine,misfire,2,A-01,fountain open\n" ENDED},
    {"unless it was repaired", "1,A-01,mine,,\n3,A-01,fountain,,1\n",
     LOOK "1 read A-01 open\n1 note look\n4 repair A-01\n",
     "3.8,0.8,engine,misfire,1,A-01,mine open\n"
     "4,1,script,repair,,A-01,\n"
     "4,1,engine,guard,,clear,NOT MET, lapsed: repaired A-01\n"
     "6,3,engine,fire,2,A-01,fountain\n"
     "7,4,engine,out,2,A-01,fountain\n" ENDED},
    {"a fire time before the first moment of the show is passed at start, one at it is not",
     "1.499999,A-01,shell,,\n1.5,A-02,shell,,\n", ENGINE_ARM "0.5 note look\n1 start\n",
     "1,,engine,state,,armed,arming\n"
     "1,,script,start,,,\n"
     "1,-2,engine,state,,running,armed\n"
     "1,-2.000001,engine,passed,1,A-01,shell\n"
     "1,-2,engine,fire,2,A-02,shell\n"
     "7.5,4.5,engine,out,2,A-02,shell\n" ENDED},
    {"cues by id, or by their ordinal where they have none",
     "time,target,do,id\n1,A-01,mine,opening\n2,A-02,mine,\n", LOOK,
     "3.8,0.8,engine,fire,opening,A-01,mine\n4.8,1.8,engine,fire,2,A-02,mine\n" ENDED},
};

static void firings_fly_and_burn_in_wall_time(void **state) {
    (void)state;
    engine_run_cases(flight, COUNT(flight));
}

static void an_instant_has_a_fixed_order(void **state) {
    (void)state;
    engine_run_cases(order, COUNT(order));
}

static void slots_fire_once(void **state) {
    (void)state;
    engine_run_cases(slots, COUNT(slots));
}

// One rail at the module, one at the end of 100 m, where the meter's error makes a verdict unsure.
static void open_short_and_unplugged_misfire_all_else_fires(void **state) {
    (void)state;
    static const engine_file changes[] = {
        {"rails.csv",
         "name,module,first,slots,cable_length,cable_gauge\nA,M,1,8,,\nB,M,9,4,100 m,22 AWG\nC,M,13,2,,\n"},
        {"readings.csv", "rail,slot,reading\nA,1,open\nA,2,short\nA,3,1.0\nA,4,3.0\nB,1,11.1\nA,5,1000\n"
                         "A,6,0.3\nA,7,1.95\nB,2,1.95\n"},
        {NULL, NULL},
    };
    static const char cues[] =
        "time,target,do,igniters\n1,A-01,mine,\n2,A-02,mine,\n3,A-03,mine,\n4,A-04,mine,\n"
        "5,B-01,mine,\n6,A-05,mine,\n7,A-06,mine,\n8,A-07,mine,2s\n9,C-01,mine,\n";
    static const char rows[] = "3.8,0.8,engine,misfire,1,A-01,mine open\n"
                               "4.8,1.8,engine,misfire,2,A-02,mine short\n"
                               "5.8,2.8,engine,fire,3,A-03,mine\n"
                               "6.8,3.8,engine,fire,4,A-04,mine\n"
                               "7.8,4.8,engine,fire,5,B-01,mine\n"
                               "8.8,5.8,engine,misfire,6,A-05,mine open\n"
                               "9.8,6.8,engine,misfire,7,A-06,mine short\n"
                               "10.8,7.8,engine,fire,8,A-07,mine partial\n"
                               "11.8,8.8,engine,fire,9,C-01,mine\n" ENDED;
    static const struct {
        const char *slot;
        sm_verdict verdict;
    } verdicts[] = {{"A-01", SM_VERDICT_OPEN},  {"A-02", SM_VERDICT_SHORT},  {"A-03", SM_VERDICT_LOW},
                    {"A-04", SM_VERDICT_HIGH},  {"B-01", SM_VERDICT_UNSURE}, {"A-05", SM_VERDICT_OPEN},
                    {"A-06", SM_VERDICT_SHORT}, {"A-07", SM_VERDICT_LOW},    {"C-01", SM_VERDICT_UNREAD},
                    {"C-02", SM_VERDICT_SPARE}, {"B-02", SM_VERDICT_STRAY}};
    sm_show *show = engine_show(cues, changes);
    engine_run run;
    engine_run_init(&run, show, &(sm_rehearsal_options){.readings_not_judged = true});
    const sm_snapshot *snapshot = engine_look(&run);
    for (size_t i = 0; i < COUNT(verdicts); i++)
        assert_int_equal(snapshot->slots[engine_slot(show, verdicts[i].slot)].verdict, verdicts[i].verdict);
    (void)engine_play(&run, LOOK);
    engine_expect(&run, rows);
    assert_int_equal(engine_look(&run)->misfired, 4);
    assert_int_equal(run.snapshot->slots[engine_slot(show, "A-01")].phase, SM_SLOT_MISFIRED);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void bare_rails_misfire(void **state) {
    (void)state;
    sm_show *show = engine_show("1,A-01,mine,,\n2,B-01,mine,,\n", NULL);
    engine_run run;
    engine_run_init(&run, show, &(sm_rehearsal_options){.bare = true});
    (void)engine_play(&run, "0 plug A\n0 plug B\n" ENGINE_START "2 unplug B\n2 note look\n");
    engine_expect(
        &run, "3.8,0.8,engine,fire,1,A-01,mine\n4.8,1.8,engine,misfire,2,B-01,mine rail unplugged\n" ENDED);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// What a screen shows of a slot on its way, and what the waits count from.
static void a_slot_waits_flies_burns_and_is_spent(void **state) {
    (void)state;
    sm_show *show = engine_show("1,A-01,comet,,\n4,A-02,mine,,\n", NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    assert_int_equal(engine_look(&run)->wait_since.us, SM_UNSET_US);
    engine_act(&run, 0, "call-clear");
    engine_act(&run, 0, "key on");
    engine_act(&run, 0, "arm");
    engine_act(&run, 1, "start");
    static const struct {
        double at_s;
        sm_slot_phase phase;
        unsigned flying, burning;
        sm_us wait_since_us;
    } points[] = {
        {3.499999, SM_SLOT_WAITING, 0, 0, SM_UNSET_US},
        {3.5, SM_SLOT_FLYING, 1, 0, 3500000},
        {3.999999, SM_SLOT_FLYING, 1, 0, 3500000},
        {4, SM_SLOT_BURNING, 0, 1, 3500000},
        {5.999999, SM_SLOT_BURNING, 0, 1, 3500000},
        {6, SM_SLOT_SPENT, 0, 0, 6000000},
        {6.8, SM_SLOT_SPENT, 1, 0, 6800000},
        {7, SM_SLOT_SPENT, 0, 0, 6800000},
    };
    for (size_t i = 0; i < COUNT(points); i++) {
        engine_to(&run, points[i].at_s);
        const sm_snapshot *s = engine_look(&run);
        assert_int_equal(s->slots[engine_slot(show, "A-01")].phase, points[i].phase);
        assert_int_equal(s->flying, points[i].flying);
        assert_int_equal(s->burning_count, points[i].burning);
        assert_int_equal(s->wait_since.us, points[i].wait_since_us);
    }
    engine_to(&run, 63);
    assert_int_equal(engine_look(&run)->state, SM_STATE_ENDED);
    assert_false(run.snapshot->wait_runs);
    engine_act(&run, 70, "safe");
    assert_true(engine_look(&run)->wait_runs);
    assert_int_equal(run.snapshot->wait_since.us, 70000000);
    engine_act(&run, 71, "key off");
    assert_int_equal(engine_look(&run)->wait_since.us, 71000000);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void a_late_issue_shows_how_late(void **state) {
    (void)state;
    sm_show *show = engine_show("1,A-01,comet,,\n", NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    engine_act(&run, 0, "call-clear");
    engine_act(&run, 0, "key on");
    engine_act(&run, 0, "arm");
    engine_act(&run, 1, "start");
    engine_act(&run, 1, "note look");
    sm_rehearsal_issue_at(run.rehearsal, (sm_wall_time){3501234});
    engine_to(&run, 3.501234);
    sm_rehearsal_issue_at(run.rehearsal, (sm_wall_time){5000000});
    engine_to(&run, 5);
    sm_rehearsal_issue_at(run.rehearsal, (sm_wall_time){6000007});
    engine_to(&run, 6.000007);
    engine_expect(&run, "3.501234,0.5,engine,fire,1,A-01,comet late 1234\n"
                        "6.000007,3,engine,out,1,A-01,comet late 7\n");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(firings_fly_and_burn_in_wall_time),
        cmocka_unit_test(an_instant_has_a_fixed_order),
        cmocka_unit_test(slots_fire_once),
        cmocka_unit_test(open_short_and_unplugged_misfire_all_else_fires),
        cmocka_unit_test(bare_rails_misfire),
        cmocka_unit_test(a_slot_waits_flies_burns_and_is_spent),
        cmocka_unit_test(a_late_issue_shows_how_late),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

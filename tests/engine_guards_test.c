// SPDX-License-Identifier: GPL-3.0-or-later
// Guards, what lapses them, waivers, remotes, people, inhibits, readings: each case is a sentence of the format's page.
#include "support/engine_run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define PAIR "1,A-01,mine,,\n2,A-02,mine,,\n"
#define ONLY "a real module would not refuse, only people check this"
#define LAPSED ",,engine,guard,,clear,NOT MET, lapsed: made safe\n"
#define ARMED_AND_RUN                                                                                        \
    "0,,engine,state,,arming,safe\n1,,engine,state,,armed,arming\n1,,script,start,,,\n"                      \
    "1,-2,engine,state,,running,armed\n"

static const engine_case guards[] = {
    {"clear is refused over a person in the field, by name", PAIR,
     "0 enter K\n0 enter Ann Lee\n0 call-clear J\n0 leave K\n0 leave Ann Lee\n0 call-clear J\n",
     "0,,script,enter,,K,\n"
     "0,,script,enter,,Ann Lee,\n"
     "0,,script,refused,,call-clear,field: 2 in the field: K, Ann Lee\n"
     "0,,script,leave,,K,\n"
     "0,,script,leave,,Ann Lee,\n"
     "0,,script,call-clear,,J,\n"},
    {"arm asks all five", PAIR,
     "0 arm\n0 key on\n0 arm\n0 enter K\n0 unplug A\n0 arm\n0 plug A\n0 read A-02 9\n0 leave K\n0 arm\n0 "
     "call-clear\n0 arm\n0 read A-02 1.95\n0 arm\n",
     "0,,script,refused,,arm,key clear\n"
     "0,,script,key,,on,\n"
     "0,,script,refused,,arm,clear\n"
     "0,,script,enter,,K,\n"
     "0,,script,unplug,,A,\n"
     "0,,script,refused,,arm,field clear rails\n"
     "0,,script,plug,,A,\n"
     "0,,script,read,,A-02,9\n"
     "0,,script,leave,,K,\n"
     "0,,script,refused,,arm,clear readings\n"
     "0,,script,call-clear,,,\n"
     "0,,script,refused,,arm,readings\n"
     "0,,script,read,,A-02,1.95\n"
     "0,,script,arm,,,\n"
     "0,,engine,state,,arming,safe\n"
     "1,,engine,state,,armed,arming\n"},
    {"what lapses later changes no state; start and resume refuse and say that a module would not", PAIR,
     ENGINE_ARM "0.5 note look\n0.6 enter K\n1 start\n1 leave K\n1 start\n1 call-clear\n1 start\n2 pause\n2 "
                "unplug A\n2 resume\n2 call-clear\n2 resume\n6 safe\n",
     "0.6,,script,enter,,K,\n"
     "0.6,,engine,guard,,clear,NOT MET, lapsed: K went in\n"
     "1,,engine,state,,armed,arming\n"
     "1,,script,refused,,start,field clear; " ONLY "\n"
     "1,,script,leave,,K,\n"
     "1,,script,refused,,start,clear; " ONLY "\n"
     "1,,script,call-clear,,,\n"
     "1,,script,start,,,\n"
     "1,-2,engine,state,,running,armed\n"
     "2,-1,script,pause,,,\n"
     "2,-1,engine,state,,paused,running\n"
     "2,-1,script,unplug,,A,\n"
     "2,-1,engine,guard,,clear,NOT MET, lapsed: unplugged A\n"
     "2,-1,script,refused,,resume,clear; " ONLY "\n"
     "2,-1,script,call-clear,,,\n"
     "2,-1,script,resume,,,\n"
     "2,-3,engine,state,,running,paused\n"
     "5.8,0.8,engine,misfire,1,A-01,mine rail unplugged\n"
     "6,1,script,safe,,,\n"
     "6,,engine,state,,safe,running\n"
     "6" LAPSED},
    {"a rail without a cue is not asked for", PAIR, "0 unplug B\n0 unplug C\n" ENGINE_ARM "0 note look\n",
     "1,,engine,state,,armed,arming\n"},
    {"key off in arming makes safe", PAIR, ENGINE_ARM "0.5 note look\n0.9 key off\n0.9 arm\n",
     "0.9,,script,key,,off,\n"
     "0.9,,engine,state,,safe,arming\n"
     "0.9,,engine,guard,,clear,NOT MET, lapsed: key off\n"
     "0.9,,script,refused,,arm,key clear\n"},
    {"a rail is plugged or unplugged once, a person in or out once", PAIR,
     "0 plug A\n0 unplug A\n0 unplug A\n0 enter K\n0 enter K\n0 leave M\n",
     "0,,script,refused,,plug,rail A is plugged already\n"
     "0,,script,unplug,,A,\n"
     "0,,script,refused,,unplug,rail A is not plugged\n"
     "0,,script,enter,,K,\n"
     "0,,script,refused,,enter,K is reported in the field already\n"
     "0,,script,refused,,leave,M is not reported in the field\n"},
    {"remotes: paired as the action, others heard and nothing else", PAIR,
     "0 remote 1 key on\n0 remote 2 call-clear\n0 remote 1 call-clear J\n0 remote 1 pause\n0 remote 1 "
     "arm\n0.5 remote 7 safe\n",
     "0,,remote,key,,on,\n"
     "0,,remote,unpaired,,call-clear,2\n"
     "0,,remote,call-clear,,J,\n"
     "0,,remote,refused,,pause,not while safe; allowed in: running\n"
     "0,,remote,arm,,,\n"
     "0,,engine,state,,arming,safe\n"
     "0.5,,remote,unpaired,,safe,7\n"
     "1,,engine,state,,armed,arming\n"},
    {"what only a drill has", PAIR, "0 hint\n0 call K hold\n",
     "0,,script,refused,,hint,only in a drill\n0,,script,refused,,call,only in a drill\n"},
};

static const engine_case waivers[] = {
    {"readings: the reason names the slots, they are inhibited, it lapses on safe", PAIR,
     "0 key on\n0 call-clear\n0 read A-01 open\n0 note look\n0 arm\n0 waive readings bad lead by K\n"
     "0 waive readings A-1 bad lead by K\n0 arm\n1 start\n4.5 safe\n5 call-clear\n5 arm\n",
     "0,,script,refused,,arm,readings\n"
     "0,,script,refused,,waive,the reason must name A-01\n"
     "0,,script,waive,,readings,A-1 bad lead by K\n"
     "0,,script,arm,,,\n" ARMED_AND_RUN "3.8,0.8,engine,inhibited,1,A-01,mine\n"
     "4.5,1.5,script,safe,,,\n"
     "4.5,,engine,state,,safe,running\n"
     "4.5" LAPSED "4.5,,engine,guard,,readings,NOT MET, the waiver lapsed: A-01 open\n"
     "5,,script,call-clear,,,\n"
     "5,,script,refused,,arm,readings\n"},
    {"each of them", PAIR,
     "0 read A-01 open\n0 read A-02 short\n0 note look\n0 waive readings A-01 by K\n0 waive readings A-01 "
     "and A-02, by K\n",
     "0,,script,refused,,waive,the reason must name A-02\n"
     "0,,script,waive,,readings,A-01 and A-02, by K\n"},
    {"one that turns bad afterwards is not waived", PAIR,
     "0 key on\n0 call-clear\n0 read A-01 open\n0 waive readings A-01\n0 read A-02 short\n0 note look\n0 "
     "arm\n",
     "0,,script,refused,,arm,readings\n"},
    {"rails: the reason names the rail, which misfires", PAIR "3,B-01,mine,,\n",
     "0 unplug A\n0 unplug B\n0 key on\n0 call-clear\n0 note look\n0 waive rails A is cut by K\n0 waive "
     "rails A B cut by K\n0 arm\n1 start\n4 key off\n",
     "0,,script,refused,,waive,the reason must name rail B\n"
     "0,,script,waive,,rails,A B cut by K\n"
     "0,,script,arm,,,\n" ARMED_AND_RUN "3.8,0.8,engine,misfire,1,A-01,mine rail unplugged\n"
     "4,1,script,key,,off,\n"
     "4,,engine,state,,safe,running\n"
     "4,,engine,guard,,clear,NOT MET, lapsed: key off\n"
     "4,,engine,guard,,rails,NOT MET, the waiver lapsed: not plugged: A, B\n"},
    {"waived before it stands in the way: recorded, the slot inhibited; not outside safe", PAIR,
     "0 waive key K\n0 waive rails A\n0 waive readings A-01\n" ENGINE_ARM "0 note look\n0.5 waive rails A\n",
     "0.5,,script,refused,,waive,not while arming; allowed in: safe\n"
     "1,,engine,state,,armed,arming\n"},
    {"what is refused of these", PAIR,
     "0 waive key K\n0 waive field K\n0 waive clear K\n0 waive rails in a hurry\n0 waive readings A-99 "
     "late\n",
     "0,,script,refused,,waive,key is never waived\n"
     "0,,script,refused,,waive,field is never waived\n"
     "0,,script,refused,,waive,clear is never waived\n"
     "0,,script,refused,,waive,the reason must name the rails\n"
     "0,,script,refused,,waive,the reason must name the slots\n"},
    {"a reading on a rail that is not plugged stands in nobody's way", PAIR,
     "0 key on\n0 read A-01 open\n0 unplug A\n0 call-clear\n0 waive rails A by K\n0 note look\n0 arm\n",
     "0,,script,arm,,,\n0,,engine,state,,arming,safe\n1,,engine,state,,armed,arming\n"},
};

#define ALL_KINDS "1,A-01,fountain,,1\n2,A-02,comet,,\n3,B-01,mine,,\n4,L1 F2,dim=9,,\n"
// What runs of ALL_KINDS with nothing held.
#define R1 "4,1,engine,fire,1,A-01,fountain\n5,2,engine,out,1,A-01,fountain\n"
#define R2_FIRED "4.5,1.5,engine,fire,2,A-02,comet\n"
#define R2_OUT "7,4,engine,out,2,A-02,comet\n"
#define R3 "5.8,2.8,engine,fire,3,B-01,mine\n"
#define R4 "7,4,engine,set,4,L1,dim=9\n7,4,engine,set,4,F2,dim=9\n"
#define H1 "4,1,engine,inhibited,1,A-01,fountain\n"
#define H2 "4.5,1.5,engine,inhibited,2,A-02,comet\n"
#define H3 "5.8,2.8,engine,inhibited,3,B-01,mine\n"
#define ENDED "63,60,engine,state,,ended,running\n"
#define FIRED_1_AND_2 "4,1,engine,fire,1,A-01,fountain\n" R2_FIRED "5,2,engine,out,1,A-01,fountain\n"

static const engine_case inhibits[] = {
    {"a slot, by either way to write it", ALL_KINDS, "0 inhibit A-1\n" ENGINE_START "1 note look\n",
     H1 R2_FIRED R3 R2_OUT R4 ENDED},
    {"a rail", ALL_KINDS, "0 inhibit A\n" ENGINE_START "1 note look\n", H1 H2 R3 R4 ENDED},
    {"an effect", ALL_KINDS, "0 inhibit comet\n" ENGINE_START "1 note look\n",
     "4,1,engine,fire,1,A-01,fountain\n" H2 "5,2,engine,out,1,A-01,fountain\n" R3 R4 ENDED},
    {"a group of slots", ALL_KINDS, "0 inhibit rack\n" ENGINE_START "1 note look\n", H1 H2 R3 R4 ENDED},
    {"a zone", ALL_KINDS, "0 inhibit near\n" ENGINE_START "1 note look\n", FIRED_1_AND_2 H3 R2_OUT R4 ENDED},
    {"a position: its rails and its fixtures", ALL_KINDS, "0 inhibit right\n" ENGINE_START "1 note look\n",
     FIRED_1_AND_2 H3 R2_OUT "7,4,engine,set,4,L1,dim=9\n7,4,engine,inhibited,4,F2,dim=9\n" ENDED},
    {"the row of an inhibit names a slot as it is printed", ALL_KINDS, "0 inhibit A-1\n0 inhibit aerial\n",
     "0,,script,inhibit,,A-01,\n0,,script,inhibit,,aerial,\n"},
    {"held until that name is allowed: what two names hold, both must allow", ALL_KINDS,
     "0 inhibit A-01\n0 inhibit A\n0 inhibit aerial\n0 allow A\n0 note look\n0 allow A-02\n" ENGINE_START,
     "0,,script,allow,,A-02,\n"
     "0,,script,call-clear,,J,\n0,,script,key,,on,\n0,,script,arm,,,\n" ARMED_AND_RUN H1 H2 R3 R4 ENDED},
    {"allowed in a pause, not while running", ALL_KINDS,
     "0 inhibit A\n0 inhibit near\n" ENGINE_START
     "1 note look\n2 allow A\n4.2 pause\n4.2 allow A\n4.2 resume\n8 safe\n",
     "2,-1,script,refused,,allow,not while running; allowed in: safe, paused\n" H1 "4.2,1.2,script,pause,,,\n"
     "4.2,1.2,engine,state,,paused,running\n"
     "4.2,1.2,script,allow,,A,\n"
     "4.2,1.2,script,resume,,,\n"
     "4.2,-0.8,engine,state,,running,paused\n"
     "6.5,1.5,engine,fire,2,A-02,comet\n"
     "7.8,2.8,engine,inhibited,3,B-01,mine\n"
     "8,3,script,safe,,,\n"
     "8,,engine,state,,safe,running\n"
     "8" LAPSED},
    {"a held slot is pending again after a seek back", "1,A-01,mine,,\n",
     "0 inhibit A\n" ENGINE_START "1 note look\n4 pause\n4 allow A\n4 seek 0.5\n4 resume\n7 safe\n",
     "3.8,0.8,engine,inhibited,1,A-01,mine\n"
     "4,1,script,pause,,,\n"
     "4,1,engine,state,,paused,running\n"
     "4,1,script,allow,,A,\n"
     "4,1,script,seek,,0.5,\n"
     "4,0.5,script,resume,,,\n"
     "4,-1.5,engine,state,,running,paused\n"
     "6.3,0.8,engine,fire,1,A-01,mine\n"
     "7,1.5,script,safe,,,\n"
     "7,,engine,state,,safe,running\n"
     "7" LAPSED},
};

static void guards_refuse(void **state) {
    (void)state;
    engine_run_cases(guards, COUNT(guards));
}

static void waivers_name_inhibit_and_lapse(void **state) {
    (void)state;
    engine_run_cases(waivers, COUNT(waivers));
}

static void inhibits_hold_until_allowed(void **state) {
    (void)state;
    engine_run_cases(inhibits, COUNT(inhibits));
}

static void clear_lapses_on_each_of_its_causes_and_no_other(void **state) {
    (void)state;
    static const struct {
        const char *action, *why; // NULL: does not lapse
    } causes[] = {
        {"safe", "made safe"},
        {"key off", "key off"},
        {"enter M", "M went in"},
        {"plug C", "plugged C"},
        {"unplug A", "unplugged A"},
        {"repair A-1", "repaired A-01"},
        {"rerig", "re-rigged"},
        {"quit", "quit"},
        {"key on", NULL},
        {"call-clear M", NULL},
        {"measure", NULL},
        {"read A-01 1.9", NULL},
        {"report A-01", NULL},
        {"wind 3 m/s", NULL},
        {"inhibit A", NULL},
        {"seek 5", NULL},
        {"mark x", NULL},
        {"tick x yes", NULL},
        {"note x", NULL},
        {"speed 2", NULL},
        {"repeat 1 2", NULL},
        {"repeat off", NULL},
        {"sign M", NULL},
        {"mute", NULL},
        {"plug A", NULL /* refused */},
        {"leave M", NULL /* refused */},
        {"arm", NULL},
    };
    sm_show *show = engine_show(PAIR, NULL);
    for (size_t i = 0; i < COUNT(causes); i++) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        engine_act(&run, 0, "unplug C");
        engine_act(&run, 0, "key on");
        engine_act(&run, 0, "call-clear J");
        engine_act(&run, 1, causes[i].action);
        const sm_snapshot *s = engine_look(&run);
        assert_int_equal(s->clear_called, !causes[i].why);
        assert_string_equal(s->clear_lapse, causes[i].why ? causes[i].why : "");
        char row[96];
        snprintf(row, sizeof row, ",engine,guard,,clear,NOT MET, lapsed: %s\n", causes[i].why);
        assert_int_equal(strstr(sm_text_get(&run.rows), row) != NULL, causes[i].why != NULL);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

typedef struct said {
    const char *action;
    sm_guard guard;
    sm_guard_word word;
    const char *why;
} said;

static void guards_say_what_they_are(void **state) {
    (void)state;
    static const said says[] = {
        {"mute", SM_GUARD_KEY, SM_GUARD_NOT_MET, "key OFF"},
        {"key on", SM_GUARD_KEY, SM_GUARD_MET, "key ON"},
        {"mute", SM_GUARD_FIELD, SM_GUARD_MET, "0 people reported in the field"},
        {"mute", SM_GUARD_CLEAR, SM_GUARD_NOT_MET, "clear has not been called"},
        {"call-clear J", SM_GUARD_CLEAR, SM_GUARD_MET, "clear called by J"},
        {"enter K", SM_GUARD_CLEAR, SM_GUARD_NOT_MET, "lapsed: K went in"},
        {"mute", SM_GUARD_FIELD, SM_GUARD_NOT_MET, "1 in the field: K"},
        {"mute", SM_GUARD_RAILS, SM_GUARD_MET, "every rail with a cue is plugged"},
        {"mute", SM_GUARD_READINGS, SM_GUARD_NOT_CHECKED, "3 of 3 slots unread"},
        {"read A-01 1.95", SM_GUARD_READINGS, SM_GUARD_NOT_CHECKED, "2 of 3 slots unread"},
        {"read A-02 open", SM_GUARD_READINGS, SM_GUARD_NOT_MET, "A-02 open"},
        {"unplug A", SM_GUARD_RAILS, SM_GUARD_NOT_MET, "not plugged: A"},
        {"mute", SM_GUARD_READINGS, SM_GUARD_NOT_CHECKED, "3 of 3 slots unread, 2 of them unplugged"},
        {"waive rails A is cut by K", SM_GUARD_RAILS, SM_GUARD_WAIVED, "by K: A is cut by K"},
        {"plug A", SM_GUARD_RAILS, SM_GUARD_MET, "every rail with a cue is plugged"},
        {"waive readings A-02", SM_GUARD_READINGS, SM_GUARD_WAIVED, "by console: A-02"},
        {"measure", SM_GUARD_READINGS, SM_GUARD_WAIVED, "by console: A-02"},
        {"repair A-02", SM_GUARD_READINGS, SM_GUARD_NOT_CHECKED, "1 of 3 slots unread"},
        {"measure", SM_GUARD_READINGS, SM_GUARD_MET, "3 of 3 slots as predicted (continuity only)"},
    };
    sm_show *show = engine_show(PAIR "3,B-01,mine,,\n", NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    for (size_t i = 0; i < COUNT(says); i++) {
        assert_int_equal(engine_act(&run, 0, says[i].action), SM_OK);
        const sm_guard_status *status = &engine_look(&run)->guards[says[i].guard];
        assert_string_equal(sm_guard_word_text(status->word), sm_guard_word_text(says[i].word));
        assert_string_equal(status->why, says[i].why);
    }
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// The remotes that the module knows stand in show.ini.
static void remotes_are_paired_by_the_show(void **state) {
    (void)state;
    static const engine_file changes[] = {
        {"show.ini", "[show]\ntitle = Trial\nlength = 60\n[remotes]\npaired = 2 5\n"}, {NULL, NULL}};
    static const engine_case one = {"", PAIR, "0 remote 1 key on\n0 remote 2 key on\n0 remote 5 key off\n",
                                    "0,,remote,unpaired,,key,1\n0,,remote,key,,on,\n0,,remote,key,,off,\n"};
    engine_run_case(&one, changes);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(guards_refuse),
        cmocka_unit_test(waivers_name_inhibit_and_lapse),
        cmocka_unit_test(inhibits_hold_until_allowed),
        cmocka_unit_test(clear_lapses_on_each_of_its_causes_and_no_other),
        cmocka_unit_test(guards_say_what_they_are),
        cmocka_unit_test(remotes_are_paired_by_the_show),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

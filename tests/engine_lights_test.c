// SPDX-License-Identifier: GPL-3.0-or-later
// Fixtures under the transport: sets and returns, what closes flame and what opens it again, inhibited fixtures, places. Each case is a
// sentence of the format's page; wall is show time + 3 s until something is paused.
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

static const engine_case returns[] = {
    {"levels as asked for, in the profile's order, per cent of 255 rounded half up",
     "1,L1,red=50% dim=7,,\n2,F1,dim=100% flame=1 permit=200,,\n", LOOK,
     "4,1,engine,set,1,L1,dim=7 red=128\n"
     "5,2,engine,set,2,F1,permit=200 flame=1 dim=255\n" ENDED "63,60,engine,home,,F1,permit flame\n"},
    {"after lasts every channel of the cue returns, whatever its level, in the profile's order",
     "1,L1,red=7 dim=0,,2\n", LOOK, "4,1,engine,set,1,L1,dim=0 red=7\n6,3,engine,home,1,L1,dim red\n" ENDED},
    {"a later cue on a channel cancels its return", "1,L1,dim=5 red=5,,4\n2,L1,dim=9,,\n", LOOK,
     "4,1,engine,set,1,L1,dim=5 red=5\n"
     "5,2,engine,set,2,L1,dim=9\n"
     "8,5,engine,home,1,L1,red\n" ENDED},
    {"no row where no return is left", "1,L1,dim=5,,4\n2,L1,dim=9 red=9,,8\n", LOOK,
     "4,1,engine,set,1,L1,dim=5\n"
     "5,2,engine,set,2,L1,dim=9 red=9\n"
     "13,10,engine,home,2,L1,dim red\n" ENDED},
    {"a later cue that lasts gives it a return of its own", "1,L1,dim=5,,4\n2,L1,dim=9,,1\n", LOOK,
     "4,1,engine,set,1,L1,dim=5\n5,2,engine,set,2,L1,dim=9\n6,3,engine,home,2,L1,dim\n" ENDED},
    {"a cue at the moment of a return comes after it", "1,L1,dim=5,,2\n3,L1,dim=9,,\n", LOOK,
     "4,1,engine,set,1,L1,dim=5\n6,3,engine,home,1,L1,dim\n6,3,engine,set,2,L1,dim=9\n" ENDED},
    {"many returns, each when it is due, in whatever order they were asked for",
     "1,F1,permit=9,,1\n1.1,F1,dim=9,,9.9\n1.2,F2,permit=9,,1.8\n1.3,F2,dim=9,,10.7\n1.4,L1,dim=9,,11.6\n"
     "1.5,L1,red=9,,7.5\n1.6,F2,flame=9,,2.4\n",
     LOOK "5 note look\n",
     "5,2,engine,home,1,F1,permit\n"
     "6,3,engine,home,3,F2,permit\n"
     "7,4,engine,home,7,F2,flame\n"
     "12,9,engine,home,6,L1,red\n"
     "14,11,engine,home,2,F1,dim\n"
     "15,12,engine,home,4,F2,dim\n"
     "16,13,engine,home,5,L1,dim\n" ENDED},
};

#define FLAME "1,F1,permit=255,,20\n2,F1,flame=200,,3\n2,L1,dim=200,4,\n"
#define LIT "4,1,engine,set,1,F1,permit=255\n5,2,engine,set,2,F1,flame=200\n5,2,engine,set,3,L1,dim=200\n"

static const engine_case closing[] = {
    {"a pause closes flame with one row; a resume opens the enable, not the fire; a return made is not made "
     "again",
     FLAME, LOOK "6 pause\n10 resume\n",
     LIT "6,3,script,pause,,,\n"
         "6,3,engine,state,,paused,running\n"
         "6,3,engine,home,,F1,permit flame\n"
         "10,3,script,resume,,,\n"
         "10,1,engine,state,,running,paused\n"
         "10,1,engine,set,,F1,permit=255\n"
         "30,21,engine,home,1,F1,permit\n"
         "69,60,engine,state,,ended,running\n"},
    {"the next cue that names the fire opens it again", FLAME "8,F1,flame=90,,1\n",
     LOOK "6 pause\n10 resume\n11 note look\n",
     "17,8,engine,set,4,F1,flame=90\n"
     "18,9,engine,home,4,F1,flame\n"
     "30,21,engine,home,1,F1,permit\n"
     "69,60,engine,state,,ended,running\n"},
    {"a pause with the fire at home names the enable alone", "1,F1,permit=255,,2\n",
     LOOK "5 pause\n5 resume\n",
     "4,1,engine,set,1,F1,permit=255\n"
     "5,2,script,pause,,,\n"
     "5,2,engine,state,,paused,running\n"
     "5,2,engine,home,,F1,permit\n"
     "5,2,script,resume,,,\n"
     "5,0,engine,state,,running,paused\n"
     "5,0,engine,set,,F1,permit=255\n"
     "8,3,engine,home,1,F1,permit\n"
     "65,60,engine,state,,ended,running\n"},
    {"nothing away, no row; nothing open, no set", "1,F1,dim=255,,\n2,L1,dim=5,,\n",
     LOOK "6 pause\n6 resume\n",
     "4,1,engine,set,1,F1,dim=255\n"
     "5,2,engine,set,2,L1,dim=5\n"
     "6,3,script,pause,,,\n"
     "6,3,engine,state,,paused,running\n"
     "6,3,script,resume,,,\n"
     "6,1,engine,state,,running,paused\n"
     "65,60,engine,state,,ended,running\n"},
    {"two units in the order of their table", "1,F2,permit=255,,\n1,F1,permit=200 flame=1,,\n",
     LOOK "5 pause\n6 resume\n",
     "4,1,engine,set,1,F2,permit=255\n"
     "4,1,engine,set,2,F1,permit=200 flame=1\n"
     "5,2,script,pause,,,\n"
     "5,2,engine,state,,paused,running\n"
     "5,2,engine,home,,F1,permit flame\n"
     "5,2,engine,home,,F2,permit\n"
     "6,2,script,resume,,,\n"
     "6,0,engine,state,,running,paused\n"
     "6,0,engine,set,,F1,permit=200\n"
     "6,0,engine,set,,F2,permit=255\n"
     "66,60,engine,state,,ended,running\n"
     "66,60,engine,home,,F1,permit\n"
     "66,60,engine,home,,F2,permit\n"},
    {"paused at the moment of the enable's return, the resume does not open it",
     "1,F1,permit=255,,2\n1,L1,dim=9,,2\n", LOOK "@3 pause\n7 resume\n",
     "4,1,engine,set,1,F1,permit=255\n"
     "4,1,engine,set,2,L1,dim=9\n"
     "6,3,script,pause,,,\n"
     "6,3,engine,state,,paused,running\n"
     "6,3,engine,home,,F1,permit\n"
     "7,3,script,resume,,,\n"
     "7,1,engine,state,,running,paused\n"
     "9,3,engine,home,2,L1,dim\n"
     "66,60,engine,state,,ended,running\n"},
    {"make safe closes flame; there is no show time then", FLAME, LOOK "6 safe\n",
     LIT "6,3,script,safe,,,\n"
         "6,,engine,state,,safe,running\n"
         "6,,engine,home,,F1,permit flame\n"
         "6" LAPSED},
    {"key off closes flame", FLAME, LOOK "6 key off\n",
     LIT "6,3,script,key,,off,\n"
         "6,,engine,state,,safe,running\n"
         "6,,engine,home,,F1,permit flame\n"
         "6,,engine,guard,,clear,NOT MET, lapsed: key off\n"},
    {"quit makes safe first", FLAME, LOOK "6 quit\n",
     LIT "6,3,script,quit,,,\n"
         "6,,engine,state,,safe,running\n"
         "6,,engine,home,,F1,permit flame\n"
         "6,,engine,guard,,clear,NOT MET, lapsed: quit\n"},
    {"make safe from paused finds it closed already", FLAME, LOOK "6 pause\n7 note look\n8 safe\n",
     "8,3,script,safe,,,\n8,,engine,state,,safe,paused\n8" LAPSED},
    {"ended closes flame", "59,F1,permit=255 flame=9,,\n", LOOK,
     "62,59,engine,set,1,F1,permit=255 flame=9\n" ENDED "63,60,engine,home,,F1,permit flame\n"},
    {"a pause in the resume's countdown closes the enable again", "1,F1,permit=255 flame=9,,\n",
     LOOK "5 pause\n6 resume\n7 pause\n8 resume\n11 safe\n",
     "4,1,engine,set,1,F1,permit=255 flame=9\n"
     "5,2,script,pause,,,\n"
     "5,2,engine,state,,paused,running\n"
     "5,2,engine,home,,F1,permit flame\n"
     "6,2,script,resume,,,\n"
     "6,0,engine,state,,running,paused\n"
     "6,0,engine,set,,F1,permit=255\n"
     "7,1,script,pause,,,\n"
     "7,1,engine,state,,paused,running\n"
     "7,1,engine,home,,F1,permit\n"
     "8,1,script,resume,,,\n"
     "8,-1,engine,state,,running,paused\n"
     "8,-1,engine,set,,F1,permit=255\n"
     "11,2,script,safe,,,\n"
     "11,,engine,state,,safe,running\n"
     "11,,engine,home,,F1,permit\n"
     "11" LAPSED},
};

static const engine_case places[] = {
    {"a seek writes no set and no home", FLAME, LOOK "2 seek 3\n3 seek 0.5\n4 seek 30\n",
     "2,-1,script,seek,,3,\n"
     "3,4,script,seek,,0.5,\n"
     "3.5,1,engine,set,1,F1,permit=255\n"
     "4,1.5,script,seek,,30,\n"
     "34,60,engine,state,,ended,running\n"},
    {"a return still pending at the new place comes in its time", FLAME, LOOK "2 seek 4\n",
     "2,-1,script,seek,,4,\n"
     "3,5,engine,home,2,F1,flame\n"
     "19,21,engine,home,1,F1,permit\n"
     "58,60,engine,state,,ended,running\n"},
    {"after a seek in a pause a resume opens the enable where the show has it open there", FLAME,
     LOOK "2 pause\n2 seek 4\n3 resume\n",
     "2,-1,script,pause,,,\n"
     "2,-1,engine,state,,paused,running\n"
     "2,-1,script,seek,,4,\n"
     "3,4,script,resume,,,\n"
     "3,2,engine,state,,running,paused\n"
     "3,2,engine,set,,F1,permit=255\n"
     "22,21,engine,home,1,F1,permit\n"
     "61,60,engine,state,,ended,running\n"},
    {"a start in mid-flame lights nothing by itself, and says so; the next cue does",
     FLAME "8,F1,flame=90,,1\n", "0 seek 4\n" ENGINE_ARM "1.5 note look\n2 start\n",
     "2,4,script,start,,,\n"
     "2,2,engine,state,,running,armed\n"
     "2,2,engine,home,,F1,flame\n"
     "8,8,engine,set,4,F1,flame=90\n"
     "9,9,engine,home,4,F1,flame\n"
     "21,21,engine,home,1,F1,permit\n"
     "60,60,engine,state,,ended,running\n"},
    {"nothing before the place happens in its countdown",
     "3.5,L1,dim=5,,\n4,L1,dim=6,,\n1,L2,dim=5,,2.5\n4,A-01,mine,,\n",
     "0 seek 4\n" ENGINE_START "1 note look\n",
     "3,4,engine,set,2,L1,dim=6\n59,60,engine,state,,ended,running\n"},
};

static const engine_case inhibits[] = {
    {"an inhibited unit goes home at once and is not set", FLAME "8,F1,flame=90 permit=255,,1\n",
     LOOK "6 inhibit F1\n",
     LIT "6,3,script,inhibit,,F1,\n"
         "6,3,engine,home,,F1,permit flame\n"
         "11,8,engine,inhibited,4,F1,permit=255 flame=90\n" ENDED},
    {"by group, by position", FLAME "8,F1 F2,permit=255,,1\n9,lamps,dim=1,,\n",
     LOOK "1 inhibit flames\n1 inhibit right\n1 note look\n",
     "4,1,engine,inhibited,1,F1,permit=255\n"
     "5,2,engine,inhibited,2,F1,flame=200\n"
     "5,2,engine,set,3,L1,dim=200\n"
     "11,8,engine,inhibited,4,F1,permit=255\n"
     "11,8,engine,inhibited,4,F2,permit=255\n"
     "12,9,engine,set,5,L1,dim=1\n"
     "12,9,engine,inhibited,5,L2,dim=1\n" ENDED},
    {"a lamp stays as it is, and its return still comes", "1,L1,dim=5,,5\n3,L1,dim=9,,\n",
     LOOK "5 inhibit L1\n",
     "4,1,engine,set,1,L1,dim=5\n"
     "5,2,script,inhibit,,L1,\n"
     "6,3,engine,inhibited,2,L1,dim=9\n"
     "9,6,engine,home,1,L1,dim\n" ENDED},
    {"allowed in a pause, the resume opens the enable where the show has it open", FLAME,
     LOOK "2 inhibit F1\n2 note look\n6 pause\n7 allow F1\n8 resume\n",
     "4,1,engine,inhibited,1,F1,permit=255\n"
     "5,2,engine,inhibited,2,F1,flame=200\n"
     "5,2,engine,set,3,L1,dim=200\n"
     "6,3,script,pause,,,\n"
     "6,3,engine,state,,paused,running\n"
     "7,3,script,allow,,F1,\n"
     "8,3,script,resume,,,\n"
     "8,1,engine,state,,running,paused\n"
     "8,1,engine,set,,F1,permit=255\n"
     "28,21,engine,home,1,F1,permit\n"
     "67,60,engine,state,,ended,running\n"},
    {"not allowed, a resume opens nothing", FLAME, LOOK "6 inhibit flames\n7 pause\n8 resume\n",
     LIT "6,3,script,inhibit,,flames,\n"
         "6,3,engine,home,,F1,permit flame\n"
         "7,4,script,pause,,,\n"
         "7,4,engine,state,,paused,running\n"
         "8,4,script,resume,,,\n"
         "8,2,engine,state,,running,paused\n"
         "66,60,engine,state,,ended,running\n"},
};

static void sets_and_returns(void **state) {
    (void)state;
    engine_run_cases(returns, COUNT(returns));
}

static void flame_closes_whenever_it_is_not_running(void **state) {
    (void)state;
    engine_run_cases(closing, COUNT(closing));
}

static void a_place_is_reached_without_rows(void **state) {
    (void)state;
    engine_run_cases(places, COUNT(places));
}

static void inhibited_fixtures_are_held(void **state) {
    (void)state;
    engine_run_cases(inhibits, COUNT(inhibits));
}

typedef struct level_at {
    double at_s;
    const char *fixture, *channel;
    int level;
} level_at;

static void expect_levels(engine_run *run, const level_at *levels, size_t count) {
    for (size_t i = 0; i < count; i++) {
        engine_to(run, levels[i].at_s);
        int level = engine_look(run)->levels[engine_channel(run->show, levels[i].fixture, levels[i].channel)];
        if (level != levels[i].level)
            fail_msg("%s %s at %g: %d, not %d", levels[i].fixture, levels[i].channel, levels[i].at_s, level,
                     levels[i].level);
    }
}

static void start_at_1(engine_run *run) {
    engine_act(run, 0, "call-clear");
    engine_act(run, 0, "key on");
    engine_act(run, 0, "arm");
    engine_act(run, 1, "start");
}

// Lamps hold in the middle of their fade and go on from there; flame is home until its next cue.
static void a_pause_holds_lights_and_closes_flame(void **state) {
    (void)state;
    static const level_at before[] = {
        {3.9, "L1", "dim", 0},    {5, "L1", "dim", 0},     {6, "L1", "dim", 50},
        {6, "F1", "permit", 255}, {6, "F1", "flame", 200}, {6, "F1", "dim", 3},
    };
    static const level_at paused[] = {
        {6, "L1", "dim", 50}, {6, "F1", "permit", 0}, {6, "F1", "flame", 0},
        {9, "L1", "dim", 50}, {9, "L1", "red", 7},
    };
    static const level_at resumed[] = {
        {10, "F1", "permit", 255}, {10, "F1", "flame", 0},      {11.9, "L1", "dim", 50},
        {12, "L1", "dim", 50},     {13, "L1", "dim", 100},      {13, "F1", "flame", 0},
        {15, "L1", "dim", 200},    {29.9, "F1", "permit", 255}, {30, "F1", "permit", 0},
    };
    static const level_at safe[] = {{40, "L1", "dim", 0}, {40, "L1", "red", 7}, {40, "F1", "dim", 3}};
    sm_show *show = engine_show(FLAME, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    start_at_1(&run);
    expect_levels(&run, before, COUNT(before));
    engine_act(&run, 6, "pause");
    expect_levels(&run, paused, COUNT(paused));
    engine_act(&run, 10, "resume");
    expect_levels(&run, resumed, COUNT(resumed));
    engine_act(&run, 40, "safe");
    expect_levels(&run, safe, COUNT(safe));
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// Lights wait at the place through its countdown, and through a pause in that.
static void a_pause_on_the_way_to_a_place_holds_its_lights(void **state) {
    (void)state;
    static const level_at first[] = {{6, "L1", "dim", 50}};
    static const level_at second[] = {{8, "L1", "dim", 50}, {9, "L1", "dim", 50}};
    static const level_at third[] = {{10, "L1", "dim", 50}, {12, "L1", "dim", 50}, {13, "L1", "dim", 100}};
    sm_show *show = engine_show(FLAME, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    start_at_1(&run);
    expect_levels(&run, first, COUNT(first));
    engine_act(&run, 6, "pause");
    engine_act(&run, 7, "resume");
    engine_act(&run, 8, "pause");
    expect_levels(&run, second, COUNT(second));
    engine_act(&run, 9, "resume");
    expect_levels(&run, third, COUNT(third));
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static void a_cue_after_a_resume_lights_the_flame(void **state) {
    (void)state;
    static const level_at resumed[] = {
        {15.9, "F1", "flame", 0},  {16, "F1", "flame", 90}, {16, "F1", "permit", 255},
        {16.9, "F1", "flame", 90}, {17, "F1", "flame", 0},  {17, "F1", "permit", 255},
    };
    sm_show *show = engine_show("1,F1,permit=255,,\n2,F1,flame=200,,\n8,F1,flame=90,,1\n", NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    start_at_1(&run);
    engine_act(&run, 6, "pause");
    engine_act(&run, 9, "resume");
    expect_levels(&run, resumed, COUNT(resumed));
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// A cue may stand before 0, within the countdown.
static void a_pause_before_0_holds_lights_too(void **state) {
    (void)state;
    static const level_at first[] = {{2, "L1", "dim", 50}};
    static const level_at second[] = {{2.5, "L1", "dim", 50}, {4.5, "L1", "dim", 50}, {5, "L1", "dim", 100}};
    sm_show *show = engine_show("-1.5,L1,dim=200,2,\n", NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    start_at_1(&run);
    expect_levels(&run, first, COUNT(first));
    engine_act(&run, 2, "pause");
    engine_act(&run, 2.5, "resume");
    expect_levels(&run, second, COUNT(second));
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// In safe and armed fixtures stand as at the place, but for flame.
static void a_place_set_before_the_start_shows_its_lights(void **state) {
    (void)state;
    static const level_at safe[] = {{0, "L1", "dim", 100}, {0, "F1", "permit", 0}, {0, "F1", "flame", 0}};
    static const level_at armed[] = {{1, "L1", "dim", 100}, {1, "F1", "permit", 0}};
    static const level_at running[] = {{1, "L1", "dim", 100},   {1, "F1", "permit", 255},
                                       {2.9, "L1", "dim", 100}, {2.9, "F1", "flame", 0},
                                       {4, "L1", "dim", 150},   {4, "F1", "flame", 0}};
    sm_show *show = engine_show(FLAME, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    engine_act(&run, 0, "seek 4");
    expect_levels(&run, safe, COUNT(safe));
    engine_act(&run, 0, "call-clear");
    engine_act(&run, 0, "key on");
    engine_act(&run, 0, "arm");
    expect_levels(&run, armed, COUNT(armed));
    engine_act(&run, 1, "start");
    expect_levels(&run, running, COUNT(running));
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(sets_and_returns),
        cmocka_unit_test(flame_closes_whenever_it_is_not_running),
        cmocka_unit_test(a_place_is_reached_without_rows),
        cmocka_unit_test(inhibited_fixtures_are_held),
        cmocka_unit_test(a_pause_holds_lights_and_closes_flame),
        cmocka_unit_test(a_pause_on_the_way_to_a_place_holds_its_lights),
        cmocka_unit_test(a_cue_after_a_resume_lights_the_flame),
        cmocka_unit_test(a_pause_before_0_holds_lights_too),
        cmocka_unit_test(a_place_set_before_the_start_shows_its_lights),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

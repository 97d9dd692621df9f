// SPDX-License-Identifier: GPL-3.0-or-later
// Show time: countdowns, pauses, seeks, repeats, speeds. Each case is a sentence of the format's page; wall is show time + 3 s until
// something changes it.
#include "support/engine_run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define LOOK ENGINE_START "1 note look\n"
#define ENDED "63,60,engine,state,,ended,running\n"
#define LAPSED ",,engine,guard,,clear,NOT MET, lapsed: made safe\n"
#define MINES "1,A-01,mine,,\n2,A-02,mine,,\n3,A-03,mine,,\n4,A-04,mine,,\n"

static const engine_case countdowns[] = {
    {"start counts down to the place set", MINES, "0 seek 2.8\n" ENGINE_ARM "0.5 note look\n1 start\n",
     "1,2.8,engine,state,,armed,arming\n"
     "1,2.8,script,start,,,\n"
     "1,0.8,engine,state,,running,armed\n"
     "3,2.8,engine,fire,3,A-03,mine\n"
     "4,3.8,engine,fire,4,A-04,mine\n"
     "60.2,60,engine,state,,ended,running\n"},
    {"a resume counts down as start does", MINES, LOOK "4 pause\n10 resume\n",
     "3.8,0.8,engine,fire,1,A-01,mine\n"
     "4,1,script,pause,,,\n"
     "4,1,engine,state,,paused,running\n"
     "10,1,script,resume,,,\n"
     "10,-1,engine,state,,running,paused\n"
     "12.8,1.8,engine,fire,2,A-02,mine\n"
     "13.8,2.8,engine,fire,3,A-03,mine\n"
     "14.8,3.8,engine,fire,4,A-04,mine\n"
     "71,60,engine,state,,ended,running\n"},
    {"a pause in the countdown holds that moment; a resume counts down to it", MINES,
     LOOK "2 pause\n5 resume\n8 safe\n",
     "2,-1,script,pause,,,\n"
     "2,-1,engine,state,,paused,running\n"
     "5,-1,script,resume,,,\n"
     "5,-3,engine,state,,running,paused\n"
     "8,0,script,safe,,,\n"
     "8,,engine,state,,safe,running\n"
     "8" LAPSED},
    {"paused in the countdown of a resume, what was done is not done again", MINES,
     LOOK "4 pause\n5 resume\n5.5 pause\n6 resume\n11 safe\n",
     "3.8,0.8,engine,fire,1,A-01,mine\n"
     "4,1,script,pause,,,\n"
     "4,1,engine,state,,paused,running\n"
     "5,1,script,resume,,,\n"
     "5,-1,engine,state,,running,paused\n"
     "5.5,-0.5,script,pause,,,\n"
     "5.5,-0.5,engine,state,,paused,running\n"
     "6,-0.5,script,resume,,,\n"
     "6,-2.5,engine,state,,running,paused\n"
     "10.3,1.8,engine,fire,2,A-02,mine\n"
     "11,2.5,script,safe,,,\n"
     "11,,engine,state,,safe,running\n"
     "11" LAPSED},
    {"make safe takes the place back to 0", MINES,
     "0 seek 2\n" ENGINE_START "2 safe\n3 call-clear\n3 arm\n3 note look\n4 start\n7 pause\n",
     "4,,engine,state,,armed,arming\n"
     "4,,script,start,,,\n"
     "4,-2,engine,state,,running,armed\n"
     "6.8,0.8,engine,fire,1,A-01,mine\n"
     "7,1,script,pause,,,\n"
     "7,1,engine,state,,paused,running\n"},
    {"make safe in safe takes back a place, too", MINES, "0 seek 2\n0 note look\n1 safe\n2 seek 0\n",
     "1,2,script,safe,,,\n2,,script,seek,,0,\n"},
    {"show time is empty in safe, arming and armed until a seek", "",
     ENGINE_ARM "1 note a\n1 seek 7\n1 note b\n2 safe\n2 note c\n",
     "0,,script,call-clear,,J,\n"
     "0,,script,key,,on,\n"
     "0,,script,arm,,,\n"
     "0,,engine,state,,arming,safe\n"
     "1,,engine,state,,armed,arming\n"
     "1,,script,note,,a,\n"
     "1,,script,seek,,7,\n"
     "1,7,script,note,,b,\n"
     "2,7,script,safe,,,\n"
     "2,,engine,state,,safe,armed\n"
     "2" LAPSED "2,,script,note,,c,\n"},
};

static const engine_case last_moment[] = {
    {"a start at the very end", "60,A-01,mine,,\n60,L1,dim=9,,\n", "0 seek 60\n" ENGINE_START "1 note look\n",
     "3,60,engine,set,2,L1,dim=9\n3,60,engine,state,,ended,running\n"},
    {"a pause at the very end, and on", "60,L1,dim=9,,\n", LOOK "@60 pause\n70 resume\n",
     "63,60,script,pause,,,\n"
     "63,60,engine,state,,paused,running\n"
     "70,60,script,resume,,,\n"
     "70,58,engine,state,,running,paused\n"
     "72,60,engine,set,1,L1,dim=9\n"
     "72,60,engine,state,,ended,running\n"},
    {"make safe at the very end: it does not end", "60,L1,dim=9,,\n", LOOK "@60 safe\n70 note x\n",
     "63,60,script,safe,,,\n63,,engine,state,,safe,running\n63" LAPSED "70,,script,note,,x,\n"},
};

static const engine_case seeks[] = {
    {"skipped slots are passed in table order, with their fire times",
     "3,A-03,mine,,\n1,A-01,mine,,\n2,A-02,comet,,\n2.8,A-04,fountain,,\n", LOOK "1 seek 2.8\n2 safe\n",
     "1,-2,script,seek,,2.8,\n"
     "1,0.8,engine,passed,2,A-01,mine\n"
     "1,1.5,engine,passed,3,A-02,comet\n"
     "1,2.8,engine,fire,1,A-03,mine\n"
     "1,2.8,engine,fire,4,A-04,fountain\n"
     "2,3.8,script,safe,,,\n"
     "2,,engine,state,,safe,running\n"
     "2" LAPSED},
    {"seeking back makes passed slots pending again; spent ones stay spent", MINES,
     LOOK "4 seek 3.5\n4.1 seek 0.5\n8 safe\n",
     "3.8,0.8,engine,fire,1,A-01,mine\n"
     "4,1,script,seek,,3.5,\n"
     "4,1.8,engine,passed,2,A-02,mine\n"
     "4,2.8,engine,passed,3,A-03,mine\n"
     "4.1,3.6,script,seek,,0.5,\n"
     "4.4,0.8,engine,spent,1,A-01,mine\n"
     "5.4,1.8,engine,fire,2,A-02,mine\n"
     "6.4,2.8,engine,fire,3,A-03,mine\n"
     "7.4,3.8,engine,fire,4,A-04,mine\n"
     "8,4.4,script,safe,,,\n"
     "8,,engine,state,,safe,running\n"
     "8" LAPSED},
    {"and misfired ones; what then lies before the place is passed", MINES,
     LOOK "1 unplug A\n1 note look\n5.9 plug A\n6 seek 1\n8.5 safe\n",
     "3.8,0.8,engine,misfire,1,A-01,mine rail unplugged\n"
     "4.8,1.8,engine,misfire,2,A-02,mine rail unplugged\n"
     "5.8,2.8,engine,misfire,3,A-03,mine rail unplugged\n"
     "5.9,2.9,script,plug,,A,\n"
     "6,3,script,seek,,1,\n"
     "6,0.8,engine,passed,1,A-01,mine\n"
     "6.8,1.8,engine,fire,2,A-02,mine\n"
     "7.8,2.8,engine,fire,3,A-03,mine\n"
     "8.5,3.5,script,safe,,,\n"
     "8.5,,engine,state,,safe,running\n"},
    {"make safe makes passed and misfired slots pending again", MINES,
     LOOK "1 unplug A\n1 note look\n4 seek 3.5\n5 safe\n5 plug A\n6 call-clear\n6 arm\n7 start\n11.5 safe\n",
     "3.8,0.8,engine,misfire,1,A-01,mine rail unplugged\n"
     "4,1,script,seek,,3.5,\n"
     "4,1.8,engine,passed,2,A-02,mine\n"
     "4,2.8,engine,passed,3,A-03,mine\n"
     "4.3,3.8,engine,misfire,4,A-04,mine rail unplugged\n"
     "5,4.5,script,safe,,,\n"
     "5,,engine,state,,safe,running\n"
     "5,,script,plug,,A,\n"
     "6,,script,call-clear,,,\n"
     "6,,script,arm,,,\n"
     "6,,engine,state,,arming,safe\n"
     "7,,engine,state,,armed,arming\n"
     "7,,script,start,,,\n"
     "7,-2,engine,state,,running,armed\n"
     "9.8,0.8,engine,fire,1,A-01,mine\n"
     "10.8,1.8,engine,fire,2,A-02,mine\n"
     "11.5,2.5,script,safe,,,\n"
     "11.5,,engine,state,,safe,running\n"
     "11.5" LAPSED},
    {"a spent slot is not passed; passed over it is spent when due again", MINES,
     LOOK "4 seek 3.5\n4.5 seek 0.5\n4.5 note look\n5 safe\n5 seek 3\n",
     "4.8,0.8,engine,spent,1,A-01,mine\n"
     "5,1,script,safe,,,\n"
     "5,,engine,state,,safe,running\n"
     "5" LAPSED "5,,script,seek,,3,\n"
     "5,1.8,engine,passed,2,A-02,mine\n"
     "5,2.8,engine,passed,3,A-03,mine\n"},
    {"re-rigged it is passed as any", MINES, LOOK "4 safe\n4 rerig\n4 note look\n4 seek 2\n",
     "4,,script,seek,,2,\n"
     "4,0.8,engine,passed,1,A-01,mine\n"
     "4,1.8,engine,passed,2,A-02,mine\n"},
    {"a seek in safe and one in armed pass at once, and the start does not pass again", MINES,
     "0 seek 1\n" ENGINE_ARM "1 seek 2\n1 start\n2 safe\n",
     "0,,script,seek,,1,\n"
     "0,0.8,engine,passed,1,A-01,mine\n"
     "0,1,script,call-clear,,J,\n"
     "0,1,script,key,,on,\n"
     "0,1,script,arm,,,\n"
     "0,1,engine,state,,arming,safe\n"
     "1,1,engine,state,,armed,arming\n"
     "1,1,script,seek,,2,\n"
     "1,1.8,engine,passed,2,A-02,mine\n"
     "1,2,script,start,,,\n"
     "1,0,engine,state,,running,armed\n"
     "2,1,script,safe,,,\n"
     "2,,engine,state,,safe,running\n"
     "2" LAPSED},
    {"a seek in a pause is where the resume begins", MINES,
     LOOK "2 pause\n3 seek 3\n3 seek 2\n4 resume\n7.9 safe\n",
     "2,-1,script,pause,,,\n"
     "2,-1,engine,state,,paused,running\n"
     "3,-1,script,seek,,3,\n"
     "3,0.8,engine,passed,1,A-01,mine\n"
     "3,1.8,engine,passed,2,A-02,mine\n"
     "3,2.8,engine,passed,3,A-03,mine\n"
     "3,3,script,seek,,2,\n"
     "3,0.8,engine,passed,1,A-01,mine\n"
     "3,1.8,engine,passed,2,A-02,mine\n"
     "4,2,script,resume,,,\n"
     "4,0,engine,state,,running,paused\n"
     "6.8,2.8,engine,fire,3,A-03,mine\n"
     "7.8,3.8,engine,fire,4,A-04,mine\n"
     "7.9,3.9,script,safe,,,\n"
     "7.9,,engine,state,,safe,running\n"
     "7.9" LAPSED},
    {"in a countdown the place counts: a seek before it goes back", MINES,
     "0 seek 3\n" ENGINE_START "1 note look\n2.5 seek 2.6\n3.8 safe\n",
     "2.5,2.5,script,seek,,2.6,\n"
     "2.5,0.8,engine,passed,1,A-01,mine\n"
     "2.5,1.8,engine,passed,2,A-02,mine\n"
     "2.7,2.8,engine,fire,3,A-03,mine\n"
     "3.7,3.8,engine,fire,4,A-04,mine\n"
     "3.8,3.9,script,safe,,,\n"
     "3.8,,engine,state,,safe,running\n"
     "3.8" LAPSED},
    {"moments outside the show are refused, its two ends are not", "",
     LOOK "1 seek -0.001\n1 seek 60.001\n1 seek 0\n2 seek 1:00.000\n3 seek 5\n",
     "1,-2,script,refused,,seek,-0.001 is outside the show: 0 to 1:00.000\n"
     "1,-2,script,refused,,seek,60.001 is outside the show: 0 to 1:00.000\n"
     "1,-2,script,seek,,0,\n"
     "2,1,script,seek,,1:00.000,\n"
     "2,60,engine,state,,ended,running\n"
     "3,60,script,refused,,seek,not while ended; allowed in: safe, armed, running, paused\n"},
    {"moments as timecode and as marks", "",
     LOOK "3.5 mark entry\n4 seek 01:00:10:00\n5 seek entry\n5 seek exit\n6 safe\n",
     "3.5,0.5,script,mark,,entry,\n"
     "4,1,script,seek,,01:00:10:00,\n"
     "5,11,script,seek,,entry,\n"
     "5,0.5,script,refused,,seek,no mark exit\n"
     "6,1.5,script,safe,,,\n"
     "6,,engine,state,,safe,running\n"
     "6" LAPSED},
};

static const engine_case repeats[] = {
    {"from the very moment B the show goes on", "3,L1,dim=3,,\n",
     LOOK "2 seek 3\n2 repeat 1 3\n2 note look\n2.5 safe\n",
     "2,3,engine,set,1,L1,dim=3\n"
     "2.5,3.5,script,safe,,,\n"
     "2.5,,engine,state,,safe,running\n"
     "2.5" LAPSED},
    {"from B, excluded, back to A; spent slots stay spent", "1,A-01,mine,,\n2,L1,dim=5,,\n3,L1,dim=9,,\n",
     LOOK "1 repeat 0.5 3\n11.4 safe\n",
     "1,-2,script,repeat,,0.5,3\n"
     "3.8,0.8,engine,fire,1,A-01,mine\n"
     "5,2,engine,set,2,L1,dim=5\n"
     "6,0.5,engine,repeat,,0.500000,again\n"
     "6.3,0.8,engine,spent,1,A-01,mine\n"
     "7.5,2,engine,set,2,L1,dim=5\n"
     "8.5,0.5,engine,repeat,,0.500000,again\n"
     "8.8,0.8,engine,spent,1,A-01,mine\n"
     "10,2,engine,set,2,L1,dim=5\n"
     "11,0.5,engine,repeat,,0.500000,again\n"
     "11.3,0.8,engine,spent,1,A-01,mine\n"
     "11.4,0.9,script,safe,,,\n"
     "11.4,,engine,state,,safe,running\n"
     "11.4" LAPSED},
    {"with rerig spent slots within are used again; misfired and passed ones are pending in any case",
     "1,A-01,mine,,\n1.5,A-02,fountain,,1\n2,A-03,mine,,\n",
     LOOK "1 repeat 0.5 1.7 rerig\n1 read A-02 open\n1 note look\n6 repair A-02\n6.5 repeat off\n7 safe\n",
     "3.8,0.8,engine,fire,1,A-01,mine\n"
     "4.5,1.5,engine,misfire,2,A-02,fountain open\n"
     "4.7,0.5,engine,repeat,,0.500000,again, simulated re-rig\n"
     "5,0.8,engine,fire,1,A-01,mine\n"
     "5.7,1.5,engine,misfire,2,A-02,fountain open\n"
     "5.9,0.5,engine,repeat,,0.500000,again, simulated re-rig\n"
     "6,0.6,script,repair,,A-02,\n"
     "6,0.6,engine,guard,,clear,NOT MET, lapsed: repaired A-02\n"
     "6.2,0.8,engine,fire,1,A-01,mine\n"
     "6.5,1.1,script,repeat,,off,\n"
     "6.9,1.5,engine,fire,2,A-02,fountain\n"
     "7,1.6,script,safe,,,\n"
     "7,,engine,state,,safe,running\n"},
    {"begun past B, the show goes on to its end", "", LOOK "8 repeat 1 3\n", "8,5,script,repeat,,1,3\n"},
    {"a repeat up to the end never ends", "", LOOK "1 repeat 59 60\n64 safe\n",
     "1,-2,script,repeat,,59,60\n"
     "63,59,engine,repeat,,59.000000,again\n"
     "64,60,script,safe,,,\n"
     "64,,engine,state,,safe,running\n"
     "64" LAPSED},
    {"only forward and within the show", "",
     LOOK "1 repeat 3 3\n1 repeat 4 3\n1 repeat -1 3\n1 repeat 1 61\n1 safe\n2 note look\n", ""},
    {"at least 100 ms long", "",
     LOOK "1 repeat 0.5 0.500001 rerig\n1 repeat 0.5 0.599999\n1 repeat 0.5 0.6\n3.65 repeat off\n4 safe\n",
     "1,-2,script,refused,,repeat,a repeat is at least 0.1 s long\n"
     "1,-2,script,refused,,repeat,a repeat is at least 0.1 s long\n"
     "1,-2,script,repeat,,0.5,0.6\n"
     "3.6,0.5,engine,repeat,,0.500000,again\n"
     "3.65,0.55,script,repeat,,off,\n"
     "4,0.9,script,safe,,,\n"
     "4,,engine,state,,safe,running\n"
     "4" LAPSED},
};

static const engine_case speeds[] = {
    {"0.1 and 2, and what lies outside", "1,A-01,mine,,\n", LOOK "1 speed 0.09\n1 speed 2.01\n1 speed 2\n",
     "1,-2,script,refused,,speed,speed 0.09 is outside 0.1 to 2\n"
     "1,-2,script,refused,,speed,speed 2.01 is outside 0.1 to 2\n"
     "1,-2,script,speed,,2,\n"
     "2.4,0.8,engine,fire,1,A-01,mine\n"
     "32,60,engine,state,,ended,running\n"},
    {"in mid-run", "1,L1,dim=1,,\n2,L1,dim=2,,\n3,L1,dim=3,,\n", LOOK "4.5 speed 0.1\n9 speed 2\n",
     "4,1,engine,set,1,L1,dim=1\n"
     "4.5,1.5,script,speed,,0.1,\n"
     "9,1.95,script,speed,,2,\n"
     "9.025,2,engine,set,2,L1,dim=2\n"
     "9.525,3,engine,set,3,L1,dim=3\n"
     "38.025,60,engine,state,,ended,running\n"},
    {"set before the start it holds from there; a countdown is show time", "1,L1,dim=1,,\n",
     "0 speed 0.5\n" ENGINE_START "1 note look\n6 pause\n6 speed 1\n6 resume\n",
     "6,0.5,script,pause,,,\n"
     "6,0.5,engine,state,,paused,running\n"
     "6,0.5,script,speed,,1,\n"
     "6,0.5,script,resume,,,\n"
     "6,-1.5,engine,state,,running,paused\n"
     "8.5,1,engine,set,1,L1,dim=1\n"
     "67.5,60,engine,state,,ended,running\n"},
    {"due times round up to the microsecond",
     "0.000001,L1,dim=1,,\n0.000002,L1,dim=2,,\n0.000003,L1,dim=3,,\n", LOOK "3 speed 2\n3 note look\n",
     "3.000001,0.000001,engine,set,1,L1,dim=1\n"
     "3.000001,0.000002,engine,set,2,L1,dim=2\n"
     "3.000002,0.000003,engine,set,3,L1,dim=3\n"
     "33,60,engine,state,,ended,running\n"},
    {"at a tenth", "0.000001,L1,dim=1,,\n0.000002,L1,dim=2,,\n", LOOK "3 speed 0.1\n3 note look\n",
     "3.00001,0.000001,engine,set,1,L1,dim=1\n"
     "3.00002,0.000002,engine,set,2,L1,dim=2\n"
     "603,60,engine,state,,ended,running\n"},
};

static void countdowns_lead_to_the_place(void **state) {
    (void)state;
    engine_run_cases(countdowns, COUNT(countdowns));
}

static void the_last_moment_of_the_show(void **state) {
    (void)state;
    engine_run_cases(last_moment, COUNT(last_moment));
}

static void no_countdown_and_no_time_to_arm(void **state) {
    (void)state;
    static const engine_file changes[] = {
        {"show.ini", "[show]\ntitle = Trial\ncountdown = 0\nlength = 2\n[limits]\narm-time = 0\n"},
        {NULL, NULL}};
    static const engine_case one = {"", "0,A-01,fountain,,1\n0.1,A-02,comet,,\n",
                                    "0 call-clear\n0 key on\n0 note look\n0 arm\n0 start\n",
                                    "0,,script,arm,,,\n"
                                    "0,,engine,state,,arming,safe\n"
                                    "0,,engine,state,,armed,arming\n"
                                    "0,,script,start,,,\n"
                                    "0,0,engine,state,,running,armed\n"
                                    "0,-0.4,engine,passed,2,A-02,comet\n"
                                    "0,0,engine,fire,1,A-01,fountain\n"
                                    "1,1,engine,out,1,A-01,fountain\n"
                                    "2,2,engine,state,,ended,running\n"};
    engine_run_case(&one, changes);
}

static void seeks_pass_and_restore(void **state) {
    (void)state;
    engine_run_cases(seeks, COUNT(seeks));
}

static void repeats_go_round(void **state) {
    (void)state;
    engine_run_cases(repeats, COUNT(repeats));
}

static void speed_changes_the_show_alone(void **state) {
    (void)state;
    engine_run_cases(speeds, COUNT(speeds));
}

// A repeat begun past B is on, so that a headless run would stop: here the clock is driven on.
static void a_repeat_left_behind_lets_the_show_end(void **state) {
    (void)state;
    sm_show *show = engine_show("", NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    (void)engine_play(&run, LOOK "8 repeat 1 3\n8 note look\n");
    engine_to(&run, 63);
    engine_expect(&run, ENDED);
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// At any speed an event is issued at the first microsecond of the wall at which show time has reached it.
static void due_times_are_exact_at_any_speed(void **state) {
    (void)state;
    sm_show *show = engine_show("7.654321,L1,dim=1,,\n", NULL);
    for (int percent = 10; percent <= 200; percent += 3) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        char speed[32];
        snprintf(speed, sizeof speed, "speed %d.%02d", percent / 100, percent % 100);
        engine_act(&run, 0, speed);
        engine_act(&run, 0, "call-clear");
        engine_act(&run, 0, "key on");
        engine_act(&run, 0, "arm");
        engine_act(&run, 1, "start");
        sm_us due_us = 1000000 + (9654321LL * 100 + percent - 1) / percent;
        uint32_t dim = engine_channel(show, "L1", "dim");
        engine_to(&run, (double)(due_us - 1) / 1e6);
        assert_int_equal(engine_look(&run)->levels[dim], 0);
        assert_true(run.snapshot->at.us < 7654321);
        engine_to(&run, (double)due_us / 1e6);
        assert_int_equal(engine_look(&run)->levels[dim], 1);
        assert_true(run.snapshot->at.us >= 7654321);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

static void a_show_clock_rounds_down_and_up(void **state) {
    (void)state;
    const sm_show_clock slow = {{1000}, {500}, 100000, true}, still = {{1000}, {500}, 2000000, false};
    assert_int_equal(sm_show_clock_show_at(&slow, (sm_wall_time){1009}).us, 500);
    assert_int_equal(sm_show_clock_show_at(&slow, (sm_wall_time){1010}).us, 501);
    assert_int_equal(sm_show_clock_show_at(&slow, (sm_wall_time){999}).us, 499);
    assert_int_equal(sm_show_clock_wall_at(&slow, (sm_show_time){501}).us, 1010);
    assert_int_equal(sm_show_clock_wall_at(&slow, (sm_show_time){499}).us, 1000);
    assert_int_equal(sm_show_clock_show_at(&still, (sm_wall_time){999999}).us, 500);
    const sm_show_clock fast = {{0}, {0}, 2000000, true};
    assert_int_equal(sm_show_clock_wall_at(&fast, (sm_show_time){3}).us, 2);
    // Eleven years of show at a tenth of the speed do not overflow.
    const sm_show_clock long_run = {{0}, {0}, 100000, true};
    assert_int_equal(sm_show_clock_wall_at(&long_run, (sm_show_time){SM_US_MAX}).us, SM_US_MAX * 10);
}

// What fires next lies within the repeat, or there is nothing: a firing after its end never comes.
static void the_next_firing_is_within_the_repeat(void **state) {
    (void)state;
    sm_show *show = engine_show("1,A-01,mine,,\n2,A-02,mine,,\n5,B-01,mine,,\n", NULL);
    for (int rerig = 0; rerig < 2; rerig++) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        (void)engine_act(&run, 0, "call-clear J");
        (void)engine_act(&run, 0, "key on");
        (void)engine_act(&run, 0, "arm");
        (void)engine_act(&run, 1, "start"); // show = wall - 3 s
        (void)engine_act(&run, 1, rerig ? "repeat 0.5 3 rerig" : "repeat 0.5 3");
        engine_to(&run, 3.5);
        uint32_t first = show->firings[show->slot_firings[engine_slot(show, "A-01")]].event;
        uint32_t last = show->firings[show->slot_firings[engine_slot(show, "B-01")]].event;
        assert_int_equal(engine_look(&run)->next_firing, first);
        engine_to(&run, 5.5);
        assert_int_equal(engine_look(&run)->next_firing, rerig ? first : SM_NONE);
        (void)engine_act(&run, 5.5, "repeat off");
        assert_int_equal(engine_look(&run)->next_firing, last);
        engine_run_deinit(&run);
    }
    sm_show_destroy(show);
}

// The slot of the first row of ROWS from *at on that tells of a firing; SM_NONE where there is none. *at goes behind it.
static uint32_t next_told(const engine_run *run, size_t *at) {
    while (*at < run->rows.length) {
        const char *line = run->rows.bytes + *at;
        const size_t length = strcspn(line, "\n");
        char what[24], slot[24];
        *at += length + 1;
        if (sscanf(line, "%*[^,],%*[^,],engine,%23[^,],%*[^,],%23[^,],", what, slot) == 2 &&
            (strcmp(what, "fire") == 0 || strcmp(what, "misfire") == 0))
            return engine_slot(run->show, slot);
    }
    return SM_NONE;
}

// What is said to fire next is what then fires next, whatever is held back, spent or passed over; a repeat goes round for as long as it
// fires anything.
static const char *const held_and_passed[] = {
    "note plain",
    "inhibit A-01",
    "inhibit A-02",
    "inhibit A",
    "inhibit comet",
    "inhibit near\ninhibit A-03",
    "read A-02 open",
    "seek 1.5",
    "seek 6",
    "repeat 0.5 3",
    "repeat 0.5 3 rerig",
    "repeat 0.5 3 rerig\ninhibit A-01",
    "repeat 2 6 rerig\ninhibit A-02",
    "repeat 2 6\ninhibit A-02",
    "repeat 2 4 rerig",
    "repeat 4.5 5.5 rerig",
    "repeat 2 4 rerig\ninhibit A",
    "repeat 5 5.2 rerig",
    "repeat 4.8 5 rerig",
};

static void what_fires_next_is_what_was_said(void **state) {
    (void)state;
    sm_show *show =
        engine_show("1,A-01,mine,,\n2,A-02,mine,,\n4,A-03,comet,,\n5,B-01,mine,,\n5,B-02,mine,,\n", NULL);
    unsigned fired = 0;
    for (size_t i = 0; i < sizeof held_and_passed / sizeof held_and_passed[0]; i++) {
        engine_run run;
        engine_run_init(&run, show, NULL);
        (void)engine_act(&run, 0, "call-clear J");
        (void)engine_act(&run, 0, "key on");
        (void)engine_act(&run, 0, "arm");
        for (const char *line = held_and_passed[i]; *line;) {
            char one[40];
            const size_t length = strcspn(line, "\n");
            snprintf(one, sizeof one, "%.*s", (int)length, line);
            assert_int_equal(engine_act(&run, 1, one), SM_OK);
            line += length + (line[length] == '\n');
        }
        assert_int_equal(engine_act(&run, 1, "start"), SM_OK); // show = wall - 3 s from 0
        size_t at = run.rows.length;
        uint32_t said = engine_look(&run)->next_firing;
        for (int tick = 21; tick < 320; tick++) {
            const double wall = tick * 0.05;
            engine_to(&run, wall);
            for (uint32_t told; (told = next_told(&run, &at)) != SM_NONE; fired++) {
                if (said == SM_NONE)
                    fail_msg("%s: at %.2f s slot %u fires, nothing was said", held_and_passed[i], wall,
                             (unsigned)told);
                const uint32_t slot = show->firings[show->events[said].target].slot;
                const uint32_t twin =
                    engine_slot(show, "B-01") + engine_slot(show, "B-02") - slot; // both at 5 s
                if (told != slot && told != twin)
                    fail_msg("%s: at %.2f s slot %u fires, not %u", held_and_passed[i], wall, (unsigned)told,
                             (unsigned)slot);
            }
            const uint32_t now = engine_look(&run)->next_firing;
            if (now == SM_NONE && wall < 10) { // then nothing more fires
                engine_to(&run, 16);
                assert_int_equal(next_told(&run, &at), SM_NONE);
                break;
            }
            said = now;
        }
        engine_run_deinit(&run);
    }
    assert_true(fired > 80);
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_fires_next_is_what_was_said),
        cmocka_unit_test(the_next_firing_is_within_the_repeat),
        cmocka_unit_test(countdowns_lead_to_the_place),
        cmocka_unit_test(the_last_moment_of_the_show),
        cmocka_unit_test(no_countdown_and_no_time_to_arm),
        cmocka_unit_test(seeks_pass_and_restore),
        cmocka_unit_test(repeats_go_round),
        cmocka_unit_test(speed_changes_the_show_alone),
        cmocka_unit_test(a_repeat_left_behind_lets_the_show_end),
        cmocka_unit_test(a_show_clock_rounds_down_and_up),
        cmocka_unit_test(due_times_are_exact_at_any_speed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

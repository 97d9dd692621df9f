// SPDX-License-Identifier: GPL-3.0-or-later
// The demo's course from the spotter's seat: every drill by trainees of whom the marks are worked out by hand, and what a spotter may and
// may not do. No outside source says what a drill is worth: the marks are those of the files, the sum is format.md's.
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "support/drill_play.h"

typedef struct taken {
    const char *drill;
    const char *perfect; // 100
    const char *slow;    // does the right things, too late
    int slow_score;
    const char *lazy; // calls clear as soon as everyone has answered, and watches nothing
    int lazy_score;
    const char *early; // calls clear before everyone has answered
} taken;

static const taken course[] = {
    {"01-first-arming",
     "hasty 3 safe\nm-answers 5 call-clear S\nwalker 2 safe\ngone 5 answer a child, outside, clear again\n",
     // safe after 13 s of 10: 30 x 7/10 = 21; after 9 s of 6: 30 x 3/6 = 15; the rest in time
     "hasty 13 safe\nm-answers 5 call-clear S\nwalker 9 safe\ngone 100 answer outside\n", 21 + 20 + 15 + 20,
     "m-answers 5 call-clear S\n", 20, "k-answers 2 call-clear S\n"},
    {"02-one-bad-igniter",
     "inside 4 answer I see you, nobody else\nhasty 3 safe\ns-early 3 safe\nm-answers 5 call-clear S\n",
     // 9 s of 6: 40 x 3/6 = 20; 8 s of 6: 20 x 4/6 = 13
     "inside 100 answer I see you\nhasty 9 safe\ns-early 8 safe\nm-answers 5 call-clear S\n",
     20 + 20 + 13 + 20, "m-answers 5 call-clear S\n", 20, "k-out 1 call-clear S\n"},
    {"03-someone-went-back",
     "m-answers 5 call-clear S\ngone-in 2 safe\ns-out 3 answer a photographer, outside\nhasty 3 safe\n"
     "m-again 5 call-clear S\n",
     // 7 s of 4: 30 x 1/4 = 7; 8 s of 6: 30 x 4/6 = 20
     "m-answers 5 call-clear S\ngone-in 7 safe\ns-out 3 answer outside\nhasty 8 safe\nm-again 5 call-clear "
     "S\n",
     10 + 7 + 10 + 20 + 20, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"04-hold-means-hold",
     "m-answers 5 call-clear S\ngust 2 pause\nonly-a-gust 2 pause\ns-lull 9 wind 6 m/s\ns-shape 2 safe\n",
     // 8 s of 5: 25 x 2/5 = 10; 6 s of 5: 25 x 4/5 = 20; 7 s of 5: 30 x 3/5 = 18
     "m-answers 5 call-clear S\ngust 8 pause\nonly-a-gust 6 pause\ns-lull 9 wind 6 m/s\ns-shape 7 safe\n",
     10 + 10 + 20 + 10 + 18, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"05-who-has-the-button",
     "stranger 5 note remote 2 with M\nm-answers 5 call-clear S\nit-will-do 3 safe\ns-ready 5 call-clear S\n"
     "gone 3 safe\nback 2 note link away for 25 s\ngoing-on 3 safe\n",
     // 12 s of 8: 20 x 4/8 = 10 (the lead had started after 10 s: it is stopped all the same); 10 s of 8: 25 x 6/8 = 18;
     // 9 s of 6: 15 x 3/6 = 7
     "stranger 5 note remote 2 with M\nm-answers 5 call-clear S\nit-will-do 9 safe\ns-ready 5 call-clear S\n"
     "gone 10 safe\nback 2 note link away\ngoing-on 8.5 safe\n",
     10 + 10 + 17 + 10 + 18 + 10 + 8, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"06-stays-lit",
     "m-answers 5 call-clear S\nstuck 2 pause\nstuck 6 safe\nruns-in 2 safe\nstuck 60 note fire cover at "
     "21:20\n",
     // 6 s of 4: 20 x 2/4 = 10; 12 s of 10: 25 x 8/10 = 20; 7 s of 5: 30 x 3/5 = 18
     "m-answers 5 call-clear S\nstuck 6 pause\nstuck 12 safe\nruns-in 7 safe\nstuck 60 note fire cover\n",
     10 + 10 + 20 + 18 + 15, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"07-nobody-goes-in-yet",
     "m-answers 5 call-clear S\nlast 3 safe\nlast 10 report A-07\nlast 14 report B-02\ngo-in 2 safe\n",
     // 21 s of 15: 20 x 9/15 = 12; the second after 4 min: none; 6 s of 5: 40 x 4/5 = 32
     "m-answers 5 call-clear S\nlast 21 safe\nlast 25 report A-07\ngo-in 6 safe\nlast 240 report B-02\n",
     10 + 12 + 15 + 32, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"08-everything-at-once",
     "hasty 2 safe\nm-answers 5 call-clear S\ngone-in 2 safe\nold-clear 2 safe\nm-again 5 call-clear S\n"
     "gust 3 pause\ns-gone 3 safe\n",
     // 6 s of 5: 15 x 4/5 = 12; 8 s of 5: 20 x 2/5 = 8; 7 s of 5: 15 x 3/5 = 9; 9 s of 5: 15 x 1/5 = 3; 11 s of 8: 15 x 5/8 = 9
     "hasty 6 safe\nm-answers 5 call-clear S\ngone-in 8 safe\nold-clear 7 safe\nm-again 5 call-clear S\n"
     "gust 9 pause\ns-gone 11 safe\n",
     12 + 10 + 8 + 9 + 10 + 3 + 9, "m-answers 5 call-clear S\n", 10, "k-answers 1 call-clear S\n"},
    {"09-first-one-back",
     "m-answers 5 call-clear S\nrunning 20 report A-02\ns-hurry 3 safe\none-goes 5 answer I watch L\n"
     "one-back 4 answer L is out\n",
     // 8 s of 6: 35 x 4/6 = 23; the answers after more than 2 min: none, and L does not go before the first
     "m-answers 5 call-clear S\nrunning 200 report A-02\ns-hurry 8 safe\none-goes 130 answer I watch L\n"
     "one-back 130 answer L is out\n",
     15 + 20 + 23, "m-answers 5 call-clear S\n", 15, "k-answers 1 call-clear S\n"},
    {"10-the-spotters-seat",
     "silent 3 answer Not clear, K has not answered\nhasty 2 safe\ns-found 5 call-clear S\nwalker 1.5 pause\n"
     "walker 4 safe\ns-gone 5 answer a child, with M; clear again\n",
     // 8 s of 6: 20 x 4/6 = 13; 6 s of 4: 25 x 2/4 = 12; 15 s of 10: 20 x 5/10 = 10
     "silent 3 answer Not clear\nhasty 8 safe\ns-found 5 call-clear S\nwalker 6 pause\nwalker 15 safe\n"
     "s-gone 5 answer outside\n",
     10 + 13 + 15 + 12 + 10 + 10, "s-found 5 call-clear S\n", 15, "silent 1 call-clear S\n"},
};
#define COURSE (sizeof course / sizeof course[0])

static sm_drill *load(const sm_show *show, const char *name) {
    sm_drill *drill = drill_play_load(show, name);
    assert_int_equal(sm_drill_sit(drill, SM_SEAT_SPOTTER), SM_OK);
    assert_int_equal(drill->seat, SM_SEAT_SPOTTER);
    return drill;
}

static void print_debrief(const sm_drill_run *run) {
    sm_text text = {0};
    sm_drill_debrief_text(run, &text);
    print_message("%s", sm_text_get(&text));
    sm_text_deinit(&text);
}

static void expect_score(const sm_show *show, const taken *t, const char *who, const char *script,
                         int score) {
    sm_drill *drill = load(show, t->drill);
    sm_drill_run *run = drill_play_plain(drill, script);
    if (sm_drill_score(run) != score) {
        print_debrief(run);
        fail_msg("%s, %s: %d, not %d", t->drill, who, sm_drill_score(run), score);
    }
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
}

static void every_drill_to_the_exact_marks(void **state) {
    for (size_t i = 0; i < COURSE; i++) {
        expect_score(*state, &course[i], "perfect", course[i].perfect, 100);
        expect_score(*state, &course[i], "slow", course[i].slow, course[i].slow_score);
        expect_score(*state, &course[i], "lazy", course[i].lazy, course[i].lazy_score);
    }
}

static int load_demo(void **state) {
    *state = drill_play_show("demo-shows/lantern-quay");
    return 0;
}

static int drop_demo(void **state) {
    sm_show_destroy(*state);
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_drill_to_the_exact_marks),
    };
    return cmocka_run_group_tests_name("the spotter's seat", tests, load_demo, drop_demo);
}

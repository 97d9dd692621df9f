// SPDX-License-Identifier: GPL-3.0-or-later
#include "drill_scripts.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

static const struct {
    const char *drill;
    const char *perfect[SM_SEAT_COUNT];
} course[] = {
    {"01-first-arming",
     {"m-last 3 call-clear J\nm-last 4 key on\nm-last 6 arm\narmed 2 start\nenough 2 safe\n"
      "enough 4 key off\n",
      "hasty 3 safe\nm-answers 5 call-clear S\nwalker 2 safe\n"
      "gone 5 answer a child, outside, clear again\n"}},
    {"02-one-bad-igniter",
     {"begin 3 measure\nbegin 10 unplug A\nbegin 15 enter K\nbegin 30 repair A-05\n"
      "begin 40 leave K\nbegin 41 plug A\nsecond 15 measure\nsecond 20 unplug B\n"
      "second 25 enter K\nsecond 40 repair B-03\nsecond 50 leave K\nsecond 51 plug B\n"
      "second 60 measure\nsecond 65 ask K\nsecond 65 ask M\nsecond 70 call-clear J\n"
      "second 80 key on\nsecond 85 arm\nsecond 90 safe\nsecond 92 key off\n",
      "inside 4 answer I see you, nobody else\nhasty 3 safe\ns-early 3 safe\n"
      "m-answers 5 call-clear S\n"}},
    {"03-someone-went-back",
     {"begin 1 ask K\nbegin 1 ask M\nbegin 19 call-clear J\nbegin 20 key on\nbegin 22 arm\n"
      "gone-in 2 safe\ngone-in 4 key off\ncame-out 10 ask K\ncame-out 10 ask M\n"
      "came-out 20 call-clear J\n",
      "m-answers 5 call-clear S\ngone-in 2 safe\ns-out 3 answer a photographer, outside\n"
      "hasty 3 safe\nm-again 5 call-clear S\n"}},
    {"04-hold-means-hold",
     {"begin 1 ask K\nbegin 1 ask M\nbegin 19 call-clear J\nbegin 20 key on\nbegin 22 arm\n"
      "armed 2 start\ngust 2 pause\ngust 20 inhibit aerial\nlull 10 wind 6 m/s\nshape 2 safe\n"
      "shape 4 key off\n",
      "m-answers 5 call-clear S\ngust 2 pause\nonly-a-gust 2 pause\ns-lull 9 wind 6 m/s\n"
      "s-shape 2 safe\n"}},
    {"05-who-has-the-button",
     {"stranger 20 note remote 2 found with M\nstranger 25 call-clear J\nstranger 26 key on\n"
      "stranger 28 arm\nfading 5 safe\nchanged 1 ask K\nchanged 1 ask M\nchanged 5 call-clear J\n"
      "changed 8 arm\nchanged 13 start\ngone 3 key off\nback 20 note link was away for 25 s\n",
      "stranger 5 note remote 2 with M\nm-answers 5 call-clear S\nit-will-do 3 safe\n"
      "s-ready 1 ask M\ns-ready 5 call-clear S\ngone 3 safe\nback 2 note link away for 25 s\n"
      "going-on 3 safe\n"}},
    {"06-stays-lit",
     {"begin 1 ask K\nbegin 1 ask M\nbegin 19 call-clear J\nbegin 20 key on\nbegin 22 arm\n"
      "armed 2 start\nstuck 2 pause\nstuck 5 safe\nstuck 8 key off\n"
      "stuck 60 note fire cover called 21:20, jet-2 still burns\n",
      "m-answers 5 call-clear S\nstuck 2 pause\nstuck 6 safe\nruns-in 2 safe\n"
      "stuck 60 note fire cover called 21:20, it burns\n"}},
    {"07-nobody-goes-in-yet",
     {"begin 1 ask K\nbegin 1 ask M\nbegin 19 call-clear J\nbegin 20 key on\nbegin 22 arm\n"
      "armed 2 start\nlast 3 safe\nlast 6 key off\nlast 60 report A-07\nlast 90 report B-02\n",
      "m-answers 5 call-clear S\nlast 3 safe\nlast 10 report A-07\nlast 14 report B-02\n"
      "go-in 2 safe\n"}},
    {"08-everything-at-once",
     {"begin 6 measure\nbegin 10 unplug B\nbegin 15 enter K\nbegin 30 repair B-06\n"
      "begin 40 leave K\nbegin 41 plug B\nbegin 45 measure\nbegin 46 ask K\nbegin 46 ask M\n"
      "begin 50 call-clear J\nbegin 52 key on\nbegin 55 arm\ngone-in 2 safe\ngone-in 4 key off\n"
      "came-out 10 ask K\ncame-out 10 ask M\ncame-out 20 call-clear J\ncame-out 25 key on\n"
      "came-out 30 arm\ncame-out 35 start\ngust 3 pause\ngone 3 key off\n",
      "hasty 2 safe\nm-answers 5 call-clear S\ngone-in 2 safe\nold-clear 2 safe\n"
      "m-again 5 call-clear S\ngust 3 pause\ns-gone 3 safe\n"}},
    {"09-first-one-back",
     {"begin 1 ask K\nbegin 1 ask M\nbegin 19 call-clear J\nbegin 20 key on\nbegin 22 arm\n"
      "armed 2 start\nenough 4 safe\nenough 8 key off\nenough 60 report A-02\n"
      "enough 90 note L goes in, M watches\nenough 100 pass-time\nenough 120 unplug A\n"
      "enough 130 enter L\nenough 180 leave L\n",
      "m-answers 5 call-clear S\nrunning 20 report A-02\ns-hurry 3 safe\n"
      "one-goes 5 answer I watch L\none-back 4 answer L is out, nobody else is in\n"}},
    {"10-the-spotters-seat",
     {"silent 5 answer Not clear, K has not answered\nfound 10 call-clear J\nfound 15 key on\n"
      "found 17 arm\nfound 25 start\nwalker 1.5 pause\nwalker 4 safe\nwalker 6 key off\n"
      "gone 10 answer M's child, outside; clear again from the start\n",
      "silent 3 answer Not clear, K has not answered\nhasty 2 safe\ns-found 5 call-clear S\n"
      "walker 1.5 pause\nwalker 4 safe\ns-gone 5 answer a child, with M; clear again\n"}},
    {"11-thunder",
     {"begin 3 measure\nbegin 10 unplug A\nbegin 15 enter K\nthunder 5 leave K\n"
      "thunder 20 note thunder, everybody out\nonly-a-rumble 5 answer no, nobody goes in\n",
      "finish-first 3 safe\ns-thunder 30 note thunder, all out\n"
      "go-back 5 answer no, nobody goes in\n"}},
    {"12-by-itself",
     {"begin 1 ask K\nbegin 1 ask M\nbegin 19 call-clear J\nbegin 20 key on\nbegin 22 arm\n"
      "alone 2 safe\nalone 4 key off\nalone 30 note B-04 went by itself\nkey-out 10 unplug B\n"
      "shrug 5 answer no, it is over\n",
      "m-answers 5 call-clear S\nalone 2 safe\nalone 10 note B-04 went by itself\n"
      "s-shrug 3 safe\n"}},
    {"13-behind-the-first",
     {"begin 3 plug C\nbegin 6 measure\nbegin 10 unplug C\nbegin 15 enter K\n"
      "begin 30 repair C-02\nbegin 40 leave K\nbegin 41 plug C\nbegin 45 measure\n"
      "begin 46 ask K\nbegin 46 ask M\nbegin 50 call-clear J\nbegin 52 key on\nbegin 55 arm\n"
      "armed 2 safe\narmed 4 key off\n",
      "hasty 3 safe\ninside 4 answer I see you, nobody else is in\ninside 20 note C-02 was open\n"
      "m-answers 5 call-clear S\n"}},
};

const char *drill_script_perfect(const char *drill, sm_drill_seat seat) {
    for (size_t i = 0; i < sizeof course / sizeof course[0]; i++)
        if (strcmp(course[i].drill, drill) == 0)
            return course[i].perfect[seat];
    fail_msg("no perfect script of %s", drill);
    return "";
}

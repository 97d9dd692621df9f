// SPDX-License-Identifier: GPL-3.0-or-later
#include "alert_cases.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define ALERT_LINE "-2.000000 at 2.000000, speed 1.000000" // as a start at 2 s runs by itself

const engine_file alert_files[] = {
    {"show.ini", "[show]\ntitle = Trial\ncountdown = 2 s\nlength = 60\n[limits]\narm-time = 1 s\nwind = 8\n"
                 "reentry-wait = 10 min\nmisfire-wait = 30 min\n"},
    {"modules.csv", "name,slots\nM,18\n"},
    {"rails.csv", "name,module,first,slots,position\nA,M,1,8,left\nB,M,9,8,right\nC,M,17,2,\n"},
    {"readings.csv", "rail,slot,reading,when,by\nA,1,1.8,2026-06-18T21:14:00Z,K\n"},
    {NULL, NULL}};

const alert_case alert_cases[ALERT_CASES] = {
    {SM_ALERT_PEOPLE, 7, ALERT_RUNNING "6 enter K\n", "IN FIELD 1: K", "7 leave K\n"},
    {SM_ALERT_FIRE, 1, "!1 fire left\n", "FIRE at left", NULL},
    {SM_ALERT_FLAME, 10, ALERT_RUNNING "!9.5 flame-stuck F1\n", "FLAME BURNS ON F1", NULL},
    {SM_ALERT_LINK, 7, ALERT_RUNNING "!6 link lost\n", "LINK LOST: TREAT AS ARMED, last known running",
     "!7 link back\n"},
    {SM_ALERT_FIRED_ALONE, 3, ALERT_ARMED "!3 fires-alone A-04\n", "FIRED BY ITSELF A-04",
     "3 key off\n3 rerig\n"},
    {SM_ALERT_TIPPED, 1, "!1 tip A-01\n", "TIPPED OVER A-01", "1 repair A-01\n"},
    {SM_ALERT_STORM, 1, "!1 storm\n", "STORM", NULL},
    {SM_ALERT_KEY_ON, 2, "1 enter K\n2 key on\n", "KEY ON, IN FIELD 1: K", "2 key off\n"},
    {SM_ALERT_TOO_EARLY, 9, ALERT_RUNNING "7 safe\n8 key off\n8 enter K\n",
     "IN FIELD 1 while product burns: K", "9 leave K\n"},
    {SM_ALERT_WIND_RUNNING, 3, ALERT_RUNNING "2.5 wind 9.5\n", "WIND 9.5 OVER 8.0 m/s: A-02, A-03, A-04 fly",
     "3 wind 2\n"},
    {SM_ALERT_CLEAR_LAPSED, 5, ALERT_RUNNING "4.5 enter K\n5 leave K\n", "CLEAR LAPSED: K went in",
     "5 safe\n"},
    {SM_ALERT_NO_ANSWER, 3, ALERT_ARMED "!3 no-answer M\n", "NO ANSWER from M", "!3 call M outside\n"},
    {SM_ALERT_HOLD, 4, ALERT_RUNNING "3 hold M someone at the fence\n",
     "HOLD called by M: someone at the fence", "4 lift M L\n"},
    {SM_ALERT_UNHEARD, 3, "!1 no-answer K\n!2 no-answer M\n!3 call L I am outside\n", "NO ANSWER from K, M",
     "!3 call K outside\n!3 call M outside\n"},
    {SM_ALERT_WIND, 1, "1 wind 9.5\n", "WIND 9.5 OVER 8.0 m/s: A-02, A-03, A-04 fly", "1 wind 8\n"},
    {SM_ALERT_MISFIRED, 7, ALERT_RUNNING "!2 misfire A-02\n", "MISFIRE A-02 NOT REPORTED, LIVE",
     "7 report A-02\n"},
    {SM_ALERT_WAIT, 60, ALERT_RUNNING "7 safe\n", "wait 00:45 of 10:00, BEGINS AGAIN AT KEY OFF", NULL},
    {SM_ALERT_BURNING, 8, ALERT_RUNNING "7 pause\n", "STILL BURNING 2: A-03, A-01", NULL},
    {SM_ALERT_SWAPPED, 1,
     "1 measure\n1 read A-02 open\n1 read A-03 open\n1 read A-04 open\n1 read B-02 1.8\n1 read B-03 1.8\n1 "
     "read B-04 1.8\n",
     "RAILS SWAPPED: A and B, each reads as the other", "1 measure\n"},
    {SM_ALERT_STRAY, 1, "1 read B-02 1.7\n", "STRAY B-02", "1 read B-02 open\n"},
    {SM_ALERT_PERMIT_OPEN, 22, ALERT_RUNNING, "ENABLE OPEN F1, no flame for over 10 s", NULL},
    {SM_ALERT_SILENT, 3, ALERT_RUNNING "!3 sound lost\n", "SOUND LOST, running silent", "!3 sound back\n"},
    {SM_ALERT_TIMECODE, 7, "~1 locked " ALERT_LINE ", rate 25\n" ALERT_RUNNING "~6 lost no sound\n",
     "TIMECODE LOST (no sound), paused: resume when it is LOCKED, or make safe", "7 safe\n"},
    {SM_ALERT_TIMECODE_RATE, 2, "~1 locked " ALERT_LINE ", rate 29.97 drop\n",
     "TIMECODE 29.97 drop, the show has 25", "~2 follows " ALERT_LINE ", rate 25\n"},
    {SM_ALERT_WIND_HIGH, 1, "1 inhibit aerial\n1 wind 9.5\n", "WIND 9.5 OVER 8.0 m/s, no aerials to come",
     "1 wind 8\n"},
    {SM_ALERT_HELD_BACK, 1, "1 inhibit aerial\n", "HELD BACK 3 slots: aerial", "1 allow aerial\n"},
    {SM_ALERT_WAIVED, 1, "1 unplug B\n1 waive rails B stays out\n", "WAIVED rails", "1 safe\n"},
    {SM_ALERT_SPEED, 1, "1 speed 0.5\n", "SPEED 0.5", "1 speed 1\n"},
    {SM_ALERT_REPEAT, 1, "1 repeat 2 8\n", "repeats 0:02.000 to 0:08.000", "1 repeat off\n"},
    {SM_ALERT_FREE_RUNNING, 2, "~1 locked " ALERT_LINE ", rate 25\n~1.5 free-running \n",
     "FREE-RUNNING: a gap in the timecode, it is taken to go on", "~2 locked " ALERT_LINE ", rate 25\n"},
    {SM_ALERT_TIMECODE_WAITS, 2, "~1 waiting it runs backward, not followed\n",
     "TIMECODE WAITING: it runs backward, not followed", "~2 locked " ALERT_LINE ", rate 25\n"},
};

bool alert_case_timecode(sm_rehearsal *rehearsal, const char *line) {
    char change[32], *rest;
    sm_timecode_news news;
    if (line[0] != '~')
        return false;
    const double at_s = strtod(line + 1, &rest);
    snprintf(change, sizeof change, "%.*s", (int)strcspn(rest + 1, " "), rest + 1);
    if (!sm_timecode_news_read(change, rest + 1 + strlen(change) + 1, &news))
        fail_msg("%s is no news of a timecode", line);
    assert_int_equal(sm_rehearsal_timecode(rehearsal, &news, (sm_wall_time){(sm_us)(at_s * 1e6)}), SM_OK);
    return true;
}

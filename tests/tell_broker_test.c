// SPDX-License-Identifier: GPL-3.0-or-later
// Followers through a real broker (mosquitto, as Debian has it) on the loopback: whatever dies, freezes or comes late, a follower shows what
// is, or LINK LOST within 2.5 s, and never what was as if it were now.
#include "support/broker_scene.h"
#include "tell/broker.h"

#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

// ---- the scenes -----------------------------------------------------------------------------------

static void console_killed(scene *s) {
    scene_begin_live(s);
    scene_look_for(s, 500);
    scene_stop(&s->console, SIGKILL);
    scene_is_lost_from_now(s);
    for (int i = 0; i < 100; i++) { // whatever the broker says of it later
        scene_look_for(s, 40);
        must(s->view->link == SM_FOLLOW_LOST);
    }
}

static void console_frozen(scene *s) {
    scene_begin_live(s);
    kill(s->console, SIGSTOP);
    scene_is_lost_from_now(s);
    scene_look_for(s, 3000);
    must(s->view->link == SM_FOLLOW_LOST);
    kill(s->console, SIGCONT);
    scene_wait_for(s, SM_FOLLOW_LIVE, 6000);
    scene_look_for(s, 1000);
}

static void broker_killed_and_back(scene *s) {
    scene_begin_live(s);
    scene_stop(&s->broker, SIGKILL);
    scene_is_lost_from_now(s);
    scene_look_for(s, 2500);
    must(s->view->link == SM_FOLLOW_LOST);
    must(scene_console_said(s, "FOLLOWERS HEAR NOTHING"));
    scene_start_broker(s);
    scene_wait_for(s, SM_FOLLOW_LIVE, 6000);
    scene_look_for(s, 1000);
    must(kill(s->console, 0) == 0 && waitpid(s->console, NULL, WNOHANG) == 0); // it went on
}

static void broker_frozen(scene *s) {
    scene_begin_live(s);
    kill(s->broker, SIGSTOP);
    scene_is_lost_from_now(s);
    scene_look_for(s, 4000);
    must(s->view->link == SM_FOLLOW_LOST);
    kill(s->broker, SIGCONT); // all that it held back comes now
    scene_wait_for(s, SM_FOLLOW_LIVE, 8000);
    scene_look_for(s, 1000);
}

// A broker that keeps what it retained brings back "live" of a console that is gone.
static void cut_off_with_persistence(scene *s) {
    char more[200];
    scene_begin(s);
    snprintf(more, sizeof more, "allow_anonymous true\npersistence true\npersistence_location %s/\n%s",
             s->folder, getuid() == 0 ? "user root\n" : "");
    scene_configure(s, more);
    scene_start_broker(s);
    s->console = scene_start_console(s, scene_running);
    scene_follow(s);
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    scene_unfollow(s);
    kill(s->console, SIGSTOP); // so that its will is not spoken
    scene_stop(&s->broker, SIGTERM);
    scene_stop(&s->console, SIGKILL);
    scene_start_broker(s);
    scene_follow(s);
    bool shown = false;
    for (int64_t until = tell_mono_us() + 4000000; tell_mono_us() < until;) {
        scene_look(s);
        shown |= s->view->now != NULL;
        must(s->view->link == SM_FOLLOW_WAITING || s->view->link == SM_FOLLOW_LOST);
    }
    must(shown && s->view->now->incidents.link_at.us == SM_UNSET_US); // nobody knows since when
}

static void follower_slow(scene *s) {
    scene_begin_live(s);
    for (int i = 0; i < 3; i++) {
        poll(NULL, 0, 2600);
        s->true_us = tell_mono_us(); // nobody looked
        scene_look(s);
        must(s->view->link != SM_FOLLOW_LIVE || scene_is_true(s, tell_mono_us()));
        scene_look(s);
        scene_wait_for(s, SM_FOLLOW_LIVE, SCENE_LOST_MS);
    }
}

// The program itself, stopped and let go on: its lines are right again, or say LINK LOST.
static void follower_frozen(scene *s) {
    char program[256], broker[40], path[128], *text;
    const char *build = getenv("SLOWMATCH_BUILD");
    size_t length;
    scene_begin_live(s);
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(broker, sizeof broker, "127.0.0.1:%d", s->port);
    pid_t other = scene_start(s, "follow.log", (const char *[]){program, "follow", broker, "--json", NULL});
    scene_look_for(s, 1500);
    kill(other, SIGSTOP);
    scene_look_for(s, 4000);
    must(s->view->now->state == SM_STATE_RUNNING);
    kill(other, SIGCONT);
    scene_look_for(s, SCENE_LOST_MS);
    scene_stop(&other, SIGTERM);
    snprintf(path, sizeof path, "%s/follow.log", s->folder);
    must(sm_file_read(path, &text, &length) == SM_OK);
    const char *last = NULL;
    for (const char *at = strstr(text, "\"link\""); at; at = strstr(at + 1, "\"link\""))
        last = at;
    must(last && strstr(last, "\"link\": \"live\"") == last && strstr(last, "\"rehearsal\": \"running\""));
    free(text);
}

static void late_joiner(scene *s) {
    scene_begin_live(s);
    scene_look_for(s, 4500);
    scene_unfollow(s);
    scene_follow(s);
    must(scene_wait_for(s, SM_FOLLOW_LIVE, 3000) < 1000);
    must(s->view->now->state == SM_STATE_RUNNING && s->view->show->slot_count == 48);
    must(strcmp(s->view->title, "Lantern Quay") == 0 || s->view->title[0] == '\0');
}

static void two_runs(scene *s) {
    char names[256], first[32], second[32];
    scene_begin(s);
    scene_start_broker(s);
    s->console = scene_start_console(s, scene_running);
    pid_t other = scene_start_console(s, "0 note still safe\n60 safe\n");
    scene_follow(s);
    for (int i = 0; i < 500 && (!s->view || sm_follower_runs(s->follower, names) < 2); i++) {
        struct pollfd waited = {sm_follower_descriptor(s->follower), POLLIN, 0};
        poll(&waited, 1, 20);
        s->view = sm_follower_look(s->follower);
    }
    scene_unfollow(s);
    must(sscanf(names, " %31s %31s", first, second) == 2);
    scene_follow_as(s, first, NULL, NULL);
    scene copy = *s;
    scene_follow_as(&copy, second, NULL, NULL);
    int both = 0;
    for (int i = 0; i < 200; i++) {
        poll(NULL, 0, 15);
        const sm_follow_view *one = sm_follower_look(s->follower), *two = sm_follower_look(copy.follower);
        if (one->link == SM_FOLLOW_LIVE && two->link == SM_FOLLOW_LIVE) {
            must((one->now->state == SM_STATE_SAFE) != (two->now->state == SM_STATE_SAFE));
            both++;
        }
    }
    must(both > 50);
    scene_unfollow(&copy);
    scene_stop(&other, SIGKILL);
}

// Days apart, and 100 millionths fast.
static int64_t other_clock_us(void) {
    int64_t mono_us = tell_mono_us();
    return mono_us + mono_us / 10000 + INT64_C(3) * 86400 * SM_US_PER_S;
}

static void clocks_apart(scene *s) {
    scene_begin(s);
    scene_start_broker(s);
    s->console = scene_start_console(s, scene_running);
    scene_follow_as(s, NULL, other_clock_us, NULL);
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    scene_look_for(s, 8000);
    must(s->view->link == SM_FOLLOW_LIVE);
    scene_stop(&s->console, SIGKILL);
    scene_is_lost_from_now(s);
}

static void ended_and_emptied(scene *s) {
    char command[200];
    scene_begin(s);
    scene_start_broker(s);
    s->other = true;
    s->console = scene_start_console(s, "0 note begun\n3 safe\n");
    scene_follow(s);
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    scene_wait_for(s, SM_FOLLOW_LOST, 6000);
    must(s->view->ended && strcmp(s->view->words, "FOLLOWING") == 0);
    snprintf(command, sizeof command, "! timeout 2 mosquitto_sub -p %d -t 'slowmatch/#' -C 1 >&2", s->port);
    must(system(command) == 0); // nothing is retained
}

// The console reads its folder again: another show, and the follower has it too, without a moment in which it shows neither.
static void reload_at_the_console(scene *s) {
    char folder[64], command[500];
    scene_begin(s);
    s->other = true;
    snprintf(folder, sizeof folder, "%s/show", s->folder);
    snprintf(command, sizeof command,
             "mkdir %s; cp demo-shows/lantern-quay/*.csv demo-shows/lantern-quay/show.ini %s; "
             "sed -i 's/^audio.*//; s/^expect.*//' %s/show.ini",
             folder, folder, folder);
    must(system(command) == 0);
    s->show = folder;
    scene_start_broker(s);
    s->console = scene_start_console(s, "0 note begun\n5 reload\n60 safe\n");
    scene_follow(s);
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    const uint32_t before = s->view->show->cue_count;
    must(s->view->show_number == 1);
    snprintf(command, sizeof command, "echo 1:20.000,B-12,fountain-gold,,,,,, >>%s/cues.csv", folder);
    must(system(command) == 0);
    for (int64_t until = tell_mono_us() + 12000000; s->view->show_number == 1 && tell_mono_us() < until;) {
        scene_look(s);
        must(s->view->now && s->view->show);
    }
    must(s->view->show_number == 2 && s->view->show->cue_count == before + 1);
    scene_look_for(s, 1500);
    must(s->view->link == SM_FOLLOW_LIVE && s->view->refused == 0 && !s->view->behind);
}

// ---- seats ----------------------------------------------------------------------------------------

static void begin_seat(scene *s, const char *granted, const char *asked) {
    scene_begin(s);
    s->seats = granted;
    s->seat = asked;
    s->other = true; // a hold is no part of the script
    scene_start_broker(s);
    s->console = scene_start_console(s, scene_running);
    scene_follow(s);
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    for (int i = 0; i < 500 && s->view->now->state != SM_STATE_RUNNING; i++)
        scene_look_for(s, 20);
    must(s->view->now->state == SM_STATE_RUNNING);
}

// Milliseconds until the hold is at WANTED, at most SPAN_MS.
static int64_t wait_for_hold(scene *s, sm_follow_hold wanted, int64_t span_ms) {
    const int64_t from = tell_mono_us();
    while (s->view->hold != wanted && tell_mono_us() - from < span_ms * 1000)
        scene_look(s);
    must(s->view->hold == wanted);
    return (tell_mono_us() - from) / 1000;
}

static void hold_stops_the_lead(scene *s) {
    begin_seat(s, "spotter,left", "spotter");
    must(s->view->seat == SM_SEAT_TAKEN && strstr(s->view->words, "FOLLOWING as spotter"));
    must(sm_follower_hold(s->follower, "somebody at\nthe fence"));
    wait_for_hold(s, SM_HOLD_RECEIVED, 2000);
    for (int i = 0; i < 100 && s->view->now->state != SM_STATE_PAUSED; i++)
        scene_look(s);
    must(s->view->now->state == SM_STATE_PAUSED && s->view->now->hold_count == 1);
    must(strcmp(s->view->now->hold_who, "spotter") == 0);
    must(strcmp(s->view->now->hold_why, "somebody at the fence") == 0);
    scene_look_for(s, 2500); // said again and again, it was called once
    must(s->view->now->hold_count == 1);
    uint64_t holds = 0;
    for (uint64_t age = 0; sm_recent_at(s->view->recent, age); age++)
        holds += sm_log_is_act(sm_recent_at(s->view->recent, age)->kind, SM_ACT_HOLD) &&
                 sm_recent_at(s->view->recent, age)->source == SM_SOURCE_SEAT;
    must(holds == 1);
}

static void not_granted(scene *s) {
    begin_seat(s, "spotter", "left");
    scene_look_for(s, 1500);
    must(s->view->seat == SM_SEAT_UNKNOWN);
    must(sm_follower_hold(s->follower, "nobody hears this"));
    int64_t after_ms = wait_for_hold(s, SM_HOLD_NOT_DELIVERED, 2500);
    must(after_ms >= 900 && strstr(s->view->words, "HOLD NOT DELIVERED, SHOUT IT"));
    scene_look_for(s, 1000);
    must(s->view->now->state == SM_STATE_RUNNING && s->view->now->hold_count == 0);
}

static void one_person_a_seat(scene *s) {
    begin_seat(s, "spotter", "spotter");
    must(s->view->seat == SM_SEAT_TAKEN);
    scene copy = *s;
    scene_follow(&copy);
    scene_wait_for(&copy, SM_FOLLOW_LIVE, 5000);
    for (int i = 0; i < 100; i++) {
        scene_look(s);
        scene_look(&copy);
    }
    must(copy.view->seat == SM_SEAT_REFUSED && s->view->seat == SM_SEAT_TAKEN);
    must(sm_follower_hold(copy.follower, "by the second"));
    for (int i = 0; i < 100; i++) {
        scene_look(s);
        scene_look(&copy);
    }
    must(copy.view->hold == SM_HOLD_NOT_DELIVERED && copy.view->now->hold_count == 0);
    scene_unfollow(&copy);
}

static void hold_into_a_frozen_broker(scene *s) {
    begin_seat(s, "spotter", "spotter");
    kill(s->broker, SIGSTOP);
    must(sm_follower_hold(s->follower, ""));
    wait_for_hold(s, SM_HOLD_NOT_DELIVERED, 2000);
    kill(s->broker, SIGCONT);
    wait_for_hold(s, SM_HOLD_RECEIVED, 8000); // it is tried on
}

// What only follows has no way to say anything that acts.
static void no_seat_no_hold(scene *s) {
    begin_seat(s, "spotter", NULL);
    must(!sm_follower_hold(s->follower, "by a follower") && s->view->hold == SM_HOLD_NONE);
    scene_look_for(s, 1000);
    must(s->view->now->hold_count == 0 && s->view->seat == SM_SEAT_NONE);
}

static const scene_row scenes[] = {
    {"console killed", console_killed},
    {"console frozen", console_frozen},
    {"broker killed and back", broker_killed_and_back},
    {"broker frozen", broker_frozen},
    {"cut off with persistence", cut_off_with_persistence},
    {"follower slow", follower_slow},
    {"follower frozen", follower_frozen},
    {"late joiner", late_joiner},
    {"two runs", two_runs},
    {"clocks apart", clocks_apart},
    {"ended and emptied", ended_and_emptied},
    {"reload at the console", reload_at_the_console},
    {"a hold stops the lead", hold_stops_the_lead},
    {"a seat that was not granted", not_granted},
    {"one person a seat", one_person_a_seat},
    {"a hold into a frozen broker", hold_into_a_frozen_broker},
    {"no seat, no hold", no_seat_no_hold},
};

static void every_scene_shows_what_is_or_that_the_link_is_lost(void **state) {
    (void)state;
    assert_true(scene_play_all(scenes, sizeof scenes / sizeof scenes[0]));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_scene_shows_what_is_or_that_the_link_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// Followers through a real broker (mosquitto, as Debian has it) on the loopback: whatever dies, freezes or comes late, a follower shows what
// is, or LINK LOST within 2.5 s, and never what was as if it were now. Each scene is a process with a broker of its own; all run at once,
// since they mostly wait.
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

// Where a follower may not ping, nothing shows that what comes is not late.
static void may_not_ping(scene *s) {
    char more[200];
    scene_begin(s);
    scene_put_file(
        s, "acl",
        "topic read slowmatch/1/#\ntopic write slowmatch/1/+/show\ntopic write slowmatch/1/+/state\n"
        "topic write slowmatch/1/+/link\ntopic write slowmatch/1/+/beat\ntopic write slowmatch/1/+/event\n");
    snprintf(more, sizeof more, "allow_anonymous true\npersistence false\nacl_file %s/acl\n%s", s->folder,
             getuid() == 0 ? "user root\n" : "");
    scene_configure(s, more);
    scene_start_broker(s);
    s->console = scene_start_console(s, scene_running);
    scene_follow(s);
    scene_wait_for(s, SM_FOLLOW_UNPROVEN, 10000);
    for (int64_t until = tell_mono_us() + 4000000; tell_mono_us() < until;) {
        scene_look(s);
        must(s->view->link == SM_FOLLOW_UNPROVEN);
    }
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

// Nonsense, what is of another time, what is too large: counted, and nothing else.
static void garbage(scene *s) {
    static const char *const nonsense[] = {
        "{", "[]", "null", "{\"mono_us\":1}", "{\"mono_us\":-1,\"seq\":1}", "\xff\xfe"};
    char command[400];
    scene_begin_live(s);
    scene_look_for(s, 4000);
    uint64_t refused = s->view->refused;
    int sent = 0;
    static const char *const names[] = {"link", "beat", "event"};
    for (size_t topic = 0; topic < sizeof names / sizeof names[0]; topic++) {
        for (size_t i = 0; i < sizeof nonsense / sizeof nonsense[0]; i++, sent++) {
            snprintf(command, sizeof command, "mosquitto_pub -p %d -t 'slowmatch/1/%s/%s' -m '%s'", s->port,
                     s->view->run, names[topic], nonsense[i]);
            must(system(command) == 0);
        }
    }
    snprintf(command, sizeof command,
             "head -c 5000000 /dev/zero | mosquitto_pub -p %d -t 'slowmatch/1/%s/event' -s", s->port,
             s->view->run);
    must(system(command) == 0);
    snprintf(command, sizeof command,
             "mosquitto_pub -p %d -t 'slowmatch/1/%s/beat' -m "
             "'{\"mono_us\":1,\"seq\":0,\"show\":1,\"wall_us\":0,\"at_us\":0,\"state\":\"safe\"}'",
             s->port, s->view->run);
    must(system(command) == 0); // replayed: older than what is known
    scene_look_for(s, 1500);
    must(s->view->refused >= refused + (uint64_t)sent);
    must(s->view->link == SM_FOLLOW_LIVE && s->view->now->state == SM_STATE_RUNNING && s->view->missed == 0);
}

// Whoever joins while nonsense is retained counts it (a state without a show is not looked at), and takes what is told after it.
static void garbage_retained(scene *s) {
    char command[300], run[32];
    scene_begin_live(s);
    snprintf(run, sizeof run, "%s", s->view->run);
    scene_unfollow(s);
    kill(s->console, SIGSTOP);
    snprintf(command, sizeof command,
             "for topic in show state link; do mosquitto_pub -r -p %d -t slowmatch/1/%s/$topic -m '{'; done",
             s->port, run);
    must(system(command) == 0);
    scene_follow_as(s, run, NULL, NULL);
    for (int i = 0; i < 1000 && (!s->view || s->view->refused < 2); i++) {
        struct pollfd waited = {sm_follower_descriptor(s->follower), POLLIN, 0};
        poll(&waited, 1, 20);
        s->view = sm_follower_look(s->follower);
    }
    must(s->view->refused >= 2 && s->view->link == SM_FOLLOW_WAITING);
    kill(s->console, SIGCONT);
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    scene_look_for(s, 500);
}

// A seat's user says what it says on its own topic; nobody else does.
static void seat_by_its_own_key(scene *s) {
    s->seat = "spotter";
    scene_follow_as(s, NULL, NULL, "crew.ini"); // the crew's key may not write there
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    scene_look_for(s, 1500);
    must(s->view->seat == SM_SEAT_UNHEARD);
    scene_unfollow(s);
    scene_follow_as(s, NULL, NULL, "spotter.ini");
    s->view = sm_follower_look(s->follower);
    for (int i = 0; i < 1000 && s->view->seat != SM_SEAT_TAKEN; i++) {
        poll(NULL, 0, 20);
        s->view = sm_follower_look(s->follower);
    }
    must(s->view->seat == SM_SEAT_TAKEN);
    must(sm_follower_say(s->follower, "arm")); // no drill: refused, and answered there alone
    sm_seat_word word;
    const char *text = NULL;
    for (int i = 0; i < 1000 && !text; i++) {
        poll(NULL, 0, 20);
        s->view = sm_follower_look(s->follower);
        text = sm_follower_told(s->follower, &word);
    }
    must(text && strstr(text, "a seat calls hold, and no more"));
    scene_unfollow(s);
}

// The broker of the manual, with its keys: a crew's follower sees, and cannot forge.
static void manual_broker(scene *s) {
    char conf[1200], command[500];
    scene_begin(s);
    snprintf(conf, sizeof conf,
             "listener %d\npsk_hint slowmatch\npsk_file %s/crew.psk\nuse_identity_as_username "
             "true\nallow_anonymous false\n"
             "persistence false\nacl_file %s/crew.acl\n%s",
             s->port, s->folder, s->folder, getuid() == 0 ? "user root\n" : "");
    scene_put_file(s, "broker.conf", conf);
    scene_put_file(s, "crew.psk",
                   "console:0e2c55d9b8f1b5fdbd1b5b57b6f5ac22\ncrew:51f6f0c8b5b94ab6c1b6c1cf9e8b0ad7\n"
                   "spotter:77f6f0c8b5b94ab6c1b6c1cf9e8b0ad7\n");
    scene_put_file(s, "spotter.ini",
                   "[broker]\npsk-identity = spotter\npsk = 77f6f0c8b5b94ab6c1b6c1cf9e8b0ad7\n");
    scene_put_file(s, "crew.acl",
                   "user console\ntopic readwrite slowmatch/1/#\npattern read slowmatch/1/+/+\n"
                   "pattern read slowmatch/1/+/echo/+\npattern write slowmatch/1/+/ping/+\n"
                   "pattern read slowmatch/1/+/told/%u\npattern write slowmatch/1/+/seat/%u\n");
    scene_put_file(s, "console.ini",
                   "[broker]\npsk-identity = console\npsk = 0e2c55d9b8f1b5fdbd1b5b57b6f5ac22\n");
    scene_put_file(s, "crew.ini", "[broker]\npsk-identity = crew\npsk = 51f6f0c8b5b94ab6c1b6c1cf9e8b0ad7\n");
    scene_start_broker(s);
    s->seats = "spotter";
    s->other = true;
    s->console = scene_start_console_as(s, scene_running, "console.ini");
    scene_follow_as(s, NULL, NULL, "crew.ini");
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    scene_look_for(s, 1000);
    uint64_t refused = s->view->refused;
    snprintf(command, sizeof command,
             "mosquitto_pub -p %d --psk-identity crew --psk 51f6f0c8b5b94ab6c1b6c1cf9e8b0ad7 -t "
             "'slowmatch/1/%s/state' -m nonsense",
             s->port, s->view->run);
    must(system(command) == 0);
    scene_look_for(s, 700);
    must(s->view->refused == refused && s->view->link == SM_FOLLOW_LIVE);
    scene_unfollow(s);
    seat_by_its_own_key(s);
}

// A broker with a certificate of a CA that openssl made just now, and users with passwords.
static void certificate(scene *s) {
    char command[1400], conf[900];
    scene_begin(s);
    snprintf(
        command, sizeof command,
        "cd %s && { openssl req -x509 -newkey rsa:2048 -nodes -keyout ca.key -out ca.crt -subj /CN=crew "
        "-days 2 && openssl req -x509 -newkey rsa:2048 -nodes -keyout other.key -out other.crt -subj "
        "/CN=other -days 2 && openssl req -newkey rsa:2048 -nodes -keyout broker.key -out broker.csr -subj "
        "/CN=127.0.0.1 && echo subjectAltName=IP:127.0.0.1 >san && openssl x509 -req -in broker.csr -CA "
        "ca.crt -CAkey ca.key -CAcreateserial -out broker.crt -days 2 -extfile san && "
        "mosquitto_passwd -c -b users crew secret; } >openssl.log 2>&1",
        s->folder);
    must(system(command) == 0);
    snprintf(conf, sizeof conf,
             "listener %d 127.0.0.1\ncafile %s/ca.crt\ncertfile %s/broker.crt\nkeyfile %s/broker.key\n"
             "allow_anonymous false\npassword_file %s/users\npersistence false\n%s",
             s->port, s->folder, s->folder, s->folder, s->folder, getuid() == 0 ? "user root\n" : "");
    scene_put_file(s, "broker.conf", conf);
    snprintf(conf, sizeof conf, "[broker]\nuser = crew\npassword = secret\nca = %s/ca.crt\n", s->folder);
    scene_put_file(s, "crew.ini", conf);
    snprintf(conf, sizeof conf, "[broker]\nuser = crew\npassword = guess\nca = %s/ca.crt\n", s->folder);
    scene_put_file(s, "guess.ini", conf);
    snprintf(conf, sizeof conf, "[broker]\nuser = crew\npassword = secret\nca = %s/other.crt\n", s->folder);
    scene_put_file(s, "other.ini", conf);
    scene_start_broker(s);
    s->console = scene_start_console_as(s, scene_running, "crew.ini");
    scene_follow_as(s, NULL, NULL, "crew.ini");
    scene_wait_for(s, SM_FOLLOW_LIVE, 20000);
    scene_unfollow(s);
    scene_says_why(s, "guess.ini", "it refuses us");
    scene_says_why(s, "other.ini", "TLS could not be agreed on");
}

// Why nothing comes is said, and it is not the same for all.
static void says_why_nothing_comes(scene *s) {
    scene_begin(s);
    scene_says_why(s, NULL, "nobody listens there");
    scene_start_broker(s);
    scene_says_why(s, NULL, "connected, and nothing comes");
    scene_put_file(s, "crew.ini", "[broker]\npsk-identity = crew\npsk = 51f6f0c8b5b94ab6\n");
    char path[128];
    snprintf(path, sizeof path, "%s/crew.ini", s->folder);
    must(chmod(path, 0644) == 0);
    sm_broker broker;
    char problem[SM_SESSION_PROBLEM];
    must(!sm_broker_read("127.0.0.1", path, &broker, problem) && strstr(problem, "chmod 600"));
}

static void nothing_of_the_machine(scene *s) {
    char command[300], path[128], *text;
    size_t length;
    scene_begin(s);
    scene_start_broker(s);
    snprintf(path, sizeof path, "%s/all.log", s->folder);
    snprintf(command, sizeof command, "exec mosquitto_sub -p %d -t 'slowmatch/#'", s->port);
    pid_t hears = scene_start(s, "all.log", (const char *[]){"sh", "-c", command, NULL});
    poll(NULL, 0, 500);
    s->console = scene_start_console(s, scene_running);
    scene_follow(s);
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    scene_look_for(s, 3000);
    scene_stop(&hears, SIGTERM);
    must(sm_file_read(path, &text, &length) == SM_OK && strstr(text, "\"files\""));
    char here[256];
    must(getcwd(here, sizeof here));
    must(!strstr(text, here) && !strstr(text, s->folder) && !strstr(text, "demo-shows/lantern-quay/"));
    must(!getenv("HOME") || strlen(getenv("HOME")) < 4 || !strstr(text, getenv("HOME")));
    free(text);
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

static const struct {
    const char *name;
    void (*play)(scene *s);
} scenes[] = {
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
    {"may not ping", may_not_ping},
    {"ended and emptied", ended_and_emptied},
    {"garbage", garbage},
    {"garbage retained", garbage_retained},
    {"the broker of the manual", manual_broker},
    {"a certificate", certificate},
    {"why nothing comes", says_why_nothing_comes},
    {"nothing of the machine", nothing_of_the_machine},
    {"reload at the console", reload_at_the_console},
    {"a hold stops the lead", hold_stops_the_lead},
    {"a seat that was not granted", not_granted},
    {"one person a seat", one_person_a_seat},
    {"a hold into a frozen broker", hold_into_a_frozen_broker},
    {"no seat, no hold", no_seat_no_hold},
};
#define SCENES (sizeof scenes / sizeof scenes[0])

static scene *playing; // in a scene's process alone

static void end_playing(int number) {
    (void)number;
    if (playing && playing->broker > 0)
        kill(playing->broker, SIGKILL);
    if (playing && playing->console > 0)
        kill(playing->console, SIGKILL);
    _exit(1);
}

static void every_scene_shows_what_is_or_that_the_link_is_lost(void **state) {
    (void)state;
    pid_t children[SCENES];
    const char *only = getenv("SCENE");
    bool failed = false;
    for (size_t i = 0; i < SCENES; i++) {
        children[i] = only && strcmp(only, scenes[i].name) != 0 ? 0 : fork();
        if (children[i] == 0 && (!only || strcmp(only, scenes[i].name) == 0)) {
            scene s;
            playing = &s;
            signal(SIGTERM, end_playing);
            scenes[i].play(&s);
            scene_end(&s);
            _exit(0);
        }
    }
    for (size_t i = 0; i < SCENES; i++) {
        int status = 0;
        if (children[i] > 0 && (waitpid(children[i], &status, 0) < 0 || status != 0)) {
            print_error("failed: %s\n", scenes[i].name);
            failed = true;
        }
    }
    assert_false(failed);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_scene_shows_what_is_or_that_the_link_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

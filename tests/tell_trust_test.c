// SPDX-License-Identifier: GPL-3.0-or-later
// Who is trusted with what, through a real broker (mosquitto, as Debian has it): what is forged, malformed or not allowed changes nothing,
// the broker of the manual lets each say their own alone, and nothing of the machine is told.
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

// ---- what comes --------------------------------------------------------------------------------------

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

// ---- who is let in -----------------------------------------------------------------------------------

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

static const scene_row scenes[] = {
    {"may not ping", may_not_ping},
    {"garbage", garbage},
    {"garbage retained", garbage_retained},
    {"the broker of the manual", manual_broker},
    {"a certificate", certificate},
    {"why nothing comes", says_why_nothing_comes},
    {"nothing of the machine", nothing_of_the_machine},
};

static void every_scene_trusts_whom_it_should(void **state) {
    (void)state;
    assert_true(scene_play_all(scenes, sizeof scenes / sizeof scenes[0]));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_scene_trusts_whom_it_should),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

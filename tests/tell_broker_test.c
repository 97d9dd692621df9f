// SPDX-License-Identifier: GPL-3.0-or-later
// Followers through a real broker (mosquitto, as Debian has it) on the loopback: whatever dies, freezes or comes late, a follower shows what
// is, or LINK LOST within 2.5 s, and never what was as if it were now. Each scene is a process with a broker of its own; all run at once,
// since they mostly wait.
#include "tell/broker.h"
#include "tell/offset.h"

#include "slowmatch/show.h"
#include "slowmatch/tell.h"

#include <arpa/inet.h>
#include <fcntl.h>
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

#define SHOW "demo-shows/lantern-quay"
#define LOST_MS 2500

// ---- a scene ------------------------------------------------------------------------------------

typedef struct scene {
    char folder[40];
    int port;
    pid_t broker, console;
    sm_follower *follower;
    const sm_follow_view *view;
    int scripts; // written so far
    bool other;  // the script is not `running`
    bool anchored;
    int64_t true_us;    // when what was shown was true last
    int64_t wall_at_us; // our clock at wall 0, from the first live look
} scene;

#define must(condition)                                                                                      \
    do {                                                                                                     \
        if (!(condition)) {                                                                                  \
            fprintf(stderr, "%s:%d: not so: %s\n", __FILE__, __LINE__, #condition);                          \
            _exit(1);                                                                                        \
        }                                                                                                    \
    } while (0)

static int free_port(void) {
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof address;
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    must(fd >= 0 && bind(fd, (struct sockaddr *)&address, size) == 0);
    must(getsockname(fd, (struct sockaddr *)&address, &size) == 0);
    close(fd);
    return ntohs(address.sin_port);
}

static void put_file(const scene *s, const char *name, const char *text) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", s->folder, name);
    FILE *file = fopen(path, "w");
    must(file && fputs(text, file) >= 0 && fclose(file) == 0);
    must(chmod(path, 0600) == 0);
}

static pid_t start(const scene *s, const char *log, const char *const argv[]) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", s->folder, log);
    pid_t child = fork();
    must(child >= 0);
    if (child == 0) {
        int fd = open(path, O_CREAT | O_WRONLY | O_APPEND, 0600);
        dup2(fd, 1);
        dup2(fd, 2);
        execvp(argv[0], (char *const *)(uintptr_t)argv);
        _exit(127);
    }
    return child;
}

static void stop(pid_t *pid, int signal_number) {
    if (*pid > 0) {
        kill(*pid, signal_number);
        kill(*pid, SIGCONT);
        waitpid(*pid, NULL, 0);
    }
    *pid = 0;
}

static void start_broker(scene *s) {
    char conf[128];
    snprintf(conf, sizeof conf, "%s/broker.conf", s->folder);
    s->broker = start(s, "broker.log", (const char *[]){"mosquitto", "-c", conf, NULL});
    struct sockaddr_in address = {.sin_family = AF_INET,
                                  .sin_port = htons((uint16_t)s->port),
                                  .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    bool open = false;
    for (int i = 0; i < 500 && !open; i++) {
        int fd = socket(AF_INET, SOCK_STREAM, 0);
        open = connect(fd, (struct sockaddr *)&address, sizeof address) == 0;
        close(fd);
        poll(NULL, 0, 10);
    }
    must(open);
}

// MORE: lines of the broker's configuration.
static void configure(scene *s, const char *more) {
    char conf[1024];
    snprintf(conf, sizeof conf, "listener %d 127.0.0.1\n%s", s->port, more);
    put_file(s, "broker.conf", conf);
}

static const char running[] = "0 call-clear J\n0 key on\n0 arm\n3.5 start\n60 safe\n";

static pid_t start_console_as(scene *s, const char *script, const char *keys) {
    char program[256], path[128], broker[40], keys_path[128], name[32];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(name, sizeof name, "script-%d", ++s->scripts);
    snprintf(path, sizeof path, "%s/%s", s->folder, name);
    snprintf(keys_path, sizeof keys_path, "%s/%s", s->folder, keys ? keys : "");
    snprintf(broker, sizeof broker, "127.0.0.1:%d", s->port);
    put_file(s, name, script);
    return start(s, "console.log",
                 (const char *[]){program, SHOW, "--silent", "--headless", "--script", path, "--readings",
                                  SHOW "/readings-fixed.csv", "--tell", broker, keys ? "--broker-keys" : NULL,
                                  keys_path, NULL});
}

static pid_t start_console(scene *s, const char *script) {
    return start_console_as(s, script, NULL);
}

static void begin(scene *s) {
    *s = (scene){.folder = "/tmp/slowmatch-broker-XXXXXX"};
    must(mkdtemp(s->folder));
    s->port = free_port();
    configure(s, "allow_anonymous true\npersistence false\n");
}

static void follow_as(scene *s, const char *run, int64_t (*clock_us)(void), const char *keys) {
    char address[40], problem[SM_SESSION_PROBLEM], path[128];
    sm_broker broker;
    snprintf(address, sizeof address, "127.0.0.1:%d", s->port);
    snprintf(path, sizeof path, "%s/%s", s->folder, keys ? keys : "");
    must(sm_broker_read(address, keys ? path : NULL, &broker, problem));
    must(sm_follower_create(&broker, &(sm_follow_options){.run = run, .clock_us = clock_us}, problem,
                            &s->follower) == SM_OK);
}

static void follow(scene *s) {
    follow_as(s, NULL, NULL, NULL);
}

static void unfollow(scene *s) {
    sm_follower_destroy(s->follower);
    s->follower = NULL;
    s->view = NULL;
}

static void end(scene *s) {
    char command[80];
    unfollow(s);
    stop(&s->console, SIGKILL);
    stop(&s->broker, SIGKILL);
    snprintf(command, sizeof command, "rm -r %s", s->folder);
    must(system(command) == 0);
}

// ---- looking ------------------------------------------------------------------------------------

// The state of the script at WALL.
static sm_state true_state(sm_us wall) {
    return wall < 3000000 ? SM_STATE_ARMING : wall < 3500000 ? SM_STATE_ARMED : SM_STATE_RUNNING;
}

static bool is_true(const scene *s, int64_t mono_us) {
    const sm_snapshot *now = s->view->now;
    sm_us wall = mono_us - s->wall_at_us, off_us = wall - now->wall.us;
    if (off_us > 300000 || off_us < -300000)
        return false;
    if (s->other)
        return true;
    off_us = now->state == SM_STATE_RUNNING ? now->at.us - (wall - 8500000) : 0; // a count of 5 s
    return now->state == true_state(wall) && off_us < 300000 && off_us > -300000;
}

// What is live is of now: its clock goes on with ours, and state and show time are the script's then. For as long as a link may be lost
// unseen it may be other (the console or this process may be kept waiting by the machine), and no longer.
static void hold_against_the_truth(scene *s) {
    const int64_t mono_us = tell_mono_us();
    if (s->view->link != SM_FOLLOW_LIVE) {
        s->true_us = mono_us;
        return;
    }
    if (!s->anchored)
        s->wall_at_us = mono_us - s->view->now->wall.us;
    s->anchored = true;
    if (is_true(s, mono_us))
        s->true_us = mono_us;
    must(mono_us - s->true_us < LOST_MS * 1000);
}

static void look(scene *s) {
    struct pollfd waited = {sm_follower_descriptor(s->follower), POLLIN, 0};
    poll(&waited, 1, 20);
    s->view = sm_follower_look(s->follower);
    must(!s->view->now == (s->view->link == SM_FOLLOW_WAITING));
    hold_against_the_truth(s);
}

static void look_for(scene *s, int64_t span_ms) {
    for (int64_t until = tell_mono_us() + span_ms * 1000; tell_mono_us() < until;)
        look(s);
}

// Milliseconds until LINK is shown, at most SPAN_MS: then the scene has failed.
static int64_t wait_for(scene *s, sm_follow_link link, int64_t span_ms) {
    const int64_t from = tell_mono_us(), until = from + span_ms * 1000;
    for (look(s); s->view->link != link && tell_mono_us() < until;)
        look(s);
    if (s->view->link != link)
        fprintf(stderr, "%s, not %s, after %lld ms\n", sm_follow_link_text(s->view->link),
                sm_follow_link_text(link), (long long)span_ms);
    must(s->view->link == link);
    return (tell_mono_us() - from) / 1000;
}

static void is_lost_from_now(scene *s) {
    wait_for(s, SM_FOLLOW_LOST, LOST_MS);
    must(s->view->now->incidents.link_lost && s->view->now->incidents.link_state == s->view->now->state);
}

static void begin_live(scene *s) {
    begin(s);
    start_broker(s);
    s->console = start_console(s, running);
    follow(s);
    wait_for(s, SM_FOLLOW_LIVE, 10000); // the program starts, on a busy machine
}

static bool console_said(const scene *s, const char *words) {
    char path[128], *text;
    size_t length;
    snprintf(path, sizeof path, "%s/console.log", s->folder);
    must(sm_file_read(path, &text, &length) == SM_OK);
    bool said = strstr(text, words) != NULL;
    free(text);
    return said;
}

// ---- the scenes -----------------------------------------------------------------------------------

static void console_killed(scene *s) {
    begin_live(s);
    look_for(s, 500);
    stop(&s->console, SIGKILL);
    is_lost_from_now(s);
    for (int i = 0; i < 100; i++) { // whatever the broker says of it later
        look_for(s, 40);
        must(s->view->link == SM_FOLLOW_LOST);
    }
}

static void console_frozen(scene *s) {
    begin_live(s);
    kill(s->console, SIGSTOP);
    is_lost_from_now(s);
    look_for(s, 3000);
    must(s->view->link == SM_FOLLOW_LOST);
    kill(s->console, SIGCONT);
    wait_for(s, SM_FOLLOW_LIVE, 6000);
    look_for(s, 1000);
}

static void broker_killed_and_back(scene *s) {
    begin_live(s);
    stop(&s->broker, SIGKILL);
    is_lost_from_now(s);
    look_for(s, 2500);
    must(s->view->link == SM_FOLLOW_LOST);
    must(console_said(s, "FOLLOWERS HEAR NOTHING"));
    start_broker(s);
    wait_for(s, SM_FOLLOW_LIVE, 6000);
    look_for(s, 1000);
    must(kill(s->console, 0) == 0 && waitpid(s->console, NULL, WNOHANG) == 0); // it went on
}

static void broker_frozen(scene *s) {
    begin_live(s);
    kill(s->broker, SIGSTOP);
    is_lost_from_now(s);
    look_for(s, 4000);
    must(s->view->link == SM_FOLLOW_LOST);
    kill(s->broker, SIGCONT); // all that it held back comes now
    wait_for(s, SM_FOLLOW_LIVE, 8000);
    look_for(s, 1000);
}

// A broker that keeps what it retained brings back "live" of a console that is gone.
static void cut_off_with_persistence(scene *s) {
    char more[200];
    begin(s);
    snprintf(more, sizeof more, "allow_anonymous true\npersistence true\npersistence_location %s/\n%s",
             s->folder, getuid() == 0 ? "user root\n" : "");
    configure(s, more);
    start_broker(s);
    s->console = start_console(s, running);
    follow(s);
    wait_for(s, SM_FOLLOW_LIVE, 10000);
    unfollow(s);
    kill(s->console, SIGSTOP); // so that its will is not spoken
    stop(&s->broker, SIGTERM);
    stop(&s->console, SIGKILL);
    start_broker(s);
    follow(s);
    bool shown = false;
    for (int64_t until = tell_mono_us() + 4000000; tell_mono_us() < until;) {
        look(s);
        shown |= s->view->now != NULL;
        must(s->view->link == SM_FOLLOW_WAITING || s->view->link == SM_FOLLOW_LOST);
    }
    must(shown && s->view->now->incidents.link_at.us == SM_UNSET_US); // nobody knows since when
}

static void follower_slow(scene *s) {
    begin_live(s);
    for (int i = 0; i < 3; i++) {
        poll(NULL, 0, 2600);
        s->true_us = tell_mono_us(); // nobody looked
        look(s);
        must(s->view->link != SM_FOLLOW_LIVE || is_true(s, tell_mono_us()));
        look(s);
        wait_for(s, SM_FOLLOW_LIVE, LOST_MS);
    }
}

// The program itself, stopped and let go on: its lines are right again, or say LINK LOST.
static void follower_frozen(scene *s) {
    char program[256], broker[40], path[128], *text;
    const char *build = getenv("SLOWMATCH_BUILD");
    size_t length;
    begin_live(s);
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(broker, sizeof broker, "127.0.0.1:%d", s->port);
    pid_t other = start(s, "follow.log", (const char *[]){program, "follow", broker, "--json", NULL});
    look_for(s, 1500);
    kill(other, SIGSTOP);
    look_for(s, 4000);
    must(s->view->now->state == SM_STATE_RUNNING);
    kill(other, SIGCONT);
    look_for(s, LOST_MS);
    stop(&other, SIGTERM);
    snprintf(path, sizeof path, "%s/follow.log", s->folder);
    must(sm_file_read(path, &text, &length) == SM_OK);
    const char *last = NULL;
    for (const char *at = strstr(text, "\"link\""); at; at = strstr(at + 1, "\"link\""))
        last = at;
    must(last && strstr(last, "\"link\": \"live\"") == last && strstr(last, "\"rehearsal\": \"running\""));
    free(text);
}

static void late_joiner(scene *s) {
    begin_live(s);
    look_for(s, 4500);
    unfollow(s);
    follow(s);
    must(wait_for(s, SM_FOLLOW_LIVE, 3000) < 1000);
    must(s->view->now->state == SM_STATE_RUNNING && s->view->show->slot_count == 48);
    must(strcmp(s->view->title, "Lantern Quay") == 0 || s->view->title[0] == '\0');
}

static void two_runs(scene *s) {
    char names[256], first[32], second[32];
    begin(s);
    start_broker(s);
    s->console = start_console(s, running);
    pid_t other = start_console(s, "0 note still safe\n60 safe\n");
    follow(s);
    for (int i = 0; i < 500 && (!s->view || sm_follower_runs(s->follower, names) < 2); i++) {
        struct pollfd waited = {sm_follower_descriptor(s->follower), POLLIN, 0};
        poll(&waited, 1, 20);
        s->view = sm_follower_look(s->follower);
    }
    unfollow(s);
    must(sscanf(names, " %31s %31s", first, second) == 2);
    follow_as(s, first, NULL, NULL);
    scene copy = *s;
    follow_as(&copy, second, NULL, NULL);
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
    unfollow(&copy);
    stop(&other, SIGKILL);
}

// Days apart, and 100 millionths fast.
static int64_t other_clock_us(void) {
    int64_t mono_us = tell_mono_us();
    return mono_us + mono_us / 10000 + INT64_C(3) * 86400 * SM_US_PER_S;
}

static void clocks_apart(scene *s) {
    begin(s);
    start_broker(s);
    s->console = start_console(s, running);
    follow_as(s, NULL, other_clock_us, NULL);
    wait_for(s, SM_FOLLOW_LIVE, 10000);
    look_for(s, 8000);
    must(s->view->link == SM_FOLLOW_LIVE);
    stop(&s->console, SIGKILL);
    is_lost_from_now(s);
}

// Where a follower may not ping, nothing shows that what comes is not late.
static void may_not_ping(scene *s) {
    char more[200];
    begin(s);
    put_file(
        s, "acl",
        "topic read slowmatch/1/#\ntopic write slowmatch/1/+/show\ntopic write slowmatch/1/+/state\n"
        "topic write slowmatch/1/+/link\ntopic write slowmatch/1/+/beat\ntopic write slowmatch/1/+/event\n");
    snprintf(more, sizeof more, "allow_anonymous true\npersistence false\nacl_file %s/acl\n%s", s->folder,
             getuid() == 0 ? "user root\n" : "");
    configure(s, more);
    start_broker(s);
    s->console = start_console(s, running);
    follow(s);
    wait_for(s, SM_FOLLOW_UNPROVEN, 10000);
    for (int64_t until = tell_mono_us() + 4000000; tell_mono_us() < until;) {
        look(s);
        must(s->view->link == SM_FOLLOW_UNPROVEN);
    }
    must(strstr(s->view->words, "AGE NOT PROVEN, TREAT AS ARMED"));
}

static void ended_and_emptied(scene *s) {
    char command[200];
    begin(s);
    start_broker(s);
    s->other = true;
    s->console = start_console(s, "0 note begun\n3 safe\n");
    follow(s);
    wait_for(s, SM_FOLLOW_LIVE, 10000);
    wait_for(s, SM_FOLLOW_LOST, 6000);
    must(s->view->ended && strstr(s->view->words, "the console has ended"));
    snprintf(command, sizeof command, "! timeout 2 mosquitto_sub -p %d -t 'slowmatch/#' -C 1 >&2", s->port);
    must(system(command) == 0); // nothing is retained
}

// Nonsense, what is of another time, what is too large: counted, and nothing else.
static void garbage(scene *s) {
    static const char *const nonsense[] = {
        "{", "[]", "null", "{\"mono_us\":1}", "{\"mono_us\":-1,\"seq\":1}", "\xff\xfe"};
    char command[400];
    begin_live(s);
    look_for(s, 4000);
    uint64_t refused = s->view->refused;
    int sent = 0;
    for (int topic = 0; topic < 5; topic++) {
        static const char *const names[] = {"show", "state", "link", "beat", "event"};
        for (size_t i = 0; i < sizeof nonsense / sizeof nonsense[0]; i++, sent++) {
            snprintf(command, sizeof command, "mosquitto_pub -p %d -t 'slowmatch/1/%s/%s' -m '%s'", s->port,
                     s->view->run, names[topic], nonsense[i]);
            must(system(command) == 0);
        }
    }
    snprintf(command, sizeof command,
             "head -c 5000000 /dev/zero | mosquitto_pub -p %d -t 'slowmatch/1/%s/state' -s", s->port,
             s->view->run);
    must(system(command) == 0);
    snprintf(command, sizeof command,
             "mosquitto_pub -p %d -t 'slowmatch/1/%s/beat' -m "
             "'{\"mono_us\":1,\"seq\":0,\"wall_us\":0,\"at_us\":0,\"state\":\"safe\"}'",
             s->port, s->view->run);
    must(system(command) == 0); // replayed: older than what is known
    look_for(s, 1500);
    must(s->view->refused >= refused + (uint64_t)sent);
    must(s->view->link == SM_FOLLOW_LIVE && s->view->now->state == SM_STATE_RUNNING && s->view->missed == 0);
}

// The broker of the manual, with its keys: a crew's follower sees, and cannot forge.
static void manual_broker(scene *s) {
    char conf[1200], command[500];
    begin(s);
    snprintf(conf, sizeof conf,
             "listener %d\npsk_hint slowmatch\npsk_file %s/crew.psk\nuse_identity_as_username "
             "true\nallow_anonymous false\n"
             "persistence false\nacl_file %s/crew.acl\n%s",
             s->port, s->folder, s->folder, getuid() == 0 ? "user root\n" : "");
    put_file(s, "broker.conf", conf);
    put_file(s, "crew.psk",
             "console:0e2c55d9b8f1b5fdbd1b5b57b6f5ac22\ncrew:51f6f0c8b5b94ab6c1b6c1cf9e8b0ad7\n");
    put_file(s, "crew.acl",
             "user console\ntopic readwrite slowmatch/1/#\nuser crew\ntopic read slowmatch/1/#\n"
             "topic write slowmatch/1/+/ping/+\n");
    put_file(s, "console.ini", "[broker]\npsk-identity = console\npsk = 0e2c55d9b8f1b5fdbd1b5b57b6f5ac22\n");
    put_file(s, "crew.ini", "[broker]\npsk-identity = crew\npsk = 51f6f0c8b5b94ab6c1b6c1cf9e8b0ad7\n");
    start_broker(s);
    s->console = start_console_as(s, running, "console.ini");
    follow_as(s, NULL, NULL, "crew.ini");
    wait_for(s, SM_FOLLOW_LIVE, 10000);
    look_for(s, 1000);
    uint64_t refused = s->view->refused;
    snprintf(command, sizeof command,
             "mosquitto_pub -p %d --psk-identity crew --psk 51f6f0c8b5b94ab6c1b6c1cf9e8b0ad7 -t "
             "'slowmatch/1/%s/state' -m nonsense",
             s->port, s->view->run);
    must(system(command) == 0);
    look_for(s, 700);
    must(s->view->refused == refused && s->view->link == SM_FOLLOW_LIVE);
}

static void nothing_of_the_machine(scene *s) {
    char command[300], path[128], *text;
    size_t length;
    begin(s);
    start_broker(s);
    snprintf(path, sizeof path, "%s/all.log", s->folder);
    snprintf(command, sizeof command, "exec mosquitto_sub -p %d -t 'slowmatch/#'", s->port);
    pid_t hears = start(s, "all.log", (const char *[]){"sh", "-c", command, NULL});
    poll(NULL, 0, 500);
    s->console = start_console(s, running);
    follow(s);
    wait_for(s, SM_FOLLOW_LIVE, 10000);
    look_for(s, 3000);
    stop(&hears, SIGTERM);
    must(sm_file_read(path, &text, &length) == SM_OK && strstr(text, "\"files\""));
    char here[256];
    must(getcwd(here, sizeof here));
    must(!strstr(text, here) && !strstr(text, s->folder) && !strstr(text, "demo-shows/lantern-quay/"));
    must(!getenv("HOME") || strlen(getenv("HOME")) < 4 || !strstr(text, getenv("HOME")));
    free(text);
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
    {"the broker of the manual", manual_broker},
    {"nothing of the machine", nothing_of_the_machine},
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
            end(&s);
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

// ---- without a broker -------------------------------------------------------------------------------

// An hour of beats with delays like those of a busy wireless net (2 to 60 ms, now and then 400), clocks that drift by 100 millionths:
// the estimate is never off by more than the least delay and the drift of ten seconds; 50 ms is what people are promised.
static void the_offset_holds_through_an_hour(void **state) {
    (void)state;
    tell_offset offset = {0};
    uint32_t dice = 1;
    for (int beat = 0; beat < 4 * 3600; beat++) {
        dice = dice * 1664525u + 1013904223u;
        int64_t mono = INT64_C(250000) * beat, delay = 2000 + (dice >> 8) % 58000;
        delay += dice % 97 == 0 ? 400000 : 0;
        int64_t there = mono + delay, local = there + there / 10000 + INT64_C(300000000000);
        tell_offset_put(&offset, local, mono);
        int64_t off = tell_offset_mono_us(&offset, local) - there;
        assert_true(beat < 40 || (off <= 1100 && off > -50000));
    }
}

// A minute's beats that a broker held back and gives out in a heap are not the measure of those after them.
static void a_heap_of_late_beats_is_late(void **state) {
    (void)state;
    tell_offset offset = {0};
    for (int beat = 0; beat < 100; beat++)
        tell_offset_put(&offset, INT64_C(250000) * beat + 3000, INT64_C(250000) * beat);
    for (int beat = 100; beat < 340; beat++) {
        int64_t age = tell_offset_put(&offset, INT64_C(250000) * 340 + beat * 20, INT64_C(250000) * beat);
        assert_true(age > INT64_C(250000) * (340 - beat) - 5000);
    }
}

static void another_machine_needs_tls_and_a_user(void **state) {
    (void)state;
    static const struct {
        const char *address;
        bool taken;
        const char *host;
        int port;
    } cases[] = {
        {"localhost", true, "localhost", 1883},
        {"127.0.0.1:1999", true, "127.0.0.1", 1999},
        {"[::1]:1884", true, "::1", 1884},
        {"::1", true, "::1", 1883},
        {"10.0.0.2", false, NULL, 0},
        {"crew.example:1883", false, NULL, 0},
        {"localhost:0", false, NULL, 0},
        {"localhost:x", false, NULL, 0},
        {":1883", false, NULL, 0},
        {"", false, NULL, 0},
        {"localhost:65536", false, NULL, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        sm_broker broker;
        char problem[SM_SESSION_PROBLEM] = "";
        bool taken = sm_broker_read(cases[i].address, NULL, &broker, problem);
        assert_int_equal(taken, cases[i].taken);
        assert_true(taken || (problem[0] && !strchr(problem, '\n')));
        if (taken) {
            assert_string_equal(broker.host, cases[i].host);
            assert_int_equal(broker.port, cases[i].port);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_offset_holds_through_an_hour),
        cmocka_unit_test(a_heap_of_late_beats_is_late),
        cmocka_unit_test(another_machine_needs_tls_and_a_user),
        cmocka_unit_test(every_scene_shows_what_is_or_that_the_link_is_lost),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

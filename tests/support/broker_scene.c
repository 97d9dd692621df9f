// SPDX-License-Identifier: GPL-3.0-or-later
#include "broker_scene.h"

#include "tell/broker.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/stat.h>
#include <sys/wait.h>

#define SCENES_MAX 40

// ---- a scene ------------------------------------------------------------------------------------

static int free_port(void) {
    struct sockaddr_in address = {.sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    socklen_t size = sizeof address;
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    must(fd >= 0 && bind(fd, (struct sockaddr *)&address, size) == 0);
    must(getsockname(fd, (struct sockaddr *)&address, &size) == 0);
    close(fd);
    return ntohs(address.sin_port);
}

void scene_put_file(const scene *s, const char *name, const char *text) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", s->folder, name);
    FILE *file = fopen(path, "w");
    must(file && fputs(text, file) >= 0 && fclose(file) == 0);
    must(chmod(path, 0600) == 0);
}

pid_t scene_start(const scene *s, const char *log, const char *const argv[]) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", s->folder, log);
    pid_t child = fork();
    must(child >= 0);
    if (child == 0) {
        prctl(PR_SET_PDEATHSIG, SIGKILL); // a scene that fails leaves nothing running
        int fd = open(path, O_CREAT | O_WRONLY | O_APPEND, 0600);
        dup2(fd, 1);
        dup2(fd, 2);
        execvp(argv[0], (char *const *)(uintptr_t)argv);
        _exit(127);
    }
    return child;
}

void scene_stop(pid_t *pid, int signal_number) {
    if (*pid > 0) {
        kill(*pid, signal_number);
        kill(*pid, SIGCONT);
        waitpid(*pid, NULL, 0);
    }
    *pid = 0;
}

void scene_start_broker(scene *s) {
    char conf[128];
    snprintf(conf, sizeof conf, "%s/broker.conf", s->folder);
    s->broker = scene_start(s, "broker.log", (const char *[]){"mosquitto", "-c", conf, NULL});
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

void scene_configure(scene *s, const char *more) {
    char conf[1024];
    snprintf(conf, sizeof conf, "listener %d 127.0.0.1\n%s", s->port, more);
    scene_put_file(s, "broker.conf", conf);
}

const char scene_running[] = "0 call-clear J\n0 key on\n0 arm\n3.5 start\n60 safe\n";

pid_t scene_start_console_as(scene *s, const char *script, const char *keys) {
    char program[256], path[128], broker[40], keys_path[128], name[32];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(name, sizeof name, "script-%d", ++s->scripts);
    snprintf(path, sizeof path, "%s/%s", s->folder, name);
    snprintf(keys_path, sizeof keys_path, "%s/%s", s->folder, keys ? keys : "");
    snprintf(broker, sizeof broker, "127.0.0.1:%d", s->port);
    scene_put_file(s, name, script);
    const char *argv[20] = {
        program, s->show ? s->show : SCENE_SHOW, "--silent", "--headless", "--script", path, "--tell",
        broker};
    size_t count = 8;
    if (keys) {
        argv[count++] = "--broker-keys";
        argv[count++] = keys_path;
    }
    if (s->seats) {
        argv[count++] = "--seats";
        argv[count++] = s->seats;
    }
    if (!s->show) {
        argv[count++] = "--readings";
        argv[count++] = SCENE_SHOW "/readings-fixed.csv";
    }
    return scene_start(s, "console.log", argv);
}

pid_t scene_start_console(scene *s, const char *script) {
    return scene_start_console_as(s, script, NULL);
}

void scene_begin(scene *s) {
    *s = (scene){.folder = "/tmp/slowmatch-broker-XXXXXX"};
    must(mkdtemp(s->folder));
    s->port = free_port();
    // One that becomes another user would outlive a scene that fails.
    scene_configure(s, getuid() == 0 ? "allow_anonymous true\npersistence false\nuser root\n"
                                     : "allow_anonymous true\npersistence false\n");
}

void scene_follow_as(scene *s, const char *run, int64_t (*clock_us)(void), const char *keys) {
    char address[40], problem[SM_SESSION_PROBLEM], path[128];
    sm_broker broker;
    snprintf(address, sizeof address, "127.0.0.1:%d", s->port);
    snprintf(path, sizeof path, "%s/%s", s->folder, keys ? keys : "");
    must(sm_broker_read(address, keys ? path : NULL, &broker, problem));
    must(sm_follower_create(&broker, &(sm_follow_options){.run = run, .seat = s->seat, .clock_us = clock_us},
                            problem, &s->follower) == SM_OK);
}

void scene_follow(scene *s) {
    scene_follow_as(s, NULL, NULL, NULL);
}

void scene_unfollow(scene *s) {
    sm_follower_destroy(s->follower);
    s->follower = NULL;
    s->view = NULL;
}

void scene_end(scene *s) {
    char command[80];
    scene_unfollow(s);
    scene_stop(&s->console, SIGKILL);
    scene_stop(&s->broker, SIGKILL);
    snprintf(command, sizeof command, "rm -r %s", s->folder);
    must(system(command) == 0);
}

// ---- looking ------------------------------------------------------------------------------------

// The state of the script at WALL.
static sm_state true_state(sm_us wall) {
    return wall < 3000000 ? SM_STATE_ARMING : wall < 3500000 ? SM_STATE_ARMED : SM_STATE_RUNNING;
}

bool scene_is_true(const scene *s, int64_t mono_us) {
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
    if (scene_is_true(s, mono_us))
        s->true_us = mono_us;
    must(mono_us - s->true_us < SCENE_LOST_MS * 1000);
}

void scene_look(scene *s) {
    struct pollfd waited = {sm_follower_descriptor(s->follower), POLLIN, 0};
    poll(&waited, 1, 20);
    s->view = sm_follower_look(s->follower);
    must(!s->view->now == (s->view->link == SM_FOLLOW_WAITING));
    hold_against_the_truth(s);
}

void scene_look_for(scene *s, int64_t span_ms) {
    for (int64_t until = tell_mono_us() + span_ms * 1000; tell_mono_us() < until;)
        scene_look(s);
}

int64_t scene_wait_for(scene *s, sm_follow_link link, int64_t span_ms) {
    const int64_t from = tell_mono_us(), until = from + span_ms * 1000;
    for (scene_look(s); s->view->link != link && tell_mono_us() < until;)
        scene_look(s);
    if (s->view->link != link)
        fprintf(stderr, "%s, not %s, after %lld ms\n", sm_follow_link_text(s->view->link),
                sm_follow_link_text(link), (long long)span_ms);
    must(s->view->link == link);
    return (tell_mono_us() - from) / 1000;
}

void scene_is_lost_from_now(scene *s) {
    scene_wait_for(s, SM_FOLLOW_LOST, SCENE_LOST_MS);
    must(s->view->now->incidents.link_lost && s->view->now->incidents.link_state == s->view->now->state);
}

void scene_begin_live(scene *s) {
    scene_begin(s);
    scene_start_broker(s);
    s->console = scene_start_console(s, scene_running);
    scene_follow(s);
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000); // the program starts, on a busy machine
}

bool scene_console_said(const scene *s, const char *words) {
    char path[128], *text;
    size_t length;
    snprintf(path, sizeof path, "%s/console.log", s->folder);
    must(sm_file_read(path, &text, &length) == SM_OK);
    bool said = strstr(text, words) != NULL;
    free(text);
    return said;
}

void scene_says_why(scene *s, const char *keys, const char *why) {
    scene_follow_as(s, NULL, NULL, keys);
    bool said = false;
    for (int i = 0; i < 1000 && !said; i++) {
        poll(NULL, 0, 20);
        s->view = sm_follower_look(s->follower);
        said = s->view->link == SM_FOLLOW_WAITING && strstr(s->view->why, why);
    }
    must(said);
    scene_unfollow(s);
}

// ---- all of them --------------------------------------------------------------------------------

static scene *playing; // in a scene's process alone

static void end_playing(int number) {
    (void)number;
    if (playing && playing->broker > 0)
        kill(playing->broker, SIGKILL);
    if (playing && playing->console > 0)
        kill(playing->console, SIGKILL);
    _exit(1);
}

static pid_t begin_playing(const scene_row *row) {
    pid_t child = fork();
    if (child != 0)
        return child;
    scene s;
    playing = &s;
    signal(SIGTERM, end_playing);
    row->play(&s);
    scene_end(&s);
    _exit(0);
}

bool scene_play_all(const scene_row *rows, size_t count) {
    pid_t children[SCENES_MAX] = {0};
    const char *only = getenv("SCENE");
    bool good = true;
    must(count <= SCENES_MAX);
    for (size_t i = 0; i < count; i++)
        if (!only || strcmp(only, rows[i].name) == 0)
            children[i] = begin_playing(&rows[i]);
    for (size_t i = 0; i < count; i++) {
        int status = 0;
        if (children[i] == 0 || (waitpid(children[i], &status, 0) > 0 && status == 0))
            continue;
        fprintf(stderr, "failed: %s\n", rows[i].name);
        good = false;
    }
    return good;
}

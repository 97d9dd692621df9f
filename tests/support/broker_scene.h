// SPDX-License-Identifier: GPL-3.0-or-later
// A scene for followers: a real broker (mosquitto) on the loopback, the program that tells, a follower in this process. What goes wrong ends
// the process with 1: a scene is a child of its test.
#ifndef SLOWMATCH_TESTS_BROKER_SCENE_H
#define SLOWMATCH_TESTS_BROKER_SCENE_H

#include "slowmatch/tell.h"

#include <stdio.h>
#include <sys/types.h>
#include <unistd.h>

#define SCENE_SHOW "demo-shows/lantern-quay"
#define SCENE_LOST_MS 2500
// Armed at 3 s, running from 3.5 s on.
extern const char scene_running[];

typedef struct scene {
    char folder[40];
    int port;
    const char *show;         // NULL: SCENE_SHOW with its readings
    const char *seats, *seat; // granted by the console; that of the follower; NULL: none
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

void scene_put_file(const scene *s, const char *name, const char *text);
pid_t scene_start(const scene *s, const char *log, const char *const argv[]);
void scene_stop(pid_t *pid, int signal_number);
void scene_start_broker(scene *s);
// MORE: lines of the broker's configuration.
void scene_configure(scene *s, const char *more);
// The program, telling; KEYS is a file of the folder, NULL: none.
pid_t scene_start_console_as(scene *s, const char *script, const char *keys);
pid_t scene_start_console(scene *s, const char *script);
void scene_begin(scene *s);
void scene_follow_as(scene *s, const char *run, int64_t (*clock_us)(void), const char *keys);
void scene_follow(scene *s);
void scene_unfollow(scene *s);
void scene_end(scene *s);
bool scene_is_true(const scene *s, int64_t mono_us);
// Looks once, and holds what is live against the truth.
void scene_look(scene *s);
void scene_look_for(scene *s, int64_t span_ms);
// Milliseconds until LINK is shown, at most SPAN_MS: then the scene has failed.
int64_t scene_wait_for(scene *s, sm_follow_link link, int64_t span_ms);
void scene_is_lost_from_now(scene *s);
// A broker, a console that plays scene_running, a follower that is live.
void scene_begin_live(scene *s);
// Follows with KEYS (NULL: none) until WHY stands there, why nothing comes.
void scene_says_why(scene *s, const char *keys, const char *why);
typedef struct scene_row {
    const char *name;
    void (*play)(scene *s);
} scene_row;
// Plays all at once, since they mostly wait: each in a process with a broker of its own. SCENE in the environment names one alone. False:
// one failed, and was named.
bool scene_play_all(const scene_row *rows, size_t count);
bool scene_console_said(const scene *s, const char *words);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// What telling costs whoever sits at the console: the demo show with sound, in a terminal of 120x40, without --tell and with it (a broker
// on the loopback, three followers), in turn. From a key to the changed screen, which waits for a frame, and how much of 12 s of
// music the sink had to fill with silence. The aim: no other with --tell than without.
#include "../support/broker_scene.h"
#include "../support/console_rig.h"
#include "../support/pty.h"
#include "../support/sound_rig.h"

#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define FOLDER "demo-shows/lantern-quay"
enum { ROUNDS = 2, KEYS = 200, FOLLOWERS = 3, MUSIC_S = 12 };

typedef struct figures {
    double key_ms[ROUNDS * KEYS];
    size_t keys;
    double silent_ms;
} figures;

static double now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec * 1e3 + 1e-6 * (double)now.tv_nsec;
}

static int compare(const void *left, const void *right) {
    const double a = *(const double *)left, b = *(const double *)right;
    return (a > b) - (a < b);
}

static pty *start_console(const char *broker) {
    char program[512];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    const char *const argv[] = {
        program, FOLDER, "--readings", FOLDER "/readings-fixed.csv", broker ? "--tell" : NULL, broker, NULL};
    pty *p = pty_start(120, 40, argv, NULL);
    pty_expect(p, "no way to fire anything");
    pty_type(p, "y"); // no tones: music alone
    pty_expect(p, "sound default");
    console_start_playing(p);
    return p;
}

static void press_keys(pty *p, figures *out) {
    static const char *const keys[] = {"\033[15~", "\033OQ"}, *const texts[] = {"2 field     MET", "── now "};
    for (int i = 0; i < KEYS; i++) {
        pty_listen(p, 60 + i * 37 % 90);
        const double began_ms = now_ms();
        pty_type(p, keys[i % 2]);
        pty_expect(p, texts[i % 2]);
        out->key_ms[out->keys++] = now_ms() - began_ms;
    }
}

static bool is_silent(const sound_recording *heard, size_t frame) {
    return heard->frames[frame][0] == 0 && heard->frames[frame][1] == 0;
}

// Stretches of at least 5 ms of nothing, within MUSIC_S from the first 100 ms that have none.
static double silent_ms(const sound_recording *heard) {
    const size_t least = (size_t)heard->rate_hz / 200;
    size_t at = 0, sounding = 0, run = least, silent = 0;
    for (; at < heard->count && sounding < 20 * least; at++) {
        run = is_silent(heard, at) ? run + 1 : 0;
        sounding = run < least ? sounding + 1 : 0;
    }
    const size_t to = at + (size_t)heard->rate_hz * MUSIC_S;
    must(to <= heard->count); // else it was not heard at all
    for (; at < to; at++) {
        run = is_silent(heard, at) ? run + 1 : 0;
        silent += run == least ? least : run > least;
    }
    return (double)silent * 1000 / heard->rate_hz;
}

static void play(scene *s, const sound_rig *rig, bool tells, figures *out) {
    char address[40], program[512];
    const char *build = getenv("SLOWMATCH_BUILD");
    pid_t followers[FOLLOWERS] = {0};
    sound_recording heard = {0};
    snprintf(address, sizeof address, "127.0.0.1:%d", s->port);
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    for (int i = 0; i < FOLLOWERS && tells; i++)
        followers[i] =
            scene_start(s, "follow.log", (const char *[]){program, "follow", address, "--json", NULL});
    must(sound_rig_record(rig));
    pty *p = start_console(tells ? address : NULL);
    press_keys(p, out);
    pty_destroy(p);
    must(sound_rig_recorded(rig, &heard));
    out->silent_ms += silent_ms(&heard);
    sound_recording_deinit(&heard);
    for (int i = 0; i < FOLLOWERS; i++)
        scene_stop(&followers[i], SIGTERM);
}

static void print(const char *what, figures *of) {
    qsort(of->key_ms, of->keys, sizeof of->key_ms[0], compare);
    printf("%s: a key is seen after %.1f ms (median), %.1f ms (99th percentile) of %zu; %.0f ms of %d s of "
           "music "
           "not played\n",
           what, of->key_ms[of->keys / 2], of->key_ms[of->keys * 99 / 100], of->keys, of->silent_ms,
           ROUNDS * MUSIC_S);
}

int main(void) {
    static figures without, with;
    sound_rig rig;
    scene s;
    int status = sound_rig_start(&rig, 48000);
    if (status == 77) {
        puts("no sound server is here");
        return 0;
    }
    must(status == 0);
    scene_begin(&s);
    scene_start_broker(&s);
    for (int round = 0; round < ROUNDS; round++) {
        play(&s, &rig, false, &without);
        play(&s, &rig, true, &with);
    }
    print("without --tell", &without);
    print("with --tell", &with);
    printf("with --tell against without: %.2f (median), %.2f (99th percentile)\n",
           with.key_ms[with.keys / 2] / without.key_ms[without.keys / 2],
           with.key_ms[with.keys * 99 / 100] / without.key_ms[without.keys * 99 / 100]);
    scene_end(&s);
    sound_rig_stop(&rig);
    return 0;
}

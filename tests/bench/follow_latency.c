// SPDX-License-Identifier: GPL-3.0-or-later
// Followers through a broker on the loopback, at 1,000 events a minute: how late each shows an event (1, 20 and 200 of them), beside a bare
// mosquitto_pub to as many mosquitto_sub in the same run (the aim: p99 at most 4 times that, and below 50 ms), and the bytes a second that
// one follower takes (the aim: 20 kB).
#include "../support/broker_scene.h"
#include "tell/broker.h"
#include "tell/contract.h"

#include <fcntl.h>
#include <poll.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>

#define MOST 200
#define SPAN_US (8 * SM_US_PER_S)
#define EVENT_US 60000
#define SAMPLES_MAX 400000

typedef struct samples {
    int64_t *us;
    size_t count;
} samples;

static void put(samples *s, int64_t us) {
    if (s->count < SAMPLES_MAX)
        s->us[s->count++] = us;
}

static int compare(const void *a, const void *b) {
    const int64_t x = *(const int64_t *)a, y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

static double at_share(const samples *s, double share) {
    return s->count > 0 ? (double)s->us[(size_t)((double)(s->count - 1) * share)] / 1000 : -1;
}

// ---- what is told ---------------------------------------------------------------------------------

static void write_show(const char *folder) {
    char path[256];
    mkdir(folder, 0700);
    snprintf(path, sizeof path, "%s/show.ini", folder);
    FILE *file = fopen(path, "w");
    fprintf(file, "[show]\ntitle = Bench\n");
    fclose(file);
    snprintf(path, sizeof path, "%s/profiles.csv", folder);
    file = fopen(path, "w");
    fprintf(file, "name,channels\nlamp,red\n");
    fclose(file);
    snprintf(path, sizeof path, "%s/fixtures.csv", folder);
    file = fopen(path, "w");
    fprintf(file, "name,profile,address\n");
    for (int i = 0; i < 60; i++)
        fprintf(file, "lamp-%d,lamp,%d\n", i, i + 1);
    fclose(file);
    snprintf(path, sizeof path, "%s/cues.csv", folder);
    file = fopen(path, "w");
    fprintf(file, "time,target,do\n");
    for (int i = 0; i < 6000; i++)
        fprintf(file, "%.3f,lamp-%d,red=%d\n", i * 0.06 + 0.5, i * 7 % 60, i * 13 % 256);
    fclose(file);
}

// A client of the library alone: when wall 0 was on this machine's clock, and how many bytes come.
typedef struct plain {
    struct mosquitto *client;
    _Atomic int64_t wall_at_us;
    atomic_size_t bytes;
} plain;

static void on_connect(struct mosquitto *client, void *context, int code) {
    (void)context;
    (void)code;
    mosquitto_subscribe(client, NULL, TELL_ROOT "+/+", 0);
}

static void on_message(struct mosquitto *client, void *context, const struct mosquitto_message *message) {
    plain *p = context;
    static const tell_sizes none = {0};
    static tell_beat_message beat;
    (void)client;
    atomic_fetch_add(&p->bytes, (size_t)message->payloadlen + strlen(message->topic) + 5);
    const char *last = strrchr(message->topic, '/');
    if (strcmp(last, "/beat") != 0)
        return;
    tell_document *document =
        tell_read(TELL_BEAT, message->payload, (size_t)message->payloadlen, &none, &beat);
    if (document)
        atomic_store(&p->wall_at_us, beat.mono_us - beat.wall_us);
    tell_document_free(document);
}

// ---- the followers ----------------------------------------------------------------------------------

static bool all_live(sm_follower **followers, size_t count) {
    size_t live = 0;
    for (size_t i = 0; i < count; i++) {
        const sm_follow_view *view = sm_follower_look(followers[i]);
        live += view->link == SM_FOLLOW_LIVE && view->now->state == SM_STATE_RUNNING;
    }
    return live == count;
}

static void look_at_all(sm_follower **followers, size_t count, uint64_t *seen, int64_t wall_at_us,
                        samples *out) {
    struct pollfd waited[MOST];
    for (size_t i = 0; i < count; i++)
        waited[i] = (struct pollfd){sm_follower_descriptor(followers[i]), POLLIN, 0};
    poll(waited, count, 100);
    for (size_t i = 0; i < count; i++) {
        if (!(waited[i].revents & POLLIN))
            continue;
        const sm_follow_view *view = sm_follower_look(followers[i]);
        const int64_t now_us = tell_mono_us();
        for (uint64_t age = view->recent->count - seen[i]; age > 0; age--) {
            const sm_recent_row *row = sm_recent_at(view->recent, age - 1);
            if (row && row->kind.what == SM_LOG_SET)
                put(out, now_us - (wall_at_us + row->wall.us));
        }
        seen[i] = view->recent->count;
    }
}

static void follow(scene *s, plain *p, size_t count, samples *out) {
    sm_follower *followers[MOST];
    uint64_t seen[MOST] = {0};
    char address[40], problem[SM_SESSION_PROBLEM];
    sm_broker broker;
    snprintf(address, sizeof address, "127.0.0.1:%d", s->port);
    must(sm_broker_read(address, NULL, &broker, problem));
    for (size_t i = 0; i < count; i++)
        must(sm_follower_create(&broker, &(sm_follow_options){0}, problem, &followers[i]) == SM_OK);
    const int64_t patience = tell_mono_us() + 20 * SM_US_PER_S;
    while (!all_live(followers, count) && tell_mono_us() < patience)
        poll(NULL, 0, 50);
    for (size_t i = 0; i < count; i++)
        seen[i] = sm_follower_look(followers[i])->recent->count;
    const int64_t wall_at_us = atomic_load(&p->wall_at_us);
    for (const int64_t until = tell_mono_us() + SPAN_US; tell_mono_us() < until;)
        look_at_all(followers, count, seen, wall_at_us, out);
    for (size_t i = 0; i < count; i++)
        sm_follower_destroy(followers[i]);
}

// ---- the bare clients ---------------------------------------------------------------------------------

static pid_t spawn(int in, int out, const char *program, const char *port, const char *last) {
    pid_t child = fork();
    if (child == 0) {
        dup2(in, 0);
        dup2(out, 1);
        for (int fd = 3; fd < 1024; fd++)
            close(fd);
        execlp(program, program, "-V", "5", "-p", port, "-t", "bare", last, (char *)NULL);
        _exit(127);
    }
    return child;
}

static void take_lines(struct pollfd *waited, size_t count, samples *out) {
    poll(waited, count, 5);
    const int64_t now_us = tell_mono_us();
    for (size_t i = 0; i < count; i++) {
        char text[4096];
        ssize_t length = waited[i].revents & POLLIN ? read(waited[i].fd, text, sizeof text - 1) : 0;
        if (length <= 0)
            continue;
        text[length] = '\0';
        for (char *line = text; line && *line; line = strchr(line, '\n') ? strchr(line, '\n') + 1 : NULL)
            if (strtoll(line, NULL, 10) > 0)
                put(out, now_us - strtoll(line, NULL, 10));
    }
}

static void bare(const scene *s, size_t count, samples *out) {
    struct pollfd waited[MOST];
    pid_t children[MOST];
    int in[2], nothing = open("/dev/null", O_RDWR);
    char port[16];
    snprintf(port, sizeof port, "%d", s->port);
    for (size_t i = 0; i < count; i++) {
        int ends[2];
        must(pipe(ends) == 0);
        children[i] = spawn(nothing, ends[1], "mosquitto_sub", port, NULL);
        close(ends[1]);
        waited[i] = (struct pollfd){ends[0], POLLIN, 0};
    }
    must(pipe(in) == 0);
    pid_t publisher = spawn(in[0], nothing, "mosquitto_pub", port, "-l");
    poll(NULL, 0, 1500);
    int64_t next = tell_mono_us();
    for (const int64_t until = next + SPAN_US; tell_mono_us() < until;) {
        if (tell_mono_us() >= next) {
            dprintf(in[1], "%lld\n", (long long)tell_mono_us());
            next += EVENT_US;
        }
        take_lines(waited, count, out);
    }
    close(in[1]);
    kill(publisher, SIGTERM);
    waitpid(publisher, NULL, 0);
    for (size_t i = 0; i < count; i++) {
        kill(children[i], SIGTERM);
        waitpid(children[i], NULL, 0);
        close(waited[i].fd);
    }
}

// ---- all of it --------------------------------------------------------------------------------------------

static void run(scene *s, plain *p, size_t count) {
    samples told = {calloc(SAMPLES_MAX, sizeof(int64_t)), 0},
            plain_ones = {calloc(SAMPLES_MAX, sizeof(int64_t)), 0};
    must(told.us && plain_ones.us);
    bare(s, count, &plain_ones);
    follow(s, p, count, &told);
    qsort(told.us, told.count, sizeof told.us[0], compare);
    qsort(plain_ones.us, plain_ones.count, sizeof told.us[0], compare);
    double bare99 = at_share(&plain_ones, 0.99), told99 = at_share(&told, 0.99);
    printf("%zu followers: %.2f ms p50, %.2f ms p99 of %zu; bare %.2f and %.2f of %zu; p99 %.2f of 4 times, "
           "%.2f of 50 ms\n",
           count, at_share(&told, 0.5), told99, told.count, at_share(&plain_ones, 0.5), bare99,
           plain_ones.count, told99 / (4 * bare99), told99 / 50);
    free(told.us);
    free(plain_ones.us);
}

// From a hold that is called at a seat until the lead's console shows it to whoever called it: there and back.
static void hold(scene *s) {
    samples held = {calloc(SAMPLES_MAX, sizeof(int64_t)), 0};
    must(held.us);
    s->seat = "spotter";
    s->other = true;
    scene_follow(s);
    scene_wait_for(s, SM_FOLLOW_LIVE, 10000);
    for (int i = 0; i < 500 && s->view->seat != SM_SEAT_TAKEN; i++)
        scene_look_for(s, 20);
    for (uint32_t i = 0; i < 20; i++) {
        uint64_t rows = s->view->recent->count;
        const int64_t from_us = tell_mono_us();
        must(sm_follower_hold(s->follower, "bench"));
        for (bool seen = false; !seen && tell_mono_us() - from_us < 5 * SM_US_PER_S;) {
            struct pollfd waited = {sm_follower_descriptor(s->follower), POLLIN, 0};
            poll(&waited, 1, 5);
            s->view = sm_follower_look(s->follower);
            for (uint64_t age = 0; age < s->view->recent->count - rows; age++)
                seen = seen || sm_log_is_act(sm_recent_at(s->view->recent, age)->kind, SM_ACT_HOLD);
        }
        put(&held, tell_mono_us() - from_us);
        scene_look_for(s, 300);
    }
    qsort(held.us, held.count, sizeof held.us[0], compare);
    printf("a hold from a seat, there and back: %.2f ms p50, %.2f ms at most of %zu; %.2f of 200 ms\n",
           at_share(&held, 0.5), at_share(&held, 1), held.count, at_share(&held, 1) / 200);
    free(held.us);
    scene_unfollow(s);
}

int main(void) {
    static const char script[] = "0 call-clear J\n0 key on\n0 arm\n3.5 start\n200 safe\n";
    char folder[128], problem[SM_SESSION_PROBLEM], address[40];
    scene s;
    sm_broker broker;
    plain p = {0};
    scene_begin(&s);
    scene_start_broker(&s);
    snprintf(folder, sizeof folder, "%s/show", s.folder);
    write_show(folder);
    s.show = folder;
    s.seats = "spotter";
    s.console = scene_start_console(&s, script);
    snprintf(address, sizeof address, "127.0.0.1:%d", s.port);
    must(sm_broker_read(address, NULL, &broker, problem));
    p.client = tell_client_create(&broker, "bench", &p, problem);
    must(p.client);
    mosquitto_connect_callback_set(p.client, on_connect);
    mosquitto_message_callback_set(p.client, on_message);
    tell_cause cause;
    must(tell_client_begin(p.client, &broker, &cause));
    poll(NULL, 0, 10000);
    const size_t before = atomic_load(&p.bytes);
    poll(NULL, 0, 8000);
    double bytes = (double)(atomic_load(&p.bytes) - before) / 8;
    printf("1,000 events a minute: %.1f kB a second, %.2f of 20 kB\n", bytes / 1000, bytes / 20000);
    run(&s, &p, 1);
    run(&s, &p, 20);
    run(&s, &p, MOST);
    hold(&s); // the last: it stops the show
    tell_client_destroy(p.client);
    scene_end(&s);
    return 0;
}

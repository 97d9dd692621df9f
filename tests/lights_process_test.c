// SPDX-License-Identifier: GPL-3.0-or-later
// The sending process by itself, with the test in the program's place: what it is told that is no order, what happens to its sockets, its
// interface, its tables and to itself. Nothing but the lights of universe 1 ever leaves it, and it never hangs. In namespaces of the
// test's own, with a cable from desk to wire; what comes through any interface is seen by a packet socket.
#include "lights/judge.h"
#include "lights/message.h"
#include "support/folder.h"
#include "support/lights_net.h"
#include "support/sanitized.h"
#include "support/show_folder.h"

#include "slowmatch/clock.h"

#include <arpa/inet.h>
#include <fcntl.h>
#include <linux/if_ether.h>
#include <linux/if_packet.h>
#include <net/if.h>
#include <poll.h>
#include <sched.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define PATIENCE_US (30 * SM_US_PER_S)
enum { HEADERS = 28 }; // IPv4 and UDP

typedef struct rig {
    show_folder folder;
    lights_net paths; // of the program
    sm_show *show;
    lights_judge *judge;
    int end, seen; // of the pair; the packet socket
    pid_t pid;
    lights_news news;
    size_t packets, terminated, home, lit;
} rig;

static void run(const char *command) {
    assert_int_equal(system(command), 0); // NOLINT(cert-env33-c): commands of the tests alone
}

// ---- the wire ---------------------------------------------------------------------------

static void write_to(const char *path, const char *text) {
    const int file = open(path, O_WRONLY | O_CLOEXEC);
    assert_true(file >= 0);
    assert_int_equal(write(file, text, strlen(text)), (ssize_t)strlen(text));
    close(file);
}

// False: they cannot be had.
static bool enter_namespaces(void) {
    char map[40];
    const uid_t user = getuid();
    const gid_t group = getgid();
    if (lights_net_missing() || unshare(CLONE_NEWUSER | CLONE_NEWNET) != 0)
        return false;
    write_to("/proc/self/setgroups", "deny");
    snprintf(map, sizeof map, "0 %u 1", user);
    write_to("/proc/self/uid_map", map);
    snprintf(map, sizeof map, "0 %u 1", group);
    write_to("/proc/self/gid_map", map);
    return true;
}

#define DESK_UP                                                                                              \
    "ip addr add 10.9.0.1/24 dev desk && ip link set desk up && ip neigh add 10.9.0.2 lladdr "               \
    "02:00:00:00:00:02 dev desk nud permanent"
static void make_wire(void) {
    run("ip link set lo up && ip link add desk type veth peer name wire && ip link set wire up && " DESK_UP);
}

// Takes in what was sent since, on any interface: each packet must be one of universe 1, out of desk, with 0 wherever no light is.
static void look_at_wire(rig *r) {
    uint8_t bytes[2000];
    struct sockaddr_ll from;
    socklen_t size = sizeof from;
    for (ssize_t n;
         (n = recvfrom(r->seen, bytes, sizeof bytes, MSG_DONTWAIT, (struct sockaddr *)&from, &size)) >= 0;
         size = sizeof from) {
        char name[IF_NAMESIZE];
        sm_sacn_heard heard;
        if (n < HEADERS || bytes[9] != IPPROTO_UDP || from.sll_pkttype == PACKET_OUTGOING)
            continue;
        assert_string_equal(if_indextoname((unsigned)from.sll_ifindex, name), "wire");
        assert_int_equal(bytes[22] << 8 | bytes[23], SM_SACN_PORT);
        if (!sm_sacn_read(bytes + HEADERS, (size_t)n - HEADERS, &heard))
            continue; // universe discovery
        assert_int_equal(n, HEADERS + SM_SACN_DATA_BYTES);
        assert_int_equal(heard.head.universe, 1);
        const uint8_t *slots = bytes + HEADERS + SM_SACN_DATA_BYTES - SM_SACN_SLOTS;
        bool home = true;
        for (int s = 0; s < SM_SACN_SLOTS; s++) {
            assert_true(slots[s] == 0 || s <= 2 || s >= 509);
            home = home && slots[s] == (s == 0 || s == 509 ? 5 : 0);
        }
        r->packets++;
        r->lit += !home;
        r->home = home && !heard.head.terminated ? r->home + 1 : heard.head.terminated ? r->home : 0;
        r->terminated += heard.head.terminated;
    }
}

// ---- the process ---------------------------------------------------------------------------

static void become(const rig *r, int end, rlim_t files) {
    char data[100];
    snprintf(data, sizeof data, "%s", r->paths.folder);
    setenv("XDG_DATA_HOME", data, 1);
    dup2(end, LIGHTS_DESCRIPTOR);
    if (files > 0)
        setrlimit(RLIMIT_NOFILE, &(struct rlimit){files, files});
    execl(r->paths.exe, "slowmatch", SM_LIGHTS_PROCESS_ARGUMENT, r->folder.path, "desk", "10.9.0.2", "10",
          (char *)NULL);
    _exit(127);
}

static void start(rig *r, rlim_t files) {
    int pair[2];
    assert_int_equal(socketpair(AF_UNIX, SOCK_SEQPACKET | SOCK_CLOEXEC, 0, pair), 0);
    r->pid = fork();
    assert_true(r->pid >= 0);
    if (r->pid == 0)
        become(r, pair[1], files);
    close(pair[1]);
    r->end = pair[0];
    r->packets = r->terminated = r->home = r->lit = 0;
}

// The next news that is none of its being alive. False: it has ended.
static bool hear(rig *r) {
    struct pollfd waited = {r->end, POLLIN, 0};
    for (;;) {
        assert_int_equal(poll(&waited, 1, PATIENCE_US / 1000), 1);
        const ssize_t n = recv(r->end, &r->news, sizeof r->news, 0);
        if (n <= 0)
            return false;
        assert_int_equal(n, sizeof r->news);
        if (r->news.kind != LIGHTS_LIVES)
            return true;
    }
}

static void await(rig *r, lights_news_kind kind, const char *text) {
    do
        if (!hear(r))
            fail_msg("it ended without: %s", text);
    while (r->news.kind != kind);
    if (!strstr(r->news.text, text))
        fail_msg("it said '%s', not '%s'", r->news.text, text);
}

static void tell(rig *r, const void *message, size_t length) {
    (void)send(r->end, message, length, MSG_NOSIGNAL); // it may have stopped meanwhile
}

static void go(rig *r) {
    const lights_order order = {.kind = LIGHTS_GO, .span_us = 3600 * SM_US_PER_S};
    await(r, LIGHTS_LISTENS, "");
    tell(r, &order, sizeof order);
}

// SLOTS of UNIVERSE as the program orders them, with a true seal where its judge lets them pass.
static bool order_slots(rig *r, int32_t universe, const uint8_t slots[SM_SACN_SLOTS]) {
    lights_orders orders = {.order = {.kind = LIGHTS_FRAME, .count = 1}};
    char why[SM_LIGHTS_WHY];
    const bool passes = lights_judge_pass(r->judge, universe, slots, NULL, &orders.verdicts[0], why);
    tell(r, &orders, offsetof(lights_orders, verdicts) + sizeof orders.verdicts[0]);
    return passes;
}

static void light(rig *r, uint8_t level) {
    uint8_t slots[SM_SACN_SLOTS] = {level, 9, [509] = 5};
    assert_true(order_slots(r, 1, slots));
}

// Until COUNT packets were seen.
static void see(rig *r, size_t count) {
    const int64_t until_us = sm_monotonic_us() + PATIENCE_US;
    for (look_at_wire(r); r->packets < count; look_at_wire(r)) {
        assert_true(sm_monotonic_us() < until_us);
        lights_net_nap(0.005);
    }
}

// Returns the status with which it ended.
static int ends(rig *r) {
    int status;
    while (hear(r)) {
    }
    close(r->end);
    assert_int_equal(waitpid(r->pid, &status, 0), r->pid);
    look_at_wire(r);
    return status;
}

static void is_over(rig *r) {
    assert_int_equal(ends(r), 0);
}

static void hold_end(const rig *r) {
    assert_true(r->home >= 3);
    assert_int_equal(r->terminated, 3);
}

// ---- beginning and end of the tests ---------------------------------------------------------------

static int begin(void **state) {
    static rig r;
    if (!enter_namespaces()) {
        print_message(
            "SKIPPED, nothing of the sending process was tested: no network namespace can be had here\n");
        return 0;
    }
    make_wire();
    r = (rig){.folder = lights_net_show()};
    lights_net_prepare(&r.paths, "slowmatch");
    r.show = show_folder_load(&r.folder, SM_OK);
    assert_int_equal(lights_judge_create(r.show, &r.judge), SM_OK);
    r.seen = socket(AF_PACKET, SOCK_DGRAM | SOCK_CLOEXEC, htons(ETH_P_IP));
    assert_true(r.seen >= 0);
    *state = &r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    if (!r)
        return 0;
    lights_judge_destroy(r->judge);
    sm_show_destroy(r->show);
    show_folder_remove(&r->folder);
    lights_net_forget(&r->paths);
    return 0;
}

static rig *rig_of(void **state) {
    if (!*state)
        skip();
    return *state;
}

// It has gained and can gain no rights, and a filter of calls is on (os_confine_test: what that lets through). A sanitizer's has none.
static void hold_confined(const rig *r) {
    char path[40], *status;
    size_t length;
    snprintf(path, sizeof path, "/proc/%d/status", (int)r->pid);
    assert_int_equal(sm_file_read(path, &status, &length), SM_OK);
    assert_non_null(strstr(status, "NoNewPrivs:\t1\n"));
#ifndef SANITIZED
    assert_non_null(strstr(status, "Seccomp:\t2\n"));
#endif
    free(status);
}

// ---- what it is told ----------------------------------------------------------------------------------

static void a_pair_that_closes_ends_it(void **state) {
    rig *r = rig_of(state);
    start(r, 0);
    await(r, LIGHTS_LISTENS, "");
    shutdown(r->end, SHUT_WR);
    is_over(r);
    assert_int_equal(r->packets, 0);
    start(r, 0);
    go(r);
    light(r, 200);
    see(r, 3);
    hold_confined(r);
    shutdown(r->end, SHUT_WR);
    is_over(r);
    assert_true(r->lit >= 3);
    hold_end(r);
}

static void frames_before_anything_was_stated_stop_it(void **state) {
    rig *r = rig_of(state);
    start(r, 0);
    await(r, LIGHTS_LISTENS, "");
    light(r, 200);
    await(r, LIGHTS_STOPPED, "before anybody stated anything");
    is_over(r);
    assert_int_equal(r->packets, 0);
}

// What its own judge would not have let pass, with and without a seal that holds.
static void forged_frames_stop_it(void **state) {
    rig *r = rig_of(state);
    for (int way = 0; way < 7; way++) {
        lights_orders orders = {.order = {.kind = LIGHTS_FRAME, .count = 1}};
        lights_verdict *verdict = &orders.verdicts[0];
        uint8_t slots[SM_SACN_SLOTS] = {200};
        char why[SM_LIGHTS_WHY];
        size_t length = offsetof(lights_orders, verdicts) + sizeof *verdict;
        assert_true(lights_judge_pass(r->judge, 1, slots, NULL, verdict, why));
        verdict->universe = way == 0 ? 2 : way == 1 ? 3 : way == 2 ? 7 : 1;
        verdict->slots[99] = way == 3 ? 200 : 0; // nobody's
        verdict->owned[12] = way == 4 ? 8 : 0;
        verdict->seal ^= way == 5;
        length -= way == 6; // not whole
        start(r, 0);
        go(r);
        tell(r, &orders, length);
        await(r, LIGHTS_STOPPED, way == 6 ? "an order that is none" : "the tables here say otherwise");
        is_over(r);
        assert_int_equal(r->packets, 0);
    }
}

// Noise of any length in place of orders: it ends, and nothing is sent.
static void noise_is_no_order(void **state) {
    rig *r = rig_of(state);
    unsigned dice = 7;
    const char *soak = getenv("SLOWMATCH_SOAK");
    const int rounds = soak && *soak ? 2000 : 12;
    for (int round = 0; round < rounds; round++) {
        uint8_t noise[4000];
        for (size_t i = 0; i < sizeof noise; i++)
            noise[i] = (uint8_t)rand_r(&dice);
        lights_order *order = (lights_order *)(void *)noise;
        order->kind = (lights_order_kind)(round % 3 == 0 ? LIGHTS_FRAME : noise[0] % 2 ? 0 : 5 + noise[1]);
        order->count = round % 2 ? (int32_t)(noise[2] % 4) : order->count;
        start(r, 0);
        if (round % 3 == 1)
            await(r, LIGHTS_LISTENS, "");
        else
            go(r);
        tell(r, noise, 1 + (size_t)rand_r(&dice) % sizeof noise);
        shutdown(r->end, SHUT_WR);
        is_over(r);
        assert_int_equal(r->packets, 0);
    }
}

// ---- what happens to it ----------------------------------------------------------------------------------

static void a_signal_lets_the_lights_go_and_says_so(void **state) {
    rig *r = rig_of(state);
    static const int signals[] = {SIGTERM, SIGINT, SIGHUP};
    for (size_t i = 0; i < sizeof signals / sizeof signals[0]; i++) {
        start(r, 0);
        go(r);
        light(r, 200);
        see(r, 3);
        kill(r->pid, signals[i]);
        await(r, LIGHTS_LAPSED, "was told to end");
        is_over(r);
        hold_end(r);
    }
}

// Stopped with the lights on, its program killed meanwhile; let go on, it ends them as it should.
static void one_that_was_stopped_ends_the_stream_when_it_goes_on(void **state) {
    rig *r = rig_of(state);
    start(r, 0);
    go(r);
    light(r, 200);
    see(r, 3);
    kill(r->pid, SIGSTOP);
    for (uint8_t level = 1; level < 60; level++) // more than it has room for is the program's to lose
        (void)send(r->end, &(lights_order){.kind = LIGHTS_DROP, .universe = 9}, sizeof(lights_order),
                   MSG_DONTWAIT | MSG_NOSIGNAL);
    shutdown(r->end, SHUT_WR);
    kill(r->pid, SIGCONT);
    is_over(r);
    hold_end(r);
}

// With few it does not even come to be; with some more it says that it has none; with enough it works.
static void without_descriptors_it_sends_nothing(void **state) {
    rig *r = rig_of(state);
    for (rlim_t files = 4; files <= 10; files++) {
        start(r, files);
        bool stops = false;
        while (!stops && hear(r) && r->news.kind != LIGHTS_LISTENS)
            stops = r->news.kind == LIGHTS_STOPPED;
        if (!stops) {
            const lights_order order = {.kind = LIGHTS_GO, .span_us = 3600 * SM_US_PER_S};
            tell(r, &order, sizeof order);
            light(r, 200);
        }
        shutdown(r->end, SHUT_WR);
        (void)ends(r);
        assert_true(r->terminated == (r->packets > 0 ? 3 : 0));
    }
}

static void a_wire_that_changes_stops_it_for_good(void **state) {
    rig *r = rig_of(state);
    static const struct {
        const char *change, *back, *says;
    } rows[] = {
        {"ip link set desk down", "ip link set desk up", "it is down, or has no carrier"},
        {"ip link set wire down", "ip link set wire up", "it is down, or has no carrier"},
        {"ip addr add 10.7.0.1/24 dev desk && ip addr del 10.9.0.1/24 dev desk",
         "ip addr del 10.7.0.1/24 dev desk && " DESK_UP, "it has another address"},
        {"ip link set desk down && ip link set desk name table",
         "ip link set table name desk && ip link set desk up", "there is none"},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char command[300];
        start(r, 0);
        go(r);
        light(r, 200);
        see(r, 3);
        run(rows[i].change);
        // The kernel may refuse a packet before the process has looked: sending failed, in its words.
        await(r, LIGHTS_STOPPED, "interface desk: ");
        const bool failed = strstr(r->news.text, "sending failed") != NULL;
        if (!failed && !strstr(r->news.text, rows[i].says))
            fail_msg("row %zu: %s", i, r->news.text);
        look_at_wire(r);
        const size_t before = r->packets;
        snprintf(command, sizeof command,
                 "{ %s; } 2>/dev/null || true; ip neigh replace 10.9.0.2 lladdr 02:00:00:00:00:02 dev desk "
                 "nud permanent",
                 rows[i].back);
        run(command);
        light(r, 100);
        is_over(r);
        assert_int_equal(r->packets, before);
        assert_int_equal(r->terminated, 0);
    }
}

// The patch is changed on the disk, to a text of the same length, in place, and its date put back: only its time of change tells.
static void a_patch_that_was_changed_in_secret_ends_it(void **state) {
    rig *r = rig_of(state);
    static const struct {
        const char *file, *from, *to;
        bool dropped;
    } rows[] = {
        {"fixtures.csv", "jet-1,jet,2,1", "jet-1,jet,1,9", true},
        {"profiles.csv", ",,,,light", ",,,,never", true},
        {"fixtures.csv", "haze,hazer,3,9", "haze,hazer,3,8",
         false}, // not of universe 1: it is ended as it should be
        {"fixtures.csv", "par-3,par,3,1", "par-3,pxr,3,1", true}, // no longer readable
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char path[300], text[2000];
        struct stat was;
        start(r, 0);
        go(r);
        light(r, 200);
        see(r, 3);
        snprintf(path, sizeof path, "%s/%s", r->folder.path, rows[i].file);
        assert_int_equal(stat(path, &was), 0);
        const int file = open(path, O_RDWR | O_CLOEXEC);
        const ssize_t length = read(file, text, sizeof text - 1);
        assert_true(length > 0);
        text[length] = '\0';
        char *at = strstr(text, rows[i].from);
        assert_non_null(at);
        assert_int_equal(strlen(rows[i].from), strlen(rows[i].to));
        assert_int_equal(pwrite(file, rows[i].to, strlen(rows[i].to), at - text),
                         (ssize_t)strlen(rows[i].to));
        futimens(file, (const struct timespec[2]){was.st_atim, was.st_mtim});
        await(r, LIGHTS_LAPSED, "was changed: read the show again");
        is_over(r);
        assert_int_equal(r->terminated, rows[i].dropped ? 0 : 3);
        assert_int_equal(pwrite(file, rows[i].from, strlen(rows[i].from), at - text),
                         (ssize_t)strlen(rows[i].from));
        close(file);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_pair_that_closes_ends_it),
        cmocka_unit_test(frames_before_anything_was_stated_stop_it),
        cmocka_unit_test(forged_frames_stop_it),
        cmocka_unit_test(noise_is_no_order),
        cmocka_unit_test(a_signal_lets_the_lights_go_and_says_so),
        cmocka_unit_test(one_that_was_stopped_ends_the_stream_when_it_goes_on),
        cmocka_unit_test(without_descriptors_it_sends_nothing),
        cmocka_unit_test(a_wire_that_changes_stops_it_for_good),
        cmocka_unit_test(a_patch_that_was_changed_in_secret_ends_it),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests_name("the sending process of lights", tests, begin, end);
}

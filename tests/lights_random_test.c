// SPDX-License-Identifier: GPL-3.0-or-later
// Random shows on a wire, with flame units, forgotten marks, overlaps and wrong universes, through random jumps, pauses, stops, reloads
// of changed tables and kills: not one packet of a universe that holds anything but lights, and not one byte other than 0 for what is no
// named channel of a light. Several at a time, each on a wire of its own. The same over many more shows, without a wire: lights_judge_test.
#include "support/lights_net.h"
#include "support/lights_random.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

enum { AT_ONCE = 4, AT_ONCE_IN_SOAK = 10, ACTS = 8 };

typedef struct tally {
    size_t packets, lit, refused, kills;
} tally;

// Every packet of CAPTURE since FROM_S is one that TRUTH allows.
static size_t hold(const lights_net_packet *packets, size_t count, const lights_random *truth, double from_s,
                   double to_s) {
    size_t held = 0;
    for (size_t i = 0; i < count; i++) {
        const lights_net_packet *p = &packets[i];
        if (p->at_s < from_s || p->at_s >= to_s)
            continue;
        if (p->universe < 1 || p->universe > LIGHTS_RANDOM_UNIVERSES || !truth->may[p->universe])
            fail_msg("a packet of universe %d", p->universe);
        for (size_t s = 0; s < 512; s++)
            if (p->slots[s] != 0 && !truth->owned[p->universe][s + 1])
                fail_msg("slot %zu of universe %d is %d", s + 1, p->universe, p->slots[s]);
        held++;
    }
    return held;
}

// Answers until they are on. False: nothing can be sent.
static bool light(lights_net *net, const lights_random *truth) {
    int universes[LIGHTS_RANDOM_UNIVERSES + 1], count = 0;
    for (int u = 1; u <= LIGHTS_RANDOM_UNIVERSES; u++)
        if (truth->may[u])
            universes[count++] = u;
    universes[count] = 0;
    assert_int_equal(lights_net_sockets(net), 0); // off at every start
    if (count > 0) {
        lights_net_light(net, universes);
        return true;
    }
    lights_net_type(net, "lights on");
    lights_net_wait(net, "no universe can be sent");
    assert_int_equal(lights_net_sockets(net), 0);
    return false;
}

static void act(lights_net *net, unsigned *dice) {
    static const char *const lines[] = {"seek 2", "seek 0",    "pause",   "resume",
                                        "safe",   "speed 0.5", "speed 2", "inhibit f0"};
    lights_net_type(net, lines[(unsigned)rand_r(dice) % (sizeof lines / sizeof lines[0])]);
    lights_net_type(net, ""); // where it asks
    lights_net_nap((double)((unsigned)rand_r(dice) % 30) / 100);
}

// Reads other tables; what goes out from then on must be allowed by these too.
static double read_others(lights_net *net, const show_folder *folder, uint64_t seed, lights_random *truth) {
    lights_net_type(net, "safe");
    lights_random_put(folder, seed, true, truth);
    lights_net_nap(3); // what burns is out: else it is refused
    lights_net_type(net, "reload");
    lights_net_wait(net, " reload\n");
    const double read_s = lights_net_now_s();
    lights_net_wait_sockets(net, 0);
    return read_s;
}

static void one_show(uint64_t seed, tally *out) {
    unsigned dice = (unsigned)(seed * 2654435761U);
    const show_folder folder = show_folder_make_small();
    lights_random truth, after;
    lights_net net;
    size_t count, others;
    double read_s = 1e18;
    lights_random_put(&folder, seed, true, &truth);
    after = truth;
    lights_net_start(&net, "slowmatch", folder.path, "multicast", false);
    const bool lit = light(&net, &truth);
    if (lit)
        lights_net_run(&net);
    for (int i = 0; i < ACTS && lit; i++)
        act(&net, &dice);
    const unsigned end = (unsigned)(seed % 4);
    if (lit && end == 0)
        read_s = read_others(&net, &folder, seed + 1000003, &after);
    if (end == 1) {
        const pid_t sender = lights_net_process(&net, "slowmatch-light");
        if (sender > 1)
            kill(sender, SIGKILL);
    }
    if (end <= 1)
        lights_net_end(&net);
    else
        lights_net_kill(&net);
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    const size_t held = hold(packets, count, &truth, 0, read_s) + hold(packets, count, &after, read_s, 1e18);
    assert_int_equal(held, count);
    free(packets);
    static const char *const elsewhere[] = {"away", "lo"};
    for (size_t i = 0; i < 2; i++) {
        free(lights_net_packets(&net, elsewhere[i], &count, &others));
        assert_int_equal(count + others, 0);
    }
    *out = (tally){.packets = held, .lit = lit, .refused = !lit, .kills = end >= 1};
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

// In a process of its own; its tally comes by a pipe.
static pid_t start_one(uint64_t seed, int *from) {
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    fflush(NULL);
    const pid_t pid = fork();
    assert_true(pid >= 0);
    if (pid == 0) {
        tally result;
        one_show(seed, &result);
        _exit(write(ends[1], &result, sizeof result) == (ssize_t)sizeof result ? 0 : 1);
    }
    close(ends[1]);
    *from = ends[0];
    return pid;
}

static void run_some(uint64_t first, int at_once, tally *sum) {
    pid_t pids[AT_ONCE_IN_SOAK];
    int from[AT_ONCE_IN_SOAK];
    for (int i = 0; i < at_once; i++)
        pids[i] = start_one(first + (uint64_t)i, &from[i]);
    for (int i = 0; i < at_once; i++) {
        tally one;
        int status;
        const bool told = read(from[i], &one, sizeof one) == (ssize_t)sizeof one;
        waitpid(pids[i], &status, 0);
        close(from[i]);
        if (!told)
            fail_msg("the show of seed %llu failed", (unsigned long long)(first + (uint64_t)i));
        sum->packets += one.packets;
        sum->lit += one.lit;
        sum->refused += one.refused;
        sum->kills += one.kills;
    }
}

static void nothing_but_lights_reaches_a_wire(void **state) {
    (void)state;
    const char *soak = getenv("SLOWMATCH_SOAK");
    const bool soaks = soak && *soak;
    const int at_once = soaks ? AT_ONCE_IN_SOAK : AT_ONCE;
    const uint64_t rounds = soaks ? 30 : 1;
    tally sum = {0};
    for (uint64_t round = 0; round < rounds; round++)
        run_some(1 + round * (uint64_t)at_once, at_once, &sum);
    print_message("%zu packets of %zu shows, %zu shows with nothing to send, %zu killed\n", sum.packets,
                  sum.lit, sum.refused, sum.kills);
    assert_true(sum.packets > 20 * sum.lit && sum.lit > 0);
}
ON_A_WIRE(nothing_but_lights_reaches_a_wire)

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(nothing_but_lights_reaches_a_wire_on_a_wire)};
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests_name("random shows on a wire", tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The program on a wire of its own, in namespaces (tests/tools/lights_net.sh): typed to by lines, what it sends captured at the far end and
// read by tshark. Nothing reaches this machine's own interfaces, and it needs no root.
#ifndef SLOWMATCH_TESTS_LIGHTS_NET_H
#define SLOWMATCH_TESTS_LIGHTS_NET_H

#include "show_folder.h"

#include <sys/types.h>

typedef struct lights_net {
    char folder[64]; // of captures, data
    char exe[4096];  // the program
    pid_t harness, program;
    int in, out; // its standard input and output
    sm_text said;
    size_t read; // of `said` by lights_net_wait
} lights_net;

// A show with lights alone in universe 1 (dim red green at 1 and 510, at home 5 0 0), a flame unit in 2, a light and a hazer in 3. From
// 2 s on: 200 102 0 and 5 0 255.
show_folder lights_net_show(void);
void lights_net_nap(double s);
double lights_net_now_s(void); // since 1970
// Skips the test where the system forbids namespaces, and says so.
void lights_net_or_skip(void);
#define ON_A_WIRE(test)                                                                                      \
    static void test##_on_a_wire(void **state) {                                                             \
        lights_net_or_skip();                                                                                \
        test(state);                                                                                         \
    }

// Runs COUNT TESTS (struct CMUnitTest, each ON_A_WIRE) at once, each in a process of this program: they mostly wait. As the end of main.
struct CMUnitTest;
int lights_net_run_at_once(const char *group, const struct CMUnitTest *tests, size_t count, char **argv);

// What COMMAND of the shell prints; the caller frees it. Fails the test where it cannot be run.
char *lights_net_command(const char *command);

// NULL where namespaces can be had; else why not, in the kernel's words.
const char *lights_net_missing(void);
// For whoever starts PROGRAM by hand: its folder; and once it runs, its process.
void lights_net_prepare(lights_net *net, const char *program);
void lights_net_find(lights_net *net);
// CPU seconds that it and its processes have taken so far.
double lights_net_cpu_s(const lights_net *net);
// The console of PROGRAM ("slowmatch") as lines over the show in SHOW, to TO. OLA: an olad listens at the node.
void lights_net_start(lights_net *net, const char *program, const char *show, const char *to, bool ola);
void lights_net_type(lights_net *net, const char *line);
// Waits until it says TEXT after what was waited for before; fails the test where that does not come in time.
void lights_net_wait(lights_net *net, const char *text);
// The same, answering all questions: up to LIGHTS ON THE WIRE. UNIVERSES: those asked for, 0 at the end.
void lights_net_light(lights_net *net, const int *universes);
// Up to `running`.
void lights_net_run(lights_net *net);
// Leaves as a person does, or kills: what was started has ended then, and the captures are whole.
void lights_net_end(lights_net *net);
void lights_net_kill(lights_net *net);
void lights_net_forget(lights_net *net);

// Sockets of UDP, raw and packet kind that the program and its processes hold: how many.
size_t lights_net_sockets(const lights_net *net);
void lights_net_wait_sockets(const lights_net *net,
                             size_t wanted); // fails the test where it does not come to that
// A process of the program that is called NAME; 0: none.
pid_t lights_net_process(const lights_net *net, const char *name);
// Runs COMMAND of the shell at the node; its output, to be freed.
char *lights_net_at_node(const lights_net *net, const char *command);

typedef struct lights_net_packet {
    double at_s; // since 1970
    char to[40];
    int ttl, universe, priority, sequence;
    bool terminated;
    uint8_t slots[512];
} lights_net_packet;
// Data packets captured on CAPTURE ("wire", "away", "lo"), in order; the caller frees. *OTHERS: UDP packets that are none, to port 5568.
lights_net_packet *lights_net_packets(const lights_net *net, const char *capture, size_t *count,
                                      size_t *others);
// Of lights_net_show: at home.
bool lights_net_is_home(const lights_net_packet *packet);
// E1.31-2018 6.2.6 (second-hand): a source ends a stream by three packets with the bit; three of home come before them. The last six of
// COUNT.
void lights_net_hold_end(const lights_net_packet *packets, size_t count);

#endif

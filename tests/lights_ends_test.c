// SPDX-License-Identifier: GPL-3.0-or-later
// How lights on a wire end when nobody asks for it: the program killed, its sending process killed, the tables changed, another source.
#include "support/lights_net.h"
#include "support/show_folder.h"

#include "slowmatch/sacn.h"

#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

static const int universe_1[] = {1, 0};

static void a_killed_program_lets_the_lights_go(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    lights_net_start(&net, "slowmatch", folder.path, "multicast", false);
    lights_net_light(&net, universe_1);
    lights_net_run(&net);
    lights_net_nap(1.2);
    const double killed_s = lights_net_now_s();
    lights_net_kill(&net);
    size_t count, others;
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    lights_net_hold_end(packets, count);
    print_message("from the kill to the last packet: %.0f ms\n", (packets[count - 1].at_s - killed_s) * 1000);
    assert_string_equal(packets[0].to, "239.255.0.1");
    assert_int_equal(packets[0].ttl, 1);
    assert_true(packets[count - 1].at_s - killed_s < 0.2 + 0.3); // 200 ms, and a busy machine's
    assert_int_equal(lights_net_process(&net, "slowmatch-light"), 0);
    free(packets);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

static void with_both_killed_nothing_else_happens(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_light(&net, universe_1);
    const pid_t sender = lights_net_process(&net, "slowmatch-light");
    assert_true(sender > 1);
    lights_net_nap(0.5);
    kill(sender, SIGKILL);
    const double killed_s = lights_net_now_s();
    lights_net_wait(&net, "LIGHTS STOPPED: the sending process ended");
    lights_net_kill(&net);
    size_t count, others;
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    assert_true(count >= 1);
    assert_true(packets[count - 1].at_s < killed_s + 0.1);
    assert_false(packets[count - 1].terminated);
    free(packets);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

static void a_changed_patch_ends_them_at_once(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_light(&net, universe_1);
    lights_net_nap(1);
    // A flame unit was forgotten in universe 1: from its row on nothing more of it goes out, not even its end. Nobody reads it again.
    show_folder_put(
        &folder, "fixtures.csv",
        "name,profile,universe,address\npar-1,par,1,1\npar-2,par,1,510\njet-1,jet,1,100\npar-3,par,3,1\n"
        "haze,hazer,3,9\n");
    const double changed_s = lights_net_now_s();
    lights_net_wait(&net, "LIGHTS LAPSED: fixtures.csv was changed");
    lights_net_wait(&net, "no longer a ADVISORY: LIGHTS");
    lights_net_wait_sockets(&net, 0);
    // Not read here yet: it differs from what the sending process reads.
    lights_net_light(&net, universe_1);
    lights_net_wait(&net, "LIGHTS STOPPED: the tables here say otherwise of universe 1");
    lights_net_type(&net, "reload");
    lights_net_wait(&net, " reload\n");
    lights_net_type(&net, "lights on");
    lights_net_wait(&net, "no universe can be sent");
    lights_net_end(&net);
    size_t count, others;
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    assert_true(count > 10);
    for (size_t i = 0; i < count; i++) {
        assert_int_equal(packets[i].universe, 1);
        assert_false(packets[i].terminated);
    }
    print_message("the last packet %.0f ms after the table was changed\n",
                  (packets[count - 1].at_s - changed_s) * 1000);
    assert_true(packets[count - 1].at_s <
                changed_s + 1.5); // looked at five times a second; a keep-alive may come before
    free(packets);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

// The patch is the same: what was stated lapses all the same, and the stream is ended as it should be.
static void what_was_stated_lapses_when_the_show_is_read_again(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_light(&net, universe_1);
    lights_net_nap(1);
    lights_net_type(&net, "reload");
    lights_net_wait(&net, "LIGHTS LAPSED: the show was read again");
    lights_net_wait(&net, "no longer a ADVISORY: LIGHTS");
    lights_net_wait_sockets(&net, 0);
    lights_net_end(&net);
    size_t count, others;
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    lights_net_hold_end(packets, count);
    free(packets);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

static void a_wire_that_goes_away_stops_them(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    char command[200];
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_light(&net, universe_1);
    snprintf(command, sizeof command, "nsenter -t %d -U -n --preserve-credentials ip link set desk down",
             (int)net.program);
    assert_int_equal(system(command), 0); // NOLINT(cert-env33-c)
    lights_net_wait(&net, "LIGHTS STOPPED: interface desk: ");
    lights_net_wait_sockets(&net, 0);
    lights_net_type(&net, "lights on");
    lights_net_wait(&net, "interface desk: it is down, or has no carrier; nothing was sent");
    lights_net_wait_sockets(&net, 0);
    lights_net_end(&net);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

// Answers that were typed before their questions could be read.
static void a_paste_answers_nothing(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_type(&net, "lights on");
    lights_net_type(&net, "lights answer 1 J\nlights answer none\nlights answer none\nlights answer none");
    lights_net_wait(&net, "still listening for other sources");
    lights_net_wait(&net, "line of universe 1: fuel shut");
    lights_net_nap(0.5);
    lights_net_end(&net);
    size_t count, others;
    free(lights_net_packets(&net, "wire", &count, &others));
    assert_int_equal(count, 0);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

// Two senders with one identifier starve each other: the second gets no lights.
static void a_second_program_gets_no_lights(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    char path[300];
    setenv("LIGHTS_AFTER", "1.5", 1); // seconds of capture after the program has quit: the fade
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    snprintf(path, sizeof path, "%s/slowmatch", net.folder);
    mkdir(path, 0700);
    snprintf(path, sizeof path, "%s/slowmatch/lights-cid", net.folder);
    const int other = open(path, O_RDWR | O_CREAT | O_CLOEXEC, 0600);
    assert_int_equal(flock(other, LOCK_EX | LOCK_NB), 0);
    lights_net_type(&net, "lights on");
    lights_net_wait(&net, "another slowmatch has lights on this machine");
    lights_net_wait_sockets(&net, 0);
    close(other);
    lights_net_light(&net, universe_1);
    lights_net_nap(0.5);
    lights_net_end(&net); // quits with the lights on
    size_t count, others;
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    unsetenv("LIGHTS_AFTER");
    lights_net_hold_end(packets, count);
    free(packets);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

// A desk of priority 100 at the node, by multicast: heard before, it is told; heard later, the lights are let go.
static void another_source_is_heard(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    uint8_t packet[SM_SACN_DATA_BYTES], slots[SM_SACN_SLOTS] = {0};
    sm_sacn_source desk = {.cid = {9, 9, 9}, .name = "The desk"};
    char command[600], path[100];
    lights_net net;
    sm_sacn_data(&desk, &(sm_sacn_head){.universe = 1, .priority = 100}, slots, packet);
    show_folder_put_bytes(&folder, "packet", (const char *)packet, sizeof packet);
    snprintf(path, sizeof path, "%s/packet", folder.path);
    snprintf(command, sizeof command,
             "perl -MIO::Socket::INET -e 'open F, \"<%s\"; read F, $p, 999; IO::Socket::INET->new(Proto => "
             "\"udp\", "
             "PeerAddr => \"239.255.0.1:5568\", LocalAddr => \"10.9.0.2\")->send($p)'",
             path);
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_light(&net, universe_1);
    free(lights_net_at_node(&net, command));
    lights_net_wait(&net, "LIGHTS LAPSED: other source on universe 1: The desk, priority 100");
    lights_net_wait(&net, "no longer a ADVISORY: LIGHTS");
    lights_net_wait_sockets(&net, 0);
    lights_net_type(&net, "lights on");
    lights_net_nap(1);
    free(lights_net_at_node(&net, command));
    lights_net_wait(&net, "other source on universe 1: The desk, priority 100");
    lights_net_wait(&net, "line of universe 1: fuel shut");
    lights_net_end(&net);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

ON_A_WIRE(a_killed_program_lets_the_lights_go)
ON_A_WIRE(with_both_killed_nothing_else_happens)
ON_A_WIRE(a_changed_patch_ends_them_at_once)
ON_A_WIRE(what_was_stated_lapses_when_the_show_is_read_again)
ON_A_WIRE(a_wire_that_goes_away_stops_them)
ON_A_WIRE(a_paste_answers_nothing)
ON_A_WIRE(a_second_program_gets_no_lights)
ON_A_WIRE(another_source_is_heard)

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_killed_program_lets_the_lights_go_on_a_wire),
        cmocka_unit_test(with_both_killed_nothing_else_happens_on_a_wire),
        cmocka_unit_test(a_changed_patch_ends_them_at_once_on_a_wire),
        cmocka_unit_test(what_was_stated_lapses_when_the_show_is_read_again_on_a_wire),
        cmocka_unit_test(a_wire_that_goes_away_stops_them_on_a_wire),
        cmocka_unit_test(a_paste_answers_nothing_on_a_wire),
        cmocka_unit_test(a_second_program_gets_no_lights_on_a_wire),
        cmocka_unit_test(another_source_is_heard_on_a_wire),
    };
    signal(SIGPIPE, SIG_IGN);
    return cmocka_run_group_tests_name("ends of lights on a wire", tests, NULL, NULL);
}

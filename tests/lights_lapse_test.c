// SPDX-License-Identifier: GPL-3.0-or-later
// What was stated about lights on a wire lapses: other tables, another source, another wire.
#include "support/lights_net.h"
#include "support/show_folder.h"

#include "slowmatch/sacn.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

static const int universe_1[] = {1, 0};

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
    const double told_s = lights_net_now_s();
    lights_net_wait(&net, "no longer: ADVISORY LIGHTS");
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
    assert_true(packets[count - 1].at_s < told_s); // when it is told it is done
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
    lights_net_wait(&net, "no longer: ADVISORY LIGHTS");
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
    lights_net_wait(&net, "no longer: ADVISORY LIGHTS");
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

ON_A_WIRE(a_changed_patch_ends_them_at_once)
ON_A_WIRE(what_was_stated_lapses_when_the_show_is_read_again)
ON_A_WIRE(a_wire_that_goes_away_stops_them)
ON_A_WIRE(another_source_is_heard)

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_changed_patch_ends_them_at_once_on_a_wire),
        cmocka_unit_test(what_was_stated_lapses_when_the_show_is_read_again_on_a_wire),
        cmocka_unit_test(a_wire_that_goes_away_stops_them_on_a_wire),
        cmocka_unit_test(another_source_is_heard_on_a_wire),
    };
    signal(SIGPIPE, SIG_IGN);
    return lights_net_run_at_once("lapses of lights on a wire", tests, sizeof tests / sizeof tests[0], argv);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// How lights on a wire end when nobody asks for it: the program killed, its sending process killed, quit; and who gets none.
#include "support/lights_net.h"
#include "support/show_folder.h"

#include <fcntl.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
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

// It is not dead, and does nothing: whoever looks at the screen must not believe that the lights follow.
static void a_sending_process_that_hangs_is_told(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    lights_net_start(&net, "slowmatch", folder.path, "10.9.0.2", false);
    lights_net_light(&net, universe_1);
    const pid_t sender = lights_net_process(&net, "slowmatch-light");
    assert_true(sender > 1);
    kill(sender, SIGSTOP);
    lights_net_wait(&net, "LIGHTS STOPPED: the sending process does not answer");
    lights_net_type(&net, "lights on");
    lights_net_wait(&net, "another slowmatch has lights on this machine, or still fades them");
    kill(sender, SIGCONT); // it finds its program's end closed
    lights_net_wait_sockets(&net, 0);
    lights_net_end(&net);
    size_t count, others;
    lights_net_packet *packets = lights_net_packets(&net, "wire", &count, &others);
    lights_net_hold_end(packets, count);
    free(packets);
    lights_net_forget(&net);
    show_folder_remove(&folder);
}

// Answers that were typed before their questions could be read.
// Lines that came in one step: which of the two refusals is said hangs on how the lines fell.
static bool refused_hasty(const lights_net *net) {
    return strstr(net->said.bytes, "one answer at a time") != NULL;
}

static void a_paste_answers_nothing(void **state) {
    (void)state;
    const show_folder folder = lights_net_show();
    lights_net net;
    lights_net_start(&net, "slowmatch", folder.path, "2=10.9.0.2,10.9.0.2", false);
    lights_net_type(&net, "lights on");
    lights_net_type(&net, "lights answer 1 J\nlights answer nobody in the field\nlights answer no "
                          "strobes\nlights answer nothing moves");
    lights_net_wait(&net, "line of universe 1: fuel shut");
    assert_true(refused_hasty(&net) || strstr(net.said.bytes, "still listening for other sources"));
    lights_net_type(&net, "lights answer 1 J\nlights answer nobody in the field\nlights answer no "
                          "strobes\nlights answer nothing moves");
    lights_net_nap(1);
    lights_net_end(&net);
    size_t count, others;
    assert_non_null( // told at the start, before anybody asked
        strstr(net.said.bytes, "NEVER USED, the destination 2=10.9.0.2: jet-1 (jet) is a flame unit"));
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

ON_A_WIRE(a_killed_program_lets_the_lights_go)
ON_A_WIRE(with_both_killed_nothing_else_happens)
ON_A_WIRE(a_sending_process_that_hangs_is_told)
ON_A_WIRE(a_paste_answers_nothing)
ON_A_WIRE(a_second_program_gets_no_lights)

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_killed_program_lets_the_lights_go_on_a_wire),
        cmocka_unit_test(with_both_killed_nothing_else_happens_on_a_wire),
        cmocka_unit_test(a_sending_process_that_hangs_is_told_on_a_wire),
        cmocka_unit_test(a_paste_answers_nothing_on_a_wire),
        cmocka_unit_test(a_second_program_gets_no_lights_on_a_wire),
    };
    signal(SIGPIPE, SIG_IGN);
    return lights_net_run_at_once("ends of lights on a wire", tests, sizeof tests / sizeof tests[0], argv);
}

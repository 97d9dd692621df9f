// SPDX-License-Identifier: GPL-3.0-or-later
// What a follower knows without a broker: how old a beat is, and where it may connect to.
#include "tell/offset.h"

#include "slowmatch/tell.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// An hour of beats with delays like those of a busy wireless net (2 to 60 ms, now and then 400), clocks that drift by 100 millionths:
// the estimate is never off by more than the least delay and the drift of ten seconds; 50 ms is what people are promised.
static void the_offset_holds_through_an_hour(void **state) {
    (void)state;
    tell_offset offset = {0};
    uint32_t dice = 1;
    for (int beat = 0; beat < 4 * 3600; beat++) {
        dice = dice * 1664525u + 1013904223u;
        int64_t mono = INT64_C(250000) * beat, delay = 2000 + (dice >> 8) % 58000;
        delay += dice % 97 == 0 ? 400000 : 0;
        int64_t there = mono + delay, local = there + there / 10000 + INT64_C(300000000000);
        tell_offset_put(&offset, local, mono);
        int64_t off = tell_offset_mono_us(&offset, local) - there;
        assert_true(beat < 40 || (off <= 1100 && off > -50000));
    }
}

// A minute's beats that a broker held back and gives out in a heap are not the measure of those after them.
static void a_heap_of_late_beats_is_late(void **state) {
    (void)state;
    tell_offset offset = {0};
    for (int beat = 0; beat < 100; beat++)
        tell_offset_put(&offset, INT64_C(250000) * beat + 3000, INT64_C(250000) * beat);
    for (int beat = 100; beat < 340; beat++) {
        int64_t age = tell_offset_put(&offset, INT64_C(250000) * 340 + beat * 20, INT64_C(250000) * beat);
        assert_true(age > INT64_C(250000) * (340 - beat) - 5000);
    }
}

static void another_machine_needs_tls_and_a_user(void **state) {
    (void)state;
    static const struct {
        const char *address;
        bool taken;
        const char *host;
        int port;
    } cases[] = {
        {"localhost", true, "localhost", 1883},
        {"127.0.0.1:1999", true, "127.0.0.1", 1999},
        {"[::1]:1884", true, "::1", 1884},
        {"::1", true, "::1", 1883},
        {"10.0.0.2", false, NULL, 0},
        {"crew.example:1883", false, NULL, 0},
        {"localhost:0", false, NULL, 0},
        {"localhost:x", false, NULL, 0},
        {":1883", false, NULL, 0},
        {"", false, NULL, 0},
        {"localhost:65536", false, NULL, 0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        sm_broker broker;
        char problem[SM_SESSION_PROBLEM] = "";
        bool taken = sm_broker_read(cases[i].address, NULL, &broker, problem);
        assert_int_equal(taken, cases[i].taken);
        assert_true(taken || (problem[0] && !strchr(problem, '\n')));
        if (taken) {
            assert_string_equal(broker.host, cases[i].host);
            assert_int_equal(broker.port, cases[i].port);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_offset_holds_through_an_hour),
        cmocka_unit_test(a_heap_of_late_beats_is_late),
        cmocka_unit_test(another_machine_needs_tls_and_a_user),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

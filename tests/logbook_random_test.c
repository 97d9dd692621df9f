// SPDX-License-Identifier: GPL-3.0-or-later
// Whatever people do, a rehearsal that was kept replays: random actions at random moments, refused ones among them.
#include "support/folder.h"
#include "support/kept.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define ACTIONS_EACH 40

static const char *const actions[] = {
    "key on",
    "key on",
    "key off",
    "call-clear K",
    "call-clear",
    "arm",
    "arm",
    "arm",
    "start",
    "start",
    "pause",
    "resume",
    "safe",
    "seek 0:03.500",
    "seek 0",
    "seek 0:11.999999",
    "seek here",
    "speed 0.1",
    "speed 1",
    "speed 2",
    "speed 9",
    "repeat 0:01 0:02.5",
    "repeat 0:04 0:09 rerig",
    "repeat off",
    "mark here",
    "rerig",
    "inhibit aerial",
    "inhibit jet-1",
    "allow aerial",
    "allow jet-1",
    "plug A",
    "unplug A",
    "repair A-02",
    "enter Mo, \"the lead\"",
    "leave Mo, \"the lead\"",
    "measure",
    "measure B",
    "read A-01 open",
    "read A-01 3.2",
    "read B-03 short",
    "report B-03",
    "wind 9 m/s",
    "waive readings A-01 B-03 A-02 seen by K",
    "waive rails A is to stay out, by M",
    "tick told yes by K",
    "tick nothing no",
    "sign K",
    "note a , comma \"and\" quotes",
    "undo",
    "volume 40 %",
    "mute",
    "remote 1 pause",
    "remote 7 safe",
    "remote 1 safe",
    "hint",
};

static uint64_t next_random(uint64_t *state) {
    *state = *state * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return *state >> 33;
}

static void write_script(uint64_t *seed, sm_text *out) {
    sm_text_clear(out);
    sm_text_printf(out, "0 call-clear K\n0 key on\n0 arm\n1 start\n");
    for (int i = 0; i < ACTIONS_EACH; i++) {
        uint64_t wait_us = next_random(seed) % 4 == 0 ? 0 : next_random(seed) % 2000000;
        const char *action = actions[next_random(seed) % (sizeof actions / sizeof actions[0])];
        sm_text_printf(out, "+%d.%06d %s\n", (int)(wait_us / 1000000), (int)(wait_us % 1000000), action);
    }
    assert_false(out->failed);
}

static void every_rehearsal_replays(void **state) {
    (void)state;
    char folder[64], path[256];
    const char *soak = getenv("SLOWMATCH_SOAK");
    int rounds = soak && soak[0] != '\0' && soak[0] != '0' ? 5000 : 100;
    uint64_t seed = 20260704;
    sm_text script = {0};
    unsigned rows = 0;
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    for (int round = 1; round <= rounds; round++) {
        write_script(&seed, &script);
        rows += kept_rehearse(folder, path, script.bytes, NULL);
        kept_assert_replays(path, round);
    }
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), rows);
    assert_true(kept_number(path, "SELECT count(*) FROM row WHERE what = 'refused'") > rounds);
    assert_true(kept_number(path, "SELECT count(*) FROM row WHERE what = 'fire'") > rounds);
    kept_assert_whole(path);
    print_message("%d random rehearsals of %u rows replayed\n", rounds, rows);
    sm_text_deinit(&script);
    kept_end(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_rehearsal_replays),
    };
    return cmocka_run_group_tests_name("random rehearsals kept", tests, NULL, NULL);
}

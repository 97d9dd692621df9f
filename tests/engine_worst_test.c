// SPDX-License-Identifier: GPL-3.0-or-later
// Rehearsals at their edges: tests/data/worst holds shows with a script each. One does what once passed without a word and is
// held back or told now, one lies just inside. A folder there holds the files in which it differs from
// tests/data/check/base, and its script.
#include "support/check_folder.h"
#include "support/engine_run.h"
#include "support/folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define BASE "tests/data/check/base"

typedef struct played {
    check_folder folder;
    sm_show *show;
    engine_run run;
} played;

static void play(played *p, const char *name, const char *side) {
    char path[128], script[256], *bytes;
    size_t length;
    snprintf(path, sizeof path, "tests/data/worst/%s/%s", name, side);
    check_folder_init(&p->folder, BASE);
    check_folder_overlay(&p->folder, path);
    p->show = folder_load(p->folder.path);
    engine_run_init(&p->run, p->show, NULL);
    assert_int_equal(sm_file_read(folder_path(script, path, "script.txt"), &bytes, &length), SM_OK);
    (void)engine_play(&p->run, bytes);
    free(bytes);
}

static void forget(played *p) {
    engine_run_deinit(&p->run);
    sm_show_destroy(p->show);
    check_folder_deinit(&p->folder);
}

static bool is_logged(const played *p, const char *row) {
    return strstr(sm_text_get(&p->run.rows), row);
}

// A start in the middle of a flame lights nothing; one before it does. That nobody expects flame from a unit that is switched
// on in mid-cue is common practice, no source.
static void a_start_in_mid_flame_lights_nothing(void **state) {
    (void)state;
    static const struct {
        const char *side;
        bool lights;
    } rows[] = {{"found", false}, {"inside", true}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        played p;
        play(&p, "mid-flame", rows[i].side);
        assert_int_equal(is_logged(&p, ",engine,set,6,jet-1,flame=255\n"), rows[i].lights);
        assert_int_equal(is_logged(&p, ",engine,home,,jet-1,flame\n"), !rows[i].lights);
        assert_true(is_logged(&p, ",engine,set,7,jet-1,flame=200\n")); // its next cue, either way
        forget(&p);
    }
}

// Within the wait the test current goes through what may still be live: common practice, no source.
static void measuring_within_the_wait_draws_a_caution(void **state) {
    (void)state;
    static const struct {
        const char *side, *says;
    } rows[] = {{"found", "the wait has 0:01 to run"}, {"inside", ""}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        played p;
        char why[200];
        size_t at;
        sm_action measure;
        sm_text caution = {0};
        play(&p, "measure-soon", rows[i].side);
        assert_int_equal(sm_action_read(p.show, "measure", strlen("measure"), &measure, why, &at), SM_OK);
        sm_rehearsal_caution(p.run.rehearsal, &measure, &caution);
        assert_string_equal(sm_text_get(&caution), rows[i].says);
        sm_text_deinit(&caution);
        forget(&p);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_start_in_mid_flame_lights_nothing),
        cmocka_unit_test(measuring_within_the_wait_draws_a_caution),
    };
    return cmocka_run_group_tests_name("engine worst", tests, NULL, NULL);
}

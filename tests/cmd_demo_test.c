// SPDX-License-Identifier: GPL-3.0-or-later
// The first words that anybody types: `slowmatch` alone, and `slowmatch demo`.
#include "support/folder.h"
#include "support/ran.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

typedef struct desk {
    char folder[64];
    sm_text said;
} desk;

static int setup(void **state) {
    static desk d;
    d = (desk){0};
    folder_make(d.folder);
    *state = &d;
    return 0;
}

static int teardown(void **state) {
    desk *d = *state;
    sm_text_deinit(&d->said);
    folder_remove(d->folder);
    return 0;
}

static void expect(desk *d, const char *line, int status, const char *part) {
    const int ended = ran_line(d->folder, line, &d->said);
    if (ended != status || !strstr(sm_text_get(&d->said), part))
        fail_msg("%s: %d and not %d, or no '%s' in:\n%s", line, ended, status, part, sm_text_get(&d->said));
}

static void alone_it_says_what_to_do_first(void **state) {
    desk *d = *state;
    expect(d, "$S", 0, "No show is in this folder.");
    assert_non_null(strstr(sm_text_get(&d->said), "slowmatch demo tallow-weir"));
    assert_non_null(strstr(sm_text_get(&d->said), "slowmatch new FOLDER"));
    expect(d, "mkdir mine && printf '[show]\\ntitle = Mine \\033]52;c;aGk=\\007\\n' >mine/show.ini && $S", 0,
           "slowmatch mine ");
    assert_null(strchr(sm_text_get(&d->said), '\033'));
    expect(d, "cd mine && $S", 0, "This folder is a show:");
}

// diff(1) says what was copied: all but what made the tables.
static void a_demo_is_copied_whole_and_opens(void **state) {
    desk *d = *state;
    expect(d, "$S demo", 0, "lantern-quay: copied here");
    expect(d, "diff -r -x '*.c' -x '*.h' $DEMOS/lantern-quay lantern-quay && ls lantern-quay/*.c", 2,
           "No such file");
    expect(d, "$S lantern-quay --headless --fast", 0, "ended");
    expect(d, "$S", 0, "Lantern Quay");
    expect(d, "$S demo first-light --copy && $S check first-light", 0, "no rule found anything");
}

static void what_was_changed_stays(void **state) {
    desk *d = *state;
    expect(d, "$S demo first-light && echo '# mine' >>first-light/cues.csv && $S demo first-light", 0,
           "was here already, and is left as it is");
    expect(d, "tail -n 1 first-light/cues.csv", 0, "# mine");
    expect(d, "touch lantern-quay && $S demo", 2, "is there and is no show");
    expect(d, "$S demo ../demo-shows", 2, "there is no demo show");
    expect(d, "$S demo quay", 2, "there is no demo show 'quay'");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(alone_it_says_what_to_do_first, setup, teardown),
        cmocka_unit_test_setup_teardown(a_demo_is_copied_whole_and_opens, setup, teardown),
        cmocka_unit_test_setup_teardown(what_was_changed_stays, setup, teardown),
    };
    return cmocka_run_group_tests_name("cmd demo", tests, NULL, NULL);
}

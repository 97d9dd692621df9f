// SPDX-License-Identifier: GPL-3.0-or-later
// The command `check` as it is run: what it prints, where it puts colour, its exit status.
#include "support/check_folder.h"
#include "support/ran.h"

#include <pty.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define DEMO "demo-shows/lantern-quay"
#define BASE "tests/data/check/base"

typedef struct run {
    int status;
    sm_text said; // standard output and error
} run;

static void command_of(char command[512], const char *before, const char *arguments) {
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(command, 512, "%s %s/slowmatch check %s 2>&1", before, build ? build : "build", arguments);
}

static run run_check(const char *arguments) {
    char line[512];
    run r = {0};
    snprintf(line, sizeof line, "$S check %s", arguments);
    r.status = ran_line(".", line, &r.said);
    return r;
}

// The same with a terminal for its output, BEFORE in front of the command.
static run run_on_terminal(const char *before, const char *arguments) {
    char command[512], bytes[4096];
    int terminal, ended;
    run r = {0};
    command_of(command, before, arguments);
    const pid_t child = forkpty(&terminal, NULL, NULL, NULL);
    assert_true(child >= 0);
    if (child == 0) {
        execl("/bin/sh", "sh", "-c", command, (char *)NULL);
        _exit(127);
    }
    for (ssize_t got; (got = read(terminal, bytes, sizeof bytes)) > 0;)
        sm_text_append(&r.said, bytes, (size_t)got);
    close(terminal);
    assert_int_equal(waitpid(child, &ended, 0), child);
    r.status = WEXITSTATUS(ended);
    return r;
}

static void expect(run r, int status, const char *part) {
    if (r.status != status || !strstr(sm_text_get(&r.said), part))
        fail_msg("exit %d, not %d, or \"%s\" is not in:\n%s", r.status, status, part, sm_text_get(&r.said));
    sm_text_deinit(&r.said);
}

static void the_demo_is_clean(void **state) {
    (void)state;
    run r = run_check(DEMO);
    assert_int_equal(r.status, 0);
    assert_null(strstr(sm_text_get(&r.said), "error"));
    assert_null(strstr(sm_text_get(&r.said), "warning"));
    assert_null(strstr(sm_text_get(&r.said), "note"));
    expect(r, 0, "no rule found anything; not a statement that the show may be fired");
}

static void errors_end_with_1(void **state) {
    (void)state;
    expect(run_check(BASE), 1, BASE "/show.ini:4:9: error: \"tone.wav\": "); // its audio is not there
    expect(run_check("--json " BASE), 1, "\"rule\":\"audio-missing\"");
    expect(run_check("--sarif " BASE), 1, "\"columnKind\":\"unicodeCodePoints\"");
}

static void warnings_end_with_0(void **state) {
    (void)state;
    check_folder folder;
    check_folder_init(&folder, BASE);
    check_folder_edit(&folder, "show.ini", "audio = tone.wav\n", "");
    check_folder_edit(&folder, "lines.csv", "60ft 3m", "50ft 3m");
    expect(run_check(folder.path), 0, "1 warning; not a statement that the show may be fired");
    check_folder_deinit(&folder);
}

static void a_name_that_does_not_resolve_is_a_finding(void **state) {
    (void)state;
    check_folder folder;
    check_folder_init(&folder, BASE);
    check_folder_edit(&folder, "cues.csv", "B-01,fountain", "B-01,fountian");
    expect(run_check(folder.path), 1, "did you mean fountain? [effect-unknown]");
    check_folder_deinit(&folder);
}

// What is wrong in a drill, or in a table that leaves the totals as they are, hides nothing that is said of the show; the
// shows just inside have neither fault.
static void one_error_hides_no_other(void **state) {
    (void)state;
    static const struct {
        const char *name, *error;
    } rows[] = {{"drill", "drills/one.ini:5"}, {"expect", "lines.csv:2"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        char path[128];
        check_folder folder;
        check_folder_init(&folder, BASE);
        snprintf(path, sizeof path, "tests/data/worst/%s/found", rows[i].name);
        check_folder_overlay(&folder, path);
        run r = run_check(folder.path);
        assert_non_null(strstr(sm_text_get(&r.said), rows[i].error));
        expect(r, 1, "expected are 99 [expect-differs]");
        snprintf(path, sizeof path, "tests/data/worst/%s/inside", rows[i].name);
        check_folder_overlay(&folder, path);
        expect(run_check(folder.path), 0, "no rule found anything");
        check_folder_deinit(&folder);
    }
}

static void what_cannot_be_read_ends_with_2(void **state) {
    (void)state;
    expect(run_check("/nowhere/at/all"), 2, "/nowhere/at/all");
    expect(run_check(""), 2, "slowmatch: the show's folder is missing");
    expect(run_check("--json --sarif " BASE), 2, "slowmatch: --json or --sarif, not both");
    expect(run_check("--explain gap-shrt"), 2, "did you mean gap-short");
    expect(run_check("--jsn " BASE), 2, "did you mean --json?");
}

static void rules_are_listed_and_explained(void **state) {
    (void)state;
    expect(run_check("--rules"), 0, "  gap-short            error    two firings of a module");
    expect(run_check("--rules --json"), 0, "{\"rule\":\"gap-short\",");
    expect(run_check("--explain distance-short"), 0, "70 ft an inch of calibre");
}

static void colour_is_for_terminals_that_want_it(void **state) {
    (void)state;
    static const char coloured[] = "\033[1;31merror\033[0m";
    run plain = run_check(BASE);
    assert_null(strchr(sm_text_get(&plain.said), '\033'));
    sm_text_deinit(&plain.said);
    expect(run_on_terminal("unset NO_COLOR; TERM=xterm", BASE), 1, coloured);
    plain = run_on_terminal("TERM=xterm NO_COLOR=1", BASE);
    assert_null(strchr(sm_text_get(&plain.said), '\033'));
    sm_text_deinit(&plain.said);
    plain = run_on_terminal("unset NO_COLOR; TERM=xterm", "--json " BASE);
    assert_null(strchr(sm_text_get(&plain.said), '\033'));
    sm_text_deinit(&plain.said);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_demo_is_clean),
        cmocka_unit_test(errors_end_with_1),
        cmocka_unit_test(warnings_end_with_0),
        cmocka_unit_test(a_name_that_does_not_resolve_is_a_finding),
        cmocka_unit_test(one_error_hides_no_other),
        cmocka_unit_test(what_cannot_be_read_ends_with_2),
        cmocka_unit_test(rules_are_listed_and_explained),
        cmocka_unit_test(colour_is_for_terminals_that_want_it),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

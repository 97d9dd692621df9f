// SPDX-License-Identifier: GPL-3.0-or-later
// What the package's completions offer, asked of the shells themselves in a terminal: bash, zsh and fish.
#include "support/folder.h"
#include "support/pty.h"

#include <limits.h>
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
    pty *shell;
} desk;

// The sound devices of the shell, which need no card and no server. One name has what a shell would take apart.
static void put_devices(const char *folder) {
    char path[96];
    snprintf(path, sizeof path, "%s/.asoundrc", folder);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs("pcm.\"quay left (1)\" { type null hint { show on description quay } }\n"
          "pcm.weir { type null hint { show on description weir } }\n",
          file);
    assert_int_equal(fclose(file), 0);
}

// The completions of SHELL as FOLDER/NAME, and a copy of the first demo show to complete.
static void desk_begin(desk *d, const char *shell, const char *name) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char real[PATH_MAX], path[PATH_MAX + 32], command[2 * PATH_MAX + 300];
    folder_make(d->folder);
    put_devices(d->folder);
    assert_non_null(realpath(build ? build : "build", real));
    snprintf(command, sizeof command,
             "sh src/package/completions.sh %s %s/slowmatch >%s/%s && cd %s && mkdir .hidden && %s/slowmatch "
             "demo >/dev/null "
             "</dev/null",
             shell, real, d->folder, name, d->folder, real);
    assert_int_equal(system(command), 0); // NOLINT(cert-env33-c): a shell's work
    snprintf(path, sizeof path, "%s:/usr/bin:/bin", real);
    assert_int_equal(setenv("PATH", path, 1), 0);
}

static void desk_open(desk *d, const char *const argv[], const char *set_up) {
    char line[256], home[80];
    snprintf(home, sizeof home, "HOME=%s", d->folder);
    d->shell = pty_start(160, 40, argv, (const char *const[]){home, "PS1=READY ", NULL});
    snprintf(line, sizeof line, "cd %s\r", d->folder);
    pty_type(d->shell, line);
    pty_type(d->shell, set_up);
    pty_type(d->shell, "echo so''far\r");
    pty_expect(d->shell, "sofar");
}

static void desk_end(desk *d) {
    pty_destroy(d->shell);
    folder_remove(d->folder);
}

// TYPED and Tab give a row with SEEN in it; the line is then taken away.
static void expect(desk *d, const char *typed, const char *seen) {
    pty_type(d->shell, typed);
    pty_type(d->shell, "\t");
    pty_expect(d->shell, seen);
    pty_type(d->shell, "\x15"); // Ctrl-U
    pty_expect_gone(d->shell, seen);
}

// The same words in each shell: a command, a show's folder, one of its drills, a demo show, an option, a side, a board, a device; and
// after an option that takes nothing a show's folder again.
static void expect_all(desk *d) {
    expect(d, "slowmatch dri", "slowmatch drill");
    expect(d, "slowmatch readings lant", "slowmatch readings lantern-quay");
    expect(d, "slowmatch check ", "slowmatch check lantern-quay"); // no hidden folder beside it
    expect(d, "slowmatch drill lantern-quay 05", "slowmatch drill lantern-quay 05-who-has-the-button");
    expect(d, "slowmatch demo tal", "slowmatch demo tallow-weir");
    expect(d, "slowmatch check --exp", "slowmatch check --explain");
    expect(d, "slowmatch lantern-quay --timecode-out ri", "--timecode-out right");
    expect(d, "slowmatch lantern-quay --board fix", "--board fixtures");
    expect(d, "slowmatch lantern-quay --device we", "--device weir");
    expect(d, "slowmatch drill lantern-quay --device qu", "--device quay\\ left\\ \\(1\\)");
    expect(d, "slowmatch check --json lant", "--json lantern-quay");
    expect(d, "slowmatch import --map lantern-quay/cu", "lantern-quay/cues.csv");
}

static void in_bash(void **state) {
    (void)state;
    desk d;
    desk_begin(&d, "bash", "completions");
    desk_open(&d, (const char *const[]){"/bin/bash", "--norc", "-i", NULL}, "source completions\r");
    expect_all(&d);
    desk_end(&d);
}

static void in_zsh(void **state) {
    (void)state;
    desk d;
    desk_begin(&d, "zsh", "_slowmatch");
    desk_open(&d, (const char *const[]){"/usr/bin/zsh", "-f", "-i", NULL},
              "fpath=($PWD $fpath); autoload -Uz compinit; compinit -u -d dump\r");
    expect_all(&d);
    desk_end(&d);
}

static void in_fish(void **state) {
    (void)state;
    desk d;
    desk_begin(&d, "fish", "completions");
    desk_open(&d, (const char *const[]){"/usr/bin/fish", "--private", NULL}, "source completions\r");
    expect_all(&d);
    desk_end(&d);
}

// A table of commands that has grown is in the completions without anybody writing it there.
static void every_command_is_in_them(void **state) {
    (void)state;
    const char *build = getenv("SLOWMATCH_BUILD");
    char command[600];
    static const char *const shells[] = {"bash", "zsh", "fish"};
    for (size_t i = 0; i < sizeof shells / sizeof shells[0]; i++) {
        snprintf(command, sizeof command,
                 "p='%s'/slowmatch; sh src/package/completions.sh %s \"$p\" >/tmp/completions.$$ || exit 1; "
                 "for c in $(\"$p\" "
                 "--help | awk '/^  slowmatch [a-z]/ { print $2 }'); do grep -q \"[ ']$c[ ):]\" "
                 "/tmp/completions.$$ || "
                 "exit 1; done; rm /tmp/completions.$$",
                 build ? build : "build", shells[i]);
        assert_int_equal(system(command), 0); // NOLINT(cert-env33-c): a shell's work
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(in_bash),
        cmocka_unit_test(in_zsh),
        cmocka_unit_test(in_fish),
        cmocka_unit_test(every_command_is_in_them),
    };
    return cmocka_run_group_tests_name("completions", tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// What a package is made of: the archive of the tree, and the lists of what it needs, held against each other by the tools that read them.
#include "support/folder.h"
#include "support/ran.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

#include <cmocka.h>

// A shell's LINE in a folder of its own, where $TREE is the tree. It is silent, and ends well.
static void expect_silence(const char *line) {
    char folder[64], here[512];
    sm_text said = {0};
    folder_make(folder);
    assert_non_null(getcwd(here, sizeof here));
    assert_int_equal(setenv("TREE", here, 1), 0);
    const int ended = ran_line(folder, line, &said);
    if (ended != 0 || said.length > 0)
        fail_msg("%d: %s\n%s", ended, line, sm_text_get(&said));
    sm_text_deinit(&said);
    folder_remove(folder);
}

// deps.sh installs what `make` needs, control tells Debian's builders: compiler and make are always there for these.
static void both_lists_of_libraries_are_the_same(void **state) {
    (void)state;
    expect_silence(
        "sed -n 's/^build  *[^ ]*  *\\([^ ]*\\) .*/\\1/p' $TREE/tests/tools/deps.sh | tr , '\\n' |"
        "  grep -v -x -e gcc -e libc6-dev -e make | sort >ours;"
        "sed -n '/^Build-Depends/,/^Standards/p' $TREE/src/package/debian/control | sed '1d;$d' | tr -d ' ' |"
        "  tr , '\\n' | grep . | sort >debian; [ -s ours ] && diff ours debian");
}

// Made twice, under other circumstances, by the same rule.
static void an_archive_is_the_same_bytes(void **state) {
    (void)state;
    expect_silence(
        "unset MAKEFLAGS MAKELEVEL; cd $TREE && make -s dist BUILD=$OLDPWD/a >/dev/null &&"
        "  (umask 077; TZ=Asia/Tokyo LC_ALL=C make -s dist BUILD=$OLDPWD/b >/dev/null) && cd $OLDPWD &&"
        "  cmp a/slowmatch-*.tar.gz b/slowmatch-*.tar.gz");
}

// Where the tree is git's own it says what belongs to it.
static void an_archive_holds_the_whole_tree(void **state) {
    (void)state;
    if (access(".git", F_OK) != 0)
        skip();
    expect_silence(
        "unset MAKEFLAGS MAKELEVEL; git -C $TREE ls-files | sort >wanted; cd $TREE &&"
        "  make -s dist BUILD=$OLDPWD/a >/dev/null; cd $OLDPWD;"
        "tar -tzf a/slowmatch-*.tar.gz | sed 's,^[^/]*/,,' | sort >packed; comm -23 wanted packed");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(both_lists_of_libraries_are_the_same),
        cmocka_unit_test(an_archive_is_the_same_bytes),
        cmocka_unit_test(an_archive_holds_the_whole_tree),
    };
    return cmocka_run_group_tests_name("package", tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The demo shows: what their own small C files write is what stands in the tree, to the byte, and no rule finds anything in them.
#include "support/check_folder.h"
#include "support/folder.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define DEMOS "demo-shows"

// Runs a shell's line; fails the test when it fails.
SM_PRINTF(1, 2) static void run(const char *format, ...) {
    sm_text line = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&line, format, args);
    va_end(args);
    if (system(line.bytes) != 0) // NOLINT(cert-env33-c): a compiler and its redirection are wanted
        fail_msg("%s", line.bytes);
    sm_text_deinit(&line);
}

static char *read_whole(const char *folder, const char *file) {
    char path[256], *bytes;
    size_t length;
    assert_int_equal(sm_file_read(folder_path(path, folder, file), &bytes, &length), SM_OK);
    return bytes;
}

static void build_writer(const char *folder, const char *source) {
    const char *compiler = getenv("CC");
    run("%s -std=c11 -w -O0 " DEMOS "/%s -o %s/writer", compiler ? compiler : "cc", source, folder);
}

static void the_cues_of_lantern_quay_are_what_its_writer_writes(void **state) {
    (void)state;
    char folder[64];
    folder_make(folder);
    build_writer(folder, "lantern-quay/cues.c");
    run("%s/writer > %s/cues.csv && cmp %s/cues.csv " DEMOS "/lantern-quay/cues.csv", folder, folder, folder);
    folder_remove(folder);
}

static void the_tables_of_tallow_weir_are_what_its_writer_writes(void **state) {
    (void)state;
    static const char *const tables[] = {"cues.csv",   "rails.csv", "positions.csv",     "fixtures.csv",
                                         "groups.csv", "lines.csv", "readings-first.csv"};
    char folder[64];
    folder_make(folder);
    build_writer(folder, "tallow-weir/tables.c");
    run("%s/writer %s", folder, folder);
    for (size_t i = 0; i < sizeof tables / sizeof *tables; i++)
        run("cmp %s/%s " DEMOS "/tallow-weir/%s", folder, tables[i], tables[i]);
    folder_remove(folder);
}

// Four faults are planted in the first measuring of 3072 slots, and these are what is told of it.
static void the_planted_faults_are_found(void **state) {
    (void)state;
    static const char *const planted[] = {"C-17   open", "J-101  short", "Q-42   stray", "V-63   open"};
    const char *build = getenv("SLOWMATCH_BUILD");
    char folder[64];
    folder_make(folder);
    run("! %s/slowmatch readings " DEMOS "/tallow-weir " DEMOS "/tallow-weir/readings-first.csv > %s/said",
        build ? build : "build", folder);
    char *said = read_whole(folder, "said");
    assert_non_null(strstr(said, "4 readings are off"));
    for (size_t i = 0; i < sizeof planted / sizeof *planted; i++)
        assert_non_null(strstr(said, planted[i]));
    free(said);
    folder_remove(folder);
}

// The whole of each show through the program, music and all.
static void no_rule_finds_anything_in_a_demo_show(void **state) {
    (void)state;
    const char *build = getenv("SLOWMATCH_BUILD");
    DIR *demos = opendir(DEMOS);
    char folder[64];
    unsigned shows = 0;
    folder_make(folder);
    assert_non_null(demos);
    for (const struct dirent *entry; (entry = readdir(demos));) {
        if (entry->d_name[0] == '.')
            continue;
        run("%s/slowmatch check " DEMOS "/%s > %s/said", build ? build : "build", entry->d_name, folder);
        char *said = read_whole(folder, "said");
        if (!strstr(said, "\nno rule found anything;"))
            fail_msg("%s: %s", entry->d_name, said);
        free(said);
        shows++;
    }
    closedir(demos);
    folder_remove(folder);
    assert_true(shows >= 2);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_cues_of_lantern_quay_are_what_its_writer_writes),
        cmocka_unit_test(the_tables_of_tallow_weir_are_what_its_writer_writes),
        cmocka_unit_test(the_planted_faults_are_found),
        cmocka_unit_test(no_rule_finds_anything_in_a_demo_show),
    };
    return cmocka_run_group_tests_name("demo shows", tests, NULL, NULL);
}

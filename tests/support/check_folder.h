// SPDX-License-Identifier: GPL-3.0-or-later
// Show folders for tests of the checks: a copy of a folder, changed text by text, and the report on it.
#ifndef SLOWMATCH_TESTS_CHECK_FOLDER_H
#define SLOWMATCH_TESTS_CHECK_FOLDER_H

#include "slowmatch/check.h"

typedef struct check_folder {
    char path[64];
} check_folder;

// A new folder in the system's place for passing files, with a copy of the files of BASE (NULL: empty). Fails the test
// when it cannot be made.
void check_folder_init(check_folder *folder, const char *base);
// Removes it with all files.
void check_folder_deinit(check_folder *folder);
// Copies the files of PATH, and of folders in it, over those that are there.
void check_folder_overlay(const check_folder *folder, const char *path);
void check_folder_write(const check_folder *folder, const char *file, const char *text);
// Puts TO in place of FROM, which must be there exactly once.
void check_folder_edit(const check_folder *folder, const char *file, const char *from, const char *to);
void check_folder_remove(const check_folder *folder, const char *file);

// The show in a folder, loaded with keep_invalid, and what is found in it.
typedef struct check_case {
    sm_show *show;
    sm_check_report *report;
} check_case;
// OPTIONS may be NULL. Fails the test when there is no report.
void check_case_init(check_case *test, const check_folder *folder, const sm_check_options *options);
void check_case_deinit(check_case *test);
// Prints what was found to stderr, for a test that is about to fail.
void check_case_print(const check_case *test);
size_t check_case_count(const check_case *test, const char *rule);
// Bit ROW of the result: RULE has a finding at the record in line ROW + 2.
uint64_t check_case_rows(const check_case *test, const char *rule);

// Line (from 1) of the first line of FILE that begins with START, 0 where none does; *COLUMN of its field FIELD (from 0),
// in a table without quotes.
uint32_t check_folder_line(const check_folder *folder, const char *file, const char *start, uint32_t field,
                           uint32_t *column);
// Number (from 0) of the column NAME in the header of FILE.
uint32_t check_folder_field(const check_folder *folder, const char *file, const char *name);

#endif

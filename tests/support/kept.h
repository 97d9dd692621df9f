// SPDX-License-Identifier: GPL-3.0-or-later
// Rehearsals kept in logbooks, for tests.
#ifndef SLOWMATCH_TESTS_KEPT_H
#define SLOWMATCH_TESTS_KEPT_H

#include "slowmatch/logbook.h"

// A folder of the test's own with a small show in FOLDER/show; spill files that do not lie beside their logbook go to FOLDER/state.
void kept_begin(char folder[64]);
// The same with all of the user's own folders below FOLDER, for programs that are run.
void kept_begin_at_home(char folder[64]);
void kept_end(const char *folder);

// Rehearses the small show on a virtual clock into the logbook PATH, by the lines of SCRIPT ("WHEN ACTION", NULL: the built-in
// sequence). Returns how many rows there were. PROBLEM (may be NULL) gets what sm_logbook_writer_close said.
unsigned kept_rehearse(const char *folder, const char *path, const char *script, char problem[400]);

// The first column of the first row of SQL's result as a number; fails the test when SQL fails.
long long kept_number(const char *path, const char *sql);
void kept_exec(const char *path, const char *sql);

sm_logbook *kept_open(const char *path);
// The integrity check finds nothing, by this program and by SQLite's own shell.
void kept_assert_whole(const char *path);
void kept_assert_replays(const char *path, int64_t number);

#endif

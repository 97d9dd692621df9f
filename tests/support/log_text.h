// SPDX-License-Identifier: GPL-3.0-or-later
// Logs as files, for tests that hold one against another.
#ifndef SLOWMATCH_TESTS_LOG_TEXT_H
#define SLOWMATCH_TESTS_LOG_TEXT_H

// The whole of the file PATH; the caller frees it. Fails the test when it cannot be read.
char *log_text_read(const char *path);
// LOG, changed in place: without the columns wall and late_us, and without the rows of the sound. Returned.
char *log_text_without_lateness(char *log);

#endif

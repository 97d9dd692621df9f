// SPDX-License-Identifier: GPL-3.0-or-later
// A rehearsal as the writer hands it over, for tests of what becomes of it.
#ifndef SLOWMATCH_TESTS_BATCHES_H
#define SLOWMATCH_TESTS_BATCHES_H

#include "logbook/entry.h"

#define BATCHES_MAX 64
#define ENTRIES_A_BATCH 8

// A rehearsal as batches of entries.
typedef struct batches {
    sm_text entries;
    size_t begin[BATCHES_MAX + 1], count;
    unsigned rows;
} batches;

// Rehearses the small show in FOLDER (support/kept.h); OUT is all that its logbook got. The caller frees the entries.
void batches_record(const char *folder, batches *out);
// Removes the logbook at PATH, whatever it consists of.
void batches_remove_logbook(const char *path);
// Spills in FOLDER, and what is left beside them.
unsigned batches_count_spills(const char *folder);

#endif

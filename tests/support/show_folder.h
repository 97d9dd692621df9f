// SPDX-License-Identifier: GPL-3.0-or-later
// Show folders on disk, made for one test from texts. Whatever goes wrong with the disk fails the test.
#ifndef SLOWMATCH_TESTS_SHOW_FOLDER_H
#define SLOWMATCH_TESTS_SHOW_FOLDER_H

#include "slowmatch/show.h"

typedef struct show_folder {
    char path[64];
} show_folder;

// An empty folder.
show_folder show_folder_make(void);
// A small show without a finding: rail A (8 slots), fixtures par-1, par-2 (dim red green blue), jet-1 (permit flame),
// group pars, effects fountain and comet.
show_folder show_folder_make_small(void);
// Removes it and what is in it.
void show_folder_remove(const show_folder *folder);

// Writes FILE, or removes it where TEXT is NULL.
void show_folder_put(const show_folder *folder, const char *file, const char *text);
void show_folder_put_bytes(const show_folder *folder, const char *file, const char *bytes, size_t length);

// Loads the folder; fails the test, naming the first finding, unless that gives EXPECTED. The caller destroys the show,
// which is NULL unless EXPECTED is SM_OK.
sm_show *show_folder_load(const show_folder *folder, sm_result expected);

#endif

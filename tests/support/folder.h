// SPDX-License-Identifier: GPL-3.0-or-later
// Folders of a test's own, and shows in them.
#ifndef SLOWMATCH_TESTS_FOLDER_H
#define SLOWMATCH_TESTS_FOLDER_H

#include "slowmatch/show.h"

// Makes a new folder; the caller removes it with folder_remove. PATH gets its name. Fails the test when it cannot.
void folder_make(char path[64]);
void folder_remove(const char *path);
// Writes TEXT as FOLDER/NAME.
void folder_write(const char *folder, const char *name, const char *text);
// FOLDER/NAME in BUFFER, which is returned.
char *folder_path(char buffer[256], const char *folder, const char *name);
// Replaces the first OLD in FOLDER/NAME by NEW_TEXT; fails the test when it is not there.
void folder_edit(const char *folder, const char *name, const char *old, const char *new_text);
// Loads the show in FOLDER; fails the test when it has an error.
sm_show *folder_load(const char *folder);

// A small show with everything a walk asks about: two rails of 4 slots at two places, a flame unit, two lights, a walk.csv,
// good readings. 8 firings, 6 fixture events, 12 s.
void folder_small_show(const char *folder);

#endif

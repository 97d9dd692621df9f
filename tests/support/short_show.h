// SPDX-License-Identifier: GPL-3.0-or-later
// A show of a few seconds, written into a folder of its own: two rails, lights, a flame unit, no music.
#ifndef SLOWMATCH_TESTS_SHORT_SHOW_H
#define SLOWMATCH_TESTS_SHORT_SHOW_H

typedef struct short_show {
    char folder[64];
    char path[384]; // room for a file's path, see short_show_path
} short_show;

// Fail the test when the disk does. A-01 fountain at 0.2 s burns 1 s, A-02 comet at 0.5 s, B-01 fountain at 0.6 s burns
// LASTS; jet-1's flame from 0.3 s to 0.8 s; par-1 red from 0 s. Length 1 s, arm-time 0.2 s, countdown 0.3 s.
void short_show_make(short_show *show, const char *lasts);
void short_show_remove(short_show *show);
// Writes the file NAME of the folder anew.
void short_show_write(short_show *show, const char *name, const char *text);
// "FOLDER/NAME"; valid until the next call.
const char *short_show_path(short_show *show, const char *name);
// The text of the file NAME of the folder; the caller frees it.
char *short_show_read(short_show *show, const char *name);

#endif

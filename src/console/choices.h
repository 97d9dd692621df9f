// SPDX-License-Identifier: GPL-3.0-or-later
// What a person chose of the console's looks, kept from one rehearsal to the next in $XDG_CONFIG_HOME/slowmatch/console.ini.
#ifndef SLOWMATCH_CONSOLE_CHOICES_H
#define SLOWMATCH_CONSOLE_CHOICES_H

#include "screen/theme.h"

#define SM_BESIDE 3 // boards at most that stand beside another on a wide terminal
#define SM_BOARD_NAME 16

typedef struct sm_choices {
    char board[SM_BOARD_NAME]; // by its name; "" for the first
    char beside[SM_BESIDE][SM_BOARD_NAME];
    size_t beside_count;
    sm_palette colours;
    bool big;   // figures
    bool mouse; // the terminal tells of it
} sm_choices;

// As they are where nothing was chosen.
void sm_choices_init(sm_choices *choices);
// Where they are kept, by the XDG base directory specification; the caller frees it. NULL: nowhere, or no memory.
char *sm_choices_path(void);
// Reads PATH into OUT. What the file does not say, or says wrongly, stays as it was; so does all where there is no file.
// PROBLEM: one line about the first thing that is wrong in it, "" for none.
#define SM_CHOICES_PROBLEM 400
void sm_choices_read(const char *path, sm_choices *out, char problem[SM_CHOICES_PROBLEM]);
// Writes them to PATH, whole or not at all, folders included. SM_UNREADABLE (errno): the file is as it was. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_choices_write(const char *path, const sm_choices *choices);

// A thread that writes them, so that a slow disk holds nobody.
typedef struct sm_choices_keeper sm_choices_keeper;
// PATH is copied. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_choices_keeper_start(const char *path, sm_choices_keeper **out);
// Writes CHOICES soon; never waits for it. NULL is taken.
void sm_choices_keeper_put(sm_choices_keeper *keeper, const sm_choices *choices);
// What kept it from writing the latest (errno), 0. NULL is taken.
int sm_choices_keeper_error(sm_choices_keeper *keeper);
// Waits until what was put is written, but a second at most: then it is left behind. NULL is taken.
void sm_choices_keeper_stop(sm_choices_keeper *keeper);

#endif

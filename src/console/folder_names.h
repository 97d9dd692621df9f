// SPDX-License-Identifier: GPL-3.0-or-later
// The names in a folder, for a path that is typed. They are read by a thread of their own: a disk that hangs holds no key.
#ifndef SLOWMATCH_CONSOLE_FOLDER_NAMES_H
#define SLOWMATCH_CONSOLE_FOLDER_NAMES_H

#include "screen/prompt.h"

#define SM_FOLDER_NAMES 512

// In order; folders end in '/'. Names too long to be completed, and those beyond the most, are left out.
typedef struct sm_folder_names {
    size_t count;
    char names[SM_FOLDER_NAMES][SM_CANDIDATE_BYTES];
} sm_folder_names;

typedef struct sm_folder_reader sm_folder_reader;

// SM_NO_MEMORY. The caller stops it.
SM_MUST_CHECK sm_result sm_folder_reader_start(sm_folder_reader **out);
// NULL is taken.
void sm_folder_reader_stop(sm_folder_reader *reader);
// The names in FOLDER as far as they are known; else has them read, and returns NULL. Valid until the next call.
const sm_folder_names *sm_folder_reader_names(sm_folder_reader *reader, const char *folder);

#endif

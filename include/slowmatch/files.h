// SPDX-License-Identifier: GPL-3.0-or-later
// Folders that are made, bytes that are written whole, files that are replaced so that the old one or the new one is always there.
#ifndef SLOWMATCH_FILES_H
#define SLOWMATCH_FILES_H

#include "slowmatch/base.h"

#include <sys/types.h>

// Makes the folder PATH, and those above it, with MODE where they are not there. SM_UNREADABLE (errno): it is not there, or is no
// folder. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_folder_make(const char *path, mode_t mode);
// Makes the folders that the file PATH is to lie in.
SM_MUST_CHECK sm_result sm_folder_make_above(const char *path, mode_t mode);
// PATH is a folder, no link to one, of this user, and none of the permissions in MODE is given to anybody. False: errno.
bool sm_folder_is_own(const char *path, mode_t mode);

// Writes all LENGTH bytes to DESCRIPTOR. False: errno; some of it may be written.
bool sm_write_all(int descriptor, const char *bytes, size_t length);

typedef struct sm_file_new {
    const char *bytes;
    size_t length;
    mode_t mode; // of a file that was not there; one that was keeps its own
    // What the file must hold for it to be replaced; NULL with `if_same`: it must not be there.
    bool if_same;
    const char *old;
    size_t old_length;
    bool refuse_hard_links; // a file with a second name would be split in two
} sm_file_new;

// Puts a new file in place of PATH. It is written beside it, flushed to the disk, and takes its name in one step: whenever the program
// or the machine stops, one of the two is there whole. A symbolic link stays one, what it leads to is replaced. Files that an earlier
// program left beside PATH when it was killed are removed.
// SM_REFUSED: EBUSY: the file does not hold (any more) what it must; EMLINK: it has a second name; EINVAL: it is no plain file.
// SM_UNREADABLE: another errno. SM_NO_MEMORY. PATH is as it was, but for SM_REFUSED by EBUSY, where it is as somebody else left it.
SM_MUST_CHECK sm_result sm_file_replace(const char *path, const sm_file_new *file);

// Removes what programs that were killed in sm_file_replace left beside PATH, or beside what it leads to.
void sm_file_sweep(const char *path);

// Where the file or folder NAME of the user's own data lies: $XDG_DATA_HOME/slowmatch/NAME, else below ~/.local/share. The caller frees
// it; NULL: errno, ENOTDIR where neither is set.
char *sm_user_data_path(const char *name);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Spills: what could not be put into the logbook goes into a second SQLite file of the same schema, until an opening takes it in. As
// long as its writer is at it, nobody else can open it.
#ifndef SLOWMATCH_LOGBOOK_SPILL_H
#define SLOWMATCH_LOGBOOK_SPILL_H

#include "logbook/store.h"

typedef struct sm_spill {
    char *path; // NULL: none made yet
    sm_store store;
    int next_folder; // where the next one is tried first
    bool written;    // something is in it beside what it begins with
    bool left;       // earlier ones could not be written on, and are there
} sm_spill;

// Puts LENGTH bytes of entries that belong into the logbook at PATH on the disk. The file is made where there is none: beside the logbook,
// else in the user's state folder, else in a folder for passing files, and in the next of these once it cannot be written on; the
// entries in BEGUN, which later ones point at, are its first.
// False: nothing of them is in it (why of the spill's store).
bool sm_spill_write(sm_spill *spill, const char *logbook, const sm_text *begun, const char *bytes,
                    size_t length);
// Closes it, and removes the file where DONE.
void sm_spill_end(sm_spill *spill, bool done);
// Takes in all spills of the logbook at PATH that nobody is writing, old ones too, and removes them. One that cannot be taken in stays,
// and WHY says why; what is no plain file, or could be written by somebody else, is passed over. SM_NO_MEMORY, SM_UNREADABLE.
SM_MUST_CHECK sm_result sm_spills_take(const char *logbook, char why[SM_STORE_WHY]);

#endif

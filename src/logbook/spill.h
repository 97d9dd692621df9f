// SPDX-License-Identifier: GPL-3.0-or-later
// Spill files: records that could not be put into the logbook, until the next opening takes them in.
#ifndef SLOWMATCH_LOGBOOK_SPILL_H
#define SLOWMATCH_LOGBOOK_SPILL_H

#include "logbook/store.h"

typedef struct sm_spill {
    char *path; // NULL: none made yet
    int file;   // -1
} sm_spill;

// Appends LENGTH bytes of records that belong into the logbook at PATH, flushed to the disk. The file is made where there is none:
// beside the logbook, else in the user's state folder, else in a folder for passing files. False (errno): what was written of them
// is taken back.
bool sm_spill_write(sm_spill *spill, const char *logbook, const char *bytes, size_t length);
// Closes it, and removes the file where DONE.
void sm_spill_end(sm_spill *spill, bool done);
// Puts the records of the spill file at SPILL into STORE.
SM_MUST_CHECK sm_result sm_spill_take(sm_store *store, const char *spill);
// Takes in all spill files of the logbook at PATH that nobody is writing, and removes them. A file that cannot be taken in stays.
SM_MUST_CHECK sm_result sm_spills_take(sm_store *store, const char *logbook);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Whether programs are keeping rehearsals in a logbook: each has a lock on a file beside it, which ends with the program however that
// ends. The logbook's own file must not be opened for it: closing it would drop the locks that SQLite has on it.
#ifndef SLOWMATCH_LOGBOOK_IN_USE_H
#define SLOWMATCH_LOGBOOK_IN_USE_H

#include "logbook/store.h"

typedef enum sm_in_use_as { SM_IN_USE_AMONG_OTHERS, SM_IN_USE_ALONE } sm_in_use_as;
// A descriptor that holds the lock until it is closed; -1: another program stands in the way (*busy), or there can be no such lock.
int sm_in_use_lock(const sm_store *store, sm_in_use_as how, bool *busy);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// From one file of the logbook's schema into another: spills and imports into the logbook, exports out of it.
#ifndef SLOWMATCH_LOGBOOK_MERGE_H
#define SLOWMATCH_LOGBOOK_MERGE_H

#include "logbook/store.h"

// Puts what STORE keeps into the file at TARGET, which has the newest schema: of rehearsal NUMBER alone, with its show's readings, walks
// and drills, or everything there is (0). What is there already stays as it is, so that merging twice changes nothing. In one
// transaction, and on the disk when it returns. *count (may be NULL): rehearsals that TARGET did not have. On failure (why of STORE)
// TARGET is as it was; SM_INVALID: STORE's file has another schema than it should.
SM_MUST_CHECK sm_result sm_merge(sm_store *store, int64_t number, const char *target, int64_t *count);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_LOGBOOK_RESTORE_SHOW_H
#define SLOWMATCH_LOGBOOK_RESTORE_SHOW_H

#include "logbook/query.h"

// Loads the show that was kept as load LOAD, from its kept files, by way of a folder that is removed again. SM_INVALID: it cannot
// be loaded any more (why). The caller destroys it.
SM_MUST_CHECK sm_result sm_restore_show(sm_store *store, int64_t load, sm_show **out);

#endif

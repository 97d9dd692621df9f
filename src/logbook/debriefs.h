// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_LOGBOOK_DEBRIEFS_H
#define SLOWMATCH_LOGBOOK_DEBRIEFS_H

#include "logbook/entry.h"

#include "slowmatch/logbook.h"

// Appends the entries of DEBRIEF of the rehearsal TOKEN, with its steps; where memory runs out OUT has failed.
void sm_debrief_entries_put(sm_text *out, const char *token, const sm_debrief *debrief);

#endif

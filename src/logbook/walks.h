// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_LOGBOOK_WALKS_H
#define SLOWMATCH_LOGBOOK_WALKS_H

#include "logbook/entry.h"

#include "slowmatch/logbook.h"

// Each appends an entry; where memory runs out OUT has failed. What was said on a walk of the show called TITLE, number N of TOKEN:
void sm_tick_entry_put(sm_text *out, const char *token, int64_t n, const char *title,
                       const sm_walk_tick *tick);
void sm_sign_entry_put(sm_text *out, const char *token, int64_t n, const char *title,
                       const sm_walk_sign *sign);
// That SIGN was found void, and why.
void sm_void_entry_put(sm_text *out, const char *title, const sm_walk_sign *sign);
void sm_change_entry_put(sm_text *out, const char *token, int64_t n, const char *title,
                         const sm_walk_change *change);
void sm_drill_entry_put(sm_text *out, const char *token, const sm_logbook_drill *drill);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_LOGBOOK_LOAD_H
#define SLOWMATCH_LOGBOOK_LOAD_H

#include "logbook/entry.h"

#include "slowmatch/logbook.h"

struct sm_logbook_load {
    sm_walk_hash hash; // of all its files and its length
    char *title;
    double wind_limit_m_s; // NAN: NOT SET
    sm_walk_list *list;    // its show may be gone: items, content and hashes only
    sm_text entries;       // files, load, members, readings
};

// The ohms of VALUE as digits in BUFFER, as SQLite takes them; nothing where it is not in ohms.
sm_value sm_value_ohms(char buffer[32], sm_read_value value);

// Each appends entries; where memory runs out OUT has failed.
// What was said on a walk of the show called TITLE, number N of TOKEN.
void sm_tick_entry_put(sm_text *out, const char *token, int64_t n, const char *title,
                       const sm_walk_tick *tick);
void sm_sign_entry_put(sm_text *out, const char *token, int64_t n, const char *title,
                       const sm_walk_sign *sign);
void sm_change_entry_put(sm_text *out, const char *token, int64_t n, const char *title,
                         const sm_walk_change *change);
void sm_drill_entry_put(sm_text *out, const char *token, const sm_logbook_drill *drill);
// DEBRIEF of the rehearsal TOKEN, with its steps.
void sm_debrief_entries_put(sm_text *out, const char *token, const sm_debrief *debrief);

#endif

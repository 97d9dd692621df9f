// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_LOGBOOK_LOAD_H
#define SLOWMATCH_LOGBOOK_LOAD_H

#include "slowmatch/logbook.h"

struct sm_logbook_load {
    sm_walk_hash hash; // of all its files and its length
    char *title;
    double wind_limit_m_s; // NAN: NOT SET
    sm_walk_list *list;    // its show may be gone: items, content and hashes only
    sm_text records;       // files, load, members, readings
};

// Append the records of what was said on a walk of the show called TITLE, number N of TOKEN. False: memory ran out.
bool sm_tick_record_put(sm_text *out, const char *token, int64_t n, const char *title,
                        const sm_walk_tick *tick);
bool sm_sign_record_put(sm_text *out, const char *token, int64_t n, const char *title,
                        const sm_walk_sign *sign);
bool sm_change_record_put(sm_text *out, const char *token, int64_t n, const char *title,
                          const sm_walk_change *change);
// Appends the record of DRILL, named TOKEN. False: memory ran out.
bool sm_drill_record_put(sm_text *out, const char *token, const sm_logbook_drill *drill);
// Appends the records of DEBRIEF of the rehearsal TOKEN. False: memory ran out.
bool sm_debrief_records_put(sm_text *out, const char *token, const sm_debrief *debrief);

#endif

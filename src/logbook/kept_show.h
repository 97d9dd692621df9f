// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_LOGBOOK_KEPT_SHOW_H
#define SLOWMATCH_LOGBOOK_KEPT_SHOW_H

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

#endif

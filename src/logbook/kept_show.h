// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef SLOWMATCH_LOGBOOK_KEPT_SHOW_H
#define SLOWMATCH_LOGBOOK_KEPT_SHOW_H

#include "logbook/entry.h"

#include "slowmatch/logbook.h"

struct sm_logbook_load {
    sm_walk_hash hash; // of all its files and its length; "" while the music's is not known
    sm_walk_hash content;
    char *title, *music; // its file's name, "" for none
    int64_t length_us;
    double wind_limit_m_s; // NAN: NOT SET
    sm_walk_list *list;    // its show may be gone: items and hashes only
    sm_text content_lines; // of the tables
    sm_text members;       // one line a file: what the load's hash is made of
    sm_text names;         // "name\0hash\0", for the entries that must come after the load's own
    sm_text entries;       // files, readings, load, members
};

// The ohms of VALUE as digits in BUFFER, as SQLite takes them; nothing where it is not in ohms.
sm_value sm_value_ohms(char buffer[32], sm_read_value value);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// What earlier programs left: spill files and exports in a form of their own, and files of shows that were deflated in the logbook. They
// are only read.
#ifndef SLOWMATCH_LOGBOOK_LEGACY_H
#define SLOWMATCH_LOGBOOK_LEGACY_H

#include "logbook/entry.h"

#include <sqlite3.h>

// The schema version from which on the table `file` holds plain bytes.
#define SM_LEGACY_PACKED_UNTIL 6
// Makes the deflated files of DB plain; a damaged one stays as it is. False: SQLite failed.
bool sm_legacy_unpack_files(sqlite3 *db);

#define SM_LEGACY_HEAD 20 // bytes that tell
// The LENGTH bytes begin as a file of records, an old spill or export.
bool sm_legacy_is_records(const char *bytes, size_t length);
// Appends the records from the LENGTH bytes at BYTES on to OUT as entries, up to what is no whole record: SM_INVALID, all before it is in
// OUT. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_legacy_read(const char *bytes, size_t length, sm_text *out);
// Where the records of an export begin, and those of a spill file of LOGBOOK (full path); NULL: it is of another one.
const char *sm_legacy_export_records(const char *bytes);
const char *sm_legacy_spill_records(const char *bytes, size_t length, const char *logbook);

#endif

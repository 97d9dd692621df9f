// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of a show as people change them: saved so that nothing is lost.
#ifndef SLOWMATCH_TABLES_H
#define SLOWMATCH_TABLES_H

#include "slowmatch/show.h"
#include "slowmatch/table_edit.h"

// ---- saving (may wait for a disk) ------------------------------------------------

// Where copies of changed tables are kept: $XDG_DATA_HOME/slowmatch/tables. The caller frees it; NULL: memory ran out.
char *sm_table_backups_path(void);

// Changes the table PATH, which holds WAS (NULL: it is not there yet). What WAS is, is first kept as BACKUPS/SHOW-HASH/FILE.TIME-HASH, HASH
// being the beginning of the SHA-256 of the show folder's path and of the bytes. The new table takes the old one's place as
// sm_file_replace says, with its mode; a link to it stays a link. SM_INVALID: see sm_table_edit_bytes. SM_REFUSED: somebody else saved
// it meanwhile, it has a second name (a hard link), or is no plain file. SM_UNREADABLE: it cannot be written, the disk is full...
// SM_NO_MEMORY. *why says so; the table is as it was, or as somebody else left it.
SM_MUST_CHECK sm_result sm_table_save(const char *path, const char *was, size_t was_length,
                                      const sm_table_edit *edit, const char *backups, sm_text *why);

// The same to what PATH holds at this moment.
SM_MUST_CHECK sm_result sm_table_change(const char *path, const sm_table_edit *edit, const char *backups,
                                        sm_text *why);

// Removes what a program that was killed while it saved left in the show folder FOLDER.
void sm_tables_sweep(const char *folder);

// ---- two shows side by side ---------------------------------------------------------

// What is different, cue by cue, as the shortest account found: everything that moved together is one difference, and so is each other
// changed cell, each row added or dropped. Then what must be done again in the field. Pure but for reading the two folders again.
typedef struct sm_compare sm_compare;

// OLD and NOW must outlive it. SM_INVALID, SM_UNREADABLE (errno): a folder changed meanwhile; SM_NO_MEMORY. *out is unchanged then.
SM_MUST_CHECK sm_result sm_compare_create(const sm_show *old, const sm_show *now, sm_compare **out);
void sm_compare_destroy(sm_compare *compare);
// Differences; 0: none was found.
size_t sm_compare_count(const sm_compare *compare);
// For people; and one JSON object a line.
void sm_compare_text(const sm_compare *compare, sm_text *out);
void sm_compare_json(const sm_compare *compare, sm_text *out);

#endif

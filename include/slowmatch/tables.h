// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of a show as people change them: saved so that nothing is lost.
#ifndef SLOWMATCH_TABLES_H
#define SLOWMATCH_TABLES_H

#include "slowmatch/check.h"
#include "slowmatch/proposals.h"
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

// ---- cue times put right -----------------------------------------------------------------

// What COUNT PROPOSALS would make of cues.csv: each time cell that changes, in its own notation (a timecode moves by whole frames).
typedef struct sm_tuning sm_tuning;

// Reads cues.csv again. With MUSIC (what is known of it, as for sm_check_run) also what `check` would newly find in the folder as it would
// be, which is put together in a passing folder (TMPDIR) for that. SHOW must outlive it. SM_REFUSED: the file is no longer what was
// loaded; SM_INVALID: a new time cannot be written in its cell's notation; SM_UNREADABLE: *why says so; SM_NO_MEMORY. *out is unchanged
// then.
SM_MUST_CHECK sm_result sm_tuning_create(const sm_show *show, const sm_proposal *proposals, uint32_t count,
                                         const sm_check_options *music, sm_text *why, sm_tuning **out);
void sm_tuning_destroy(sm_tuning *tuning);
// Cells that would change.
size_t sm_tuning_count(const sm_tuning *tuning);
// NULL without MUSIC.
const sm_findings *sm_tuning_found(const sm_tuning *tuning);
// Both, for people.
void sm_tuning_text(const sm_tuning *tuning, sm_text *out);
// Both, one JSON object a line.
void sm_tuning_json(const sm_tuning *tuning, sm_text *out);
// Writes cues.csv as sm_table_save does.
SM_MUST_CHECK sm_result sm_tuning_save(const sm_tuning *tuning, const char *backups, sm_text *why);

#endif

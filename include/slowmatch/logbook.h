// SPDX-License-Identifier: GPL-3.0-or-later
// The logbook: every rehearsal with the show as it was loaded, readings, walks and names, drills, in one SQLite file.
//
// What happens becomes entries, in order. A thread of the writer's own puts them into the file, in transactions; what cannot be
// put there goes into a spill, a second SQLite file, which the next opening takes in. Whoever rehearses never waits.
#ifndef SLOWMATCH_LOGBOOK_H
#define SLOWMATCH_LOGBOOK_H

#include "slowmatch/drill.h"
#include "slowmatch/walk.h"

// "$XDG_DATA_HOME/slowmatch/logbook.db", else below ~/.local/share. The caller frees it; NULL when memory runs out.
char *sm_logbook_default_path(void);

// A drill that was taken.
typedef struct sm_logbook_drill {
    const char *person, *drill, *title;
    const char *seat; // "lead", "spotter"; NULL: lead
    sm_unix_us when_us;
    int32_t score;
    bool passed, with_hints;
    const char *marks; // JSON, one object a line; "" where none
    bool beside;       // of somebody who sat elsewhere: one more of the same rehearsal
} sm_logbook_drill;

// ---- keeping ----------------------------------------------------------------------

// A show as it was loaded, ready to be kept: its files but for the music, its readings, its walk.
typedef struct sm_logbook_load sm_logbook_load;
// Reads the tables of SHOW again, READINGS_FILE (NULL: none) in place of its readings.csv. MUSIC is the music's hash; NULL: it is not known
// yet, and sm_logbook_load_music brings it. Any thread. SM_UNREADABLE (errno), SM_NO_MEMORY, SM_REFUSED: one of them is no longer what
// was loaded.
SM_MUST_CHECK sm_result sm_logbook_load_create(const sm_show *show, const char *readings_file,
                                               const sm_walk_hash *music, sm_logbook_load **out);
// What stands in place of the music's hash where it was not read to its end.
extern const sm_walk_hash sm_logbook_unread;
void sm_logbook_load_music(sm_logbook_load *load, const sm_walk_hash *music);
// The show's content (sm_walk_content), "" where the music is not known yet.
sm_walk_hash sm_logbook_load_content(const sm_logbook_load *load);
void sm_logbook_load_destroy(sm_logbook_load *load);

typedef struct sm_logbook_start {
    const char *path; // of the logbook; made where it is not there
    const char *mode; // "console", "headless", "drill"
    bool bare, readings_not_judged, drill, fast;
    const char *drill_file; // its path, NULL: none; an attempt is known by a hash of it
    bool scripted;          // a script takes the drill, and no person: such an attempt reaches no mark
    sm_unix_us launch_us;   // when the rehearsal's wall time was 0
} sm_logbook_start;

typedef struct sm_logbook_writer sm_logbook_writer;
// Begins to keep a rehearsal; takes LOAD over, also on failure. Where the music of LOAD is not known yet, what happens is held in memory until
// sm_logbook_writer_music, or until the close, which then says that it was not read. A logbook that cannot be written is no failure: see
// sm_logbook_writer_problem. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_logbook_writer_create(const sm_logbook_start *start, sm_logbook_load *load,
                                                 sm_logbook_writer **out);
// The music of the show that it began with; returns at once: the content of that show.
sm_walk_hash sm_logbook_writer_music(sm_logbook_writer *writer, const sm_walk_hash *music);
// One row of the log, and one action before it acts (as sm_rehearsal_options calls its sink and acted). Any one thread; return at
// once.
void sm_logbook_writer_row(sm_logbook_writer *writer, const sm_log_row *row);
// The same of a drill. WAITS: it tells what is planted, or judged, and nobody may read it while the drill runs: it is written, in its
// place, with the next row that does not wait and ends the drill, or at the close.
void sm_logbook_writer_drill_row(sm_logbook_writer *writer, const sm_log_row *row, bool waits);
void sm_logbook_writer_action(sm_logbook_writer *writer, const sm_action *action, sm_source source,
                              sm_wall_time at);
// The show is replaced by the one that LOAD holds, at AT, the rehearsal's present instant. Takes LOAD over; returns at once.
void sm_logbook_writer_load(sm_logbook_writer *writer, sm_logbook_load *load, sm_wall_time at);
// What RUN, the drill of this rehearsal, has judged since the last call; the first begins the attempt. Cheap where nothing was judged;
// returns at once.
void sm_logbook_writer_attempt(sm_logbook_writer *writer, const sm_drill_run *run);
// The drill of this rehearsal is over; returns at once.
void sm_logbook_writer_drill(sm_logbook_writer *writer, const sm_logbook_drill *drill);
// The debrief of it, whoever took it; returns at once.
void sm_logbook_writer_debrief(sm_logbook_writer *writer, const sm_debrief *debrief);
// SIGN, below a walk of the show called TITLE, is void by its `void_by`, and stays so. Any thread; returns at once.
void sm_logbook_writer_void(sm_logbook_writer *writer, const char *title, const sm_walk_sign *sign);
// A reload failed at AT (as sm_rehearsal_reload_failed was told).
void sm_logbook_writer_reload_failed(sm_logbook_writer *writer, const char *why, sm_wall_time at);
// Why what happens is not being kept in the logbook, one line; "" while it is. Any thread. Returns BUFFER.
char *sm_logbook_writer_problem(sm_logbook_writer *writer, char buffer[400]);
// Ends the rehearsal and writes what is left; waits for that at most PATIENCE_US (below 0: for ever). False: it could not all be put
// into the logbook; PROBLEM (400 bytes, may be NULL) says why, "" otherwise. NULL is taken, and true.
bool sm_logbook_writer_close(sm_logbook_writer *writer, sm_us patience_us, char *problem);

// ---- reading ----------------------------------------------------------------------

typedef struct sm_logbook sm_logbook;
// Opens the logbook at PATH, brings it up to this program's schema, takes in spill files. SM_NOT_FOUND: there is none (unless
// CREATE); SM_UNREADABLE: WHY gets one line; SM_NO_MEMORY. With SM_OK too WHY may have a line: a spill file that could not be taken
// in, and stays.
SM_MUST_CHECK sm_result sm_logbook_open(const char *path, bool create, char why[400], sm_logbook **out);
void sm_logbook_close(sm_logbook *logbook);
// Why the last function failed, one line.
const char *sm_logbook_problem(const sm_logbook *logbook);

// Each appends text for people, or JSON, one object a line, to OUT. SM_UNREADABLE: the file cannot be read; SM_NOT_FOUND: no such
// rehearsal; SM_REFUSED: a drill that has not ended, while a program keeps rehearsals (what it plants would be read); SM_NO_MEMORY.
// sm_logbook_problem says why.
SM_MUST_CHECK sm_result sm_logbook_list(sm_logbook *logbook, bool json, sm_text *out);
SM_MUST_CHECK sm_result sm_logbook_show(sm_logbook *logbook, int64_t number, bool json, sm_text *out);
// Of one slot, or of all (SLOT NULL), of the show called TITLE, oldest first.
SM_MUST_CHECK sm_result sm_logbook_readings(sm_logbook *logbook, const char *title, const char *slot,
                                            bool json, sm_text *out);
// The crew's sheet, as of NOW_US: who has reached the mark of which drill, and when it is due again: AGAIN_DAYS after that (0: never;
// below 0: as the drill's file said).
SM_MUST_CHECK sm_result sm_logbook_crew(sm_logbook *logbook, int64_t again_days, sm_unix_us now_us, bool json,
                                        sm_text *out);
// Every attempt of PERSON: scores, and mark by mark what was earned and how long it took.
SM_MUST_CHECK sm_result sm_logbook_progress(sm_logbook *logbook, const char *person, bool json, sm_text *out);
// Runs the engine again from the actions of rehearsal NUMBER and compares every event; *same tells. SM_INVALID: its show can no
// longer be loaded.
SM_MUST_CHECK sm_result sm_logbook_replay(sm_logbook *logbook, int64_t number, bool json, sm_text *out,
                                          bool *same);
// The debrief of rehearsal NUMBER as it was kept, as text COLUMNS wide. SM_NOT_FOUND too: it has none.
SM_MUST_CHECK sm_result sm_logbook_debrief(sm_logbook *logbook, int64_t number, size_t columns, bool json,
                                           sm_text *out);
// The steps of a drill, what happened beside what was done; nothing where NUMBER was no drill. Of one of which no debrief was kept:
// what its rows tell.
SM_MUST_CHECK sm_result sm_logbook_steps(sm_logbook *logbook, int64_t number, size_t columns, bool json,
                                         sm_text *out);
// What differed between two rehearsals; *same: nothing but lateness.
SM_MUST_CHECK sm_result sm_logbook_compare(sm_logbook *logbook, int64_t a, int64_t b, bool json, sm_text *out,
                                           bool *same);
// SQLite's own integrity check, foreign keys and stored files; *whole tells.
SM_MUST_CHECK sm_result sm_logbook_check(sm_logbook *logbook, bool json, sm_text *out, bool *whole);

// What became of a slot in a rehearsal.
typedef enum sm_fate {
    SM_FATE_NOT_FIRED,
    SM_FATE_FIRED,
    SM_FATE_MISFIRED,
    SM_FATE_PASSED, // skipped by a seek, or due before the start
    SM_FATE_HELD,   // inhibited
    SM_FATE_COUNT
} sm_fate;
// "not fired" ... "held back".
const char *sm_fate_text(sm_fate fate);

typedef struct sm_logbook_slot {
    const char *slot; // "A-05"
    sm_fate fate;
    const char *detail; // the log's: the effect, and why it misfired
    bool is_reported;   // a misfire
} sm_logbook_slot;

typedef struct sm_logbook_reading {
    const char *slot, *value, *taken, *person; // "" where not given
} sm_logbook_reading;

typedef struct sm_logbook_fates {
    int64_t number; // of the rehearsal
    sm_unix_us began_us;
    sm_logbook_slot *slots; // those that the log tells of
    size_t slot_count;
    const sm_logbook_reading *readings; // of the show, oldest first
    size_t reading_count;
} sm_logbook_fates;
// Of rehearsal NUMBER (0: the newest) of the show called TITLE; texts and arrays lie in ARENA. SM_NOT_FOUND: there is none.
SM_MUST_CHECK sm_result sm_logbook_fates_of(sm_logbook *logbook, const char *title, int64_t number,
                                            sm_arena *arena, sm_logbook_fates *out);

// ---- more to keep -----------------------------------------------------------------

// Answers and names given outside a rehearsal.
SM_MUST_CHECK sm_result sm_logbook_keep_walk(sm_logbook *logbook, const char *title,
                                             const sm_walk_past *past);
// The names below WALK that it finds void, and that were not known to be: they stay so.
SM_MUST_CHECK sm_result sm_logbook_keep_voids(sm_logbook *logbook, const char *title, const sm_walk *walk);
// What is kept of the walks of the show called TITLE; texts and arrays lie in ARENA.
SM_MUST_CHECK sm_result sm_logbook_walk_past(sm_logbook *logbook, const char *title, sm_arena *arena,
                                             sm_walk_past *out);

SM_MUST_CHECK sm_result sm_logbook_keep_drill(sm_logbook *logbook, const sm_logbook_drill *drill);
// What PERSON has made of DRILL of the show called TITLE, in SEAT.
typedef struct sm_logbook_best {
    int64_t taken; // 0: never, and the rest is nothing
    int32_t best;
    bool passed; // at least once
} sm_logbook_best;
SM_MUST_CHECK sm_result sm_logbook_best_of(sm_logbook *logbook, const char *title, const char *person,
                                           const char *drill, const char *seat, sm_logbook_best *out);

// Writes rehearsal NUMBER (0: everything there is) to the new SQLite file PATH, takes such a file in (or another logbook, or an export of an
// earlier program), forgets rehearsals begun before BEFORE_US. What is there already is not taken in twice. *count: rehearsals, of an import
// those that are new. A prune is SM_REFUSED while any program keeps a rehearsal in the logbook.
// Export and import count the rows that they put in PROGRESS, which outlives LOGBOOK; NULL: nobody looks.
void sm_logbook_watch(sm_logbook *logbook, sm_progress *progress);
SM_MUST_CHECK sm_result sm_logbook_export(sm_logbook *logbook, int64_t number, const char *path,
                                          int64_t *count);
SM_MUST_CHECK sm_result sm_logbook_import(sm_logbook *logbook, const char *path, int64_t *count);
SM_MUST_CHECK sm_result sm_logbook_prune(sm_logbook *logbook, sm_unix_us before_us, int64_t *count);

// The version of SQLite.
const char *sm_logbook_library(void);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Drives the engine on the rehearsal clock, in a thread of its own. Actions go in as lines of text, snapshots and
// outcomes come out. Unless said otherwise a function is for the screen's thread, and none waits for more than a short
// lock.
#ifndef SLOWMATCH_SESSION_H
#define SLOWMATCH_SESSION_H

#include "slowmatch/audio.h"
#include "slowmatch/drill.h"
#include "slowmatch/engine.h"

typedef struct sm_session sm_session;

// ---- what it gives out ----------------------------------------------------------------------

// What there is to show of a drill: the latest thing to be seen or heard, what is next, what was marked.
typedef struct sm_drill_view {
    const sm_drill *drill; // NULL: no drill
    bool over, held, broken_off;
    char hint[240];
    sm_act next;     // what it is about, SM_ACT_COUNT: nothing
    char marked[96]; // the latest mark, "" while there is none
    sm_wall_time marked_at;
    char asked[240]; // the latest hint that was asked for, "" while there is none
    sm_wall_time asked_at;
} sm_drill_view;

// The latest rows of the log.
#define SM_RECENT_ROWS 512

typedef struct sm_recent_row {
    sm_wall_time wall;
    bool has_show;
    sm_show_time show;
    sm_source source;
    sm_log_kind kind;
    char cue[32], target[64], detail[192]; // cut where longer
} sm_recent_row;

// A ring: row number N (from 0) is in rows[N % SM_RECENT_ROWS]. {0} is a valid empty one.
typedef struct sm_recent {
    uint64_t count; // rows ever put in
    sm_recent_row rows[SM_RECENT_ROWS];
} sm_recent;

void sm_recent_put(sm_recent *recent, const sm_log_row *row);
// Brings TO, an older copy of FROM, up to date.
void sm_recent_follow(sm_recent *to, const sm_recent *from);
// Row AGE rows before the newest (0); NULL where there is none.
const sm_recent_row *sm_recent_at(const sm_recent *recent, uint64_t age);

// A drill to be taken, and what came of it: set when the console has ended.
typedef struct sm_drill_taken {
    const sm_drill *drill; // of the show; outlives the console
    uint64_t seed;
    const char *crew; // NULL: nobody named
    bool taken;       // the rest is set
    bool passed;
    sm_debrief *debrief; // the caller's to destroy
    sm_text json;        // its marks; the caller's to deinit
} sm_drill_taken;

// ---- the session ----------------------------------------------------------------------------

typedef struct sm_session_options {
    sm_show *show;       // taken over, also on failure
    sm_findings *loaded; // what loading it found, NULL: nothing; taken over as well
    const char *readings_file;
    sm_drill_taken *drill; // NULL: none. Its result is set when the session is destroyed
    const char *log_path;
    const char *logbook_path; // NULL: not kept
    char *unkept;             // 400 bytes: at the end, why it is not in its logbook, "" where it is; NULL
    const char *device;
    sm_us sound_offset_us;
    int timecode_channel; // 0: none
    bool silent, bare;
} sm_session_options;

// Starts the rehearsal. On failure PROBLEM has one line.
SM_MUST_CHECK sm_result sm_session_create(const sm_session_options *options, char problem[320],
                                          sm_session **out);
// Ends the threads, closes the log and the sound; the caller makes safe before. Waits for a file that is being read and,
// some seconds, for the disk with the log. NULL is taken.
void sm_session_destroy(sm_session *session);

// Readable when there is something new; sm_session_take empties it.
int sm_session_descriptor(const sm_session *session);
// Asks for a snapshot as of now.
void sm_session_want(sm_session *session);
// The latest snapshot there is; valid until the next call. Never NULL.
const sm_snapshot *sm_session_take(sm_session *session);
// The action LINE, done as soon as the engine's thread gets to it. False: memory ran out.
bool sm_session_act(sm_session *session, const char *line);
// Reads the file PATH of readings and takes each of its rows as a `read`.
void sm_session_read_file(sm_session *session, const char *path);
// Makes safe and waits until that is done, at most PATIENCE_US. Any thread. True: done.
bool sm_session_make_safe(sm_session *session, sm_us patience_us);
// Waits until every row so far is in the log's file, at most PATIENCE_US. Any thread. True: it is.
bool sm_session_flush_log(sm_session *session, sm_us patience_us);
// `quit` was done.
bool sm_session_has_quit(sm_session *session);

typedef enum sm_outcome_kind {
    SM_OUTCOME_REFUSED, // the engine refused it
    SM_OUTCOME_WRONG,   // it could not be understood, or could not be done
    SM_OUTCOME_TOLD     // it was done, and there is something to say
} sm_outcome_kind;

typedef struct sm_outcome_note {
    sm_outcome_kind kind;
    sm_wall_time wall;
    char text[448];
} sm_outcome_note;

// The oldest outcome not yet taken; false: none.
bool sm_session_outcome(sm_session *session, sm_outcome_note *out);
// Brings TO up to date with the latest rows of the log.
void sm_session_recent(sm_session *session, sm_recent *to);
// Findings of the latest check, reload or readings file, once each; NULL: nothing new. The caller destroys them.
sm_findings *sm_session_findings(sm_session *session);
// What there is to show of the drill, as of the latest snapshot made.
void sm_session_drill(sm_session *session, sm_drill_view *out);
// The debrief of the drill that is over, anew after each answer; NULL: nothing new. The caller destroys it.
sm_debrief *sm_session_debrief(sm_session *session);
// Keeps TEXT ("": left empty) as the answer to QUESTION of the debrief. False: memory ran out.
bool sm_session_answer(sm_session *session, unsigned question, const char *text);
sm_audio *sm_session_audio(sm_session *session);
// errno of a log that could not be written, 0.
int sm_session_log_error(sm_session *session);
// Why the rehearsal is not being kept in the logbook, "" while it is (or need not be).
char *sm_session_logbook_problem(sm_session *session, char buffer[400]);
// Wall time now.
sm_wall_time sm_session_now(sm_session *session);

#endif

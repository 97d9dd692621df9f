// SPDX-License-Identifier: GPL-3.0-or-later
// Drives the engine on the rehearsal clock, in a thread of its own. Actions go in as lines of text, snapshots and
// outcomes come out. Unless said otherwise a function is for the screen's thread, and none waits for more than a short
// lock.
#ifndef SLOWMATCH_CONSOLE_DRIVER_H
#define SLOWMATCH_CONSOLE_DRIVER_H

#include "console/drill_view.h"
#include "console/recent.h"

#include "slowmatch/audio.h"
#include "slowmatch/console.h"
#include "slowmatch/engine.h"

typedef struct sm_driver sm_driver;

typedef struct sm_driver_options {
    sm_show *show;       // taken over, also on failure
    sm_findings *loaded; // what loading it found, NULL: nothing; taken over as well
    const char *readings_file;
    sm_console_drill *drill; // NULL: none. Its result is set when the driver is destroyed
    const char *log_path;
    const char *logbook_path; // NULL: not kept
    char *unkept;             // 400 bytes: at the end, why it is not in its logbook, "" where it is; NULL
    const char *device;
    sm_us sound_offset_us;
    int timecode_channel; // 0: none
    bool silent, bare;
} sm_driver_options;

// Starts the rehearsal. On failure PROBLEM has one line.
SM_MUST_CHECK sm_result sm_driver_create(const sm_driver_options *options, char problem[320],
                                         sm_driver **out);
// Ends the threads, closes the log and the sound; the caller makes safe before. Waits for a file that is being read and,
// some seconds, for the disk with the log. NULL is taken.
void sm_driver_destroy(sm_driver *driver);

// Readable when there is something new; sm_driver_take empties it.
int sm_driver_descriptor(const sm_driver *driver);
// Asks for a snapshot as of now.
void sm_driver_want(sm_driver *driver);
// The latest snapshot there is; valid until the next call. Never NULL.
const sm_snapshot *sm_driver_take(sm_driver *driver);
// The action LINE, done as soon as the engine's thread gets to it. False: memory ran out.
bool sm_driver_act(sm_driver *driver, const char *line);
// Reads the file PATH of readings and takes each of its rows as a `read`.
void sm_driver_read_file(sm_driver *driver, const char *path);
// Makes safe and waits until that is done, at most PATIENCE_US. Any thread. True: done.
bool sm_driver_make_safe(sm_driver *driver, sm_us patience_us);
// Waits until every row so far is in the log's file, at most PATIENCE_US. Any thread. True: it is.
bool sm_driver_flush_log(sm_driver *driver, sm_us patience_us);
// `quit` was done.
bool sm_driver_has_quit(sm_driver *driver);

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
bool sm_driver_outcome(sm_driver *driver, sm_outcome_note *out);
// Brings TO up to date with the latest rows of the log.
void sm_driver_recent(sm_driver *driver, sm_recent *to);
// Findings of the latest check, reload or readings file, once each; NULL: nothing new. The caller destroys them.
sm_findings *sm_driver_findings(sm_driver *driver);
// What there is to show of the drill, as of the latest snapshot made.
void sm_driver_drill(sm_driver *driver, sm_drill_view *out);
// The debrief of the drill that is over, anew after each answer; NULL: nothing new. The caller destroys it.
sm_debrief *sm_driver_debrief(sm_driver *driver);
// Keeps TEXT ("": left empty) as the answer to QUESTION of the debrief. False: memory ran out.
bool sm_driver_answer(sm_driver *driver, unsigned question, const char *text);
sm_audio *sm_driver_audio(sm_driver *driver);
// errno of a log that could not be written, 0.
int sm_driver_log_error(sm_driver *driver);
// Why the rehearsal is not being kept in the logbook, "" while it is (or need not be).
char *sm_driver_logbook_problem(sm_driver *driver, char buffer[400]);
// Wall time now.
sm_wall_time sm_driver_now(sm_driver *driver);

#endif

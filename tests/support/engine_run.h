// SPDX-License-Identifier: GPL-3.0-or-later
// Rehearsals for tests: a show written to a temporary folder and loaded, a script acted on a virtual clock, the rows it logged.
#ifndef SLOWMATCH_TESTS_ENGINE_RUN_H
#define SLOWMATCH_TESTS_ENGINE_RUN_H

#include "slowmatch/engine.h"

typedef struct engine_file {
    const char *name, *text;
} engine_file;
#define ENGINE_FILES 16

// The tables that most tests share; only cues.csv differs. arm-time 1 s, countdown 2 s, length 60 s, so that wall = show + 3 s after
// ENGINE_START. Rails A (8 slots, left), B (4 slots, right), C (2 slots, no position); effects fountain (lasts 10 s, ground), comet
// (lead 0.5 s, lasts 2 s, aerial), mine (lead 0.2 s, near), shell (lead 3.5 s, lasts 3 s, aerial); lamps L1 (left) and L2 (right) with
// dim and red; flame units F1 (left) and F2 (right) with permit, flame and dim (home 3); groups lamps, flames and rack (A-01 A-02).
#define ENGINE_ARM "0 call-clear J\n0 key on\n0 arm\n"
#define ENGINE_START ENGINE_ARM "1 start\n"

// The shared files with CUES as cues.csv (columns time,target,do,fade,lasts where it brings no header of its own); each of CHANGES (to a NULL name; may be NULL) replaces or adds a file. Fails the test on any
// finding at error level. The caller destroys the show.
sm_show *engine_show(const char *cues, const engine_file *changes);
// Writes those files into FOLDER (an existing folder), and takes them and the folder away again.
void engine_folder_write(const char *folder, const char *cues, const engine_file *changes);
void engine_folder_remove(const char *folder);

typedef struct engine_run {
    const sm_show *show;
    sm_rehearsal *rehearsal;
    sm_operator *operator_;
    sm_snapshot *snapshot;
    sm_text log; // the log's bytes, without the header
    sm_text
        rows; // "wall,show,source,what,cue,target,detail", times without needless zeros; " late N" follows
              // where late. Those of alerts are left out
    sm_wall_time now;
    const char *says; // said when an expectation fails, may be NULL
} engine_run;

void engine_run_init(engine_run *run, const sm_show *show, const sm_rehearsal_options *options);
void engine_run_deinit(engine_run *run);
// One action at AT_S seconds. Fails the test when it cannot be read.
sm_result engine_act(engine_run *run, double at_s, const char *action);
// As above with any source.
sm_result engine_act_from(engine_run *run, double at_s, const char *action, sm_source source);
// Everything due up to and including AT_S.
void engine_to(engine_run *run, double at_s);
// The snapshot at the latest time given.
const sm_snapshot *engine_look(engine_run *run);
// Acts SCRIPT (NULL: the built-in sequence) to its end on a virtual clock; returns what the operator was at when it was over.
sm_operator_word engine_play(engine_run *run, const char *script);
// Fails the test unless the rows since the last such question are EXPECTED. A row "note,,look," and all before it are left out.
#define engine_expect(run, expected) engine_expect_at(run, expected, __FILE__, __LINE__)
void engine_expect_at(engine_run *run, const char *expected, const char *file, int line);

// Fails the test unless the engine cautions of LINE, done now, in the words EXPECTED.
void engine_expect_caution(engine_run *run, const char *line, const char *expected);

// A family of small scenarios: each has its own cues, a script and the rows that it must log.
typedef struct engine_case {
    const char *says, *cues, *script, *rows;
} engine_case;
void engine_run_cases(const engine_case *cases, size_t count);
// One of them, in a show with CHANGES.
void engine_run_case(const engine_case *one, const engine_file *changes);

// All that a snapshot holds as text, for comparing.
void engine_snapshot_text(sm_text *out, const sm_snapshot *snapshot);
// Show-wide number of FIXTURE's CHANNEL, and its level in the latest snapshot.
uint32_t engine_channel(const sm_show *show, const char *fixture, const char *channel);
uint32_t engine_slot(const sm_show *show, const char *slot);

#endif

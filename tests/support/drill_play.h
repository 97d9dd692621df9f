// SPDX-License-Identifier: GPL-3.0-or-later
// Takes a drill by a script that reacts: lines "WHAT SECONDS ACTION", WHAT being begin, a state (its first entry), an event or an
// expectation of the drill; the action comes so many seconds after it.
#ifndef TESTS_DRILL_PLAY_H
#define TESTS_DRILL_PLAY_H

#include "slowmatch/drill.h"

// Loads the show in FOLDER; fails the test with its findings otherwise.
sm_show *drill_play_show(const char *folder);
// cmocka's setup and teardown of a group: *state is the demo show.
int drill_play_load_demo(void **state);
int drill_play_drop_demo(void **state);
// Reads a drill from TEXT; fails the test with its findings otherwise.
sm_drill *drill_play_read(const sm_show *show, const char *text);
sm_drill *drill_play_load(const sm_show *show, const char *name);
// The findings of reading TEXT as "LINE:COLUMN message [rule]\n"...; it must be invalid.
char *drill_play_findings(const sm_show *show, const char *text);

// One line of a script, read.
#define DRILL_PLAY_LINES 64
typedef struct drill_play_line {
    char what[48];
    double seconds;
    sm_action action;
    bool instructor;
} drill_play_line;
// Reads SCRIPT into LINES, at most DRILL_PLAY_LINES; returns how many.
size_t drill_play_read_lines(const sm_drill *drill, const char *script, drill_play_line *lines);

typedef struct drill_play_options {
    uint64_t seed;
    bool bare, no_alerts;
    sm_log_sink sink;
    void *sink_context;
    void (*look)(void *context, sm_drill_run *run); // half a second apart at most, and after each line
} drill_play_options;
// Plays SCRIPT to its end and what follows from it, and finishes the drill. A line that begins with "!" is the instructor's.
sm_drill_run *drill_play(const sm_drill *drill, const char *script, const drill_play_options *options);
// The same of COUNT lines.
sm_drill_run *drill_play_lines(const sm_drill *drill, const drill_play_line *lines, size_t count,
                               const drill_play_options *options);
// As drill_play, over DRILL's own seed, without options.
sm_drill_run *drill_play_plain(const sm_drill *drill, const char *script);

// TEXT done AT_S seconds after the beginning; fails the test where it cannot be read.
sm_result drill_play_act(sm_drill_run *run, double at_s, const char *text, sm_source source);

// got of the mark called NAME; fails the test where there is none.
int drill_play_got(const sm_drill_run *run, const char *name);
bool drill_play_has_mark(const sm_drill_run *run, const char *name);

// The debrief of RUN as text 80 columns wide.
void drill_play_debrief(const sm_drill_run *run, sm_text *out);

// Plays SCRIPT plainly and fails the test, with the debrief printed, unless it comes to SCORE; WHO is said then.
void drill_play_expect_score(const sm_drill *drill, const char *who, const char *script, int score);
// What a newcomer types who knows nothing but HINT, whose action is ACT: the names that it says, and its words for an answer.
void drill_play_follow_hint(sm_act act, const char *hint, char typed[128]);
// What DRILL has to earn, expectations and befores together. Fails the test where an expectation is not as the course wants it: only stops
// carry seconds; ordered steps carry minutes, and late earns nothing; each says something, and hints where there are hints.
int drill_play_marks_to_earn(const sm_drill *drill);

#endif

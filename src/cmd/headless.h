// SPDX-License-Identifier: GPL-3.0-or-later
// A rehearsal without a screen: the log's lines on standard output.
#ifndef CMD_HEADLESS_H
#define CMD_HEADLESS_H

#include "cmd/cmd.h"

#include "slowmatch/console.h"
#include "slowmatch/drill.h"
#include "slowmatch/show.h"

// A drill to be taken, and how its result is told: on standard output in place of the log's lines.
typedef struct headless_drill {
    const sm_drill *drill;
    uint64_t seed;
    const char *crew; // NULL: nobody named
    bool json;
} headless_drill;

typedef struct headless_options {
    sm_show *show;
    const headless_drill *drill; // NULL: a plain rehearsal
    const char *script_path, *log_path, *readings_file, *device;
    const char *board;        // that the console begins with; NULL: the one chosen last
    const char *logbook_path; // NULL: the rehearsal is not kept
    sm_us sound_offset_us;
    int timecode_channel;    // 0: none
    const char *timecode_in; // "SIDE[:DEVICE]", which can be read; NULL: none
    bool silent, fast, bare;
    const char *lights, *lights_to, *lights_priority; // on a wire: interface, destinations; NULL: none
    const char *seats;                                // granted to those who follow; NULL: none
    const char *tell, *broker_keys;                   // a broker for followers; NULL: nobody is told
} headless_options;

// Returns the exit status. Takes the show, and destroys it or the one that a `reload` put in its place.
int headless_run(const headless_options *options);
// The same on the console, or as its LINES. DRILL gets what was taken; NULL: a plain rehearsal, whatever OPTIONS say.
int headless_run_console(const headless_options *h, bool lines, sm_drill_taken *drill);

// The options that rehearse and drill share, into OUT of HEADLESS_OPTIONS; where they put their values.
enum { HEADLESS_OPTIONS = 16 };
typedef struct headless_call {
    headless_options run;
    bool headless, lines;
    const char *offset, *timecode;
    char readings[CMD_PATH]; // where readings are that came through a pipe, or that stand in the show
} headless_call;
void headless_option_rows(headless_call *call, cmd_option out[HEADLESS_OPTIONS]);
// Reads what needs reading of them, for the show in FOLDER. False: a message was printed.
bool headless_call_read(headless_call *call, const char *folder);

// How a rehearsal is run. The built-in sequence acts by itself: only where it was asked for.
typedef enum headless_how { HEADLESS_REFUSED, HEADLESS_CONSOLE, HEADLESS_LINES, HEADLESS_LOG } headless_how;
// HEADLESS_REFUSED: a message was printed.
headless_how headless_choose(const headless_call *call);

#endif

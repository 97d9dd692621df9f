// SPDX-License-Identifier: GPL-3.0-or-later
// The console: the rehearsal of a show on a terminal, from the first screen to `quit`.
#ifndef SLOWMATCH_CONSOLE_H
#define SLOWMATCH_CONSOLE_H

#include "slowmatch/session.h"
#include "slowmatch/show.h"
#include "slowmatch/tell.h"

typedef struct sm_console_options {
    sm_show *show;               // loaded, its audio's end told; the console takes it over and destroys it
    const sm_findings *findings; // of loading and checking it, to be read on screen; NULL: none. Copied
    const char *
        readings_file; // as given to sm_show_load: read again by `reload` when it has no rows of its own; NULL
    sm_drill_taken *drill;           // NULL: a plain rehearsal
    const char *log_path;            // where the log goes; NULL: nowhere
    const char *logbook_path;        // the logbook that keeps it; NULL: it is not kept
    const char *device;              // part of the name of the sound device; NULL: the default
    sm_us sound_offset_us;           // see sm_audio_options
    int timecode_channel;            // where linear timecode goes out: 1 left, 2 right; 0: nowhere
    const char *board;               // that it begins with, by its name; NULL: the one chosen last
    bool silent;                     // no sound device
    bool bare;                       // every rail starts unplugged
    const sm_outlet *const *outlets; // outlet_count of them, as a session takes them
    size_t outlet_count;
    void *outlet_context;
} sm_console_options;

#define SM_CONSOLE_PROBLEM 320

// Why standard input and output are no terminal that the console can use; NULL where they are.
const char *sm_console_missing(void);

// The names of the boards that it can begin with, in the order of their keys; NULL past the last. Static.
const char *sm_console_board(size_t index);

// Runs the console until `quit`. Returns the exit status: 0 after `quit`; 2 when it could not begin (the log, the
// terminal, the sound clock) or ran out of memory at the start, with one line in PROBLEM. After `quit` PROBLEM says why the
// rehearsal is not in its logbook; "" where it is. A signal that ends the program
// makes safe, gives the terminal back and closes the log before the process dies by it: then it does not return.
// To be called from the main thread, before any other thread exists. Uses the locale of the environment for characters.
int sm_console_run(const sm_console_options *options, char problem[SM_CONSOLE_PROBLEM]);

// The console of a rehearsal that is told at BROKER: its boards, and nothing that acts. Waits until there is one. Otherwise as
// sm_console_run; also 2 where several are told and none was named.
int sm_console_follow(const sm_broker *broker, const sm_follow_options *options,
                      char problem[SM_CONSOLE_PROBLEM]);

// The same as lines, for terminals that show no console and for pipes: what is typed is read from standard input, what happens is told
// on standard output, neither of which need be a terminal. The end of the input is a `quit`. Ctrl-C makes safe and asks whether to
// leave. Also 2 where standard output takes nothing more.
int sm_console_run_lines(const sm_console_options *options, char problem[SM_CONSOLE_PROBLEM]);

#endif

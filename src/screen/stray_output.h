// SPDX-License-Identifier: GPL-3.0-or-later
// Descriptor 2 while the screen is up: libraries print to it at any time, from any thread, by the million lines where a
// sound server dies. It becomes a pipe that never blocks the writer, and is read by the screen's loop.
#ifndef SLOWMATCH_SCREEN_STRAY_OUTPUT_H
#define SLOWMATCH_SCREEN_STRAY_OUTPUT_H

#include "slowmatch/base.h"

typedef struct sm_stray_output {
    int saved;      // descriptor 2 as it was; -1: not caught
    int descriptor; // to read from
    sm_text latest; // whole lines, the latest few kilobytes
} sm_stray_output;

// SM_UNREADABLE (errno): nothing changed.
SM_MUST_CHECK sm_result sm_stray_output_catch(sm_stray_output *stray);
// Gives descriptor 2 back.
void sm_stray_output_release(sm_stray_output *stray);
// Reads some of what has come; never waits. True: there was something.
bool sm_stray_output_read(sm_stray_output *stray);

#endif

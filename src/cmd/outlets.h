// SPDX-License-Identifier: GPL-3.0-or-later
// What may follow a rehearsal: one file an outlet, one table.
#ifndef CMD_OUTLETS_H
#define CMD_OUTLETS_H

#include "cmd/headless.h"

#include "slowmatch/session.h"

// What the call asked for; every outlet finds its own options in here, and says what came of it.
typedef struct cmd_outlet_call {
    const headless_options *options;
    bool lines;        // the log's lines on standard output
    bool lines_failed; // they could not be written
    int lines_error;   // errno then
} cmd_outlet_call;

// All there are. A session's outlet_context is a cmd_outlet_call.
const sm_outlet *const *cmd_outlets(size_t *count);

extern const sm_outlet cmd_outlet_lines, cmd_outlet_lights, cmd_outlet_tell, cmd_outlet_timecode;

#endif

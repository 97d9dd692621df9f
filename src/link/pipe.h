// SPDX-License-Identifier: GPL-3.0-or-later
// Lines over a connected socket that never blocks.
#ifndef LINK_PIPE_H
#define LINK_PIPE_H

#include "slowmatch/link.h"

typedef struct link_pipe {
    int descriptor; // -1: closed
    char in[2 * SM_LINK_LINE];
    size_t in_length;
    bool in_cut; // the rest of a line that was too long is still to be dropped
    sm_text out; // not sent yet
} link_pipe;

void link_pipe_open(link_pipe *pipe, int descriptor);
void link_pipe_close(link_pipe *pipe);
// Queues LINE (what is not harmless becomes blanks) and sends what can be sent. False: the other end is gone, or takes nothing for long.
bool link_pipe_put(link_pipe *pipe, const char *line);
bool link_pipe_flush(link_pipe *pipe);

typedef enum link_got { LINK_GOT_NOTHING, LINK_GOT_LINE, LINK_GOT_END } link_got;
// The next whole line, what is not harmless as blanks; what is longer is cut.
link_got link_pipe_get(link_pipe *pipe, char line[SM_LINK_LINE]);

#endif

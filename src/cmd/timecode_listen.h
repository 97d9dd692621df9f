// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef CMD_TIMECODE_LISTEN_H
#define CMD_TIMECODE_LISTEN_H

#include "slowmatch/base.h"

// Shows what comes in at INPUT, "SIDE[:DEVICE]", held against SHOW (NULL: no show), until it is ended. Returns the exit status.
int cmd_timecode_listen(const sm_moment_base *show, const char *input);

#endif

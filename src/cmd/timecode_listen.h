// SPDX-License-Identifier: GPL-3.0-or-later
#ifndef CMD_TIMECODE_LISTEN_H
#define CMD_TIMECODE_LISTEN_H

#include "slowmatch/base.h"

// Shows what comes in at INPUT, "SIDE[:DEVICE]", held against SHOW (NULL: no show), bridging gaps of GAP_US, until it is ended. Returns the exit status.
int cmd_timecode_listen(const sm_moment_base *show, sm_us gap_us, const char *input);

#endif

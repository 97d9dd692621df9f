// SPDX-License-Identifier: GPL-3.0-or-later
// Timecode in: how it is asked for, and how it is told.
#ifndef CMD_TIMECODE_WORDS_H
#define CMD_TIMECODE_WORDS_H

#include "slowmatch/listen.h"

// "SIDE[:DEVICE]" of OPTION ("timecode-in"). *DEVICE points into TEXT, NULL: none was named. False: a message was printed.
bool cmd_timecode_input_read(const char *option, const char *text, int *channel, const char **device);
// "01:00:12:10"; "01:00:12;10" of drop-frame. Returns BUFFER.
char *cmd_timecode_number(const sm_timecode_heard *heard, char buffer[16]);
// "25 frames a second", "29.97 frames a second, drop-frame", appended.
void cmd_timecode_rate(sm_timecode_rate rate, bool drop, sm_text *out);

#endif

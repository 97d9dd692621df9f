// SPDX-License-Identifier: GPL-3.0-or-later
// Looks each second whether a file of the show's folder has changed since it was read. A disk that hangs holds a thread of its own, and
// nobody else.
#ifndef SLOWMATCH_CONSOLE_SHOW_WATCH_H
#define SLOWMATCH_CONSOLE_SHOW_WATCH_H

#include "slowmatch/show.h"

typedef struct sm_show_watch sm_show_watch;

#define SM_SHOW_WATCH_NAME 64

// READINGS_FILE (NULL: none) is --readings FILE: what is kept in it is no news, as in readings.csv. SM_NO_MEMORY. The caller stops it.
SM_MUST_CHECK sm_result sm_show_watch_start(const char *readings_file, sm_show_watch **out);
// NULL is taken.
void sm_show_watch_stop(sm_show_watch *watch);
// SHOW was read just now: changes count from here on.
void sm_show_watch_begin(sm_show_watch *watch, const sm_show *show);
// Has the next look taken when it is due; never waits. True: a file has changed, and NAME has the first that was seen ("cues.csv").
bool sm_show_watch_look(sm_show_watch *watch, char name[SM_SHOW_WATCH_NAME]);

#endif

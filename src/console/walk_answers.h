// SPDX-License-Identifier: GPL-3.0-or-later
// The walk that the screen shows: the items of the show at hand, answers of earlier walks and of this rehearsal. Screen's thread.
#ifndef SLOWMATCH_CONSOLE_WALK_ANSWERS_H
#define SLOWMATCH_CONSOLE_WALK_ANSWERS_H

#include "boards/view.h"

typedef struct sm_walkthrough sm_walkthrough;

// LOGBOOK_PATH (NULL: none): where earlier walks are read from; what cannot be read is as if it were not there. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_walkthrough_create(const char *logbook_path, sm_walkthrough **out);
void sm_walkthrough_destroy(sm_walkthrough *walkthrough);
// Takes in what is new in VIEW: another show, rows of the log, findings, wind. The walk as it stands now; NULL where there is none
// (the show's files cannot be read, memory ran out). Valid until the next call.
const sm_walk *sm_walkthrough_look(sm_walkthrough *walkthrough, const sm_view *view);

#endif

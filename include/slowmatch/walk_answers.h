// SPDX-License-Identifier: GPL-3.0-or-later
// The walk as it is ticked in this rehearsal: the items of the show at hand, answers of earlier walks and of this one. For one thread.
#ifndef SLOWMATCH_WALK_ANSWERS_H
#define SLOWMATCH_WALK_ANSWERS_H

#include "slowmatch/session.h"
#include "slowmatch/walk.h"

typedef struct sm_walkthrough sm_walkthrough;

// LOGBOOK_PATH (NULL: none): where earlier walks are read from; what cannot be read is as if it were not there. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_walkthrough_create(const char *logbook_path, sm_walkthrough **out);
void sm_walkthrough_destroy(sm_walkthrough *walkthrough);
// What it goes by.
typedef struct sm_walk_seen {
    const sm_snapshot *now;
    const sm_recent *recent;
    const sm_findings *findings; // of the rules; NULL while they have not been run
    sm_unix_us launch_us;        // when the rehearsal's wall time was 0
    sm_session *session;         // its logbook keeps which names are void; NULL: none does
    sm_walk_hash content; // of the show in `now` (sm_session_content); "": not known yet, and no name counts
} sm_walk_seen;
// Takes in what is new in SEEN: another show (its files are read), rows of the log, findings, wind. The walk as it stands now; NULL where there is none
// (the show's files cannot be read, memory ran out). Valid until the next call.
const sm_walk *sm_walkthrough_look(sm_walkthrough *walkthrough, const sm_walk_seen *seen);

#endif

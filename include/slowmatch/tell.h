// SPDX-License-Identifier: GPL-3.0-or-later
// Followers: a rehearsal told to a message broker (MQTT 5), and seen on other machines from these messages alone. What is told never
// comes back: a follower acts on nothing.
#ifndef SLOWMATCH_TELL_H
#define SLOWMATCH_TELL_H

#include "slowmatch/session.h"

// ---- the contract ---------------------------------------------------------------------------

// The manual page slowmatch-mqtt(7), appended to OUT.
void sm_tell_manual(sm_text *out);
// A JSON schema (draft 7) of the messages of the topic numbered TOPIC, from 0; *name gets the topic's last part. False: there is none.
bool sm_tell_schema(size_t topic, const char **name, sm_text *out);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// What a name means where a target may be named (`inhibit`, `allow`, call tones): a slot, rail, effect, fixture, group,
// position or zone. Pure; any thread.
#ifndef SLOWMATCH_TARGETS_H
#define SLOWMATCH_TARGETS_H

#include "slowmatch/show.h"

// A name, looked up. It may mean several things at once (a position and a group may share one): for a hold, all of them are meant.
typedef struct sm_named {
    uint32_t slot, rail, effect, fixture, group, position; // SM_NONE where the name means no such thing
    sm_zone zone;                                          // SM_ZONE_NONE likewise
} sm_named;
sm_named sm_named_look(const sm_show *show, const char *name);
// It means at least one thing.
bool sm_named_known(const sm_named *named);

bool sm_named_has_slot(const sm_show *show, const sm_named *named, uint32_t slot);
bool sm_named_has_firing(const sm_show *show, const sm_named *named, uint32_t firing);
bool sm_named_has_fixture(const sm_show *show, const sm_named *named, uint32_t fixture);

#endif

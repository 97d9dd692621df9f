// SPDX-License-Identifier: GPL-3.0-or-later
// What an `inhibit` or `allow` names: a slot, rail, effect, fixture, group, position or zone.
#ifndef ENGINE_TARGETS_H
#define ENGINE_TARGETS_H

#include "slowmatch/show.h"

// NAME names at least one thing of SHOW.
bool sm_targets_known(const sm_show *show, const char *name);

// A name may mean several things at once (a position and a group may share one): for a hold, all of them are meant.
bool sm_targets_has_firing(const sm_show *show, const char *name, uint32_t firing);
bool sm_targets_has_slot(const sm_show *show, const char *name, uint32_t slot);
bool sm_targets_has_fixture(const sm_show *show, const char *name, uint32_t fixture);

#endif

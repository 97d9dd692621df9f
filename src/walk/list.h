// SPDX-License-Identifier: GPL-3.0-or-later
// What the makers of items share.
#ifndef SLOWMATCH_WALK_LIST_H
#define SLOWMATCH_WALK_LIST_H

#include "slowmatch/walk.h"

typedef struct sm_walk_maker {
    sm_walk_list *list;
    uint32_t capacity;
    const sm_rig_report *rig;
    const sm_check_summary *summary;
    sm_text id, ask, detail; // of the item being made
    bool no_memory;
} sm_walk_maker;

// Puts the item behind the others: ITEM's id, ask and detail are taken from the maker's texts, which are empty afterwards.
void sm_walk_add(sm_walk_maker *maker, sm_walk_item item);

// The items that the show's tables give at POSITION (SM_NONE: of what has no position).
void sm_walk_add_rails(sm_walk_maker *maker, uint32_t position);
void sm_walk_add_fixtures(sm_walk_maker *maker, uint32_t position);
void sm_walk_add_fuel(sm_walk_maker *maker, uint32_t position);
void sm_walk_add_distance(sm_walk_maker *maker, uint32_t position);

#endif

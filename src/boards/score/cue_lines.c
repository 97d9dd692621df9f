// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/score/cue_lines.h"

#include <stdlib.h>
#include <string.h>

static bool copy_wrong(sm_roll *roll, const sm_snapshot *now) {
    const sm_show *show = roll->show;
    roll->wrong_slots = malloc(show->slot_count + 1u);
    roll->wrong_fixtures = malloc(show->fixture_count + 1u);
    if (!roll->wrong_slots || !roll->wrong_fixtures)
        return false;
    for (uint32_t slot = 0; slot < show->slot_count; slot++)
        roll->wrong_slots[slot] = sm_slot_went_wrong(&now->slots[slot]);
    memcpy(roll->wrong_fixtures, now->fixture_inhibited, show->fixture_count);
    return true;
}

sm_roll *sm_roll_create(const sm_show *show, const sm_filter *filter, const sm_snapshot *wrong) {
    sm_roll *roll = calloc(1, sizeof *roll);
    if (!roll)
        return NULL;
    roll->show = show;
    roll->filter = *filter;
    // Room for the most there can be: pages that are never written cost nothing.
    roll->lines = malloc((show->event_count + 1u) * sizeof *roll->lines);
    roll->instants = malloc((show->event_count + 1u) * sizeof *roll->instants);
    if (!roll->lines || !roll->instants || (wrong && !copy_wrong(roll, wrong))) {
        sm_roll_destroy(roll);
        return NULL;
    }
    return roll;
}

void sm_roll_destroy(sm_roll *roll) {
    if (roll) {
        free(roll->wrong_slots);
        free(roll->wrong_fixtures);
        free(roll->lines);
        free(roll->instants);
        free(roll);
    }
}

// ---- making it -----------------------------------------------------------------------------------

static bool went_wrong(const sm_roll *roll, uint32_t event) {
    const sm_event *at = &roll->show->events[event];
    return roll->show->cues[at->cue].kind == SM_CUE_FIRE
               ? roll->wrong_slots[roll->show->firings[at->target].slot]
               : roll->wrong_fixtures[at->target];
}

static void put(sm_roll *roll, uint32_t place) {
    const sm_show *show = roll->show;
    uint32_t event = show->order[place], cue = show->events[event].cue;
    sm_us due = sm_event_due_us(show, event);
    bool new_instant = roll->line_count == 0 || due != roll->due_us;
    if (!new_instant) {
        sm_roll_line *line = &roll->lines[roll->line_count - 1];
        if (show->events[show->order[line->first]].cue == cue) {
            line->end = place + 1;
            return;
        }
    } else {
        roll->instants[roll->instant_count++] = roll->line_count;
        roll->due_us = due;
    }
    roll->lines[roll->line_count++] = (sm_roll_line){place, place + 1, roll->events};
}

bool sm_roll_wants(const sm_roll *roll, uint32_t event) {
    return (!roll->wrong_slots || went_wrong(roll, event)) &&
           sm_filter_passes(&roll->filter, roll->show, event);
}

bool sm_roll_work(sm_roll *roll, uint32_t steps) {
    uint32_t left = roll->show->event_count - roll->looked;
    uint32_t end = roll->looked + (steps < left ? steps : left);
    for (; roll->looked < end; roll->looked++) {
        if (sm_roll_wants(roll, roll->show->order[roll->looked])) {
            put(roll, roll->looked);
            roll->events++;
        }
    }
    return sm_roll_is_whole(roll);
}

bool sm_roll_is_whole(const sm_roll *roll) {
    return roll->looked == roll->show->event_count;
}

// ---- asking ----------------------------------------------------------------------------------------

uint32_t sm_roll_line_at(const sm_roll *roll, uint32_t place) {
    uint32_t low = 0, high = roll->line_count;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (roll->lines[middle].end > place)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

sm_us sm_roll_due_us(const sm_roll *roll, uint32_t line) {
    return sm_event_due_us(roll->show, roll->show->order[roll->lines[line].first]);
}

static uint32_t events_before(const sm_roll *roll, uint32_t line) {
    return line < roll->line_count ? roll->lines[line].before : roll->events;
}

uint32_t sm_roll_events(const sm_roll *roll, uint32_t first, uint32_t end) {
    return events_before(roll, end) - events_before(roll, first);
}

uint32_t sm_roll_line_due(const sm_roll *roll, sm_us at) {
    uint32_t low = 0, high = roll->line_count;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (sm_roll_due_us(roll, middle) >= at)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

uint32_t sm_roll_instant_of(const sm_roll *roll, uint32_t line) {
    if (line >= roll->line_count)
        return roll->instant_count;
    uint32_t low = 0, high = roll->instant_count; // the last one that begins at or before LINE
    while (high - low > 1) {
        uint32_t middle = low + (high - low) / 2;
        if (roll->instants[middle] <= line)
            low = middle;
        else
            high = middle;
    }
    return low;
}

uint32_t sm_roll_instant_first(const sm_roll *roll, uint32_t instant) {
    return instant < roll->instant_count ? roll->instants[instant] : roll->line_count;
}

uint32_t sm_roll_instant_end(const sm_roll *roll, uint32_t instant) {
    return sm_roll_instant_first(roll, instant + 1);
}

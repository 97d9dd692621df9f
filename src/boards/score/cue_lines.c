// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/score/cue_lines.h"

#include <stdlib.h>
#include <string.h>

static bool copy_wrong(sm_cue_lines *lines, const sm_snapshot *now) {
    const sm_show *show = lines->show;
    lines->wrong_slots = malloc(show->slot_count + 1u);
    lines->wrong_fixtures = malloc(show->fixture_count + 1u);
    if (!lines->wrong_slots || !lines->wrong_fixtures)
        return false;
    for (uint32_t slot = 0; slot < show->slot_count; slot++)
        lines->wrong_slots[slot] = sm_slot_went_wrong(&now->slots[slot]);
    memcpy(lines->wrong_fixtures, now->fixture_inhibited, show->fixture_count);
    return true;
}

sm_cue_lines *sm_cue_lines_create(const sm_show *show, const sm_filter *filter, const sm_snapshot *wrong) {
    sm_cue_lines *lines = calloc(1, sizeof *lines);
    if (!lines)
        return NULL;
    lines->show = show;
    lines->filter = *filter;
    // Room for the most there can be: pages that are never written cost nothing.
    lines->at = malloc((show->event_count + 1u) * sizeof *lines->at);
    lines->instants = malloc((show->event_count + 1u) * sizeof *lines->instants);
    if (!lines->at || !lines->instants || (wrong && !copy_wrong(lines, wrong))) {
        sm_cue_lines_destroy(lines);
        return NULL;
    }
    return lines;
}

void sm_cue_lines_destroy(sm_cue_lines *lines) {
    if (lines) {
        free(lines->wrong_slots);
        free(lines->wrong_fixtures);
        free(lines->at);
        free(lines->instants);
        free(lines);
    }
}

// ---- making it -----------------------------------------------------------------------------------

static bool went_wrong(const sm_cue_lines *lines, uint32_t event) {
    const sm_event *at = &lines->show->events[event];
    return lines->show->cues[at->cue].kind == SM_CUE_FIRE
               ? lines->wrong_slots[lines->show->firings[at->target].slot]
               : lines->wrong_fixtures[at->target];
}

static void put(sm_cue_lines *lines, uint32_t place) {
    const sm_show *show = lines->show;
    uint32_t event = show->order[place], cue = show->events[event].cue;
    sm_us due = sm_event_due_us(show, event);
    bool new_instant = lines->line_count == 0 || due != lines->due_us;
    if (!new_instant) {
        sm_cue_line *line = &lines->at[lines->line_count - 1];
        if (show->events[show->order[line->first]].cue == cue) {
            line->end = place + 1;
            return;
        }
    } else {
        lines->instants[lines->instant_count++] = lines->line_count;
        lines->due_us = due;
    }
    lines->at[lines->line_count++] = (sm_cue_line){place, place + 1, lines->events};
}

bool sm_cue_lines_wants(const sm_cue_lines *lines, uint32_t event) {
    return (!lines->wrong_slots || went_wrong(lines, event)) &&
           sm_filter_passes(&lines->filter, lines->show, event);
}

bool sm_cue_lines_work(sm_cue_lines *lines, uint32_t steps) {
    uint32_t left = lines->show->event_count - lines->looked;
    uint32_t end = lines->looked + (steps < left ? steps : left);
    for (; lines->looked < end; lines->looked++) {
        if (sm_cue_lines_wants(lines, lines->show->order[lines->looked])) {
            put(lines, lines->looked);
            lines->events++;
        }
    }
    return sm_cue_lines_is_whole(lines);
}

bool sm_cue_lines_is_whole(const sm_cue_lines *lines) {
    return lines->looked == lines->show->event_count;
}

// ---- asking ----------------------------------------------------------------------------------------

uint32_t sm_cue_lines_at(const sm_cue_lines *lines, uint32_t place) {
    uint32_t low = 0, high = lines->line_count;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (lines->at[middle].end > place)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

sm_us sm_cue_lines_due_us(const sm_cue_lines *lines, uint32_t line) {
    return sm_event_due_us(lines->show, lines->show->order[lines->at[line].first]);
}

static uint32_t events_before(const sm_cue_lines *lines, uint32_t line) {
    return line < lines->line_count ? lines->at[line].before : lines->events;
}

uint32_t sm_cue_lines_events(const sm_cue_lines *lines, uint32_t first, uint32_t end) {
    return events_before(lines, end) - events_before(lines, first);
}

uint32_t sm_cue_lines_due(const sm_cue_lines *lines, sm_us at) {
    uint32_t low = 0, high = lines->line_count;
    while (low < high) {
        uint32_t middle = low + (high - low) / 2;
        if (sm_cue_lines_due_us(lines, middle) >= at)
            high = middle;
        else
            low = middle + 1;
    }
    return low;
}

uint32_t sm_cue_lines_instant_of(const sm_cue_lines *lines, uint32_t line) {
    if (line >= lines->line_count)
        return lines->instant_count;
    uint32_t low = 0, high = lines->instant_count; // the last one that begins at or before LINE
    while (high - low > 1) {
        uint32_t middle = low + (high - low) / 2;
        if (lines->instants[middle] <= line)
            low = middle;
        else
            high = middle;
    }
    return low;
}

uint32_t sm_cue_lines_instant_first(const sm_cue_lines *lines, uint32_t instant) {
    return instant < lines->instant_count ? lines->instants[instant] : lines->line_count;
}

uint32_t sm_cue_lines_instant_end(const sm_cue_lines *lines, uint32_t instant) {
    return sm_cue_lines_instant_first(lines, instant + 1);
}

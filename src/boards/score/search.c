// SPDX-License-Identifier: GPL-3.0-or-later
#include "boards/score/search.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool matches_text(const sm_search *search, const char *text) {
    return strcasestr(text, search->text) != NULL;
}

sm_search *sm_search_create(const sm_cue_lines *lines, const char *text) {
    const sm_show *show = lines->show;
    sm_search *search = calloc(1, sizeof *search);
    if (!search)
        return NULL;
    search->lines = lines;
    snprintf(search->text, sizeof search->text, "%s", text);
    search->effects = calloc(show->effect_count + 1u, sizeof *search->effects);
    search->fixtures = calloc(show->fixture_count + 1u, sizeof *search->fixtures);
    search->slots = calloc(show->slot_count + 1u, sizeof *search->slots);
    // Room for the most there can be: pages that are never written cost nothing.
    search->matches = malloc((lines->line_count + 1u) * sizeof *search->matches);
    if (!search->effects || !search->fixtures || !search->slots || !search->matches) {
        sm_search_destroy(search);
        return NULL;
    }
    for (uint32_t i = 0; i < show->effect_count; i++)
        search->effects[i] = matches_text(search, show->effects[i].name);
    for (uint32_t i = 0; i < show->fixture_count; i++)
        search->fixtures[i] = matches_text(search, show->fixtures[i].name);
    return search;
}

void sm_search_destroy(sm_search *search) {
    if (search) {
        free(search->effects);
        free(search->fixtures);
        free(search->slots);
        free(search->matches);
        free(search);
    }
}

static bool slot_matches(sm_search *search, uint32_t slot) {
    if (search->slots[slot] == 0) {
        char name[48];
        search->slots[slot] = matches_text(search, sm_slot_format(search->lines->show, slot, name)) ? 2 : 1;
    }
    return search->slots[slot] == 2;
}

static bool event_matches(sm_search *search, uint32_t event, bool fires) {
    const sm_show *show = search->lines->show;
    uint32_t target = show->events[event].target;
    if (!fires)
        return search->fixtures[target];
    const sm_firing *firing = &show->firings[target];
    return search->effects[firing->effect] || slot_matches(search, firing->slot);
}

static bool line_matches(sm_search *search, const sm_cue_line *line) {
    const sm_cue_lines *lines = search->lines;
    const sm_show *show = lines->show;
    uint32_t cue = show->events[show->order[line->first]].cue;
    char id[12];
    if (matches_text(search, sm_cue_id(show, cue, id)) ||
        matches_text(search, sm_show_text(show, show->cues[cue].note)))
        return true;
    bool fires = show->cues[cue].kind == SM_CUE_FIRE;
    for (uint32_t place = line->first; place < line->end; place++)
        if (event_matches(search, show->order[place], fires) && sm_cue_lines_wants(lines, show->order[place]))
            return true;
    return false;
}

bool sm_search_work(sm_search *search, uint32_t steps) {
    while (search->looked < search->lines->line_count && steps > 0) {
        const sm_cue_line *line = &search->lines->at[search->looked];
        if (line_matches(search, line))
            search->matches[search->match_count++] = search->looked;
        uint32_t cost = 1 + (line->end - line->first) / 16; // a target costs little beside the texts of a cue
        steps -= cost < steps ? cost : steps;
        search->looked++;
    }
    return sm_search_is_whole(search);
}

bool sm_search_is_whole(const sm_search *search) {
    return search->looked == search->lines->line_count;
}

uint32_t sm_search_after(const sm_search *search, uint32_t line, bool *wrapped) {
    uint32_t low = 0, high = search->match_count;
    while (low < high && line != SM_NONE) {
        uint32_t middle = low + (high - low) / 2;
        if (search->matches[middle] > line)
            high = middle;
        else
            low = middle + 1;
    }
    *wrapped = low == search->match_count && low > 0;
    return *wrapped ? 0 : low;
}

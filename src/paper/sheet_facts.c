// SPDX-License-Identifier: GPL-3.0-or-later
#include "paper/sheets.h"

#include <string.h>

static bool count_firings(paper_facts *facts) {
    const sm_show *show = facts->show;
    facts->firing_counts =
        sm_arena_alloc(facts->arena, ((size_t)show->slot_count + 1) * sizeof *facts->firing_counts);
    for (uint32_t i = 0; facts->firing_counts && i < show->firing_count; i++)
        facts->firing_counts[show->firings[i].slot]++;
    return facts->firing_counts != NULL;
}

static bool find_lines(paper_facts *facts) {
    const sm_show *show = facts->show;
    facts->fixture_lines =
        sm_arena_alloc(facts->arena, ((size_t)show->fixture_count + 1) * sizeof *facts->fixture_lines);
    if (!facts->fixture_lines)
        return false;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        facts->fixture_lines[f] = SM_NONE;
    for (uint32_t l = show->line_count; l-- > 0;)
        for (uint32_t k = 0; k < show->lines[l].chain_count; k++)
            facts->fixture_lines[show->lines[l].chain[k]] = l;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        facts->unlined += facts->fixture_lines[f] == SM_NONE;
    return true;
}

// What the logbook tells of slots that this show has.
static bool find_fates(paper_facts *facts) {
    const sm_show *show = facts->show;
    const sm_logbook_fates *after = facts->after;
    facts->fates = sm_arena_alloc(facts->arena, ((size_t)show->slot_count + 1) * sizeof *facts->fates);
    facts->readings = sm_arena_alloc(facts->arena, ((size_t)show->slot_count + 1) * sizeof *facts->readings);
    if (!facts->fates || !facts->readings)
        return false;
    uint32_t slot;
    for (size_t i = 0; after && i < after->slot_count; i++)
        if (sm_slot_find(show, after->slots[i].slot, strlen(after->slots[i].slot), &slot) == SM_OK)
            facts->fates[slot] = &after->slots[i];
    for (size_t i = 0; after && i < after->reading_count; i++)
        if (sm_slot_find(show, after->readings[i].slot, strlen(after->readings[i].slot), &slot) == SM_OK)
            facts->readings[slot] = &after->readings[i];
    return true;
}

sm_result paper_facts_init(paper_facts *facts, const sm_show *show, const sm_logbook_fates *after,
                           sm_arena *arena) {
    *facts = (paper_facts){.show = show, .after = after, .arena = arena};
    facts->feeds = sm_arena_alloc(arena, ((size_t)show->feed_count + 1) * sizeof *facts->feeds);
    sm_result result = SM_NO_MEMORY;
    if (facts->feeds && count_firings(facts) && find_lines(facts) && find_fates(facts))
        result = sm_check_summary_create(show, &facts->summary);
    if (result == SM_OK)
        result = sm_site_feeds(show, facts->feeds);
    if (result == SM_OK)
        result = sm_walk_list_create(show, NULL, &facts->walk);
    if (result != SM_OK)
        paper_facts_deinit(facts);
    return result;
}

void paper_facts_deinit(paper_facts *facts) {
    sm_check_summary_destroy(facts->summary);
    sm_walk_list_destroy(facts->walk);
}

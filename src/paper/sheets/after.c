// SPDX-License-Identifier: GPL-3.0-or-later
// AFTER: what became of every slot, and the search.
#include "paper/sheets.h"

#include <assert.h>
#include <string.h>

// Which of the three columns takes what the log tells.
static const size_t columns_of[] = {
    [SM_FATE_NOT_FIRED] = 2, [SM_FATE_FIRED] = 0, [SM_FATE_MISFIRED] = 1,
    [SM_FATE_PASSED] = 2,    [SM_FATE_HELD] = 2,
};
static_assert(sizeof columns_of / sizeof columns_of[0] == SM_FATE_COUNT, "a column for each fate");

// By hand, or as the log tells.
static void put_fate(paper_kit *kit, const paper_facts *facts, uint32_t slot) {
    if (!facts->after) {
        paper_boxes(kit, 3);
        return;
    }
    const sm_logbook_slot *told = facts->fates[slot];
    const sm_fate fate = told ? told->fate : SM_FATE_NOT_FIRED;
    for (size_t i = 0; i < 3; i++) {
        paper_cell(kit, 1);
        if (columns_of[fate] == i)
            paper_put(kit, PAPER_STRONG, "X");
    }
    paper_cell(kit, 1);
    if (fate == SM_FATE_MISFIRED)
        paper_put(kit, PAPER_STRONG, "LIVE, %s: %s", told->is_reported ? "reported" : "NOT REPORTED",
                  told->detail);
    else if (fate != SM_FATE_FIRED)
        paper_put(kit, PAPER_TEXT, "LIVE, %s", sm_fate_text(fate));
    else if (strcmp(
                 told->detail,
                 facts->show->effects[facts->show->firings[facts->show->slot_firings[slot]].effect].name) !=
             0)
        paper_put(kit, PAPER_TEXT, "%s", told->detail); // partial
}

static void put_slot(paper_kit *kit, const paper_facts *facts, uint32_t slot) {
    const sm_show *show = facts->show;
    char name[48];
    const sm_firing *firing = &show->firings[show->slot_firings[slot]];
    paper_row_begin(kit);
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, sm_slot_format(show, slot, name));
    paper_text_cell(kit, PAPER_TEXT, "%s", show->effects[firing->effect].name);
    put_fate(kit, facts, slot);
    paper_row_end(kit);
}

void paper_make_after(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {
        {"slot", 104, false},     {"effect", 150, false},  {"fired", 62, true},
        {"mis- fired", 62, true}, {"not fired", 62, true}, {"found, reported, by whom", 278, false},
    };
    static const char *const tonight[] = {"search tonight: by", "from", "to", NULL};
    static const char *const first_light[] = {"at first light: by", "from", "to", NULL};
    static const char *const parts[] = {"hot parts marked by", "found in all", NULL};
    const sm_show *show = facts->show;
    (void)index;
    paper_subject(kit, "fired, misfired, not fired, found");
    if (facts->after) {
        char when[24];
        paper_paragraph(
            kit, PAPER_STRONG,
            "Filled from rehearsal %lld, begun %s: what a simulation logged, not what happened on a field.",
            (long long)facts->after->number, sm_walk_when_format(when, facts->after->began_us));
    }
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 36);
    for (uint32_t r = 0; r < show->rail_count; r++) {
        const sm_rail *rail = &show->rails[r];
        if (!sm_rail_in_use(show, r))
            continue;
        paper_group(kit, "Rail %s%s%s", rail->name, rail->position == SM_NONE ? "" : " at ",
                    rail->position == SM_NONE ? "" : show->positions[rail->position].name);
        for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++)
            if (show->slot_firings[slot] != SM_NONE)
                put_slot(kit, facts, slot);
    }
    paper_table_end(kit);
    paper_keep(kit, 90);
    paper_form(kit, tonight);
    paper_form(kit, first_light);
    paper_form(kit, parts);
}

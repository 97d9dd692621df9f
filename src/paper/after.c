// SPDX-License-Identifier: GPL-3.0-or-later
// AFTER: what became of every slot, and the search.
#include "paper/sheets.h"

static void put_slot(paper_kit *kit, const sm_show *show, uint32_t slot) {
    char name[48];
    const sm_firing *firing = &show->firings[show->slot_firings[slot]];
    paper_row_begin(kit);
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, sm_slot_format(show, slot, name));
    paper_cell(kit, 1);
    paper_put(kit, PAPER_TEXT, "%s", show->effects[firing->effect].name);
    paper_boxes(kit, 3);
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
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 36);
    for (uint32_t r = 0; r < show->rail_count; r++) {
        const sm_rail *rail = &show->rails[r];
        if (!sm_rail_in_use(show, r))
            continue;
        paper_group(kit, "Rail %s%s%s", rail->name, rail->position == SM_NONE ? "" : " at ",
                    rail->position == SM_NONE ? "" : show->positions[rail->position].name);
        for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++)
            if (show->slot_firings[slot] != SM_NONE)
                put_slot(kit, show, slot);
    }
    paper_table_end(kit);
    paper_keep(kit, 90);
    paper_form(kit, tonight);
    paper_form(kit, first_light);
    paper_form(kit, parts);
}

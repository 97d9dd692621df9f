// SPDX-License-Identifier: GPL-3.0-or-later
// WALK: the walk's items in walking order, to be answered with a pencil. What LOAD, OHMS and LINE hold is asked for by their names,
// not told again: so a new address or reading voids those sheets alone.
#include "paper/sheets.h"

#include <string.h>

static void put_ask(paper_kit *kit, const paper_facts *facts, const sm_walk_item *item) {
    const sm_show *show = facts->show;
    uint32_t line;
    switch (item->kind) {
    case SM_WALK_SLOTS:
        paper_put(kit, PAPER_TEXT,
                  "LOAD %s was read aloud, its words are the laptop's; at every slot stands what it says",
                  show->rails[item->index].name);
        break;
    case SM_WALK_READINGS:
        paper_put(kit, PAPER_TEXT,
                  "Rail %s read with everybody out and counted: as OHMS predicts (continuity only; not proof "
                  "that it "
                  "fires)",
                  show->rails[item->index].name);
        break;
    case SM_WALK_UNIT:
        line = facts->fixture_lines[item->index];
        paper_put(kit, PAPER_TEXT, "%s set as LINE %s says, read back aloud, moved alone, aimed",
                  show->fixtures[item->index].name, line == SM_NONE ? "(none)" : show->lines[line].name);
        break;
    default:
        paper_put(kit, PAPER_TEXT, "%s", item->ask);
        if (item->kind == SM_WALK_DISTANCE)
            paper_put(kit, PAPER_TEXT, "%s", item->detail);
        break;
    }
    if (item->measured)
        paper_put_blank(kit, "measured", 120);
}

static void put_item(paper_kit *kit, const paper_facts *facts, const sm_walk_item *item) {
    paper_row_begin(kit);
    paper_cell(kit, 1);
    put_ask(kit, facts, item);
    paper_text_cell(kit, PAPER_TEXT, "%s", item->expect);
    if (item->hold)
        paper_put(kit, PAPER_STRONG, "HOLD");
    paper_text_cell(kit, PAPER_TEXT, "yes  no  na  later");
    paper_row_end(kit);
}

static void put_place(paper_kit *kit, const sm_walk_list *list, uint32_t position, bool is_after) {
    if (position == SM_NONE) {
        paper_group(kit, is_after ? "After the places" : "Before the places");
        return;
    }
    uint32_t stop = 0;
    while (stop < list->route_count && list->route[stop] != position)
        stop++;
    paper_group(kit, "Place %u of %u: %s", stop + 1, list->route_count, list->show->positions[position].name);
}

void paper_make_walk(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {
        {"asked", 400, false}, {"expected", 66, true}, {"answer", 128, true}, {"who, when", 124, false}};
    static const char *const signature[] = {"name", "time", "name", "time", NULL};
    const sm_walk_list *list = facts->walk;
    bool is_after = false;
    (void)index;
    paper_subject(kit, "%u items, %u places, %.0f m on foot", list->count, list->route_count, list->metres);
    paper_paragraph(kit, PAPER_TEXT,
                    "HOLD: the walk stops here until this is resolved. No list is complete for a site.");
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 30);
    for (uint32_t i = 0; i < list->count; i++) {
        const sm_walk_item *item = &list->items[i];
        if (i == 0 || item->position != list->items[i - 1].position)
            put_place(kit, list, item->position, is_after);
        is_after = is_after || item->position != SM_NONE;
        put_item(kit, facts, item);
    }
    paper_table_end(kit);
    paper_keep(kit, 60);
    paper_paragraph(kit, PAPER_TEXT, "Two different people. A name is a record, not a permission.");
    paper_form(kit, signature);
}

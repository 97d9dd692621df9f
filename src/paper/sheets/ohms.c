// SPDX-License-Identifier: GPL-3.0-or-later
// OHMS: what each slot of a module should read, with room for three measurings.
#include "paper/sheets.h"

static void put_slot(paper_kit *kit, const paper_facts *facts, const sm_rail *rail, uint32_t slot) {
    const sm_show *show = facts->show;
    const uint32_t firing = show->slot_firings[slot];
    char name[48];
    paper_row_begin(kit);
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, sm_slot_format(show, slot, name));
    paper_text_cell(kit, PAPER_TEXT, "%d", (int)(rail->first + (int32_t)(slot - rail->slot_base)));
    paper_cell(kit, 1);
    if (firing == SM_NONE) {
        paper_put(kit, PAPER_TEXT, "SPARE: open");
    } else {
        const sm_rig_loop loop = sm_rig_firing_loop(show, firing);
        paper_put(kit, PAPER_TEXT, "%.2f to %.2f", loop.low_ohms, loop.high_ohms);
    }
    paper_cell(kit, 1);
    const sm_logbook_reading *reading = facts->readings[slot];
    if (reading)
        paper_put(kit, PAPER_TEXT, "%s %s", reading->value, reading->person);
    paper_row_end(kit);
}

// The logbook has a reading of a slot of MODULE.
static bool is_read(const paper_facts *facts, uint32_t module) {
    const sm_show *show = facts->show;
    bool any = false;
    for (uint32_t slot = 0; slot < show->slot_count && !any; slot++)
        any = facts->readings[slot] && show->rails[show->slot_rails[slot]].module == module;
    return any;
}

void paper_make_ohms(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {
        {"slot", 104, false},           {"module slot", 58, true},      {"ohms predicted", 118, true},
        {"read, 1st time", 146, false}, {"read, 2nd time", 146, false}, {"read, 3rd time", 146, false},
    };
    static const char *const meter[] = {"meter number", "zeroed", "its test current", NULL};
    const sm_show *show = facts->show;
    const sm_module *module = &show->modules[index];
    paper_subject(kit, "test current %g mA", module->test_current_amps * 1e3);
    paper_form(kit, meter);
    if (facts->after)
        paper_paragraph(kit, PAPER_TEXT,
                        is_read(facts, index)
                            ? "1st time: the last readings that the logbook has of this show."
                            : "The logbook has no reading of this module: all three times are to be read.");
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 28);
    paper_row_begin(kit);
    paper_cell(kit, 3);
    paper_put(kit, PAPER_TEXT, "everybody out and counted; time, and name of who reads");
    paper_row_end(kit);
    for (uint32_t r = 0; r < show->rail_count; r++) {
        const sm_rail *rail = &show->rails[r];
        if (rail->module != index)
            continue;
        for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++)
            put_slot(kit, facts, rail, slot);
    }
    paper_table_end(kit);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// LOAD: what stands at each slot of a rail. It holds no moment, so that a cue that only moves in time leaves it as it is.
#include "paper/sheets.h"

#include <string.h>

static void put_igniters(paper_kit *kit, const sm_show *show, const sm_firing *firing) {
    const sm_igniter *igniter = &show->igniters[show->effects[firing->effect].igniter];
    const bool is_series = firing->load == SM_LOAD_SERIES;
    if (igniter->name[0] != '\0')
        paper_put(kit, PAPER_TEXT, "%s", igniter->name);
    if (firing->load == SM_LOAD_ONE || firing->igniters == 1)
        paper_put(kit, PAPER_TEXT, "one igniter");
    else
        paper_put(kit, PAPER_NAME, "%d IN %s", (int)firing->igniters, is_series ? "SERIES" : "PARALLEL");
    if (firing->wire_m > 0)
        paper_put(kit, PAPER_STRONG, "+ %g m %s", firing->wire_m, firing->wire.text);
}

// Large, to be read at arm's length; of a rail with a long name the number alone is.
static void put_name(paper_kit *kit, const sm_show *show, uint32_t slot) {
    char name[48];
    sm_slot_format(show, slot, name);
    paper_cell(kit, 1);
    if (paper_width_px(PAPER_SLOT, name, strlen(name)) > kit->cell_width_px)
        paper_put(kit, PAPER_SLOT, "%s", strrchr(name, '-') + 1);
    paper_put_name(kit, PAPER_SLOT, name);
}

static void put_used(paper_kit *kit, const paper_facts *facts, uint32_t slot) {
    const sm_show *show = facts->show;
    const uint32_t row = show->slot_firings[slot];
    const sm_firing *firing = &show->firings[row];
    const sm_effect *effect = &show->effects[firing->effect];
    const sm_rig_loop loop = sm_rig_firing_loop(show, row);
    char id[12];
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, effect->name);
    paper_put(kit, PAPER_TEXT, "%s", effect->note);
    paper_cell(kit, 1);
    put_igniters(kit, show, firing);
    paper_put(kit, PAPER_TEXT, "%.2f to %.2f", loop.low_ohms, loop.high_ohms);
    paper_cell(kit, 1); // the aim: where nothing tells it, to write in
    paper_put(kit, PAPER_TEXT, "%s", sm_firing_aim(show, firing));
    paper_text_cell(kit, PAPER_TEXT, "%s", sm_cue_id(show, show->events[firing->event].cue, id));
    if (facts->firing_counts[slot] > 1)
        paper_put(kit, PAPER_STRONG, "and %u more: ask", facts->firing_counts[slot] - 1);
    paper_boxes(kit, 4);
}

static void put_spare(paper_kit *kit) {
    paper_cell(kit, 4);
    paper_put(kit, PAPER_NAME, "SPARE");
    paper_put(kit, PAPER_TEXT, "nothing stands here: no igniter, no lead");
    paper_cell(kit, 3);
    paper_put(kit, PAPER_TEXT, "seen empty, by name");
    paper_boxes(kit, 1);
}

void paper_make_load(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {
        {"slot", 74, false},         {"effect", 190, false},     {"igniter, ohms predicted", 122, false},
        {"aim", 58, false},          {"cue", 46, true},          {"product in", 57, true},
        {"aimed, braced", 57, true}, {"screws tight", 57, true}, {"shunt off", 57, true},
    };
    const sm_show *show = facts->show;
    const sm_rail *rail = &show->rails[index];
    const sm_check_share *share = &facts->summary->rails[index];
    if (rail->position != SM_NONE)
        paper_subject(kit, "at %s", show->positions[rail->position].name);
    paper_paragraph(kit, PAPER_STRONG,
                    "Module %s, its slots %d to %d. Rail cable %g m %s. %u of %u slots used.",
                    rail->module == SM_NONE ? "?" : show->modules[rail->module].name, (int)rail->first,
                    (int)(rail->first + rail->slots - 1), rail->cable_m, rail->cable.text, share->slots_used,
                    share->slots);
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 48);
    for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++) {
        paper_row_begin(kit);
        put_name(kit, show, slot);
        if (show->slot_firings[slot] == SM_NONE)
            put_spare(kit);
        else
            put_used(kit, facts, slot);
        paper_row_end(kit);
    }
    paper_table_end(kit);
}

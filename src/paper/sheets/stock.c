// SPDX-License-Identifier: GPL-3.0-or-later
// STOCK: what must be there on the day, as the summary of the check counts it.
#include "paper/sheets.h"

#include <math.h>
#include <string.h>

typedef struct group {
    const char *kind; // of the summary's stock
    const char *head;
} group;

static const group groups[] = {
    {"effect", "Effects"},
    {"igniter", "Igniters, of one lot each"},
    {"wire", "Extra wire, by gauge"},
    {"cable", "Cables"},
    {"terminator", "Terminators, one at the last unit of a line"},
    {"cord", "Mains cords"},
};

static void put_need(paper_kit *kit, const char *what, const char *more, const char *needed) {
    paper_row_begin(kit);
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, what);
    paper_put(kit, PAPER_TEXT, "%s", more);
    paper_text_cell(kit, PAPER_STRONG, "%s", needed);
    for (int blank = 0; blank < 3; blank++)
        paper_cell(kit, 1);
    paper_boxes(kit, 1);
    paper_row_end(kit);
}

// What the show says of an effect beside its name, "" of other things.
static const char *note_of(const sm_show *show, const sm_check_stock *stock) {
    const uint32_t effect = strcmp(stock->kind, "effect") == 0 ? sm_effect_find(show, stock->name) : SM_NONE;
    return effect == SM_NONE ? "" : show->effects[effect].note;
}

static void put_group(paper_kit *kit, const paper_facts *facts, const group *of) {
    bool has_head = false;
    for (uint32_t i = 0; i < facts->summary->stock_count; i++) {
        const sm_check_stock *stock = &facts->summary->stock[i];
        if (strcmp(stock->kind, of->kind) != 0)
            continue;
        if (!has_head)
            paper_group(kit, "%s", of->head);
        has_head = true;
        sm_text needed = {0};
        sm_text_printf(&needed, "%g%s%s", ceil(stock->amount), stock->unit[0] != '\0' ? " " : "",
                       stock->unit);
        put_need(kit, stock->name, note_of(facts->show, stock), sm_text_get(&needed));
        paper_text_done(kit, &needed);
    }
}

// Of each flame unit, also where its burning is not told.
static void put_fuel(paper_kit *kit, const sm_check_summary *summary) {
    if (summary->unit_count > 0)
        paper_group(kit, "Fuel: what the cues burn; the reserve on top is yours");
    for (uint32_t i = 0; i < summary->unit_count; i++) {
        const sm_check_unit *unit = &summary->units[i];
        sm_text fitted = {0}, burned = {0};
        if (isfinite(unit->fuel_ml))
            sm_text_printf(&fitted, "the list says %g ml fitted", unit->fuel_ml);
        else
            sm_text_printf(&fitted, "the list does not say what is fitted");
        if (isfinite(unit->fuel_ml) && isfinite(unit->used_ml))
            sm_text_printf(&fitted, ": %g ml over", floor(unit->fuel_ml - unit->used_ml));
        if (isfinite(unit->used_ml))
            sm_text_printf(&burned, "%g ml", ceil(unit->used_ml));
        else
            sm_text_printf(&burned, "not known");
        put_need(kit, unit->name, sm_text_get(&fitted), sm_text_get(&burned));
        paper_text_done(kit, &fitted);
        paper_text_done(kit, &burned);
    }
}

void paper_make_stock(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {
        {"what", 290, false},  {"needed", 108, true},   {"spare taken", 88, true},
        {"counted", 88, true}, {"left over", 88, true}, {"there", 56, true},
    };
    (void)index;
    paper_subject(kit, "what must be there");
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 37);
    for (size_t i = 0; i < sizeof groups / sizeof groups[0]; i++)
        put_group(kit, facts, &groups[i]);
    put_fuel(kit, facts->summary);
    paper_table_end(kit);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// STOCK: what must be there on the day, counted from the tables.
#include "paper/sheets.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static const paper_column columns[] = {
    {"what", 290, false},  {"needed", 108, true},   {"spare taken", 88, true},
    {"counted", 88, true}, {"left over", 88, true}, {"there", 56, true},
};

static void put_need(paper_kit *kit, const char *what, const char *more, const char *needed) {
    paper_row_begin(kit);
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, what);
    paper_put(kit, PAPER_TEXT, "%s", more);
    paper_cell(kit, 1);
    paper_put(kit, PAPER_STRONG, "%s", needed);
    for (int blank = 0; blank < 3; blank++)
        paper_cell(kit, 1);
    paper_boxes(kit, 1);
    paper_row_end(kit);
}

static void put_count(paper_kit *kit, const char *what, const char *more, uint32_t count) {
    sm_text text = {0};
    sm_text_printf(&text, "%u", count);
    put_need(kit, what, more, sm_text_get(&text));
    sm_text_deinit(&text);
}

// ---- lengths that are alike --------------------------------------------------------------

// Cables of one gauge and length, or wire of one gauge.
typedef struct piece {
    const char *gauge; // "" for data cable
    double metres;
    uint32_t count;
} piece;

typedef struct pieces {
    piece *rows;
    uint32_t count;
} pieces;

static int piece_compare(const void *left, const void *right) {
    const piece *a = left, *b = right;
    const int gauges = strcmp(a->gauge, b->gauge);
    return gauges != 0 ? gauges : (a->metres > b->metres) - (a->metres < b->metres);
}

// Room for COUNT; false where memory ran out.
static bool pieces_init(paper_kit *kit, pieces *all, size_t count) {
    *all = (pieces){calloc(count + 1, sizeof(piece)), 0};
    kit->failed = kit->failed || !all->rows;
    return all->rows != NULL;
}

static void add_piece(pieces *all, const char *gauge, double metres) {
    if (metres > 0)
        all->rows[all->count++] = (piece){gauge, metres, 1};
}

// Puts a row for each kind of piece, "3 of 15 m", and frees them.
static void put_pieces(paper_kit *kit, const char *what, pieces *all) {
    if (all->count > 0)
        qsort(all->rows, all->count, sizeof *all->rows, piece_compare);
    for (uint32_t i = 0; i < all->count;) {
        const piece *first = &all->rows[i];
        uint32_t count = 0;
        for (; i < all->count && piece_compare(first, &all->rows[i]) == 0; i++)
            count++;
        sm_text name = {0};
        sm_text_printf(&name, "%s %g m", what, first->metres);
        put_count(kit, sm_text_get(&name), first->gauge, count);
        sm_text_deinit(&name);
    }
    free(all->rows);
}

// ---- the groups --------------------------------------------------------------------------------

static void put_effects(paper_kit *kit, const paper_facts *facts) {
    paper_group(kit, "Effects");
    for (uint32_t e = 0; e < facts->summary->effect_count; e++)
        if (facts->summary->effects[e].events > 0)
            put_count(kit, facts->show->effects[e].name, facts->show->effects[e].note,
                      facts->summary->effects[e].events);
}

static void put_igniters(paper_kit *kit, const sm_show *show) {
    uint32_t *counts = calloc((size_t)show->igniter_count + 1, sizeof *counts);
    if (!counts) {
        kit->failed = true;
        return;
    }
    for (uint32_t i = 0; i < show->firing_count; i++)
        counts[show->effects[show->firings[i].effect].igniter] += (uint32_t)show->firings[i].igniters;
    paper_group(kit, "Igniters, of one lot each");
    for (uint32_t i = 0; i < show->igniter_count; i++)
        if (counts[i] > 0) {
            sm_text lead = {0};
            sm_text_printf(&lead, "%g ohm, lead %g m %s", show->igniters[i].ohms, show->igniters[i].lead_m,
                           show->igniters[i].lead.text);
            put_count(kit, show->igniters[i].name[0] != '\0' ? show->igniters[i].name : "igniters",
                      sm_text_get(&lead), counts[i]);
            sm_text_deinit(&lead);
        }
    free(counts);
}

static void put_wire(paper_kit *kit, const sm_show *show) {
    pieces cables, runs;
    if (!pieces_init(kit, &cables, show->rail_count))
        return;
    for (uint32_t r = 0; r < show->rail_count; r++)
        add_piece(&cables, show->rails[r].cable.text, show->rails[r].cable_m);
    paper_group(kit, "Wire");
    put_pieces(kit, "rail cable", &cables);
    if (!pieces_init(kit, &runs, show->firing_count))
        return;
    for (uint32_t i = 0; i < show->firing_count; i++)
        add_piece(&runs, show->firings[i].wire.text, show->firings[i].wire_m);
    put_pieces(kit, "extra run", &runs);
}

static void put_data(paper_kit *kit, const sm_show *show) {
    pieces cables;
    size_t count = 0;
    for (uint32_t l = 0; l < show->line_count; l++)
        count += show->lines[l].cable_count;
    if (show->line_count == 0 || !pieces_init(kit, &cables, count))
        return;
    for (uint32_t l = 0; l < show->line_count; l++)
        for (uint32_t c = 0; c < show->lines[l].cable_count; c++)
            add_piece(&cables, "", show->lines[l].cables_m[c]);
    paper_group(kit, "Data lines");
    put_pieces(kit, "data cable", &cables);
    put_count(kit, "terminator", "one a line, at its last unit", show->line_count);
}

static void put_cords(paper_kit *kit, const sm_show *show) {
    pieces cords;
    if (show->feed_count == 0 || !pieces_init(kit, &cords, show->feed_count))
        return;
    for (uint32_t f = 0; f < show->feed_count; f++)
        add_piece(&cords, show->feeds[f].cord.text, show->feeds[f].cord_m);
    paper_group(kit, "Mains");
    put_pieces(kit, "cord", &cords);
}

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
        sm_text_deinit(&fitted);
        sm_text_deinit(&burned);
    }
}

void paper_make_stock(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    (void)index;
    paper_subject(kit, "what must be there");
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 37);
    put_effects(kit, facts);
    put_igniters(kit, facts->show);
    put_wire(kit, facts->show);
    put_data(kit, facts->show);
    put_cords(kit, facts->show);
    put_fuel(kit, facts->summary);
    paper_table_end(kit);
}

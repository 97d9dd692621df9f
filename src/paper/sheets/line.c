// SPDX-License-Identifier: GPL-3.0-or-later
// LINE: the chain of a data line as it is laid, and what is set at each unit.
#include "paper/sheets.h"

#include <stdio.h>
#include <string.h>

// ---- the chain ---------------------------------------------------------------------------

// Nodes stand in rows of five, each with the cable that leads to it on its left.
enum { A_ROW = 5, NODE_PX = 92, CABLE_PX = 51, NODE_HEIGHT_PX = 56, ROW_PX = 66 };

typedef struct node {
    const char *above, *name, *cable; // "" where none
    bool is_end;
} node;

static void draw_node(paper_kit *kit, uint32_t at, const node *n) {
    const int left = (int)(at % A_ROW) * (NODE_PX + CABLE_PX), box = left + CABLE_PX,
              middle = NODE_HEIGHT_PX / 2;
    if (at > 0) {
        paper_draw_line(kit, left, middle + 4, box, middle + 4, 4);
        paper_draw_text(kit, PAPER_STRONG, left + CABLE_PX / 2, middle - 4, CABLE_PX, true, n->cable);
    }
    if (n->is_end)
        paper_draw_dashed_box(kit, box + 2, 2, NODE_PX - 4, NODE_HEIGHT_PX - 4);
    else
        paper_draw_box(kit, box + 2, 2, NODE_PX - 4, NODE_HEIGHT_PX - 4, false, 3);
    paper_draw_text(kit, PAPER_TEXT, box + NODE_PX / 2, 21, NODE_PX - 8, true, n->above);
    paper_draw_text(kit, PAPER_STRONG, box + NODE_PX / 2, 42, NODE_PX - 8, true, n->name);
}

static void draw_chain(paper_kit *kit, const sm_show *show, const sm_line *line) {
    const uint32_t nodes = line->chain_count + 2;
    for (uint32_t at = 0; at < nodes; at++) {
        char above[32] = "FROM", cable[32] = "";
        node n = {above, "?", cable, at + 1 == nodes};
        if (at == 0 && line->source != SM_NONE)
            n.name = show->positions[line->source].name;
        if (at > 0 && at - 1 < line->cable_count && !n.is_end)
            snprintf(cable, sizeof cable, "%g m", line->cables_m[at - 1]);
        if (at > 0 && !n.is_end) {
            const sm_fixture *fixture = &show->fixtures[line->chain[at - 1]];
            const bool flame = show->profiles[fixture->profile].flame;
            snprintf(above, sizeof above, "%u%s", at, flame ? " FLAME" : "");
            n.name = fixture->name;
        } else if (n.is_end) {
            n.above = "END";
            n.name = "terminator";
        }
        if (at % A_ROW == 0)
            paper_draw_begin(kit, PAPER_SHORT_PX, ROW_PX, "the chain as it is laid");
        draw_node(kit, at, &n);
        if (at % A_ROW == A_ROW - 1 || n.is_end)
            paper_draw_end(kit);
    }
}

// ---- the units ------------------------------------------------------------------------------

enum { SWITCHES = 9, SWITCH_PX = 18 };

static void put_switches(paper_kit *kit, int address) {
    char on[10];
    if (sm_dmx_switches(address, on) != SM_OK) {
        paper_put(kit, PAPER_STRONG, "no setting of nine switches: by the unit's own display");
        return;
    }
    sm_text said = {0};
    for (int i = 0; i < SWITCHES; i++)
        if (on[i] == '1')
            sm_text_printf(&said, " %d", i + 1);
    sm_text label = {0};
    sm_text_printf(&label, "switches on:%s", sm_text_get(&said));
    paper_draw_begin(kit, SWITCHES * SWITCH_PX, 44, sm_text_get(&label));
    for (int i = 0; i < SWITCHES; i++) {
        const char digit[] = {(char)('1' + i), '\0'};
        paper_draw_box(kit, i * SWITCH_PX + 3, 2, SWITCH_PX - 6, 24, on[i] == '1', 2);
        paper_draw_text(kit, PAPER_TEXT, i * SWITCH_PX + SWITCH_PX / 2, 41, SWITCH_PX, true, digit);
    }
    paper_draw_end(kit);
    paper_put(kit, PAPER_STRONG, "ON:%s", sm_text_get(&said));
    paper_text_done(kit, &said);
    paper_text_done(kit, &label);
}

static void put_place(paper_kit *kit, const sm_show *show, const sm_fixture *fixture) {
    if (fixture->position != SM_NONE)
        paper_put(kit, PAPER_STRONG, "%s", show->positions[fixture->position].name);
    if (fixture->aim[0] != '\0')
        paper_put(kit, PAPER_TEXT, "aim: %s", fixture->aim);
    else
        paper_put_blank(kit, "aim", 120);
    if (fixture->feed != SM_NONE) {
        const sm_feed *feed = &show->feeds[fixture->feed];
        paper_put(kit, PAPER_TEXT, "%s, cord %g m", feed->name, feed->cord_m);
    }
}

static void put_unit(paper_kit *kit, const sm_show *show, uint32_t row, const char *where) {
    const sm_fixture *fixture = &show->fixtures[row];
    const sm_profile *profile = &show->profiles[fixture->profile];
    paper_row_begin(kit);
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, fixture->name);
    paper_put(kit, PAPER_TEXT, "%s%s", profile->flame ? "FLAME, " : "", where);
    paper_text_cell(kit, PAPER_SLOT, "%d", (int)fixture->address);
    paper_put(kit, PAPER_TEXT, "to %d", (int)fixture->address + (int)profile->channel_count - 1);
    paper_cell(kit, 1);
    put_switches(kit, (int)fixture->address);
    paper_cell(kit, 1);
    put_place(kit, show, fixture);
    paper_boxes(kit, 3);
    paper_row_end(kit);
}

static const paper_column columns[] = {
    {"unit", 116, false},
    {"address", 64, true},
    {"switches 1 to 9", 176, false},
    {"place, aim, feed", 194, false},
    {"set", 56, true},
    {"read back", 56, true},
    {"moved alone", 56, true},
};
#define COLUMNS (sizeof columns / sizeof columns[0])
#define HOW "Black is ON. Units differ in which way is ON: look at the unit."

static void make_unlined(paper_kit *kit, const paper_facts *facts) {
    const sm_show *show = facts->show;
    paper_subject(kit, "units that hang on no line");
    paper_paragraph(kit, PAPER_STRONG, "lines.csv names no line for these: ask how they are cabled. " HOW);
    paper_table_begin(kit, columns, COLUMNS, 70);
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        char where[32];
        snprintf(where, sizeof where, "universe %d", (int)show->fixtures[f].universe);
        if (facts->fixture_lines[f] == SM_NONE)
            put_unit(kit, show, f, where);
    }
    paper_table_end(kit);
}

void paper_make_line(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    const sm_show *show = facts->show;
    if (index == show->line_count) {
        make_unlined(kit, facts);
        return;
    }
    const sm_line *line = &show->lines[index];
    paper_subject(kit, "data line, universe %d, %u units", (int)line->universe, line->chain_count);
    draw_chain(kit, show, line);
    paper_paragraph(
        kit, PAPER_STRONG,
        "One cable run, no tees; terminator at the last unit. %g m of slack are kept at each unit.\n" HOW,
        line->slack_m);
    paper_table_begin(kit, columns, COLUMNS, 70);
    for (uint32_t i = 0; i < line->chain_count; i++) {
        char where[32];
        snprintf(where, sizeof where, "%u of %u", i + 1, line->chain_count);
        put_unit(kit, show, line->chain[i], where);
    }
    paper_table_end(kit);
}

uint32_t paper_line_count(const paper_facts *facts) {
    return facts->show->line_count + (facts->unlined > 0);
}

// No line of a show can be called so.
const char *paper_line_name(const paper_facts *facts, uint32_t index) {
    return index < facts->show->line_count ? facts->show->lines[index].name : "(none)";
}

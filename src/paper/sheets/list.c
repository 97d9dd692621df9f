// SPDX-License-Identifier: GPL-3.0-or-later
// LIST: every sheet, whose hand it is in, and the totals that the module should show.
#include "paper/sheets.h"

static void put_sheets(paper_kit *kit, const sm_paper *paper) {
    static const paper_column columns[] = {
        {"sheet", 158, false},     {"pages", 56, true}, {"its three words", 250, false},
        {"handed to", 142, false}, {"back", 56, true},  {"torn up", 56, true},
    };
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 37);
    for (uint32_t i = 1; i < paper->count; i++) {
        const sm_paper_sheet *sheet = &paper->sheets[i];
        paper_row_begin(kit);
        paper_cell(kit, 1);
        paper_put_name(kit, PAPER_NAME, sheet->title);
        paper_text_cell(kit, PAPER_TEXT, "%u", sheet->pages);
        paper_text_cell(kit, PAPER_STRONG, "%s", sheet->words);
        paper_cell(kit, 1);
        paper_boxes(kit, 2);
        paper_row_end(kit);
    }
    paper_table_end(kit);
}

static void put_total(paper_kit *kit, const char *what, const char *name, const char *total) {
    paper_row_begin(kit);
    paper_text_cell(kit, PAPER_TEXT, "%s%s%s", what, name[0] != '\0' ? " " : "", name);
    paper_text_cell(kit, PAPER_STRONG, "%s", total);
    paper_cell(kit, 1);
    paper_boxes(kit, 1);
    paper_row_end(kit);
}

static void put_number(paper_kit *kit, const char *what, uint32_t number) {
    sm_text text = {0};
    sm_text_printf(&text, "%u", number);
    put_total(kit, what, "", sm_text_get(&text));
    paper_text_done(kit, &text);
}

static void put_share(paper_kit *kit, const char *what, const sm_check_share *share) {
    sm_text text = {0};
    sm_text_printf(&text, "%u of %u slots, %u firings", share->slots_used, share->slots, share->events);
    put_total(kit, what, share->name, sm_text_get(&text));
    paper_text_done(kit, &text);
}

static void put_totals(paper_kit *kit, const sm_check_summary *summary) {
    static const paper_column columns[] = {{"total", 252, false},
                                           {"this plan", 230, false},
                                           {"on the module's display", 180, false},
                                           {"same", 56, true}};
    char clock[24];
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 37);
    put_number(kit, "events", summary->events);
    put_number(kit, "firings", summary->pyro);
    put_number(kit, "fixture events", summary->fixture);
    put_total(kit, "length", "", sm_clock_format(clock, summary->length_us));
    for (uint32_t i = 0; i < summary->module_count; i++)
        put_share(kit, "module", &summary->modules[i]);
    for (uint32_t i = 0; i < summary->rail_count; i++)
        put_share(kit, "rail", &summary->rails[i]);
    paper_table_end(kit);
}

void paper_make_list(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    (void)index;
    paper_subject(kit, "every sheet of this plan");
    put_sheets(kit, facts->paper);
    put_totals(kit, facts->summary);
}

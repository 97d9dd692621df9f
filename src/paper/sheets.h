// SPDX-License-Identifier: GPL-3.0-or-later
// The family of sheets: one file each, one row of the table in sheets.c each.
#ifndef SLOWMATCH_PAPER_SHEETS_H
#define SLOWMATCH_PAPER_SHEETS_H

#include "paper/kit.h"

#include "slowmatch/check.h"
#include "slowmatch/paper.h"
#include "slowmatch/walk.h"

// What the sheets are made of: computed once, by the parts that know.
typedef struct paper_facts {
    const sm_show *show;
    sm_check_summary *summary;
    sm_walk_list *walk;
    sm_site_feed *feeds;                 // of each of the show's
    uint32_t *firing_counts;             // of each slot
    uint32_t *fixture_lines;             // the first line that each fixture hangs on, SM_NONE: none
    uint32_t unlined;                    // fixtures that hang on none
    const sm_logbook_slot **fates;       // of each slot of the show, NULL: the log tells nothing
    const sm_logbook_reading **readings; // the newest of each slot, NULL: none
    const sm_logbook_fates *after;       // NULL: nothing was asked of the logbook
    const sm_paper *paper;               // what is made so far: for LIST, all the others
    sm_arena *arena;
} paper_facts;

// Destroys what it made itself, on failure too.
SM_MUST_CHECK sm_result paper_facts_init(paper_facts *facts, const sm_show *show,
                                         const sm_logbook_fates *after, sm_arena *arena);
void paper_facts_deinit(paper_facts *facts);

// The three words of what a sheet prints.
void paper_words_of(const char *html, size_t length, char out[SM_PAPER_WORDS_SIZE]);

// Each fills one sheet: number INDEX of its kind.
void paper_make_list(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_load(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_ohms(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_line(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_feeds(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_stock(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_time(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_calls(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_arm(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_card(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_names(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_walk(paper_kit *kit, const paper_facts *facts, uint32_t index);
void paper_make_after(paper_kit *kit, const paper_facts *facts, uint32_t index);

// LINE: one a line, and one for the units that hang on none.
uint32_t paper_line_count(const paper_facts *facts);
const char *paper_line_name(const paper_facts *facts, uint32_t index);

#endif

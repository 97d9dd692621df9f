// SPDX-License-Identifier: GPL-3.0-or-later
// The one table of sheets, and the paper made of them.
#include "paper/sheets.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

typedef struct sheet_row {
    const char *name;
    const char *whom;
    const char *caution; // what belongs to that work
    bool is_wide;
    uint32_t (*count)(const paper_facts *facts);                      // NULL: one
    const char *(*name_of)(const paper_facts *facts, uint32_t index); // NULL: has none of its own
    void (*make)(paper_kit *kit, const paper_facts *facts, uint32_t index);
} sheet_row;

static uint32_t rail_count(const paper_facts *facts) {
    return facts->show->rail_count;
}

static const char *rail_name(const paper_facts *facts, uint32_t index) {
    return facts->show->rails[index].name;
}

static uint32_t module_count(const paper_facts *facts) {
    return facts->show->module_count;
}

static const char *module_name(const paper_facts *facts, uint32_t index) {
    return facts->show->modules[index].name;
}

// Cautions are common practice of small crews, from memory, no source; the local code, the maker's data and the licensed operator
// go first.
static const sheet_row rows[] = {
    [SM_PAPER_LIST] =
        {"LIST", "crew lead",
         "Old sheets are asked back and torn up before new ones are handed out. Whoever holds a sheet "
         "reads its three words aloud; the lead compares.",
         false, NULL, NULL, paper_make_list},
    [SM_PAPER_LOAD] =
        {"LOAD", "position lead",
         "Key out and module off before hands are at terminals or plugs; this rail unplugged at the "
         "module end. Out of the field and counted before anyone measures.",
         false, rail_count, rail_name, paper_make_load},
    [SM_PAPER_OHMS] =
        {"OHMS", "crew lead, at the module",
         "Everybody out and counted before any test: nobody is at product while it is measured. Igniter "
         "tester only, never a general-purpose meter. As predicted is continuity only; not proof that it "
         "fires.",
         false, module_count, module_name, paper_make_ohms},
    [SM_PAPER_LINE] =
        {"LINE", "lights and flame",
         "Power off at the distribution while cables are laid. Rails unplugged while units are tested. No "
         "fuel yet.",
         false, paper_line_count, paper_line_name, paper_make_line},
    [SM_PAPER_FEEDS] =
        {"FEEDS", "audio and power",
         "Power off and locked at the distribution while cords are laid. Each breaker is seen off before a "
         "hand is at its cord.",
         false, NULL, NULL, paper_make_feeds},
    [SM_PAPER_STOCK] =
        {"STOCK", "crew lead",
         "Product is counted, covered and attended. No open flame near it. Igniters stay shunted and "
         "shielded until they are connected.",
         false, NULL, NULL, paper_make_stock},
    [SM_PAPER_TIME] = {"TIME", "spotter and lead",
                       "Eyes on the field, not on this sheet. What is seen where nothing should be: hold.",
                       true, NULL, NULL, paper_make_time},
    [SM_PAPER_CALLS] =
        {"CALLS", "caller",
         "Numbers are called, nothing is fired by voice. \"Hold, hold, hold\" goes before any number.", false,
         NULL, NULL, paper_make_calls},
    [SM_PAPER_ARM] = {"ARM", "crew lead",
                      "Nobody in the field, counted by name, before a key goes in. The one with the key has "
                      "been counted out "
                      "by another.",
                      false, NULL, NULL, paper_make_arm},
    [SM_PAPER_CARD] =
        {"CARD", "everyone",
         "Anyone may say hold, at any time, and needs no reason. An answer that does not come is a hold.",
         false, NULL, NULL, paper_make_card},
    [SM_PAPER_NAMES] =
        {"NAMES", "spotter",
         "Nobody goes in alone or unwatched. The field is empty when each has answered by name, never by "
         "guess.",
         false, NULL, NULL, paper_make_names},
    [SM_PAPER_WALK] = {"WALK", "lead and deputy",
                       "Key out and in the lead's pocket while anyone walks the field. What is answered no "
                       "stays a hold until "
                       "it is resolved.",
                       false, NULL, NULL, paper_make_walk},
    [SM_PAPER_AFTER] = {"AFTER", "lead and licensed operator",
                        "Key out, then the wait, then the licensed operator first and another watching. What "
                        "did not fire is "
                        "live. Found product stays where it is.",
                        false, NULL, NULL, paper_make_after},
};
static_assert(sizeof rows / sizeof rows[0] == SM_PAPER_KIND_COUNT, "a row for each sheet");
#define ROW_COUNT (sizeof rows / sizeof rows[0])
static_assert(ROW_COUNT == SM_PAPER_KIND_COUNT, "a row for each sheet");

const char *sm_paper_kind_text(sm_paper_kind kind) {
    return rows[kind].name;
}

static const char *joined(sm_arena *arena, const char *name, char between, const char *own) {
    sm_text text = {0};
    sm_text_printf(&text, "%s", name);
    if (own)
        sm_text_printf(&text, "%c%s", between, own);
    const char *kept = text.failed ? NULL : sm_arena_text(arena, text.bytes, text.length);
    sm_text_deinit(&text);
    return kept;
}

static sm_result make_sheet(const paper_facts *facts, sm_paper_kind kind, uint32_t index,
                            sm_paper_sheet *sheet) {
    const sheet_row *row = &rows[kind];
    const char *own = row->name_of ? row->name_of(facts, index) : NULL;
    paper_kit kit = {0};
    sm_text html = {0};
    *sheet = (sm_paper_sheet){.kind = kind,
                              .whom = row->whom,
                              .name = joined(facts->arena, row->name, '-', own),
                              .title = joined(facts->arena, row->name, ' ', own)};
    bool made = sheet->name && sheet->title;
    if (made) {
        paper_kit_begin(&kit, facts->show->settings.title, sheet->title, row->whom, row->is_wide);
        paper_caution(&kit, row->caution);
        row->make(&kit, facts, index);
        made = paper_kit_finish(&kit, &html);
    }
    if (made) {
        sheet->pages = (uint32_t)kit.page_count;
        sheet->html = sm_arena_text(facts->arena, html.bytes, html.length);
        sheet->length = html.length;
        paper_words_of(html.bytes, html.length, sheet->words);
    }
    paper_kit_deinit(&kit);
    sm_text_deinit(&html);
    return sheet->html ? SM_OK : SM_NO_MEMORY;
}

static uint32_t count_of(const paper_facts *facts, size_t kind) {
    return rows[kind].count ? rows[kind].count(facts) : 1;
}

// LIST holds the words of all others: it is printed first and made last.
static sm_result make_sheets(paper_facts *facts, sm_paper *paper) {
    uint32_t count = 0;
    for (size_t kind = 0; kind < ROW_COUNT; kind++)
        count += count_of(facts, kind);
    paper->sheets = sm_arena_alloc(paper->arena, count * sizeof *paper->sheets);
    if (!paper->sheets)
        return SM_NO_MEMORY;
    sm_result result = SM_OK;
    paper->count = 1;
    facts->paper = paper;
    for (size_t kind = SM_PAPER_LIST + 1; kind < ROW_COUNT; kind++)
        for (uint32_t i = 0; i < count_of(facts, kind) && result == SM_OK; i++)
            result = make_sheet(facts, (sm_paper_kind)kind, i, &paper->sheets[paper->count++]);
    return result == SM_OK ? make_sheet(facts, SM_PAPER_LIST, 0, &paper->sheets[0]) : result;
}

sm_result sm_paper_create(const sm_show *show, const sm_logbook_fates *fates, sm_paper **out) {
    sm_paper *paper = calloc(1, sizeof *paper);
    if (!paper)
        return SM_NO_MEMORY;
    paper->show = show;
    paper->arena = sm_arena_create();
    paper_facts facts;
    sm_result result = paper->arena ? paper_facts_init(&facts, show, fates, paper->arena) : SM_NO_MEMORY;
    if (result == SM_OK) {
        result = make_sheets(&facts, paper);
        paper_facts_deinit(&facts);
    }
    if (result == SM_OK)
        *out = paper;
    else
        sm_paper_destroy(paper);
    return result;
}

void sm_paper_destroy(sm_paper *paper) {
    if (!paper)
        return;
    sm_arena_destroy(paper->arena);
    free(paper);
}

// A blank may stand for the hyphen behind the kind.
static bool is_called(const sm_paper_sheet *sheet, const char *name,
                      int (*compare)(const char *, const char *)) {
    const size_t kind = strlen(sm_paper_kind_text(sheet->kind));
    if (strncasecmp(name, sheet->name, kind) != 0)
        return false;
    if (sheet->name[kind] == '\0')
        return name[kind] == '\0';
    return (name[kind] == '-' || name[kind] == ' ') && compare(name + kind + 1, sheet->name + kind + 1) == 0;
}

// Names of tables may differ in case alone: as written goes first.
uint32_t sm_paper_find(const sm_paper *paper, const char *name) {
    for (uint32_t i = 0; i < paper->count; i++)
        if (is_called(&paper->sheets[i], name, strcmp))
            return i;
    for (uint32_t i = 0; i < paper->count; i++)
        if (is_called(&paper->sheets[i], name, strcasecmp))
            return i;
    return SM_NONE;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// FEEDS: the tree of mains feeds, from the supply outwards.
#include "paper/sheets.h"

#include <math.h>

// "?" where it is not known, so that a number that is not there is no 0.
static void put_number(paper_kit *kit, double value, const char *format_unit, int decimals) {
    if (isfinite(value))
        paper_put(kit, PAPER_TEXT, "%.*f %s", decimals, value, format_unit);
    else
        paper_put(kit, PAPER_TEXT, "? %s", format_unit);
}

static uint32_t units_on(const sm_show *show, uint32_t feed) {
    uint32_t count = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++)
        count += show->fixtures[f].feed == feed;
    return count;
}

static void put_feed(paper_kit *kit, const paper_facts *facts, uint32_t row) {
    const sm_show *show = facts->show;
    const sm_feed *feed = &show->feeds[row];
    const sm_site_feed *load = &facts->feeds[row];
    paper_row_begin(kit);
    paper_cell(kit, 1);
    paper_put_name(kit, PAPER_NAME, feed->name);
    paper_text_cell(kit, PAPER_TEXT, "%s",
                    feed->from == SM_NONE ? "the supply" : show->feeds[feed->from].name);
    if (load->in_loop)
        paper_put(kit, PAPER_STRONG, "round in a ring: ask");
    paper_text_cell(kit, PAPER_TEXT, "%g m", feed->cord_m);
    paper_put(kit, PAPER_TEXT, "%s", feed->cord.text);
    paper_cell(kit, 1);
    put_number(kit, feed->breaker_amps, "A", 0);
    paper_cell(kit, 1);
    put_number(kit, load->amps, "A", 1);
    put_number(kit, load->watts, "W", 0);
    paper_cell(kit, 1);
    put_number(kit, load->chain_volts, "V", 1);
    put_number(kit, load->chain_percent, "%", 1);
    paper_text_cell(kit, PAPER_TEXT, "%u", units_on(show, row));
    paper_boxes(kit, 2);
    paper_row_end(kit);
}

// Feeds that hang on PARENT, each with what hangs on it. A ring is never entered: it hangs on nothing that does not.
static void put_below(paper_kit *kit, const paper_facts *facts, uint32_t parent) {
    const sm_show *show = facts->show;
    for (uint32_t f = 0; f < show->feed_count; f++)
        if (show->feeds[f].from == parent && !facts->feeds[f].in_loop) {
            put_feed(kit, facts, f);
            put_below(kit, facts, f);
        }
}

void paper_make_feeds(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {
        {"feed", 138, false},  {"hangs on", 124, false}, {"cord", 80, false},
        {"breaker", 62, true}, {"load", 70, true},       {"drop from supply", 74, true},
        {"units", 50, true},   {"laid", 56, true},       {"seen off", 64, true},
    };
    (void)index;
    paper_subject(kit, "mains, from the supply outwards");
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], 44);
    put_below(kit, facts, SM_NONE);
    for (uint32_t f = 0; f < facts->show->feed_count; f++)
        if (facts->feeds[f].in_loop)
            put_feed(kit, facts, f);
    paper_table_end(kit);
    paper_paragraph(
        kit, PAPER_TEXT,
        "Load and drop are sums of what profiles.csv tells; measure on site. A breaker protects a cord, "
        "not a person.");
}

// SPDX-License-Identifier: GPL-3.0-or-later
// NAMES: who goes in and comes out, one page to write on.
#include "paper/sheets.h"

void paper_make_names(paper_kit *kit, const paper_facts *facts, uint32_t index) {
    static const paper_column columns[] = {
        {"name, read aloud", 262, false},
        {"job", 120, false},
        {"in at", 84, false},
        {"out at", 84, false},
        {"in at", 84, false},
        {"out at", 84, false},
    };
    enum { ROW_PX = 38, COUNT_PX = 36 };
    (void)facts;
    (void)index;
    paper_subject(kit, "who is in the field");
    paper_table_begin(kit, columns, sizeof columns / sizeof columns[0], ROW_PX);
    const int rows = (paper_room_px(kit) - kit->table_head_px - COUNT_PX) / ROW_PX;
    for (int i = 0; i < rows; i++) {
        paper_row_begin(kit);
        paper_row_end(kit);
    }
    paper_table_end(kit);
    static const char *const count[] = {"in", "out", "counted by", "at", NULL};
    paper_form(kit, count);
}

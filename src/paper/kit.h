// SPDX-License-Identifier: GPL-3.0-or-later
// The layout kit: a sheet is a flow of rows, put on pages whole. Every length is a whole CSS pixel (1/96 inch, on paper too),
// so that browsers round nothing and the same show gives the same pages on every machine. Lines are broken here, by the
// widths of glyphs, and never by the browser: a row is as high as the kit says.
#ifndef SLOWMATCH_PAPER_KIT_H
#define SLOWMATCH_PAPER_KIT_H

#include "slowmatch/base.h"

// A page is the part that A4 and Letter have in common, 190 mm by 261 mm.
enum {
    PAPER_LONG_PX = 986,
    PAPER_SHORT_PX = 718,
    PAPER_PAD_PX = 6,    // what a cell takes beside its text, its border included
    PAPER_LINES_MAX = 8, // of one paragraph: what is longer is cut, and ends in three dots
};

// What stands in a finished page for the sheet's words and the moment of printing: bytes that no text can bring in.
#define PAPER_MARK_WORDS '\x01'
#define PAPER_MARK_PRINTED '\x02'

// ---- text ---------------------------------------------------------------------------

typedef enum paper_type {
    PAPER_TEXT,   // 11 pt: nothing is smaller
    PAPER_STRONG, // 11 pt, bold
    PAPER_NAME,   // 14 pt, bold
    PAPER_WORDS,  // 16 pt, bold
    PAPER_SLOT,   // 20 pt, bold
    PAPER_TITLE,  // 24 pt, bold
    PAPER_TYPE_COUNT
} paper_type;

int paper_line_px(paper_type type);
// The style sheet's rules for all types.
void paper_types_css(sm_text *out);
// Width of LENGTH bytes of TEXT, never less than what Arial and its metric twins need; other scripts by their widest.
int paper_width_px(paper_type type, const char *text, size_t length);
// How many of the LENGTH bytes at TEXT go on a line of WIDTH_PX, from one character on; *next is where the next line begins.
size_t paper_fit(paper_type type, const char *text, size_t length, int width_px, size_t *next);

// The one way into the file for text that a person wrote: what could be markup becomes entities; control characters, what is no UTF-8
// and what Unicode calls no character become U+FFFD; line breaks and signs that turn the direction of text become blanks.
void paper_escape(sm_text *out, const char *text, size_t length);

// ---- pages --------------------------------------------------------------------------

typedef struct paper_column {
    const char *head; // "" for none
    int width_px;
    bool centred;
} paper_column;

// One sheet in the making, all zero before paper_kit_begin.
typedef struct paper_kit {
    const char *show_title;
    sm_text name, subject; // of the head
    const char *whom;
    bool is_wide;
    sm_text *pages; // their bodies; the last one is being filled
    size_t page_count;
    bool is_mark_below;          // the end mark has a line of its own in the foot
    int foot_px;                 // height of every page's foot
    int used_px;                 // of the last page
    const paper_column *columns; // NULL: no table
    size_t column_count;
    int table_head_px, least_px;
    bool is_table_open; // on the last page
    sm_text row;        // being made
    bool is_in_row, is_in_cell;
    int row_px, cell_px, cell_width_px;
    size_t column;  // of the next cell
    int drawing_px; // height of the drawing in the making
    sm_text said;   // what is being put, before it is broken into lines
    bool failed;    // memory ran out
} paper_kit;

// NAME is what the sheet is called ("LOAD B"), WHOM it is for. The texts must outlive the kit.
void paper_kit_begin(paper_kit *kit, const char *show_title, const char *name, const char *whom,
                     bool is_wide);
void paper_kit_deinit(paper_kit *kit);
// What the sheet is about, one line under its name.
void paper_subject(paper_kit *kit, const char *format, ...) SM_PRINTF(2, 3);
// All pages, with heads, feet and numbers, appended to OUT. False: memory ran out.
bool paper_kit_finish(paper_kit *kit, sm_text *out);
int paper_width_of_page_px(const paper_kit *kit);
int paper_room_px(const paper_kit *kit); // what is left of the last page's height

// The warning that belongs to the work, on the first page.
void paper_caution(paper_kit *kit, const char *text);
// The attributes of a text in a drawing: not every program that prints looks into the style sheet for these.
void paper_type_svg(sm_text *out, paper_type type);
// What stands in `row` goes on the page as one block of HEIGHT_PX.
void paper_append_block(paper_kit *kit, int height_px);
// The class of a type in the style sheet, with a blank before it; "" for plain text.
const char *paper_type_class(paper_type type);
// A paragraph over the whole width.
void paper_paragraph(paper_kit *kit, paper_type type, const char *format, ...) SM_PRINTF(3, 4);
void paper_gap(paper_kit *kit, int height_px);
// Labels with a line to write on behind each, as wide as the page; LABELS ends with NULL.
void paper_form(paper_kit *kit, const char *const *labels);
// Begins a new page unless HEIGHT_PX are left.
void paper_keep(paper_kit *kit, int height_px);
void paper_page_break(paper_kit *kit);

// COLUMNS must last until the table ends. Rows are at least LEAST_PX high; the head is repeated on every page.
void paper_table_begin(paper_kit *kit, const paper_column *columns, size_t count, int least_px);
void paper_table_end(paper_kit *kit);
void paper_row_begin(paper_kit *kit);
void paper_row_end(paper_kit *kit);
// The next cell, over SPAN columns. The first of a row names the row.
void paper_cell(paper_kit *kit, size_t span);
// Paragraphs of a cell.
void paper_put(paper_kit *kit, paper_type type, const char *format, ...) SM_PRINTF(3, 4);
// A cell of one column with one paragraph.
void paper_text_cell(paper_kit *kit, paper_type type, const char *format, ...) SM_PRINTF(3, 4);
// The largest type of TYPE and those below it in which TEXT goes on one line; else the smallest bold one, over several.
void paper_put_name(paper_kit *kit, paper_type type, const char *text);
// A row over all columns that begins a group of rows, and stays with the first of them.
void paper_group(paper_kit *kit, const char *format, ...) SM_PRINTF(2, 3);
// Ends TEXT, of which something was put on the sheet; the sheet fails where TEXT lacks a part for want of memory.
void paper_text_done(paper_kit *kit, sm_text *text);
// A box for a tick.
void paper_put_box(paper_kit *kit);
// COUNT cells with a box each.
void paper_boxes(paper_kit *kit, size_t count);
// A label with a line to write on behind it.
void paper_put_blank(paper_kit *kit, const char *label, int blank_px);

// ---- drawing ------------------------------------------------------------------------

// A drawing in a cell (from paper_cell on) or, with no row begun, over the page. LABEL says for people who cannot see it what is
// drawn.
void paper_draw_begin(paper_kit *kit, int width_px, int height_px, const char *label);
void paper_draw_box(paper_kit *kit, int x, int y, int width, int height, bool is_filled, int stroke);
void paper_draw_dashed_box(paper_kit *kit, int x, int y, int width, int height);
void paper_draw_line(paper_kit *kit, int x0, int y0, int x1, int y1, int stroke);
// Thin and broken, so that figures that it goes through can be read.
void paper_draw_grid_line(paper_kit *kit, int x, int y0, int y1);
// A wedge that stands on its base, from X to X + WIDTH.
void paper_draw_wedge(paper_kit *kit, int x, int y, int width, int height);
// On one line from X (or with its middle at X), cut to WIDTH_PX.
void paper_draw_text(paper_kit *kit, paper_type type, int x, int y, int width_px, bool is_centred,
                     const char *text);
void paper_draw_end(paper_kit *kit);

#endif

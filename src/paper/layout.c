// SPDX-License-Identifier: GPL-3.0-or-later
// Rows to pages.
#include "paper/kit.h"

#include <stdlib.h>
#include <string.h>

enum { HEAD_PX = 92, BORDER_PX = 1, CELL_PAD_PX = 1, GAP_PX = 8, BOX_PX = 32 };

// ---- paragraphs -------------------------------------------------------------------------

static bool is_plain(const char *text) {
    while (*text != '\0' && (unsigned char)*text < 0x80)
        text++;
    return *text == '\0';
}

// Appends TEXT in lines of WIDTH_PX, at most MOST of them, and returns their height.
static int append_lines(sm_text *out, paper_type type, const char *text, int width_px, int most) {
    int lines = 0;
    size_t left = strlen(text);
    do {
        const size_t line = strcspn(text, "\r\n");
        size_t next = line;
        size_t take = paper_fit(type, text, line, width_px, &next);
        next += next == line && line < left; // the line break itself
        const bool is_cut = ++lines == most && next < left;
        if (is_cut) {
            size_t rest;
            take = paper_fit(type, text, take, width_px - paper_width_px(type, "\u2026", 3), &rest);
        }
        if (lines > 1)
            sm_text_printf(out, "<br>");
        paper_escape(out, text, take);
        if (is_cut)
            sm_text_printf(out, "\u2026");
        text += next;
        left -= next;
    } while (left > 0 && lines < most);
    return lines * paper_line_px(type);
}

static int append_paragraph(sm_text *out, paper_type type, const char *text, int width_px, int most) {
    sm_text_printf(out, "<p%s%s>", paper_type_class(type), is_plain(text) ? "" : " dir=auto");
    return append_lines(out, type, text, width_px, most);
}

SM_PRINTF(2, 0) static void say(paper_kit *kit, const char *format, va_list args) {
    sm_text_clear(&kit->said);
    sm_text_vprintf(&kit->said, format, args);
    kit->failed = kit->failed || kit->said.failed;
}

// ---- pages --------------------------------------------------------------------------------

static const char foot[] =
    "Other words on the laptop: this sheet is old. From tables, not from the site. No permission, "
    "no assurance: local law, maker, licensed operator first.";

static int page_height_px(const paper_kit *kit) {
    return kit->is_wide ? PAPER_SHORT_PX : PAPER_LONG_PX;
}

int paper_width_of_page_px(const paper_kit *kit) {
    return kit->is_wide ? PAPER_LONG_PX : PAPER_SHORT_PX;
}

// The end mark stands beside the foot's last line where there is room for it, else below. The number of pages is not known yet.
static void lay_foot(paper_kit *kit) {
    const int width_px = paper_width_of_page_px(kit);
    size_t next = 0;
    int lines = 0, last_px = 0;
    for (size_t at = 0; at < strlen(foot); at += next, lines++)
        last_px = paper_width_px(PAPER_TEXT, foot + at,
                                 paper_fit(PAPER_TEXT, foot + at, strlen(foot + at), width_px, &next));
    const int mark_px = paper_width_px(PAPER_TEXT, "end of  9999/9999 ", 18) +
                        paper_width_px(PAPER_TEXT, kit->name.bytes, kit->name.length);
    kit->is_mark_below = last_px + mark_px > width_px;
    kit->foot_px = (lines + kit->is_mark_below) * paper_line_px(PAPER_TEXT) + GAP_PX;
}

static int body_height_px(const paper_kit *kit) {
    return page_height_px(kit) - HEAD_PX - kit->foot_px;
}

int paper_room_px(const paper_kit *kit) {
    return body_height_px(kit) - kit->used_px;
}

static sm_text *last_page(paper_kit *kit) {
    return &kit->pages[kit->page_count - 1];
}

static void add_page(paper_kit *kit) {
    sm_text *grown = realloc(kit->pages, (kit->page_count + 1) * sizeof *grown);
    if (!grown) {
        kit->failed = true; // the last page takes what comes; nobody will see it
        return;
    }
    kit->pages = grown;
    kit->pages[kit->page_count++] = (sm_text){0};
    kit->used_px = 0;
}

void paper_kit_begin(paper_kit *kit, const char *show_title, const char *name, const char *whom,
                     bool is_wide) {
    kit->show_title = show_title;
    kit->whom = whom;
    kit->is_wide = is_wide;
    sm_text_printf(&kit->name, "%s", name);
    if (!kit->name.failed)
        lay_foot(kit);
    add_page(kit);
}

void paper_kit_deinit(paper_kit *kit) {
    for (size_t i = 0; i < kit->page_count; i++)
        sm_text_deinit(&kit->pages[i]);
    free(kit->pages);
    sm_text_deinit(&kit->name);
    sm_text_deinit(&kit->subject);
    sm_text_deinit(&kit->row);
    sm_text_deinit(&kit->said);
}

void paper_subject(paper_kit *kit, const char *format, ...) {
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&kit->subject, format, args);
    va_end(args);
}

static void close_table(paper_kit *kit) {
    if (kit->is_table_open)
        sm_text_printf(last_page(kit), "</table>");
    kit->is_table_open = false;
}

void paper_page_break(paper_kit *kit) {
    if (kit->page_count == 0)
        return;
    close_table(kit);
    add_page(kit);
}

// Makes room for a block of HEIGHT_PX; the page to put it on, NULL where memory ran out.
static sm_text *room_for(paper_kit *kit, int height_px) {
    if (kit->used_px > 0 && height_px > paper_room_px(kit))
        paper_page_break(kit);
    kit->used_px += height_px;
    return kit->page_count > 0 ? last_page(kit) : NULL;
}

void paper_append_block(paper_kit *kit, int height_px) {
    sm_text *page = room_for(kit, height_px);
    if (page)
        sm_text_append(page, kit->row.bytes, kit->row.length);
    kit->failed = kit->failed || kit->row.failed;
}

void paper_gap(paper_kit *kit, int height_px) {
    if (height_px <= paper_room_px(kit) && kit->used_px > 0) {
        sm_text_clear(&kit->row);
        sm_text_printf(&kit->row, "<div style=height:%dpx></div>", height_px);
        paper_append_block(kit, height_px);
    }
}

void paper_keep(paper_kit *kit, int height_px) {
    if (kit->used_px > 0 && height_px > paper_room_px(kit))
        paper_page_break(kit);
}

void paper_form(paper_kit *kit, const char *const *labels) {
    enum { LINE_PX = 30, APART_PX = 12 };
    int free_px = paper_width_of_page_px(kit), count = 0;
    for (; labels[count]; count++)
        free_px -= paper_width_px(PAPER_TEXT, labels[count], strlen(labels[count])) + APART_PX;
    sm_text_clear(&kit->row);
    sm_text_printf(&kit->row, "<p class=f>");
    for (int i = 0; i < count; i++)
        sm_text_printf(&kit->row, "%s <u style=width:%dpx></u> ", labels[i], free_px / count);
    paper_append_block(kit, LINE_PX);
}

void paper_caution(paper_kit *kit, const char *text) {
    enum { BAR_PX = 16 };
    sm_text_clear(&kit->row);
    sm_text_printf(&kit->row, "<div class=caution>");
    const int height_px = append_paragraph(&kit->row, PAPER_STRONG, text,
                                           paper_width_of_page_px(kit) - BAR_PX, PAPER_LINES_MAX);
    sm_text_printf(&kit->row, "</div>");
    paper_append_block(kit, height_px + GAP_PX);
}

void paper_paragraph(paper_kit *kit, paper_type type, const char *format, ...) {
    va_list args;
    va_start(args, format);
    say(kit, format, args);
    va_end(args);
    sm_text_clear(&kit->row);
    const int height_px = append_paragraph(&kit->row, type, sm_text_get(&kit->said),
                                           paper_width_of_page_px(kit), PAPER_LINES_MAX);
    paper_append_block(kit, height_px);
}

// ---- tables ---------------------------------------------------------------------------------

static int append_head(const paper_kit *kit, sm_text *out) {
    int height_px = 0;
    sm_text_printf(out, "<table><colgroup>");
    for (size_t i = 0; i < kit->column_count; i++)
        sm_text_printf(out, "<col style=width:%dpx>", kit->columns[i].width_px);
    sm_text_printf(out, "</colgroup><thead><tr>");
    for (size_t i = 0; i < kit->column_count; i++) {
        const paper_column *column = &kit->columns[i];
        sm_text_printf(out, "<th scope=col%s>", column->centred ? " class=c" : "");
        const int px = append_paragraph(out, PAPER_TEXT, column->head, column->width_px - PAPER_PAD_PX, 4);
        height_px = px > height_px ? px : height_px;
    }
    sm_text_printf(out, "</thead>");
    return height_px + 2 * CELL_PAD_PX + 3 * BORDER_PX; // above, and twice below
}

void paper_table_begin(paper_kit *kit, const paper_column *columns, size_t count, int least_px) {
    kit->columns = columns;
    kit->column_count = count;
    kit->least_px = least_px;
    sm_text head = {0};
    kit->table_head_px = append_head(kit, &head);
    paper_text_done(kit, &head);
}

void paper_table_end(paper_kit *kit) {
    close_table(kit);
    kit->columns = NULL;
    paper_gap(kit, GAP_PX);
}

void paper_row_begin(paper_kit *kit) {
    sm_text_clear(&kit->row);
    kit->row_px = kit->least_px;
    kit->column = 0;
    kit->is_in_row = true;
}

static void end_cell(paper_kit *kit) {
    const int px = kit->cell_px + 2 * CELL_PAD_PX + BORDER_PX;
    if (kit->is_in_cell && px > kit->row_px)
        kit->row_px = px;
    kit->is_in_cell = false;
}

static void begin_cell(paper_kit *kit, size_t span, const char *tag) {
    end_cell(kit);
    kit->cell_width_px = -PAPER_PAD_PX;
    const bool is_centred = kit->columns[kit->column].centred;
    sm_text_printf(&kit->row, "<%s", tag);
    if (span > 1)
        sm_text_printf(&kit->row, " colspan=%zu", span);
    sm_text_printf(&kit->row, is_centred ? " class=c>" : ">");
    for (size_t i = 0; i < span && kit->column < kit->column_count; i++)
        kit->cell_width_px += kit->columns[kit->column++].width_px;
    kit->cell_px = 0;
    kit->is_in_cell = true;
}

void paper_cell(paper_kit *kit, size_t span) {
    begin_cell(kit, span, kit->column == 0 ? "th scope=row" : "td");
}

void paper_row_end(paper_kit *kit) {
    while (kit->column < kit->column_count)
        begin_cell(kit, 1, "td"); // to write in: names no row
    end_cell(kit);
    kit->is_in_row = false;
    if (!kit->is_table_open || kit->row_px > paper_room_px(kit)) {
        close_table(kit);
        sm_text *page = room_for(kit, kit->table_head_px + kit->row_px);
        if (page)
            append_head(kit, page);
        kit->used_px -= kit->row_px;
        kit->is_table_open = page; // None where memory ran out over the first page.
    }
    kit->used_px += kit->row_px;
    if (kit->page_count > 0) {
        sm_text_printf(last_page(kit), "<tr style=height:%dpx>", kit->row_px);
        sm_text_append(last_page(kit), kit->row.bytes, kit->row.length);
    }
    kit->failed = kit->failed || kit->row.failed;
}

SM_PRINTF(3, 0) static void put(paper_kit *kit, paper_type type, const char *format, va_list args) {
    say(kit, format, args);
    if (kit->said.length > 0)
        kit->cell_px +=
            append_paragraph(&kit->row, type, kit->said.bytes, kit->cell_width_px, PAPER_LINES_MAX);
}

void paper_put(paper_kit *kit, paper_type type, const char *format, ...) {
    va_list args;
    va_start(args, format);
    put(kit, type, format, args);
    va_end(args);
}

void paper_text_cell(paper_kit *kit, paper_type type, const char *format, ...) {
    va_list args;
    paper_cell(kit, 1);
    va_start(args, format);
    put(kit, type, format, args);
    va_end(args);
}

// The largest of TYPE and the bold types below it in which TEXT goes on one line of WIDTH_PX, else the smallest.
static paper_type type_that_fits(paper_type type, const char *text, int width_px) {
    while (type > PAPER_STRONG && paper_width_px(type, text, strlen(text)) > width_px)
        type--;
    return type;
}

void paper_put_name(paper_kit *kit, paper_type type, const char *text) {
    paper_put(kit, type_that_fits(type, text, kit->cell_width_px), "%s", text);
}

void paper_group(paper_kit *kit, const char *format, ...) {
    enum { ROWS_PX = 80 }; // the first row of the group, and what it hangs on
    paper_keep(kit, ROWS_PX + kit->table_head_px);
    paper_row_begin(kit);
    paper_cell(kit, kit->column_count);
    va_list args;
    va_start(args, format);
    put(kit, PAPER_NAME, format, args);
    va_end(args);
    kit->row_px = 0;
    paper_row_end(kit);
}

void paper_text_done(paper_kit *kit, sm_text *text) {
    kit->failed = kit->failed || text->failed;
    sm_text_deinit(text);
}

void paper_put_box(paper_kit *kit) {
    sm_text_printf(&kit->row, "<i></i>");
    kit->cell_px += BOX_PX;
}

void paper_boxes(paper_kit *kit, size_t count) {
    for (size_t i = 0; i < count; i++) {
        paper_cell(kit, 1);
        paper_put_box(kit);
    }
}

void paper_put_blank(paper_kit *kit, const char *label, int blank_px) {
    sm_text_printf(&kit->row, "<p>%s <u style=width:%dpx></u>", label, blank_px);
    kit->cell_px += paper_line_px(PAPER_TEXT);
}

// ---- a finished sheet ---------------------------------------------------------------------------

// Left: what the sheet is called, what it is about, whose it is. Right: the words, the show, the page.
static void append_page_head(const paper_kit *kit, size_t page, sm_text *out) {
    enum { NAME_WIDTH_PX = 310, SHOW_WIDTH_PX = 240 };
    const char *name = sm_text_get(&kit->name);
    paper_type type = type_that_fits(PAPER_TITLE, name, NAME_WIDTH_PX);
    type = type > PAPER_NAME ? type : PAPER_NAME;
    sm_text_printf(out, "<section%s><header><div><h2%s>", kit->is_wide ? " class=wide" : "",
                   paper_type_class(type));
    append_lines(out, type, name, NAME_WIDTH_PX, 2);
    sm_text_printf(out, "</h2>");
    append_paragraph(out, PAPER_TEXT, sm_text_get(&kit->subject), NAME_WIDTH_PX, 1);
    sm_text_printf(
        out,
        "<p>for: %s, by <u style=width:90px></u></div><div class=r><p class=w>%c<p><b>REHEARSAL PLAN</b> ",
        kit->whom, PAPER_MARK_WORDS);
    sm_text_printf(out, is_plain(kit->show_title) ? "<span>" : "<span dir=auto>");
    append_lines(out, PAPER_TEXT, kit->show_title, SHOW_WIDTH_PX, 1);
    sm_text_printf(out, "</span><p>printed %c, page %zu of %zu</div></header>", PAPER_MARK_PRINTED, page + 1,
                   kit->page_count);
}

static void append_page_foot(const paper_kit *kit, size_t page, sm_text *out) {
    sm_text_printf(out, "<footer>");
    append_paragraph(out, PAPER_TEXT, foot, paper_width_of_page_px(kit), 2);
    sm_text_printf(out, kit->is_mark_below ? "<p class=e>end of " : "<p class=r>end of ");
    paper_escape(out, kit->name.bytes, kit->name.length);
    sm_text_printf(out, " %zu/%zu</footer></section>\n", page + 1, kit->page_count);
}

bool paper_kit_finish(paper_kit *kit, sm_text *out) {
    close_table(kit);
    for (size_t i = 0; i < kit->page_count; i++) {
        append_page_head(kit, i, out);
        sm_text_append(out, kit->pages[i].bytes, kit->pages[i].length);
        append_page_foot(kit, i, out);
        kit->failed = kit->failed || kit->pages[i].failed;
    }
    return !kit->failed && !kit->name.failed && !kit->subject.failed && !out->failed;
}

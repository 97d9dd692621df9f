// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/lines/out.h"

#include "slowmatch/files.h"

#include <errno.h>
#include <langinfo.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

#define FULL_BYTES ((size_t)64 * 1024)
#define COLUMNS 80
// Where nobody looks at it, lines are broken only here.
#define PIPE_COLUMNS 500
#define TEXT_ROWS 60

// Shared with the writer's thread.
struct sm_lines_writer {
    _Atomic size_t put, written; // bytes
};

static int write_lines(void *context, const char *bytes, size_t length, bool durable) {
    sm_lines_writer *writer = context;
    (void)durable;
    int error = sm_write_all(STDOUT_FILENO, bytes, length) ? 0 : errno;
    atomic_fetch_add(&writer->written, length);
    return error;
}

static const sm_background_work work = {.write = write_lines, .abandon = free, .room = FULL_BYTES};

static void put(sm_lines_out *out, const char *bytes, size_t length) {
    atomic_fetch_add(&out->writer->put, length);
    (void)sm_background_put(out->background, bytes, length, true);
}

sm_result sm_lines_out_open(sm_lines_out *out) {
    struct winsize size;
    out->terminal = isatty(STDOUT_FILENO) != 0;
    bool known = out->terminal && ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) == 0 && size.ws_col >= COLUMNS / 2;
    int columns = !known ? COLUMNS : size.ws_col < PIPE_COLUMNS ? size.ws_col : PIPE_COLUMNS;
    out->ascii = strcmp(nl_langinfo(CODESET), "UTF-8") != 0;
    out->text = sm_cells_create(out->terminal ? columns : PIPE_COLUMNS, TEXT_ROWS);
    out->page = sm_cells_create(columns, SM_CELLS_ROWS_MAX);
    out->writer = calloc(1, sizeof *out->writer);
    if (!out->text || !out->page || !out->writer)
        return SM_NO_MEMORY;
    return sm_background_start(&work, out->writer, &out->background);
}

int sm_lines_out_close(sm_lines_out *out, sm_us patience_us) {
    int error = 0;
    if (out->background) {
        if (out->prompted)
            put(out, "\n", 1);
        (void)sm_background_flush(out->background, patience_us);
        error = sm_background_error(out->background);
    }
    if (sm_background_close(out->background, patience_us))
        free(out->writer);
    sm_cells_destroy(out->text);
    sm_cells_destroy(out->page);
    *out = (sm_lines_out){0};
    return error;
}

static bool is_blank(const sm_cells *cells, int y) {
    sm_text row = {0};
    sm_cells_row_text(cells, y, &row);
    bool blank = row.length == 0;
    sm_text_deinit(&row);
    return blank;
}

// Of several blank rows one is said.
static void put_rows(sm_lines_out *out, sm_cells *cells, int from, int rows) {
    sm_text text = {0};
    if (out->prompted)
        sm_text_append(&text, "\n", 1);
    out->prompted = false;
    if (out->ascii)
        sm_cells_to_ascii(cells);
    for (int y = from; y < rows; y++) {
        if (y > from && is_blank(cells, y) && is_blank(cells, y - 1))
            continue;
        sm_cells_row_text(cells, y, &text);
        sm_text_append(&text, "\n", 1);
    }
    put(out, sm_text_get(&text), text.length);
    sm_text_deinit(&text);
}

void sm_lines_out_say(sm_lines_out *out, const char *text) {
    sm_cells_clear(out->text);
    int rows = sm_area_wrap(sm_area_of(out->text), 0, 2, SM_LOOK_PLAIN, text);
    put_rows(out, out->text, 0, rows < TEXT_ROWS ? rows : TEXT_ROWS);
}

sm_area sm_lines_out_page(sm_lines_out *out, int rows) {
    sm_cells_clear(out->page);
    sm_area all = sm_area_of(out->page);
    return sm_area_part(all, 0, 0, all.columns, rows);
}

void sm_lines_out_say_page(sm_lines_out *out, int rows) {
    int from = 0;
    while (rows > 0 && is_blank(out->page, rows - 1))
        rows--;
    while (from < rows && is_blank(out->page, from)) // what is past on the score, before anything is
        from++;
    put_rows(out, out->page, from, rows);
}

void sm_lines_out_prompt(sm_lines_out *out, const char *text) {
    if (!out->prompted)
        put(out, text, strlen(text));
    out->prompted = true;
}

void sm_lines_out_typed(sm_lines_out *out) {
    out->prompted = out->prompted && !out->terminal; // a terminal has shown the line's end itself
}

void sm_lines_out_bell(sm_lines_out *out) {
    if (out->terminal)
        put(out, "\a", 1);
}

bool sm_lines_out_is_full(const sm_lines_out *out) {
    return atomic_load(&out->writer->put) - atomic_load(&out->writer->written) > FULL_BYTES;
}

int sm_lines_out_error(const sm_lines_out *out) {
    return sm_background_error(out->background);
}

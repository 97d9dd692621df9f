// SPDX-License-Identifier: GPL-3.0-or-later
// A table is changed cell by cell and every other byte stays: held against the pieces of which the test made the table, and read again by
// libcsv alone.
#include "slowmatch/table_edit.h"

#include <csv.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

enum { COLUMNS = 5, RECORDS_MAX = 24 };

static const char *const columns[COLUMNS] = {"time", "target", "do", "id", "note"};

static uint32_t draw(uint32_t below) {
    static uint64_t at = 12345; // a linear congruential generator, so that every machine draws the same
    at = at * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
    return (uint32_t)(at >> 33) % below;
}

// ---- random tables ----------------------------------------------------------------------

// A table as the pieces that it was made of.
typedef struct drawn {
    sm_text bytes;
    size_t cell_at[RECORDS_MAX][COLUMNS], cell_end[RECORDS_MAX][COLUMNS]; // the text within blanks and quotes
    bool is_quoted[RECORDS_MAX][COLUMNS];
    char texts[RECORDS_MAX][COLUMNS][40];
    uint32_t lines[RECORDS_MAX]; // 0: a comment or a blank line
    size_t order[COLUMNS];       // of the columns in the file
    size_t count;
    uint32_t line;
} drawn;

static void draw_text(char out[40], bool quoted) {
    static const char *const plain[] = {"",    "a", "0:01.500", "A-01 B-02",  "par-1",
                                        "x y", "é", "#no",      "12 m 22 AWG"};
    static const char *const odd[] = {"a, b", "say \"go\"", " before", "two\nlines", "\"", "", "after ", "#"};
    if (quoted)
        snprintf(out, 40, "%s", draw(3) == 0 ? plain[draw(9)] : odd[draw(8)]);
    else
        snprintf(out, 40, "%s", plain[draw(9)]);
}

static void put(drawn *to, const char *text) {
    for (const char *at = text; *at != '\0'; at++)
        to->line += *at == '\n';
    sm_text_printf(&to->bytes, "%s", text);
}

static void put_cell(drawn *to, size_t record, size_t column, bool first, const char *fixed) {
    static const char *const blanks[] = {"", "", "", " ", "\t", "  "};
    char *const text = to->texts[record][column];
    const bool quoted = draw(3) == 0;
    draw_text(text, quoted);
    if (fixed)
        snprintf(text, 40, "%s", fixed);
    if (first && (text[0] == '#' || text[0] == '\0')) // a comment, or a record that looks blank
        snprintf(text, 40, "1");
    put(to, blanks[draw(6)]);
    put(to, quoted ? "\"" : "");
    to->is_quoted[record][column] = quoted;
    to->cell_at[record][column] = to->bytes.length;
    for (const char *at = text; *at != '\0'; at++)
        put(to, *at == '"' ? "\"\"" : (char[]){*at, '\0'});
    to->cell_end[record][column] = to->bytes.length;
    put(to, quoted ? "\"" : "");
    if (text[0] != '\0' || quoted) // blanks alone: the test could not say before or behind
        put(to, blanks[draw(6)]);
}

static void put_record(drawn *to, bool is_header, const char *line_end) {
    const size_t record = to->count++;
    to->lines[record] = to->line;
    for (size_t i = 0; i < COLUMNS; i++) {
        put(to, i > 0 ? "," : "");
        put_cell(to, record, to->order[i], i == 0, is_header ? columns[to->order[i]] : NULL);
    }
    put(to, line_end);
}

static void put_other(drawn *to, const char *line_end) {
    static const char *const others[] = {"# a comment, with a comma", "", "#", "  # \"not a quote\"",
                                         "\"# quoted, in two\nlines\""};
    const size_t which = draw(3);
    put(to, others[which]);
    put(to, line_end);
}

static void draw_table(drawn *to) {
    const char *const line_end = draw(2) == 0 ? "\r\n" : "\n";
    const size_t records = 2 + draw(RECORDS_MAX - 2);
    *to = (drawn){.line = 1};
    for (size_t i = 0; i < COLUMNS; i++)
        to->order[i] = i;
    for (size_t i = COLUMNS - 1; i > 0; i--) {
        const size_t other = draw((uint32_t)i + 1), kept = to->order[i];
        to->order[i] = to->order[other];
        to->order[other] = kept;
    }
    if (draw(4) == 0)
        put(to, "\xEF\xBB\xBF");
    for (size_t i = 0; i < records; i++) {
        while (draw(5) == 0)
            put_other(to, line_end);
        put_record(to, i == 0, i + 1 == records && draw(3) == 0 ? "" : line_end);
    }
}

// ---- libcsv, by itself -------------------------------------------------------------------

typedef struct rows {
    sm_text cells; // each with a NUL, records ended by "\x1e"
    size_t count;
} rows;

static void take_cell(void *cell, size_t length, void *context) {
    rows *const to = context;
    sm_text_append(&to->cells, cell ? cell : "", cell ? length : 0);
    sm_text_append(&to->cells, "\x1f", 1);
}

static void end_record(int terminator, void *context) {
    rows *const to = context;
    (void)terminator;
    to->count++;
    sm_text_append(&to->cells, "\x1e", 1);
}

static rows read_alone(const sm_text *bytes) {
    rows read = {0};
    struct csv_parser parser;
    const size_t bom = bytes->length >= 3 && memcmp(bytes->bytes, "\xEF\xBB\xBF", 3) == 0 ? 3 : 0;
    assert_int_equal(csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI), 0);
    assert_int_equal(
        csv_parse(&parser, bytes->bytes + bom, bytes->length - bom, take_cell, end_record, &read),
        bytes->length - bom);
    assert_int_equal(csv_fini(&parser, take_cell, end_record, &read), 0);
    csv_free(&parser);
    return read;
}

// The cells of FROM with one replaced, as libcsv gives them: from the test's own memory.
static void assert_differs_by(const sm_text *before, const sm_text *after, const char *was,
                              const char *text) {
    rows first = read_alone(before), second = read_alone(after);
    assert_int_equal(first.count, second.count);
    const char *a = first.cells.bytes, *b = second.cells.bytes;
    while (*a != '\0' && *a == *b) {
        a++;
        b++;
    }
    while (a > first.cells.bytes && a[-1] != '\x1f' && a[-1] != '\x1e') {
        a--;
        b--;
    }
    if (strcmp(was, text) != 0) {
        assert_memory_equal(a, was, strlen(was));
        assert_memory_equal(b, text, strlen(text));
        assert_string_equal(a + strlen(was), b + strlen(text));
    } else {
        assert_string_equal(first.cells.bytes, second.cells.bytes);
    }
    sm_text_deinit(&first.cells);
    sm_text_deinit(&second.cells);
}

static void change_one_cell(const drawn *table, size_t record, size_t column) {
    char text[40];
    sm_text out = {0}, why = {0};
    draw_text(text, draw(2) == 0);
    if (table->order[0] == column && (text[0] == '#' || text[0] == '\0'))
        snprintf(text, sizeof text, "2");
    const char *const was = table->texts[record][column];
    const sm_cell_change change = {table->lines[record], columns[column], was, text};
    const sm_table_edit edit = {.changes = &change, .change_count = 1};
    const sm_result result = sm_table_edit_bytes(table->bytes.bytes, table->bytes.length, &edit, &out, &why);
    if (result != SM_OK)
        fail_msg("\"%s\" to \"%s\" in\n%s\n%s", was, text, table->bytes.bytes, sm_text_get(&why));
    const size_t at = table->cell_at[record][column], behind = table->cell_end[record][column];
    const size_t rest = table->bytes.length - behind;
    assert_true(out.length >= at + rest);
    assert_memory_equal(out.bytes, table->bytes.bytes, at);
    assert_memory_equal(out.bytes + out.length - rest, table->bytes.bytes + behind, rest);
    assert_differs_by(&table->bytes, &out, was, text);
    sm_text_deinit(&out);
    sm_text_deinit(&why);
}

static void add_two_rows(const drawn *table) {
    static const char *const named[2] = {"note", "time"};
    static const char *const cells[4] = {"one, two", "9:00.000", "", "9:01"};
    const sm_table_edit edit = {.columns = named, .column_count = 2, .cells = cells, .row_count = 2};
    sm_text out = {0}, why = {0};
    if (table->order[0] != 0 && table->order[0] != 4)
        return; // a record that begins with an empty cell
    assert_int_equal(sm_table_edit_bytes(table->bytes.bytes, table->bytes.length, &edit, &out, &why), SM_OK);
    assert_memory_equal(out.bytes, table->bytes.bytes, table->bytes.length);
    rows before = read_alone(&table->bytes), after = read_alone(&out);
    assert_int_equal(after.count, before.count + 2);
    assert_memory_equal(after.cells.bytes, before.cells.bytes, before.cells.length);
    assert_non_null(strstr(after.cells.bytes + before.cells.length, "one, two\x1f"));
    assert_non_null(strstr(after.cells.bytes + before.cells.length, "9:01\x1f"));
    const bool is_crlf = strstr(table->bytes.bytes, "\r\n");
    assert_int_equal(out.bytes[out.length - 2] == '\r', is_crlf);
    sm_text_deinit(&before.cells);
    sm_text_deinit(&after.cells);
    sm_text_deinit(&out);
    sm_text_deinit(&why);
}

static void only_the_bytes_of_the_cell_change(void **state) {
    (void)state;
    static drawn table;
    for (int i = 0; i < 3000; i++) {
        draw_table(&table);
        change_one_cell(&table, 1 + draw((uint32_t)table.count - 1), draw(COLUMNS));
        add_two_rows(&table);
        sm_text_deinit(&table.bytes);
    }
}

static const char short_table[] = "# SPDX-License-Identifier: GPL-3.0-or-later\n"
                                  "time , \"target\",do,id,note\r\n"
                                  " 0:01.5 ,A-01, comet ,\"1\",\n"
                                  "# of the second bell\n"
                                  "2,\"A-02\",comet,,\"two\nlines\"\n"
                                  "01:00:03:00,A-03,comet,3,";

static sm_result edit(const sm_cell_change *changes, size_t count, sm_text *out, sm_text *why) {
    const sm_table_edit wanted = {.changes = changes, .change_count = count};
    sm_text_clear(out);
    sm_text_clear(why);
    return sm_table_edit_bytes(short_table, sizeof short_table - 1, &wanted, out, why);
}

static void many_cells_change_at_once(void **state) {
    (void)state;
    sm_text out = {0}, why = {0};
    const sm_cell_change changes[] = {{7, "note", "", "last"},
                                      {5, "time", "2", "2.25"},
                                      {3, "note", "", "first, of all"},
                                      {3, "id", NULL, "one \"1\""}};
    assert_int_equal(edit(changes, 4, &out, &why), SM_OK);
    assert_string_equal(out.bytes, "# SPDX-License-Identifier: GPL-3.0-or-later\n"
                                   "time , \"target\",do,id,note\r\n"
                                   " 0:01.5 ,A-01, comet ,\"one \"\"1\"\"\",\"first, of all\"\n"
                                   "# of the second bell\n"
                                   "2.25,\"A-02\",comet,,\"two\nlines\"\n"
                                   "01:00:03:00,A-03,comet,3,last");
    sm_text_deinit(&out);
    sm_text_deinit(&why);
}

static void what_cannot_be_done_is_said(void **state) {
    (void)state;
    static const struct {
        sm_cell_change change;
        const char *why;
    } cases[] = {
        {{4, "time", NULL, "3"}, "no row begins at line 4"},
        {{6, "time", NULL, "3"}, "no row begins at line 6"}, // within a record
        {{99, "time", NULL, "3"}, "no row begins at line 99"},
        {{3, "fade", NULL, "3"}, "the header has no column fade; add it"},
        {{3, "time", "0:01.50", "3"}, "line 3: time is no longer what it was"},
        {{3, "time", NULL, "#3"}, "a cell cannot hold what it should"},
        {{3, "note", NULL, "bell\a"}, "line 3: this is a control character; take it out"},
    };
    sm_text out = {0}, why = {0};
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        assert_int_equal(edit(&cases[i].change, 1, &out, &why), SM_INVALID);
        assert_string_equal(sm_text_get(&why), cases[i].why);
        assert_int_equal(out.length, 0);
    }
    const sm_cell_change twice[] = {{3, "time", NULL, "3"}, {3, "time", NULL, "4"}};
    assert_int_equal(edit(twice, 2, &out, &why), SM_INVALID);
    assert_string_equal(why.bytes, "a cell would be changed twice");
    const sm_table_edit none = {0};
    sm_text_clear(&why);
    assert_int_equal(sm_table_edit_bytes("time\n\"1", 7, &none, &out, &why), SM_INVALID);
    assert_non_null(strstr(why.bytes, "line 2: "));
    sm_text_deinit(&out);
    sm_text_deinit(&why);
}

static void a_table_begins_with_its_header(void **state) {
    (void)state;
    static const char *const named[] = {"rail", "slot", "reading", "when", "by"};
    static const char *const cells[] = {"A", "5", "4.98", "2026-06-20T17:05:20", "K, with M"};
    const sm_table_edit row = {.columns = named, .column_count = 5, .cells = cells, .row_count = 1};
    sm_text out = {0}, why = {0};
    assert_int_equal(sm_table_edit_bytes("", 0, &row, &out, &why), SM_OK);
    assert_string_equal(out.bytes, "rail,slot,reading,when,by\nA,5,4.98,2026-06-20T17:05:20,\"K, with M\"\n");
    sm_text_clear(&out);
    assert_int_equal(sm_table_edit_bytes("# only this", 11, &row, &out, &why), SM_OK);
    assert_string_equal(
        out.bytes, "# only this\nrail,slot,reading,when,by\nA,5,4.98,2026-06-20T17:05:20,\"K, with M\"\n");
    sm_text_deinit(&out);
    sm_text_deinit(&why);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_the_bytes_of_the_cell_change),
        cmocka_unit_test(many_cells_change_at_once),
        cmocka_unit_test(what_cannot_be_done_is_said),
        cmocka_unit_test(a_table_begins_with_its_header),
    };
    return cmocka_run_group_tests_name("show table edit", tests, NULL, NULL);
}

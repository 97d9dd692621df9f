// SPDX-License-Identifier: GPL-3.0-or-later
// The records of CSV files. The cases follow RFC 4180 section 2, rules 1 to 7 (1 to 5 read in the standard, 6 and 7
// second-hand); their kinds are those of a well-known collection of CSV samples, the texts are our own.
#include "show/csv.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <csv.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// Records as "LINE|cell|cell;" with the control characters of cells made visible, findings as "LINE:COLUMN csv;".
typedef struct seen {
    sm_text records;
    sm_text findings;
} seen;

static void append_visible(sm_text *out, const char *cell, size_t length) {
    for (size_t i = 0; i < length; i++)
        if (cell[i] == '\n')
            sm_text_append(out, "\\n", 2);
        else if (cell[i] == '\r')
            sm_text_append(out, "\\r", 2);
        else
            sm_text_append(out, cell + i, 1);
}

static bool take(void *context, const sm_csv_record *record) {
    sm_text *const out = context;
    sm_text_printf(out, "%u", (unsigned)record->line);
    for (size_t i = 0; i < record->cell_count; i++) {
        sm_text_append(out, "|", 1);
        append_visible(out, record->bytes + record->cells[i].at, record->cells[i].length);
    }
    sm_text_append(out, ";", 1);
    return true;
}

// Hands the records of TEXT to HANDLER with CONTEXT, and appends the findings to *told, where it is not NULL. Returns how many there are.
static size_t read_records(const char *text, size_t length, sm_csv_handler handler, void *context,
                           sm_text *told) {
    size_t dropped;
    sm_lines lines;
    char *const copy = malloc(length + 1);
    sm_arena *const arena = sm_arena_create();
    sm_findings *const findings = sm_findings_create();
    assert_non_null(copy);
    memcpy(copy, text, length);
    sm_lines_of_bytes(&lines, copy, length);
    assert_int_equal(sm_csv_read("a.csv", &lines, arena, findings, handler, context, &dropped), SM_OK);
    const size_t count = sm_findings_count(findings);
    for (size_t i = 0; told && i < count; i++) {
        const sm_finding *const each = sm_findings_at(findings, i);
        sm_text_printf(told, "%u:%u %s;", (unsigned)each->line, (unsigned)each->column, each->rule);
    }
    sm_findings_destroy(findings);
    sm_arena_destroy(arena);
    free(copy);
    return count;
}

static seen read_bytes(const char *text, size_t length) {
    seen result = {0};
    read_records(text, length, take, &result.records, &result.findings);
    return result;
}

typedef struct sample {
    const char *what, *text, *records, *findings;
} sample;

static const sample samples[] = {
    {"rule 1: CRLF ends a record", "a,b\r\nc,d\r\n", "1|a|b;2|c|d;", ""},
    {"bare LF ends one too (a lenient extension)", "a,b\nc,d\n", "1|a|b;2|c|d;", ""},
    {"rule 2: the last line end may be missing", "a,b\r\nc,d", "1|a|b;2|c|d;", ""},
    {"rule 4: empty fields", "a,,c\n,,\n", "1|a||c;2|||;", ""},
    {"rule 4, deviation: blanks round an unquoted field are dropped", " a , b\t\n", "1|a|b;", ""},
    {"rule 5: quoted fields, blanks in quotes kept", "\"a\",\" b \"\n", "1|a| b ;", ""},
    {"rule 5: a quoted empty field", "\"\",x\r\n", "1||x;", ""},
    {"rule 5: no quote in an unquoted field", "a\"b,c\nd,e\n", "2|d|e;", "1:2 csv;"},
    {"rule 5: nothing after the closing quote", "x,\"a\"b,c\nd,e\n", "2|d|e;", "1:6 csv;"},
    {"rule 6: comma in quotes", "\"12 Quay, left\",y\n", "1|12 Quay, left|y;", ""},
    {"rule 6: line feed in quotes", "\"one\ntwo\",b\nc,d\n", "1|one\\ntwo|b;3|c|d;", ""},
    {"rule 6: CRLF in quotes", "\"one\r\ntwo\",b\r\nc,d\r\n", "1|one\\r\\ntwo|b;3|c|d;", ""},
    {"rule 6: CR in quotes", "\"one\rtwo\",b\n", "1|one\\rtwo|b;", ""},
    {"rule 7: a quote inside is doubled", "\"say \"\"hold\"\"\",b\n", "1|say \"hold\"|b;", ""},
    {"rules 6 and 7 together", "\"a\n\"\"b\"\"\",c\nd,e\n", "1|a\\n\"b\"|c;3|d|e;", ""},
    {"a JSON text", "k,\"{\"\"x\"\": [1, 2]}\"\n", "1|k|{\"x\": [1, 2]};", ""},
    {"letters beyond ASCII", "\xC3\xA4,\xE2\x82\xAC\n", "1|\xC3\xA4|\xE2\x82\xAC;", ""},
    {"byte order mark",
     "\xEF\xBB\xBF"
     "a,b\n",
     "1|a|b;", ""},
    {"blank lines", "\na,b\n\r\n  \n\nc,d\n\n", "2|a|b;6|c|d;", ""},
    {"a comment follows the quoting rules", "# it is, \"so,so\"\na\n", "1|# it is|so,so;2|a;", ""},
    {"nothing at all", "", "", ""},
    {"a bare carriage return", "a,b\rc,d\ne,f\n", "2|e|f;", "1:4 csv;"},
    {"a carriage return at the end of the file", "a,b\nc,d\r", "1|a|b;", "2:4 csv;"},
    {"a quote that is never closed", "a,b\nc,\"d\ne,f\n", "1|a|b;", "2:3 csv;"},
    {"after an error in a record of two lines", "\"a\nb\"c\nd\n", "3|d;", "2:3 csv;"},
    {"columns count characters", "\xC3\xA4\xC3\xA4,\xE2\x82\xAC\"\n", "", "1:5 csv;"},
    {"bytes that are no UTF-8", "a\xFFz,b\n", "1|a?z|b;", "1:2 text;"},
    {"a sequence longer than it need be (RFC 3629)", "\xC0\xAF\n", "1|??;", "1:1 text;"},
    {"a control character", "ab\x1B[2J\n", "1|ab?[2J;", "1:3 text;"},
    {"a control character of the second set",
     "\xC2\x9B"
     "2J\n",
     "1|\xC2\xBF"
     "2J;",
     "1:1 text;"},
    {"one finding a line", "\xFF\xFE\nok\n\xFF\n", "1|??;2|ok;3|?;", "1:1 text;3:1 text;"},
};

static void reads_what_the_standard_says(void **state) {
    (void)state;
    for (size_t i = 0; i < sizeof samples / sizeof samples[0]; i++) {
        seen got = read_bytes(samples[i].text, strlen(samples[i].text));
        if (strcmp(sm_text_get(&got.records), samples[i].records) != 0 ||
            strcmp(sm_text_get(&got.findings), samples[i].findings) != 0)
            fail_msg("%s: \"%s\", \"%s\"", samples[i].what, sm_text_get(&got.records),
                     sm_text_get(&got.findings));
        sm_text_deinit(&got.records);
        sm_text_deinit(&got.findings);
    }
}

static void replaces_zero_bytes(void **state) {
    (void)state;
    static const char bytes[] = "a\0b,c\n";
    seen got = read_bytes(bytes, sizeof bytes - 1);
    assert_string_equal(sm_text_get(&got.records), "1|a?b|c;");
    assert_string_equal(sm_text_get(&got.findings), "1:2 text;");
    sm_text_deinit(&got.records);
    sm_text_deinit(&got.findings);
}

// Columns of the cells of the first record, after "a.csv" was read into *(sm_text *).
static bool take_columns(void *context, const sm_csv_record *record) {
    for (size_t i = 0; i <= record->cell_count; i++)
        sm_text_printf(context, "%u ", (unsigned)sm_csv_column(record, i));
    return true;
}

static void finds_the_column_of_a_cell(void **state) {
    (void)state;
    static const struct {
        const char *text, *columns; // of each cell, then of the record's end
    } rows[] = {
        {"a,bb,c\n", "1 3 6 7 "},
        {"a,,c\n", "1 3 4 5 "},
        {"  a ,  \"b,\"\"\" ,c\r\n", "3 8 16 17 "},
        {"\xC3\xA4,b\n", "1 3 4 "},
        {",  ,\n", "1 2 5 5 "},
        {"\"a\nbb\",c\n", "1 5 6 "},
        {"\xEF\xBB\xBF"
         "a,b\n",
         "1 3 4 "},
        {"a,b", "1 3 4 "},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        char copy[64];
        const size_t length = strlen(rows[i].text);
        sm_text columns = {0};
        sm_lines lines;
        size_t dropped;
        sm_arena *const arena = sm_arena_create();
        sm_findings *const findings = sm_findings_create();
        memcpy(copy, rows[i].text, length);
        sm_lines_of_bytes(&lines, copy, length);
        assert_int_equal(sm_csv_read("a.csv", &lines, arena, findings, take_columns, &columns, &dropped),
                         SM_OK);
        assert_string_equal(sm_text_get(&columns), rows[i].columns);
        sm_text_deinit(&columns);
        sm_findings_destroy(findings);
        sm_arena_destroy(arena);
    }
}

static bool count_cells(void *context, const sm_csv_record *record) {
    *(size_t *)context += record->cell_count;
    return true;
}

static void counts_cells_that_it_does_not_keep(void **state) {
    (void)state;
    char row[SM_CSV_CELLS_MAX * 4 + 1];
    size_t count = 0, dropped;
    sm_lines lines;
    sm_arena *const arena = sm_arena_create();
    sm_findings *const findings = sm_findings_create();
    memset(row, ',', sizeof row);
    row[sizeof row - 1] = '\n';
    sm_lines_of_bytes(&lines, row, sizeof row);
    assert_int_equal(sm_csv_read("a.csv", &lines, arena, findings, count_cells, &count, &dropped), SM_OK);
    assert_int_equal(count, SM_CSV_CELLS_MAX * 4 + 1);
    sm_findings_destroy(findings);
    sm_arena_destroy(arena);
}

// A file that is larger than what is read at once, with a record that is larger still.
static void reads_a_file_in_pieces(void **state) {
    (void)state;
    enum { ROWS = 60000, LONG_BYTES = 700 * 1024 };
    char path[] = "/tmp/slowmatch-csv-XXXXXX";
    const int descriptor = mkstemp(path);
    FILE *const out = fdopen(descriptor, "w");
    assert_non_null(out);
    size_t cells = 0, dropped;
    for (int i = 0; i < ROWS; i++, cells += 3)
        fprintf(out, "%d,\"two\n lines\",c\n", i);
    fputc('"', out);
    for (int i = 0; i < LONG_BYTES; i++)
        fputc(i % 50 == 0 ? '\n' : 'x', out);
    fputs("\",end\n", out);
    cells += 2;
    assert_int_equal(fclose(out), 0);
    size_t found = 0;
    sm_lines lines;
    sm_arena *const arena = sm_arena_create();
    sm_findings *const findings = sm_findings_create();
    assert_int_equal(sm_lines_open(&lines, path, arena), SM_OK);
    assert_int_equal(sm_csv_read("a.csv", &lines, arena, findings, count_cells, &found, &dropped), SM_OK);
    assert_int_equal(found, cells);
    assert_int_equal(sm_findings_count(findings), 0);
    sm_lines_deinit(&lines);
    sm_findings_destroy(findings);
    sm_arena_destroy(arena);
    assert_int_equal(remove(path), 0);
}

static void refuses_what_is_no_file(void **state) {
    (void)state;
    sm_lines lines;
    sm_arena *const arena = sm_arena_create();
    assert_int_equal(sm_lines_open(&lines, "/dev/zero", arena), SM_UNREADABLE);
    assert_int_equal(sm_lines_open(&lines, "/tmp", arena), SM_UNREADABLE);
    assert_int_equal(sm_lines_open(&lines, "/tmp/there-is-no-such-file", arena), SM_UNREADABLE);
    sm_arena_destroy(arena);
}

// ---- held against libcsv itself, fed the whole text at once: another way through it than the program's, which cuts most lines by itself

static void take_theirs(void *cell, size_t length, void *context) {
    sm_text *const out = context;
    sm_text_append(out, "|", 1);
    append_visible(out, cell, length);
}

static void end_theirs(int terminator, void *context) {
    (void)terminator;
    sm_text_append(context, ";", 1);
}

static bool take_without_line(void *context, const sm_csv_record *record) {
    for (size_t i = 0; i < record->cell_count; i++)
        take_theirs((void *)(uintptr_t)(record->bytes + record->cells[i].at), record->cells[i].length,
                    context);
    end_theirs('\n', context);
    return true;
}

// Well-formed pieces, and now and then a quote that is not.
static size_t draw_text(uint64_t *seed, char *text, size_t room) {
    static const char *const pieces[] = {
        "a", "b c", ",", " ", "\t", "\n", "\r\n", ",\"x, \"\"y\"\"\nz \" ,", "\n\n", "longer words, "};
    size_t length = 0;
    for (;;) {
        *seed = *seed * UINT64_C(6364136223846793005) + UINT64_C(1442695040888963407);
        const bool is_odd = (*seed >> 45) % 300 == 0;
        const char *const piece = is_odd ? "\"" : pieces[(*seed >> 33) % (sizeof pieces / sizeof pieces[0])];
        if (length + strlen(piece) > room || (*seed >> 40) % 200 == 0)
            return length;
        memcpy(text + length, piece, strlen(piece));
        length += strlen(piece);
    }
}

static void cuts_as_libcsv_cuts(void **state) {
    (void)state;
    enum { TEXTS = 3000, ROOM = 400 };
    uint64_t seed = 11;
    size_t refused = 0;
    for (int i = 0; i < TEXTS; i++) {
        char text[ROOM];
        const size_t length = draw_text(&seed, text, sizeof text);
        sm_text theirs = {0}, ours = {0};
        struct csv_parser parser;
        csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI);
        const bool is_whole = csv_parse(&parser, text, length, take_theirs, end_theirs, &theirs) == length &&
                              csv_fini(&parser, take_theirs, end_theirs, &theirs) == 0;
        csv_free(&parser);
        const size_t findings = read_records(text, length, take_without_line, &ours, NULL);
        if (is_whole)
            assert_string_equal(sm_text_get(&ours), sm_text_get(&theirs));
        assert_int_equal(findings > 0, !is_whole);
        refused += !is_whole;
        sm_text_deinit(&theirs);
        sm_text_deinit(&ours);
    }
    assert_in_range(refused, TEXTS / 10, TEXTS / 2);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_what_the_standard_says), cmocka_unit_test(replaces_zero_bytes),
        cmocka_unit_test(finds_the_column_of_a_cell),   cmocka_unit_test(counts_cells_that_it_does_not_keep),
        cmocka_unit_test(cuts_as_libcsv_cuts),          cmocka_unit_test(reads_a_file_in_pieces),
        cmocka_unit_test(refuses_what_is_no_file),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// Texts, UTF-8, names and whole files. Outside checks: SQLite's JSON reader and libcsv read back what base
// wrote.
#include "slowmatch/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <csv.h>
#include <errno.h>
#include <sqlite3.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static void appends_and_grows(void **state) {
    (void)state;
    sm_text text = {0};
    assert_string_equal(sm_text_get(&text), "");
    for (int i = 0; i < 1000; i++)
        sm_text_printf(&text, "%d,", i % 10);
    assert_int_equal(text.length, 2000);
    assert_int_equal(strlen(sm_text_get(&text)), 2000);
    assert_memory_equal(sm_text_get(&text) + 1980, "0,1,2,3,4,5,6,7,8,9,", 20);
    sm_text_append(&text, "a\0b", 3);
    assert_int_equal(text.length, 2003);
    sm_text_clear(&text);
    assert_string_equal(sm_text_get(&text), "");
    sm_text_printf(&text, "%s", "");
    assert_int_equal(text.length, 0);
    sm_text_deinit(&text);
    assert_null(text.bytes);
}

static void keeps_whole_appends_when_one_fails(void **state) {
    (void)state;
    sm_text text = {0};
    sm_text_append(&text, "kept", 4);
    // More than memory can hold: refused before a byte is read.
    volatile size_t too_long = PTRDIFF_MAX;
    sm_text_append(&text, "x", too_long);
    assert_true(text.failed);
    assert_string_equal(sm_text_get(&text), "kept");
    sm_text_append(&text, "after", 5);
    sm_text_append_json(&text, "after");
    sm_text_append_csv(&text, "af,ter");
    sm_text_printf(&text, "%d", 1);
    assert_string_equal(sm_text_get(&text), "kept");
    sm_text_clear(&text);
    assert_false(text.failed);
    sm_text_append(&text, "again", 5);
    assert_string_equal(sm_text_get(&text), "again");
    sm_text_deinit(&text);
}

static void quotes_csv_fields(void **state) {
    (void)state;
    // RFC 4180 section 2, rules 5 to 7 (second-hand); quoting blanks at an end is this product's own rule.
    static const char *const rows[][2] = {
        {"aaa", "aaa"},     {"", ""},         {"b\r\nbb", "\"b\r\nbb\""}, {"b\"bb", "\"b\"\"bb\""},
        {"a,b", "\"a,b\""}, {"\n", "\"\n\""}, {" a", "\" a\""},           {"a\t", "\"a\t\""},
        {"\"", "\"\"\"\""}, {"a b", "a b"},   {"\"\"", "\"\"\"\"\"\""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        sm_text text = {0};
        sm_text_append_csv(&text, rows[i][0]);
        assert_string_equal(sm_text_get(&text), rows[i][1]);
        sm_text_deinit(&text);
    }
}

static void keep_field(void *bytes, size_t length, void *context) {
    sm_text_append(context, bytes, length);
}

static void libcsv_reads_back_every_ascii_field(void **state) {
    (void)state;
    for (char c = 1; c < 127; c++) {
        const char field[] = {c, 'm', c, c, 'n', c, '\0'};
        sm_text written = {0}, read = {0};
        sm_text_append_csv(&written, field);
        struct csv_parser parser;
        assert_int_equal(csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI), 0);
        assert_int_equal(csv_parse(&parser, written.bytes, written.length, keep_field, NULL, &read),
                         written.length);
        assert_int_equal(csv_fini(&parser, keep_field, NULL, &read), 0);
        assert_string_equal(sm_text_get(&read), field);
        csv_free(&parser);
        sm_text_deinit(&written);
        sm_text_deinit(&read);
    }
}

// What spreadsheets take for a formula begins with one of these signs; an apostrophe before it keeps it text (common practice, no
// source). Whatever a text begins with, it is read back as it was.
static void what_looks_like_a_formula_stays_text(void **state) {
    (void)state;
    static const char *const rows[][2] = {
        {"=1+1", "'=1+1"},
        {"+5 m", "'+5 m"},
        {"-x", "'-x"},
        {"@SUM(A1)", "'@SUM(A1)"},
        {"  =1", "'  =1"},
        {"'=1", "''=1"},
        {"-5", "-5"},
        {"-0.25", "-0.25"},
        {"-1:02.5", "-1:02.5"},
        {"0:04.000", "0:04.000"},
        {"-1+cmd", "'-1+cmd"},
        {"a=b", "a=b"},
        {"'tis", "'tis"},
        {"", ""},
        {"-", "'-"},
        {"01:00:00;02", "01:00:00;02"},
        {"=\"a,b\"", "\"'=\"\"a,b\"\"\""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        sm_text text = {0};
        sm_text_append_csv_shown(&text, rows[i][0]);
        assert_string_equal(sm_text_get(&text), rows[i][1]);
        sm_text_deinit(&text);
    }
    static const char signs[] = "'=+-@5 :x";
    for (unsigned n = 0; n < 9 * 9 * 9 * 9; n++) {
        const char field[] = {signs[n % 9], signs[n / 9 % 9], signs[n / 81 % 9], signs[n / 729], '\0'};
        sm_text text = {0};
        sm_text_append_csv_shown(&text, field);
        char *shown = text.bytes;
        if (*shown == '"') { // for its blanks; it holds no quotes
            shown[text.length - 1] = '\0';
            shown++;
        }
        assert_string_equal(shown + sm_csv_guard(shown, strlen(shown)), field);
        sm_text_deinit(&text);
    }
}

static void escapes_json_strings(void **state) {
    (void)state;
    // RFC 8259 section 7 (from memory): quote, reverse solidus and U+0000 to U+001F must be escaped, nothing
    // else.
    static const char *const rows[][2] = {
        {"", "\"\""},
        {"a/b", "\"a/b\""},
        {"\"\\", "\"\\\"\\\\\""},
        {"\b\f\n\r\t", "\"\\b\\f\\n\\r\\t\""},
        {"\x01\x0B\x1F\x7F", "\"\\u0001\\u000b\\u001f\\u007f\""},
        {"\xC2\x9B\xE2\x80\xAE",
         "\"\\u009b\\u202e\""},                       // may be escaped (section 7), and a terminal obeys them
        {"\xF0\x9D\x84\x9E", "\"\xF0\x9D\x84\x9E\""}, // U+1D11E, the G clef of that section
        {"a\xFFz", "\"a\xEF\xBF\xBDz\""},
        {"\xC3", "\"\xEF\xBF\xBD\""},
        {"\xED\xA0\x80", "\"\xEF\xBF\xBD\xEF\xBF\xBD\xEF\xBF\xBD\""},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        sm_text text = {0};
        sm_text_append_json(&text, rows[i][0]);
        assert_string_equal(sm_text_get(&text), rows[i][1]);
        sm_text_deinit(&text);
    }
}

static void sqlite_reads_back_every_json_string(void **state) {
    (void)state;
    sqlite3 *database = NULL;
    sqlite3_stmt *query = NULL;
    assert_int_equal(sqlite3_open(":memory:", &database), SQLITE_OK);
    assert_int_equal(sqlite3_prepare_v2(database, "SELECT json_extract(?1, '$')", -1, &query, NULL),
                     SQLITE_OK);
    for (char c = 1; c < 127; c++) {
        const char string[] = {c, c, 'u', c, '\xC3', '\xA9', c, '\0'};
        sm_text text = {0};
        sm_text_append_json(&text, string);
        sqlite3_bind_text(query, 1, text.bytes, (int)text.length, SQLITE_STATIC);
        assert_int_equal(sqlite3_step(query), SQLITE_ROW);
        assert_string_equal((const char *)sqlite3_column_text(query, 0), string);
        sqlite3_reset(query);
        sm_text_deinit(&text);
    }
    sqlite3_finalize(query);
    sqlite3_close(database);
}

static void knows_well_formed_utf8(void **state) {
    (void)state;
    // The limits of each row of the syntax in RFC 3629 section 4 (from memory).
    static const struct {
        const char *bytes;
        size_t length, expected;
    } rows[] = {
        {"", 0, 0},
        {"a", 1, 1},
        {"\0", 1, 1},
        {"\x7F", 1, 1},
        {"\x80", 1, 0}, // a continuation alone
        {"\xBF", 1, 0},
        {"\xC0\x80", 2, 0}, // overlong U+0000
        {"\xC1\xBF", 2, 0},
        {"\xC2\x80", 2, 2}, // U+0080
        {"\xDF\xBF", 2, 2}, // U+07FF
        {"\xC3\xA9", 1, 0}, // cut short
        {"\xC3\x41", 2, 0},
        {"\xE0\x9F\xBF", 3, 0}, // overlong U+07FF
        {"\xE0\xA0\x80", 3, 3}, // U+0800
        {"\xED\x9F\xBF", 3, 3}, // U+D7FF
        {"\xED\xA0\x80", 3, 0}, // U+D800, a surrogate
        {"\xED\xBF\xBF", 3, 0}, // U+DFFF
        {"\xEE\x80\x80", 3, 3}, // U+E000
        {"\xEF\xBF\xBF", 3, 3}, // U+FFFF
        {"\xE2\x82", 2, 0},
        {"\xE2\x82\x41", 3, 0},
        {"\xF0\x8F\xBF\xBF", 4, 0}, // overlong U+FFFF
        {"\xF0\x90\x80\x80", 4, 4}, // U+10000
        {"\xF4\x8F\xBF\xBF", 4, 4}, // U+10FFFF
        {"\xF4\x90\x80\x80", 4, 0}, // U+110000
        {"\xF5\x80\x80\x80", 4, 0},
        {"\xF0\x90\x80", 3, 0},
        {"\xF8\x88\x80\x80\x80", 5, 0},
        {"\xFE", 1, 0},
        {"\xFF", 1, 0},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        assert_int_equal(sm_utf8_length(rows[i].bytes, rows[i].length), rows[i].expected);
}

static void counts_characters(void **state) {
    (void)state;
    assert_int_equal(sm_utf8_count("", 0), 0);
    assert_int_equal(sm_utf8_count("abc", 3), 3);
    // The examples of RFC 3629 section 7 (from memory): "A<NOT IDENTICAL TO><ALPHA>.", three Hangul, three
    // Kanji.
    assert_int_equal(sm_utf8_count("\x41\xE2\x89\xA2\xCE\x91\x2E", 7), 4);
    assert_int_equal(sm_utf8_count("\xED\x95\x9C\xEA\xB5\xAD\xEC\x96\xB4", 9), 3);
    assert_int_equal(sm_utf8_count("\xE6\x97\xA5\xE6\x9C\xAC\xE8\xAA\x9E", 9), 3);
    assert_int_equal(sm_utf8_count("\xFF\xC3\xA9\x80", 4), 3);
}

static const char *name_at(const void *context, size_t index) {
    const char *const *const names = context;
    return names[index];
}

static void suggests_the_nearest_name(void **state) {
    (void)state;
    static const char *const names[] = {"time",  "times",    "target", "do", "fade",
                                        "lasts", "igniters", "wire",   "x"};
    static const char *const rows[][2] = {
        {"time", "time"},
        {"tiem", "time"}, // a swap of neighbours
        {"TARGTE", "target"},
        {"Fade", "fade"},
        {"last", "lasts"},
        {"lastss", "lasts"},
        {"igniter", "igniters"},
        {"ignitors", "igniters"},
        {"ingiterz", "igniters"},
        {"od", "do"},
        {"wlre", "wire"},
        {"wine", "wire"}, // one letter off "wire", two off "time"
        {"banana", NULL},
        {"y", NULL},
        {"", NULL},
        {"ti", NULL},
        {"igXXters", "igniters"}, // two of eight letters: not more than a third
        {"igXXtXrs", NULL},
    };
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        const char *const found = sm_nearest_name(rows[i][0], sizeof names / sizeof names[0], name_at, names);
        if (!rows[i][1])
            assert_null(found);
        else
            assert_string_equal(found, rows[i][1]);
    }
    assert_null(sm_nearest_name("time", 0, name_at, names));
}

static void survives_long_names(void **state) {
    (void)state;
    char longest[64], longer[65];
    memset(longest, 'n', sizeof longest - 1);
    memset(longer, 'n', sizeof longer - 1);
    longest[63] = longer[64] = '\0';
    const char *const names[] = {longer, longest};
    assert_ptr_equal(sm_nearest_name(longest, 2, name_at, names), longest);
    assert_null(sm_nearest_name(longer, 2, name_at, names));
}

static void reads_whole_files(void **state) {
    (void)state;
    char path[] = "/tmp/base_text_test_XXXXXX";
    const int descriptor = mkstemp(path);
    assert_true(descriptor >= 0);
    char *bytes = NULL;
    size_t length = 1;
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    assert_int_equal(length, 0);
    assert_string_equal(bytes, "");
    free(bytes);
    char block[10000];
    for (size_t i = 0; i < sizeof block; i++)
        block[i] = (char)(i * 7);
    assert_int_equal(write(descriptor, block, sizeof block), sizeof block);
    close(descriptor);
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    assert_int_equal(length, sizeof block);
    assert_memory_equal(bytes, block, sizeof block);
    assert_int_equal(bytes[length], '\0');
    free(bytes);
    unlink(path);
}

static void reads_a_stream_of_unknown_length(void **state) {
    (void)state;
    int ends[2];
    assert_int_equal(pipe(ends), 0);
    char block[30000];
    memset(block, 'p', sizeof block);
    assert_int_equal(write(ends[1], block, sizeof block), sizeof block); // a pipe holds 64 KiB
    close(ends[1]);
    char path[64];
    snprintf(path, sizeof path, "/dev/fd/%d", ends[0]);
    char *bytes = NULL;
    size_t length = 0;
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    assert_int_equal(length, sizeof block);
    assert_memory_equal(bytes, block, sizeof block);
    free(bytes);
    close(ends[0]);
}

static void says_why_a_file_cannot_be_read(void **state) {
    (void)state;
    char *bytes = (char *)&errno;
    size_t length = 77;
    assert_int_equal(sm_file_read("/tmp/no-such-folder/no-such-file", &bytes, &length), SM_UNREADABLE);
    assert_int_equal(errno, ENOENT);
    assert_int_equal(sm_file_read("/tmp", &bytes, &length), SM_UNREADABLE);
    assert_int_equal(errno, EISDIR);
    assert_ptr_equal(bytes, &errno);
    assert_int_equal(length, 77);
}

static void every_result_has_a_text_of_its_own(void **state) {
    (void)state;
    for (int i = 0; i < SM_RESULT_COUNT; i++) {
        assert_true(strlen(sm_result_text((sm_result)i)) > 0);
        for (int j = 0; j < i; j++)
            assert_string_not_equal(sm_result_text((sm_result)i), sm_result_text((sm_result)j));
    }
    assert_non_null(sm_result_text(SM_RESULT_COUNT));
}

static void wrapping_breaks_between_words_only(void **state) {
    (void)state;
    sm_text text = {0};
    sm_text_append_wrapped(&text, "  make safe, then the key off\n\nübermäßig lange Wörter\n", 20);
    assert_string_equal(sm_text_get(&text),
                        "  make safe, then\n      the key off\n\nübermäßig lange\n    Wörter\n");
    sm_text_clear(&text);
    // A word that no row holds is cut, and nothing of it is lost.
    sm_text_append_wrapped(&text, "aaaaaaaaaabbbbbbbbbbccccc d\n", 20);
    assert_string_equal(sm_text_get(&text), "aaaaaaaaaabbbbbbbbbb\n    ccccc d\n");
    sm_text_deinit(&text);
}

// Whatever the width, the words come out whole and in order, and no row is too long.
static void wrapping_keeps_every_word_at_every_width(void **state) {
    (void)state;
    static const char line[] = "  nobody goes into the field unless the module is safe and the key is off\n";
    for (size_t columns = 20; columns <= 200; columns++) {
        sm_text text = {0}, words = {0};
        sm_text_append_wrapped(&text, line, columns);
        size_t used = 0;
        for (const char *at = sm_text_get(&text); *at != '\0'; at++) {
            used = *at == '\n' ? 0 : used + 1;
            assert_true(used <= columns);
            bool blank = *at == ' ' || *at == '\n';
            if (!blank)
                sm_text_append(&words, at, 1);
            else if (words.length > 0 && words.bytes[words.length - 1] != ' ')
                sm_text_append(&words, " ", 1);
        }
        assert_string_equal(sm_text_get(&words),
                            "nobody goes into the field unless the module is safe and the key is off ");
        sm_text_deinit(&text);
        sm_text_deinit(&words);
    }
}

static void a_text_begins_in_lent_room_and_outgrows_it(void **state) {
    (void)state;
    char room[8] = "";
    sm_text text = SM_TEXT_IN(room);
    assert_string_equal(sm_text_get(&text), "");
    sm_text_append(&text, "1234567", 7);
    assert_ptr_equal(sm_text_get(&text), room);
    sm_text_append(&text, "8", 1);
    assert_string_equal(sm_text_get(&text), "12345678");
    assert_ptr_not_equal(sm_text_get(&text), room);
    sm_text_clear(&text);
    sm_text_reserve(&text, 100);
    const char *reserved = sm_text_get(&text);
    sm_text_printf(&text, "%99s", "");
    assert_ptr_equal(sm_text_get(&text), reserved);
    sm_text_deinit(&text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_text_begins_in_lent_room_and_outgrows_it),
        cmocka_unit_test(wrapping_breaks_between_words_only),
        cmocka_unit_test(wrapping_keeps_every_word_at_every_width),
        cmocka_unit_test(appends_and_grows),
        cmocka_unit_test(what_looks_like_a_formula_stays_text),
        cmocka_unit_test(keeps_whole_appends_when_one_fails),
        cmocka_unit_test(quotes_csv_fields),
        cmocka_unit_test(libcsv_reads_back_every_ascii_field),
        cmocka_unit_test(escapes_json_strings),
        cmocka_unit_test(sqlite_reads_back_every_json_string),
        cmocka_unit_test(knows_well_formed_utf8),
        cmocka_unit_test(counts_characters),
        cmocka_unit_test(suggests_the_nearest_name),
        cmocka_unit_test(survives_long_names),
        cmocka_unit_test(reads_whole_files),
        cmocka_unit_test(reads_a_stream_of_unknown_length),
        cmocka_unit_test(says_why_a_file_cannot_be_read),
        cmocka_unit_test(every_result_has_a_text_of_its_own),
    };
    return cmocka_run_group_tests_name("base text", tests, NULL, NULL);
}

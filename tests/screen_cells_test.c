// SPDX-License-Identifier: GPL-3.0-or-later
// The grid: what text becomes in cells. Widths are held against Unicode's own data: East_Asian_Width W of U+706B
// and U+FF21 (UAX 11), general category Mn of U+0301 and U+20DD-like marks (read in the standard's data files' terms).
#include "screen/cells.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void expect_row(const sm_cells *cells, int row, const char *text) {
    sm_text got = {0};
    sm_cells_row_text(cells, row, &got);
    assert_string_equal(sm_text_get(&got), text);
    sm_text_deinit(&got);
}

static sm_cells *make(int columns, int rows) {
    sm_cells *cells = sm_cells_create(columns, rows);
    assert_non_null(cells);
    return cells;
}

static void begins_blank(void **state) {
    (void)state;
    sm_cells *cells = make(5, 2);
    assert_int_equal(sm_cells_columns(cells), 5);
    assert_int_equal(sm_cells_rows(cells), 2);
    for (int y = 0; y < 2; y++) {
        for (int x = 0; x < 5; x++) {
            assert_string_equal(sm_cells_at(cells, x, y)->text, " ");
            assert_int_equal(sm_cells_at(cells, x, y)->width, 1);
        }
    }
    sm_cells_destroy(cells);
    sm_cells_destroy(NULL);
}

static void text_goes_where_it_is_told(void **state) {
    (void)state;
    sm_cells *cells = make(10, 3);
    sm_area all = sm_area_of(cells);
    assert_int_equal(sm_area_text(all, 2, 1, SM_LOOK_WARN, "open"), 4);
    assert_int_equal(sm_area_printf(all, 0, 2, SM_LOOK_PLAIN, "%s-%02d", "A", 5), 4);
    expect_row(cells, 0, "");
    expect_row(cells, 1, "  open");
    expect_row(cells, 2, "A-05");
    assert_int_equal(sm_cells_at(cells, 2, 1)->look, SM_LOOK_WARN);
    assert_int_equal(sm_cells_at(cells, 6, 1)->look, SM_LOOK_PLAIN);
    sm_cells_destroy(cells);
}

static void drawing_stays_inside_its_area(void **state) {
    (void)state;
    sm_cells *cells = make(10, 4);
    sm_area part = sm_area_part(sm_area_of(cells), 3, 1, 4, 2);
    assert_int_equal(sm_area_text(part, 0, 0, SM_LOOK_PLAIN, "abcdefghij"), 10);
    sm_area_text(part, -2, 1, SM_LOOK_PLAIN, "uvwxyz");
    sm_area_text(part, 0, 2, SM_LOOK_PLAIN, "below");
    sm_area_text(part, 0, -1, SM_LOOK_PLAIN, "above");
    sm_area_field(part, 2, 0, 20, SM_LOOK_DIM, "");
    sm_area_look(part, -5, 1, 100, SM_LOOK_KEY);
    expect_row(cells, 0, "");
    expect_row(cells, 1, "   ab");
    expect_row(cells, 2, "   wxyz");
    expect_row(cells, 3, "");
    assert_int_equal(sm_cells_at(cells, 2, 2)->look, SM_LOOK_PLAIN);
    assert_int_equal(sm_cells_at(cells, 3, 2)->look, SM_LOOK_KEY);
    assert_int_equal(sm_cells_at(cells, 7, 1)->look, SM_LOOK_PLAIN);
    sm_cells_destroy(cells);
}

static void a_part_is_cut_to_what_it_is_part_of(void **state) {
    (void)state;
    sm_cells *cells = make(10, 4);
    sm_area part = sm_area_part(sm_area_of(cells), 6, 2, 9, 9);
    assert_int_equal(part.columns, 4);
    assert_int_equal(part.rows, 2);
    part = sm_area_part(sm_area_of(cells), 20, 20, 5, 5);
    assert_int_equal(part.columns, 0);
    assert_int_equal(part.rows, 0);
    sm_area_text(part, 0, 0, SM_LOOK_PLAIN, "nothing");
    assert_int_equal(sm_area_wrap(part, 0, 0, SM_LOOK_PLAIN, "nothing"), 0);
    sm_cells_destroy(cells);
}

static void wide_characters_take_two_columns(void **state) {
    (void)state;
    assert_int_equal(sm_text_columns("火花"), 4);
    sm_cells *cells = make(6, 1);
    assert_int_equal(sm_area_text(sm_area_of(cells), 0, 0, SM_LOOK_PLAIN, "火x花"), 5);
    assert_int_equal(sm_cells_at(cells, 0, 0)->width, 2);
    assert_int_equal(sm_cells_at(cells, 1, 0)->width, 0);
    assert_string_equal(sm_cells_at(cells, 2, 0)->text, "x");
    assert_string_equal(sm_cells_at(cells, 3, 0)->text, "花");
    expect_row(cells, 0, "火x花");
    sm_cells_destroy(cells);
}

static void half_a_wide_character_is_never_left(void **state) {
    (void)state;
    sm_cells *cells = make(6, 1);
    sm_area all = sm_area_of(cells);
    sm_area_text(all, 0, 0, SM_LOOK_PLAIN, "火花火");
    sm_area_text(all, 1, 0, SM_LOOK_PLAIN, "x"); // over the right half
    expect_row(cells, 0, " x花火");
    sm_area_text(all, 2, 0, SM_LOOK_PLAIN, "y"); // over the left half
    expect_row(cells, 0, " xy 火");
    sm_cells_clear(cells);
    sm_area_text(all, 5, 0, SM_LOOK_PLAIN, "火"); // only half of it would fit
    expect_row(cells, 0, "");
    sm_area_text(all, 0, 0, SM_LOOK_PLAIN, "火花火");
    sm_area_text(all, 1, 0, SM_LOOK_PLAIN, "花"); // over two halves of two
    expect_row(cells, 0, " 花 火");
    sm_cells_destroy(cells);
}

static void marks_combine_with_what_they_follow(void **state) {
    (void)state;
    assert_int_equal(sm_text_columns("e\xCC\x81t"), 2); // e, U+0301, t
    sm_cells *cells = make(4, 1);
    sm_area_text(sm_area_of(cells), 0, 0, SM_LOOK_PLAIN, "e\xCC\x81t");
    assert_string_equal(sm_cells_at(cells, 0, 0)->text, "e\xCC\x81");
    assert_string_equal(sm_cells_at(cells, 1, 0)->text, "t");
    sm_text many = {0};
    sm_text_printf(&many, "a");
    for (int i = 0; i < 100; i++)
        sm_text_printf(&many, "\xCC\x81");
    sm_cells_clear(cells);
    sm_area_text(sm_area_of(cells), 0, 0, SM_LOOK_PLAIN, sm_text_get(&many));
    assert_true(strlen(sm_cells_at(cells, 0, 0)->text) < sizeof(sm_cells_at(cells, 0, 0)->text));
    sm_cells_clear(cells);
    sm_area_text(sm_area_of(cells), 0, 0, SM_LOOK_PLAIN, "\xCC\x81x"); // nothing to combine with
    expect_row(cells, 0, "x");
    sm_area_text(sm_area_of(cells), 0, 0, SM_LOOK_PLAIN, "火\xCC\x81");
    assert_string_equal(sm_cells_at(cells, 0, 0)->text, "火\xCC\x81");
    sm_text_deinit(&many);
    sm_cells_destroy(cells);
}

static void broken_text_and_controls_are_harmless(void **state) {
    (void)state;
    sm_cells *cells = make(10, 1);
    sm_area_text(sm_area_of(cells), 0, 0, SM_LOOK_PLAIN, "a\x1B[2J\xFF\xC3");
    expect_row(cells, 0, "a?[2J??");
    sm_cells_destroy(cells);
}

static void a_field_is_cut_with_an_ellipsis(void **state) {
    (void)state;
    sm_cells *cells = make(12, 4);
    sm_area all = sm_area_of(cells);
    for (int y = 0; y < 4; y++)
        sm_area_text(all, 0, y, SM_LOOK_PLAIN, "############");
    sm_area_field(all, 0, 0, 6, SM_LOOK_PLAIN, "fountain");
    sm_area_field(all, 0, 1, 8, SM_LOOK_PLAIN, "fountain");
    sm_area_field(all, 0, 2, 9, SM_LOOK_PLAIN, "mine");
    sm_area_field(all, 0, 3, 4, SM_LOOK_PLAIN, "火花火");
    expect_row(cells, 0, "fount…######");
    expect_row(cells, 1, "fountain####");
    expect_row(cells, 2, "mine     ###");
    expect_row(cells, 3, "火 …########");
    sm_cells_destroy(cells);
}

static void wrapping_breaks_at_blanks(void **state) {
    (void)state;
    sm_cells *cells = make(10, 6);
    sm_area all = sm_area_of(cells);
    assert_int_equal(sm_area_wrap(all, 0, 2, SM_LOOK_PLAIN, "make safe, key off, abcdefghijklm"), 4);
    expect_row(cells, 0, "make safe,");
    expect_row(cells, 1, "  key off,");
    expect_row(cells, 2, "  abcdefgh");
    expect_row(cells, 3, "  ijklm");
    assert_int_equal(sm_area_wrap(all, 4, 0, SM_LOOK_PLAIN, ""), 0);
    // A row too narrow for a single wide character still comes to an end.
    assert_int_equal(sm_area_wrap(sm_area_part(all, 0, 4, 1, 1), 0, 0, SM_LOOK_PLAIN, "火花"), 2);
    sm_cells_destroy(cells);
}

static void ascii_stands_in(void **state) {
    (void)state;
    sm_cells *cells = make(20, 2);
    sm_area all = sm_area_of(cells);
    sm_area_text(all, 0, 0, SM_LOOK_PLAIN, "a…▁█·火e\xCC\x81");
    sm_area_text(all, 0, 1, SM_LOOK_SHAPE, "\u266A");
    sm_cells_to_ascii(cells);
    expect_row(cells, 0, "a~_#-? e");
    expect_row(cells, 1, "?");
    assert_int_equal(sm_cells_at(cells, 0, 1)->look, SM_LOOK_SHAPE);
    sm_cells_destroy(cells);
}

static void copies_are_equal(void **state) {
    (void)state;
    sm_cells *a = make(7, 2), *b = make(7, 2);
    sm_area_text(sm_area_of(a), 1, 1, SM_LOOK_KIND_A, "火 42");
    sm_cells_copy(b, a);
    expect_row(b, 1, " 火 42");
    assert_int_equal(sm_cells_at(b, 1, 1)->look, SM_LOOK_KIND_A);
    sm_cells_destroy(a);
    sm_cells_destroy(b);
}

int main(void) {
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(begins_blank),
        cmocka_unit_test(text_goes_where_it_is_told),
        cmocka_unit_test(drawing_stays_inside_its_area),
        cmocka_unit_test(a_part_is_cut_to_what_it_is_part_of),
        cmocka_unit_test(wide_characters_take_two_columns),
        cmocka_unit_test(half_a_wide_character_is_never_left),
        cmocka_unit_test(marks_combine_with_what_they_follow),
        cmocka_unit_test(broken_text_and_controls_are_harmless),
        cmocka_unit_test(a_field_is_cut_with_an_ellipsis),
        cmocka_unit_test(wrapping_breaks_at_blanks),
        cmocka_unit_test(ascii_stands_in),
        cmocka_unit_test(copies_are_equal),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

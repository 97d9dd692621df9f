// SPDX-License-Identifier: GPL-3.0-or-later
// The declared schema, and the manual page that is made of it.
#include "show/load.h"
#include "support/manual_page.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static bool is_same_key(const sm_column *a, const sm_column *b) {
    const bool is_one_section = !a->section || !b->section || strcmp(a->section, b->section) == 0;
    return is_one_section && strcmp(a->name, b->name) == 0;
}

static void every_column_is_declared_whole(void **state) {
    (void)state;
    size_t count;
    const sm_table_schema *const tables = sm_show_schema(&count);
    assert_string_equal(tables[0].file, "show.ini");
    for (size_t i = 0; i < count; i++) {
        assert_true(strlen(tables[i].help) > 0);
        assert_true(sm_schema_find(tables[i].file) == i);
        for (size_t k = 0; k < tables[i].column_count; k++) {
            const sm_column *const column = &tables[i].columns[k];
            assert_true((column->section != NULL) == (i == 0));
            assert_true(strlen(column->name) > 0 && strlen(column->help) > 0);
            assert_non_null(column->fallback);
            assert_true(isnan(column->low) == isnan(column->high));
            assert_true(isnan(column->low) || column->low < column->high);
            assert_true((column->kind == SM_CELL_CHOICE) == (column->choices != NULL));
            assert_true((column->kind == SM_CELL_REFERENCE) == (column->refers && column->rule));
            if (column->refers)
                assert_true(sm_schema_find(column->refers) < i); // it is loaded before
            if (column->kind == SM_CELL_MEASURE || column->kind == SM_CELL_SPAN)
                assert_non_null(column->unit);
            for (size_t other = 0; other < k; other++)
                assert_false(is_same_key(&tables[i].columns[other], column));
        }
    }
}

// A default is read by the column's own reader, and so must lie within its range.
static void every_default_can_be_read(void **state) {
    (void)state;
    size_t count;
    sm_arena *const arena = sm_arena_create();
    sm_findings *const findings = sm_findings_create();
    sm_show show = {.arena = arena};
    struct sm_show_index index = {0};
    sm_loader loader = {.show = &show, .index = &index, .scratch = arena, .findings = findings};
    const sm_table_schema *const tables = sm_show_schema(&count);
    for (size_t i = 0; i < count; i++) {
        for (size_t k = 0; k < tables[i].column_count; k++) {
            char row[1024] = {0};
            assert_true(tables[i].columns[k].offset + tables[i].columns[k].size <= sizeof row);
            if (!sm_cell_default(&loader, &tables[i].columns[k], row))
                fail_msg("%s: %s", tables[i].file, tables[i].columns[k].name);
        }
    }
    assert_int_equal(sm_findings_count(findings), 0);
    sm_findings_destroy(findings);
    sm_arena_destroy(arena);
}

static void the_manual_page_is_fresh(void **state) {
    (void)state;
    manual_page_expect_fresh("man/slowmatch-show.5", sm_show_manual);
}

static void the_manual_page_names_everything(void **state) {
    (void)state;
    size_t count;
    sm_text made = {0};
    sm_show_manual(&made);
    const sm_table_schema *const tables = sm_show_schema(&count);
    for (size_t i = 0; i < count; i++) {
        char heading[64];
        snprintf(heading, sizeof heading, ".SH %s\n", tables[i].file);
        assert_non_null(strstr(made.bytes, heading));
    }
    assert_non_null(strstr(made.bytes, ".B volts_low\n"));
    assert_non_null(
        strstr(made.bytes,
               "firing voltage\n.br\na number with V, a bare number in V; 0.1 to 1000 V; default 18 V\n"));
    assert_non_null(strstr(made.bytes, ".B hazard\\-home\n"));
    sm_text_deinit(&made);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_column_is_declared_whole),
        cmocka_unit_test(every_default_can_be_read),
        cmocka_unit_test(the_manual_page_is_fresh),
        cmocka_unit_test(the_manual_page_names_everything),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

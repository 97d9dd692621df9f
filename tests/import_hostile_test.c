// SPDX-License-Identifier: GPL-3.0-or-later
// Damaged spreadsheets: bytes of the archive changed, cut, doubled; XML changed within a sound archive. Whatever comes of it, it is an
// import, questions, or one clear line: no crash (the sanitizers watch), no hang.
#include "support/sheet_file.h"

#include "slowmatch/import.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zip.h>

#include <cmocka.h>

static uint64_t state;

static unsigned draw(unsigned below) {
    state = state * 6364136223846793005u + 1442695040888963407u; // Knuth's MMIX
    return (unsigned)(state >> 33) % below;
}

static void fill(sheet_table *table) {
    static const char *const rows[][5] = {
        {"Time", "Target", "Effect", "Fade", "Note"},
        {"0:00:04.500000", "A-01 A-02", "comet-red", "", "caf\xC3\xA9 & <b>"},
        {"0:00:05.250000", "par-1", "red=255", "1.5", "=1+1"},
        {"0:01:06.000000", "B-03", "comet-red", "", "two\nlines"},
        {"Total", "3", "", "", ""}};
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
        sheet_cell *const row = sheet_table_add(table);
        for (size_t k = 0; k < 5; k++) {
            snprintf(row[k].text, SHEET_CELL_BYTES, "%s", rows[i][k]);
            row[k].kind = k == 0 && rows[i][0][0] == '0' ? 'd' : k == 3 && i > 0 ? 'n' : 't';
        }
    }
    table->columns = 5;
}

// The part NAME of the archive at BYTES; the caller frees it.
static char *part_of(const char *bytes, size_t length, const char *name) {
    zip_error_t error;
    zip_stat_t found;
    zip_error_init(&error);
    zip_t *const archive =
        zip_open_from_source(zip_source_buffer_create(bytes, length, 0, &error), ZIP_RDONLY, &error);
    assert_non_null(archive);
    assert_int_equal(zip_stat(archive, name, 0, &found), 0);
    char *const text = calloc(1, (size_t)found.size + 1);
    zip_file_t *const part = zip_fopen(archive, name, 0);
    assert_int_equal(zip_fread(part, text, found.size), (zip_int64_t)found.size);
    zip_fclose(part);
    zip_discard(archive);
    return text;
}

static void damage(char *bytes, size_t *length) {
    for (unsigned n = 1 + draw(6); n > 0 && *length > 1; n--) {
        const size_t at = draw((unsigned)*length);
        switch (draw(4)) {
        case 0:
            bytes[at] = (char)draw(256);
            break;
        case 1:
            bytes[at] = (char)(bytes[at] ^ (1 << draw(8)));
            break;
        case 2:
            if (draw(4) == 0)
                *length = at + 1;
            break;
        default:
            bytes[at] = bytes[draw((unsigned)*length)];
        }
    }
}

// What a damaged XML often is: a tag doubled or gone, a number out of all range, a name that is none.
static void damage_xml(char **text) {
    static const char *const words[] = {"<row>",
                                        "</row>",
                                        "<c t=\"s\"><v>99999999</v></c>",
                                        "<c r=\"ZZZZZZ9\" t=\"n\"><v>1e999</v></c>",
                                        "</table:table-cell>",
                                        ("<table:table-cell table:number-columns-repeated=\"4294967295\" "
                                         "office:value-type=\"float\" office:value=\"nan\"/>"),
                                        "<table:table-row table:number-rows-repeated=\"-1\">",
                                        "<table:table>",
                                        "&#0;",
                                        "<!-- -->",
                                        "<v>-1e300</v>",
                                        "<t>",
                                        "\xFF",
                                        "]]>",
                                        "<si>",
                                        "<xf numFmtId=\"164\"/>",
                                        "<sheet name=\"x\"/>",
                                        "<mergeCell ref=\"A1:A4294967295\"/>",
                                        "<mergeCells><mergeCell ref=\"C2:C4\"/><mergeCell/>",
                                        "table:number-rows-spanned=\"3\" ",
                                        "<Relationship/>",
                                        "office:value-type=\"time\" "};
    sm_text out = {0};
    const size_t length = strlen(*text), at = draw((unsigned)length + 1), cut = draw(3) == 0 ? draw(40) : 0;
    sm_text_append(&out, *text, at);
    sm_text_printf(&out, "%s", words[draw(sizeof words / sizeof words[0])]);
    if (at + cut < length)
        sm_text_printf(&out, "%s", *text + at + cut);
    free(*text);
    *text = out.bytes;
}

static void take(const char *bytes, size_t length, unsigned counts[2]) {
    sm_import *import = NULL;
    sm_findings *const findings = sm_findings_create();
    // From a copy of its own size, so that the sanitizers see what lies behind it.
    char *const copy = malloc(length);
    memcpy(copy, bytes, length);
    char map[] = "[time]\nis = seen\n[effects]\ncomet-red = comet-red\n";
    const sm_import_source source = {.file = "list",
                                     .bytes = copy,
                                     .length = length,
                                     .map = "map.ini",
                                     .map_bytes = map,
                                     .map_length = sizeof map - 1,
                                     .title = "t"};
    const sm_result result = sm_import_create(&source, findings, &import);
    assert_true(result == SM_OK || sm_findings_count_of(findings, SM_ERROR) > 0);
    if (result == SM_UNREADABLE)
        assert_int_equal(sm_findings_count(findings), 1);
    counts[result == SM_UNREADABLE]++;
    sm_import_destroy(import);
    sm_findings_destroy(findings);
    free(copy);
}

static void damaged_spreadsheets_are_refused_or_read(void **unused) {
    (void)unused;
    static const char *const xlsx[] = {"xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml",
                                       "xl/sharedStrings.xml", "xl/worksheets/sheet1.xml"};
    static const char *const ods[] = {"content.xml"};
    const unsigned count = getenv("SLOWMATCH_SOAK") ? 1500 : 100;
    unsigned counts[2] = {0};
    sheet_table table = {0};
    fill(&table);
    for (unsigned n = 0; n < count; n++) {
        state = n * 977 + 5;
        const bool is_ods = n % 2, within = n % 3 != 0;
        size_t length;
        char *bytes =
            is_ods ? sheet_write_ods(&table, &length) : sheet_write_xlsx(&table, n % 4 == 0, &length);
        if (within) {
            const char *const *const names = is_ods ? ods : xlsx;
            const size_t parts = is_ods ? 1 : 5, which = draw((unsigned)parts);
            char *texts[5];
            for (size_t i = 0; i < parts; i++)
                texts[i] = part_of(bytes, length, names[i]);
            for (unsigned k = 1 + draw(3); k > 0; k--)
                damage_xml(&texts[which]);
            free(bytes);
            const char *const kept[] = {texts[0], parts > 1 ? texts[1] : "", parts > 1 ? texts[2] : "",
                                        parts > 1 ? texts[3] : "", parts > 1 ? texts[4] : ""};
            bytes = sheet_zip(names, kept, parts, &length);
            for (size_t i = 0; i < parts; i++)
                free(texts[i]);
        } else {
            damage(bytes, &length);
        }
        take(bytes, length, counts);
        free(bytes);
    }
    print_message("%u damaged: %u refused, %u read\n", count, counts[1], counts[0]);
    assert_true(counts[0] > 0 && counts[1] > 0);
    sheet_table_deinit(&table);
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(damaged_spreadsheets_are_refused_or_read)};
    return cmocka_run_group_tests_name("import hostile", tests, NULL, NULL);
}

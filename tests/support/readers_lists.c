// SPDX-License-Identifier: GPL-3.0-or-later
#include "readers_own.h"
#include "sheet_file.h"

#include "slowmatch/import.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define PART '\f' // between the parts of a workbook: no XML has it
#define PARTS_MAX 5

static const char list[] = "Time,Target,Effect,Fade,Note\n0:00:04.5,A-01,comet,,caf\xC3\xA9\n"
                           "0:00:05.25,par-1,red=255,1.5,=1+1\n0:01:06,A-02,comet,,\"two\nlines\"\n";
static const char map[] =
    "[columns]\ntime = Time\ntarget = Target\n[time]\nis = seen\n[effects]\ncomet = comet\n";

static void import(const char *bytes, size_t length, const char *map_bytes, size_t map_length) {
    const sm_show *const into[] = {readers_show(), NULL};
    for (size_t i = 0; i < 2; i++) {
        char *copy = readers_copy(map_bytes, map_length);
        sm_findings *findings = sm_findings_create();
        sm_import *done = NULL;
        const sm_import_source source = {.file = "list",
                                         .bytes = bytes,
                                         .length = length,
                                         .map = "map.ini",
                                         .map_bytes = copy,
                                         .map_length = map_length,
                                         .show = into[i],
                                         .title = "New"};
        sm_result result = sm_import_create(&source, findings, &done);
        assert_true(result == SM_OK || sm_findings_count_of(findings, SM_ERROR) > 0);
        sm_import_destroy(done);
        sm_findings_destroy(findings);
        free(copy);
    }
}

void readers_take_list(const char *name, const char *bytes, size_t length) {
    (void)name;
    import(bytes, length, map, sizeof map - 1);
}

bool readers_seed_list(const char *name, size_t i, sm_text *out) {
    (void)name;
    sm_text_append(out, list, sizeof list - 1);
    return i == 0;
}

void readers_take_map(const char *name, const char *bytes, size_t length) {
    (void)name;
    import(list, sizeof list - 1, bytes, length);
}

bool readers_seed_map(const char *name, size_t i, sm_text *out) {
    (void)name;
    sm_text_append(out, map, sizeof map - 1);
    return i == 0;
}

static void fill(sheet_table *table) {
    static const char *const rows[][5] = {{"Time", "Target", "Effect", "Fade", "Note"},
                                          {"0:00:04.500000", "A-01 A-02", "comet", "", "a & <b>"},
                                          {"0:01:06.000000", "par-1", "red=255", "1.5", "two\nlines"}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        sheet_cell *row = sheet_table_add(table);
        for (size_t k = 0; k < 5; k++) {
            snprintf(row[k].text, SHEET_CELL_BYTES, "%s", rows[i][k]);
            row[k].kind = k == 0 && i > 0 ? 'd' : k == 3 && i > 0 ? 'n' : 't';
        }
    }
    table->columns = 5;
}

bool readers_seed_archive(const char *name, size_t i, sm_text *out) {
    (void)name;
    sheet_table table = {0};
    size_t length;
    if (i > 1)
        return false;
    fill(&table);
    char *bytes = i ? sheet_write_ods(&table, &length) : sheet_write_xlsx(&table, true, &length);
    sm_text_append(out, bytes, length);
    free(bytes);
    sheet_table_deinit(&table);
    return true;
}

// A workbook of one kind: its parts in order.
static const char *const xlsx_parts[PARTS_MAX] = {"xl/worksheets/sheet1.xml", "xl/sharedStrings.xml",
                                                  "xl/styles.xml", "xl/workbook.xml",
                                                  "xl/_rels/workbook.xml.rels"};
static const char *const ods_parts[PARTS_MAX] = {"content.xml", "mimetype"};

static void take_parts(const char *const *names, const char *bytes, size_t length) {
    char *copy = malloc(length + 1), *texts[PARTS_MAX];
    size_t count = 0, zipped;
    assert_non_null(copy);
    memcpy(copy, bytes, length);
    copy[length] = '\0';
    for (char *at = copy; at && count < PARTS_MAX && names[count]; count++) {
        texts[count] = at;
        at = strchr(at, PART);
        if (at)
            *at++ = '\0';
    }
    char *archive = sheet_zip(names, (const char *const *)texts, count, &zipped);
    import(archive, zipped, map, sizeof map - 1);
    free(archive);
    free(copy);
}

void readers_take_xlsx(const char *name, const char *bytes, size_t length) {
    (void)name;
    take_parts(xlsx_parts, bytes, length);
}

void readers_take_ods(const char *name, const char *bytes, size_t length) {
    (void)name;
    take_parts(ods_parts, bytes, length);
}

#define XLSX_MAIN "xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\""

bool readers_seed_xlsx(const char *name, size_t i, sm_text *out) {
    (void)name;
    sm_text_printf(
        out,
        "<worksheet " XLSX_MAIN "><sheetData><row r=\"1\"><c r=\"A1\" t=\"s\"><v>0</v></c><c r=\"B1\" "
        "t=\"inlineStr\"><is><t>Target</t></is></c><c r=\"C1\" t=\"str\"><v>Effect</v></c></row><row "
        "r=\"2\"><c r=\"A2\" s=\"1\"><v>0.0001</v></c><c r=\"B2\" t=\"inlineStr\"><is><t>A-01</t></is></c><c "
        "r=\"C2\" t=\"s\"><v>1</v></c></row></sheetData><mergeCells><mergeCell "
        "ref=\"B2:B3\"/></mergeCells></worksheet>%c<sst " XLSX_MAIN
        "><si><t>Time</t></si><si><r><t>com</t></r><r><t>et</t></r></si></sst>%c<styleSheet " XLSX_MAIN
        "><numFmts><numFmt numFmtId=\"164\" formatCode=\"mm:ss.0\"/></numFmts><cellXfs><xf "
        "numFmtId=\"0\"/><xf numFmtId=\"164\"/></cellXfs></styleSheet>%c<workbook " XLSX_MAIN
        " xmlns:r=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships\"><sheets><sheet "
        "name=\"Cues\" sheetId=\"1\" r:id=\"rId7\"/></sheets></workbook>%c<Relationships><Relationship "
        "Id=\"rId7\" Target=\"worksheets/sheet1.xml\"/></Relationships>",
        PART, PART, PART, PART);
    return i == 0;
}

bool readers_seed_ods(const char *name, size_t i, sm_text *out) {
    (void)name;
    sm_text_printf(
        out,
        "<office:document-content xmlns:office=\"urn:oasis:names:tc:opendocument:xmlns:office:1.0\" "
        "xmlns:table=\"urn:oasis:names:tc:opendocument:xmlns:table:1.0\" "
        "xmlns:text=\"urn:oasis:names:tc:opendocument:xmlns:text:1.0\"><office:body><office:spreadsheet>"
        "<table:table table:name=\"Cues\"><table:table-row><table:table-cell "
        "office:value-type=\"string\"><text:p>Time</text:p></table:table-cell><table:table-cell "
        "office:value-type=\"string\"><text:p>Target</text:p></table:table-cell></table:table-row>"
        "<table:table-row table:number-rows-repeated=\"2\"><table:table-cell office:value-type=\"time\" "
        "office:time-value=\"PT00H00M04.5S\"><text:p>00:04</text:p></table:table-cell><table:table-cell "
        "table:number-columns-repeated=\"3\" office:value-type=\"float\" "
        "office:value=\"1.5\"/></table:table-row></table:table></office:spreadsheet></office:body>"
        "</office:document-content>%capplication/vnd.oasis.opendocument.spreadsheet",
        PART);
    return i == 0;
}

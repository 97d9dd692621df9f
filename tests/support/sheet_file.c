// SPDX-License-Identifier: GPL-3.0-or-later
#include "sheet_file.h"

#include <iconv.h>
#include <math.h>
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

sheet_cell *sheet_table_add(sheet_table *table) {
    if (table->count == table->capacity) {
        table->capacity = table->capacity > 0 ? table->capacity * 2 : 256;
        table->rows = realloc(table->rows, table->capacity * sizeof *table->rows);
        assert_non_null(table->rows);
    }
    memset(table->rows[table->count], 0, sizeof *table->rows);
    return table->rows[table->count++];
}

void sheet_table_deinit(sheet_table *table) {
    free(table->rows);
    *table = (sheet_table){0};
}

// ---- CSV ----------------------------------------------------------------------------

static void append_cell(sm_text *out, const char *text, char separator) {
    const char special[] = {separator, '"', '\n', '\r', '\0'};
    if (!strpbrk(text, special)) {
        sm_text_printf(out, "%s", text);
        return;
    }
    sm_text_append(out, "\"", 1);
    for (; *text != '\0'; text++)
        sm_text_append(out, *text == '"' ? "\"\"" : text, *text == '"' ? 2 : 1);
    sm_text_append(out, "\"", 1);
}

void sheet_write_csv(const sheet_table *table, char separator, const char *line_end, sm_text *out) {
    for (size_t i = 0; i < table->count; i++) {
        for (size_t k = 0; k < table->columns; k++) {
            if (k > 0)
                sm_text_append(out, &separator, 1);
            append_cell(out, table->rows[i][k].text, separator);
        }
        sm_text_printf(out, "%s", line_end);
    }
}

char *sheet_encode(const sm_text *text, const char *encoding, bool with_mark, size_t *length) {
    iconv_t to = iconv_open(encoding, "UTF-8");
    assert_true(to != (iconv_t)-1);
    const size_t room = text->length * 2 + 16;
    char *const made = malloc(room), *in = text->bytes, *at = made;
    size_t in_left = text->length, left = room;
    assert_non_null(made);
    if (with_mark) {
        char mark[] = "\xEF\xBB\xBF", *from = mark;
        size_t mark_left = 3;
        assert_int_equal(iconv(to, &from, &mark_left, &at, &left), 0);
    }
    assert_int_equal(iconv(to, &in, &in_left, &at, &left), 0);
    iconv_close(to);
    *length = room - left;
    return made;
}

// ---- archives -----------------------------------------------------------------------

char *sheet_zip(const char *const *names, const char *const *texts, size_t count, size_t *length) {
    zip_error_t error;
    zip_error_init(&error);
    zip_source_t *const source = zip_source_buffer_create(NULL, 0, 0, &error);
    zip_t *const archive = zip_open_from_source(source, ZIP_TRUNCATE, &error);
    assert_non_null(archive);
    zip_source_keep(source);
    for (size_t i = 0; i < count; i++) {
        zip_source_t *const part = zip_source_buffer(archive, texts[i], strlen(texts[i]), 0);
        assert_true(zip_file_add(archive, names[i], part, ZIP_FL_OVERWRITE) >= 0);
    }
    assert_int_equal(zip_close(archive), 0);
    zip_stat_t found;
    assert_int_equal(zip_source_open(source), 0);
    assert_int_equal(zip_source_stat(source, &found), 0);
    char *const bytes = malloc((size_t)found.size);
    assert_non_null(bytes);
    assert_int_equal(zip_source_read(source, bytes, found.size), (zip_int64_t)found.size);
    zip_source_close(source);
    zip_source_free(source);
    *length = (size_t)found.size;
    return bytes;
}

static void append_xml(sm_text *out, const char *text) {
    for (; *text != '\0'; text++)
        if (*text == '&')
            sm_text_printf(out, "&amp;");
        else if (*text == '<')
            sm_text_printf(out, "&lt;");
        else
            sm_text_append(out, text, 1);
}

// "H:MM:SS.ffffff" in seconds.
static double seconds_of(const char *text) {
    int hours, minutes;
    double seconds;
    assert_int_equal(sscanf(text, "%d:%d:%lf", &hours, &minutes, &seconds), 3);
    return hours * 3600 + minutes * 60 + seconds;
}

static void append_xlsx_cell(const sheet_cell *cell, char column, size_t line, bool shares_texts,
                             sm_text *out, sm_text *texts, size_t *text_count) {
    if (cell->text[0] == '\0')
        return;
    sm_text_printf(out, "<c r=\"%c%zu\"", column, line);
    if (cell->kind == 'd') {
        sm_text_printf(out, " s=\"1\"><v>%.17g</v></c>", seconds_of(cell->text) / 86400);
    } else if (cell->kind == 'n') {
        sm_text_printf(out, "><v>%s</v></c>", cell->text);
    } else if (shares_texts) {
        sm_text_printf(out, " t=\"s\"><v>%zu</v></c>", (*text_count)++);
        sm_text_printf(texts, "<si><t xml:space=\"preserve\">");
        append_xml(texts, cell->text);
        sm_text_printf(texts, "</t></si>");
    } else {
        sm_text_printf(out, " t=\"inlineStr\"><is><t xml:space=\"preserve\">");
        append_xml(out, cell->text);
        sm_text_printf(out, "</t></is></c>");
    }
}

#define XLSX_MAIN "xmlns=\"http://schemas.openxmlformats.org/spreadsheetml/2006/main\""

char *sheet_write_xlsx(const sheet_table *table, bool shares_texts, size_t *length) {
    static const char *const names[] = {"xl/workbook.xml", "xl/_rels/workbook.xml.rels", "xl/styles.xml",
                                        "xl/sharedStrings.xml", "xl/worksheets/sheet1.xml"};
    sm_text sheet = {0}, texts = {0};
    size_t text_count = 0;
    sm_text_printf(&sheet, "<worksheet " XLSX_MAIN "><sheetData>");
    sm_text_printf(&texts, "<sst " XLSX_MAIN ">");
    for (size_t i = 0; i < table->count; i++) {
        sm_text_printf(&sheet, "<row r=\"%zu\">", i + 1);
        for (size_t k = 0; k < table->columns; k++)
            append_xlsx_cell(&table->rows[i][k], (char)('A' + k), i + 1, shares_texts, &sheet, &texts,
                             &text_count);
        sm_text_printf(&sheet, "</row>");
    }
    sm_text_printf(&sheet, "</sheetData></worksheet>");
    sm_text_printf(&texts, "</sst>");
    assert_false(sheet.failed || texts.failed);
    const char *const parts[] = {
        "<workbook " XLSX_MAIN
        " xmlns:r=\"http://schemas.openxmlformats.org/officeDocument/2006/relationships\"><sheets><sheet "
        "name=\"Cues\" sheetId=\"1\" r:id=\"rId7\"/></sheets></workbook>",
        "<Relationships><Relationship Id=\"rId7\" Target=\"worksheets/sheet1.xml\"/></Relationships>",
        "<styleSheet " XLSX_MAIN
        "><numFmts><numFmt numFmtId=\"164\" formatCode=\"mm:ss.0\"/></numFmts><cellStyleXfs><xf "
        "numFmtId=\"14\"/></cellStyleXfs><cellXfs><xf numFmtId=\"0\"/><xf "
        "numFmtId=\"164\"/></cellXfs></styleSheet>",
        sm_text_get(&texts), sm_text_get(&sheet)};
    char *const bytes = sheet_zip(names, parts, 5, length);
    sm_text_deinit(&sheet);
    sm_text_deinit(&texts);
    return bytes;
}

static void append_ods_cell(const sheet_cell *cell, sm_text *out) {
    if (cell->text[0] == '\0') {
        sm_text_printf(out, "<table:table-cell/>");
        return;
    }
    if (cell->kind == 'd')
        sm_text_printf(
            out, "<table:table-cell office:value-type=\"time\" office:time-value=\"PT%02dH%02dM%.6fS\">",
            (int)seconds_of(cell->text) / 3600, (int)seconds_of(cell->text) / 60 % 60,
            fmod(seconds_of(cell->text), 60));
    else if (cell->kind == 'n')
        sm_text_printf(out, "<table:table-cell office:value-type=\"float\" office:value=\"%s\">", cell->text);
    else
        sm_text_printf(out, "<table:table-cell office:value-type=\"string\">");
    // What is shown is less than what is held, as spreadsheets do.
    sm_text_printf(out, "<text:p>");
    if (cell->kind == 'd')
        sm_text_printf(out, "%02d:%02d", (int)seconds_of(cell->text) / 60, (int)seconds_of(cell->text) % 60);
    for (const char *at = cell->text; cell->kind != 'd' && *at != '\0';) {
        char line[SHEET_CELL_BYTES];
        const size_t length = strcspn(at, "\n");
        snprintf(line, sizeof line, "%.*s", (int)length, at);
        append_xml(out, line);
        at += length;
        if (*at == '\n')
            sm_text_printf(out, "</text:p><text:p>");
        at += *at == '\n';
    }
    sm_text_printf(out, "</text:p></table:table-cell>");
}

char *sheet_write_ods(const sheet_table *table, size_t *length) {
    static const char *const names[] = {"mimetype", "content.xml"};
    sm_text sheet = {0};
    sm_text_printf(
        &sheet,
        "<office:document-content xmlns:office=\"urn:oasis:names:tc:opendocument:xmlns:office:1.0\" "
        "xmlns:table=\"urn:oasis:names:tc:opendocument:xmlns:table:1.0\" "
        "xmlns:text=\"urn:oasis:names:tc:opendocument:xmlns:text:1.0\"><office:body><office:spreadsheet>"
        "<table:table table:name=\"Cues\">");
    for (size_t i = 0; i < table->count; i++) {
        sm_text_printf(&sheet, "<table:table-row>");
        for (size_t k = 0; k < table->columns; k++)
            append_ods_cell(&table->rows[i][k], &sheet);
        sm_text_printf(&sheet,
                       "<table:table-cell table:number-columns-repeated=\"16000\"/></table:table-row>");
    }
    sm_text_printf(
        &sheet,
        "<table:table-row table:number-rows-repeated=\"1048000\"><table:table-cell "
        "table:number-columns-repeated=\"16384\"/></table:table-row></table:table></office:spreadsheet>"
        "</office:body></office:document-content>");
    assert_false(sheet.failed);
    const char *const parts[] = {"application/vnd.oasis.opendocument.spreadsheet", sm_text_get(&sheet)};
    char *const bytes = sheet_zip(names, parts, 2, length);
    sm_text_deinit(&sheet);
    return bytes;
}

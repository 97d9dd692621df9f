// SPDX-License-Identifier: GPL-3.0-or-later
// .ods: OASIS OpenDocument 1.2 part 1, chapters 9 and 19.385: a cell's value stands beside what it shows. Rows and cells may stand for
// many; empty ones do so up to the sheet's edge.
#include "import/zip.h"

#include <stdlib.h>
#include <string.h>

typedef struct ods {
    import_book *book;
    sm_text text;
    bool is_in_cell, is_in_paragraph, has_paragraph;
    unsigned annotation; // depth of what is no cell's text
    char type[16], value[80];
    uint32_t column, repeat, line, row_repeat;
} ods;

static uint32_t repeat_of(const char **attributes, const char *name) {
    const char *const text = import_attribute(attributes, name);
    const unsigned long count = text ? strtoul(text, NULL, 10) : 1;
    return count < 1 ? 1 : count > INT32_MAX ? INT32_MAX : (uint32_t)count;
}

static void keep(char *into, size_t room, const char *text) {
    strncpy(into, text ? text : "", room - 1);
    into[room - 1] = '\0';
}

static void begin_cell(ods *o, const char **attributes) {
    static const char *const values[] = {"value", "time-value", "date-value", "boolean-value"};
    const char *value = NULL;
    for (size_t i = 0; i < sizeof values / sizeof values[0] && !value; i++)
        value = import_attribute(attributes, values[i]);
    keep(o->type, sizeof o->type, import_attribute(attributes, "value-type"));
    keep(o->value, sizeof o->value, value);
    o->repeat = repeat_of(attributes, "number-columns-repeated");
    const uint32_t rows = repeat_of(attributes, "number-rows-spanned");
    if (rows > 1 && rows < UINT16_MAX && repeat_of(attributes, "number-columns-spanned") == 1)
        import_span_put(o->book, (import_span){o->column, o->line + 1, o->line + rows});
    o->is_in_cell = true;
    o->has_paragraph = false;
    sm_text_clear(&o->text);
}

static void append(ods *o, const char *text, size_t length) {
    if (o->text.length + length > IMPORT_CELL_MAX)
        import_refuse(o->book, "a cell of it has more than 32 KB of text");
    else
        sm_text_append(&o->text, text, length);
}

// Paragraphs are lines; several blanks, a tab and a line's end are elements.
static void begin_text(ods *o, const char *name, const char **attributes) {
    if (strcmp(name, "p") == 0) {
        if (o->has_paragraph)
            append(o, "\n", 1);
        o->is_in_paragraph = o->has_paragraph = true;
    } else if (strcmp(name, "s") == 0) {
        for (uint32_t n = repeat_of(attributes, "c"); n > 0 && !o->book->why; n--)
            append(o, " ", 1);
    } else if (strcmp(name, "tab") == 0) {
        append(o, "\t", 1);
    } else if (strcmp(name, "line-break") == 0) {
        append(o, "\n", 1);
    }
}

static void begin(void *context, const char *name, const char **attributes) {
    ods *const o = context;
    if (o->annotation > 0 || strcmp(name, "annotation") == 0) {
        o->annotation++;
    } else if (strcmp(name, "table") == 0) {
        const char *const sheet = import_attribute(attributes, "name");
        o->line = 0;
        import_sheet_begin(o->book, sheet ? sheet : "");
    } else if (strcmp(name, "table-row") == 0) {
        o->row_repeat = repeat_of(attributes, "number-rows-repeated");
        o->column = 0;
        import_row_begin(o->book, o->line + 1);
    } else if (strcmp(name, "table-cell") == 0 || strcmp(name, "covered-table-cell") == 0) {
        begin_cell(o, attributes);
    } else if (o->is_in_cell) {
        begin_text(o, name, attributes);
    }
}

// "PT00H01M28.5S" in days.
static bool duration_days(const char *text, double *out) {
    const bool is_negative = *text == '-';
    double seconds = 0;
    text += is_negative;
    if (*text++ != 'P')
        return false;
    for (bool is_time = false; *text != '\0'; text++) {
        if (*text == 'T' && !is_time) {
            is_time = true;
            continue;
        }
        char *end;
        const double value = strtod(text, &end);
        const char *const units = is_time ? "HMS" : "D";
        static const double sizes[] = {3600, 60, 1};
        const char *const unit = *end != '\0' ? strchr(units, *end) : NULL;
        if (end == text || !unit)
            return false;
        seconds += value * (is_time ? sizes[unit - units] : 86400);
        text = end;
    }
    *out = (is_negative ? -seconds : seconds) / 86400;
    return true;
}

static void put_cell(ods *o, uint32_t column) {
    double days;
    if (strcmp(o->type, "time") == 0 && duration_days(o->value, &days))
        import_cell_put_days(o->book, column, days);
    else if (strcmp(o->type, "percentage") == 0)
        import_cell_put_share(o->book, column, strtod(o->value, NULL));
    else if (strcmp(o->type, "float") == 0)
        import_cell_put_number(o->book, column, o->value);
    else if (strcmp(o->type, "date") == 0)
        import_cell_put(o->book, column, o->value, strlen(o->value), IMPORT_DATE);
    else
        import_cell_put(o->book, column, sm_text_get(&o->text), o->text.length, IMPORT_TEXT);
}

static void end_cell(ods *o) {
    const bool is_empty = o->type[0] == '\0' && o->text.length == 0;
    for (uint32_t i = 0; i < o->repeat && !is_empty && !o->book->why && !o->book->no_memory; i++)
        put_cell(o, o->column + i);
    o->column = o->column > INT32_MAX - o->repeat ? INT32_MAX : o->column + o->repeat;
    o->is_in_cell = o->is_in_paragraph = false;
}

// A row that stands for many is kept as many times.
static void end_row(ods *o) {
    const uint32_t count = o->book->row_count;
    for (uint32_t i = 0; i < o->row_repeat && count > 0 && !o->book->why && !o->book->no_memory; i++) {
        o->book->row_count = count;
        o->book->row_line = o->line + 1 + i;
        import_row_end(o->book);
    }
    o->line = o->line > INT32_MAX - o->row_repeat ? INT32_MAX : o->line + o->row_repeat;
}

static void end(void *context, const char *name) {
    ods *const o = context;
    if (o->annotation > 0)
        o->annotation--;
    else if (strcmp(name, "p") == 0)
        o->is_in_paragraph = false;
    else if (strcmp(name, "table-cell") == 0 || strcmp(name, "covered-table-cell") == 0)
        end_cell(o);
    else if (strcmp(name, "table-row") == 0 && o->book->count > 0)
        end_row(o);
}

static void take_text(void *context, const char *text, size_t length) {
    ods *const o = context;
    if (o->is_in_paragraph && o->annotation == 0)
        append(o, text, length);
}

void import_ods_read(import_zip *zip) {
    ods o = {.book = zip->book};
    const import_xml xml = {&o, begin, end, take_text};
    import_part_read(zip, "content.xml", &xml);
    if (o.text.failed)
        zip->book->no_memory = true;
    sm_text_deinit(&o.text);
}

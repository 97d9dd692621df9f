// SPDX-License-Identifier: GPL-3.0-or-later
// .xlsx: ECMA-376 part 1, chapter 18. A cell holds a number, a text, or the number of a shared text; its style tells whether a number is
// a time, a date or a share.
#include "import/zip.h"

#include <stdlib.h>
#include <string.h>

typedef enum style_is { STYLE_PLAIN, STYLE_TIME, STYLE_DATE, STYLE_SHARE } style_is;

typedef struct named {
    const char *name, *id; // of a sheet; of a relation: its id and its target
} named;

// A number format of the file's own.
typedef struct format {
    long id;
    style_is is;
} format;

typedef struct list {
    void *items;
    uint32_t count, capacity;
} list;

typedef struct xlsx {
    import_zip *zip;
    import_book *book;
    list sheets, relations; // named
    list texts;             // const char *: shared ones
    list formats, styles;   // format; style_is of each cell style
    sm_text text;
    bool is_taking, is_phonetic, is_in_styles;
    char type; // of the cell under way: 'n' a number, 's' the number of a shared text, else a text
    uint32_t column, line;
    size_t style;
} xlsx;

static void *add(xlsx *x, list *to, size_t size) {
    if (to->count == to->capacity) {
        const uint32_t capacity = to->capacity > 0 ? to->capacity * 2 : 32;
        void *const grown = sm_arena_resize(x->book->arena, to->items, capacity * size);
        if (!grown) {
            x->book->no_memory = true;
            return NULL;
        }
        to->items = grown;
        to->capacity = capacity;
    }
    return (char *)to->items + size * to->count++;
}

static const char *keep(xlsx *x, const char *text) {
    const char *const kept = sm_arena_text(x->book->arena, text ? text : "", text ? strlen(text) : 0);
    if (!kept)
        x->book->no_memory = true;
    return kept;
}

// Most names differ in their first letter.
static bool is(const char *name, const char *other) {
    return name[0] == other[0] && strcmp(name, other) == 0;
}

static void take_text(void *context, const char *text, size_t length) {
    xlsx *const x = context;
    if (!x->is_taking || x->is_phonetic)
        return;
    if (x->text.length + length > IMPORT_CELL_MAX)
        import_refuse(x->book, "a cell of it has more than 32 KB of text");
    else
        sm_text_append(&x->text, text, length);
}

static void ignore_end(void *context, const char *name) {
    (void)context, (void)name;
}

// ---- the book -----------------------------------------------------------------------

static void begin_in_book(void *context, const char *name, const char **attributes) {
    xlsx *const x = context;
    const bool is_sheet = is(name, "sheet"), is_relation = is(name, "Relationship");
    if (!is_sheet && !is_relation)
        return;
    named *const made = add(x, is_sheet ? &x->sheets : &x->relations, sizeof *made);
    // A sheet has an id (a relation's) beside its number, sheetId.
    if (made)
        *made = (named){.name = keep(x, import_attribute(attributes, is_sheet ? "name" : "Target")),
                        .id = keep(x, import_attribute(attributes, is_sheet ? "id" : "Id"))};
}

static void begin_in_texts(void *context, const char *name, const char **attributes) {
    xlsx *const x = context;
    (void)attributes;
    if (is(name, "si"))
        sm_text_clear(&x->text);
    x->is_phonetic = x->is_phonetic || is(name, "rPh");
    x->is_taking = is(name, "t");
}

static void end_in_texts(void *context, const char *name) {
    xlsx *const x = context;
    x->is_taking = false;
    if (is(name, "rPh"))
        x->is_phonetic = false;
    if (!is(name, "si"))
        return;
    if (x->texts.count == IMPORT_CELLS_MAX)
        import_refuse(x->book, "it has more than 4,000,000 texts");
    const char **const made = add(x, &x->texts, sizeof *made);
    if (made)
        *made = keep(x, sm_text_get(&x->text));
}

// "h]", "mm]": hours, minutes or seconds that go on beyond their day or hour.
static bool is_elapsed(const char *in) {
    const size_t same = strspn(in, (const char[]){in[0], '\0'});
    return in[0] != '\0' && strchr("hmsHMS", in[0]) && in[same] == ']';
}

// What a number format makes of a number: its letters outside of quotes, brackets and escapes. ECMA-376 part 1, 18.8.31.
static style_is judge_format(const char *code) {
    bool has_date = false, has_time = false, has_share = false;
    for (const char *at = code; *at != '\0' && *at != ';'; at++) {
        if (*at == '"' || *at == '[') {
            const char *const stop = strchr(at + 1, *at == '"' ? '"' : ']');
            has_time = has_time || (*at == '[' && is_elapsed(at + 1));
            at = stop ? stop : at + strlen(at) - 1;
        } else if ((*at == '\\' || *at == '_' || *at == '*') && at[1] != '\0') {
            at++;
        }
        has_share = has_share || *at == '%';
        has_date = has_date || (*at | 0x20) == 'y' || (*at | 0x20) == 'd';
        has_time = has_time || (*at | 0x20) == 'h' || (*at | 0x20) == 's';
    }
    return has_date ? STYLE_DATE : has_time ? STYLE_TIME : has_share ? STYLE_SHARE : STYLE_PLAIN;
}

// Formats that have a number only. ECMA-376 part 1, 18.8.30.
static style_is built_in(long id) {
    if (id == 9 || id == 10)
        return STYLE_SHARE;
    if ((id >= 14 && id <= 17) || id == 22)
        return STYLE_DATE;
    return (id >= 18 && id <= 21) || (id >= 45 && id <= 47) ? STYLE_TIME : STYLE_PLAIN;
}

static long number_of(const char **attributes, const char *name) {
    const char *const text = import_attribute(attributes, name);
    return text ? strtol(text, NULL, 10) : 0;
}

static void begin_in_styles(void *context, const char *name, const char **attributes) {
    xlsx *const x = context;
    const char *const code = import_attribute(attributes, "formatCode");
    if (is(name, "cellXfs"))
        x->is_in_styles = true;
    if (is(name, "numFmt") && code) {
        format *const made = add(x, &x->formats, sizeof *made);
        if (made)
            *made = (format){.id = number_of(attributes, "numFmtId"), .is = judge_format(code)};
    }
    if (strcmp(name, "xf") != 0 || !x->is_in_styles)
        return;
    const long id = number_of(attributes, "numFmtId");
    style_is is = built_in(id);
    for (uint32_t i = 0; i < x->formats.count; i++)
        if (((const format *)x->formats.items)[i].id == id)
            is = ((const format *)x->formats.items)[i].is;
    style_is *const made = add(x, &x->styles, sizeof *made);
    if (made)
        *made = is;
}

static void end_in_styles(void *context, const char *name) {
    if (is(name, "cellXfs"))
        ((xlsx *)context)->is_in_styles = false;
}

// ---- a sheet --------------------------------------------------------------------------

// "AB12": column 27. What follows tells no more than the row does.
static uint32_t column_of(const char *place, uint32_t next) {
    uint32_t column = 0;
    if (!place || *place < 'A' || *place > 'Z')
        return next;
    for (; *place >= 'A' && *place <= 'Z' && column < IMPORT_COLUMNS_MAX; place++)
        column = column * 26 + (uint32_t)(*place - 'A') + 1;
    return column - 1;
}

// Its attributes have no prefix and names of one letter.
static void begin_cell(xlsx *x, const char **attributes) {
    const char *place = NULL;
    long style = 0;
    x->type = 'n';
    for (; *attributes; attributes += 2)
        if (attributes[0][1] != '\0')
            continue;
        else if (attributes[0][0] == 'r')
            place = attributes[1];
        else if (attributes[0][0] == 't')
            x->type = attributes[1][0] != '\0' && attributes[1][1] == '\0' ? attributes[1][0] : 't';
        else if (attributes[0][0] == 's')
            style = strtol(attributes[1], NULL, 10);
    x->style = style >= 0 ? (size_t)style : 0;
    x->column = column_of(place, x->column + 1);
    sm_text_clear(&x->text);
}

// "B2:B6", within one column; what is merged across columns is a title.
static void take_merged(xlsx *x, const char *ref) {
    const char *const colon = ref ? strchr(ref, ':') : NULL;
    if (!colon)
        return;
    const uint32_t column = column_of(ref, IMPORT_COLUMNS_MAX);
    const unsigned long first = strtoul(ref + strcspn(ref, "0123456789"), NULL, 10),
                        last = strtoul(colon + strcspn(colon, "0123456789"), NULL, 10);
    if (column_of(colon + 1, IMPORT_COLUMNS_MAX) == column && first < UINT32_MAX && last < UINT32_MAX)
        import_span_put(x->book, (import_span){column, (uint32_t)first, (uint32_t)last});
}

static void begin_in_sheet(void *context, const char *name, const char **attributes) {
    xlsx *const x = context;
    if (is(name, "row")) {
        const long line = number_of(attributes, "r");
        x->line = line > 0 && line < INT32_MAX ? (uint32_t)line : x->line + 1;
        import_row_begin(x->book, x->line);
        x->column = UINT32_MAX;
    } else if (is(name, "c")) {
        begin_cell(x, attributes);
    } else if (is(name, "mergeCell")) {
        take_merged(x, import_attribute(attributes, "ref"));
    }
    x->is_phonetic = x->is_phonetic || is(name, "rPh");
    x->is_taking = is(name, "v") || is(name, "t");
}

// Puts the number that the text under way is; its own digits where it is but a number.
static void put_number(xlsx *x) {
    const char *const text = sm_text_get(&x->text);
    const style_is is =
        x->style < x->styles.count ? ((const style_is *)x->styles.items)[x->style] : STYLE_PLAIN;
    char *end;
    if (is == STYLE_PLAIN) {
        import_cell_put_number(x->book, x->column, text);
        return;
    }
    const double value = strtod(text, &end);
    if (is == STYLE_TIME && *end == '\0')
        import_cell_put_days(x->book, x->column, value);
    else if (is == STYLE_SHARE && *end == '\0')
        import_cell_put_share(x->book, x->column, value);
    else if (is == STYLE_DATE && *end == '\0')
        import_cell_put_date(x->book, x->column, value);
    else
        import_cell_put_number(x->book, x->column, text);
}

static void put_cell(xlsx *x) {
    const char *const text = sm_text_get(&x->text);
    if (x->text.length == 0)
        return;
    if (x->type == 'n') {
        put_number(x);
    } else if (x->type == 's') {
        const unsigned long at = strtoul(text, NULL, 10);
        if (at < x->texts.count)
            import_cell_put_kept(x->book, x->column, ((const char *const *)x->texts.items)[at], IMPORT_TEXT);
        else
            import_refuse(x->book, "a cell of it names a text that is not there");
    } else {
        import_cell_put(x->book, x->column, text, x->text.length, IMPORT_TEXT);
    }
}

static void end_in_sheet(void *context, const char *name) {
    xlsx *const x = context;
    x->is_taking = false;
    if (is(name, "rPh"))
        x->is_phonetic = false;
    if (is(name, "c"))
        put_cell(x);
    else if (is(name, "row"))
        import_row_end(x->book);
}

static void read_sheet(xlsx *x, const named *sheet) {
    const import_xml xml = {x, begin_in_sheet, end_in_sheet, take_text};
    for (uint32_t i = 0; i < x->relations.count; i++) {
        const named *const relation = &((const named *)x->relations.items)[i];
        if (strcmp(relation->id, sheet->id) != 0 || !import_sheet_begin(x->book, sheet->name))
            continue;
        sm_text path = {0};
        sm_text_printf(&path, "%s%s", relation->name[0] == '/' ? "" : "xl/",
                       relation->name + (relation->name[0] == '/'));
        x->line = 0;
        if (path.failed || !import_part_read(x->zip, sm_text_get(&path), &xml))
            import_refuse(x->book, "a sheet that it names is not in it");
        sm_text_deinit(&path);
        return;
    }
}

void import_xlsx_read(import_zip *zip) {
    xlsx x = {.zip = zip, .book = zip->book};
    const import_xml book = {&x, begin_in_book, ignore_end, take_text};
    const import_xml texts = {&x, begin_in_texts, end_in_texts, take_text};
    const import_xml styles = {&x, begin_in_styles, end_in_styles, take_text};
    import_part_read(zip, "xl/workbook.xml", &book);
    import_part_read(zip, "xl/_rels/workbook.xml.rels", &book);
    import_part_read(zip, "xl/sharedStrings.xml", &texts);
    import_part_read(zip, "xl/styles.xml", &styles);
    for (uint32_t i = 0; i < x.sheets.count && !zip->book->why && !zip->book->no_memory; i++)
        read_sheet(&x, &((const named *)x.sheets.items)[i]);
    if (x.text.failed)
        zip->book->no_memory = true;
    sm_text_deinit(&x.text);
}

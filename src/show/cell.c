// SPDX-License-Identifier: GPL-3.0-or-later
// One cell, read as its row of the schema says.
#include "show/load.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

typedef struct cell {
    sm_loader *loader;
    const sm_spot *spot;
    const sm_column *column;
    const char *text;
    size_t length;
} cell;

typedef bool (*cell_reader)(const cell *from, void *into);

static bool refuse(const cell *from, const char *rule, const char *what) {
    char shown[SM_CLIP_BYTES];
    sm_load_error(from->loader, from->spot, rule, "\"%s\" is not %s",
                  sm_load_clip(shown, from->text, from->length), what);
    return false;
}

// Refuses a number; one that only has a comma for its point by that cause.
static bool refuse_number(const cell *from, const char *what) {
    return !sm_load_tell_comma(from->loader, from->spot, from->text, from->length) &&
           refuse(from, "value", what);
}

bool sm_cell_in_range(sm_loader *loader, const sm_spot *spot, const sm_column *column, double value) {
    const bool is_low = !isnan(column->low) && value < column->low;
    const bool is_high = !isnan(column->high) && value > column->high;
    if (!is_low && !is_high)
        return true;
    const char *const unit = column->unit ? column->unit : "";
    const bool is_span = column->kind == SM_CELL_SPAN || column->kind == SM_CELL_MOMENT;
    const char *const shown = is_span ? "s" : unit;
    sm_load_error_figures(loader, spot, "range", value, is_low ? column->low : column->high, shown,
                          "%s is %.12g%s%s; it can be %.12g to %.12g%s%s", column->name, value,
                          *shown ? " " : "", shown, column->low, column->high, *shown ? " " : "", shown);
    return false;
}

bool sm_cell_is_name(const char *text, size_t length) {
    if (length == 0 || length > 31)
        return false;
    for (size_t i = 0; i < length; i++) {
        const char c = text[i];
        const bool is_letter = (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z');
        if (!is_letter && !(c >= '0' && c <= '9') && c != '-' && c != '_')
            return false;
    }
    return true;
}

// In a table without the apostrophe that guards it against spreadsheets.
static bool keep_text(const cell *from, void *into) {
    const size_t guard = from->spot->record ? sm_csv_guard(from->text, from->length) : 0;
    const char *const kept = sm_load_keep(from->loader, from->text + guard, from->length - guard);
    if (kept)
        *(const char **)into = kept;
    return kept != NULL;
}

static bool read_name(const cell *from, void *into) {
    if (!sm_cell_is_name(from->text, from->length))
        return refuse(from, "value", "a name; a name has letters, digits, - and _, and at most 31 of them");
    return keep_text(from, into);
}

static bool read_reference(const cell *from, void *into) {
    const uint32_t row = sm_load_refer(from->loader, from->spot, sm_schema_find(from->column->refers),
                                       from->column->rule, from->text, from->length);
    if (row != SM_NONE)
        *(uint32_t *)into = row;
    return row != SM_NONE;
}

typedef struct words {
    const char *names[8];
    char text[64];
    size_t count;
} words;

static void split_choices(const char *choices, words *out) {
    const size_t length = strlen(choices);
    size_t at = 0, word_length;
    assert(length < sizeof out->text);
    memcpy(out->text, choices, length + 1);
    out->count = 0;
    for (const char *word; (word = sm_load_next_word(out->text, length, &at, &word_length));)
        out->names[out->count++] = word;
    for (size_t i = 0; i < length; i++)
        if (out->text[i] == ' ')
            out->text[i] = '\0';
}

static const char *word_at(const void *context, size_t index) {
    return ((const words *)context)->names[index];
}

static bool read_choice(const cell *from, void *into) {
    words choices;
    split_choices(from->column->choices, &choices);
    for (size_t i = 0; i < choices.count; i++) {
        if (strlen(choices.names[i]) != from->length ||
            memcmp(choices.names[i], from->text, from->length) != 0)
            continue;
        if (from->column->size == sizeof(bool))
            *(bool *)into = i != 0;
        else
            *(unsigned *)into = (unsigned)i;
        return true;
    }
    char shown[SM_CLIP_BYTES];
    sm_load_clip(shown, from->text, from->length);
    const char *const nearest = sm_nearest_name(shown, choices.count, word_at, &choices);
    sm_load_error(from->loader, from->spot, "value", "\"%s\" is not one of these words: %s%s%s%s", shown,
                  from->column->choices, nearest ? "; did you mean " : "", nearest ? nearest : "",
                  nearest ? "?" : "");
    return false;
}

static bool read_integer(const cell *from, void *into) {
    int32_t value;
    if (sm_integer_read(from->text, from->length, &value) != SM_OK)
        return refuse_number(from, "a whole number");
    if (!sm_cell_in_range(from->loader, from->spot, from->column, value))
        return false;
    if (into)
        *(int32_t *)into = value;
    return true;
}

// What a stored unit is times the column's own: calibres are kept in mm, test currents in amperes, capacitances in farads.
static double column_units(sm_quantity quantity, double value) {
    if (quantity == SM_QUANTITY_CAPACITANCE)
        return value * 1e6;
    return quantity == SM_QUANTITY_CALIBRE || quantity == SM_QUANTITY_TEST_CURRENT ? value * 1000 : value;
}

static bool read_measure(const cell *from, void *into) {
    const sm_column *const column = from->column;
    double value;
    if (sm_measure_read(column->quantity, from->text, from->length, &value) != SM_OK) {
        char what[96];
        snprintf(what, sizeof what, "a number with %s (a bare number is in %s)",
                 sm_quantity_units(column->quantity), column->unit);
        return refuse_number(from, what);
    }
    if (!sm_cell_in_range(from->loader, from->spot, column, column_units(column->quantity, value)))
        return false;
    *(double *)into = column->quantity == SM_QUANTITY_CALIBRE ? value * 1000 : value;
    return true;
}

static bool read_span(const cell *from, void *into) {
    const sm_column *const column = from->column;
    sm_us value;
    const sm_result result = sm_span_read(from->text, from->length, column->bare_us, &value);
    if (result == SM_INVALID) {
        char what[96];
        snprintf(what, sizeof what, "a time with s, ms or min (a bare number is in %s)", column->unit);
        return refuse_number(from, what);
    }
    if (result != SM_OK)
        value = SM_US_MAX; // beyond every range
    if (!sm_cell_in_range(from->loader, from->spot, column, (double)value / 1e6))
        return false;
    *(sm_us *)into = value;
    return true;
}

static bool read_moment(const cell *from, void *into) {
    const sm_moment_base *const base = &from->loader->show->settings.timecode;
    sm_us value;
    const sm_result result = sm_moment_read(from->text, from->length, base, &value);
    if (result == SM_INVALID)
        return refuse_number(
            from, base->drop ? "a moment: S.mmm, M:SS.mmm, H:MM:SS.mmm or timecode HH:MM:SS;FF that exists"
                             : "a moment: S.mmm, M:SS.mmm, H:MM:SS.mmm or timecode HH:MM:SS:FF that exists");
    if (result != SM_OK)
        value = from->text[0] == '-' ? -SM_US_MAX : SM_US_MAX;
    if (!sm_cell_in_range(from->loader, from->spot, from->column, (double)value / 1e6))
        return false;
    *(sm_us *)into = value;
    return true;
}

static bool read_gauge(const cell *from, void *into) {
    if (sm_gauge_read(from->text, from->length, into) == SM_OK)
        return true;
    return refuse(from, "value",
                  "a wire: a number with AWG or mm2, which ccs21, ccs30, ccs40 or x and a factor may follow");
}

static const cell_reader readers[] = {
    [SM_CELL_NAME] = read_name,     [SM_CELL_REFERENCE] = read_reference, [SM_CELL_TEXT] = keep_text,
    [SM_CELL_CHOICE] = read_choice, [SM_CELL_INTEGER] = read_integer,     [SM_CELL_MEASURE] = read_measure,
    [SM_CELL_SPAN] = read_span,     [SM_CELL_MOMENT] = read_moment,       [SM_CELL_GAUGE] = read_gauge,
    [SM_CELL_SPECIAL] = NULL,
};
static_assert(sizeof readers / sizeof readers[0] == SM_CELL_KIND_COUNT, "a reader, or none, for each kind");

bool sm_cell_read(sm_loader *loader, const sm_spot *spot, const sm_column *column, const char *text,
                  size_t length, void *row) {
    const cell from = {.loader = loader, .spot = spot, .column = column, .text = text, .length = length};
    if (column->size == 0 || !readers[column->kind])
        return true;
    return readers[column->kind](&from, (char *)row + column->offset);
}

bool sm_cell_default(sm_loader *loader, const sm_column *column, void *row) {
    char *const into = (char *)row + column->offset;
    if (column->size == 0)
        return true;
    if (column->fallback[0] != '\0') {
        const sm_spot nowhere = {.file = "schema"};
        return sm_cell_read(loader, &nowhere, column, column->fallback, strlen(column->fallback), row);
    }
    switch (column->kind) {
    case SM_CELL_MEASURE:
        *(double *)(void *)into = (double)NAN;
        break;
    case SM_CELL_SPAN:
    case SM_CELL_MOMENT:
        *(sm_us *)(void *)into = SM_UNSET_US;
        break;
    case SM_CELL_INTEGER:
        *(int32_t *)(void *)into = -1;
        break;
    case SM_CELL_REFERENCE:
        *(uint32_t *)(void *)into = SM_NONE;
        break;
    default:
        if (column->size == sizeof(const char *))
            *(const char **)(void *)into = "";
        break;
    }
    return true;
}

static bool is_digits(const char *text, size_t length) {
    for (size_t i = 0; i < length; i++)
        if (text[i] < '0' || text[i] > '9')
            return false;
    return true;
}

sm_result sm_cell_level(const char *text, size_t length, uint8_t *out) {
    const bool is_percent = length > 0 && text[length - 1] == '%';
    const size_t digits = is_percent ? length - 1 : length;
    int32_t value;
    if (sm_integer_read(text, digits, &value) != SM_OK)
        return digits > 0 && is_digits(text, digits) ? SM_OUT_OF_RANGE : SM_INVALID;
    if (value < 0 || value > (is_percent ? 100 : 255))
        return SM_OUT_OF_RANGE;
    *out = (uint8_t)(is_percent ? (value * 255 + 50) / 100 : value);
    return SM_OK;
}

bool sm_cell_read_level(sm_loader *loader, const sm_spot *spot, const char *text, size_t length,
                        uint8_t *out) {
    char shown[SM_CLIP_BYTES];
    const sm_result result = sm_cell_level(text, length, out);
    if (result == SM_INVALID)
        sm_load_error(loader, spot, "value", "\"%s\" is not a level: 0 to 255, or a whole number with %%",
                      sm_load_clip(shown, text, length));
    else if (result == SM_OUT_OF_RANGE)
        sm_load_error(loader, spot, "level-range",
                      "level %s is out of range; a level is 0 to 255, or 0%% to 100%%",
                      sm_load_clip(shown, text, length));
    return result == SM_OK;
}

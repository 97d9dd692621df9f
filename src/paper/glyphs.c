// SPDX-License-Identifier: GPL-3.0-or-later
// Widths of glyphs in thousandths of the type's size, rounded up: what the tables of Liberation Sans 2 say, whose widths are Arial's,
// Arimo's and Helvetica's to the unit of its 2048. A script that has no row here comes out in a font that is not known: its glyphs
// are taken for as wide as they are high, and pictures for half as much again.
#include "paper/kit.h"
#include "paper/utf8.h"

#include <assert.h>
#include <string.h>

#define LATIN_FIRST 0x20
#define GREEK_FIRST 0x370

static const uint16_t regular[] = {
    278, 278, 355, 557, 557, 890, 667,  191, 334, 334, 390, 584, 278,  334, 278, 278, 557, 557, 557, 557,
    557, 557, 557, 557, 557, 557, 278,  278, 584, 584, 584, 557, 1016, 667, 667, 723, 723, 667, 611, 778,
    723, 278, 500, 667, 557, 834, 723,  778, 667, 778, 723, 667, 611,  723, 667, 944, 667, 667, 611, 278,
    278, 278, 470, 557, 334, 557, 557,  500, 557, 557, 278, 557, 557,  223, 223, 500, 223, 834, 557, 557,
    557, 557, 334, 500, 278, 557, 500,  723, 500, 500, 500, 334, 260,  334, 584, 0,   0,   0,   0,   0,
    0,   0,   0,   0,   0,   0,   0,    0,   0,   0,   0,   0,   0,    0,   0,   0,   0,   0,   0,   0,
    0,   0,   0,   0,   0,   0,   0,    0,   278, 334, 557, 557, 557,  557, 260, 557, 334, 737, 371, 557,
    584, 334, 737, 553, 400, 549, 334,  334, 334, 577, 538, 278, 334,  334, 366, 557, 834, 834, 834, 611,
    667, 667, 667, 667, 667, 667, 1000, 723, 667, 667, 667, 667, 278,  278, 278, 278, 723, 723, 778, 778,
    778, 778, 778, 584, 778, 723, 723,  723, 723, 667, 667, 611, 557,  557, 557, 557, 557, 557, 890, 500,
    557, 557, 557, 557, 278, 278, 278,  278, 557, 557, 557, 557, 557,  557, 557, 549, 611, 557, 557, 557,
    557, 500, 557, 500, 667, 557, 667,  557, 667, 557, 723, 500, 723,  500, 723, 500, 723, 500, 723, 615,
    723, 557, 667, 557, 667, 557, 667,  557, 667, 557, 667, 557, 778,  557, 778, 557, 778, 557, 778, 557,
    723, 557, 723, 557, 278, 278, 278,  278, 278, 278, 278, 223, 278,  278, 735, 444, 500, 223, 667, 500,
    500, 557, 223, 557, 223, 557, 292,  557, 334, 557, 223, 723, 557,  723, 557, 723, 557, 605, 724, 557,
    778, 557, 778, 557, 778, 557, 1000, 944, 723, 334, 723, 334, 723,  334, 667, 500, 667, 500, 667, 500,
    667, 500, 611, 278, 611, 375, 611,  278, 723, 557, 723, 557, 723,  557, 723, 557, 723, 557, 723, 557,
    944, 723, 667, 500, 667, 611, 500,  611, 500, 611, 500, 223,
};
static const uint16_t bold[] = {
    278, 334, 475, 557, 557, 890, 723, 238, 334, 334, 390, 584, 278,  334, 278, 278, 557, 557, 557, 557,  557,
    557, 557, 557, 557, 557, 334, 334, 584, 584, 584, 611, 976, 723,  723, 723, 723, 667, 611, 778, 723,  278,
    557, 723, 611, 834, 723, 778, 667, 778, 723, 667, 611, 723, 667,  944, 667, 667, 611, 334, 278, 334,  584,
    557, 334, 557, 611, 557, 611, 557, 334, 611, 611, 278, 278, 557,  278, 890, 611, 611, 611, 611, 390,  557,
    334, 611, 557, 778, 557, 557, 500, 390, 280, 390, 584, 0,   0,    0,   0,   0,   0,   0,   0,   0,    0,
    0,   0,   0,   0,   0,   0,   0,   0,   0,   0,   0,   0,   0,    0,   0,   0,   0,   0,   0,   0,    0,
    0,   0,   278, 334, 557, 557, 557, 557, 280, 557, 334, 737, 371,  557, 584, 334, 737, 553, 400, 549,  334,
    334, 334, 577, 557, 278, 334, 334, 366, 557, 834, 834, 834, 611,  723, 723, 723, 723, 723, 723, 1000, 723,
    667, 667, 667, 667, 278, 278, 278, 278, 723, 723, 778, 778, 778,  778, 778, 584, 778, 723, 723, 723,  723,
    667, 667, 611, 557, 557, 557, 557, 557, 557, 890, 557, 557, 557,  557, 557, 278, 278, 278, 278, 611,  611,
    611, 611, 611, 611, 611, 549, 611, 611, 611, 611, 611, 557, 611,  557, 723, 557, 723, 557, 723, 557,  723,
    557, 723, 557, 723, 557, 723, 557, 723, 719, 723, 611, 667, 557,  667, 557, 667, 557, 667, 557, 667,  557,
    778, 611, 778, 611, 778, 611, 778, 611, 723, 611, 723, 611, 278,  278, 278, 278, 278, 278, 278, 278,  278,
    278, 785, 557, 557, 278, 723, 557, 557, 611, 278, 611, 278, 611,  386, 611, 480, 611, 278, 723, 611,  723,
    611, 723, 611, 709, 724, 611, 778, 611, 778, 611, 778, 611, 1000, 944, 723, 390, 723, 390, 723, 390,  667,
    557, 667, 557, 667, 557, 667, 557, 611, 334, 611, 480, 611, 334,  723, 611, 723, 611, 723, 611, 723,  611,
    723, 611, 723, 611, 944, 778, 667, 557, 667, 611, 500, 611, 500,  611, 500, 278,
};
static const uint16_t greek_cyrillic[] = {
    0,   0,   0,   0,   0,    0,    0,   0,   0,   0,   0,    0,   0,   0,    334,  0,   0,   0,   0,   0,
    334, 465, 723, 334, 854,  906,  474, 0,   825, 0,   928,  838, 278, 723,  723,  602, 719, 667, 611, 723,
    778, 278, 723, 667, 834,  723,  644, 778, 723, 667, 0,    601, 611, 667,  821,  667, 810, 802, 278, 667,
    615, 452, 611, 278, 583,  615,  611, 557, 607, 475, 461,  611, 541, 278,  558,  557, 612, 557, 446, 611,
    766, 619, 521, 685, 447,  583,  716, 576, 754, 845, 278,  583, 611, 583,  845,  0,   0,   0,   0,   0,
    0,   0,   0,   0,   0,    0,    0,   0,   0,   0,   0,    0,   0,   0,    0,    0,   0,   0,   0,   0,
    0,   0,   0,   0,   0,    0,    0,   0,   0,   0,   0,    0,   0,   0,    0,    0,   0,   0,   0,   0,
    0,   0,   0,   0,   667,  669,  886, 567, 712, 667, 278,  276, 557, 1094, 1063, 875, 611, 723, 623, 719,
    723, 719, 723, 567, 713,  667,  904, 627, 719, 719, 611,  702, 834, 723,  778,  719, 667, 723, 611, 623,
    854, 667, 731, 703, 1005, 1020, 870, 980, 719, 712, 1032, 719, 557, 618,  615,  417, 635, 557, 709, 498,
    615, 615, 501, 636, 740,  605,  611, 605, 611, 557, 490,  557, 875, 557,  615,  581, 834, 844, 730, 855,
    615, 553, 855, 584, 557,  557,  611, 417, 553, 557, 278,  282, 278, 969,  907,  611, 501, 615, 557, 605,
};

#define COUNT(array) (sizeof(array) / sizeof(array)[0])

typedef struct type_row {
    const char *selector;  // in the style sheet
    const char *attribute; // of an element; "" for plain text
    int points, line_px;
    bool is_bold;
} type_row;

static const type_row types[] = {
    [PAPER_TEXT] = {"p,th,footer", "", 11, 18, false}, [PAPER_STRONG] = {".b,b", " class=b", 11, 18, true},
    [PAPER_NAME] = {".n", " class=n", 14, 22, true},   [PAPER_WORDS] = {".w", " class=w", 16, 24, true},
    [PAPER_SLOT] = {".s", " class=s", 20, 30, true},   [PAPER_TITLE] = {".t", " class=t", 24, 36, true},
};
static_assert(COUNT(types) == PAPER_TYPE_COUNT, "a row for each type");

int paper_line_px(paper_type type) {
    return types[type].line_px;
}

const char *paper_type_class(paper_type type) {
    return types[type].attribute;
}

void paper_types_css(sm_text *out) {
    for (size_t i = 0; i < COUNT(types); i++)
        sm_text_printf(out, "%s{font-size:%dpt;line-height:%dpx;font-weight:%s}\n", types[i].selector,
                       types[i].points, types[i].line_px, types[i].is_bold ? "bold" : "normal");
}

void paper_type_svg(sm_text *out, paper_type type) {
    sm_text_printf(out, " font-size=%dpt%s", types[type].points,
                   types[type].is_bold ? " font-weight=bold" : "");
}

static int glyph_width(uint32_t c, bool is_bold) {
    int width = 0;
    if (c >= LATIN_FIRST && c < LATIN_FIRST + COUNT(regular))
        width = is_bold ? bold[c - LATIN_FIRST] : regular[c - LATIN_FIRST];
    else if (c >= GREEK_FIRST && c < GREEK_FIRST + COUNT(greek_cyrillic))
        width = greek_cyrillic[c - GREEK_FIRST];
    if (width == 0)
        width = c >= 0x1F000 && c != PAPER_UTF8_NONE ? 1500 : 1000;
    return width;
}

// UNITS of TYPE as pixels, rounded up.
static int to_px(paper_type type, int64_t units) {
    const int64_t px = (units * types[type].points * 4 + 2999) / 3000;
    return px > INT32_MAX ? INT32_MAX : (int)px;
}

int paper_width_px(paper_type type, const char *text, size_t length) {
    int64_t units = 0;
    for (size_t at = 0; at < length;) {
        uint32_t c;
        at += paper_utf8_read(text + at, length - at, &c);
        units += glyph_width(c, types[type].is_bold);
    }
    return to_px(type, units);
}

// What belongs to the character before it: accents, joiners, variants and skin colours.
static bool is_joined(uint32_t c) {
    return (c >= 0x300 && c <= 0x36F) || (c >= 0x591 && c <= 0x5BD) || (c >= 0x64B && c <= 0x65F) ||
           (c >= 0x200C && c <= 0x200D) || (c >= 0xFE00 && c <= 0xFE0F) || (c >= 0x1F3FB && c <= 0x1F3FF);
}

static size_t after_blanks(const char *text, size_t length, size_t at) {
    while (at < length && text[at] == ' ')
        at++;
    return at;
}

size_t paper_fit(paper_type type, const char *text, size_t length, int width_px, size_t *next) {
    size_t blank = 0, sign = 0, character = 0; // where the line may end, best first
    int64_t units = 0;
    for (size_t at = 0; at < length;) {
        uint32_t c;
        const size_t bytes = paper_utf8_read(text + at, length - at, &c);
        if (c == ' ' && at > 0)
            blank = at;
        if (at > 0 && !is_joined(c))
            character = at;
        units += glyph_width(c, types[type].is_bold);
        if (to_px(type, units) > width_px && character > 0) {
            const size_t end = blank > 0 ? blank : sign > 0 ? sign : character;
            *next = after_blanks(text, length, end);
            return end;
        }
        if (c > 0 && c < 0x80 && strchr("-_/,;:", (int)c))
            sign = at + bytes;
        at += bytes;
    }
    *next = length;
    return length;
}

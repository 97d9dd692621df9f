// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/theme.h"

#include <assert.h>
#include <string.h>

#define OWN SM_OWN_INK, SM_OWN_INK, SM_OWN_INK

static const sm_palette_row rows[] = {
    [SM_PALETTE_PLAIN] = {"plain", "dark or light as the terminal says, else its own ink alone", {0, OWN}},
    [SM_PALETTE_DARK] = {"dark", "for a dark terminal", {0, OWN}},
    [SM_PALETTE_LIGHT] = {"light", "for a light terminal", {0, OWN}},
    [SM_PALETTE_COLOUR_BLIND] = {"colour-blind",
                                 "told apart by most eyes that see fewer colours",
                                 {0, 0, 16, 0}},
    [SM_PALETTE_NIGHT] = {"night", "red on black", {0, 0, 16, 0}},
};
static_assert(sizeof rows / sizeof rows[0] == SM_PALETTE_COUNT, "a row for each palette");

static const uint8_t plain_attributes[] = {
    [SM_LOOK_PLAIN] = 0,
    [SM_LOOK_TITLE] = SM_BOLD,
    [SM_LOOK_BADGE] = SM_REVERSE | SM_BOLD,
    [SM_LOOK_BADGE_ALERT] = SM_REVERSE | SM_BOLD,
    [SM_LOOK_HEADING] = SM_UNDERLINE,
    [SM_LOOK_NOW] = SM_BOLD,
    [SM_LOOK_WARN] = SM_BOLD | SM_UNDERLINE,
    [SM_LOOK_KIND_A] = SM_BOLD,
    [SM_LOOK_KIND_B] = SM_BOLD,
    [SM_LOOK_KIND_C] = 0,
    [SM_LOOK_DIM] = SM_FAINT,
    [SM_LOOK_SELECTED] = SM_REVERSE,
    [SM_LOOK_KEY] = SM_BOLD,
    [SM_LOOK_STOP] = SM_REVERSE,
    [SM_LOOK_SHAPE] = 0,
    [SM_LOOK_SHAPE_PAST] = SM_FAINT,
};
static_assert(sizeof plain_attributes / sizeof plain_attributes[0] == SM_LOOK_COUNT,
              "attributes for each look");

// Colour-blind: the colours of M. Okabe and K. Ito, Color Universal Design (2008), less their blue, which is too dark on black;
// of xterm's 256 the nearest. Light: no bold beside a colour, since eight-colour terminals make bold ones bright.
static const sm_ink inks[SM_PALETTE_COUNT][SM_LOOK_COUNT] =
    {
        [SM_PALETTE_PLAIN] =
            {
                [SM_LOOK_PLAIN] = {0, OWN},
                [SM_LOOK_TITLE] = {SM_BOLD, OWN},
                [SM_LOOK_BADGE] = {SM_REVERSE | SM_BOLD, OWN},
                [SM_LOOK_BADGE_ALERT] = {SM_REVERSE | SM_BOLD, OWN},
                [SM_LOOK_HEADING] = {SM_UNDERLINE, OWN},
                [SM_LOOK_NOW] = {SM_BOLD, OWN},
                [SM_LOOK_WARN] = {SM_BOLD | SM_UNDERLINE, OWN},
                [SM_LOOK_KIND_A] = {SM_BOLD, OWN},
                [SM_LOOK_KIND_B] = {SM_BOLD, OWN},
                [SM_LOOK_KIND_C] = {0, OWN},
                [SM_LOOK_DIM] = {0, OWN},
                [SM_LOOK_SELECTED] = {SM_REVERSE, OWN},
                [SM_LOOK_KEY] = {SM_BOLD, OWN},
                [SM_LOOK_STOP] = {SM_REVERSE, OWN},
                [SM_LOOK_SHAPE] = {0, OWN},
                [SM_LOOK_SHAPE_PAST] = {0, OWN},
            },
        [SM_PALETTE_DARK] =
            {
                [SM_LOOK_PLAIN] = {0, OWN},
                [SM_LOOK_TITLE] = {SM_BOLD, OWN},
                [SM_LOOK_BADGE] = {SM_REVERSE | SM_BOLD, OWN},
                [SM_LOOK_BADGE_ALERT] = {SM_REVERSE | SM_BOLD, 0xFF5F5F, 203, 11},
                [SM_LOOK_HEADING] = {SM_UNDERLINE, OWN},
                [SM_LOOK_NOW] = {SM_BOLD, 0xFFD75F, 221, 11},
                [SM_LOOK_WARN] = {SM_BOLD | SM_UNDERLINE, 0xFF5F5F, 203, 11},
                [SM_LOOK_KIND_A] = {SM_BOLD, 0xFF8700, 208, 11},
                [SM_LOOK_KIND_B] = {SM_BOLD, 0xFF87D7, 212, 13},
                [SM_LOOK_KIND_C] = {0, 0x87D7D7, 116, 6},
                [SM_LOOK_DIM] = {0, 0x949494, 246, SM_OWN_INK},
                [SM_LOOK_SELECTED] = {SM_REVERSE, OWN},
                [SM_LOOK_KEY] = {SM_BOLD, 0x87D7D7, 116, 14},
                [SM_LOOK_STOP] = {SM_REVERSE, OWN},
                [SM_LOOK_SHAPE] = {0, 0x87AFD7, 110, 6},
                [SM_LOOK_SHAPE_PAST] = {0, 0x949494, 246, SM_OWN_INK},
            },
        [SM_PALETTE_LIGHT] =
            {
                [SM_LOOK_PLAIN] = {0, OWN},
                [SM_LOOK_TITLE] = {SM_BOLD, OWN},
                [SM_LOOK_BADGE] = {SM_REVERSE | SM_BOLD, OWN},
                [SM_LOOK_BADGE_ALERT] = {SM_REVERSE, 0xAF0000, 124, 1},
                [SM_LOOK_HEADING] = {SM_UNDERLINE, OWN},
                [SM_LOOK_NOW] = {SM_BOLD, 0x0000AF, 19, SM_OWN_INK},
                [SM_LOOK_WARN] = {SM_UNDERLINE, 0xAF0000, 124, 1},
                [SM_LOOK_KIND_A] = {SM_BOLD, 0x875F00, 94, SM_OWN_INK},
                [SM_LOOK_KIND_B] = {SM_BOLD, 0x870087, 90, SM_OWN_INK},
                [SM_LOOK_KIND_C] = {0, 0x005F87, 24, 4},
                [SM_LOOK_DIM] = {0, 0x585858, 240, SM_OWN_INK},
                [SM_LOOK_SELECTED] = {SM_REVERSE, OWN},
                [SM_LOOK_KEY] = {SM_BOLD, 0x005F87, 24, SM_OWN_INK},
                [SM_LOOK_STOP] = {SM_REVERSE, OWN},
                [SM_LOOK_SHAPE] = {0, 0x005F87, 24, 4},
                [SM_LOOK_SHAPE_PAST] = {0, 0x585858, 240, SM_OWN_INK},
            },
        [SM_PALETTE_COLOUR_BLIND] =
            {
                [SM_LOOK_PLAIN] = {0, 0xD0D0D0, 252, 7},
                [SM_LOOK_TITLE] = {SM_BOLD, 0xD0D0D0, 252, 7},
                [SM_LOOK_BADGE] = {SM_REVERSE | SM_BOLD, 0xD0D0D0, 252, 7},
                [SM_LOOK_BADGE_ALERT] = {SM_REVERSE | SM_BOLD, 0xD55E00, 166, 11},
                [SM_LOOK_HEADING] = {SM_UNDERLINE, 0xD0D0D0, 252, 7},
                [SM_LOOK_NOW] = {SM_BOLD, 0xF0E442, 221, 11},
                [SM_LOOK_WARN] = {SM_BOLD | SM_UNDERLINE, 0xD55E00, 166, 15},
                [SM_LOOK_KIND_A] = {SM_BOLD, 0xE69F00, 178, 11},
                [SM_LOOK_KIND_B] = {SM_BOLD, 0xCC79A7, 175, 13},
                [SM_LOOK_KIND_C] = {0, 0x56B4E9, 74, 6},
                [SM_LOOK_DIM] = {0, 0x949494, 246, 7},
                [SM_LOOK_SELECTED] = {SM_REVERSE, 0xD0D0D0, 252, 7},
                [SM_LOOK_KEY] = {SM_BOLD, 0x56B4E9, 74, 14},
                [SM_LOOK_STOP] = {SM_REVERSE, 0xD0D0D0, 252, 7},
                [SM_LOOK_SHAPE] = {0, 0x009E73, 35, 6},
                [SM_LOOK_SHAPE_PAST] = {0, 0x949494, 246, 7},
            },
        [SM_PALETTE_NIGHT] =
            {
                [SM_LOOK_PLAIN] = {0, 0xFF0000, 196, 9},
                [SM_LOOK_TITLE] = {SM_BOLD, 0xFF0000, 196, 9},
                [SM_LOOK_BADGE] = {SM_REVERSE | SM_BOLD, 0xFF0000, 196, 9},
                [SM_LOOK_BADGE_ALERT] = {SM_REVERSE | SM_BOLD, 0xD75F00, 166, 9},
                [SM_LOOK_HEADING] = {SM_UNDERLINE, 0xFF0000, 196, 9},
                [SM_LOOK_NOW] = {SM_BOLD, 0xD75F00, 166, 9},
                [SM_LOOK_WARN] = {SM_BOLD | SM_UNDERLINE, 0xFF0000, 196, 9},
                [SM_LOOK_KIND_A] = {SM_BOLD, 0xFF0000, 196, 9},
                [SM_LOOK_KIND_B] = {SM_BOLD, 0xD75F00, 166, 9},
                [SM_LOOK_KIND_C] = {0, 0xFF0000, 196, 9},
                [SM_LOOK_DIM] = {0, 0xFF0000, 196, 9},
                [SM_LOOK_SELECTED] = {SM_UNDERLINE | SM_BOLD, 0xD75F00, 166, 9},
                [SM_LOOK_KEY] = {SM_BOLD, 0xD75F00, 166, 9},
                [SM_LOOK_STOP] = {SM_UNDERLINE | SM_BOLD, 0xD75F00, 166, 9},
                [SM_LOOK_SHAPE] = {0, 0x870000, 88, 1},
                [SM_LOOK_SHAPE_PAST] = {0, 0x5F0000, 52, 1},
            },
};

const sm_palette_row *sm_palette_row_of(sm_palette palette) {
    assert(palette < SM_PALETTE_COUNT);
    return &rows[palette];
}

sm_palette sm_palette_named(const char *name) {
    size_t i = 0;
    while (i < SM_PALETTE_COUNT && strcmp(rows[i].name, name) != 0)
        i++;
    return (sm_palette)i;
}

const sm_ink *sm_theme_ink(sm_palette palette, sm_look look) {
    assert(palette < SM_PALETTE_COUNT && look < SM_LOOK_COUNT);
    return &inks[palette][look];
}

uint8_t sm_theme_plain_attributes(sm_look look) {
    assert(look < SM_LOOK_COUNT);
    return plain_attributes[look];
}

bool sm_theme_is_shape(sm_look look) {
    return look == SM_LOOK_SHAPE || look == SM_LOOK_SHAPE_PAST;
}

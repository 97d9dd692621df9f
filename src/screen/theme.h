// SPDX-License-Identifier: GPL-3.0-or-later
// What each look is, in each palette and on terminals of every depth: one table. Knows no terminal.
#ifndef SLOWMATCH_SCREEN_THEME_H
#define SLOWMATCH_SCREEN_THEME_H

#include "screen/cells.h"

typedef enum sm_palette {
    SM_PALETTE_PLAIN, // the terminal's own ink and paper, by attributes alone: on any ground
    SM_PALETTE_DARK,  // for a dark terminal
    SM_PALETTE_LIGHT, // for a light one
    SM_PALETTE_COLOUR_BLIND,
    SM_PALETTE_NIGHT, // red on black, few lit cells, for eyes used to the dark
    SM_PALETTE_COUNT
} sm_palette;

enum sm_attribute { SM_BOLD = 1, SM_UNDERLINE = 2, SM_REVERSE = 4, SM_FAINT = 8 };

#define SM_OWN_INK (-1) // the terminal's own

typedef struct sm_ink {
    uint8_t attributes; // sm_attribute
    int rgb;            // 0xRRGGBB, where the terminal takes any colour
    int16_t of256; // xterm's 256: 16 + 36 r + 6 g + b of the levels 0, 95, 135, 175, 215, 255; then 24 greys
    int16_t of16;  // 8 and up are the bright ones; with 8 colours those are bold
} sm_ink;

typedef struct sm_palette_row {
    const char *name;
    const char *about;
    sm_ink paper; // behind everything; no attributes
} sm_palette_row;

const sm_palette_row *sm_palette_row_of(sm_palette palette);
// SM_PALETTE_COUNT: there is none of that name.
sm_palette sm_palette_named(const char *name);
const sm_ink *sm_theme_ink(sm_palette palette, sm_look look);
// The attributes of LOOK where there are no colours.
uint8_t sm_theme_plain_attributes(sm_look look);
// LOOK is for shapes (the music), not for text.
bool sm_theme_is_shape(sm_look look);

#endif

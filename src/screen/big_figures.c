// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/big_figures.h"

#include <string.h>

typedef struct glyph {
    char character;
    const char *rows[SM_FIGURE_ROWS];
} glyph;

static const glyph glyphs[] = {
    {'0', {"####", "#  #", "#  #", "#  #", "####"}},
    {'1', {" # ", "## ", " # ", " # ", "###"}},
    {'2', {"####", "   #", "####", "#   ", "####"}},
    {'3', {"####", "   #", " ###", "   #", "####"}},
    {'4', {"#  #", "#  #", "####", "   #", "   #"}},
    {'5', {"####", "#   ", "####", "   #", "####"}},
    {'6', {"####", "#   ", "####", "#  #", "####"}},
    {'7', {"####", "   #", "  # ", " #  ", " #  "}},
    {'8', {"####", "#  #", "####", "#  #", "####"}},
    {'9', {"####", "#  #", "####", "   #", "####"}},
    {':', {" ", "#", " ", "#", " "}},
    {'.', {" ", " ", " ", " ", "#"}},
    {',', {" ", " ", " ", "#", "#"}},
    {'/', {"  #", "  #", " # ", "#  ", "#  "}},
    {'-', {"   ", "   ", "###", "   ", "   "}},
    {' ', {"  ", "  ", "  ", "  ", "  "}},
    {'A', {" ## ", "#  #", "####", "#  #", "#  #"}},
    {'B', {"### ", "#  #", "### ", "#  #", "### "}},
    {'C', {" ###", "#   ", "#   ", "#   ", " ###"}},
    {'D', {"### ", "#  #", "#  #", "#  #", "### "}},
    {'E', {"####", "#   ", "### ", "#   ", "####"}},
    {'F', {"####", "#   ", "### ", "#   ", "#   "}},
    {'G', {" ###", "#   ", "# ##", "#  #", " ###"}},
    {'H', {"#  #", "#  #", "####", "#  #", "#  #"}},
    {'I', {"#", "#", "#", "#", "#"}},
    {'J', {"  ##", "   #", "   #", "#  #", " ## "}},
    {'K', {"#  #", "# # ", "##  ", "# # ", "#  #"}},
    {'L', {"#  ", "#  ", "#  ", "#  ", "###"}},
    {'M', {"#   #", "## ##", "# # #", "#   #", "#   #"}},
    {'N', {"#   #", "##  #", "# # #", "#  ##", "#   #"}},
    {'O', {" ## ", "#  #", "#  #", "#  #", " ## "}},
    {'P', {"### ", "#  #", "### ", "#   ", "#   "}},
    {'Q', {" ## ", "#  #", "#  #", "# ##", " ###"}},
    {'R', {"### ", "#  #", "### ", "# # ", "#  #"}},
    {'S', {" ###", "#   ", " ## ", "   #", "### "}},
    {'T', {"###", " # ", " # ", " # ", " # "}},
    {'U', {"#  #", "#  #", "#  #", "#  #", " ## "}},
    {'V', {"#   #", "#   #", "#   #", " # # ", "  #  "}},
    {'W', {"#   #", "#   #", "# # #", "## ##", "#   #"}},
    {'X', {"#   #", " # # ", "  #  ", " # # ", "#   #"}},
    {'Y', {"#   #", " # # ", "  #  ", "  #  ", "  #  "}},
    {'Z', {"####", "   #", " ## ", "#   ", "####"}},
};

static const glyph *glyph_of(char character) {
    for (size_t i = 0; i < sizeof glyphs / sizeof glyphs[0]; i++)
        if (glyphs[i].character == character)
            return &glyphs[i];
    return NULL;
}

// Dots across, with one between characters; 0 where a character has no figure.
static int dots_across(const char *text) {
    int dots = 0;
    for (; *text; text++) {
        const glyph *g = glyph_of(*text);
        if (!g)
            return 0;
        dots += (int)strlen(g->rows[0]) + 1;
    }
    return dots > 0 ? dots - 1 : 0;
}

static void draw_figure(sm_area area, int scale, int width, sm_look look, const char *text) {
    int x = 0;
    for (; *text; text++) {
        const glyph *g = glyph_of(*text);
        for (int row = 0; row < SM_FIGURE_ROWS * scale; row++) {
            for (int dot = 0; g->rows[row / scale][dot]; dot++)
                for (int i = 0; i < width && g->rows[row / scale][dot] == '#'; i++)
                    sm_area_text(area, x + dot * width + i, row, look, "█");
        }
        x += ((int)strlen(g->rows[0]) + 1) * width;
    }
}

bool sm_figures_fit(const char *text, int columns) {
    const int dots = dots_across(text);
    return dots > 0 && dots <= columns;
}

void sm_figures_draw(sm_area area, int scale, sm_look look, const char *text) {
    int dots = dots_across(text);
    for (int width = 2 * scale; width > 0; width--) {
        if (dots > 0 && dots * width <= area.columns && area.rows >= SM_FIGURE_ROWS * scale) {
            draw_figure(area, scale, width, look, text);
            return;
        }
    }
    sm_area_field(area, 0, 0, area.columns, look, text);
}

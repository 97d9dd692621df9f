// SPDX-License-Identifier: GPL-3.0-or-later
// Strokes, as SVG: black on white, whole pixels.
#include "paper/kit.h"

#include <string.h>

void paper_draw_begin(paper_kit *kit, int width_px, int height_px, const char *label) {
    if (!kit->is_in_row)
        sm_text_clear(&kit->row);
    kit->drawing_px = height_px;
    sm_text_printf(&kit->row, "<svg width=%d height=%d fill=none stroke=black role=img aria-label=\"",
                   width_px, height_px);
    paper_escape(&kit->row, label, strlen(label));
    sm_text_printf(&kit->row, "\">");
}

void paper_draw_box(paper_kit *kit, int x, int y, int width, int height, bool is_filled, int stroke) {
    sm_text_printf(&kit->row, "<rect x=%d y=%d width=%d height=%d stroke-width=%d%s />", x, y, width, height,
                   stroke, is_filled ? " fill=black" : "");
}

void paper_draw_dashed_box(paper_kit *kit, int x, int y, int width, int height) {
    sm_text_printf(&kit->row, "<rect x=%d y=%d width=%d height=%d stroke-width=4 stroke-dasharray=8,4 />", x,
                   y, width, height);
}

void paper_draw_line(paper_kit *kit, int x0, int y0, int x1, int y1, int stroke) {
    sm_text_printf(&kit->row, "<path d=\"M%d %dL%d %d\" stroke-width=%d />", x0, y0, x1, y1, stroke);
}

void paper_draw_grid_line(paper_kit *kit, int x, int y0, int y1) {
    sm_text_printf(&kit->row, "<path d=\"M%d %dV%d\" stroke-dasharray=1,4 />", x, y0, y1);
}

void paper_draw_wedge(paper_kit *kit, int x, int y, int width, int height) {
    sm_text_printf(&kit->row, "<path fill=black d=\"M%d %dl%d %dl%d %dz\"/>", x, y + height, (width + 1) / 2,
                   -height, width / 2, height);
}

void paper_draw_text(paper_kit *kit, paper_type type, int x, int y, int width_px, bool is_centred,
                     const char *text) {
    size_t length = strlen(text), next;
    const bool is_cut = paper_width_px(type, text, length) > width_px;
    if (is_cut)
        length = paper_fit(type, text, length, width_px - paper_width_px(type, "\u2026", 3), &next);
    sm_text_printf(
        &kit->row,
        "<text x=%d y=%d fill=black stroke=none font-family=\"Arial,Liberation Sans,sans-serif\"%s", x, y,
        is_centred ? " text-anchor=middle" : "");
    paper_type_svg(&kit->row, type);
    sm_text_printf(&kit->row, ">");
    paper_escape(&kit->row, text, length);
    sm_text_printf(&kit->row, "%s</text>", is_cut ? "\u2026" : "");
}

void paper_draw_end(paper_kit *kit) {
    sm_text_printf(&kit->row, "</svg>");
    if (kit->is_in_row)
        kit->cell_px += kit->drawing_px;
    else
        paper_append_block(kit, kit->drawing_px);
}

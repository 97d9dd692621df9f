// SPDX-License-Identifier: GPL-3.0-or-later
// Lines of text on standard output. A slow line, or one that takes nothing more, holds a thread of its own and nobody else.
#ifndef SLOWMATCH_CONSOLE_LINES_OUT_H
#define SLOWMATCH_CONSOLE_LINES_OUT_H

#include "screen/cells.h"

#include "slowmatch/background.h"

typedef struct sm_lines_writer sm_lines_writer;

// {0} is a valid one, not open.
typedef struct sm_lines_out {
    sm_background *background;
    sm_lines_writer *writer;
    sm_cells *text, *page;
    bool ascii, terminal;
    bool prompted; // the latest line is a prompt, without its end
} sm_lines_out;

// SM_NO_MEMORY. The caller closes.
SM_MUST_CHECK sm_result sm_lines_out_open(sm_lines_out *out);
// Waits at most PATIENCE_US for what is not written yet. Returns errno of what could not be written, 0. One that is not open is taken.
int sm_lines_out_close(sm_lines_out *out, sm_us patience_us);
// TEXT as a line of its own, over several where the terminal is narrower. No character in it controls a terminal.
void sm_lines_out_say(sm_lines_out *out, const char *text);
// A blank page of ROWS rows to draw on (at most SM_CELLS_ROWS_MAX), and its rows from the first to the last
// that is not blank as lines.
sm_area sm_lines_out_page(sm_lines_out *out, int rows);
void sm_lines_out_say_page(sm_lines_out *out, int rows);
// TEXT without an end: what is typed stands after it.
void sm_lines_out_prompt(sm_lines_out *out, const char *text);
// What was typed has ended that line, in sight or not.
void sm_lines_out_typed(sm_lines_out *out);
void sm_lines_out_bell(sm_lines_out *out);
// More waits to be written than anybody will read: what can be left out should be.
bool sm_lines_out_is_full(const sm_lines_out *out);
// errno of what could not be written, 0.
int sm_lines_out_error(const sm_lines_out *out);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// The terminal. terminal.c is the only file that includes curses. One thread only.
#ifndef SLOWMATCH_SCREEN_TERMINAL_H
#define SLOWMATCH_SCREEN_TERMINAL_H

#include "screen/cells.h"
#include "screen/keys.h"
#include "screen/paste.h"
#include "screen/terminal_ground.h"
#include "screen/theme.h"

typedef struct sm_terminal sm_terminal;

// Why standard input and output are no terminals on which the cursor can be moved; NULL where they are.
const char *sm_terminal_missing(void);

// Takes over the terminal of standard input and output (locale and TERM as in the environment; setlocale must have been
// called). SM_UNREADABLE: TERM names no terminal that it can use. SM_NO_MEMORY. The caller closes.
SM_MUST_CHECK sm_result sm_terminal_open(sm_terminal **out);
// Gives the terminal back as it was. NULL is taken.
void sm_terminal_close(sm_terminal *terminal);

// Gives the terminal back for a while (Ctrl-Z), and takes it again; then everything is painted anew.
void sm_terminal_leave(sm_terminal *terminal);
void sm_terminal_return(sm_terminal *terminal);

// Paints in PALETTE from now on (at first: plain), as well as the terminal can. Without colours, or with NO_COLOR set, there are
// attributes only.
void sm_terminal_colours(sm_terminal *terminal, sm_palette palette);

// Whether the terminal's own paper is dark or light, as far as it is known by now: from COLORFGBG, or from the terminal's answer (OSC 11),
// which comes as SM_KEY_GROUND, or never.
sm_ground sm_terminal_ground(const sm_terminal *terminal);

// Looks up the size of the terminal again, at most SM_CELLS_COLUMNS_MAX by SM_CELLS_ROWS_MAX: of a larger one the upper
// left part is used.
void sm_terminal_measure(sm_terminal *terminal, int *columns, int *rows);
// The terminal cannot show characters outside ASCII.
bool sm_terminal_is_ascii(const sm_terminal *terminal);
// The terminal takes output now. False: it still has not shown what was sent before.
bool sm_terminal_takes(const sm_terminal *terminal);
// Paints what has changed since the last time; sends nothing when nothing has. CELLS should have the terminal's size.
// CURSOR_X, CURSOR_Y: where text is typed; -1 hides the cursor. Returns about how many bytes that takes.
size_t sm_terminal_paint(sm_terminal *terminal, const sm_cells *cells, int cursor_x, int cursor_y);
// Forgets what is on the screen, so that the next paint paints all of it.
void sm_terminal_forget(sm_terminal *terminal);
void sm_terminal_bell(sm_terminal *terminal);
// The next key typed, or text pasted, SM_KEY_NONE when there is none. Waits at most some hundredths of a second, after an Escape.
int sm_terminal_key(sm_terminal *terminal);
// What was pasted, after SM_KEY_PASTED; valid up to the next key.
const sm_paste *sm_terminal_pasted(const sm_terminal *terminal);
// What the mouse did, after SM_KEY_MOUSE; x and y count from the upper left corner of the terminal.
sm_mouse sm_terminal_mouse(const sm_terminal *terminal);
// Whether the terminal tells of the mouse (from the start: no). While it does, most terminals select text only with Shift.
void sm_terminal_listen(sm_terminal *terminal, bool listen);

#endif

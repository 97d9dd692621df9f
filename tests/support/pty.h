// SPDX-License-Identifier: GPL-3.0-or-later
// A program in a real pseudo-terminal, its screen read through libvterm. Waits have a deadline that only a hanging program
// meets, and end as soon as what they wait for is there.
#ifndef SLOWMATCH_TESTS_PTY_H
#define SLOWMATCH_TESTS_PTY_H

#include <stdbool.h>
#include <stddef.h>

typedef struct pty pty;

// Starts ARGV (NULL at the end) in a terminal of COLUMNS by ROWS; beyond 1000 either is only what the program is told. ENVIRONMENT: "NAME=VALUE" texts to set, NULL at the end
// (TERM=xterm-256color, COLORFGBG=15;0, LC_ALL=C.UTF-8 and TZ=UTC unless given); NULL: none. Fails the test when it cannot.
pty *pty_start(int columns, int rows, const char *const *argv, const char *const *environment);
// Kills what still runs.
void pty_destroy(pty *p);

void pty_type(pty *p, const char *bytes);
// Pastes BYTES, with marks around it where the program asked for them.
void pty_paste(pty *p, const char *bytes);
// A press and release of mouse button BUTTON (1 left, 4 wheel up, 5 wheel down) at a cell, in whatever way the program asked for; nothing
// where it asked for none.
void pty_click(pty *p, int column, int row, int button);
// Nothing more comes: the program has ended, or closed its terminal.
bool pty_is_closed(const pty *p);
void pty_resize(pty *p, int columns, int rows);
void pty_signal(pty *p, int signal);

// Wait until TEXT stands in some row, or in none. They fail the test, with the screen printed, when that never happens.
#define pty_expect(p, text) pty_expect_at(p, text, __FILE__, __LINE__)
#define pty_expect_gone(p, text) pty_expect_gone_at(p, text, __FILE__, __LINE__)
void pty_expect_at(pty *p, const char *text, const char *file, int line);
void pty_expect_gone_at(pty *p, const char *text, const char *file, int line);
// The same for row ROW alone.
#define pty_expect_row(p, row, text) pty_expect_row_at(p, row, text, __FILE__, __LINE__)
void pty_expect_row_at(pty *p, int row, const char *text, const char *file, int line);
// Waits until the program has ended and all its output was read; its status as waitpid gives it.
int pty_expect_end(pty *p);

// The same without reading anything: as a terminal that takes no more.
int pty_expect_end_unread(pty *p);
// Closes the terminal under the program, and waits until it has ended.
int pty_hang_up(pty *p);

// As the screen is now.
bool pty_shows(pty *p, const char *text);
// Row ROW as UTF-8 without the blanks at its end; valid until the next call.
const char *pty_row(pty *p, int row);
// All rows, each with a line feed at its end; the caller frees.
char *pty_text(pty *p);
// A cell of the screen has another colour than the terminal's own.
bool pty_has_colour(pty *p);
// Waits until the cursor is shown (text is typed), or is not.
void pty_expect_cursor(pty *p, bool visible);
bool pty_is_reversed(pty *p, int column, int row);
// The colour of a cell's character, or of what lies behind it: 0x1RRGGBB where it was sent as such, 0 to 255 where by number, -1 for
// the terminal's own.
int pty_ink(pty *p, int column, int row);
int pty_paper(pty *p, int column, int row);
// Waits until a cell's character has this colour, as pty_ink tells it.
#define pty_expect_ink(p, column, row, ink) pty_expect_ink_at(p, column, row, ink, __FILE__, __LINE__)
void pty_expect_ink_at(pty *p, int column, int row, int ink, const char *file, int line);
bool pty_is_bold(pty *p, int column, int row);
bool pty_is_alternate(const pty *p);
// The program has asked to be told of the mouse's buttons.
bool pty_tells_mouse(const pty *p); // the alternate screen is up
bool pty_cursor_is_visible(const pty *p);
// The program has asked for marks around what is pasted.
bool pty_marks_pastes(pty *p);
// Bytes that the program has sent so far.
size_t pty_bytes(const pty *p);
// All of them, *length; valid until more is read.
const char *pty_sent(const pty *p, size_t *length);
int pty_pid(const pty *p);
// Reads whatever comes within MILLISECONDS.
void pty_listen(pty *p, int milliseconds);

#endif

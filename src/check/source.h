// SPDX-License-Identifier: GPL-3.0-or-later
// A file of the show looked at again, line by line, to show a finding's cell and to learn its units.
#ifndef SLOWMATCH_CHECK_SOURCE_H
#define SLOWMATCH_CHECK_SOURCE_H

#include "slowmatch/base.h"

typedef struct check_source {
    char *bytes; // NULL where the file could not be read: it then has no lines
    size_t length, at;
    uint32_t line; // of what lies at `at`, from 1
} check_source;

typedef struct check_piece {
    const char *bytes;
    size_t length;
} check_piece;

// SM_NO_MEMORY; a file that cannot be read is no failure. The caller deinits it.
SM_MUST_CHECK sm_result check_source_init(check_source *source, const char *folder, const char *file);
void check_source_deinit(check_source *source);
// The text of LINE without its end; length 0 where there is none. Lines must be asked for in rising order (the same
// again is allowed).
check_piece check_source_line(check_source *source, uint32_t line);
// The cell that begins at COLUMN (in characters, from 1) of a line; length 0 where there is none. In show.ini (INI true)
// the rest of the line, else up to the comma, or to the closing quote.
check_piece check_line_cell(check_piece line, uint32_t column, bool ini);
// Bytes in the first COUNT characters of a line; its length where it has fewer.
size_t check_piece_bytes(check_piece line, size_t count);

#endif

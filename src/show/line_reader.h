// SPDX-License-Identifier: GPL-3.0-or-later
// A file line by line. What has been read is kept from a chosen line on, so that a record of several lines stays whole,
// and no more of the file is in memory than that.
#ifndef SM_SHOW_LINE_READER_H
#define SM_SHOW_LINE_READER_H

#include "slowmatch/base.h"
#include "slowmatch/progress.h"

enum { SM_LINES_KEPT_MAX = 16 * 1024 * 1024 }; // bytes from the kept line on

typedef struct sm_lines {
    sm_arena *arena;
    int descriptor; // -1: BYTES is all there is
    bool is_lent;   // the descriptor is another's to close
    char *bytes;
    size_t capacity, end;         // of bytes
    size_t kept, at;              // the kept line's beginning; the next line's beginning
    uint64_t passed;              // bytes of the file before `bytes`
    uint64_t stop_at;             // no line is begun beyond so many bytes, where none is kept
    uint32_t line;                // number of the last line, from 1
    bool is_at_end;               // nothing follows what is in `bytes`
    bool is_plain;                // so far printable ASCII, tabs and line ends only
    bool has_quotes, has_returns; // so far, or not looked at
    uint64_t size;                // of the file as told beforehand, 0 where not known
    sm_progress *progress;        // of the bytes that are read; NULL: nobody looks
} sm_lines;

// Lines of the LENGTH bytes at BYTES, which may be changed (cleaned) and must outlive *lines.
void sm_lines_of_bytes(sm_lines *lines, char *bytes, size_t length);

// Lines of the regular file or pipe at PATH. SM_UNREADABLE (errno), SM_NO_MEMORY. Deinit closes it; its memory is
// ARENA's.
SM_MUST_CHECK sm_result sm_lines_open(sm_lines *lines, const char *path, sm_arena *arena);
void sm_lines_deinit(sm_lines *lines);

// What is left of the file that WHOLE has open from byte BEGIN on, which begins a line after LINE others. WHOLE must outlive it, and
// several may be read at a time, each by one thread. The place in WHOLE stays. *lines is zero, or was lines of a part before, in the
// same ARENA: its memory is used again.
void sm_lines_part(sm_lines *lines, const sm_lines *whole, sm_arena *arena, uint64_t begin, uint32_t line);

// Bytes of the file before what is kept.
uint64_t sm_lines_place(const sm_lines *lines);

// The next line with its end, valid until the next call. SM_NOT_FOUND: there is none; SM_NO_MEMORY; SM_UNREADABLE
// (errno); SM_OUT_OF_RANGE: more than SM_LINES_KEPT_MAX from the kept line on.
SM_MUST_CHECK sm_result sm_lines_next(sm_lines *lines, char **line, size_t *length);

// The first bytes of the file, before any line was taken; *length is 0 where there are none. As sm_lines_next.
SM_MUST_CHECK sm_result sm_lines_look(sm_lines *lines, const char **bytes, size_t *length);

// Keeps nothing before the next line.
void sm_lines_forget(sm_lines *lines);

#endif

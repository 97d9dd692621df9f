// SPDX-License-Identifier: GPL-3.0-or-later
// A crew's cue list (CSV in any encoding, .xlsx, .ods) into cues of a show, by columns that headings or a mapping file name. Nothing is
// guessed in silence: what can be read in two ways is a question, an error that names the lines of the mapping file that would answer
// it. Reads and writes no file but the one it is given; one thread.
#ifndef SLOWMATCH_IMPORT_H
#define SLOWMATCH_IMPORT_H

#include "slowmatch/show.h"

// A file that the import would write.
typedef struct sm_import_file {
    const char *name; // in the show's folder
    sm_text text;
} sm_import_file;

enum { SM_IMPORT_FILES = 8 };

typedef struct sm_import {
    sm_import_file files[SM_IMPORT_FILES]; // the cues first, then the report, then the tables of a new show
    size_t file_count;
    sm_text map; // the mapping file with what is told so far, and each open answer as a line behind ';'
    uint32_t questions; // open
    uint32_t rows, cues, left_out;
} sm_import;

// FILE holds the LENGTH bytes at BYTES, MAP (NULL: none) the mapping file in MAP_BYTES, which are changed (cleaned). SHOW: what it is for,
// with its length; NULL: a new show is made, called TITLE. Questions, errors, warnings and what was taken by guess go to FINDINGS. SM_OK:
// *out holds all; SM_INVALID: errors (*out is set all the same, without files, and its map names the open answers); SM_UNREADABLE: it is
// no table, damaged, or too big: one finding says so; SM_NO_MEMORY. The caller destroys *out, which is unchanged after the last two.
typedef struct sm_import_source {
    const char *file, *bytes;
    size_t length;
    const char *map;
    char *map_bytes;
    size_t map_length;
    const sm_show *show;
    const char *title;
    sm_progress *
        progress; // rows: first those that are read, then of them those that are understood; NULL: nobody looks
} sm_import_source;
SM_MUST_CHECK sm_result sm_import_create(const sm_import_source *source, sm_findings *findings,
                                         sm_import **out);
void sm_import_destroy(sm_import *import);

// The manual page slowmatch-import(5), in man(7) macros, made from the declared keys and appended to OUT.
void sm_import_manual(sm_text *out);

// Appends the names and versions of the libraries that read spreadsheets.
void sm_import_libraries(sm_text *out);

#endif

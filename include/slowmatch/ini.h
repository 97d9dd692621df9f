// SPDX-License-Identifier: GPL-3.0-or-later
// The settings of an INI file in order, read by inih, after each line has been looked at for what inih would
// bend.
#ifndef SLOWMATCH_INI_H
#define SLOWMATCH_INI_H

#include "slowmatch/base.h"

typedef struct sm_ini_entry {
    const char *section, *key, *value; // NUL-terminated; key NULL: the section begins here
    uint32_t line;
    uint32_t column;       // of the key, or of the section's name
    uint32_t value_column; // of the value's first character; of the line's end where it is empty
} sm_ini_entry;

typedef struct sm_ini {
    const char *file;
    sm_ini_entry *entries; // in order
    size_t count;
    size_t dropped; // lines left out, each with a finding
} sm_ini;

// Reports (rule text) what in each line of a whole file is no UTF-8 or a control character, once a line, and puts '?' in
// its place so that reading can go on. Tabs and line ends pass.
void sm_text_clean(const char *file, char *bytes, size_t length, sm_findings *findings);

// Reads the LENGTH bytes at BYTES (cleaned by sm_text_clean) into *out, whose texts and entries live in
// ARENA. Findings (rule ini) go to FINDINGS: a repeated key or section is left out. SM_NO_MEMORY leaves *out
// unchanged.
SM_MUST_CHECK sm_result sm_ini_read(const char *file, const char *bytes, size_t length, sm_arena *arena,
                                    sm_findings *findings, sm_ini *out);

// The entry of KEY in SECTION, NULL where there is none.
const sm_ini_entry *sm_ini_find(const sm_ini *ini, const char *section, const char *key);

// The line after LINE at which an entry stands, 0 where there is none.
uint32_t sm_ini_next_line(const sm_ini *ini, uint32_t line);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// What the readers of a drill's file share.
#ifndef DRILL_READ_H
#define DRILL_READ_H

#include "drill/file_keys.h"

#include "slowmatch/ini.h"

typedef enum section_kind {
    SECTION_DRILL,
    SECTION_EVENT,
    SECTION_EXPECT,
    SECTION_NEVER,
    SECTION_BEFORE,
    SECTION_SPOKEN,
    SECTION_LEAD,
    SECTION_COUNT
} section_kind;

// A section that could be named.
typedef struct section {
    section_kind kind;
    const char *name;  // "" for [drill]
    const char *whole; // "event gust"
    uint32_t row, line;
} section;

typedef struct drill_reader {
    const sm_show *show;
    sm_drill *drill;
    const char *file;
    sm_ini ini;
    sm_findings *findings;
    section *sections;
    uint32_t section_count;
    bool no_memory;
} drill_reader;

// One value where it stands.
typedef struct drill_value {
    const char *text;
    size_t length;
    const sm_ini_entry *entry;
} drill_value;

// A finding at BYTE of VALUE's text.
void drill_wrong(drill_reader *reader, const drill_value *value, size_t byte, const char *rule,
                 const char *format, ...) SM_PRINTF(5, 6);
// The part of VALUE from BEGIN to END, without blanks round it.
drill_value drill_part(const drill_value *value, size_t begin, size_t end);

// VALUE begins with the first word of one of COUNT names; all of them, for a message.
bool drill_is_known(const drill_value *value, size_t count, const char *(*name_of)(size_t i));
void drill_put_known(sm_text *out, size_t count, const char *(*name_of)(size_t i));

// The readers of special values: false after a finding.
bool drill_read_when(drill_reader *reader, const drill_value *value, sm_drill_when *out);
bool drill_read_action(drill_reader *reader, const drill_value *value, sm_action *out);
// With all the arguments it needs, as the lead of the spotter's drill does it.
bool drill_read_whole_action(drill_reader *reader, const drill_value *value, sm_action *out);
bool drill_read_states(drill_reader *reader, const drill_value *value, uint8_t *out);
bool drill_read_needs(drill_reader *reader, const drill_value *value, sm_drill_before *out);

// The names of a list with commas between, in the drill's arena.
bool drill_read_names(drill_reader *reader, const drill_value *value, sm_drill *drill);

// Names of events and expectations, for "did you mean" and for `when`.
const section *drill_find_section(const drill_reader *reader, section_kind kind, const char *name);
// Events and expectations that wait for each other in a ring never come.
void drill_refuse_rings(drill_reader *reader);
// What holds in a seat must not wait for what does not hold in it.
void drill_refuse_absent(drill_reader *reader);

// ---- seat.c -----------------------------------------------------------------------------------

// All that was read becomes the whole, and the lead's seat is taken. False: memory ran out.
bool drill_keep_whole(sm_drill *drill);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Cue lists as crews keep them, drawn from a loaded show in every form and notation, without any code of the import.
#ifndef TESTS_CUE_LIST_H
#define TESTS_CUE_LIST_H

#include "sheet_file.h"

#include "slowmatch/show.h"

typedef enum notation {
    SECONDS,
    SECONDS_COMMA,
    MILLISECONDS,
    FRAMES,
    DAYS,
    UNITS,
    M_S,
    H_M_S,
    S_FRAMES,
    M_S_FRAMES,
    TIMECODE,
    STORED,
    NOTATIONS
} notation;
typedef enum form { RAIL_NN, GLUED, RAIL_AND_SLOT, MODULE_AND_SLOT, MODULE_DASH_SLOT, THROUGH, FORMS } form;
typedef enum container { CSV, XLSX, ODS, CONTAINERS } container;

typedef struct drawing {
    notation notation;
    form form;
    container container;
    bool is_fire, is_split, has_channels, has_title, has_sections, has_total, has_crew_names, is_hour_one,
        has_unknown_heading;
    double rate;
    const char *rate_word;
    char separator;
    const char *encoding;
    bool has_mark;
    const char *between; // of joined targets
    uint64_t random;
} drawing;

enum { TIME, TARGET, RAIL, MODULE, SLOT, EFFECT, CHANNEL, LEVEL, FADE, LASTS, ID, NOTE, COLUMNS };

typedef struct list {
    const sm_show *show;
    drawing d;
    sheet_table table;
    size_t place[COLUMNS]; // by what it holds: the column; SHEET_COLUMNS: none
    const char *headings[COLUMNS];
} list;

// What a crew calls the demo's effects: the effect, then the text.
enum { LIST_CREW_NAMES = 8 };
extern const char *const list_crew_names[LIST_CREW_NAMES][2];

drawing list_draw(uint64_t seed);
// The time as the list can write it: whole frames, where it counts frames.
sm_us list_written_us(const drawing *d, sm_us us);
sm_us list_lead_of(const sm_show *show, const sm_cue *cue);
// Writes l->table of l->show as l->d says.
void list_write(list *l);
// The table as the bytes of a file; the caller frees them.
char *list_bytes(const list *l, size_t *length);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// Two shows side by side: what the files of the comparison share.
#ifndef SM_TABLES_COMPARE_H
#define SM_TABLES_COMPARE_H

#include "slowmatch/table_rows.h"
#include "slowmatch/tables.h"

// Columns of cues.csv as the matching sees them.
typedef enum cue_part {
    CUE_TARGET,
    CUE_DO,
    CUE_FADE,
    CUE_LASTS,
    CUE_IGNITERS,
    CUE_WIRE,
    CUE_AIM,
    CUE_PARTS
} cue_part;

// A cue. Texts are numbers: equal numbers, equal texts.
typedef struct cue_row {
    const sm_table_row *row;
    sm_us time_us;  // of an old cue: as it would be with everything that moved
    sm_us moved_us; // of an old cue: how much of that is the move
    uint32_t parts[CUE_PARTS];
    uint32_t body; // all parts
    uint32_t note, id;
    uint32_t match; // row on the other side, SM_NONE
} cue_row;

typedef struct cue_set {
    cue_row *rows;
    uint32_t count;
    uint32_t *by_body; // row numbers by body, time, number
} cue_set;

// Everything from FROM_US (of the old show) on, to UNTIL_US where IS_OPEN is not set, is BY_US later.
typedef struct cue_move {
    sm_us from_us, until_us, by_us;
    bool is_open;
    uint32_t cues;
} cue_move;

enum { CUE_SPANS_MAX = 24, CUE_FOUND = 4 };

// Of each span by which something may have moved.
typedef struct cue_spans {
    uint8_t spans[CUE_SPANS_MAX];
} cue_spans;

typedef struct cue_matching {
    cue_set old, now;
    sm_arena *arena;
    uint32_t *by_time, *now_by_time; // old rows, and new ones
    sm_us *original;                 // times of the old rows before any move
    sm_us spans_us[CUE_SPANS_MAX];   // the first is 0
    size_t span_count;
    cue_spans
        *found; // by by_time: CUE_FOUND where the cue is there, moved by that span; 1 where most of it is
    cue_spans *before; // by by_time: on the best way to that span, the span of the cue before
    cue_move *moves;   // those taken, in order
    size_t move_count;
    bool is_greedy; // more was left over than can be tried in every way
} cue_matching;

// How many left over are tried in every way.
enum { CUES_EXACT_MAX = 400 };

extern const char *const compare_part_names[]; // CUE_PARTS
// The number of a column of cues.csv.
size_t compare_cue_column(const char *name);

// The rows of both, numbered; SM_NO_MEMORY.
SM_MUST_CHECK sm_result compare_cues_read(const sm_show *old, const sm_show *now, cue_matching *out);
// Looks for spans by which something moved.
SM_MUST_CHECK sm_result compare_find_moves(cue_matching *matching);
// Looks for more, among the pairs that compare_match found. False: there are none.
bool compare_more_moves(cue_matching *matching);
// Takes every move that lets PRICE / CUE_FOUND cues more be found: sets moves, and time_us and moved_us of the old rows.
void compare_take_moves(cue_matching *matching, int64_t price);
// Finds for each cue the one that it became; forgets what was found before.
SM_MUST_CHECK sm_result compare_match(cue_matching *matching);

// Rows of SET with BODY and, with TIME_US given, that time: the first place in by_body, and how many.
uint32_t compare_body_range(const cue_set *set, uint32_t body, const sm_us *time_us, uint32_t *count);

// ---- the account ---------------------------------------------------------------------

typedef struct account_line {
    const char *kind;      // "move", "cue", "table"; static
    const char *file;      // of a table
    const char *name;      // of a cue its id, of a row its name
    const char *where;     // of a cue: its target
    const char *what;      // column, "added", "dropped"
    const char *was, *now; // as written; NULL: none
    const char *text;      // in words
} account_line;

typedef struct again_line {
    const char *what; // static: "look at the slot"
    const char *key;  // static: of JSON
    const char **things;
    size_t count, capacity;
} again_line;

typedef enum again_kind {
    AGAIN_LOOK,
    AGAIN_MEASURE,
    AGAIN_ADDRESS,
    AGAIN_WALK,
    AGAIN_PRINT,
    AGAIN_HEAR,
    AGAIN_COUNT
} again_kind;

struct sm_compare {
    const sm_show *old, *now;
    sm_arena *arena;
    account_line *lines;
    size_t count, capacity;
    again_line again[AGAIN_COUNT];
    bool is_greedy;
    bool no_memory;
};

// Adds LINE; its text is FORMAT.
void compare_add(sm_compare *compare, account_line line, const char *format, ...) SM_PRINTF(3, 4);
// A copy in the arena.
const char *compare_keep(sm_compare *compare, const char *text);
void compare_again(sm_compare *compare, again_kind kind, const char *thing);

SM_MUST_CHECK sm_result compare_cues(sm_compare *compare);
SM_MUST_CHECK sm_result compare_tables(sm_compare *compare);
SM_MUST_CHECK sm_result compare_consequences(sm_compare *compare);

#endif

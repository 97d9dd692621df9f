// SPDX-License-Identifier: GPL-3.0-or-later
// The walk before the show: items made from the show, its walk.csv and what such lists forget, in walking order; the
// answers given; what is open; the names below it and what makes them void.
// Nothing in here ever says that a show may go on. It says what is open, or that no open hold is recorded.
// All of it is pure but for the functions that read files. One walk belongs to one thread at a time.
#ifndef SLOWMATCH_WALK_H
#define SLOWMATCH_WALK_H

#include "slowmatch/check.h"
#include "slowmatch/engine.h"
#include "slowmatch/progress.h"
#include "slowmatch/rig.h"
#include "slowmatch/show.h"

// Microseconds since 1970-01-01T00:00Z; SM_UNSET_US where not known.
typedef int64_t sm_unix_us;

// ---- content --------------------------------------------------------------------

// SHA-256 (FIPS 180-4) in hexadecimal; "" where there is none.
typedef struct sm_walk_hash {
    char hex[65];
} sm_walk_hash;
sm_walk_hash sm_walk_hash_bytes(const void *bytes, size_t length);
// Of the file PATH, read piece by piece, its bytes counted in PROGRESS (NULL: nobody looks). SM_UNREADABLE (errno); SM_REFUSED: it was left.
SM_MUST_CHECK sm_result sm_walk_hash_file(const char *path, sm_progress *progress, sm_walk_hash *out);
// The same of the music at PATH (NULL: none), which may take minutes: "" where there is no such file.
SM_MUST_CHECK sm_result sm_walk_hash_music(const char *path, sm_progress *progress, sm_walk_hash *out);
bool sm_walk_hash_equal(const sm_walk_hash *a, const sm_walk_hash *b);

// True of a file whose change voids a signature as a change of the show: show.ini, the tables and the music. Readings and the
// user's own items are no such files: their items are hashed one by one.
bool sm_walk_file_counts(const char *name);
// The content is the hash of a line a file, the tables in the order of their schema, the music last. Puts the line of NAME, whose hash is
// HASH ("": there is no such file).
void sm_walk_put_content(sm_text *lines, const char *name, const sm_walk_hash *hash);
// Of every such file of SHOW as it is in the folder now, with MUSIC the music's own (sm_walk_hash_music). SM_UNREADABLE (errno): a file
// that is there cannot be read; SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_walk_content(const sm_show *show, const sm_walk_hash *music, sm_walk_hash *out);

// ---- the order of places -----------------------------------------------------------

typedef struct sm_walk_point {
    double x_m, y_m;
} sm_walk_point;
// Up to this many points every order is tried.
#define SM_WALK_EXACT_MAX 9
// Puts into ORDER (COUNT entries) the points in a short order that begins with START, without a way back: nearest neighbour,
// improved by turning stretches round (2-opt); with few points the shortest there is. *metres gets its length. COUNT at
// least 1. O(n^2) an improvement.
void sm_walk_route(const sm_walk_point *points, uint32_t count, uint32_t start, uint32_t *order,
                   double *metres);

// ---- items ---------------------------------------------------------------------------

typedef enum sm_walk_kind {
    SM_WALK_SITE,     // asked on every site
    SM_WALK_OWN,      // a row of walk.csv
    SM_WALK_SLOTS,    // a rail: what stands at each slot
    SM_WALK_READINGS, // a rail's readings
    SM_WALK_UNIT,     // a fixture: address, aim, cable, cord
    SM_WALK_POWER_OFF,
    SM_WALK_LEAK,
    SM_WALK_HOME,
    SM_WALK_DATA_CABLE,
    SM_WALK_FUEL,
    SM_WALK_DISTANCE
} sm_walk_kind;

typedef struct sm_walk_item {
    const char *id; // what `tick` and answer files call it; one word: "briefing", "slots:A", "distance:barge"
    const char *ask;    // one line
    const char *detail; // more lines, "" where none
    const char *expect; // "yes", "no", or a text
    uint32_t position;  // row of show->positions; SM_NONE: no place
    sm_walk_kind kind;
    uint32_t index; // rail or fixture it is about; SM_NONE
    bool hold;
    bool measured;        // a value is asked for
    sm_quantity quantity; // of that value
    double least;         // it should not be less than this, in that quantity's unit; NAN: no figure
    sm_walk_hash hash;    // of all it rests on
} sm_walk_item;

// The items of a show in walking order: those without a place that come first, then place by place, then fuel,
// place by place, then those that come last.
typedef struct sm_walk_list {
    const sm_show *show; // must outlive it
    sm_walk_item *items;
    uint32_t count;
    uint32_t *route; // rows of show->positions in walking order, the module's place first
    uint32_t route_count;
    double metres;
    sm_walk_hash content; // sm_walk_content; "": not known yet, and whoever learns it puts it in
    sm_walk_hash hash;    // of all items
    sm_verdict *verdicts; // of each slot of the show, by its readings
    sm_arena *arena;
} sm_walk_list;

// The walk begins where the first DMX line begins, else at the first position. MUSIC is the music's hash; NULL: the content is not needed,
// or not known yet, and no file is read. Errors as sm_walk_content; *out unchanged then.
SM_MUST_CHECK sm_result sm_walk_list_create(const sm_show *show, const sm_walk_hash *music,
                                            sm_walk_list **out);
void sm_walk_list_destroy(sm_walk_list *list);
// SM_NONE: no such item.
uint32_t sm_walk_item_find(const sm_walk_list *list, const char *id);

// True where EVENT happens at the place of item ITEM.
bool sm_walk_item_has_event(const sm_walk_list *list, uint32_t item, uint32_t event);
// NULL where the score may be previewed: safe, key off. Otherwise one sentence that refuses it; static.
const char *sm_walk_preview_refusal(sm_state state, bool key);

// ---- what is kept of earlier walks -------------------------------------------------------

typedef enum sm_walk_answer {
    SM_WALK_UNANSWERED,
    SM_WALK_YES,
    SM_WALK_NO,
    SM_WALK_NA,
    SM_WALK_LATER,
    SM_WALK_ANSWER_COUNT
} sm_walk_answer;
const char *sm_walk_answer_text(sm_walk_answer answer); // "", "yes", "no", "na", "later"
SM_MUST_CHECK sm_result sm_walk_answer_read(const char *text, size_t length, sm_walk_answer *out);

// One answer.
typedef struct sm_walk_tick {
    const char *item;
    sm_walk_answer answer;
    const char *value, *note, *by; // "" where not given. BY may name two: "K and M"
    sm_unix_us when_us;
    sm_walk_hash hash; // of the item when it was answered; "": as it is now
} sm_walk_tick;

// One name below a walk.
typedef struct sm_walk_sign {
    const char *who;
    sm_unix_us when_us;
    sm_walk_hash content, items; // of the list at that time
    const char *void_by;         // why it was found void before: it stays so; NULL: it was not
} sm_walk_sign;

// Behind the slot's name: somebody worked there. Readings of its rail that were answered for before are asked again.
#define SM_WALK_REPAIRED " repaired"
// What happened meanwhile that makes a signature void.
typedef struct sm_walk_change {
    const char *what; // "reading of A-05", "K went in", "rail B plugged", "A-05 repaired", "storm"
    sm_unix_us when_us;
} sm_walk_change;

typedef struct sm_walk_past {
    const sm_walk_tick *ticks; // in order of time; the last of an item counts
    size_t tick_count;
    const sm_walk_sign *signs;
    size_t sign_count;
    const sm_walk_change *changes;
    size_t change_count;
} sm_walk_past;

// Takes apart what `tick ITEM` was followed by ("yes 24.5 m behind the crane by K"): answer, the value where ITEM asks for one,
// note, and who from the end of the note. Texts go to ARENA. SM_INVALID: no answer; SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_walk_tick_read(const sm_walk_item *item, const char *text, sm_arena *arena,
                                          sm_walk_tick *out);
// What a row of a rehearsal's log says to a walk.
typedef enum sm_walk_said_kind {
    SM_WALK_SAID_NOTHING,
    SM_WALK_SAID_TICK,
    SM_WALK_SAID_UNTICK, // the last answer of that rehearsal is taken back
    SM_WALK_SAID_SIGN,
    SM_WALK_SAID_CHANGE
} sm_walk_said_kind;
typedef struct sm_walk_said {
    sm_walk_said_kind kind;
    sm_walk_tick tick;
    sm_walk_sign sign;
    sm_walk_change change;
} sm_walk_said;
// Reads the row KIND, TARGET, DETAIL of WHEN_US against LIST as it was then; its show need no longer be there. WIND_LIMIT_M_S is
// NAN where not set. Texts go to ARENA. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_walk_row_read(const sm_walk_list *list, double wind_limit_m_s, sm_log_kind kind,
                                         const char *target, const char *detail, sm_unix_us when_us,
                                         sm_arena *arena, sm_walk_said *out);
// Reads a table of answers (item, answer, value, note, by, when) from LENGTH bytes at TEXT. Findings with FILE as their file.
// *out lies in ARENA. SM_INVALID: findings at error level; SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_walk_ticks_read(const sm_walk_list *list, const char *file, const char *text,
                                           size_t length, sm_findings *findings, sm_arena *arena,
                                           sm_walk_tick **out, size_t *count);
// "2026-07-04T20:15", with seconds and "Z" or "+02:00" or neither (local time). SM_INVALID otherwise.
SM_MUST_CHECK sm_result sm_walk_when_read(const char *text, size_t length, sm_unix_us *out);
// "2026-07-04 20:15" in local time; "" for SM_UNSET_US. Returns BUFFER.
char *sm_walk_when_format(char buffer[24], sm_unix_us when_us);

// ---- the walk ------------------------------------------------------------------------------

// How an item stands.
typedef struct sm_walk_standing {
    sm_walk_tick tick; // the last answer; UNANSWERED where none
    bool changed;      // what it rests on changed since: asked again
    bool open;         // not answered as expected
    const char *why;   // of an open one: "not answered", "answered no", "measured 20 m, less than 21.3 m" ...
    const char *first, *last; // of a `na` on a hold: the two names; "" otherwise
} sm_walk_standing;

// What a signature came to.
typedef struct sm_walk_name {
    sm_walk_sign sign;
    const char *void_by; // NULL: it stands; else why not
    bool waits;          // not void so far, but the list's content is not known yet: it does not count
} sm_walk_name;

// What this part cannot know by itself.
typedef struct sm_walk_facts {
    sm_unix_us now_us;
    const sm_findings *findings; // of the check; errors count. NULL: not checked
    const sm_verdict *verdicts;  // of each slot as it is known now; NULL: by the show's readings
    const sm_unix_us
        *read_us; // when each slot was read since the show was loaded, SM_UNSET_US: not; NULL: none was
    const char *const *waivers; // "readings, by K: B-02 broken lead"
    size_t waiver_count;
    bool wind_known;
    double wind_m_s;
    bool storm;
} sm_walk_facts;

typedef struct sm_walk {
    const sm_walk_list *list;
    sm_walk_standing *standings; // list->count
    const char **reasons;        // why it is NO-GO, in order: holds, readings, check, weather
    size_t reason_count;
    const char *
        *notes; // listed, without being a reason: waivers, na on holds, items left open without a hold
    size_t note_count;
    sm_walk_name *names;
    size_t name_count;
    uint32_t signed_by; // different people whose names stand
    sm_arena *arena;
} sm_walk;

// Judges LIST with what is known. The list, the past and the facts' texts must outlive it. SM_NO_MEMORY: *out unchanged.
SM_MUST_CHECK sm_result sm_walk_create(const sm_walk_list *list, const sm_walk_past *past,
                                       const sm_walk_facts *facts, sm_walk **out);
void sm_walk_destroy(sm_walk *walk);

#define SM_WALK_NAMES_NEEDED 2
// After this long a signature is void.
#define SM_WALK_SIGN_LASTS_US (INT64_C(4) * 3600 * SM_US_PER_S)
// What is said where there is no reason.
#define SM_WALK_NOTHING_OPEN                                                                                 \
    "No open hold is recorded. The decision belongs to the crew lead and the licensed operator."

// For paper: the whole list in walking order with room to write.
void sm_walk_print(sm_text *out, const sm_walk *walk);
// What is open, the notes, the names, and NO-GO with its reasons or SM_WALK_NOTHING_OPEN.
void sm_walk_print_state(sm_text *out, const sm_walk *walk);
// One object a line: items, reasons, notes, names, then the summary.
void sm_walk_print_json(sm_text *out, const sm_walk *walk);

#endif

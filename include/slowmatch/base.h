// SPDX-License-Identifier: GPL-3.0-or-later
// What every part stands on: results, memory, text, time, measures, findings.
#ifndef SLOWMATCH_BASE_H
#define SLOWMATCH_BASE_H

#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#if defined(__GNUC__)
#define SM_MUST_CHECK __attribute__((warn_unused_result))
#define SM_PRINTF(format_at, args_at) __attribute__((format(printf, format_at, args_at)))
#else
#define SM_MUST_CHECK
#define SM_PRINTF(format_at, args_at)
#endif

// ---- results ---------------------------------------------------------------

// What a function that can fail returns. On anything but SM_OK its outputs are unchanged.
typedef enum sm_result {
    SM_OK,
    SM_NO_MEMORY,    // an allocation failed
    SM_UNREADABLE,   // a file could not be opened, read or written; errno tells
    SM_INVALID,      // the input is wrong; the findings list says how
    SM_OUT_OF_RANGE, // a value outside the documented range
    SM_NOT_FOUND,    // no such name
    SM_REFUSED,      // allowed by form, not in this state
    SM_RESULT_COUNT
} sm_result;

// A short English text for RESULT; never NULL, static.
const char *sm_result_text(sm_result result);

// ---- work that is done by several ---------------------------------------------

// Piece INDEX of some work.
typedef void sm_piece(void *context, size_t index);
// Does PIECE for each index below COUNT, in any order and several at a time, and returns when all are done. Pure parts know no thread:
// whoever calls them may lend them hands (sm_workers, slowmatch/workers.h).
typedef void sm_together(sm_piece *piece, void *context, size_t count);

// ---- time ------------------------------------------------------------------

// A span or difference in microseconds.
typedef int64_t sm_us;

// A moment of the show (0 is its beginning, negative during the countdown).
typedef struct sm_show_time {
    sm_us us;
} sm_show_time;

// A moment on the rehearsal's own clock (0 is the launch of the rehearsal).
typedef struct sm_wall_time {
    sm_us us;
} sm_wall_time;

#define SM_US_PER_S INT64_C(1000000)
// Moments and spans the program reads lie within +/- this (about 11 years), so that sums never overflow.
#define SM_US_MAX INT64_C(360000000000000)
// No moment, no span.
#define SM_UNSET_US INT64_MIN

// ---- memory ----------------------------------------------------------------

// An arena owns everything put in it and frees it whole. Not thread-safe.
typedef struct sm_arena sm_arena;

// Returns NULL when memory runs out. The caller destroys it.
sm_arena *sm_arena_create(void);
void sm_arena_destroy(sm_arena *arena);

// SIZE bytes (at least 1), zeroed, aligned for any type; NULL when memory runs out.
void *sm_arena_alloc(sm_arena *arena, size_t size);

// A NUL-terminated copy of LENGTH bytes of TEXT; NULL when memory runs out.
char *sm_arena_text(sm_arena *arena, const char *text, size_t length);

// Grows (or makes, from OLD NULL) a block that this arena owns by itself, to SIZE bytes. New bytes are NOT
// zeroed. Returns the block at its new place, the old pointer is dead; NULL when memory runs out: the old
// block is unchanged then. Meant for the few big arrays of a show: it moves pages instead of copying.
void *sm_arena_resize(sm_arena *arena, void *old, size_t size);

// A list that grows row by row: ARRAY (NULL while it is empty) with room for one row of SIZE bytes more than COUNT, perhaps at a new
// place. The room doubles at counts that are powers of two, so that nobody need remember it. NULL when memory runs out: the array is as
// it was. The first is freed by free(), the second belongs to ARENA.
void *sm_array_grow(void *array, size_t count, size_t size);
void *sm_arena_grow(sm_arena *arena, void *array, size_t count, size_t size);

// Gives back what OLD (from sm_arena_resize; may be NULL) has beyond SIZE bytes where that is whole pages. It
// stays where it is, and can be grown again.
void sm_arena_trim(sm_arena *arena, void *old, size_t size);

// Bytes that the arena holds from the system, for memory reports.
size_t sm_arena_bytes(const sm_arena *arena);

// Makes the allocation numbered N (1 is the next) of this arena and all after it fail; 0 turns it off.
// For tests that fail each allocation in turn.
void sm_arena_fail_at(sm_arena *arena, size_t n);

// ---- text ------------------------------------------------------------------

// A growing text. {0} is a valid empty one. After a failed append `failed` is true and the text is cut at
// the last whole append. deinit frees it.
typedef struct sm_text {
    char *bytes; // NUL-terminated once anything was appended, else NULL
    size_t length, capacity;
    bool failed, lent; // lent: the bytes are somebody else's
} sm_text;

// An empty text that begins in ROOM, an array of char that begins with a NUL and outlives it: what fits in needs no memory.
#define SM_TEXT_IN(room)                                                                                     \
    { .bytes = (room), .capacity = sizeof(room), .lent = true }

void sm_text_deinit(sm_text *text);
// Makes TEXT empty, keeps its memory, forgets a failure.
void sm_text_clear(sm_text *text);
// Room for LENGTH more bytes, so that appending as much cannot fail.
void sm_text_reserve(sm_text *text, size_t length);
void sm_text_append(sm_text *text, const char *bytes, size_t length);
void sm_text_printf(sm_text *text, const char *format, ...) SM_PRINTF(2, 3);
void sm_text_vprintf(sm_text *text, const char *format, va_list args) SM_PRINTF(2, 0);
// The text's bytes, "" while empty.
const char *sm_text_get(const sm_text *text);

// How many of the LENGTH bytes at TEXT (one line) go on a row of COLUMNS characters, from 1 on: broken at a blank, inside a word only
// where no blank comes before. *next is where the row after it begins, LENGTH: there is none.
size_t sm_text_break(const char *text, size_t length, size_t columns, size_t *next);
// Appends LINES, each ended by a newline, in rows of at most COLUMNS (at least 20) characters; rows after the first of a line are
// indented by four more than it.
void sm_text_append_wrapped(sm_text *out, const char *lines, size_t columns);

// Appends one CSV field: quoted by RFC 4180 when it holds a comma, quote, CR or LF, or a blank at an end.
void sm_text_append_csv(sm_text *text, const char *field);
// The same for tables that people open in a spreadsheet: an apostrophe goes before text that one would run as a formula ('=', '+', '-'
// or '@' first), so that it stays text. Plain numbers and moments ("-5", "-1:02.5") are left as they are. What is not harmless is made so, newlines and
// tabs stay.
void sm_text_append_csv_shown(sm_text *text, const char *field);
// How many of the LENGTH bytes of a field so written are not the text's own: that apostrophe, or none.
size_t sm_csv_guard(const char *field, size_t length);
// Appends TEXT as a JSON string with its quotes (RFC 8259 section 7); bytes that are no UTF-8 become U+FFFD.
void sm_text_append_json(sm_text *text, const char *string);

// Length in bytes of the valid UTF-8 character at TEXT (of LENGTH left), 0 if it is none (RFC 3629).
size_t sm_utf8_length(const char *text, size_t length);
// The number of the valid character that the LENGTH (1 to 4) bytes at TEXT are.
uint32_t sm_utf8_number(const char *text, size_t length);
// The same, and 0 too for what a terminal or a reader would take for more than a character: C0 (newline and tab among them), DEL and C1
// controls, line separators, and the marks that turn the direction of text (U+202A to U+202E, U+2066 to U+2069).
size_t sm_utf8_harmless(const char *text, size_t length);
// How many of the LENGTH bytes come before the first that is not harmless; those in KEPT ("\n") are taken as such.
size_t sm_text_harmless(const char *bytes, size_t length, const char *kept);
// Appends the LENGTH bytes made harmless: what is not, and not in KEPT, is written as \xHH or \uHHHH, what is no UTF-8 as U+FFFD. All
// that goes to a terminal beside the screen, and into tables for people, goes through this.
void sm_text_append_shown(sm_text *out, const char *bytes, size_t length, const char *kept);
// Puts a blank in place of each byte that is of no harmless character.
void sm_text_blank_harm(char *bytes, size_t length);
// Characters (code points) in the first LENGTH bytes; an invalid byte counts as one.
size_t sm_utf8_count(const char *bytes, size_t length);
// The same person, however the name was typed: case and blanks do not count. UTF-8.
bool sm_person_same(const char *a, const char *b);

// The candidate nearest to WORD by Damerau-Levenshtein distance (adjacent swaps count one), case ignored;
// NULL if none is near enough to suggest (more than a third of the longer word's letters, at least 1,
// differ). The first of equals. Names over 63 bytes are not compared. Costs a walk over all candidates: do
// not ask once a row.
typedef const char *(*sm_name_at)(const void *context, size_t index);
const char *sm_nearest_name(const char *word, size_t count, sm_name_at name_at, const void *context);

// Opens the plain file PATH (or a link to one) to be read, and never waits for it; -1: errno, EMEDIUMTYPE where it is a pipe, a socket or
// a device, any of which might never end. What the program was handed as /dev/fd/N or /dev/stdin is taken whatever it is. Every file of
// a user is opened here.
int sm_file_open(const char *path);
// What sm_file_open says where there is no such file: nothing by that name, or nothing that is a file.
bool sm_file_is_none(int error);
// ERROR of sm_file_open, or of the system, as people are told it: strerror's words, but for what is no plain file.
const char *sm_file_why(int error);
// Reads the whole file PATH, as sm_file_open takes it, into *bytes (NUL-terminated, caller frees). SM_UNREADABLE (errno) or
// SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_file_read(const char *path, char **bytes, size_t *length);

// ---- measures --------------------------------------------------------------
// Every reader takes the LENGTH bytes at TEXT, gives *out only on SM_OK, and returns SM_INVALID for text that
// is not such a measure. Numbers are decimal ("1", "-0.5", ".5"), point as decimal mark, no exponent. A
// blank between number and unit is optional. A bare number takes the unit BARE names.

typedef enum sm_quantity {
    SM_QUANTITY_NUMBER,       // no unit
    SM_QUANTITY_LENGTH,       // m, ft, mm, in -> metres
    SM_QUANTITY_CALIBRE,      // m, ft, mm, in -> metres, bare number mm
    SM_QUANTITY_VOLTAGE,      // V -> volts
    SM_QUANTITY_CURRENT,      // A, mA -> amperes
    SM_QUANTITY_TEST_CURRENT, // A, mA -> amperes, bare number mA
    SM_QUANTITY_RESISTANCE,   // ohm, kohm -> ohms
    SM_QUANTITY_CAPACITANCE,  // uF, mF, F -> farads, bare number uF
    SM_QUANTITY_IMPULSE,      // mJ/ohm -> mJ/ohm
    SM_QUANTITY_POWER,        // W -> watts
    SM_QUANTITY_VOLUME,       // ml -> millilitres
    SM_QUANTITY_FUEL,         // ml -> millilitres; g -> grams, of a gas
    SM_QUANTITY_GAS,          // g -> grams
    SM_QUANTITY_FLOW,         // ml/s -> millilitres a second; g/s -> grams a second, of a gas
    SM_QUANTITY_FREQUENCY,    // Hz -> hertz
    SM_QUANTITY_APPARENT,     // VA -> volt-amperes
    SM_QUANTITY_SPEED,        // m/s, km/h, mph, kn -> metres a second
    SM_QUANTITY_TEMPERATURE,  // C, F -> degrees Celsius
    SM_QUANTITY_PERCENT,      // % -> per cent (2 % is 2.0)
    SM_QUANTITY_COUNT
} sm_quantity;

// Reads a measure of QUANTITY in its SI-like unit (above).
SM_MUST_CHECK sm_result sm_measure_read(sm_quantity quantity, const char *text, size_t length, double *out);
// The units of QUANTITY as words for a message ("m, ft, mm or in"); static.
const char *sm_quantity_units(sm_quantity quantity);

// A span: "5 s", "40 ms", "2 min", bare number in BARE_US units (1000000 for s, 1000 for ms, 60000000 for
// min). Rounds to the nearest microsecond. Negative spans are SM_INVALID; above SM_US_MAX is SM_OUT_OF_RANGE.
SM_MUST_CHECK sm_result sm_span_read(const char *text, size_t length, sm_us bare_us, sm_us *out);

// A decimal whole number within INT32; SM_INVALID otherwise.
SM_MUST_CHECK sm_result sm_integer_read(const char *text, size_t length, int32_t *out);

// A conductor. `ohms factor` multiplies copper's resistance: 1 for copper, 1/0.21 for 21 % copper-clad steel.
typedef struct sm_gauge {
    double area_mm2;
    double factor;
    bool is_awg;
    int8_t awg;    // 0, -1, -2, -3 for 1/0 ... 4/0; only where is_awg
    char text[22]; // as written, for printing ("22 AWG ccs21")
} sm_gauge;

// Area of AWG N in mm2: pi/4 (0.127 mm x 92^((36-n)/39))^2 (ASTM B258). N from -3 (4/0) to 50.
double sm_awg_area_mm2(int n);
// "22 AWG", "4/0 AWG", "1.5 mm2", then optionally " ccs21", " ccs30", " ccs40" or " x1.61". A bare number is
// SM_INVALID, and so is a text of more than 21 bytes; SM_OUT_OF_RANGE: over 50 AWG, or an area or factor of
// 0.
SM_MUST_CHECK sm_result sm_gauge_read(const char *text, size_t length, sm_gauge *out);

// ---- timecode and moments ----------------------------------------------------

// Frames a second of the timecode of a show.
typedef enum sm_timecode_rate { SM_TC_24, SM_TC_25, SM_TC_29_97, SM_TC_30, SM_TC_COUNT } sm_timecode_rate;

// What comes in of a timecode that is listened to.
typedef enum sm_timecode_state {
    SM_TIMECODE_OFF,          // nobody listens
    SM_TIMECODE_WAITING,      // nothing that could be believed has come yet
    SM_TIMECODE_LOCKED,       // it is read
    SM_TIMECODE_FREE_RUNNING, // a short gap: it is taken to go on as it went
    SM_TIMECODE_LOST,         // the gap was too long
    SM_TIMECODE_STATE_COUNT
} sm_timecode_state;
// "off", "WAITING", "LOCKED", "FREE-RUNNING", "LOST"; static.
const char *sm_timecode_state_text(sm_timecode_state state);
// "24", "25", "29.97", "30"; static.
const char *sm_timecode_rate_text(sm_timecode_rate rate);
// Frame numbers of a second: 24, 25, 30, 30.
int sm_timecode_numbers(sm_timecode_rate rate);

// Frames since 00:00:00:00 for HH MM SS FF. DROP only at SM_TC_29_97. SM_INVALID for a number that does not
// exist (frame 00 and 01 of a dropped minute, frame over the rate...). SMPTE ST 12-1.
SM_MUST_CHECK sm_result sm_timecode_to_frames(sm_timecode_rate rate, bool drop, int hours, int minutes,
                                              int seconds, int frames, int64_t *out);
// The reverse, wrapping at 24 h; FRAMES may be negative.
void sm_timecode_from_frames(sm_timecode_rate rate, bool drop, int64_t frames, int *hours, int *minutes,
                             int *seconds, int *frame);
// Exact microseconds of FRAMES frames, to the nearest; kept within +/- SM_US_MAX.
sm_us sm_timecode_frames_us(sm_timecode_rate rate, int64_t frames);
// The frame that begins nearest to US (within +/- SM_US_MAX), the later of equals.
int64_t sm_timecode_nearest_frame(sm_timecode_rate rate, sm_us us);

// "HH:MM:SS:FF", or "HH:MM:SS;FF" for drop-frame, two digits each: the start of a show. SM_INVALID otherwise.
SM_MUST_CHECK sm_result sm_timecode_read(const char *text, size_t length, sm_timecode_rate rate, bool *drop,
                                         int64_t *frames);

// What a moment's text is read against.
typedef struct sm_moment_base {
    sm_timecode_rate rate;
    bool drop;            // the start was written with ';'
    int64_t start_frames; // timecode at show time 0
} sm_moment_base;

// "S.mmm", "M:SS.mmm", "H:MM:SS.mmm" (none to six decimals, "-" in front allowed) or "HH:MM:SS:FF" /
// "HH:MM:SS;FF". SS and MM after another field have two digits and lie below 60. Frames round to the nearest
// microsecond from the start, and are negative before it. SM_INVALID for another form, for a timecode that
// does not exist, and for ';' against a start with ':' or the reverse (the counts do not compare);
// SM_OUT_OF_RANGE beyond +/- SM_US_MAX.
SM_MUST_CHECK sm_result sm_moment_read(const char *text, size_t length, const sm_moment_base *base,
                                       sm_us *out);

// US in the notation of LIKE, a moment that can be read: fields, width of the first and decimals as there, more decimals only where US
// needs them. A timecode is of the frame nearest to US. SM_INVALID: LIKE is no moment; SM_OUT_OF_RANGE: US is too far, or a timecode of
// another day; BUFFER is unchanged then.
SM_MUST_CHECK sm_result sm_moment_write_like(const char *like, size_t length, const sm_moment_base *base,
                                             sm_us us, char buffer[32]);

// US as seconds with six decimals ("-5.000000"): the log's form. Returns BUFFER (at least 24 bytes).
char *sm_us_format(char buffer[24], sm_us us);
// US as "M:SS.mmm" or "H:MM:SS.mmm" (rounded down): the screens' form. Returns BUFFER (at least 24 bytes).
char *sm_clock_format(char buffer[24], sm_us us);

// ---- findings ----------------------------------------------------------------

typedef enum sm_severity { SM_ERROR, SM_WARNING, SM_NOTE, SM_SEVERITY_COUNT } sm_severity;

// "error", "warning", "note".
const char *sm_severity_text(sm_severity severity);

typedef struct sm_finding {
    const char *file; // relative to the show's folder (or as given, for other files)
    uint32_t line;    // of the record's first line, from 1; 0: about the file as a whole
    uint32_t column;  // of the cell's first character, in characters, from 1; 0: the line as a whole
    sm_severity severity;
    const char *rule; // static
    const char *message;
    double value, limit; // what was found and what would be right, in `unit`; NAN where there is none
    const char *unit;    // "" where there is none; static
    // Static: findings of one rule and file that have it are one mistake, whatever their words. NULL: the words decide.
    const char *same;
} sm_finding;

// A list of findings that owns its texts. Create with sm_findings_create.
typedef struct sm_findings sm_findings;

sm_findings *sm_findings_create(void);
void sm_findings_destroy(sm_findings *findings);
// Adds a finding without figures; RULE must be static, FILE is copied. Running out of memory is remembered:
// sm_findings_failed() tells, and sm_findings_count_of still counts the finding that could not be kept.
void sm_findings_add(sm_findings *findings, const char *file, uint32_t line, uint32_t column,
                     sm_severity severity, const char *rule, const char *format, ...) SM_PRINTF(7, 8);
// Adds a copy of FINDING, figures included.
void sm_findings_put(sm_findings *findings, const sm_finding *finding);
// Findings kept: the indices that sm_findings_at takes.
size_t sm_findings_count(const sm_findings *findings);
size_t sm_findings_count_of(const sm_findings *findings, sm_severity severity);
// Valid until the next change of the list; NULL from the count on.
const sm_finding *sm_findings_at(const sm_findings *findings, size_t index);
bool sm_findings_failed(const sm_findings *findings);
// Sorts by file, line, column, in order of adding where equal.
void sm_findings_sort(sm_findings *findings);
// Gives finding INDEX the words MESSAGE, which are copied.
void sm_findings_retell(sm_findings *findings, size_t index, const char *message);
// Leaves out those of which IS_DROPPED (one of each) is true.
void sm_findings_drop(sm_findings *findings, const bool *is_dropped);
// Makes one finding of those, from number FROM on, that are one mistake in more than three places of one file: the first, which
// then tells how many there are and where the first three stand. Where memory runs out all are left.
void sm_findings_fold(sm_findings *findings, size_t from);
// "FOLDER/file:line:column: severity: message [rule]" appended without a newline; FOLDER NULL leaves it out;
// line and column only where not 0. Control characters print as \xHH and bytes that are no UTF-8 as U+FFFD,
// so that it is one line and moves no cursor whatever a cell held. A FILE that begins with "/" stands without
// the folder.
void sm_finding_format(sm_text *out, const char *folder, const sm_finding *finding);

#endif

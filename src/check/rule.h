// SPDX-License-Identifier: GPL-3.0-or-later
// What a rule sees, and how it reports.
//
// A rule runs over the show and puts findings: a place (file, record, column's name), figures, a message. Where the
// place's cell begins, and which units its file uses, is only known once the file is looked at again, and that is done
// in one pass a file after all rules have run. So a message does not print lengths, moments and the like by itself: it
// holds figures (sm_figure), which are put in the file's own units at the end.
#ifndef SLOWMATCH_CHECK_RULE_H
#define SLOWMATCH_CHECK_RULE_H

#include "slowmatch/check.h"

// What must be there for a rule to have anything to judge.
enum {
    CHECK_NEEDS_CUES = 1 << 0,
    CHECK_NEEDS_FIRINGS = 1 << 1,
    CHECK_NEEDS_MODULES = 1 << 2,
    CHECK_NEEDS_RAILS = 1 << 3,
    CHECK_NEEDS_FIXTURES = 1 << 4,
    CHECK_NEEDS_FEEDS = 1 << 5,
    CHECK_NEEDS_LINES = 1 << 6,
    CHECK_NEEDS_POSITIONS = 1 << 7,
    CHECK_NEEDS_AUDIO = 1 << 8 // somebody has looked for the audio
};
// Beside them: findings of the rule at one row are not of its several targets, and each is told.
enum { CHECK_TELLS_EACH = 1 << 16 };

// A figure within a message, in the unit of its kind, put in the file's units later.
typedef enum figure_kind {
    FIGURE_PLAIN = 0,
    FIGURE_FOUND = 'l',  // a length in metres, as found: rounded down
    FIGURE_NEEDED = 'L', // a length in metres, as needed: rounded up
    FIGURE_MOMENT = 't', // a moment in microseconds
    FIGURE_SPAN = 's',   // a span in microseconds
    FIGURE_AMPS = 'a'
} figure_kind;
typedef struct sm_figure {
    char text[40];
} sm_figure;
sm_figure check_figure(figure_kind kind, double value);
#define FOUND_M(metres) check_figure(FIGURE_FOUND, metres).text
#define NEEDED_M(metres) check_figure(FIGURE_NEEDED, metres).text
#define MOMENT(us) check_figure(FIGURE_MOMENT, (double)(us)).text
#define SPAN(us) check_figure(FIGURE_SPAN, (double)(us)).text
#define AMPS(amps) check_figure(FIGURE_AMPS, amps).text

// Where a finding stands. `column` is the column's name (or the key of show.ini), NULL for the record as a whole.
typedef struct check_place {
    const char *file;
    uint32_t line;
    const char *column;
} check_place;
// At a cue of the show.
struct sm_check;
check_place check_at_cue(const struct sm_check *check, uint32_t cue, const char *column);
check_place check_at_event(const struct sm_check *check, uint32_t event, const char *column);

// The figures of a finding: what was found, what would be right. `kind` other than FIGURE_PLAIN puts them in the file's
// units too, and `unit` is then not used.
typedef struct check_figures {
    figure_kind kind;
    double value, limit;
    const char *unit;
} check_figures;

typedef struct check_pending {
    check_place place;
    const sm_check_rule *rule;
    sm_severity severity;
    check_figures figures;
    const char *message; // with figures still to be put in units
    uint32_t column;     // of the cell
    size_t ordinal;
} check_pending;

// ---- flame, as rules_fixture_times.c finds it -----------------------------

// A channel of a flame unit within its range, without a break of level's doing; EVENT told it so.
typedef struct check_span {
    sm_us begin_us, end_us;
    uint32_t event;
} check_span;
typedef struct check_spans {
    check_span *spans; // in order of time, never overlapping; neighbours may touch
    size_t count;
} check_spans;
typedef struct check_flame {
    uint32_t fixture;
    sm_us two_periods_us; // two refreshes of the sender
    check_spans enable, fire;
} check_flame;

// The context of a run. Owned by sm_check_run.
typedef struct sm_check {
    const sm_show *show;
    sm_check_options options;
    const sm_check_rule *(*find_rule)(
        const char *id); // the table calls the rules, so rules are handed the way to it
    sm_arena *arena;     // of the messages, and what rules allocate for the run
    check_pending *pending;
    size_t pending_count;
    const size_t
        *moment; // where rules are not alone: what they put is put in the order of this. NULL: as it comes
    bool no_memory;
    check_flame *flames; // made by check_follow_fixtures, one a flame fixture
    uint32_t flame_count;
    bool enables_judged;        // cues.csv was read whole: what opens and closes an enable is known
    uint32_t enables_held_back; // findings that are none for that
} sm_check;

// Puts a finding of RULE with the severity of its row.
void check_put(sm_check *check, const char *rule, check_place place, check_figures figures,
               const char *format, ...) SM_PRINTF(5, 6);
// With a severity of its own.
void check_put_as(sm_check *check, sm_severity severity, const char *rule, check_place place,
                  check_figures figures, const char *format, ...) SM_PRINTF(6, 7);
// No figures.
check_figures check_no_figures(void);

// Puts what COUNT runs beside one another have put (at most CHECK_STRANDS), by their moments, which no two of them share.
enum { CHECK_STRANDS = 4 };
void check_join(sm_check *check, const sm_check *strands, size_t count);

// Loading found errors in FILE, so that rows may be left out.
bool check_is_incomplete(const sm_check *check, const char *file);

// Puts all pending findings, placed and in units, into FINDINGS.
SM_MUST_CHECK sm_result check_place_pending(sm_check *check, sm_findings *findings);

// Walks all fixture events once, in order of due time: puts `two-at-once` and `too-brief`, and notes the spans of
// flame (check->flames). With QUIET only the spans.
SM_MUST_CHECK sm_result check_follow_fixtures(sm_check *check, bool quiet);
// Frees what that made.
void check_free_flames(sm_check *check);
// Spans of fire that are within spans of enable: what really burns. Touching spans are joined. Allocates OUT.
SM_MUST_CHECK sm_result check_burning(const check_flame *flame, check_spans *out);
SM_MUST_CHECK sm_result check_spans_add(check_spans *spans, check_span span);

// ---- the ground, between rules_ground.c and sides.c ----------------------------------------

// An effect with a zone, as it is fired from a rail; POSITION is the rail's, or SM_NONE.
typedef struct check_fired {
    uint32_t position, effect, rail;
} check_fired;
// Each firing's, by position, effect and rail; in the run's arena.
SM_MUST_CHECK sm_result check_collect_fired(sm_check *check, check_fired **out, size_t *count);
// Puts what is short of the positions that hold something. FIRED as collected.
void check_sides(sm_check *check, const check_fired *fired, size_t count);
// Puts `particles-near` of FIRED, FOUND_M from TO.
void check_put_particles(sm_check *check, const check_fired *fired, check_place place, double found_m,
                         const char *to);
// Puts `clear-short` of a flame unit for positions that hold people.
void check_clear_of_people(sm_check *check, const sm_fixture *fixture, double clear_m);

// ---- the functions of the table, by family -------------------------------------------
sm_result check_time(sm_check *check);
sm_result check_audio(sm_check *check);
sm_result check_expect(sm_check *check);
sm_result check_lead(sm_check *check);
sm_result check_slot_reuse(sm_check *check);
sm_result check_rails(sm_check *check);
sm_result check_firing_times(sm_check *check);
sm_result check_current(sm_check *check);
sm_result check_charge(sm_check *check);
sm_result check_test_current(sm_check *check);
sm_result check_cable(sm_check *check);
sm_result check_addresses(sm_check *check);
sm_result check_fixture_times(sm_check *check);
sm_result check_lines(sm_check *check);
sm_result check_line_members(sm_check *check);
sm_result check_flame_times(sm_check *check);
sm_result check_flame_clear(sm_check *check);
sm_result check_feeds(sm_check *check);
sm_result check_feed_missing(sm_check *check);
sm_result check_effect_facts(sm_check *check);
sm_result check_distances(sm_check *check);
sm_result check_unplaced(sm_check *check);
sm_result check_flame_product(sm_check *check);
sm_result check_crew(sm_check *check);
sm_result check_waits(sm_check *check);
sm_result check_hazard_marks(sm_check *check);
sm_result check_wire(sm_check *check);
sm_result check_address_order(sm_check *check);
sm_result check_holds_off(sm_check *check);

// The rules that the reading of the files applies (loader.c).
extern const sm_check_rule check_loader_rules[];
extern const size_t check_loader_rule_count;

#endif

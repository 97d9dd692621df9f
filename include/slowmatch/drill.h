// SPDX-License-Identifier: GPL-3.0-or-later
// Training drills: a rehearsal in which things go wrong on purpose, what the trainee is expected to do, marks and a debrief.
// A drill and a run belong to one thread at a time. Deterministic: the same show, drill, seed and actions give the same run.
#ifndef SLOWMATCH_DRILL_H
#define SLOWMATCH_DRILL_H

#include "slowmatch/inject.h"

// ---- a drill, read from its file ------------------------------------------------------

typedef enum sm_drill_hints { SM_HINTS_FULL, SM_HINTS_ASKED, SM_HINTS_NONE, SM_HINTS_COUNT } sm_drill_hints;
const char *sm_drill_hints_text(sm_drill_hints hints); // "full", "asked", "none"

// Whose work the trainee does: the lead has the key, arms and starts; the spotter is the eyes, calls clear and hold, and never has the key:
// the lead's part is then worked by the drill.
typedef enum sm_drill_seat { SM_SEAT_LEAD, SM_SEAT_SPOTTER, SM_SEAT_COUNT } sm_drill_seat;
const char *sm_drill_seat_text(sm_drill_seat seat); // "lead", "spotter"
// False: there is no such seat.
bool sm_drill_seat_named(const char *name, sm_drill_seat *out);
// The seats in which a section of the file holds. In the order of sm_drill_seat.
typedef enum sm_drill_for { SM_FOR_LEAD, SM_FOR_SPOTTER, SM_FOR_BOTH } sm_drill_for;

typedef enum sm_drill_on {
    SM_ON_NOTHING, // of `ends` that is not given
    SM_ON_BEGIN,
    SM_ON_MOMENT,
    SM_ON_ACTION,
    SM_ON_STATE, // its first entry
    SM_ON_EVENT,
    SM_ON_EXPECT // when met
} sm_drill_on;

// A moment of the run: something, then a delay in wall time drawn from least to most.
typedef struct sm_drill_when {
    sm_drill_on on;
    sm_show_time moment;
    sm_action action; // read partly
    sm_state state;
    uint32_t index; // of the event or expectation
    sm_us least_us, most_us;
} sm_drill_when;

typedef struct sm_drill_event {
    const char *name;
    sm_drill_when when;
    sm_injection injection;
    sm_drill_for seat;
    uint32_t line;
} sm_drill_event;

typedef struct sm_drill_expect {
    const char *name;
    sm_drill_when after;
    sm_action action; // read partly
    sm_us within_us;
    int32_t marks;
    bool late_none; // late earns nothing
    const char
        *words; // of an answer or a note: what has to be said, "": nobody but an instructor can judge it
    const char *hint, *say;
    sm_drill_for seat;
    uint32_t line;
} sm_drill_expect;

typedef struct sm_drill_never {
    const char *name;
    sm_action action;
    uint8_t states; // bit 1 << sm_state
    int32_t marks;
    const char *say;
    sm_drill_for seat;
    uint32_t line;
} sm_drill_never;

typedef struct sm_drill_before {
    const char *name;
    sm_action action;
    const sm_action *needs;
    uint32_t need_count;
    int32_t marks;
    const char *say;
    sm_drill_for seat;
    uint32_t line;
} sm_drill_before;

typedef struct sm_drill_spoken {
    const char *name;
    sm_drill_when after;
    const char *words, *say;
    int32_t marks;
    sm_drill_for seat;
    uint32_t line;
} sm_drill_spoken;

// What the lead does in the spotter's drill, each time that AFTER comes, unless a stop comes first.
typedef struct sm_drill_lead {
    const char *name;
    sm_drill_when after;
    bool acts; // else it only says something
    sm_action action;
    const char *says; // "": nothing
    bool blind;       // a planted error: done whatever the clear and the field say
    uint32_t line;
} sm_drill_lead;

#define SM_DRILL_BRIEFS 9
// Days after which a drill is due again where nothing is said of it: a yearly refresher, common practice, no source.
#define SM_DRILL_AGAIN "365"
typedef struct sm_drill {
    const sm_show *show;
    const char *name; // of the file, without .ini
    const char *title;
    sm_drill_seat seat;        // that is taken
    const char *const *briefs; // of that seat
    uint32_t brief_count;
    const char
        *told[SM_SEAT_COUNT][SM_DRILL_BRIEFS]; // of each seat; NULL or "" from the first that is not given on
    const char *const *answers;                // who must answer before clear is called
    uint32_t answer_count;
    int32_t pass, seed, again_days; // 0: never due again
    sm_drill_hints hints;
    sm_drill_when ends;
    sm_drill_event *events; // from here on: of the seat that is taken
    sm_drill_expect *expects;
    sm_drill_never *nevers;
    sm_drill_before *befores;
    sm_drill_spoken *spokens;
    sm_drill_lead *leads; // none in the lead's own seat
    uint32_t event_count, expect_count, never_count, before_count, spoken_count, lead_count;
    const struct sm_drill_whole *whole; // the same of all seats
    sm_arena *arena;
} sm_drill;

// Reads the drill in the LENGTH bytes at BYTES (which are cleaned in place) against SHOW, which must outlive it. All findings at once,
// with FILE as their file; *out only on SM_OK, in the lead's seat. SM_INVALID, SM_NO_MEMORY. The caller destroys it.
SM_MUST_CHECK sm_result sm_drill_read(const sm_show *show, const char *file, char *bytes, size_t length,
                                      sm_findings *findings, sm_drill **out);
// The same from SHOW's folder: drills/NAME.ini. SM_UNREADABLE with errno.
SM_MUST_CHECK sm_result sm_drill_load(const sm_show *show, const char *name, sm_findings *findings,
                                      sm_drill **out);
void sm_drill_destroy(sm_drill *drill);

// Takes SEAT: from now on DRILL is what the file says of that seat. No run of it may be alive. SM_NOT_FOUND: the file says nothing of that
// seat, SM_NO_MEMORY; DRILL is as before then.
SM_MUST_CHECK sm_result sm_drill_sit(sm_drill *drill, sm_drill_seat seat);
// Takes the lead's seat for a crew of which others may sit elsewhere: what the file asks of the spotter is in it too, as far as it waits
// for something that comes in the lead's drill. It counts once a spotter sits there. SM_NO_MEMORY; DRILL is as before then.
SM_MUST_CHECK sm_result sm_drill_sit_crew(sm_drill *drill);
bool sm_drill_has_seat(const sm_drill *drill, sm_drill_seat seat);

// The names of the drills in SHOW's folder, in order of name, in ARENA. No folder: none. SM_UNREADABLE with errno, SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_drill_names(const sm_show *show, sm_arena *arena, const char *const **out,
                                       size_t *count);

// The declared schema of a drill's file: a column a key, `section` without its NAME.
const sm_column *sm_drill_schema(size_t *count);

// The ids that findings about a drill's file carry beside those of any file of a show.
const char *const *sm_drill_finding_rules(size_t *count);

// ---- the built-in rules ----------------------------------------------------------------

typedef enum sm_drill_rule {
    SM_RULE_ENTRY,
    SM_RULE_HANDS,
    SM_RULE_PLUGGED,
    SM_RULE_PEOPLE,
    SM_RULE_LINK,
    SM_RULE_NO_CLEAR,
    SM_RULE_LAPSED,
    SM_RULE_UNHEARD,
    SM_RULE_WIND,
    SM_RULE_UNREPORTED,
    SM_RULE_WAIVER,
    SM_RULE_SILENCE,
    SM_RULE_KEY, // of the spotter's seat, which has only this and the one before
    SM_RULE_COUNT
} sm_drill_rule;
typedef struct sm_drill_rule_row {
    const char *name;  // "entry-too-early"
    const char *title; // in plain words, for a heading
    int32_t cost;
    const char *say; // the reason, in words a trainee reads
} sm_drill_rule_row;
const sm_drill_rule_row *sm_drill_rule_of(sm_drill_rule rule);

// ---- a run --------------------------------------------------------------------------------

typedef struct sm_drill_run sm_drill_run;

typedef struct sm_drill_options {
    uint64_t seed;    // the drill's own is drill->seed
    const char *crew; // who takes it, "" for nobody named; kept as a copy
    bool bare, readings_not_judged;
    bool no_alerts; // as of a rehearsal
    bool waits;     // held from the start: it begins with the first `go-drill`
    // TEXT is for whoever sits at SEAT alone; may be NULL. Gets sink_context.
    void (*to_seat)(void *context, const char *seat, const char *text);
    sm_log_sink sink;     // every row, as of a rehearsal
    sm_action_sink acted; // every action that reaches the rehearsal; may be NULL
    void *sink_context;
} sm_drill_options;

// DRILL must outlive the run. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_drill_run_create(const sm_drill *drill, const sm_drill_options *options,
                                            sm_drill_run **out);
void sm_drill_run_destroy(sm_drill_run *run);

// The rehearsal inside: to be looked at (state, snapshot, transport, refusal, sound), not to be run or acted on.
sm_rehearsal *sm_drill_rehearsal(sm_drill_run *run);
const sm_drill *sm_drill_of(const sm_drill_run *run);

// As sm_rehearsal_next_due, sm_rehearsal_run and sm_rehearsal_act, with the drill's own events among them. At one instant the drill's
// events come before actions, and those in the order of the file.
bool sm_drill_next_due(const sm_drill_run *run, sm_wall_time *due);
SM_MUST_CHECK sm_result sm_drill_run_to(sm_drill_run *run, sm_wall_time to);
SM_MUST_CHECK sm_result sm_drill_act(sm_drill_run *run, const sm_action *action, sm_source source,
                                     sm_wall_time at);

// WHO ("" for nobody named) sits at SEAT from now on (THERE), or nobody does. Seats are "spotter", or named as a person who must answer, or
// anything else: a position. What a person who sits there would say is no longer played.
void sm_drill_run_sit(sm_drill_run *run, const char *seat, const char *who, bool there);
// ACTION of whoever sits at its `seat`, as sm_drill_act. What is not theirs to do is refused; what a person says is a call of theirs.
SM_MUST_CHECK sm_result sm_drill_act_from(sm_drill_run *run, const sm_action *action, sm_wall_time at);
// ACT is for whoever sits at SEAT of a crew to do.
bool sm_drill_seat_may(const char *seat, sm_act act);
// Seats at which somebody sat, in the order in which they came; their names.
uint32_t sm_drill_sitters(const sm_drill_run *run);
const char *sm_drill_sitter_seat(const sm_drill_run *run, uint32_t index);
const char *sm_drill_sitter_who(const sm_drill_run *run, uint32_t index);

// The instructor's alone: refused to every other source, but for the `go-drill` that begins a drill that waits.
bool sm_drill_is_instructors(sm_act act);
// Why whoever sits in DRILL's seat does not do ACT, one sentence; NULL where it is theirs to do.
const char *sm_drill_not_theirs(const sm_drill *drill, sm_act act);
// In the spotter's seat: the lead is about to do something.
bool sm_drill_lead_is_busy(const sm_drill_run *run);
// `ends` has come, or sm_drill_finish was called: nothing is judged any more.
bool sm_drill_is_over(const sm_drill_run *run);
bool sm_drill_has_begun(const sm_drill_run *run); // else it waits for its first `go-drill`
bool sm_drill_is_held(const sm_drill_run *run);   // `hold-drill`
// Ends the drill at AT: what was not done is lost. Logs the marks that are still open and the score.
SM_MUST_CHECK sm_result sm_drill_finish(sm_drill_run *run, sm_wall_time at);
// A real emergency: ends the drill at once, without a score. What is said, by anybody.
#define SM_NO_DRILL "NO DRILL"
SM_MUST_CHECK sm_result sm_drill_no_drill(sm_drill_run *run, sm_wall_time at);
bool sm_drill_was_broken_off(const sm_drill_run *run);

// The next right action and one sentence about it into TEXT. SM_ACT_COUNT, with a sentence all the same, where nothing is asked just now;
// SM_ACT_QUIT once all that the drill asks for is done.
sm_act sm_drill_hint(const sm_drill_run *run, char text[240]);

// ---- marks ----------------------------------------------------------------------------------

typedef enum sm_mark_kind {
    SM_MARK_EXPECT,
    SM_MARK_BEFORE,
    SM_MARK_NEVER,
    SM_MARK_SPOKEN,
    SM_MARK_RULE,
    SM_MARK_KIND_COUNT
} sm_mark_kind;
const char *sm_mark_kind_text(sm_mark_kind kind); // "expect" ...

typedef struct sm_drill_mark {
    const char *name;
    sm_mark_kind kind;
    int32_t marks;     // to earn; of never and rule: what it costs
    int32_t got;       // earned; of never and rule: 0 while kept, -marks once broken
    bool came;         // an expectation: its event came; others: it was decided
    bool decided;      // got will not change any more
    sm_us took_us;     // SM_UNSET_US where it does not apply
    sm_us within_us;   // of an expectation: the time for all marks; else SM_UNSET_US
    bool before_asked; // an expectation that had been done when it was asked for: at once, with no time taken
    bool in_hold;      // a stop while the instructor held the drill: the same
    bool wordless;     // said, and nobody but an instructor can judge what
    bool unjudged;     // so, and none did: it carries no marks
    const char *heard; // what was said last, NULL: nothing
    int32_t computed;  // `got` without the instructor
    int judged;        // by the instructor: 1 yes, -1 no, 0 not
    const char *reason; // of that, NULL: none
    sm_wall_time at;    // when it was decided; us SM_UNSET_US: never
    const char *say;
} sm_drill_mark;

// Marks in the order of the file (expect, before, never, spoken that were judged), then the rules that were broken.
uint32_t sm_drill_mark_count(const sm_drill_run *run);
sm_drill_mark sm_drill_mark_at(const sm_drill_run *run, uint32_t index);
// That of the drill's expectation EXPECT, whoever is asked.
sm_drill_mark sm_drill_expect_mark(const sm_drill_run *run, uint32_t expect);
// floor(100 x earned / all marks of expect, before and judged spoken; 100 with none) less marks lost, within 0 and 100.
int sm_drill_score(const sm_drill_run *run);
// The same without what the instructor overruled.
int sm_drill_score_computed(const sm_drill_run *run);
uint32_t sm_drill_rules_broken(const sm_drill_run *run);
// The score is the drill's mark or more, and no built-in rule was broken. False too where it was broken off.
bool sm_drill_passed(const sm_drill_run *run);
bool sm_drill_with_hints(const sm_drill_run *run); // asked for, or shown all the time
// It is over, whoever took it left before its end had come, and not all that it asks for was done.
bool sm_drill_was_left(const sm_drill_run *run);
uint64_t sm_drill_seed(const sm_drill_run *run);

// Reaction times of the stops that were expected and made after that, in microseconds, in the order of the file. At most ROOM; returns
// how many. A stop that had been made before it was asked for has none.
uint32_t sm_drill_reactions(const sm_drill_run *run, sm_us *out, uint32_t room);
// The percentile P (0 to 1) of COUNT values (sorted in place): x = P (N + 1), k its whole part, d the rest, Y[k] + d (Y[k+1] - Y[k]);
// k = 0 the least, k >= N the greatest (NIST/SEMATECH e-Handbook of Statistical Methods 7.2.6.2). NAN where COUNT is 0.
double sm_drill_percentile(double *values, size_t count, double p);

// ---- what happened, for the debrief, the instructor and the logbook ------------------------

typedef struct sm_drill_entry {
    sm_wall_time at;
    sm_source source;
    const char *seat; // of that source, "": none
    sm_log_kind kind;
    const char *target, *detail; // as in the log
    const char *alert; // of a mark: the alert that stood first when it came; NULL: none, or not known
} sm_drill_entry;
uint32_t sm_drill_entry_count(const sm_drill_run *run);
sm_drill_entry sm_drill_entry_at(const sm_drill_run *run, uint32_t index);
// Did EVENT (row of the drill) come, and when.
bool sm_drill_event_came(const sm_drill_run *run, uint32_t event, sm_wall_time *at);

// A row of KIND about TARGET says what RUN's drill planted where nobody can see it: an open lead, a dud. It is for the debrief.
bool sm_drill_is_unseen(const sm_drill_run *run, sm_log_kind kind, const char *target);
// ROW is the one that ends a drill: its score, or that it was broken off.
bool sm_drill_is_over_by(const sm_log_row *row);

// EVENT has its moment, and it is still to come.
bool sm_drill_event_due(const sm_drill_run *run, uint32_t event, sm_wall_time *at);
const char *sm_drill_crew(const sm_drill_run *run); // who takes it, "" for nobody named

// ---- the debrief ----------------------------------------------------------------------------

// The four questions that come before the debrief shows anything.
#define SM_DRILL_QUESTIONS 4
const char *sm_drill_question(unsigned index);
// Keeps TEXT ("": left empty) as the answer to question INDEX of a drill that is over, with one row `remark` of source drill where
// there is a text. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_drill_answer(sm_drill_run *run, unsigned index, const char *text, sm_wall_time at);
// What every record of a drill says about itself.
const char *sm_drill_caution(void);

typedef enum sm_step_kind {
    SM_STEP_EVENT,  // planted by the drill
    SM_STEP_STATE,  // of the rehearsed module, or what became of a firing
    SM_STEP_ASKED,  // an expectation opened
    SM_STEP_SAID,   // by the instructor, or by a person of the crew
    SM_STEP_ACTION, // the trainee's
    SM_STEP_MARK,   // what that earned or cost
    SM_STEP_KIND_COUNT
} sm_step_kind;
const char *sm_step_kind_text(sm_step_kind kind); // "event" ...
// The trainee's side: what you did. Else: what happened.
bool sm_step_is_own(sm_step_kind kind);

// One thing of a drill, to be looked at again.
typedef struct sm_drill_step {
    sm_us at_us; // since the drill began
    sm_step_kind kind;
    const char *name;         // of the event, expectation, mark or action
    const char *text;         // in words
    sm_us within_us, took_us; // of an expectation: asked, and its mark; SM_UNSET_US elsewhere
    sm_state state;           // of the rehearsed module just after it
    bool key;
} sm_drill_step;

// A drill that is over, to be read: never changes.
typedef struct sm_debrief {
    const char *head,
        *tail; // what stands before and behind the steps: lines, not broken at any width. The score is last
    const sm_drill_step *steps;
    uint32_t step_count;
    uint8_t asked;   // bit 1 << question: it was put, and answered or left empty
    bool broken_off; // a real emergency
    sm_arena *arena;
} sm_debrief;
// What SEAT alone did, "lead" for whoever has the key: its marks, and its score. Else as sm_debrief_create.
SM_MUST_CHECK sm_result sm_debrief_create_for(const sm_drill_run *run, const char *seat, sm_debrief **out);
// Of RUN as it stands, of the whole crew; what comes after the drill's end is left out, but for remarks. SM_NO_MEMORY. The caller destroys it, any thread.
SM_MUST_CHECK sm_result sm_debrief_create(const sm_drill_run *run, sm_debrief **out);
void sm_debrief_destroy(sm_debrief *debrief);
// All of it as text COLUMNS wide (at least 40): what cost 100 first, the steps in two columns, one thing done well, one to practise,
// reactions, the score last.
void sm_debrief_text(const sm_debrief *debrief, size_t columns, sm_text *out);
// STEPS alone: what happened beside what you did.
void sm_drill_steps_text(const sm_drill_step *steps, uint32_t count, size_t columns, sm_text *out);
// The COUNT entries of a drill of which no debrief was kept, as steps in ARENA: without what was asked for, and events as the log has
// them. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_drill_steps_of(const sm_drill_entry *entries, uint32_t count, sm_arena *arena,
                                          const sm_drill_step **out, uint32_t *step_count);
// One object a step.
void sm_drill_step_json(const sm_drill_step *step, sm_text *out);

// One object a mark, then the score (format.md).
void sm_drill_debrief_json(const sm_drill_run *run, sm_text *out);
// The same of SEAT alone; *SCORE and *PASSED are its own. False: the file asks nothing of it, and nothing is set.
bool sm_drill_debrief_json_for(const sm_drill_run *run, const char *seat, sm_text *out, int *score,
                               bool *passed);

// ---- checking a drill ---------------------------------------------------------------------

// Searches for a run of DRILL, in the seat that is taken, that earns 100 and breaks no built-in rule. *BEST is the best score found and
// SCRIPT the operator script of that run. Below 100, FINDINGS say of FILE what no run earned and what stands in its way. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_drill_check(const sm_drill *drill, const char *file, sm_findings *findings,
                                       int *best, sm_text *script);
// The manual page slowmatch-drill(5), made from the schema and the vocabularies.
void sm_drill_manual(sm_text *out);

// ---- chance -----------------------------------------------------------------------------------

// splitmix64 (Steele, Lea and Flood, "Fast splittable pseudorandom number generators", 2014; constants as in Vigna's public-domain code).
uint64_t sm_drill_random(uint64_t *state);

#endif

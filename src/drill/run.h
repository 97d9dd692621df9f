// SPDX-License-Identifier: GPL-3.0-or-later
// The inside of a run.
//
// A *trigger* is anything that waits for a moment: an event, an expectation, something to be spoken, the end, a line of the lead. It
// is `based` once what it waits for has come; it is then due its delay later. It is `done` once that moment was reached. A line of
// the lead is based anew each time, and a stop drops it.
// The engine tells what it does by rows. A row comes in the middle of a change, so it is kept and looked at once the engine is done.
#ifndef DRILL_RUN_H
#define DRILL_RUN_H

#include "drill/words.h"

#include "slowmatch/drill.h"

typedef enum trigger_kind {
    TRIGGER_EVENT,
    TRIGGER_EXPECT,
    TRIGGER_SPOKEN,
    TRIGGER_ENDS,
    TRIGGER_LEAD,
    TRIGGER_ANSWER // of somebody of the crew who was asked
} trigger_kind;

typedef struct trigger {
    trigger_kind kind;
    uint32_t index; // row of the drill
    const sm_drill_when *when;
    sm_us delay_us; // drawn
    bool based, done;
    bool awaits; // its moment has come, and whoever sits there has not said it yet
    sm_wall_time due, at;
} trigger;

// Whose marks: the lead's, the spotter's, nobody's (of a person or a position).
typedef enum drill_role {
    DRILL_LEAD,
    DRILL_SPOTTER,
    DRILL_OTHER
} drill_role; // as sm_drill_seat, and one more

// A seat on another machine.
typedef struct drill_sitter {
    char seat[SM_SEAT_NAME], who[SM_SEAT_WHO];
    bool there;
} drill_sitter;
#define DRILL_SITTERS 8

// What became of an expectation, a before, a never, something spoken.
typedef struct verdict {
    bool decided, logged;
    bool before_asked;  // it had been done when it was asked for
    bool in_hold;       // a stop made while the instructor held the drill
    bool done_before;   // of an expectation: done, and not asked for yet
    bool unjudged;      // said, and no words are given that could judge it: it carries no marks
    const char *heard;  // what was said last and did not fit; in texts, NULL: nothing
    int judged;         // by the instructor: 1 yes, -1 no, 0 not
    const char *reason; // of that, in texts
    int32_t got;
    sm_wall_time at;
    sm_us took_us;
} verdict;

struct sm_drill_run {
    const sm_drill *drill;
    sm_drill_options options;
    char crew[96];
    sm_rehearsal *rehearsal;
    trigger *triggers; // events, expectations, spoken, ends, what the lead does
    uint32_t trigger_count;
    verdict *expects, *befores, *nevers, *spokens; // a row of the drill each
    bool *need_came;                               // of all needs of all befores, in order
    verdict rules[SM_SEAT_COUNT][SM_RULE_COUNT];   // of either part
    drill_sitter sitters[DRILL_SITTERS];
    uint32_t sitter_count;
    drill_role actor; // whose action is being judged
    bool one_part;    // what is looked at is what `part` did, at `part_seat`
    drill_role part;
    const char *part_seat;
    bool *answered, *silent; // a name each that the drill says must answer: was heard; does not answer
    double wind_shown_m_s;   // by the drill's meter last, NAN: not yet
    bool tried_rule;         // the action that is being tried breaks a built-in rule
    bool clear_stood;
    bool paused_by_hold;
    bool armed_once; // the module was armed or something went: from then on there is a wait
    bool over, broken_off, held, waits; // waits: held, and has not begun
    sm_wall_time held_since, began_at, ended_at;
    sm_facts ended_facts;
    uint32_t ended_entries; // entries up to the end; what comes later is no part of the drill
    const char *answers[SM_DRILL_QUESTIONS]; // in texts; NULL: not asked
    uint32_t hints_asked;

    bool states_entered[SM_STATE_COUNT]; // since last looked
    sm_arena *texts;
    sm_drill_entry *entries; // in texts
    uint32_t entry_count, entry_capacity;
    bool no_memory;
};

// The rows of marks.
#define DRILL_MARK ((sm_log_kind){.what = SM_LOG_MARK})

// ---- judge_actions.c -------------------------------------------------------------------------

// What is lost by trying ACTION now, before it is acted: built-in rules, nevers; and befores, which it decides.
void drill_judge_try(sm_drill_run *run, const sm_action *action);
// Then, once it was ACCEPTED or refused, the rows of what was decided so, which come after the action's own.
void drill_log_tried(sm_drill_run *run, bool accepted);
// ACTION was accepted (or is a stop that found it stopped): needs, expectations.
void drill_judge_done(sm_drill_run *run, const sm_action *action, bool accepted);
// The clear that was called counts no more, whoever calls the next.
void drill_judge_clear_lapsed(sm_drill_run *run);
// An expectation opens: being stopped already counts as at once.
void drill_judge_open(sm_drill_run *run, uint32_t i);
// NEED has come (CAME) and has not lapsed.
bool drill_still_holds(const sm_drill_run *run, const sm_action *need, bool came, const sm_facts *facts);
// The instructor says of the mark called NAME that it is earned (YES) or not. Something spoken gets its mark so; of all others what was
// computed stays beside it. False: there is no such mark.
bool drill_judge_by_hand(sm_drill_run *run, const char *name, bool yes, const char *reason);
// What was not done by the end.
void drill_judge_end(sm_drill_run *run);

// ---- lead.c: the spotter's seat ---------------------------------------------------------------

bool drill_is_stop(sm_act act);
// What a spotter's ACTION is done as: a hold where nothing runs is a make safe, one while paused is said again.
sm_action drill_as_said(const sm_drill_run *run, const sm_action *action);
// A stop, whoever made it: the lead drops errors and what leads to arming.
void drill_lead_drops(sm_drill_run *run);
// The lead reads ACTION of the trainee back.
SM_MUST_CHECK sm_result drill_lead_reads_back(sm_drill_run *run, const sm_action *action);
// The line of the lead that T is for.
SM_MUST_CHECK sm_result drill_lead_acts(sm_drill_run *run, trigger *t);

// ---- crew.c -----------------------------------------------------------------------------------

// WHO says TEXT: an answer if it says where they are.
void drill_crew_heard(sm_drill_run *run, const char *who, const char *text);
void drill_crew_hears_injection(sm_drill_run *run, const sm_injection *injection);
// Somebody went in, or clear lapsed: everyone is asked again.
void drill_crew_to_ask_again(sm_drill_run *run);
bool drill_crew_has_answered(const sm_drill_run *run);
bool drill_crew_answered(const sm_drill_run *run, const char *who); // they have, and it still counts
// ACTION asks somebody by name. They answer a moment later by drill_crew_answers, or not at all.
SM_MUST_CHECK sm_result drill_crew_is_asked(sm_drill_run *run, const sm_action *action, sm_source source,
                                            sm_wall_time at);
SM_MUST_CHECK sm_result drill_crew_answers(sm_drill_run *run, trigger *t);

// ---- sitters.c ----------------------------------------------------------------------------------

bool drill_sits(const sm_drill_run *run, const char *seat);
// SEAT is one of those whom the file has answer.
bool drill_is_named(const sm_drill *drill, const char *seat);
// Tells whoever sits at SEAT alone.
SM_PRINTF(3, 4) void drill_tell_sitter(sm_drill_run *run, const char *seat, const char *format, ...);
// What waits for words of SEAT's: TEXT, said now; NULL: all of it, which the drill says after all.
void drill_sitter_spoke(sm_drill_run *run, const char *seat, const char *text);
bool drill_is_trainee(sm_source source);
// A spotter sits elsewhere, or did: what the file asks of the spotter counts.
bool drill_has_spotter(const sm_drill_run *run);
// Whose mark it is that a section for SEAT asks for ACT.
drill_role drill_role_of(const sm_drill_run *run, sm_drill_for seat, sm_act act);
// It counts at all.
bool drill_counts(const sm_drill_run *run, sm_drill_for seat);
// T is something that a person says, and they sit elsewhere: they are told, and it comes once they have said it. False: the drill says it.
bool drill_left_to_sitter(sm_drill_run *run, trigger *t);
// WHO, who is asked by name, sits elsewhere: they are told.
bool drill_asks_sitter(sm_drill_run *run, const char *who);
// ENTRY is something that whoever is looked at did.
bool drill_is_own(const sm_drill_run *run, const sm_drill_entry *entry);
void drill_event_came(sm_drill_run *run, trigger *t);
// An action, judged as one of RUN's actor.
SM_MUST_CHECK sm_result drill_act_judged(sm_drill_run *run, const sm_action *given, sm_source source,
                                         sm_wall_time at);
SM_MUST_CHECK sm_result drill_bring(sm_drill_run *run, sm_wall_time at);

// ---- entries.c ----------------------------------------------------------------------------------

// Keeps ROW as an entry, where it is one for the debrief; run->no_memory where it cannot.
void drill_entry_keep(sm_drill_run *run, const sm_log_row *row);

// ---- rules.c ------------------------------------------------------------------------------------

// The built-in rules that trying ACTION breaks, a bit each.
unsigned drill_rules_broken(const sm_drill_run *run, const sm_action *action, const sm_facts *facts);

// ---- instructor.c -------------------------------------------------------------------------------

// What the instructor alone does, all but trigger. True: ACT is one of these and *RESULT what came of it.
bool drill_instructor_acts(sm_drill_run *run, const sm_action *action, sm_wall_time at, sm_result *result);

// ---- hint.c -------------------------------------------------------------------------------------

// The step of the usual way that comes next until the show runs. SM_ACT_COUNT: none, or only waiting.
sm_act drill_step_to_running(const sm_drill_run *run);

// ---- triggers.c -----------------------------------------------------------------------------

// All that the drill waits for, with the delays drawn; those that wait for its beginning are based at 0.
void drill_triggers_add(sm_drill_run *run);
trigger *drill_trigger_of(const sm_drill_run *run, trigger_kind kind, uint32_t index);
// An event came or an expectation was met: what waits for it is due its delay later.
void drill_base_on(sm_drill_run *run, sm_drill_on on, uint32_t index);
// ACTION was done, or the states that were entered since last looked.
void drill_base_on_action(sm_drill_run *run, const sm_action *action);
void drill_base_on_states(sm_drill_run *run);
// What T waits for has come.
void drill_base(sm_drill_run *run, trigger *t);
// The trigger that is next and when, the first in the order of the file where several are. NULL: none.
trigger *drill_trigger_next(const sm_drill_run *run, sm_wall_time *at);
// The time of a hold, over at NOW, counts for nothing: what was based in it waits from its end.
void drill_triggers_shift(sm_drill_run *run, sm_wall_time now);

// ---- steps.c --------------------------------------------------------------------------------

// What has happened up to the drill's end (COUNT entries), as steps in ARENA. NULL: no memory, or there is none.
sm_drill_step *drill_steps(const sm_drill_run *run, sm_arena *arena, uint32_t *count);

#endif

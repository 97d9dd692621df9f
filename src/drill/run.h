// SPDX-License-Identifier: GPL-3.0-or-later
// The inside of a run.
//
// A *trigger* is anything that waits for a moment: an event, an expectation, something to be spoken, the end. It is `based` once what it
// waits for has come, which fixes when it is due (its delay later), and `done` once that moment was reached. What the engine does is heard
// by way of its rows: they are kept while it works and looked at after it, because a row comes in the middle of a change.
#ifndef DRILL_RUN_H
#define DRILL_RUN_H

#include "slowmatch/drill.h"

typedef enum trigger_kind { TRIGGER_EVENT, TRIGGER_EXPECT, TRIGGER_SPOKEN, TRIGGER_ENDS } trigger_kind;

typedef struct trigger {
    trigger_kind kind;
    uint32_t index; // row of the drill
    const sm_drill_when *when;
    sm_us delay_us; // drawn
    bool based, done;
    sm_wall_time due, at;
} trigger;

// What became of an expectation, a before, a never, something spoken.
typedef struct verdict {
    bool decided, logged;
    int32_t got;
    sm_wall_time at;
    sm_us took_us;
} verdict;

struct sm_drill_run {
    const sm_drill *drill;
    sm_drill_options options;
    char crew[96];
    sm_rehearsal *rehearsal;
    trigger *triggers; // events, expectations, spoken, ends
    uint32_t trigger_count;
    verdict *expects, *befores, *nevers, *spokens; // a row of the drill each
    bool *need_came;                               // of all needs of all befores, in order
    verdict rules[SM_RULE_COUNT];
    bool armed_once; // the module was armed or something went: from then on there is a wait
    bool over, broken_off, held, waits; // waits: held, and has not begun
    sm_wall_time held_since, began_at, ended_at;
    uint32_t ended_entries; // entries up to the end; what comes later is no part of the drill
    const char *answers[SM_DRILL_QUESTIONS]; // in texts; NULL: not asked
    uint32_t hints_asked;

    bool states_entered[SM_STATE_COUNT]; // since last looked
    sm_arena *texts;
    sm_drill_entry *entries; // in texts
    uint32_t entry_count, entry_capacity;
    bool no_memory;
};

// ---- judge.c ------------------------------------------------------------------------------

bool drill_is_trainee(sm_source source);
// What is lost by trying ACTION now, before it is acted: built-in rules, nevers; and befores, which it decides.
void drill_judge_try(sm_drill_run *run, const sm_action *action);
// Then the rows of what was decided so, which come after the action's own.
void drill_log_tried(sm_drill_run *run);
// ACTION was accepted (or is a stop that found it stopped): needs, expectations.
void drill_judge_done(sm_drill_run *run, const sm_action *action, bool accepted);
// An expectation opens: being stopped already counts as at once.
void drill_judge_open(sm_drill_run *run, uint32_t expect);
// NEED has come (CAME) and has not lapsed.
bool drill_still_holds(const sm_drill_run *run, const sm_action *need, bool came, const sm_facts *facts);
// Something spoken is ticked. False: no such thing, or it is not to be ticked now.
bool drill_judge_spoken(sm_drill_run *run, const char *name, bool said);
// What was not done by the end.
void drill_judge_end(sm_drill_run *run);

// ---- run.c ----------------------------------------------------------------------------------

trigger *drill_trigger_of(const sm_drill_run *run, trigger_kind kind, uint32_t index);
// What has happened up to the drill's end (COUNT entries), as steps in ARENA. NULL: no memory, or there is none.
sm_drill_step *drill_steps(const sm_drill_run *run, sm_arena *arena, uint32_t *count);

// An event came or an expectation was met: what waits for it is due its delay later.
void drill_base_on(sm_drill_run *run, sm_drill_on on, uint32_t index);

#endif

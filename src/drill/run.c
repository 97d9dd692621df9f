// SPDX-License-Identifier: GPL-3.0-or-later
#include "drill/run.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- rows of the rehearsal ------------------------------------------------------------------

// A clear that has lapsed is called again from the first name on.
static void follow_clear(sm_drill_run *run, const sm_log_row *row) {
    if (sm_log_is_act(row->kind, SM_ACT_CALL_CLEAR))
        run->clear_stood = true;
    if (row->kind.what != SM_LOG_GUARD || !run->clear_stood ||
        sm_rehearsal_facts(run->rehearsal).clear_called)
        return;
    run->clear_stood = false;
    drill_crew_to_ask_again(run);
    drill_judge_clear_lapsed(run);
}

static void hear_row(void *context, const sm_log_row *row) {
    sm_drill_run *run = context;
    if (run->options.sink)
        run->options.sink(run->options.sink_context, row);
    if (row->kind.what == SM_LOG_STATE)
        run->states_entered[row->kind.state] = true;
    follow_clear(run, row);
    bool went = row->kind.what == SM_LOG_FIRE || row->kind.what == SM_LOG_MISFIRE;
    run->armed_once = run->armed_once || went || run->states_entered[SM_STATE_ARMING];
    drill_entry_keep(run, row);
}

static void hear_action(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_drill_run *run = context;
    if (run->options.acted)
        run->options.acted(run->options.sink_context, action, source, at);
}

// ---- making one -----------------------------------------------------------------------------

static bool make_arrays(sm_drill_run *run) {
    const sm_drill *d = run->drill;
    size_t needs = 1;
    for (uint32_t i = 0; i < d->before_count; i++)
        needs += d->befores[i].need_count;
    run->triggers =
        calloc(d->event_count + d->expect_count + d->spoken_count + d->lead_count + d->answer_count + 1u,
               sizeof *run->triggers);
    run->answered = calloc(d->answer_count + 1u, sizeof *run->answered);
    run->silent = calloc(d->answer_count + 1u, sizeof *run->silent);
    run->expects = calloc(d->expect_count + 1u, sizeof *run->expects);
    run->befores = calloc(d->before_count + 1u, sizeof *run->befores);
    run->nevers = calloc(d->never_count + 1u, sizeof *run->nevers);
    run->spokens = calloc(d->spoken_count + 1u, sizeof *run->spokens);
    run->need_came = calloc(needs, sizeof *run->need_came);
    run->texts = sm_arena_create();
    return run->triggers && run->expects && run->befores && run->nevers && run->spokens && run->need_came &&
           run->answered && run->silent && run->texts;
}

sm_result sm_drill_run_create(const sm_drill *drill, const sm_drill_options *options, sm_drill_run **out) {
    sm_drill_run *run = calloc(1, sizeof *run);
    if (!run)
        return SM_NO_MEMORY;
    run->drill = drill;
    run->options = *options;
    snprintf(run->crew, sizeof run->crew, "%s", options->crew ? options->crew : "");
    const sm_rehearsal_options inner = {.bare = options->bare,
                                        .readings_not_judged = options->readings_not_judged,
                                        .drill = true,
                                        .no_alerts = options->no_alerts,
                                        .sink = hear_row,
                                        .acted = hear_action,
                                        .sink_context = run};
    if (!make_arrays(run) || sm_rehearsal_create(drill->show, &inner, &run->rehearsal) != SM_OK) {
        sm_drill_run_destroy(run);
        return SM_NO_MEMORY;
    }
    run->wind_shown_m_s = (double)NAN;
    drill_triggers_add(run);
    run->held = run->waits = options->waits;
    *out = run;
    return SM_OK;
}

void sm_drill_run_destroy(sm_drill_run *run) {
    if (!run)
        return;
    sm_rehearsal_destroy(run->rehearsal);
    free(run->triggers);
    free(run->expects);
    free(run->befores);
    free(run->nevers);
    free(run->spokens);
    free(run->need_came);
    free(run->answered);
    free(run->silent);
    sm_arena_destroy(run->texts);
    free(run);
}

// ---- triggers ---------------------------------------------------------------------------------

static sm_result come(sm_drill_run *run, trigger *t) {
    const sm_drill_event *event;
    sm_result result = SM_OK;
    switch (t->kind) {
    case TRIGGER_EVENT:
        if (drill_left_to_sitter(run, t))
            return sm_rehearsal_bring(run->rehearsal, t->due);
        event = &run->drill->events[t->index];
        result = sm_rehearsal_inject(run->rehearsal, event->name, &event->injection, t->due);
        if (result == SM_OK)
            drill_crew_hears_injection(run, &event->injection);
        break;
    case TRIGGER_LEAD:
        return drill_lead_acts(run, t);
    case TRIGGER_ANSWER:
        return drill_crew_answers(run, t);
    case TRIGGER_ENDS:
        result = sm_drill_finish(run, t->due);
        break;
    default:
        result = sm_rehearsal_bring(run->rehearsal, t->due);
        break;
    }
    if (result != SM_OK)
        return result;
    if (t->kind == TRIGGER_EVENT) {
        drill_event_came(run, t);
        return SM_OK;
    }
    t->done = true;
    t->at = sm_rehearsal_facts(run->rehearsal).now;
    drill_base_on_states(run);
    if (t->kind == TRIGGER_EXPECT)
        drill_judge_open(run, t->index);
    return SM_OK;
}

// One step of TRIGGER at AT: it is based there, or it comes.
static sm_result step(sm_drill_run *run, trigger *t, sm_wall_time at) {
    if (t->based)
        return come(run, t);
    sm_result result = sm_rehearsal_bring(run->rehearsal, at);
    if (result != SM_OK)
        return result;
    // Bringing it there may have left the running state.
    if (sm_rehearsal_state(run->rehearsal) == SM_STATE_RUNNING)
        drill_base(run, t);
    drill_base_on_states(run);
    return SM_OK;
}

// ---- time -------------------------------------------------------------------------------------

bool sm_drill_next_due(const sm_drill_run *run, sm_wall_time *due) {
    sm_wall_time wanted, runs;
    bool wants_any = drill_trigger_next(run, &wanted) != NULL;
    bool runs_any = sm_rehearsal_next_due(run->rehearsal, &runs);
    if (wants_any && (!runs_any || wanted.us <= runs.us)) {
        sm_wall_time now = sm_rehearsal_facts(run->rehearsal).now;
        *due = wanted.us > now.us ? wanted : now;
    } else if (runs_any) {
        *due = runs;
    }
    return wants_any || runs_any;
}

// Runs the engine up to AT, where it has something to do. A start by itself is judged as a start by whoever set it.
static sm_result run_engine(sm_drill_run *run, sm_wall_time at) {
    static const sm_action start = {.act = SM_ACT_START, .index = SM_NONE};
    sm_wall_time starts_at;
    bool starts = sm_rehearsal_starts_at(run->rehearsal, &starts_at) && starts_at.us <= at.us && !run->over;
    bool judged = starts && run->drill->seat == SM_SEAT_LEAD; // else it is the lead's, and no trainee's
    if (judged)
        drill_judge_try(run, &start);
    sm_result result = sm_rehearsal_run(run->rehearsal, at);
    if (result == SM_OK && starts) {
        bool started = sm_rehearsal_state(run->rehearsal) == SM_STATE_RUNNING;
        if (judged) {
            drill_log_tried(run, started);
            drill_judge_done(run, &start, started);
        }
        if (started)
            drill_base_on_action(run, &start);
    }
    drill_base_on_states(run);
    return result;
}

// Up to TO. What the engine does at TO itself only where INCLUDING: actions come before it.
static sm_result run_until(sm_drill_run *run, sm_wall_time to, bool including) {
    for (;;) {
        sm_wall_time wanted, runs;
        trigger *t = drill_trigger_next(run, &wanted);
        bool runs_any = sm_rehearsal_next_due(run->rehearsal, &runs);
        bool triggers = t && wanted.us <= to.us && (!runs_any || wanted.us <= runs.us);
        bool engine = runs_any && (runs.us < to.us || (including && runs.us == to.us));
        sm_result result = SM_OK;
        if (triggers)
            result = step(run, t, wanted);
        else if (engine)
            result = run_engine(run, runs);
        else
            return run->no_memory ? SM_NO_MEMORY : SM_OK;
        if (result != SM_OK)
            return result;
    }
}

sm_result sm_drill_run_to(sm_drill_run *run, sm_wall_time to) {
    sm_result result = run_until(run, to, true);
    return result == SM_OK ? sm_rehearsal_run(run->rehearsal, to) : result;
}

// ---- actions ------------------------------------------------------------------------------------

static sm_result ask_hint(sm_drill_run *run, const sm_action *action, sm_source source, sm_wall_time at) {
    if (run->drill->hints == SM_HINTS_NONE)
        return sm_rehearsal_refuse(run->rehearsal, action, source, "no hints in an assessment", at);
    char text[240];
    sm_drill_hint(run, text);
    sm_action said = *action;
    snprintf(said.detail, sizeof said.detail, "%.*s", (int)sizeof said.detail - 1, text);
    run->hints_asked++;
    return sm_rehearsal_act(run->rehearsal, &said, source, at);
}

static sm_result trigger_event(sm_drill_run *run, const sm_action *action, sm_wall_time at) {
    const sm_source source = SM_SOURCE_INSTRUCTOR;
    for (uint32_t i = 0; i < run->drill->event_count; i++) {
        if (strcmp(run->drill->events[i].name, action->target) != 0)
            continue;
        trigger *t = drill_trigger_of(run, TRIGGER_EVENT, i);
        if (t->done || run->over)
            return sm_rehearsal_refuse(run->rehearsal, action, source,
                                       "it has come already, or the drill is over", at);
        sm_result result = sm_rehearsal_act(run->rehearsal, action, source, at);
        if (result != SM_OK)
            return result;
        t->based = true;
        t->due = sm_rehearsal_facts(run->rehearsal).now;
        return come(run, t);
    }
    return sm_rehearsal_refuse(run->rehearsal, action, source, "the drill has no such event", at);
}

// What the others make of ACTION, which was GIVEN.
static void crew_follows(sm_drill_run *run, sm_act given, const sm_action *action) {
    if (drill_is_stop(given))
        drill_lead_drops(run);
    if (action->act == SM_ACT_ENTER)
        drill_crew_to_ask_again(run);
    if (action->act == SM_ACT_CALL)
        drill_crew_heard(run, action->target, action->detail);
}

// An action of the trainee or of anybody else. The trainee's is judged before it acts, and after.
sm_result drill_act_judged(sm_drill_run *run, const sm_action *given, sm_source source, sm_wall_time at) {
    bool obeyed = sm_remote_is_paired(run->drill->show, given->remote);
    bool judged = drill_is_trainee(source) && !run->over && obeyed;
    bool spotter = run->drill->seat == SM_SEAT_SPOTTER && judged;
    const char *not_theirs = spotter ? sm_drill_not_theirs(run->drill, given->act) : NULL;
    const sm_action said = spotter || source == SM_SOURCE_SEAT ? drill_as_said(run, given) : *given,
                    *action = &said;
    if (judged)
        drill_judge_try(run, action);
    run->paused_by_hold = run->paused_by_hold && action->act != SM_ACT_RESUME && !drill_is_stop(given->act);
    sm_result result = not_theirs ? sm_rehearsal_refuse(run->rehearsal, action, source, not_theirs, at)
                                  : sm_rehearsal_act(run->rehearsal, action, source, at);
    if (result != SM_OK && result != SM_REFUSED)
        return result;
    if (result == SM_OK && obeyed)
        crew_follows(run, given->act, action);
    if (judged) {
        const sm_action *done =
            action->act == SM_ACT_ANSWER ? given : action; // a hold that was said again is a hold
        drill_log_tried(run, result == SM_OK);
        drill_judge_done(run, done, result == SM_OK);
        sm_result heard = result == SM_OK && spotter ? drill_lead_reads_back(run, done) : SM_OK;
        if (heard != SM_OK)
            return heard;
        if (result == SM_OK)
            drill_base_on_action(run, done);
    }
    drill_base_on_states(run);
    return result;
}

// Whoever takes a drill that waits for its question says that they are ready.
static bool begins(const sm_drill_run *run, const sm_action *action, sm_source source) {
    return action->act == SM_ACT_GO_DRILL && run->waits && source != SM_SOURCE_DRILL;
}

static sm_result begin(sm_drill_run *run, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_result result = sm_rehearsal_act(run->rehearsal, action, source, at);
    if (result != SM_OK)
        return result;
    run->began_at = sm_rehearsal_facts(run->rehearsal).now;
    run->held = run->waits = false;
    drill_triggers_shift(run, run->began_at);
    run->held_since = run->began_at;
    return run_until(run, at, false); // what begins with the drill is there before anything is hinted at
}

sm_result drill_bring(sm_drill_run *run, sm_wall_time at) {
    sm_result result = run_until(run, at, false);
    if (result == SM_OK)
        result = sm_rehearsal_bring(run->rehearsal, at);
    if (result != SM_OK)
        return result;
    drill_base_on_states(run);
    return run_until(run, at, false); // what waited for the end of arming with no delay
}

sm_result sm_drill_act(sm_drill_run *run, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_result result = drill_bring(run, at);
    if (result != SM_OK)
        return result;
    if (action->act == SM_ACT_SEAT) // who sits where is nothing that is judged
        return sm_rehearsal_act(run->rehearsal, action, source, at);
    run->actor = run->drill->seat == SM_SEAT_SPOTTER ? DRILL_SPOTTER : DRILL_LEAD;
    if (begins(run, action, source))
        return begin(run, action, source, at);
    if (sm_drill_is_instructors(action->act) && source != SM_SOURCE_INSTRUCTOR)
        return sm_rehearsal_refuse(run->rehearsal, action, source, "that is the instructor's", at);
    // A drill knows one hold: it is said, answered and judged as a pause.
    const sm_action pause = {.act = SM_ACT_PAUSE,
                             .remote = action->remote,
                             .index = SM_NONE,
                             .second = SM_NONE,
                             .moment_us = SM_UNSET_US,
                             .end_us = SM_UNSET_US};
    action = action->act == SM_ACT_HOLD ? &pause : action;
    switch (action->act) {
    case SM_ACT_HINT:
        return ask_hint(run, action, source, at);
    case SM_ACT_ASK:
        return drill_crew_is_asked(run, action, source, at);
    case SM_ACT_TRIGGER:
        return trigger_event(run, action, at);
    default:
        break;
    }
    if (drill_instructor_acts(run, action, at, &result))
        return result;
    if (action->act == SM_ACT_CALL_CLEAR && drill_is_trainee(source) && drill_sits(run, "spotter"))
        return sm_rehearsal_refuse(run->rehearsal, action, source,
                                   "the spotter sits at their own seat: clear is theirs to call", at);
    result = drill_act_judged(run, action, source, at);
    if (result == SM_OK || result == SM_REFUSED)
        return run->no_memory ? SM_NO_MEMORY : result;
    return result;
}

#define SCORE_MARK "score"
#define NO_DRILL_MARK "no-drill"

// ---- the end --------------------------------------------------------------------------------------

sm_result sm_drill_finish(sm_drill_run *run, sm_wall_time at) {
    if (run->over)
        return SM_OK;
    sm_result result = sm_rehearsal_bring(run->rehearsal, at);
    if (result != SM_OK)
        return result;
    run->ended_at = sm_rehearsal_facts(run->rehearsal).now;
    run->ended_facts = sm_rehearsal_facts(run->rehearsal);
    drill_judge_end(run);
    run->over = true;
    char detail[120];
    snprintf(detail, sizeof detail, "%d of 100, from %d on %s", sm_drill_score(run), run->drill->pass,
             sm_drill_passed(run) ? "reached the drill's mark" : "did not reach the drill's mark");
    sm_rehearsal_drill_row(run->rehearsal, DRILL_MARK, SCORE_MARK, detail);
    run->ended_entries = run->entry_count;
    return run->no_memory ? SM_NO_MEMORY : SM_OK;
}

sm_result sm_drill_no_drill(sm_drill_run *run, sm_wall_time at) {
    const sm_action safe = {.act = SM_ACT_SAFE, .index = SM_NONE};
    sm_result result = sm_rehearsal_act(run->rehearsal, &safe, SM_SOURCE_INSTRUCTOR, at);
    if (result != SM_OK)
        return result;
    if (!run->over)
        sm_rehearsal_drill_row(run->rehearsal, DRILL_MARK, NO_DRILL_MARK,
                               "a real emergency: the drill ended at once");
    if (!run->over)
        run->ended_entries = run->entry_count;
    run->over = run->broken_off = true;
    run->ended_at = sm_rehearsal_facts(run->rehearsal).now;
    return SM_OK;
}

// ---- looking ----------------------------------------------------------------------------------------

sm_rehearsal *sm_drill_rehearsal(sm_drill_run *run) {
    return run->rehearsal;
}

const sm_drill *sm_drill_of(const sm_drill_run *run) {
    return run->drill;
}

bool sm_drill_is_over(const sm_drill_run *run) {
    return run->over;
}

bool sm_drill_has_begun(const sm_drill_run *run) {
    return !run->waits;
}

bool sm_drill_is_held(const sm_drill_run *run) {
    return run->held;
}

bool sm_drill_was_broken_off(const sm_drill_run *run) {
    return run->broken_off;
}

uint64_t sm_drill_seed(const sm_drill_run *run) {
    return run->options.seed;
}

bool sm_drill_event_came(const sm_drill_run *run, uint32_t event, sm_wall_time *at) {
    const trigger *t = drill_trigger_of(run, TRIGGER_EVENT, event);
    if (t->done)
        *at = t->at;
    return t->done;
}

bool sm_drill_is_over_by(const sm_log_row *row) {
    return row->source == SM_SOURCE_DRILL && row->kind.what == SM_LOG_MARK &&
           (strcmp(row->target, SCORE_MARK) == 0 || strcmp(row->target, NO_DRILL_MARK) == 0);
}

bool sm_drill_event_due(const sm_drill_run *run, uint32_t event, sm_wall_time *at) {
    const trigger *t = drill_trigger_of(run, TRIGGER_EVENT, event);
    if (t->based && !t->done)
        *at = t->due;
    return t->based && !t->done;
}

const char *sm_drill_crew(const sm_drill_run *run) {
    return run->crew;
}

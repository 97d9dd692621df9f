// SPDX-License-Identifier: GPL-3.0-or-later
#include "drill/run.h"

#include "slowmatch/json.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const char *sm_drill_question(unsigned index) {
    static const char *const questions[SM_DRILL_QUESTIONS] = {
        "What was meant to happen?",
        "What did you see, and when?",
        "Why did what you did seem right?",
        "What will you do next time?",
    };
    assert(index < SM_DRILL_QUESTIONS);
    return questions[index];
}

const char *sm_drill_caution(void) {
    return "Practice on a simulator; not a licence, qualification or permission to handle product.";
}

sm_result sm_drill_answer(sm_drill_run *run, unsigned index, const char *text, sm_wall_time at) {
    assert(index < SM_DRILL_QUESTIONS && run->over);
    sm_result result = sm_rehearsal_bring(run->rehearsal, at);
    const char *kept = sm_arena_text(run->texts, text, strlen(text));
    if (result != SM_OK || !kept)
        return SM_NO_MEMORY;
    run->answers[index] = kept;
    if (text[0] != '\0')
        sm_rehearsal_drill_row(run->rehearsal, (sm_log_kind){.act = SM_ACT_REMARK}, sm_drill_question(index),
                               text);
    return run->no_memory ? SM_NO_MEMORY : SM_OK;
}

static void seconds(sm_text *out, sm_us us) {
    char text[24];
    sm_us_format(text, us);
    sm_text_printf(out, "%.*s", (int)strlen(text) - 3, text); // to the millisecond
}

// ---- marks -----------------------------------------------------------------------------------------

static bool is_loss(const sm_drill_mark *mark) {
    return mark->kind == SM_MARK_NEVER || mark->kind == SM_MARK_RULE;
}

// What a trainee reads: a rule by its plain title, an expectation by what was to be done, the rest by its name in the file.
static void put_title(const sm_drill_run *run, const sm_drill_mark *mark, sm_text *out) {
    const sm_drill *d = run->drill;
    for (int rule = 0; mark->kind == SM_MARK_RULE && rule < SM_RULE_COUNT; rule++)
        if (strcmp(sm_drill_rule_of((sm_drill_rule)rule)->name, mark->name) == 0)
            sm_text_printf(out, "%s", sm_drill_rule_of((sm_drill_rule)rule)->title);
    for (uint32_t i = 0; mark->kind == SM_MARK_EXPECT && i < d->expect_count; i++) {
        const sm_action *asked = &d->expects[i].action;
        const char *name = sm_action_row_of(asked->act)->name;
        bool target = asked->target[0] != '\0' && !strchr(name, ' ');
        if (strcmp(d->expects[i].name, mark->name) == 0)
            sm_text_printf(out, "%s%s%s", name, target ? " " : "", target ? asked->target : "");
    }
    if (mark->kind != SM_MARK_RULE && mark->kind != SM_MARK_EXPECT)
        sm_text_printf(out, "%s", mark->name);
}

// The broken rule or `never` that costs most after COST and ROW; false: no more.
static bool next_worst(const sm_drill_run *run, int32_t *cost, uint32_t *row, sm_drill_mark *out) {
    uint32_t count = sm_drill_mark_count(run), found = SM_NONE;
    int32_t most = 0;
    for (uint32_t i = 0; i < count; i++) {
        sm_drill_mark mark = sm_drill_mark_at(run, i);
        bool later = -mark.got < *cost || (-mark.got == *cost && i > *row);
        if (!is_loss(&mark) || mark.got == 0 || !later || -mark.got <= most)
            continue;
        most = -mark.got;
        found = i;
    }
    if (found == SM_NONE)
        return false;
    *out = sm_drill_mark_at(run, found);
    *cost = most;
    *row = found;
    return true;
}

static bool is_deadly(const sm_drill_mark *mark) {
    return mark->kind == SM_MARK_RULE || mark->got <= -100;
}

// The deadliest first. Whoever did any of it has not passed.
static void write_worst(const sm_drill_run *run, sm_text *out) {
    int32_t cost = INT32_MAX;
    uint32_t row = 0;
    bool any = false;
    sm_drill_mark mark;
    while (next_worst(run, &cost, &row, &mark)) {
        if (!is_deadly(&mark))
            continue;
        char clock[24];
        sm_text_printf(out, any ? "  " : "\nWhat could have killed somebody, the worst first:\n  ");
        put_title(run, &mark, out);
        sm_text_printf(out, ", at %s (%d). %s\n", sm_clock_format(clock, mark.at.us - run->began_at.us),
                       mark.got, mark.say);
        any = true;
    }
}

static bool did_anything_deadly(const sm_drill_run *run) {
    bool any = false;
    for (uint32_t i = 0; i < sm_drill_mark_count(run); i++) {
        sm_drill_mark mark = sm_drill_mark_at(run, i);
        any = any || (is_loss(&mark) && mark.got < 0 && is_deadly(&mark));
    }
    return any;
}

static const char *words_asked(const sm_drill_run *run, const sm_drill_mark *mark) {
    for (uint32_t i = 0; mark->kind == SM_MARK_EXPECT && i < run->drill->expect_count; i++)
        if (strcmp(run->drill->expects[i].name, mark->name) == 0)
            return run->drill->expects[i].words;
    return "";
}

// Why it is as it is, in a row of its own.
static void write_why(const sm_drill_run *run, const sm_drill_mark *mark, sm_text *out) {
    bool short_of_it = is_loss(mark) ? mark->got < 0 : mark->got < mark->marks;
    if (mark->judged != 0)
        sm_text_printf(out, "      %s, by the instructor%s%s (computed: %d)\n",
                       mark->judged > 0 ? "yes" : "no", mark->reason[0] != '\0' ? ": " : "", mark->reason,
                       mark->computed);
    if (mark->kind == SM_MARK_EXPECT && !mark->came)
        sm_text_printf(out, "      it never came to that\n");
    else if (mark->unjudged)
        sm_text_printf(out, "      You said: \"%s\". Was that it? (no marks without an instructor) %s\n",
                       mark->heard ? mark->heard : "", mark->say);
    else if (short_of_it && mark->heard)
        sm_text_printf(out, "      You said: \"%s\"; asked for: %s. %s\n", mark->heard,
                       words_asked(run, mark), mark->say);
    else if (short_of_it && mark->say[0] != '\0')
        sm_text_printf(out, "      %s\n", mark->say);
}

static void write_mark(const sm_drill_run *run, const sm_drill_mark *mark, sm_text *out) {
    sm_text_printf(out, "  %-7s %-22s ", sm_mark_kind_text(mark->kind), mark->name);
    if (is_loss(mark))
        sm_text_printf(out, "%9d", mark->got);
    else if (mark->unjudged)
        sm_text_printf(out, "        -");
    else
        sm_text_printf(out, "%3d of %3d", mark->got, mark->marks);
    if (mark->took_us != SM_UNSET_US) {
        sm_text_printf(out, "  after ");
        seconds(out, mark->took_us);
        sm_text_printf(out, " s");
    }
    if (mark->before_asked)
        sm_text_printf(out, "  at once, before it was asked");
    if (mark->in_hold)
        sm_text_printf(out, "  at once, while the drill was held");
    sm_text_append(out, "\n", 1);
    write_why(run, mark, out);
}

static void write_marks(const sm_drill_run *run, sm_text *out) {
    sm_text_printf(out, "\nMarks\n");
    for (uint32_t i = 0; i < sm_drill_mark_count(run); i++) {
        sm_drill_mark mark = sm_drill_mark_at(run, i);
        write_mark(run, &mark, out);
    }
}

static int32_t lost_by(const sm_drill_mark *mark) {
    if (is_loss(mark))
        return -mark->got;
    return mark->unjudged || (mark->kind == SM_MARK_EXPECT && !mark->came) ? 0 : mark->marks - mark->got;
}

static void write_lesson(const sm_drill_run *run, const char *head, const sm_drill_mark *mark, sm_text *out) {
    sm_text_printf(out, "%s", head);
    put_title(run, mark, out);
    sm_text_printf(out, ". %s\n", mark->say);
}

// The best earned in full; the worst lost. Nothing is done well beside what could have killed somebody.
static void write_lessons(const sm_drill_run *run, sm_text *out) {
    sm_drill_mark best = {0}, worst = {0};
    uint32_t never_came = 0;
    for (uint32_t i = 0; i < sm_drill_mark_count(run); i++) {
        sm_drill_mark mark = sm_drill_mark_at(run, i);
        bool earned = !is_loss(&mark) && !mark.unjudged && mark.got == mark.marks;
        if (earned && mark.got > best.got)
            best = mark;
        if (lost_by(&mark) > (worst.name ? lost_by(&worst) : 0))
            worst = mark;
        never_came += mark.kind == SM_MARK_EXPECT && !mark.came;
    }
    sm_text_append(out, "\n", 1);
    if (best.name && !did_anything_deadly(run))
        write_lesson(run, "Done well:   ", &best, out);
    if (worst.name)
        write_lesson(run, "To practise: ", &worst, out);
    else if (never_came > 0)
        sm_text_printf(out, "To practise: the drill to its end; it did not come to %u of what it asks.\n",
                       never_came);
    else
        sm_text_printf(out, "To practise: the same again, aloud, with another crew.\n");
}

// Fewer are no distribution: the values stand as they are.
#define VALUES_FOR_PERCENTILES 5

static void put_times(double *values, uint32_t count, sm_text *out) {
    sm_text_printf(out, "\nYour stops: %u, reaction time ", count);
    if (count >= VALUES_FOR_PERCENTILES) {
        sm_text_printf(out, "median %.2f s, 90th percentile %.2f s (N + 1 method, NIST e-Handbook 7.2.6.2)\n",
                       sm_drill_percentile(values, count, 0.5), sm_drill_percentile(values, count, 0.9));
        return;
    }
    for (uint32_t i = 0; i < count; i++)
        sm_text_printf(out, "%s%.2f s", i > 0 ? ", " : "", values[i]);
    sm_text_append(out, "\n", 1);
}

static void write_reactions(const sm_drill_run *run, sm_text *out) {
    uint32_t room = run->drill->expect_count;
    sm_us *times = calloc(room + 1u, sizeof *times);
    double *values = calloc(room + 1u, sizeof *values);
    uint32_t count = times && values ? sm_drill_reactions(run, times, room) : 0;
    for (uint32_t i = 0; i < count; i++)
        values[i] = (double)times[i] / 1e6;
    uint32_t before = 0;
    for (uint32_t i = 0; i < room; i++)
        before += run->expects[i].decided && run->expects[i].before_asked &&
                  drill_is_stop(run->drill->expects[i].action.act);
    if (before > 0)
        sm_text_printf(out, "\nStops at once, before they were asked: %u (no reaction time)\n", before);
    if (count > 0)
        put_times(values, count, out);
    free(times);
    free(values);
}

// What the marks do not ask for, and what is so all the same when the drill ends.
static void write_left_behind(const sm_drill_run *run, sm_text *out) {
    const sm_facts *f = &run->ended_facts;
    sm_text left = {0};
    if (f->state != SM_STATE_SAFE)
        sm_text_printf(&left, "  the module is %s, not made safe\n", sm_state_text(f->state));
    if (f->key)
        sm_text_printf(&left, "  the key is on\n");
    if (f->people > 0)
        sm_text_printf(&left, "  in the field: %u\n", f->people);
    if (f->misfired_unreported > 0)
        sm_text_printf(&left, "  misfires that nobody has reported: %u\n", f->misfired_unreported);
    if (!drill_crew_has_answered(run) && f->clear_called)
        sm_text_printf(&left, "  clear stands, and not everyone is heard\n");
    if (left.length > 0 && run->over && !run->broken_off)
        sm_text_printf(out, "\nAs it was left, whether the drill asks for it or not:\n%s",
                       sm_text_get(&left));
    out->failed |= left.failed;
    sm_text_deinit(&left);
}

static void write_unjudged(const sm_drill_run *run, sm_text *out) {
    bool any = false;
    for (uint32_t i = 0; i < run->drill->spoken_count; i++) {
        if (run->spokens[i].decided)
            continue;
        if (!any)
            sm_text_printf(
                out, "\nDid you say it aloud, and was it read back? (no marks without an instructor)\n");
        any = true;
        sm_text_printf(out, "  \"%s\"\n", run->drill->spokens[i].words);
    }
}

// ---- the whole ---------------------------------------------------------------------------------------

static void write_answers(const sm_drill_run *run, sm_text *out) {
    bool any = false;
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++)
        any = any || run->answers[i];
    if (run->broken_off && !any)
        return;
    sm_text_printf(out, any ? "\nAsked before the debrief showed anything:\n"
                            : "\nBefore you read on, answer for yourself:\n");
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++) {
        sm_text_printf(out, "  %u. %s\n", i + 1, sm_drill_question(i));
        if (any)
            sm_text_printf(out, "     %s\n",
                           !run->answers[i]             ? "(not asked)"
                           : run->answers[i][0] == '\0' ? "(left empty)"
                                                        : run->answers[i]);
    }
}

// "lead J, spotter Kim, K"; only where somebody sits elsewhere.
static void put_crew(const sm_drill_run *run, sm_text *out) {
    sm_text_printf(out, " as the crew (lead%s%s", run->crew[0] != '\0' ? " " : "", run->crew);
    for (uint32_t i = 0; i < run->sitter_count; i++)
        sm_text_printf(out, ", %s%s%s", run->sitters[i].seat, run->sitters[i].who[0] != '\0' ? " " : "",
                       run->sitters[i].who);
    sm_text_printf(out, ")");
}

static const char *name_at(const sm_drill_run *run, const char *seat) {
    for (uint32_t i = 0; i < run->sitter_count; i++)
        if (sm_person_same(run->sitters[i].seat, seat))
            return run->sitters[i].who;
    return run->crew;
}

static void write_head(const sm_drill_run *run, sm_text *out) {
    const sm_drill *d = run->drill;
    bool crew = run->sitter_count > 0 && !run->one_part;
    const char *seat = run->one_part ? run->part_seat : sm_drill_seat_text(d->seat);
    const char *who = run->one_part ? name_at(run, seat) : run->crew;
    sm_text_printf(out, "REHEARSAL drill \"%s\"", d->title);
    if (crew)
        put_crew(run, out);
    else
        sm_text_printf(out, "%s%s as %s", who[0] != '\0' ? ", taken by " : "", who, seat);
    sm_text_printf(out, ", seed %llu, hints %s", (unsigned long long)run->options.seed,
                   sm_drill_hints_text(d->hints));
    if (run->hints_asked > 0)
        sm_text_printf(out, " (with hints: asked %u)", run->hints_asked);
    sm_text_printf(out, "\n%s\n", sm_drill_caution());
    if (!run->one_part || run->part == DRILL_LEAD)
        write_answers(run, out);
    write_worst(run, out);
}

// RUN as SEAT alone is looked at; it shares everything with RUN.
static sm_drill_run part_of(const sm_drill_run *run, const char *seat) {
    sm_drill_run part = *run;
    part.one_part = true;
    part.part_seat = seat;
    part.part = strcmp(seat, "lead") == 0         ? DRILL_LEAD
                : sm_person_same(seat, "spotter") ? DRILL_SPOTTER
                                                  : DRILL_OTHER;
    return part;
}

// What of a crew's score is whose.
static void write_parts(const sm_drill_run *run, sm_text *out) {
    static const char *const seats[] = {"lead", "spotter"};
    for (size_t i = 0; i < sizeof seats / sizeof seats[0]; i++) {
        const sm_drill_run part = part_of(run, seats[i]);
        sm_text_printf(out, "%s %s %d of 100", i == 0 ? "By part:" : ",", seats[i], sm_drill_score(&part));
    }
    sm_text_append(out, "\n", 1);
}

static void write_score(const sm_drill_run *run, sm_text *out) {
    const sm_drill *d = run->drill;
    char computed[48] = "";
    if (sm_drill_score_computed(run) != sm_drill_score(run))
        snprintf(computed, sizeof computed, " with the instructor's word (computed: %d)",
                 sm_drill_score_computed(run));
    if (run->broken_off)
        sm_text_printf(out, "\nNO DRILL: a real emergency ended it. No score.\n");
    else if (run->one_part && run->part == DRILL_OTHER)
        sm_text_printf(out, "\nThe file asks nothing of this seat: it has no score. The crew's counts.\n");
    else {
        sm_text_append(out, "\n", 1);
        if (!run->one_part && run->drill->seat == SM_SEAT_LEAD && drill_has_spotter(run))
            write_parts(run, out);
        sm_text_printf(out, "Score %d of 100%s; from %d on it has reached the drill's mark: %s%s\n",
                       sm_drill_score(run), computed, d->pass,
                       sm_drill_passed(run)              ? "reached"
                       : sm_drill_rules_broken(run) == 0 ? "not reached"
                                                         : "not reached, because a built-in rule was broken",
                       sm_drill_with_hints(run) ? ", with hints" : "");
    }
}

static void write_tail(const sm_drill_run *run, sm_text *out) {
    if (run->one_part && run->part == DRILL_OTHER) {
        write_left_behind(run, out);
        write_score(run, out);
        return;
    }
    write_marks(run, out);
    write_unjudged(run, out);
    write_left_behind(run, out);
    write_lessons(run, out);
    write_reactions(run, out);
    write_score(run, out);
}

static const char *kept_text(sm_arena *arena, void (*write)(const sm_drill_run *run, sm_text *out),
                             const sm_drill_run *run) {
    sm_text text = {0};
    write(run, &text);
    const char *kept = text.failed ? NULL : sm_arena_text(arena, sm_text_get(&text), text.length);
    sm_text_deinit(&text);
    return kept;
}

sm_result sm_debrief_create(const sm_drill_run *run, sm_debrief **out) {
    sm_arena *arena = sm_arena_create();
    sm_debrief *made = arena ? sm_arena_alloc(arena, sizeof *made) : NULL;
    if (made) {
        *made = (sm_debrief){.arena = arena, .broken_off = run->broken_off};
        for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++)
            made->asked |= (uint8_t)(run->answers[i] ? 1u << i : 0);
        made->head = kept_text(arena, write_head, run);
        made->tail = kept_text(arena, write_tail, run);
        made->steps = drill_steps(run, arena, &made->step_count);
    }
    if (!made || !made->head || !made->tail || !made->steps) {
        sm_arena_destroy(arena);
        return SM_NO_MEMORY;
    }
    *out = made;
    return SM_OK;
}

void sm_debrief_destroy(sm_debrief *debrief) {
    if (debrief)
        sm_arena_destroy(debrief->arena);
}

// ---- JSON --------------------------------------------------------------------------------------------

static const char *why_of(const sm_drill_mark *mark) {
    if (mark->judged != 0)
        return mark->reason;
    if (mark->unjudged)
        return "said; only an instructor can judge it";
    if (is_loss(mark) && mark->got == 0)
        return "kept";
    if (!is_loss(mark) && mark->got == mark->marks && mark->decided)
        return mark->before_asked             ? "at once, before it was asked"
               : mark->in_hold                ? "at once, while the drill was held"
               : mark->kind == SM_MARK_EXPECT ? "in time"
                                              : "in order";
    if (mark->kind == SM_MARK_EXPECT && !mark->came)
        return "what it answers never came";
    return mark->say;
}

void sm_drill_debrief_json(const sm_drill_run *run, sm_text *out) {
    for (uint32_t i = 0; i < sm_drill_mark_count(run); i++) {
        const sm_drill_mark mark = sm_drill_mark_at(run, i);
        sm_json json = {.out = out};
        sm_text took = {0};
        if (mark.took_us != SM_UNSET_US)
            seconds(&took, mark.took_us);
        sm_json_open(&json, NULL, '{');
        sm_json_text(&json, "name", mark.name);
        sm_json_text(&json, "kind", sm_mark_kind_text(mark.kind));
        sm_json_integer(&json, "marks", mark.marks);
        sm_json_integer(&json, "got", mark.got);
        if (mark.judged != 0) // beside what was computed, never instead of it
            sm_json_integer(&json, "computed", mark.computed);
        sm_json_plain(&json, "took", took.length > 0 ? sm_text_get(&took) : NULL);
        sm_json_text(&json, "why", why_of(&mark));
        sm_json_close(&json, '}');
        sm_text_append(out, "\n", 1);
        out->failed = out->failed || took.failed;
        sm_text_deinit(&took);
    }
    sm_json json = {.out = out};
    sm_json_open(&json, NULL, '{');
    sm_json_fixed(&json, "score", 0, run->broken_off ? (double)NAN : sm_drill_score(run));
    sm_json_bool(&json, "passed", !run->broken_off && sm_drill_passed(run));
    sm_json_close(&json, '}');
    sm_text_append(out, "\n", 1);
}

// ---- of one seat -----------------------------------------------------------------------------------

sm_result sm_debrief_create_for(const sm_drill_run *run, const char *seat, sm_debrief **out) {
    const sm_drill_run part = part_of(run, seat);
    return sm_debrief_create(&part, out);
}

bool sm_drill_debrief_json_for(const sm_drill_run *run, const char *seat, sm_text *out, int *score,
                               bool *passed) {
    const sm_drill_run part = part_of(run, seat);
    if (part.part == DRILL_OTHER)
        return false;
    sm_drill_debrief_json(&part, out);
    *score = sm_drill_score(&part);
    *passed = sm_drill_passed(&part);
    return true;
}

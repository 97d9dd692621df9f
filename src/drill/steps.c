// SPDX-License-Identifier: GPL-3.0-or-later
// A drill step by step: what happened, what was asked for by when, what was done and what that earned.
#include "drill/run.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

const char *sm_step_kind_text(sm_step_kind kind) {
    static const char *const texts[] = {
        [SM_STEP_EVENT] = "event", [SM_STEP_STATE] = "state",   [SM_STEP_ASKED] = "asked",
        [SM_STEP_SAID] = "said",   [SM_STEP_ACTION] = "action", [SM_STEP_MARK] = "mark"};
    static_assert(sizeof texts / sizeof texts[0] == SM_STEP_KIND_COUNT, "a word for each kind of step");
    assert((unsigned)kind < SM_STEP_KIND_COUNT);
    return texts[kind];
}

bool sm_step_is_own(sm_step_kind kind) {
    return kind == SM_STEP_ACTION || kind == SM_STEP_MARK;
}

// ---- words --------------------------------------------------------------------------------------

#define US_PER_MIN (60 * SM_US_PER_S)

static void put_span(sm_text *out, sm_us us) {
    if (us >= US_PER_MIN && us % US_PER_MIN == 0)
        sm_text_printf(out, "%lld min", (long long)(us / US_PER_MIN));
    else
        sm_text_printf(out, "%.1f s", (double)us / 1e6);
}

// An event that nobody could see is said all the same: now it may be known.
static void put_hidden(const sm_show *show, const sm_injection *in, sm_text *out) {
    char slot[48];
    switch (in->what) {
    case SM_INJECT_OPEN:
    case SM_INJECT_SHORT:
    case SM_INJECT_STRAY:
        sm_text_printf(out, "%s goes %s: only measuring tells", sm_slot_format(show, in->index, slot),
                       sm_inject_row_of(in->what)->name);
        break;
    case SM_INJECT_MENDED:
        sm_text_printf(out, "%s is good again", sm_slot_format(show, in->index, slot));
        break;
    case SM_INJECT_MISFIRE:
        sm_text_printf(out, "%s is a dud: only its moment tells", sm_slot_format(show, in->index, slot));
        break;
    case SM_INJECT_LATE:
        sm_text_printf(out, "%s will go ", sm_slot_format(show, in->index, slot));
        put_span(out, in->us);
        sm_text_printf(out, " late");
        break;
    case SM_INJECT_CALL:
        sm_text_printf(out, "%s: \"%s\"", in->who, in->text);
        break;
    case SM_INJECT_NO_ANSWER:
        sm_text_printf(out, "%s does not answer", in->who);
        break;
    case SM_INJECT_FALSE_CLEAR:
        sm_text_printf(out, "%s says \"Clear!\" without having looked", in->who);
        break;
    case SM_INJECT_MUSIC_OFF:
        sm_text_printf(out, "the music is off by ");
        put_span(out, in->us);
        break;
    default:
        sm_text_printf(out, "%s", in->text);
        break;
    }
}

static void put_event(const sm_drill *drill, const sm_drill_entry *e, sm_text *out) {
    for (uint32_t i = 0; drill && i < drill->event_count; i++) {
        const sm_injection *in = &drill->events[i].injection;
        if (strcmp(drill->events[i].name, e->target) != 0)
            continue;
        if (!sm_injection_tell(drill->show, in, out))
            put_hidden(drill->show, in, out);
        return;
    }
    sm_text_printf(out, "%s", e->detail);
}

static void put_words(const sm_drill_entry *e, sm_text *out) {
    sm_text_printf(out, "%s%s%s%s%s", sm_log_word(e->kind), e->target[0] != '\0' ? " " : "", e->target,
                   e->detail[0] != '\0' ? " " : "", e->detail);
}

static void put_action(const sm_drill_entry *e, sm_text *out) {
    if (e->seat && e->seat[0] != '\0')
        sm_text_printf(out, "%s: ", e->seat);
    if (e->kind.what == SM_LOG_REFUSED)
        sm_text_printf(out, "%s REFUSED: %s", e->target, e->detail);
    else if (e->kind.what == SM_LOG_UNPAIRED)
        sm_text_printf(out, "%s by remote %s, which is not paired: not obeyed", e->target, e->detail);
    else if (sm_log_is_act(e->kind, SM_ACT_GO_DRILL))
        sm_text_printf(out, "ready: the drill goes on");
    else
        put_words(e, out);
}

static void put_said(const sm_drill_entry *e, sm_text *out) {
    if (sm_log_is_act(e->kind, SM_ACT_CALL))
        sm_text_printf(out, "%s: \"%s\"", e->target, e->detail);
    else if (sm_log_is_act(e->kind, SM_ACT_REMARK))
        sm_text_printf(out, "instructor: \"%s\"", e->target);
    else {
        sm_text_printf(out, "%s: ",
                       e->source == SM_SOURCE_INSTRUCTOR                   ? "instructor"
                       : e->source == SM_SOURCE_SEAT && e->seat[0] != '\0' ? e->seat
                                                                           : "lead");
        put_words(e, out);
    }
}

static void put_engine(const sm_drill_entry *e, sm_text *out) {
    if (e->source == SM_SOURCE_DRILL) { // the lead's part in the spotter's drill
        sm_text_printf(out, "lead: ");
        put_words(e, out);
    } else if (e->kind.what == SM_LOG_STATE)
        sm_text_printf(out, "module %s", e->target);
    else if (e->kind.what == SM_LOG_MISFIRE)
        sm_text_printf(out, "%s misfires: %s", e->target, e->detail);
    else
        put_words(e, out);
}

// ---- one step -----------------------------------------------------------------------------------

// RUN NULL: only its entries are at hand.
static sm_step_kind kind_of(const sm_drill_run *run, const sm_drill_entry *e) {
    if (run && drill_is_trainee(e->source) && !drill_is_own(run, e))
        return SM_STEP_SAID;
    switch (e->source) {
    case SM_SOURCE_DRILL:
        return e->kind.what == SM_LOG_EVENT          ? SM_STEP_EVENT
               : e->kind.what == SM_LOG_MARK         ? SM_STEP_MARK
               : sm_log_is_act(e->kind, SM_ACT_CALL) ? SM_STEP_SAID
                                                     : SM_STEP_STATE;
    case SM_SOURCE_INSTRUCTOR:
        return SM_STEP_SAID;
    case SM_SOURCE_ENGINE:
        return SM_STEP_STATE;
    default:
        return SM_STEP_ACTION;
    }
}

static uint32_t expect_named(const sm_drill *drill, const char *name) {
    for (uint32_t i = 0; i < drill->expect_count; i++)
        if (strcmp(drill->expects[i].name, name) == 0)
            return i;
    return SM_NONE;
}

// "-100", or fewer than all.
static bool is_lost(const sm_drill_mark *mark, const char *detail) {
    int got = 0, of = 0;
    if (mark->took_us != SM_UNSET_US)
        return mark->got < mark->marks;
    int read = sscanf(detail, "%d of %d", &got, &of);
    return read == 2 ? got < of : read == 1 && got < 0;
}

// "key-out: 12 of 20, after 18.0 s, 6.0 s LATE; alert then: WARNING IN FIELD 1: K"
static void put_mark(const sm_drill_run *run, const sm_drill_entry *e, sm_drill_step *step, sm_text *out) {
    uint32_t i = run ? expect_named(run->drill, e->target) : SM_NONE;
    sm_drill_mark mark =
        i != SM_NONE ? sm_drill_expect_mark(run, i) : (sm_drill_mark){.took_us = SM_UNSET_US};
    if (mark.took_us == SM_UNSET_US) {
        sm_text_printf(out, "%s: %s", e->target, e->detail);
    } else {
        step->within_us = run->drill->expects[i].within_us;
        step->took_us = mark.took_us;
        sm_text_printf(out, "%s: %d of %d, after ", e->target, mark.got, mark.marks);
        put_span(out, mark.took_us);
        if (mark.took_us > step->within_us) {
            sm_text_printf(out, ", ");
            put_span(out, mark.took_us - step->within_us);
            sm_text_printf(out, " LATE");
        }
    }
    if (e->alert && is_lost(&mark, e->detail))
        sm_text_printf(out, "; alert then: %s", e->alert);
}

typedef struct maker {
    const sm_drill_run *run; // NULL: only its entries are at hand
    sm_wall_time began_at;
    sm_arena *arena;
    sm_drill_step *steps;
    uint32_t count;
    sm_state state;
    bool key, failed;
} maker;

static void add(maker *m, sm_wall_time at, sm_step_kind kind, const char *name, sm_drill_step step,
                const sm_text *text) {
    step.at_us = at.us - m->began_at.us;
    step.kind = kind;
    step.name = sm_arena_text(m->arena, name, strlen(name));
    step.text = sm_arena_text(m->arena, sm_text_get(text), text->length);
    step.state = m->state;
    step.key = m->key;
    m->failed |= text->failed || !step.name || !step.text;
    m->steps[m->count++] = step;
}

static void follow(maker *m, const sm_drill_entry *e) {
    if (e->kind.what == SM_LOG_STATE)
        m->state = e->kind.state;
    if (sm_log_is_act(e->kind, SM_ACT_KEY_ON) || sm_log_is_act(e->kind, SM_ACT_KEY_OFF))
        m->key = e->kind.act == SM_ACT_KEY_ON;
}

// NAME is a mark of whoever is looked at.
static bool has_mark(const sm_drill_run *run, const char *name) {
    for (uint32_t i = 0; i < sm_drill_mark_count(run); i++)
        if (strcmp(sm_drill_mark_at(run, i).name, name) == 0)
            return true;
    return false;
}

static void add_entry(maker *m, const sm_drill_entry *e) {
    sm_step_kind kind = kind_of(m->run, e);
    if (kind == SM_STEP_MARK && m->run && m->run->one_part && !has_mark(m->run, e->target))
        return; // somebody else's
    sm_drill_step step = {.within_us = SM_UNSET_US, .took_us = SM_UNSET_US};
    sm_text text = {0};
    follow(m, e);
    if (kind == SM_STEP_EVENT)
        put_event(m->run ? m->run->drill : NULL, e, &text);
    else if (kind == SM_STEP_MARK)
        put_mark(m->run, e, &step, &text);
    else if (kind == SM_STEP_SAID)
        put_said(e, &text);
    else if (kind == SM_STEP_ACTION)
        put_action(e, &text);
    else
        put_engine(e, &text);
    bool named = kind == SM_STEP_EVENT || kind == SM_STEP_MARK;
    add(m, e->at, kind, named ? e->target : sm_log_word(e->kind), step, &text);
    sm_text_deinit(&text);
}

static void add_asked(maker *m, uint32_t i) {
    const sm_drill_expect *expect = &m->run->drill->expects[i];
    const sm_wall_time at = drill_trigger_of(m->run, TRIGGER_EXPECT, i)->at;
    sm_drill_step step = {.within_us = expect->within_us, .took_us = SM_UNSET_US};
    const sm_action_row *row = sm_action_row_of(expect->action.act);
    bool has_target = expect->action.target[0] != '\0' && !strchr(row->name, ' ');
    char by[24];
    sm_text text = {0};
    sm_text_printf(&text, "asked: %s%s%s within ", row->name, has_target ? " " : "",
                   has_target ? expect->action.target : "");
    put_span(&text, expect->within_us);
    sm_text_printf(&text, ", by %s (%s)", sm_clock_format(by, at.us + expect->within_us - m->began_at.us),
                   expect->name);
    add(m, at, SM_STEP_ASKED, expect->name, step, &text);
    sm_text_deinit(&text);
}

// ---- in order -----------------------------------------------------------------------------------

// E comes before an expectation that opens at AT: earlier, or its cause at the same instant.
static bool comes_first(const maker *m, const sm_drill_entry *e, sm_us at_us) {
    sm_step_kind kind = kind_of(m->run, e);
    return e->at.us < at_us || (e->at.us == at_us && !sm_step_is_own(kind));
}

// Of the expectations that opened before entry E and are not among the steps yet, the one that opened first. SM_NONE: none.
static uint32_t next_asked(const maker *m, const bool *is_in, const sm_drill_entry *e) {
    uint32_t next = SM_NONE;
    for (uint32_t i = 0; i < m->run->drill->expect_count; i++) {
        const trigger *t = drill_trigger_of(m->run, TRIGGER_EXPECT, i);
        bool asked = !m->run->one_part || has_mark(m->run, m->run->drill->expects[i].name);
        if (is_in[i] || !t->done || !asked || (e && comes_first(m, e, t->at.us)))
            continue;
        if (next == SM_NONE || t->at.us < drill_trigger_of(m->run, TRIGGER_EXPECT, next)->at.us)
            next = i;
    }
    return next;
}

static void add_asked_before(maker *m, bool *is_in, const sm_drill_entry *e) {
    for (uint32_t i = next_asked(m, is_in, e); i != SM_NONE; i = next_asked(m, is_in, e)) {
        is_in[i] = true;
        add_asked(m, i);
    }
}

// The score stands at the very end, never among the steps.
static bool is_score(const sm_drill_entry *e) {
    return e->kind.what == SM_LOG_MARK && strcmp(e->target, "score") == 0;
}

// Of what came after the end only remarks count.
static bool is_step(const sm_drill_run *run, uint32_t i) {
    const sm_drill_entry *e = &run->entries[i];
    if (run->over && i >= run->ended_entries)
        return e->source == SM_SOURCE_INSTRUCTOR && sm_log_is_act(e->kind, SM_ACT_REMARK);
    return !is_score(e);
}

sm_drill_step *drill_steps(const sm_drill_run *run, sm_arena *arena, uint32_t *count) {
    const uint32_t most = run->entry_count + run->drill->expect_count + 1;
    maker m = {.run = run, .began_at = run->began_at, .arena = arena};
    bool *is_in = sm_arena_alloc(arena, (run->drill->expect_count + 1u) * sizeof *is_in);
    m.steps = sm_arena_alloc(arena, most * sizeof *m.steps);
    if (!is_in || !m.steps)
        return NULL;
    memset(is_in, 0, (run->drill->expect_count + 1u) * sizeof *is_in);
    for (uint32_t i = 0; i < run->entry_count; i++) {
        if (!is_step(run, i))
            continue;
        add_asked_before(&m, is_in, &run->entries[i]);
        add_entry(&m, &run->entries[i]);
    }
    add_asked_before(&m, is_in, NULL);
    *count = m.count;
    return m.failed ? NULL : m.steps;
}

sm_result sm_drill_steps_of(const sm_drill_entry *entries, uint32_t count, sm_arena *arena,
                            const sm_drill_step **out, uint32_t *step_count) {
    maker m = {.arena = arena, .steps = sm_arena_alloc(arena, (count + 1u) * sizeof *m.steps)};
    bool began = false;
    if (!m.steps)
        return SM_NO_MEMORY;
    for (uint32_t i = 0; i < count && !began; i++)
        if (sm_log_is_act(entries[i].kind, SM_ACT_GO_DRILL)) {
            m.began_at = entries[i].at;
            began = true;
        }
    for (uint32_t i = 0; i < count && !is_score(&entries[i]); i++)
        add_entry(&m, &entries[i]);
    if (m.failed)
        return SM_NO_MEMORY;
    *out = m.steps;
    *step_count = m.count;
    return SM_OK;
}

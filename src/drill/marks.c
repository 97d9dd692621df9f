// SPDX-License-Identifier: GPL-3.0-or-later
#include "drill/run.h"

#include <assert.h>

const char *sm_drill_hints_text(sm_drill_hints hints) {
    static const char *const texts[] = {
        [SM_HINTS_FULL] = "full", [SM_HINTS_ASKED] = "asked", [SM_HINTS_NONE] = "none"};
    static_assert(sizeof texts / sizeof texts[0] == SM_HINTS_COUNT, "a word for each way of hints");
    assert((unsigned)hints < SM_HINTS_COUNT);
    return texts[hints];
}

const char *sm_mark_kind_text(sm_mark_kind kind) {
    static const char *const texts[] = {[SM_MARK_EXPECT] = "expect",
                                        [SM_MARK_BEFORE] = "before",
                                        [SM_MARK_NEVER] = "never",
                                        [SM_MARK_SPOKEN] = "spoken",
                                        [SM_MARK_RULE] = "rule"};
    static_assert(sizeof texts / sizeof texts[0] == SM_MARK_KIND_COUNT, "a word for each kind of mark");
    assert((unsigned)kind < SM_MARK_KIND_COUNT);
    return texts[kind];
}

// ---- which marks there are ------------------------------------------------------------------

typedef struct row_of {
    sm_mark_kind kind;
    uint32_t row, part; // part: of a rule
} row_of;

static bool is_looked_at(const sm_drill_run *run, drill_role part) {
    return !run->one_part || run->part == part;
}

static bool is_there(const sm_drill_run *run, const row_of *at) {
    const sm_drill *d = run->drill;
    const sm_drill_expect *e = &d->expects[at->row];
    switch (at->kind) {
    case SM_MARK_EXPECT:
        return drill_counts(run, e->seat) && is_looked_at(run, drill_role_of(run, e->seat, e->action.act));
    case SM_MARK_BEFORE:
        return is_looked_at(run, drill_role_of(run, d->befores[at->row].seat, SM_ACT_COUNT));
    case SM_MARK_NEVER:
        return drill_counts(run, d->nevers[at->row].seat) &&
               is_looked_at(run, drill_role_of(run, d->nevers[at->row].seat, SM_ACT_COUNT));
    case SM_MARK_SPOKEN:
        return run->spokens[at->row].decided &&
               is_looked_at(run, drill_role_of(run, d->spokens[at->row].seat, SM_ACT_COUNT));
    default:
        return run->rules[at->part][at->row].decided && is_looked_at(run, (drill_role)at->part);
    }
}

// The next of all rows after AT, in the order of the marks. False: no more.
static bool next_row(const sm_drill_run *run, row_of *at) {
    const sm_drill *d = run->drill;
    const uint32_t counts[] = {[SM_MARK_EXPECT] = d->expect_count,
                               [SM_MARK_BEFORE] = d->before_count,
                               [SM_MARK_NEVER] = d->never_count,
                               [SM_MARK_SPOKEN] = d->spoken_count,
                               [SM_MARK_RULE] = SM_RULE_COUNT};
    static_assert(sizeof counts / sizeof counts[0] == SM_MARK_KIND_COUNT, "a count for each kind");
    for (;;) {
        at->row++;
        if (at->row < counts[at->kind])
            return true;
        at->row = SM_NONE; // before the first
        if (at->kind == SM_MARK_RULE && ++at->part == SM_SEAT_COUNT)
            return false;
        if (at->kind != SM_MARK_RULE)
            at->kind++;
    }
}

uint32_t sm_drill_mark_count(const sm_drill_run *run) {
    uint32_t count = 0;
    for (row_of at = {.row = SM_NONE}; next_row(run, &at);)
        count += is_there(run, &at);
    return count;
}

static uint32_t rules_broken(const sm_drill_run *run) {
    uint32_t count = 0;
    for (row_of at = {.kind = SM_MARK_RULE, .row = SM_NONE}; next_row(run, &at);)
        count += is_there(run, &at);
    return count;
}

// ---- a mark ---------------------------------------------------------------------------------

static sm_drill_mark mark_of(sm_mark_kind kind, const char *name, int32_t marks, const char *say,
                             const verdict *v) {
    bool loses = kind == SM_MARK_NEVER || kind == SM_MARK_RULE;
    int32_t computed = v->decided ? v->got : 0;
    int32_t yes = loses ? 0 : marks, no = loses ? -marks : 0;
    return (sm_drill_mark){.name = name,
                           .kind = kind,
                           .marks = marks,
                           .got = v->judged == 0  ? computed
                                  : v->judged > 0 ? yes
                                                  : no,
                           .computed = computed,
                           .judged = v->judged,
                           .reason = v->reason,
                           .came = v->decided,
                           .decided = v->decided,
                           .within_us = SM_UNSET_US,
                           .took_us = kind == SM_MARK_EXPECT && v->decided ? v->took_us : SM_UNSET_US,
                           .before_asked = v->decided && v->before_asked,
                           .in_hold = v->decided && v->in_hold,
                           .wordless = v->decided && v->unjudged,
                           .unjudged = v->decided && v->unjudged && v->judged == 0,
                           .heard = v->heard,
                           .at = {v->decided ? v->at.us : SM_UNSET_US},
                           .say = say};
}

sm_drill_mark sm_drill_expect_mark(const sm_drill_run *run, uint32_t expect) {
    const sm_drill_expect *e = &run->drill->expects[expect];
    sm_drill_mark mark = mark_of(SM_MARK_EXPECT, e->name, e->marks, e->say, &run->expects[expect]);
    mark.within_us = e->within_us;
    mark.came = drill_trigger_of(run, TRIGGER_EXPECT, expect)->done;
    return mark;
}

static sm_drill_mark mark_at(const sm_drill_run *run, const row_of *at) {
    const sm_drill *d = run->drill;
    const sm_drill_before *b = &d->befores[at->row];
    const sm_drill_never *n = &d->nevers[at->row];
    const sm_drill_spoken *s = &d->spokens[at->row];
    switch (at->kind) {
    case SM_MARK_EXPECT:
        return sm_drill_expect_mark(run, at->row);
    case SM_MARK_BEFORE:
        return mark_of(SM_MARK_BEFORE, b->name, b->marks, b->say, &run->befores[at->row]);
    case SM_MARK_NEVER:
        return mark_of(SM_MARK_NEVER, n->name, n->marks, n->say, &run->nevers[at->row]);
    case SM_MARK_SPOKEN:
        return mark_of(SM_MARK_SPOKEN, s->name, s->marks, s->say, &run->spokens[at->row]);
    default:
        break;
    }
    const sm_drill_rule_row *rule = sm_drill_rule_of((sm_drill_rule)at->row);
    return mark_of(SM_MARK_RULE, rule->name, rule->cost, rule->say, &run->rules[at->part][at->row]);
}

sm_drill_mark sm_drill_mark_at(const sm_drill_run *run, uint32_t index) {
    row_of at = {.row = SM_NONE};
    assert(index < sm_drill_mark_count(run));
    for (bool any = true; any && next_row(run, &at);)
        any = !is_there(run, &at) || index-- > 0;
    return mark_at(run, &at);
}

static int score_of(const sm_drill_run *run, bool computed) {
    int64_t all = 0, earned = 0, lost = 0;
    uint32_t count = sm_drill_mark_count(run);
    for (uint32_t i = 0; i < count; i++) {
        sm_drill_mark mark = sm_drill_mark_at(run, i);
        if (mark.kind == SM_MARK_NEVER || mark.kind == SM_MARK_RULE) {
            lost -= computed ? mark.computed : mark.got;
        } else if (computed ? !mark.wordless : !mark.unjudged) {
            all += mark.marks;
            earned += computed ? mark.computed : mark.got;
        }
    }
    int64_t score = (all > 0 ? 100 * earned / all : 100) - lost;
    return score < 0 ? 0 : score > 100 ? 100 : (int)score;
}

int sm_drill_score(const sm_drill_run *run) {
    return score_of(run, false);
}

int sm_drill_score_computed(const sm_drill_run *run) {
    return score_of(run, true);
}

uint32_t sm_drill_rules_broken(const sm_drill_run *run) {
    return rules_broken(run);
}

bool sm_drill_passed(const sm_drill_run *run) {
    return !run->broken_off && sm_drill_rules_broken(run) == 0 && sm_drill_score(run) >= run->drill->pass;
}

bool sm_drill_with_hints(const sm_drill_run *run) {
    return run->hints_asked > 0 || run->drill->hints == SM_HINTS_FULL;
}

bool sm_drill_was_left(const sm_drill_run *run) {
    if (!run->over || run->broken_off || drill_trigger_of(run, TRIGGER_ENDS, 0)->done)
        return false;
    bool all_done = true; // then nothing was left undone
    for (uint32_t i = 0; i < run->drill->expect_count; i++)
        all_done = all_done && (run->expects[i].got == run->drill->expects[i].marks ||
                                !drill_counts(run, run->drill->expects[i].seat));
    return !all_done;
}

uint32_t sm_drill_reactions(const sm_drill_run *run, sm_us *out, uint32_t room) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < run->drill->expect_count && count < room; i++) {
        sm_act act = run->drill->expects[i].action.act;
        bool stop = act == SM_ACT_PAUSE || act == SM_ACT_SAFE || act == SM_ACT_KEY_OFF;
        if (stop && run->expects[i].decided && run->expects[i].took_us != SM_UNSET_US)
            out[count++] = run->expects[i].took_us;
    }
    return count;
}

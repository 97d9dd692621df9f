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

static uint32_t decided_of(const verdict *verdicts, uint32_t count) {
    uint32_t decided = 0;
    for (uint32_t i = 0; i < count; i++)
        decided += verdicts[i].decided;
    return decided;
}

// Row of the INDEXth that was decided.
static uint32_t decided_at(const verdict *verdicts, uint32_t index) {
    uint32_t row = 0;
    for (;; row++)
        if (verdicts[row].decided && index-- == 0)
            return row;
}

uint32_t sm_drill_mark_count(const sm_drill_run *run) {
    const sm_drill *d = run->drill;
    return d->expect_count + d->before_count + d->never_count + decided_of(run->spokens, d->spoken_count) +
           decided_of(run->rules, SM_RULE_COUNT);
}

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

sm_drill_mark sm_drill_mark_at(const sm_drill_run *run, uint32_t index) {
    const sm_drill *d = run->drill;
    assert(index < sm_drill_mark_count(run));
    if (index < d->expect_count) {
        const sm_drill_expect *e = &d->expects[index];
        sm_drill_mark mark = mark_of(SM_MARK_EXPECT, e->name, e->marks, e->say, &run->expects[index]);
        mark.within_us = e->within_us;
        mark.came = drill_trigger_of(run, TRIGGER_EXPECT, index)->done;
        return mark;
    }
    index -= d->expect_count;
    if (index < d->before_count) {
        const sm_drill_before *b = &d->befores[index];
        return mark_of(SM_MARK_BEFORE, b->name, b->marks, b->say, &run->befores[index]);
    }
    index -= d->before_count;
    if (index < d->never_count) {
        const sm_drill_never *n = &d->nevers[index];
        return mark_of(SM_MARK_NEVER, n->name, n->marks, n->say, &run->nevers[index]);
    }
    index -= d->never_count;
    uint32_t spoken = decided_of(run->spokens, d->spoken_count);
    if (index < spoken) {
        uint32_t row = decided_at(run->spokens, index);
        const sm_drill_spoken *s = &d->spokens[row];
        return mark_of(SM_MARK_SPOKEN, s->name, s->marks, s->say, &run->spokens[row]);
    }
    uint32_t row = decided_at(run->rules, index - spoken);
    const sm_drill_rule_row *rule = sm_drill_rule_of((sm_drill_rule)row);
    return mark_of(SM_MARK_RULE, rule->name, rule->cost, rule->say, &run->rules[row]);
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
    return decided_of(run->rules, SM_RULE_COUNT);
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
        all_done = all_done && run->expects[i].got == run->drill->expects[i].marks;
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

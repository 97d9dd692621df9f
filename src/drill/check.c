// SPDX-License-Identifier: GPL-3.0-or-later
// Whether all that a drill asks for can be earned. A player takes it who knows the file: it does what the hint says, with the arguments
// that the file asks for, breaks no built-in rule, and in later tries leaves its way at random. A run with 100 is a proof; where none is
// found, each mark that no run earned is told with what stood in its way.
#include "drill/run.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TRIES 60
#define STEPS 700
#define US_PER_MS 1000

typedef struct player {
    const sm_drill *drill;
    sm_drill_run *run;
    uint64_t random; // 0: keeps to the way
    sm_us now_us;
    char inside[96]; // who was sent in last
    sm_text script;
} player;

// ---- arguments ------------------------------------------------------------------------------------

// The first alternative of each group that may be said.
static void put_words(const char *words, sm_text *out) {
    for (const char *at = words; *at != '\0';) {
        at += strspn(at, " ,");
        size_t group = strcspn(at, ",");
        if (at[0] != '!')
            sm_text_printf(out, "%s%.*s", out->length > 0 ? " " : "", (int)strcspn(at, "/,"), at);
        at += group;
    }
    if (out->length == 0)
        sm_text_printf(out, "heard");
}

static const sm_drill_expect *open_for(const player *p, sm_act act) {
    for (uint32_t i = 0; i < p->drill->expect_count; i++) {
        const trigger *t = drill_trigger_of(p->run, TRIGGER_EXPECT, i);
        if (t->done && !p->run->expects[i].decided && p->drill->expects[i].action.act == act)
            return &p->drill->expects[i];
    }
    return NULL;
}

// What the file gives ACT as its target: where it is asked for now, else where an order needs it.
static const char *target_of(const player *p, sm_act act) {
    const sm_drill_expect *open = open_for(p, act);
    if (open && open->action.target[0] != '\0')
        return open->action.target;
    const bool *came = p->run->need_came;
    for (uint32_t i = 0; i < p->drill->before_count; came += p->drill->befores[i++].need_count)
        for (uint32_t n = 0; n < p->drill->befores[i].need_count; n++) {
            const sm_action *need = &p->drill->befores[i].needs[n];
            if (!p->run->befores[i].decided && need->act == act && !came[n] && need->target[0] != '\0')
                return need->target;
        }
    return "";
}

static const char *rail_that_is(const player *p, bool plugged) {
    const sm_show *show = p->drill->show;
    for (uint32_t rail = 0; rail < show->rail_count; rail++)
        if (sm_rail_in_use(show, rail) && sm_rehearsal_plugged(p->run->rehearsal, rail) == plugged)
            return show->rails[rail].name;
    return "";
}

static const char *unheard(const player *p) {
    for (uint32_t i = 0; i < p->drill->answer_count; i++)
        if (!p->run->answered[i])
            return p->drill->answers[i];
    return "";
}

static void put_argument(const player *p, sm_act act, sm_text *out) {
    const sm_drill_expect *open = open_for(p, act);
    const char *given = target_of(p, act);
    const char *crew = p->drill->answer_count > 0 ? p->drill->answers[0] : "K";
    switch (act) {
    case SM_ACT_ANSWER:
    case SM_ACT_NOTE:
        put_words(open ? open->words : "", out);
        break;
    case SM_ACT_WIND:
        sm_text_printf(out, "%.3g m/s", p->run->wind_shown_m_s > 0 ? p->run->wind_shown_m_s : 1.0);
        break;
    case SM_ACT_ASK:
        sm_text_printf(out, "%s", unheard(p));
        break;
    case SM_ACT_LEAVE:
        sm_text_printf(out, "%s", p->inside[0] != '\0' ? p->inside : crew);
        break;
    case SM_ACT_ENTER:
    case SM_ACT_CALL_CLEAR:
        sm_text_printf(out, "%s", given[0] != '\0' ? given : crew);
        break;
    case SM_ACT_PLUG:
    case SM_ACT_UNPLUG:
        sm_text_printf(out, "%s", given[0] != '\0' ? given : rail_that_is(p, act == SM_ACT_UNPLUG));
        break;
    default:
        sm_text_printf(out, "%s", strchr(sm_action_row_of(act)->name, ' ') ? "" : given);
        break;
    }
}

// ---- playing ----------------------------------------------------------------------------------------

static sm_result act_on(player *p, sm_act act) {
    sm_text line = {0}, argument = {0};
    sm_action action;
    char why[200];
    size_t at;
    put_argument(p, act, &argument);
    sm_text_printf(&line, "%s%s%s", sm_action_row_of(act)->name, argument.length > 0 ? " " : "",
                   sm_text_get(&argument));
    sm_result result = SM_OK;
    bool fine = sm_action_read(p->drill->show, sm_text_get(&line), line.length, &action, why, &at) == SM_OK;
    const sm_facts facts = sm_rehearsal_facts(p->run->rehearsal);
    bool breaks = fine && (sm_action_row_of(act)->states & 1u << facts.state) != 0 &&
                  drill_rules_broken(p->run, &action, &facts) != 0;
    bool waits =
        act == SM_ACT_ENTER && facts.state == SM_STATE_SAFE && !facts.key && facts.misfired_unreported == 0;
    if (breaks && waits) {
        action = (sm_action){.act = SM_ACT_PASS_TIME, .index = SM_NONE};
        sm_text_deinit(&line);
        line = (sm_text){0};
        sm_text_printf(&line, "pass-time");
        breaks = false;
    }
    if (fine && !breaks) {
        result = sm_drill_act(p->run, &action, SM_SOURCE_SCRIPT, (sm_wall_time){p->now_us});
        if (act == SM_ACT_ENTER && result == SM_OK)
            snprintf(p->inside, sizeof p->inside, "%s", action.target);
        if (result == SM_OK)
            sm_text_printf(&p->script, "%.3f %s\n", (double)p->now_us / 1e6, sm_text_get(&line));
    }
    p->script.failed |= line.failed || argument.failed;
    sm_text_deinit(&line);
    sm_text_deinit(&argument);
    return result == SM_REFUSED ? SM_OK : result;
}

// Off the way: something that the file asks for anywhere.
static sm_act stray(player *p) {
    uint64_t drawn = sm_drill_random(&p->random);
    const sm_drill *d = p->drill;
    if (drawn % 4 != 0 || d->expect_count + d->before_count == 0)
        return SM_ACT_COUNT;
    uint32_t chosen = (uint32_t)((drawn >> 8) % (d->expect_count + d->before_count));
    if (chosen < d->expect_count)
        return d->expects[chosen].action.act;
    const sm_drill_before *before = &d->befores[chosen - d->expect_count];
    uint32_t need = (uint32_t)((drawn >> 40) % (before->need_count + 1u));
    return need < before->need_count ? before->needs[need].act : before->action.act;
}

// What has to come first: nobody leaves who has not entered, and nothing is armed or started but by the usual way.
static sm_act first_of(const player *p, sm_act act) {
    const sm_facts facts = sm_rehearsal_facts(p->run->rehearsal);
    sm_act step = SM_ACT_COUNT;
    if (act == SM_ACT_LEAVE && facts.people == 0)
        return SM_ACT_ENTER;
    if (act == SM_ACT_KEY_ON || act == SM_ACT_ARM || act == SM_ACT_START)
        step = drill_step_to_running(p->run);
    return step == SM_ACT_COUNT ? act : step;
}

static sm_result play(player *p) {
    sm_result result = SM_OK;
    for (int step = 0; step < STEPS && result == SM_OK && !p->run->over; step++) {
        char hint[240];
        // Odd steps, so that no action falls on the very instant of an event that it waits for.
        p->now_us += p->random == 0 ? (sm_us)1013 * US_PER_MS
                                    : (500 + (sm_us)(sm_drill_random(&p->random) % 3000)) * US_PER_MS;
        result = sm_drill_run_to(p->run, (sm_wall_time){p->now_us});
        sm_act act = sm_drill_hint(p->run, hint);
        sm_act other = p->random != 0 ? stray(p) : SM_ACT_COUNT;
        act = other != SM_ACT_COUNT ? other : act;
        if (act == SM_ACT_QUIT)
            break;
        if (result == SM_OK && act != SM_ACT_COUNT)
            result = act_on(p, first_of(p, act));
    }
    return result == SM_OK ? sm_drill_finish(p->run, (sm_wall_time){p->now_us}) : result;
}

// ---- what stands in the way ---------------------------------------------------------------------------

static const char *punished_by(const sm_drill *d, const sm_action *asked) {
    for (uint32_t i = 0; i < d->never_count; i++)
        if (d->nevers[i].states == (1u << SM_STATE_COUNT) - 1u && d->nevers[i].marks > 0 &&
            sm_action_matches(&d->nevers[i].action, asked))
            return d->nevers[i].name;
    return NULL;
}

static bool needs_itself(const sm_drill_before *before) {
    for (uint32_t n = 0; n < before->need_count; n++)
        if (before->needs[n].act == before->action.act &&
            strcmp(before->needs[n].target, before->action.target) == 0)
            return true;
    return false;
}

static void tell(const sm_drill *d, const char *file, uint32_t line, const char *name, const char *why,
                 sm_findings *findings) {
    sm_findings_add(findings, file, line, 2, SM_ERROR, "drill-unearned", "%s as %s: %s", name,
                    sm_drill_seat_text(d->seat), why);
}

static void tell_expect(const sm_drill *d, const char *file, uint32_t i, bool came, sm_findings *findings) {
    const sm_drill_expect *x = &d->expects[i];
    const char *never = punished_by(d, &x->action), *not_theirs = sm_drill_not_theirs(d, x->action.act);
    char why[240];
    if (not_theirs)
        snprintf(why, sizeof why, "the seat forbids it: %s", not_theirs);
    else if (sm_drill_is_instructors(x->action.act))
        snprintf(why, sizeof why, "%s is the instructor's", sm_action_row_of(x->action.act)->name);
    else if (never)
        snprintf(why, sizeof why, "[never %s] takes marks for it in every state", never);
    else if (!came)
        snprintf(why, sizeof why, "what it comes after never came in %d runs", TRIES);
    else
        snprintf(why, sizeof why,
                 "it came, and no run of %d earned all its marks: is the time too short, or does a "
                 "built-in rule forbid it then?",
                 TRIES);
    tell(d, file, x->line, x->name, why, findings);
}

static void tell_before(const sm_drill *d, const char *file, uint32_t i, sm_findings *findings) {
    const sm_drill_before *b = &d->befores[i];
    char why[240] = "";
    for (uint32_t n = 0; n < b->need_count && why[0] == '\0'; n++)
        if (sm_drill_not_theirs(d, b->needs[n].act))
            snprintf(why, sizeof why, "it needs %s, which the seat forbids",
                     sm_action_row_of(b->needs[n].act)->name);
    if (needs_itself(b))
        snprintf(why, sizeof why, "it needs itself");
    else if (sm_drill_not_theirs(d, b->action.act))
        snprintf(why, sizeof why, "the seat forbids its action");
    else if (why[0] == '\0')
        snprintf(why, sizeof why, "no run of %d had all that it needs, in order", TRIES);
    tell(d, file, b->line, b->name, why, findings);
}

// ---- the search ---------------------------------------------------------------------------------------

typedef struct seen {
    bool *came, *earned; // an expectation each
    bool *in_order;      // a before each
} seen;

static void keep_seen(const sm_drill_run *run, const seen *s) {
    const sm_drill *d = run->drill;
    for (uint32_t i = 0; i < d->expect_count; i++) {
        const sm_drill_mark mark = sm_drill_mark_at(run, i);
        s->came[i] = s->came[i] || mark.came;
        s->earned[i] = s->earned[i] || mark.got == mark.marks || mark.unjudged;
    }
    for (uint32_t i = 0; i < d->before_count; i++)
        s->in_order[i] =
            s->in_order[i] || sm_drill_mark_at(run, d->expect_count + i).got == d->befores[i].marks;
}

static sm_result try_once(const sm_drill *drill, uint64_t random, const seen *s, int *best, sm_text *script) {
    const sm_drill_options options = {.seed = (uint64_t)drill->seed, .no_alerts = true};
    player p = {.drill = drill, .random = random};
    sm_result result = sm_drill_run_create(drill, &options, &p.run);
    if (result == SM_OK)
        result = play(&p);
    if (result == SM_OK) {
        int score = sm_drill_rules_broken(p.run) > 0 ? 0 : sm_drill_score(p.run);
        keep_seen(p.run, s);
        if (score > *best) {
            *best = score;
            sm_text_clear(script);
            sm_text_append(script, sm_text_get(&p.script), p.script.length);
        }
    }
    if (p.script.failed)
        result = SM_NO_MEMORY;
    sm_text_deinit(&p.script);
    sm_drill_run_destroy(p.run);
    return result;
}

static void tell_all(const sm_drill *d, const char *file, const seen *s, sm_findings *findings) {
    bool any = false;
    for (uint32_t i = 0; i < d->expect_count; i++)
        if (!s->earned[i] || punished_by(d, &d->expects[i].action)) {
            tell_expect(d, file, i, s->came[i], findings);
            any = true;
        }
    for (uint32_t i = 0; i < d->before_count; i++)
        if (!s->in_order[i]) {
            tell_before(d, file, i, findings);
            any = true;
        }
    if (!any)
        tell(d, file, 0, "100", "each mark can be earned, and no run of all those tried earned all of them",
             findings);
}

sm_result sm_drill_check(const sm_drill *drill, const char *file, sm_findings *findings, int *best,
                         sm_text *script) {
    const seen s = {calloc(drill->expect_count + 1u, sizeof(bool)),
                    calloc(drill->expect_count + 1u, sizeof(bool)),
                    calloc(drill->before_count + 1u, sizeof(bool))};
    sm_result result = s.came && s.earned && s.in_order ? SM_OK : SM_NO_MEMORY;
    *best = -1;
    for (uint64_t seed = 0; seed < TRIES && result == SM_OK && *best < 100; seed++)
        result = try_once(drill, seed, &s, best, script);
    if (result == SM_OK && *best < 100)
        tell_all(drill, file, &s, findings);
    free(s.came);
    free(s.earned);
    free(s.in_order);
    return result;
}

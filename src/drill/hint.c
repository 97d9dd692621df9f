// SPDX-License-Identifier: GPL-3.0-or-later
// The next right action, from what is open, and from what the drill still waits for.
#include "drill/run.h"

#include "slowmatch/alerts.h"

#include <stdio.h>
#include <string.h>

#define ROOM 240

static void say_action(const char *intro, const sm_action *action, char text[ROOM]) {
    const char *name = sm_action_row_of(action->act)->name;
    bool has_target = action->target[0] != '\0' && !strchr(name, ' ');
    bool two = action->act == SM_ACT_EXCHANGE && action->detail[0] != '\0';
    snprintf(text, ROOM, "%s%s%s%.90s%s%.60s.", intro, name, has_target ? " " : "",
             has_target ? action->target : "", two ? " " : "", two ? action->detail : "");
}

// The alert that stands first, which the trainee sees as well. NULL: none, or none of RANK or above.
static const sm_alert *first_alert(const sm_drill_run *run, sm_alert_rank rank) {
    const sm_alerts *alerts = sm_rehearsal_alerts(run->rehearsal);
    bool any = alerts->count > 0 && sm_alert_row_of(alerts->at[0].id)->rank <= rank;
    return any ? &alerts->at[0] : NULL;
}

static bool leads_on(sm_act act) {
    static const sm_act on[] = {SM_ACT_CALL_CLEAR, SM_ACT_KEY_ON, SM_ACT_ARM,     SM_ACT_START,
                                SM_ACT_RESUME,     SM_ACT_ENTER,  SM_ACT_REPAIR,  SM_ACT_PLUG,
                                SM_ACT_MEASURE,    SM_ACT_LIFT,   SM_ACT_EXCHANGE};
    bool any = false;
    for (size_t i = 0; i < sizeof on / sizeof on[0]; i++)
        any = any || act == on[i];
    return any;
}

// A warning comes before what was asked for earlier, unless that is a stop, and before all that leads on.
static bool must_wait(const sm_alert *warning, const sm_drill_expect *expect, sm_wall_time opened) {
    sm_act act = expect->action.act;
    return warning && (leads_on(act) || (opened.us < warning->since.us && !drill_is_stop(act)));
}

// The expectation that is open and has the least time left; one that has to wait for no warning. NULL: none.
static const sm_drill_expect *most_urgent(const sm_drill_run *run) {
    const sm_alert *warning = first_alert(run, SM_ALERT_WARNING);
    const sm_drill_expect *found = NULL;
    sm_us soonest = 0;
    for (uint32_t i = 0; i < run->drill->expect_count; i++) {
        const sm_drill_expect *expect = &run->drill->expects[i];
        const trigger *t = drill_trigger_of(run, TRIGGER_EXPECT, i);
        sm_us deadline = t->at.us + expect->within_us;
        if (!t->done || run->expects[i].decided || must_wait(warning, expect, t->at) ||
            (found && deadline >= soonest))
            continue;
        found = expect;
        soonest = deadline;
    }
    return found;
}

// Nobody is said to have answered who has not.
static sm_act ask_first(const sm_drill_run *run, char text[ROOM]) {
    char room[240] = ""; // a hint needs no memory
    sm_text names = SM_TEXT_IN(room);
    for (uint32_t i = 0; i < run->drill->answer_count; i++)
        if (!run->answered[i])
            sm_text_printf(&names, "%s%s", names.length > 0 ? ", " : "", run->drill->answers[i]);
    snprintf(text, ROOM, "Not answered yet: %.80s. Ask each by name and wait; silence is no answer.",
             sm_text_get(&names));
    sm_text_deinit(&names);
    return SM_ACT_ASK;
}

// Everyone has to be heard before clear is called; a clear over silence, which counts for nothing, changes nothing in that.
static bool must_ask(const sm_drill_run *run, const sm_facts *f) {
    return f->people == 0 && !drill_crew_has_answered(run);
}

// The step towards STATE from where the module is. SM_ACT_COUNT: no step but to wait.
static sm_act step_towards(const sm_drill_run *run, const sm_facts *f, sm_state state, char text[ROOM]) {
    bool wants_run = state == SM_STATE_RUNNING || state == SM_STATE_ENDED || state == SM_STATE_PAUSED;
    bool safe = f->state == SM_STATE_SAFE;
    if (safe && must_ask(run, f))
        return ask_first(run, text);
    const struct {
        bool here;
        sm_act act;
        const char *says;
    } steps[] = {
        {safe && f->people > 0, SM_ACT_LEAVE, "Somebody is in the field: wait until they are out."},
        {safe && !f->clear_called, SM_ACT_CALL_CLEAR,
         run->drill->answer_count > 0 ? "Everyone has answered: call clear with your name."
                                      : "Ask each person by name, wait for each answer, then call clear."},
        {safe && !f->key, SM_ACT_KEY_ON, "Key on."},
        {safe, SM_ACT_ARM, "Arm, and wait out the tone."},
        {f->state == SM_STATE_ARMED && wants_run, SM_ACT_START, "Count down aloud and start."},
    };
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++)
        if (steps[i].here) {
            snprintf(text, ROOM, "%s", steps[i].says);
            return steps[i].act;
        }
    return SM_ACT_COUNT;
}

// What is left behind after work: people in the field, a rail that is out.
static sm_act tidy_step(const sm_drill_run *run, const sm_facts *f, char text[ROOM]) {
    const sm_show *show = run->drill->show;
    if (f->state != SM_STATE_SAFE || f->key)
        return SM_ACT_COUNT;
    if (f->people > 0) {
        snprintf(text, ROOM, "Everybody out, and counted out by name.");
        return SM_ACT_LEAVE;
    }
    for (uint32_t rail = 0; rail < show->rail_count; rail++)
        if (sm_rail_in_use(show, rail) && !sm_rehearsal_plugged(run->rehearsal, rail)) {
            snprintf(text, ROOM, "Plug rail %s in again.", show->rails[rail].name);
            return SM_ACT_PLUG;
        }
    return SM_ACT_COUNT;
}

sm_act drill_step_to_running(const sm_drill_run *run) {
    char text[ROOM];
    const sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    return step_towards(run, &facts, SM_STATE_RUNNING, text);
}

static sm_act key_off_first(char text[ROOM]) {
    snprintf(text, ROOM, "Make safe and turn the key off, before anyone goes near.");
    return SM_ACT_KEY_OFF;
}

static bool reads_bad(const sm_drill_run *run, uint32_t rail) {
    const sm_rail *row = &run->drill->show->rails[rail];
    bool bad = false;
    for (uint32_t n = 0; n < (uint32_t)row->slots; n++)
        bad = bad || sm_verdict_refuses(sm_rehearsal_verdict_read(run->rehearsal, row->slot_base + n));
    return bad;
}

static sm_act measure_step(const sm_drill_run *run, const sm_facts *f, char text[ROOM]) {
    sm_act first = tidy_step(run, f, text);
    if (first != SM_ACT_COUNT)
        return first;
    snprintf(text, ROOM, "Measure all rails: everybody is out, the key is off.");
    return SM_ACT_MEASURE;
}

// Two plugs at the module end. What no meter has shown is not named.
static sm_act exchange_step(const sm_drill_run *run, const sm_facts *f, const sm_drill_expect *open,
                            char text[ROOM]) {
    const sm_action *asked = &open->action;
    if (asked->index == SM_NONE || asked->second == SM_NONE)
        return SM_ACT_COUNT;
    if (f->state != SM_STATE_SAFE || f->key)
        return key_off_first(text);
    if (f->people > 0 || (!reads_bad(run, asked->index) && !reads_bad(run, asked->second)))
        return measure_step(run, f, text);
    say_action("Now: ", asked, text);
    return SM_ACT_EXCHANGE;
}

// One step of the work at a slot. Five in one sentence are too many for a newcomer.
static sm_act repair_step(const sm_drill_run *run, const sm_facts *f, const sm_action *repair,
                          char text[ROOM]) {
    const sm_show *show = run->drill->show;
    char slot[48];
    if (repair->index == SM_NONE)
        return SM_ACT_COUNT;
    const char *rail = show->rails[show->slot_rails[repair->index]].name;
    bool plugged = sm_rehearsal_plugged(run->rehearsal, show->slot_rails[repair->index]);
    sm_verdict reads = sm_rehearsal_verdict_read(run->rehearsal, repair->index);
    sm_slot_format(show, repair->index, slot);
    if (f->state != SM_STATE_SAFE || f->key)
        return key_off_first(text);
    if (!sm_verdict_refuses(reads)) // what no meter has shown is not named
        return measure_step(run, f, text);
    if (plugged) {
        snprintf(text, ROOM, "%s reads %s. Unplug rail %s at the module end, from outside.", slot,
                 sm_verdict_text(reads), rail);
        return SM_ACT_UNPLUG;
    }
    if (f->people == 0) {
        snprintf(text, ROOM, "One named person goes in, another watches: enter by name.");
        return SM_ACT_ENTER;
    }
    snprintf(text, ROOM, "Put %s right: terminal, lead, spare slot.", slot);
    return SM_ACT_REPAIR;
}

// "Do: arm.", or in better words where it is a step of the usual way.
static sm_act say_step(const sm_drill_run *run, const sm_facts *facts, const char *intro,
                       const sm_action *action, char text[ROOM]) {
    sm_act step = step_towards(run, facts, SM_STATE_RUNNING, text);
    bool on_the_way =
        action->act == SM_ACT_CALL_CLEAR || action->act == SM_ACT_KEY_ON || action->act == SM_ACT_ARM;
    if (step == action->act || (on_the_way && step == SM_ACT_ASK) ||
        (action->act == SM_ACT_ARM && step != SM_ACT_COUNT))
        return step;
    say_action(intro, action, text);
    return action->act;
}

// Nobody can know yet of a misfire that has not happened.
static bool knows_needs(const sm_drill_run *run, const sm_drill_before *before) {
    bool knows = true;
    for (uint32_t n = 0; n < before->need_count; n++) {
        const sm_action *need = &before->needs[n];
        if (need->act == SM_ACT_REPORT && need->index != SM_NONE)
            knows = knows && sm_rehearsal_has_misfired(run->rehearsal, need->index);
    }
    return knows;
}

// The first order that is still open: what it needs first, then its own action.
static sm_act order_hint(const sm_drill_run *run, char text[ROOM]) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    const bool *came = run->need_came;
    for (uint32_t i = 0; i < run->drill->before_count; came += run->drill->befores[i++].need_count) {
        const sm_drill_before *before = &run->drill->befores[i];
        if (run->befores[i].decided || !knows_needs(run, before))
            continue;
        for (uint32_t n = 0; n < before->need_count; n++) {
            const sm_action *need = &before->needs[n];
            if (drill_still_holds(run, need, came[n], &facts))
                continue;
            if (need->act != SM_ACT_REPAIR)
                return say_step(run, &facts, "First: ", need, text);
            snprintf(
                text, ROOM,
                "Measure every slot again after anyone has been in."); // no other hint: only measuring tells which slot
            return SM_ACT_MEASURE;
        }
        return say_step(run, &facts, "Do: ", &before->action, text);
    }
    return SM_ACT_COUNT;
}

static sm_act waiting_hint(const sm_drill_run *run, char text[ROOM]) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    for (uint32_t i = 0; i < run->trigger_count; i++) {
        const trigger *t = &run->triggers[i];
        bool waits = !t->based && (t->when->on == SM_ON_STATE || t->when->on == SM_ON_MOMENT);
        sm_act act = SM_ACT_COUNT;
        if (waits)
            act = step_towards(run, &facts, t->when->on == SM_ON_STATE ? t->when->state : SM_STATE_RUNNING,
                               text);
        if (act != SM_ACT_COUNT)
            return act;
    }
    return SM_ACT_COUNT;
}

// A line of the lead waits for the clear.
static bool lead_waits_for_clear(const sm_drill_run *run) {
    for (uint32_t i = 0; i < run->drill->lead_count; i++) {
        const sm_drill_when *after = &run->drill->leads[i].after;
        if (after->on == SM_ON_ACTION && after->action.act == SM_ACT_CALL_CLEAR)
            return true;
    }
    return false;
}

// What the spotter does next where the file asks for nothing: mostly they watch.
static sm_act spotters_hint(const sm_drill_run *run, char text[ROOM]) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    bool clear_next = facts.state == SM_STATE_SAFE && !facts.clear_called && facts.people == 0 &&
                      drill_crew_has_answered(run) && lead_waits_for_clear(run) &&
                      !sm_drill_lead_is_busy(run);
    if (!clear_next)
        return SM_ACT_COUNT;
    snprintf(text, ROOM,
             "Everyone has answered: look round once more, then call clear. The lead waits for it.");
    return SM_ACT_CALL_CLEAR;
}

static bool all_is_done(const sm_drill_run *run) {
    bool done = true;
    for (uint32_t i = 0; i < run->drill->expect_count; i++)
        done = done && run->expects[i].decided;
    for (uint32_t i = 0; i < run->drill->before_count; i++)
        done = done && run->befores[i].decided;
    return done;
}

// What is open, in the file's words.
static sm_act open_hint(const sm_drill_run *run, const sm_facts *f, const sm_drill_expect *open,
                        char text[ROOM]) {
    if (open->action.act == SM_ACT_CALL_CLEAR && must_ask(run, f))
        return ask_first(run, text);
    if (open->hint[0] != '\0')
        snprintf(text, ROOM, "%s", open->hint);
    else
        say_action("Now: ", &open->action, text);
    return open->action.act;
}

// What is wrong and what to do, of ALERT.
static sm_act say_alert(const sm_alert *alert, const sm_facts *f, char text[ROOM]) {
    const char *to_do = sm_alert_to_do(alert->id, f->state, f->key);
    bool moves = alert->id == SM_ALERT_WAIT; // its words are those of the moment at which it began
    snprintf(text, ROOM, "%.*s: %s.", moves ? (int)sizeof "wait" - 1 : (int)strlen(alert->words),
             alert->words, to_do);
    return sm_alert_act(alert->id, f->state, f->key);
}

// A warning is answered first: by its stop, and where it has none by what the file asks for since it stands. What the file asks for now,
// where that is a stop too, has its own words for it.
static bool warning_is_next(const sm_alert *warning, const sm_facts *f, const sm_drill_expect *open) {
    return warning && (!open || (!drill_is_stop(open->action.act) &&
                                 sm_alert_act(warning->id, f->state, f->key) != SM_ACT_COUNT));
}

static sm_act hint_for_lead(const sm_drill_run *run, char text[ROOM]) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    const sm_drill_expect *open = most_urgent(run);
    const sm_alert *warning = first_alert(run, SM_ALERT_WARNING);
    if (warning_is_next(warning, &facts, open))
        return say_alert(warning, &facts, text);
    sm_act act = SM_ACT_COUNT;
    if (open && open->action.act == SM_ACT_REPAIR)
        act = repair_step(run, &facts, &open->action, text);
    if (open && open->action.act == SM_ACT_EXCHANGE)
        act = exchange_step(run, &facts, open, text);
    if (act == SM_ACT_COUNT && (!open || open->action.act == SM_ACT_CALL_CLEAR) && !all_is_done(run))
        act = tidy_step(run, &facts, text);
    if (act == SM_ACT_COUNT && open && open->action.act == SM_ACT_CALL_CLEAR && facts.people == 0 &&
        order_hint(run, text) == SM_ACT_MEASURE)
        return SM_ACT_MEASURE; // nobody is at product during a test, so it comes before the clear
    if (act == SM_ACT_COUNT && open)
        act = open_hint(run, &facts, open, text);
    if (act == SM_ACT_COUNT)
        act = order_hint(run, text);
    return act == SM_ACT_COUNT ? waiting_hint(run, text) : act;
}

static sm_act hint_for_spotter(const sm_drill_run *run, char text[ROOM]) {
    sm_facts facts = sm_rehearsal_facts(run->rehearsal);
    const sm_drill_expect *open = most_urgent(run);
    if (open)
        return open_hint(run, &facts, open, text);
    const sm_alert *warning = first_alert(run, SM_ALERT_WARNING);
    bool moves =
        facts.state == SM_STATE_ARMING || facts.state == SM_STATE_ARMED || facts.state == SM_STATE_RUNNING;
    if (warning && moves) {
        snprintf(text, ROOM, "Call hold: %s.", warning->words);
        return SM_ACT_PAUSE;
    }
    if (warning)
        return say_alert(warning, &facts, text);
    sm_act act = all_is_done(run) ? SM_ACT_COUNT : spotters_hint(run, text);
    if (act == SM_ACT_COUNT && !all_is_done(run) && facts.state == SM_STATE_SAFE && must_ask(run, &facts))
        act = ask_first(run, text);
    return act;
}

sm_act sm_drill_hint(const sm_drill_run *run, char text[ROOM]) {
    text[0] = '\0';
    if (run->over || run->held) {
        const char *why = "The drill is held; talk.";
        if (run->over)
            why = "The drill is over.";
        else if (run->waits)
            why = "The drill begins when the question is answered.";
        snprintf(text, ROOM, "%s", why);
        return SM_ACT_COUNT;
    }
    sm_act act = run->drill->seat == SM_SEAT_SPOTTER ? hint_for_spotter(run, text) : hint_for_lead(run, text);
    if (act != SM_ACT_COUNT || text[0] != '\0')
        return act;
    if (all_is_done(run)) {
        snprintf(text, ROOM, "All that this drill asks for is done. End it when you are ready.");
        return SM_ACT_QUIT;
    }
    const sm_alert *alert = first_alert(run, SM_ALERT_CAUTION);
    if (alert && run->drill->seat == SM_SEAT_LEAD) {
        const sm_facts facts = sm_rehearsal_facts(run->rehearsal);
        return say_alert(alert, &facts, text);
    }
    snprintf(text, ROOM, "Nothing is asked of you just now. Watch the field, not the screen.");
    return SM_ACT_COUNT;
}

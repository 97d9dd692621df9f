// SPDX-License-Identifier: GPL-3.0-or-later
// A table of steps, each with the condition under which it is the one; the first that fits is taken. What the conditions ask is
// looked up once in the snapshot.
#include "slowmatch/next_step.h"

#include "engine/rehearsal.h"

#include "slowmatch/conditions.h"
#include "slowmatch/rig.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

typedef struct rig_facts {
    const sm_snapshot *now;
    bool people, safe, hot;  // hot: armed, running or paused
    bool unreported, live;   // misfires
    uint32_t misfired;       // the first that is not reported, SM_NONE
    bool waits;              // the wait has not run, or something burns
    uint32_t bad_slot;       // a verdict that is not good; SM_NONE
    uint32_t stray_slot;     // something that no cue fires, SM_NONE
    uint32_t bad_plugged;    // rail of one of both that is plugged, SM_NONE
    uint32_t out_rail;       // rail with a cue that is unplugged, SM_NONE
    bool spent;              // a slot has fired
    bool unread;             // programmed slots without a reading, before clear
    const uint32_t *swapped; // two rails to exchange, NULL
    bool wind_over;          // and aerials would go
} rig_facts;

static bool is_met(const sm_snapshot *now, sm_guard guard) {
    sm_guard_word word = now->guards[guard].word;
    return word == SM_GUARD_MET || word == SM_GUARD_WAIVED;
}

static bool is_bad(sm_verdict verdict) {
    return verdict == SM_VERDICT_OPEN || verdict == SM_VERDICT_SHORT || verdict == SM_VERDICT_LOW ||
           verdict == SM_VERDICT_HIGH || verdict == SM_VERDICT_UNSURE;
}

static void note_bad(rig_facts *f, uint32_t slot, uint32_t *first) {
    const uint32_t rail = f->now->show->slot_rails[slot];
    *first = *first == SM_NONE ? slot : *first;
    if (f->now->rail_plugged[rail] && f->bad_plugged == SM_NONE)
        f->bad_plugged = rail;
}

static void look_at_slots(const sm_snapshot *now, rig_facts *f) {
    const sm_show *show = now->show;
    const bool rails_met = is_met(now, SM_GUARD_RAILS), readings_met = is_met(now, SM_GUARD_READINGS);
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        const sm_slot_view *view = &now->slots[slot];
        uint32_t rail = show->slot_rails[slot];
        if (view->phase == SM_SLOT_MISFIRED && !view->reported && f->misfired == SM_NONE)
            f->misfired = slot;
        f->live |= view->phase == SM_SLOT_MISFIRED;
        bool out = view->phase != SM_SLOT_SPARE && !now->rail_plugged[rail];
        if (out && f->out_rail == SM_NONE && !rails_met)
            f->out_rail = rail;
        f->spent |= view->phase == SM_SLOT_SPENT;
        if (view->phase == SM_SLOT_SPARE && view->reading.kind != SM_READ_NOTHING &&
            sm_rig_judge(show, slot, true, view->reading) ==
                SM_VERDICT_STRAY) // no guard asks for it, and it is as live as any
            note_bad(f, slot, &f->stray_slot);
        bool counts =
            view->phase == SM_SLOT_WAITING || view->phase == SM_SLOT_PASSED || view->phase == SM_SLOT_HELD;
        if (!counts || readings_met)
            continue;
        f->unread |= view->reading.kind == SM_READ_NOTHING;
        if (view->reading.kind == SM_READ_NOTHING ||
            !is_bad(sm_rig_judge(show, slot, true, view->reading))) // plugged or not
            continue;
        note_bad(f, slot, &f->bad_slot);
    }
}

static rig_facts look(const sm_snapshot *now, const sm_step_facts *facts) {
    rig_facts f = {.now = now,
                   .people = now->people_count > 0,
                   .safe = now->state == SM_STATE_SAFE,
                   .hot = now->state != SM_STATE_SAFE && now->state != SM_STATE_ENDED,
                   .misfired = SM_NONE,
                   .bad_slot = SM_NONE,
                   .stray_slot = SM_NONE,
                   .bad_plugged = SM_NONE,
                   .out_rail = SM_NONE};
    f.waits = sm_snapshot_all_stay_out(now);
    look_at_slots(now, &f);
    f.unread = f.unread && !is_met(now, SM_GUARD_CLEAR); // arming does not ask for them: not after the clear
    f.swapped = facts && sm_condition_swapped(now, facts->swapped) ? facts->swapped : NULL;
    f.unreported = f.misfired != SM_NONE;
    f.wind_over = sm_snapshot_wind_over(now);
    return f;
}

// ---- when each is the one -----------------------------------------------------------------------

static bool link(const rig_facts *f) {
    return f->now->incidents.link_lost && f->now->key;
}

static bool call_out(const rig_facts *f) {
    return f->now->incidents.link_lost && f->people;
}

static bool link_key_off(const rig_facts *f) {
    return f->now->incidents.link_lost;
}

// What the arming should not have gone over: something that no cue fires, or that still burns from before.
static bool armed_over(const rig_facts *f) {
    const sm_snapshot *now = f->now;
    const bool burns = now->burning_count + now->flying > 0;
    return (f->stray_slot != SM_NONE && now->state != SM_STATE_RUNNING) ||
           (burns && (now->state == SM_STATE_ARMING || now->state == SM_STATE_ARMED));
}

static bool must_make_safe(const rig_facts *f) {
    const sm_snapshot *now = f->now;
    return f->hot && (f->people || !now->clear_called || !now->key || f->wind_over ||
                      sm_snapshot_danger(now) || armed_over(f));
}

static bool has_ended(const rig_facts *f) {
    return f->now->state == SM_STATE_ENDED;
}

static bool storm(const rig_facts *f) {
    return f->safe && !f->now->key && f->now->incidents.storm;
}

static bool fire(const rig_facts *f) {
    return f->safe && !f->now->key && sm_snapshot_fire(f->now);
}

static bool is_odd(const rig_facts *f) {
    return f->bad_slot != SM_NONE || f->stray_slot != SM_NONE;
}

// Anything that hands or feet must do in the field, or a stop.
static bool field_work(const rig_facts *f) {
    return f->people || f->unreported || f->live || f->waits || sm_snapshot_danger(f->now) || f->spent ||
           is_odd(f) || f->out_rail != SM_NONE || f->unread;
}

// Also before clear is called: the key goes in after it.
static bool key_off(const rig_facts *f) {
    return f->safe && f->now->key && (field_work(f) || !is_met(f->now, SM_GUARD_CLEAR));
}

static bool report(const rig_facts *f) {
    return f->unreported && !f->people; // in any state, as the alert asks; who is in comes out first
}

static bool stay_out(const rig_facts *f) {
    return f->safe && f->waits && !f->people;
}

static bool shut_fuel(const rig_facts *f) {
    bool burns = false;
    for (uint32_t i = 0; i < f->now->show->fixture_count && !burns; i++)
        burns = f->now->flame_faults[i] == SM_FLAME_STUCK;
    return f->safe && burns && !f->people;
}

static bool for_the_operator(const rig_facts *f) {
    bool odd = f->live;
    for (uint32_t slot = 0; slot < f->now->show->slot_count && !odd; slot++)
        odd = f->now->slots[slot].tipped || f->now->slots[slot].fired_alone;
    return f->safe && odd && !f->people;
}

static bool ask(const rig_facts *f) {
    return f->safe && f->now->incidents.silent_open > 0 && !f->people;
}

// Nobody is sent anywhere, and nothing is armed, started or resumed before; who is in comes out.
static bool lift(const rig_facts *f) {
    return f->now->hold_count > 0 && f->now->state != SM_STATE_ENDED && !f->people;
}

static bool rig_anew(const rig_facts *f) {
    return f->safe && f->spent && !f->people;
}

static bool exchange(const rig_facts *f) {
    return f->safe && is_odd(f) && f->swapped && !f->people;
}

static bool unplug(const rig_facts *f) {
    return f->safe && f->bad_plugged != SM_NONE && !f->people;
}

static bool enter(const rig_facts *f) {
    return f->safe && is_odd(f) && !f->people;
}

// The rail is out, somebody is in, the key off.
static bool hands_may(const rig_facts *f) {
    return f->safe && f->bad_plugged == SM_NONE && f->people && !f->waits && !f->live &&
           f->now->hold_count == 0;
}

static bool repair(const rig_facts *f) {
    return f->bad_slot != SM_NONE && hands_may(f);
}

static bool take_off(const rig_facts *f) {
    return f->stray_slot != SM_NONE && hands_may(f);
}

static bool leave(const rig_facts *f) {
    return f->safe && f->people;
}

static bool plug(const rig_facts *f) {
    return f->safe && f->out_rail != SM_NONE;
}

static bool measure(const rig_facts *f) {
    return f->safe && f->unread;
}

static bool hold_back(const rig_facts *f) {
    return f->safe && f->wind_over;
}

static bool call_clear(const rig_facts *f) {
    return f->safe && !is_met(f->now, SM_GUARD_CLEAR);
}

static bool key_on(const rig_facts *f) {
    return f->safe && !f->now->key;
}

static bool arm(const rig_facts *f) {
    return f->safe;
}

static bool arming(const rig_facts *f) {
    return f->now->state == SM_STATE_ARMING;
}

// What comes next would be refused until the timecode that is listened to lets it.
static bool wait_timecode(const rig_facts *f) {
    const sm_snapshot *now = f->now;
    char room[256] = "";
    sm_text why = SM_TEXT_IN(room);
    const bool refuses = sm_timecode_refuses(&now->timecode, now->show, now->wall, &why);
    sm_text_deinit(&why);
    return refuses && (now->state == SM_STATE_ARMED || now->state == SM_STATE_PAUSED);
}

static bool start(const rig_facts *f) {
    return f->now->state == SM_STATE_ARMED;
}

static bool resume(const rig_facts *f) {
    return f->now->state == SM_STATE_PAUSED;
}

static bool watch(const rig_facts *f) {
    return f->now->state == SM_STATE_RUNNING;
}

typedef struct step_row {
    bool (*fits)(const rig_facts *f);
    sm_act act;
    bool stop;
    const char *words; // %s: the slot or rail
} step_row;

static const step_row rows[] = {
    [SM_STEP_LINK] = {link, SM_ACT_KEY_OFF, true, "key off, all stay out; the module may be armed"},
    [SM_STEP_CALL_OUT] = {call_out, SM_ACT_LEAVE, false, "call everybody out; the module may be armed"},
    [SM_STEP_LINK_KEY_OFF] = {link_key_off, SM_ACT_COUNT, true, "all stay out; the module may be armed"},
    [SM_STEP_MAKE_SAFE] = {must_make_safe, SM_ACT_SAFE, false, "make safe, then key off"},
    [SM_STEP_END] = {has_ended, SM_ACT_SAFE, false, "make safe, then key off"},
    [SM_STEP_WITHDRAW] = {storm, SM_ACT_COUNT, true, "all withdraw; do not stay to unplug"},
    [SM_STEP_KEEP_BACK] = {fire, SM_ACT_COUNT, true,
                           "everybody back, keep others back, call; nobody fights it"},
    [SM_STEP_KEY_OFF] = {key_off, SM_ACT_KEY_OFF, false, "key off and out"},
    [SM_STEP_REPORT] = {report, SM_ACT_REPORT, false, "report %s by slot"},
    [SM_STEP_STAY_OUT] = {stay_out, SM_ACT_COUNT, true, "all stay out"},
    [SM_STEP_SHUT_FUEL] = {shut_fuel, SM_ACT_COUNT, true, "shut the fuel from outside, all stay out"},
    [SM_STEP_ASK] = {ask, SM_ACT_COUNT, true, "ask again by name; no answer is a hold"},
    [SM_STEP_OPERATOR] = {for_the_operator, SM_ACT_COUNT, true,
                          "licensed operator alone, another watching; maker and local rule say when"},
    [SM_STEP_LIFT] = {lift, SM_ACT_LIFT, false, "ask %s why; lift the hold when they agree"},
    [SM_STEP_RIG_ANEW] = {rig_anew, SM_ACT_RERIG, false,
                          "count fired and not fired; then rig anew (simulated)"},
    [SM_STEP_EXCHANGE] = {exchange, SM_ACT_EXCHANGE, false,
                          "exchange the plugs of rails %s at the module end"},
    [SM_STEP_UNPLUG] = {unplug, SM_ACT_UNPLUG, false, "unplug rail %s at the module end"},
    [SM_STEP_ENTER] = {enter, SM_ACT_ENTER, false, "one in by name, another watching"},
    [SM_STEP_REPAIR] = {repair, SM_ACT_REPAIR, false, "repair %s: terminal, lead, spare slot"},
    [SM_STEP_TAKE_OFF] = {take_off, SM_ACT_REPAIR, false, "look what hangs on %s; take it off"},
    [SM_STEP_LEAVE] = {leave, SM_ACT_LEAVE, false, "everybody out and counted"},
    [SM_STEP_PLUG] = {plug, SM_ACT_PLUG, false, "plug rail %s at the module end"},
    [SM_STEP_MEASURE] = {measure, SM_ACT_MEASURE, false, "measure all rails"},
    [SM_STEP_HOLD_BACK] = {hold_back, SM_ACT_INHIBIT, false,
                           "hold back the aerials: the wind is over your limit"},
    [SM_STEP_CALL_CLEAR] = {call_clear, SM_ACT_CALL_CLEAR, false, "ask each by name, then call clear"},
    [SM_STEP_KEY_ON] = {key_on, SM_ACT_KEY_ON, false, "key in and on"},
    [SM_STEP_ARM] = {arm, SM_ACT_ARM, false, "arm"},
    [SM_STEP_WAIT_ARMING] = {arming, SM_ACT_COUNT, false, "wait out the tone"},
    [SM_STEP_WAIT_TIMECODE] = {wait_timecode, SM_ACT_COUNT, false,
                               "wait for the timecode to be LOCKED within the show, or make safe"},
    [SM_STEP_START] = {start, SM_ACT_START, false, "start, counting down aloud"},
    [SM_STEP_RESUME] = {resume, SM_ACT_RESUME, false, "resume, counting down aloud"},
    [SM_STEP_WATCH] = {watch, SM_ACT_COUNT, false, "watch the field, not the screen"},
};
static_assert(sizeof rows / sizeof rows[0] == SM_STEP_COUNT, "a row for each step");

static uint32_t about(sm_step_id id, const rig_facts *f) {
    switch (id) {
    case SM_STEP_REPORT:
        return f->misfired;
    case SM_STEP_EXCHANGE:
        return f->swapped[0];
    case SM_STEP_UNPLUG:
        return f->bad_plugged;
    case SM_STEP_REPAIR:
        return f->bad_slot;
    case SM_STEP_TAKE_OFF:
        return f->stray_slot;
    case SM_STEP_PLUG:
        return f->out_rail;
    default:
        return SM_NONE;
    }
}

static void put_words(const sm_show *show, const char *who, const step_row *row, sm_step *step) {
    char slot[140];
    const char *name = "";
    if (step->act == SM_ACT_EXCHANGE) {
        snprintf(slot, sizeof slot, "%.64s and %.64s", show->rails[step->index].name,
                 show->rails[step->second].name);
        name = slot;
    } else if (step->act == SM_ACT_UNPLUG || step->act == SM_ACT_PLUG)
        name = show->rails[step->index].name;
    else if (step->act == SM_ACT_LIFT)
        name = who;
    else if (step->index != SM_NONE)
        name = sm_slot_format(show, step->index, slot);
    const char *place = strstr(row->words, "%s");
    if (place)
        snprintf(step->words, sizeof step->words, "%.*s%s%s", (int)(place - row->words), row->words, name,
                 place + 2);
    else
        snprintf(step->words, sizeof step->words, "%s", row->words);
}

sm_step sm_next_step(const sm_snapshot *now, const sm_step_facts *known) {
    rig_facts facts = look(now, known);
    int id = 0;
    while (id < SM_STEP_COUNT - 1 && !rows[id].fits(&facts))
        id++;
    assert(rows[id].fits(&facts));
    sm_step step = {.id = (sm_step_id)id,
                    .act = rows[id].act,
                    .index = about((sm_step_id)id, &facts),
                    .second = id == SM_STEP_EXCHANGE ? facts.swapped[1] : SM_NONE,
                    .stop = rows[id].stop};
    put_words(now->show, now->hold_who, &rows[id], &step);
    return step;
}

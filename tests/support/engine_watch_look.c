// SPDX-License-Identifier: GPL-3.0-or-later
// The promises, and what is held between two steps.
#include "engine_watch.h"

#include <assert.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const watch_promise_row promises[] = {
    [WATCH_FIRES_RUNNING] = {"fires only while running, key on, not under a hold",
                             "a crew in any other state counts on nothing going"},
    [WATCH_FIRES_IN_TURN] = {"cues come one by one in the show's order, none left out, none twice",
                             "the paper that the crew reads along has this order"},
    [WATCH_FIRES_AT_ITS_MOMENT] = {"a cue's row has the cue's moment, and is never late in a virtual clock",
                                   "two runs can be laid side by side"},
    [WATCH_FIRES_ONCE] = {"a slot fires once until it is re-rigged or repaired", "an igniter is burnt then"},
    [WATCH_LATE_ONLY_HUNG] = {"only what hung goes late, only an injection makes it go by itself",
                              "nothing goes that nobody told to"},
    [WATCH_HELD_BACK] = {"what is inhibited neither fires nor is set", "somebody may stand beside it"},
    [WATCH_COUNTS_DOWN] = {"nothing goes before the count is over", "the count is the last warning"},
    [WATCH_NO_START] =
        {"nothing arms or goes on with anyone in the field, no clear, key off, a hold, no link",
         "design: the guards"},
    [WATCH_STARTS_BY_ITSELF] = {"a start by itself comes at its moment or never, and only while all is met",
                                "nobody looks at the guards then"},
    [WATCH_STATES_IN_ORDER] = {"each state comes from where it can", "no way to running but through arming"},
    [WATCH_ARMING_TAKES_ITS_TIME] = {"armed comes an arm-time after arming, to the microsecond",
                                     "the tone warns that long"},
    [WATCH_HOLD_STOPS] = {"a hold leaves nothing running or arming", "anyone may stop it, with no reason"},
    [WATCH_KEY] = {"key off is safe", "the key is the last thing between hands and product"},
    [WATCH_SAFE_IN_ONE_STEP] = {"safe, key off and quit are never refused, from any state",
                                "no stop asks or fails"},
    [WATCH_GOES_ON_WHEN_MET] = {"with every guard met nothing is refused without cause",
                                "a console that refuses for nothing is bypassed"},
    [WATCH_LINK_LOST] = {"a lost link leaves no show running where no module goes on by itself",
                         "nobody can stop it any more"},
    [WATCH_UNPAIRED] = {"a remote that is not paired is heard, nothing else", "it may be a stranger's"},
    [WATCH_REFUSED_CHANGES_NOTHING] = {"what is refused changes nothing", "it was not done"},
    [WATCH_SAYS_WHY] = {"a refusal has a reason, what is done has none", "people must know why"},
    [WATCH_ONE_ROW] = {"each action is one row, at its moment", "the log is what is replayed"},
    [WATCH_FLAME_HOME] = {"enable and fire at home but while running, held back or with no link always",
                          "no flame without a running show"},
    [WATCH_FLAME_NAMED] = {"after a start or resume a flame waits for its next cue",
                           "nobody expects it before"},
    [WATCH_LEVELS_AS_PLAYED] = {"every channel stands as played there without a pause",
                                "a jump must look like the show"},
    [WATCH_BURNS_TO_ITS_END] = {"what burns is out a lead and its time after it went, whatever the state",
                                "a pause puts out no fountain"},
    [WATCH_MISFIRES_STAND] = {"a misfire stands until it is re-rigged, or repaired and reported",
                              "it is live till then"},
    [WATCH_WAIT] = {"the wait runs from the latest of all that begins it, and shortens by time alone",
                    "people go in by it"},
    [WATCH_CLOCK] = {"show time goes at its speed while running and stands otherwise",
                     "music and cues are one"},
    [WATCH_JUMP] = {"a seek fires and sets nothing, keeps the state, and passes over what lies before it",
                    "a look ahead must cost nothing"},
    [WATCH_NOTHING_OVERDUE] = {"while running nothing due is left undone", "the next step must not catch up"},
    [WATCH_ROWS_IN_ORDER] = {"rows come in the order of the wall's clock",
                             "the log is read from top to bottom"},
    [WATCH_CLEAR_LAPSES] = {"clear stands until a hand or foot may be in the field, or a stop",
                            "an old clear kills"},
    [WATCH_SNAPSHOT_AGREES] = {"a snapshot says what the log says",
                               "the screen shows the one, replay the other"},
    [WATCH_CAUTIONED] = {"hands in the field with the module not safe or the key on draw a caution",
                         "the product gives no permission"},
};
static_assert(sizeof promises / sizeof *promises == WATCH_PROMISES, "a row for each promise");

const watch_promise_row *watch_promise_of(watch_promise promise) {
    return &promises[promise];
}

void watch_judge(watch *w, watch_promise promise, bool holds, const char *what) {
    w->judged[promise]++;
    if (!holds)
        fail_msg("seed %llu, step %llu, wall %lld: not %s\nPROMISE %s: %s", (unsigned long long)w->seed,
                 (unsigned long long)w->step, (long long)w->last.us, what, promises[promise].name,
                 promises[promise].why);
}

// ---- between two steps ------------------------------------------------------------------------------

sm_us watch_at_us(const sm_rehearsal *rehearsal, sm_wall_time now) {
    const sm_show_clock clock = sm_rehearsal_show_clock(rehearsal);
    const sm_us gone = clock.playing ? (now.us - clock.w0.us) * clock.speed_ppm / 1000000 : 0;
    return clock.s0.us + gone;
}

static void look_at_facts(watch *w, const sm_rehearsal *rehearsal) {
    const sm_facts facts = sm_rehearsal_facts(rehearsal);
    WATCH(w, SNAPSHOT_AGREES, facts.state == w->state && facts.people == w->people_count);
    WATCH(w, SNAPSHOT_AGREES, facts.link_lost == w->link_lost);
    WATCH(w, KEY, facts.key == w->key && (w->key || w->state == SM_STATE_SAFE));
    WATCH(w, CLEAR_LAPSES, facts.clear_called == w->clear);
    WATCH(w, WAIT, facts.wait_since.us == w->wait_since_us);
    WATCH(w, HOLD_STOPS, w->hold_count == 0 || (w->state != SM_STATE_RUNNING && w->state != SM_STATE_ARMING));
    uint32_t misfired = 0, unreported = 0;
    for (uint32_t slot = 0; slot < w->show->slot_count; slot++) {
        misfired += w->misfired[slot];
        unreported += w->misfired[slot] && !w->reported[slot];
    }
    WATCH(w, MISFIRES_STAND, facts.misfired == misfired && facts.misfired_unreported == unreported);
    sm_wall_time starts;
    const bool set = sm_rehearsal_starts_at(rehearsal, &starts);
    if (set)
        WATCH(w, STARTS_BY_ITSELF, w->start_set && starts.us == w->starts_at_us && starts.us > w->last.us);
}

// Level at AT_US, with what was due up to DONE_US done.
static uint8_t played(const watch *w, uint32_t channel, sm_us at_us, sm_us done_us, bool including) {
    const sm_dmx_channel told = sm_dmx_channel_at(w->timeline, channel, (sm_show_time){done_us}, including);
    return sm_dmx_channel_level(&told, (sm_show_time){at_us});
}

// While counting down to a place the channels stand as just before it.
static bool is_as_played(const watch *w, uint32_t channel, uint8_t level, sm_us at_us) {
    const sm_us stands_us = at_us < w->floor_us ? w->floor_us : at_us;
    const bool done = level == played(w, channel, stands_us, stands_us, true);
    if (w->state == SM_STATE_RUNNING && stands_us == at_us)
        return done;
    // Stopped within the very microsecond of an event, before or after it; at speeds above 1 it holds two of the show.
    return done || level == played(w, channel, stands_us, stands_us, false) ||
           level == played(w, channel, stands_us, stands_us - 1, false);
}

static void look_at_channel(watch *w, uint32_t f, uint32_t c, uint8_t level, sm_us at_us) {
    const sm_fixture *fixture = &w->show->fixtures[f];
    const sm_profile *profile = &w->show->profiles[fixture->profile];
    const bool hazard = profile->flame && (c == profile->enable || c == profile->fire);
    const uint8_t home = profile->home[c];
    if (hazard && (w->state != SM_STATE_RUNNING || w->fixture_held[f] || w->link_lost)) {
        WATCH(w, FLAME_HOME, level == home);
        return;
    }
    if (hazard && c == profile->fire && w->flames_wait && !w->fire_named[f])
        WATCH(w, FLAME_NAMED, level == home);
    if (w->disturbed[f] || w->fixture_held[f] || w->anew || (hazard && w->flames_closed))
        return;
    WATCH(w, LEVELS_AS_PLAYED, is_as_played(w, fixture->channel_base + c, level, at_us));
}

static void look_at_levels(watch *w, const sm_rehearsal *rehearsal, sm_wall_time now, sm_us at_us) {
    uint8_t levels[WATCH_CHANNELS];
    sm_rehearsal_levels(rehearsal, now, levels);
    for (uint32_t f = 0; f < w->show->fixture_count; f++) {
        const sm_fixture *fixture = &w->show->fixtures[f];
        for (uint32_t c = 0; c < w->show->profiles[fixture->profile].channel_count; c++)
            look_at_channel(w, f, c, levels[fixture->channel_base + c], at_us);
    }
}

static void look_at_snapshot(watch *w, const sm_snapshot *s, sm_us at_us) {
    while (w->cursor < s->cursor && watch_passes_over(w)) // before a pause within the step
        w->cursor++;
    WATCH(w, SNAPSHOT_AGREES, s->state == w->state && s->key == w->key && s->people_count == w->people_count);
    WATCH(w, SNAPSHOT_AGREES, s->hold_count == w->hold_count && s->incidents.link_lost == w->link_lost);
    WATCH(w, SNAPSHOT_AGREES, s->at.us == at_us && s->speed_ppm == w->speed_ppm && s->cursor == w->cursor);
    WATCH(w, SNAPSHOT_AGREES,
          s->clear_called == w->clear && (s->guards[SM_GUARD_CLEAR].word == SM_GUARD_MET) == w->clear &&
              (s->guards[SM_GUARD_KEY].word == SM_GUARD_MET) == w->key &&
              (s->guards[SM_GUARD_FIELD].word == SM_GUARD_MET) == (w->people_count == 0));
    WATCH(w, SNAPSHOT_AGREES,
          s->at.us <= w->show->length_us && (!s->counting_down || s->state == SM_STATE_RUNNING));
    unsigned burning = 0, listed = 0;
    for (unsigned i = 0; i < w->out_count; i++)
        burning += w->outs[i].at_us > s->wall.us;
    for (uint32_t i = 0; i < s->flying + s->burning_count; i++)
        listed += w->show->firings[w->show->events[s->burning[i].event].target].lasts_us > 0;
    WATCH(w, BURNS_TO_ITS_END, listed == burning || s->flying + s->burning_count == s->burning_room);
    for (uint32_t slot = 0; slot < w->show->slot_count; slot++) {
        const sm_slot_phase phase = s->slots[slot].phase;
        WATCH(w, FIRES_ONCE, phase != SM_SLOT_SPENT || w->spent[slot]);
        WATCH(w, FIRES_ONCE, (phase != SM_SLOT_WAITING && phase != SM_SLOT_PASSED) || !w->spent[slot]);
        WATCH(w, MISFIRES_STAND, phase != SM_SLOT_MISFIRED || w->misfired[slot]);
    }
    const sm_wait wait = sm_snapshot_wait(s);
    const bool runs = wait.asked && w->state == SM_STATE_SAFE && !w->link_lost;
    WATCH(w, WAIT, wait.asked == (w->wait_since_us != SM_UNSET_US) && wait.runs == runs);
    WATCH(w, WAIT, wait.gone_us == (runs ? s->wall.us - w->wait_since_us : 0));
}

void watch_look(watch *w, const sm_rehearsal *rehearsal, sm_wall_time now, const sm_snapshot *snapshot) {
    const sm_us at_us = watch_at_us(rehearsal, now);
    look_at_facts(w, rehearsal);
    WATCH(w, LINK_LOST, w->state != SM_STATE_RUNNING || !w->link_lost || w->show->modules[0].goes_on);
    while (w->state == SM_STATE_RUNNING && watch_passes_over(w) &&
           sm_event_due_us(w->show, w->show->order[w->cursor]) <= at_us)
        w->cursor++;
    if (w->state == SM_STATE_RUNNING && w->cursor < w->show->event_count)
        WATCH(w, NOTHING_OVERDUE, sm_event_due_us(w->show, w->show->order[w->cursor]) > at_us);
    if (w->state != SM_STATE_RUNNING)
        WATCH(w, CLOCK, at_us == w->place_us);
    unsigned overdue = 0;
    for (unsigned i = 0; i < w->out_count; i++)
        overdue += w->outs[i].at_us <= now.us;
    WATCH(w, BURNS_TO_ITS_END, overdue == 0);
    look_at_levels(w, rehearsal, now, at_us);
    if (snapshot)
        look_at_snapshot(w, snapshot, at_us);
    w->jumped = w->jumped && w->state != SM_STATE_SAFE;
}

// ---- after an action --------------------------------------------------------------------------------

static bool same_facts(const sm_facts *a, const sm_facts *b) {
    return a->state == b->state && a->key == b->key && a->clear_called == b->clear_called &&
           a->people == b->people && a->misfired == b->misfired &&
           a->misfired_unreported == b->misfired_unreported && a->wait_since.us == b->wait_since.us &&
           a->link_lost == b->link_lost;
}

// Nothing that the watcher knows of stands in the way of a start, a resume or a stop.
static bool must_be_done(const watch *w, const sm_action *action) {
    const bool met = w->people_count == 0 && w->hold_count == 0 && w->clear && w->key && !w->link_lost;
    switch (action->act) {
    case SM_ACT_START:
        return met && w->state == SM_STATE_ARMED;
    case SM_ACT_RESUME:
        return met && w->state == SM_STATE_PAUSED;
    case SM_ACT_PAUSE:
        return w->state == SM_STATE_RUNNING;
    default:
        return false;
    }
}

static bool stops(const sm_action *action) {
    return action->act == SM_ACT_SAFE || action->act == SM_ACT_KEY_OFF || action->act == SM_ACT_QUIT ||
           action->act == SM_ACT_HOLD;
}

void watch_acted(watch *w, const sm_rehearsal *rehearsal, const sm_action *action, sm_source source,
                 sm_result result, const sm_facts facts[2]) {
    (void)source;
    const char *why = sm_rehearsal_refusal(rehearsal);
    assert_true(result == SM_OK || result == SM_REFUSED);
    WATCH(w, ONE_ROW, w->act_logged);
    WATCH(w, SAYS_WHY, (result == SM_REFUSED) == (why[0] != '\0'));
    if (result == SM_REFUSED)
        WATCH(w, REFUSED_CHANGES_NOTHING, same_facts(&facts[0], &facts[1]));
    if (action->remote > 1) {
        WATCH(w, UNPAIRED, result == SM_REFUSED);
        return;
    }
    if (action->remote == 1 && w->link_lost)
        return;
    if (stops(action))
        WATCH(w, SAFE_IN_ONE_STEP, result == SM_OK);
    if (action->act == SM_ACT_SAFE || action->act == SM_ACT_KEY_OFF || action->act == SM_ACT_QUIT)
        WATCH(w, SAFE_IN_ONE_STEP, facts[1].state == SM_STATE_SAFE);
    if (result == SM_REFUSED)
        WATCH(w, GOES_ON_WHEN_MET, !must_be_done(w, action));
    if (action->act == SM_ACT_SEEK && result == SM_OK)
        WATCH(w, JUMP, facts[0].state == facts[1].state);
}

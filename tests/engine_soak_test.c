// SPDX-License-Identifier: GPL-3.0-or-later
// Long random rehearsals: whatever is done in whatever order, what must always hold holds after every step, and the same actions give
// the same log to the byte. SLOWMATCH_SOAK makes it long.
#include "support/engine_random.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define SLOTS_MAX 16
#define OUTS_MAX 512

// What a watcher knows who reads the log and nothing else.
typedef struct watcher {
    const sm_show *show;
    uint64_t seed;
    unsigned step;
    sm_wall_time last;
    sm_state state;
    bool spent[SLOTS_MAX], repeat_rerigs;
    struct {
        sm_us at_us;
        char slot[48];
    } outs[OUTS_MAX]; // still to come
    unsigned out_count, fired, refused, rows;
    bool in_act;     // within sm_rehearsal_act, from its own row on
    bool act_logged; // the action's row has been seen
} watcher;

#define HOLDS(w, condition)                                                                                  \
    do {                                                                                                     \
        if (!(condition))                                                                                    \
            fail_msg("seed %llu step %u: not %s", (unsigned long long)(w)->seed, (w)->step, #condition);     \
    } while (0)

static const sm_firing *firing_of(const watcher *w, const sm_log_row *row) {
    uint32_t slot = engine_slot(w->show, row->target);
    for (uint32_t f = 0; f < w->show->firing_count; f++) {
        char id[12];
        const sm_firing *firing = &w->show->firings[f];
        if (firing->slot == slot &&
            strcmp(sm_cue_id(w->show, w->show->events[firing->event].cue, id), row->cue) == 0)
            return firing;
    }
    fail_msg("no firing of cue %s on %s", row->cue, row->target);
    return NULL;
}

static void see_fire(watcher *w, const sm_log_row *row) {
    const sm_firing *firing = firing_of(w, row);
    HOLDS(w, w->state == SM_STATE_RUNNING);
    HOLDS(w, !w->in_act);
    HOLDS(w, row->show.us == firing->fire_us);
    if (row->kind.what != SM_LOG_FIRE)
        return;
    HOLDS(w, !w->spent[firing->slot]);
    w->spent[firing->slot] = true;
    w->fired++;
    if (firing->lasts_us > 0) {
        assert_true(w->out_count < OUTS_MAX);
        w->outs[w->out_count].at_us = row->wall.us + firing->lead_us + firing->lasts_us;
        snprintf(w->outs[w->out_count++].slot, 48, "%s", row->target);
    }
}

static void see_out(watcher *w, const sm_log_row *row) {
    for (unsigned i = 0; i < w->out_count; i++)
        if (w->outs[i].at_us == row->wall.us && strcmp(w->outs[i].slot, row->target) == 0) {
            w->outs[i] = w->outs[--w->out_count];
            return;
        }
    fail_msg("seed %llu step %u: %s is out and never burned till then", (unsigned long long)w->seed, w->step,
             row->target);
}

static void see_state(watcher *w, const sm_log_row *row) {
    // From the page: where each state can come from.
    static const char *const before[SM_STATE_COUNT] = {
        "arming armed running paused ended", "safe", "arming", "armed paused", "running", "running"};
    const sm_state now = row->kind.state;
    HOLDS(w, strcmp(row->target, sm_state_text(now)) == 0);
    HOLDS(w, strcmp(row->detail, sm_state_text(w->state)) == 0);
    HOLDS(w, strstr(before[now], row->detail) != NULL);
    w->state = now;
}

static void see_rerig(watcher *w, const sm_log_row *row) {
    if (sm_log_is_act(row->kind, SM_ACT_RERIG))
        memset(w->spent, 0, sizeof w->spent);
    else if (sm_log_is_act(row->kind, SM_ACT_REPAIR))
        w->spent[engine_slot(w->show, row->target)] = false;
    else if (sm_log_is_act(row->kind, SM_ACT_REPEAT) && row->source == SM_SOURCE_ENGINE &&
             strstr(row->detail, "re-rig"))
        memset(w->spent, 0, sizeof w->spent); // at most these
}

static void see(void *context, const sm_log_row *row) {
    watcher *w = context;
    w->rows++;
    HOLDS(w, row->wall.us >= w->last.us);
    HOLDS(w, row->late_us == 0);
    w->last = row->wall;
    const sm_log_what what = row->kind.what;
    if (w->in_act && row->source != SM_SOURCE_ENGINE) {
        HOLDS(w, !w->act_logged);
        w->act_logged = true;
    }
    if (what == SM_LOG_REFUSED || what == SM_LOG_UNPAIRED)
        w->refused++;
    else if (what == SM_LOG_STATE)
        see_state(w, row);
    else if (what == SM_LOG_FIRE || what == SM_LOG_MISFIRE || what == SM_LOG_SPENT)
        see_fire(w, row);
    else if (what == SM_LOG_OUT)
        see_out(w, row);
    else
        see_rerig(w, row);
}

// ---- what must hold of the rehearsal between two steps ----------------------------------------

static void flame_is_home_but_while_running(const watcher *w, const sm_snapshot *s) {
    for (uint32_t f = 0; f < s->show->fixture_count; f++) {
        const sm_fixture *fixture = &s->show->fixtures[f];
        const sm_profile *profile = &s->show->profiles[fixture->profile];
        if (!profile->flame || (s->state == SM_STATE_RUNNING && !s->fixture_inhibited[f]))
            continue;
        HOLDS(w, s->levels[fixture->channel_base + profile->enable] == profile->home[profile->enable]);
        HOLDS(w, s->levels[fixture->channel_base + profile->fire] == profile->home[profile->fire]);
    }
}

static void check(const watcher *w, const sm_snapshot *s) {
    HOLDS(w, s->state == w->state);
    // The list has room for every slot and more; a short repeat with rerig may overflow it.
    unsigned burning = 0;
    for (unsigned i = 0; i < w->out_count; i++)
        burning += w->outs[i].at_us > s->wall.us;
    HOLDS(w, s->flying + s->burning_count >= burning || s->flying + s->burning_count == s->burning_room);
    HOLDS(w, s->key || s->state == SM_STATE_SAFE);
    HOLDS(w, !(s->clear_called && s->guards[SM_GUARD_CLEAR].word != SM_GUARD_MET));
    HOLDS(w, s->at.us <= s->show->length_us);
    HOLDS(w, s->wait_runs == (s->state != SM_STATE_ENDED));
    HOLDS(w, s->has_show || s->state <= SM_STATE_ARMED);
    HOLDS(w, !s->counting_down || s->state == SM_STATE_RUNNING);
    unsigned misfired = 0, passed = 0;
    for (uint32_t slot = 0; slot < s->show->slot_count; slot++) {
        sm_slot_phase phase = s->slots[slot].phase;
        misfired += phase == SM_SLOT_MISFIRED;
        passed += phase == SM_SLOT_PASSED || phase == SM_SLOT_HELD;
        HOLDS(w, phase != SM_SLOT_SPENT || w->spent[slot] || s->repeat_rerig || w->repeat_rerigs);
    }
    // A slot that was re-rigged while it burned shows that it burns.
    HOLDS(w, misfired <= s->misfired && passed <= s->passed);
    HOLDS(w, s->flying + s->burning_count > 0 || (misfired == s->misfired && passed == s->passed));
    for (uint32_t i = 1; i < s->flying + s->burning_count; i++)
        HOLDS(w, s->burning[i - 1].out_at.us <= s->burning[i].out_at.us);
    flame_is_home_but_while_running(w, s);
}

// ---- steps ------------------------------------------------------------------------------------

static const char *const actions[] = {
    "key on",
    "key off",
    "call-clear J",
    "arm",
    "start",
    "pause",
    "pause",
    "resume",
    "safe",
    "seek 0",
    "seek 7.25",
    "seek 3",
    "seek 24.9",
    "seek here",
    "speed 0.1",
    "speed 1",
    "speed 2",
    "speed 1.7",
    "speed 3",
    "repeat 2 4",
    "repeat 5.5 5.75 rerig",
    "repeat off",
    "repeat off",
    "mark here",
    "rerig",
    "rerig",
    "inhibit A",
    "inhibit aerial",
    "inhibit F1",
    "inhibit left",
    "inhibit A-02",
    "allow A",
    "allow aerial",
    "allow F1",
    "allow left",
    "allow A-02",
    "plug A",
    "plug B",
    "unplug A",
    "unplug B",
    "repair A-01",
    "repair A-02",
    "enter K",
    "leave K",
    "measure",
    "measure A",
    "read A-01 open",
    "read A-01 1.95",
    "read A-02 short",
    "read B-01 0.9",
    "report A-01",
    "wind 4 m/s",
    "waive readings A-01 A-02 B-01 by K",
    "waive rails A B by K",
    "tick x yes",
    "sign J",
    "note text",
    "undo",
    "undo",
    "volume 30",
    "mute",
    "hint",
    "remote 1 arm",
    "remote 1 start",
    "remote 3 safe",
};

// What a crew that wants to get on with it would do next, NULL to wait.
static const char *lead_on(const sm_snapshot *s) {
    bool stands = s->state == SM_STATE_SAFE || s->state == SM_STATE_ARMED || s->state == SM_STATE_PAUSED;
    if (s->state == SM_STATE_ENDED)
        return "safe";
    if (!stands)
        return NULL;
    if (s->people_count > 0)
        return "leave K";
    if (!s->key)
        return "key on";
    if (s->state == SM_STATE_SAFE && s->slots[0].phase == SM_SLOT_SPENT)
        return "rerig";
    if (s->state == SM_STATE_SAFE && s->guards[SM_GUARD_RAILS].word == SM_GUARD_NOT_MET)
        return s->rail_plugged[0] ? "plug B" : "plug A";
    if (s->state == SM_STATE_SAFE && s->guards[SM_GUARD_READINGS].word == SM_GUARD_NOT_MET)
        return s->guards[SM_GUARD_READINGS].why[0] == 'B' ? "repair B-01" : "repair A-01";
    if (s->guards[SM_GUARD_CLEAR].word != SM_GUARD_MET)
        return "call-clear J";
    return s->state == SM_STATE_SAFE ? "arm" : s->state == SM_STATE_ARMED ? "start" : "resume";
}

static sm_action read_action(const sm_show *show, const char *text) {
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(show, text, strlen(text), &action, why, &at), SM_OK);
    return action;
}

// One step: an action at a moment, at the very moment of what is due next, or time that passes. TEXTS: before and after a refusal.
static sm_us step(watcher *w, engine_dice *dice, engine_run *run, sm_us at_us, sm_text texts[2]) {
    sm_wall_time due;
    uint32_t how = engine_roll(dice, 8);
    at_us += how < 2 ? 0 : how < 5 ? engine_roll(dice, 600000) : engine_roll(dice, 3000000);
    if (how == 7 && sm_rehearsal_next_due(run->rehearsal, &due) && due.us < at_us + 5000000)
        at_us = due.us;
    run->now.us = at_us;
    const char *text = actions[engine_roll(dice, sizeof actions / sizeof *actions)];
    if (engine_roll(dice, 3) != 0)
        text = lead_on(engine_look(run));
    if (!text) {
        assert_int_equal(sm_rehearsal_run(run->rehearsal, run->now), SM_OK);
        return at_us;
    }
    sm_action action = read_action(w->show, text);
    if (at_us > 0) // all that comes before the action
        assert_int_equal(sm_rehearsal_run(run->rehearsal, (sm_wall_time){at_us - 1}), SM_OK);
    w->in_act = true;
    w->act_logged = false;
    engine_snapshot_text(&texts[0], engine_look(run));
    sm_result result = sm_rehearsal_act(run->rehearsal, &action, SM_SOURCE_CONSOLE, run->now);
    engine_snapshot_text(&texts[1], engine_look(run));
    w->in_act = false;
    HOLDS(w, w->act_logged);
    assert_true(result == SM_OK || result == SM_REFUSED);
    w->repeat_rerigs = w->repeat_rerigs || (result == SM_OK && action.rerig);
    // `at` may be the end of arming, which comes first and changes much.
    bool arming_ended = strstr(sm_text_get(&texts[0]), "state arming") && w->state == SM_STATE_ARMED;
    if (result == SM_REFUSED && !arming_ended)
        HOLDS(w, strcmp(sm_text_get(&texts[0]), sm_text_get(&texts[1])) == 0);
    return at_us;
}

typedef struct tee {
    watcher *watching;
    engine_run *run;
} tee;

static void see_and_keep(void *context, const sm_log_row *row) {
    tee *both = context;
    see(both->watching, row);
    sm_log_row_format(&both->run->log, row);
}

// Returns how many firings there were; LOG gets the log.
static unsigned rehearse(uint64_t seed, unsigned steps, sm_text *log) {
    engine_dice dice = {seed};
    sm_show *show = engine_random_show(&dice, 50);
    assert_true(show->slot_count <= SLOTS_MAX);
    watcher w = {.show = show, .seed = seed};
    engine_run run;
    engine_run_init(&run, show, NULL);
    sm_rehearsal_destroy(run.rehearsal);
    tee both = {&w, &run};
    const sm_rehearsal_options options = {.sink = see_and_keep, .sink_context = &both};
    assert_int_equal(sm_rehearsal_create(show, &options, &run.rehearsal), SM_OK);
    sm_us at_us = 0;
    sm_text texts[2] = {{0}, {0}};
    for (w.step = 0; w.step < steps; w.step++) {
        at_us = step(&w, &dice, &run, at_us, texts);
        sm_text_clear(&texts[0]);
        sm_text_clear(&texts[1]);
        check(&w, engine_look(&run));
    }
    assert_true(w.refused > steps / 20);
    sm_text_append(log, sm_text_get(&run.log), run.log.length);
    assert_false(log->failed);
    sm_text_deinit(&texts[0]);
    sm_text_deinit(&texts[1]);
    engine_run_deinit(&run);
    sm_show_destroy(show);
    return w.fired;
}

static void what_must_hold_holds(void **state) {
    (void)state;
    unsigned runs = engine_soaks() ? 400 : 10, steps = engine_soaks() ? 20000 : 2000, fired = 0;
    for (unsigned i = 0; i < runs; i++) {
        sm_text log = {0};
        fired += rehearse(1000 + i, steps, &log);
        sm_text_deinit(&log);
    }
    print_message("%u runs of %u steps, %u firings\n", runs, steps, fired);
    assert_true(fired > runs * 10);
}

static void the_same_again_is_the_same_to_the_byte(void **state) {
    (void)state;
    sm_text first = {0}, second = {0};
    (void)rehearse(7, 5000, &first);
    (void)rehearse(7, 5000, &second);
    assert_true(first.length > 10000);
    assert_int_equal(first.length, second.length);
    assert_memory_equal(first.bytes, second.bytes, first.length);
    sm_text_deinit(&first);
    sm_text_deinit(&second);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_must_hold_holds),
        cmocka_unit_test(the_same_again_is_the_same_to_the_byte),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

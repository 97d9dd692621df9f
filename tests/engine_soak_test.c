// SPDX-License-Identifier: GPL-3.0-or-later
// Long random rehearsals and drills on a virtual clock: whatever is done and whatever goes wrong in whatever order, each promise of
// engine_watch_look.c holds after every step, and the same again gives the same log to the byte. SLOWMATCH_SOAK makes it 10 million
// steps; SLOWMATCH_STEPS and SLOWMATCH_SEED say how many and from which seed on, SLOWMATCH_ROWS_FROM prints the rows of the log from that
// step of each run on.
#include "support/engine_random.h"
#include "support/engine_watch.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))

static const char *const action_texts[] = {
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
    "allow A-01",
    "allow A-02",
    "allow B-01",
    "plug A",
    "plug B",
    "unplug A",
    "unplug B",
    "exchange A B",
    "repair A-01",
    "repair A-02",
    "enter K",
    "leave K",
    "leave a person",
    "measure",
    "measure A",
    "read A-01 open",
    "read A-01 1.95",
    "read A-02 short",
    "read B-01 0.9",
    "report A-01",
    "report A-02",
    "wind 4 m/s",
    "wind 12 m/s",
    "waive readings A-01 A-02 B-01 by K",
    "waive rails A B by K",
    "waive field by K",
    "tick x yes",
    "sign J",
    "note text",
    "undo",
    "undo 3",
    "volume 30",
    "mute",
    "hint",
    "answer understood",
    "pass-time",
    "hold M smoke",
    "hold K a child",
    "lift M J",
    "lift K J",
    "start-in 2 s",
    "start-in 90 s",
    "start-in off",
    "listen 1",
    "listen off",
    "remote 1 arm",
    "remote 1 start",
    "remote 1 safe",
    "remote 3 safe",
    "remote 3 key off",
    "reload",
    "quit",
};

// Those that read against a show (whose cues are random) are used.
static const char *const injection_texts[] = {
    "open A-01",      "short A-02",        "mended A-01",   "mended A-02",      "misfire A-01",
    "misfire A-04",   "late A-02 400 ms",  "late A-05 3 s", "fires-alone A-01", "fires-alone A-04",
    "stray A-07",     "unplug A",          "tip A-01",      "refuse-arm M",     "module-ready M",
    "module-ready M", "flame-stuck F1",    "flame-out F2",  "wind 12 m/s",      "storm",
    "fire left",      "person in-field",   "person out",    "person out",       "call K all well",
    "no-answer K",    "false-clear K",     "link lost",     "link back",        "link back",
    "link back",      "remote-unpaired 3", "remote-weak 1", "remote-good 1",    "sound lost",
    "sound back",     "music-off 1 s",
};

// What a crew that wants to get on with it does.
typedef enum wanted {
    WANT_LEAVE,
    WANT_LEAVE_STRANGER,
    WANT_LIFT_M,
    WANT_LIFT_K,
    WANT_KEY,
    WANT_RERIG,
    WANT_CLEAR,
    WANT_ARM,
    WANT_START,
    WANT_RESUME,
    WANT_SAFE,
    WANT_PLUG_A,
    WANT_PLUG_B,
    WANT_PLUG_C,
    WANT_ALLOW, // and the four behind it
    WANTED = WANT_ALLOW + 5
} wanted;
static const char *const wanted_texts[WANTED] = {
    "leave K", "leave a person", "lift M J",   "lift K J", "key on",    "rerig",  "call-clear J",
    "arm",     "start",          "resume",     "safe",     "plug A",    "plug B", "plug C",
    "allow A", "allow aerial",   "allow left", "allow F1", "allow A-02"};

typedef struct soak {
    watch w;
    engine_dice dice;
    sm_show *show;
    sm_dmx_timeline *timeline;
    sm_rehearsal *rehearsal;
    sm_snapshot *snapshot;
    bool drill;
    sm_action actions[COUNT(action_texts)], wanted[WANTED], repairs[WATCH_SLOTS];
    sm_injection injections[COUNT(injection_texts)];
    size_t injection_count;
    sm_text *log; // NULL: nobody keeps it
    sm_text before, after;
    sm_us at_us;
    uint64_t from_state[SM_STATE_COUNT]; // stops from each
    uint64_t rows_from;                  // rows of steps from there on are printed
} soak;

static uint64_t number(const char *name, uint64_t otherwise) {
    const char *text = getenv(name);
    return text ? strtoull(text, NULL, 10) : otherwise;
}

// ---- making one -------------------------------------------------------------------------------

static void print_row(const soak *s, const sm_log_row *row) {
    sm_text text = {0};
    sm_log_row_format(&text, row);
    print_message("%llu: %s", (unsigned long long)s->w.step, sm_text_get(&text));
    sm_text_deinit(&text);
}

static void see(void *context, const sm_log_row *row) {
    soak *s = context;
    if (s->w.step >= s->rows_from)
        print_row(s, row);
    watch_row(&s->w, row);
    if (s->log)
        sm_log_row_format(s->log, row);
}

static void read_action(const sm_show *show, const char *text, sm_action *out) {
    char why[200];
    size_t at;
    if (sm_action_read(show, text, strlen(text), out, why, &at) != SM_OK)
        fail_msg("%s: %s", text, why);
}

static void read_all(soak *s) {
    char text[64], name[48];
    for (size_t i = 0; i < COUNT(action_texts); i++)
        read_action(s->show, action_texts[i], &s->actions[i]);
    for (size_t i = 0; i < WANTED; i++)
        read_action(s->show, wanted_texts[i], &s->wanted[i]);
    for (uint32_t slot = 0; slot < s->show->slot_count; slot++) {
        snprintf(text, sizeof text, "repair %s", sm_slot_format(s->show, slot, name));
        read_action(s->show, text, &s->repairs[slot]);
    }
    s->injection_count = 0;
    for (size_t i = 0; i < COUNT(injection_texts); i++) {
        char why[200];
        size_t at;
        const char *injection = injection_texts[i];
        s->injection_count += sm_injection_read(s->show, injection, strlen(injection),
                                                &s->injections[s->injection_count], why, &at) == SM_OK;
    }
}

// Every third show has a module that goes on without its link beside one that holds; every second rehearsal is a drill; one in eight tells its alerts.
static void soak_begin(soak *s, uint64_t seed, sm_text *log) {
    static const engine_file changes[][4] = {
        {{"show.ini", "[show]\ntitle = Random\nlength = 25\ncountdown = 2 s\n[limits]\narm-time = 1 s\n"
                      "wind = 8 m/s\nreentry-wait = 30 s\nmisfire-wait = 2 min\n"},
         {NULL, NULL}},
        {{"show.ini", "[show]\ntitle = Random\nlength = 25\ncountdown = 2 s\n[limits]\narm-time = 1 s\n"},
         {"modules.csv", "name,slots,link\nM,12,go-on\nN,4,hold\n"},
         {"rails.csv", "name,module,first,slots,position\nA,M,1,8,left\nB,N,1,4,right\nC,M,9,2,\n"},
         {NULL, NULL}}};
    *s = (soak){.dice = {seed}, .log = log, .rows_from = number("SLOWMATCH_ROWS_FROM", UINT64_MAX)};
    s->show = engine_random_show_with(&s->dice, 50, changes[seed % 3 == 0]);
    s->drill = seed % 2 == 0;
    assert_int_equal(sm_dmx_timeline_create(s->show, &s->timeline), SM_OK);
    assert_int_equal(sm_snapshot_create(s->show, &s->snapshot), SM_OK);
    read_all(s);
    watch_begin(&s->w, s->show, s->timeline, seed);
    const sm_rehearsal_options options = {
        .drill = s->drill, .no_alerts = seed % 8 != 0, .sink = see, .sink_context = s};
    assert_int_equal(sm_rehearsal_create(s->show, &options, &s->rehearsal), SM_OK);
}

static void soak_end(soak *s) {
    sm_rehearsal_destroy(s->rehearsal);
    sm_snapshot_destroy(s->snapshot);
    sm_dmx_timeline_destroy(s->timeline);
    sm_show_destroy(s->show);
    sm_text_deinit(&s->before);
    sm_text_deinit(&s->after);
}

// ---- steps ------------------------------------------------------------------------------------

static const sm_action *mend_rig(const soak *s) {
    for (uint32_t rail = 0; rail < s->show->rail_count && rail < 3; rail++)
        if (sm_rail_in_use(s->show, rail) && !sm_rehearsal_plugged(s->rehearsal, rail))
            return &s->wanted[WANT_PLUG_A + (int)rail];
    for (uint32_t slot = 0; slot < s->show->slot_count; slot++)
        if (s->show->slot_firings[slot] != SM_NONE &&
            sm_verdict_refuses(sm_rehearsal_verdict_read(s->rehearsal, slot)))
            return &s->repairs[slot];
    return NULL;
}

static bool all_is_spent(const soak *s) {
    bool spent = true;
    for (uint32_t slot = 0; slot < s->show->slot_count; slot++)
        spent = spent && (s->show->slot_firings[slot] == SM_NONE || s->w.spent[slot]);
    return spent;
}

// The next step of such a crew, NULL to wait.
static const sm_action *lead_on(const soak *s) {
    const sm_state state = s->w.state;
    if (state == SM_STATE_ENDED)
        return &s->wanted[WANT_SAFE];
    if (state == SM_STATE_ARMING || state == SM_STATE_RUNNING)
        return NULL;
    if (s->w.people_count > 0)
        return &s->wanted[sm_rehearsal_has_person(s->rehearsal, "K") ? WANT_LEAVE : WANT_LEAVE_STRANGER];
    if (s->w.hold_count > 0)
        return &s->wanted[s->w.holds[0][0] == 'M' ? WANT_LIFT_M : WANT_LIFT_K];
    if (!s->w.key)
        return &s->wanted[WANT_KEY];
    for (int i = WANT_ALLOW; i < WANTED && state == SM_STATE_SAFE && s->w.inhibit_count > 1; i++)
        if (sm_rehearsal_inhibits(s->rehearsal, s->wanted[i].target))
            return &s->wanted[i];
    if (state == SM_STATE_SAFE && all_is_spent(s))
        return &s->wanted[WANT_RERIG];
    const sm_action *mend = state == SM_STATE_SAFE ? mend_rig(s) : NULL;
    if (mend)
        return mend;
    if (!s->w.clear)
        return &s->wanted[WANT_CLEAR];
    return &s->wanted[state == SM_STATE_SAFE ? WANT_ARM : state == SM_STATE_ARMED ? WANT_START : WANT_RESUME];
}

static const sm_snapshot *look(soak *s) {
    sm_rehearsal_snapshot(s->rehearsal, (sm_wall_time){s->at_us}, s->snapshot);
    return s->snapshot;
}

// Where a seek goes to: its own moment, or that of the first mark of that name.
static sm_us goes_to(soak *s, const sm_action *action) {
    if (action->act != SM_ACT_SEEK || action->moment_us != SM_UNSET_US)
        return action->moment_us;
    const sm_snapshot *now = look(s);
    for (uint32_t i = 0; i < now->mark_count; i++)
        if (strcmp(now->marks[i].name, action->target) == 0)
            return now->marks[i].at.us;
    return SM_UNSET_US;
}

// Of those that put hands or feet into the field.
static void caution(soak *s, const sm_action *action, const sm_facts *facts) {
    const bool hands = action->act == SM_ACT_ENTER || action->act == SM_ACT_REPAIR ||
                       action->act == SM_ACT_PLUG || action->act == SM_ACT_UNPLUG ||
                       action->act == SM_ACT_EXCHANGE;
    if (!hands)
        return;
    sm_text_clear(&s->before);
    sm_rehearsal_caution(s->rehearsal, action, &s->before);
    WATCH(&s->w, CAUTIONED, s->before.length > 0 || (facts->state == SM_STATE_SAFE && !facts->key));
    // A slot that misfired is not to be touched before the wait has run.
    const bool misfired =
        action->act == SM_ACT_REPAIR && sm_rehearsal_has_misfired(s->rehearsal, action->index);
    const sm_us wait = sm_wait_asked_us(&s->show->settings, true);
    if (misfired && wait != SM_UNSET_US && facts->now.us - facts->wait_since.us < wait)
        WATCH(&s->w, CAUTIONED, strstr(sm_text_get(&s->before), "wait has"));
}

// `reload` is done by whoever reads the folder.
static sm_result put_again(soak *s, sm_result result) {
    if (result != SM_OK || !sm_rehearsal_reload_asked(s->rehearsal))
        return result;
    if (engine_roll(&s->dice, 2) == 0) {
        assert_int_equal(sm_rehearsal_replace_show(s->rehearsal, s->show), SM_OK);
        return SM_OK;
    }
    sm_rehearsal_reload_failed(s->rehearsal, "cues.csv:1:1: no", (sm_wall_time){s->at_us});
    return SM_REFUSED;
}

static void act(soak *s, const sm_action *action) {
    watch *w = &s->w;
    const sm_wall_time now = {s->at_us};
    const bool wholly = engine_roll(&s->dice, 64) == 0;
    assert_int_equal(sm_rehearsal_bring(s->rehearsal, now), SM_OK);
    sm_facts facts[2] = {sm_rehearsal_facts(s->rehearsal)};
    caution(s, action, &facts[0]);
    w->jump_us = goes_to(s, action);
    sm_text_clear(&s->before);
    if (wholly)
        engine_snapshot_text(&s->before, look(s));
    w->acting = action;
    w->act_logged = false;
    s->from_state[w->state] += action->act == SM_ACT_SAFE;
    sm_result result = sm_rehearsal_act(s->rehearsal, action, SM_SOURCE_CONSOLE, now);
    result = put_again(s, result);
    facts[1] = sm_rehearsal_facts(s->rehearsal);
    watch_acted(w, s->rehearsal, action, SM_SOURCE_CONSOLE, result, facts);
    w->acting = NULL;
    if (!wholly || result != SM_REFUSED)
        return;
    sm_text_clear(&s->after);
    engine_snapshot_text(&s->after, look(s));
    const bool same = strcmp(sm_text_get(&s->before), sm_text_get(&s->after)) == 0;
    // One that is not paired ends a start by itself, and says so.
    WATCH(w, REFUSED_CHANGES_NOTHING, same || action->remote > 1);
}

static void inject(soak *s) {
    const sm_wall_time now = {s->at_us};
    assert_int_equal(sm_rehearsal_bring(s->rehearsal, now), SM_OK);
    s->w.injecting = &s->injections[engine_roll(&s->dice, (uint32_t)s->injection_count)];
    assert_int_equal(sm_rehearsal_inject(s->rehearsal, "e", s->w.injecting, now), SM_OK);
    s->w.injecting = NULL;
}

// One step: an action or a fault at a moment, at the very moment of what is due next, or time that passes.
static void step(soak *s) {
    sm_wall_time due;
    const uint32_t how = engine_roll(&s->dice, 8), what = engine_roll(&s->dice, 24);
    const sm_us came_us = s->at_us;
    s->at_us += how < 2 ? 0 : how < 5 ? engine_roll(&s->dice, 600000) : engine_roll(&s->dice, 3000000);
    if (how == 7 && sm_rehearsal_next_due(s->rehearsal, &due) && due.us < s->at_us + 5000000)
        s->at_us = due.us;
    const sm_us shown_us = watch_at_us(s->rehearsal, (sm_wall_time){came_us});
    s->w.jumped = s->w.jumped && s->w.state != SM_STATE_SAFE;
    const uint64_t rows = s->w.rows;
    if (s->drill && what == 0)
        inject(s);
    else if (what < 7)
        act(s, &s->actions[engine_roll(&s->dice, COUNT(action_texts))]);
    else if (lead_on(s))
        act(s, lead_on(s));
    const sm_wall_time now = {s->at_us};
    assert_int_equal(sm_rehearsal_run(s->rehearsal, now), SM_OK);
    if (s->w.rows == rows && s->w.state == SM_STATE_RUNNING) // nothing but time has passed
        WATCH(&s->w, CLOCK,
              llabs(watch_at_us(s->rehearsal, now) - shown_us -
                    (s->at_us - came_us) * s->w.speed_ppm / 1000000) <= 1);
    watch_look(&s->w, s->rehearsal, now, engine_roll(&s->dice, 32) == 0 ? look(s) : NULL);
}

// ---- runs -------------------------------------------------------------------------------------

typedef struct totals {
    uint64_t steps, rows, fired, refused, judged[WATCH_PROMISES], from_state[SM_STATE_COUNT];
} totals;

static void rehearse(uint64_t seed, unsigned steps, sm_text *log, totals *sum) {
    soak *s = malloc(sizeof *s);
    assert_non_null(s);
    soak_begin(s, seed, log);
    for (s->w.step = 0; s->w.step < steps; s->w.step++)
        step(s);
    sum->steps += s->w.step;
    sum->rows += s->w.rows;
    sum->fired += s->w.fired;
    sum->refused += s->w.refused;
    for (int i = 0; i < WATCH_PROMISES; i++)
        sum->judged[i] += s->w.judged[i];
    for (int i = 0; i < SM_STATE_COUNT; i++)
        sum->from_state[i] += s->from_state[i];
    soak_end(s);
    free(s);
}

static void what_is_promised_holds(void **state) {
    (void)state;
    const uint64_t steps = number("SLOWMATCH_STEPS", engine_soaks() ? 10000000 : 60000);
    const uint64_t first = number("SLOWMATCH_SEED", 1000);
    totals sum = {0};
    for (uint64_t seed = first; sum.steps < steps; seed++)
        rehearse(seed, steps > 1000000 ? 20000 : 2000, NULL, &sum);
    print_message("engine: %llu steps of random rehearsals and drills, seeds from %llu on: %llu rows, %llu "
                  "firings, %llu "
                  "refusals\n",
                  (unsigned long long)sum.steps, (unsigned long long)first, (unsigned long long)sum.rows,
                  (unsigned long long)sum.fired, (unsigned long long)sum.refused);
    for (int i = 0; i < WATCH_PROMISES; i++) {
        if (engine_soaks())
            print_message("  %12llu  %s\n", (unsigned long long)sum.judged[i],
                          watch_promise_of((watch_promise)i)->name);
        if (sum.judged[i] == 0)
            fail_msg("never looked at: %s", watch_promise_of((watch_promise)i)->name);
    }
    for (int i = 0; i < SM_STATE_COUNT; i++) // safe was asked for in each
        assert_true(sum.from_state[i] > 0);
    assert_true(sum.fired > sum.steps / 100 && sum.refused > sum.steps / 100);
}

static void the_same_again_is_the_same_to_the_byte(void **state) {
    (void)state;
    for (uint64_t seed = 6; seed <= 8; seed++) {
        sm_text first = {0}, second = {0};
        totals sum = {0};
        rehearse(seed, 1000, &first, &sum);
        rehearse(seed, 1000, &second, &sum);
        assert_true(first.length > 10000 && !first.failed && !second.failed);
        assert_int_equal(first.length, second.length);
        assert_memory_equal(first.bytes, second.bytes, first.length);
        sm_text_deinit(&first);
        sm_text_deinit(&second);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_promised_holds),
        cmocka_unit_test(the_same_again_is_the_same_to_the_byte),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

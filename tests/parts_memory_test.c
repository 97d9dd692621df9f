// SPDX-License-Identifier: GPL-3.0-or-later
// Memory runs out anywhere in the parts that run, judge and keep a rehearsal: once, and for good. Each says so and can be let go of; what
// came of it before is not half there. (Loading a show: show_memory_test; the check: check_hostile_test.)
#include "lights/judge.h"
#include "support/folder.h"
#include "support/kept.h"
#include "support/rig_show.h"
#include "tools/exact_arena.c" // NOLINT(bugprone-suspicious-include): in place of the library's

#include "slowmatch/dmx.h"
#include "slowmatch/site.h"
#include "slowmatch/wire.h"

#include <errno.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// ---- allocations that fail ------------------------------------------------------------------------

static size_t fail_in; // allocations until one fails, this one included; 0: none does
static bool for_good, has_failed;

static bool may_allocate(void) {
    if (fail_in == 0)
        return true;
    if (fail_in > 1) {
        fail_in--;
        return true;
    }
    has_failed = true;
    errno = ENOMEM; // as the library's own
    if (!for_good)
        fail_in = 0;
    return false;
}

#if defined(__has_feature)
#if __has_feature(address_sanitizer)
#define __SANITIZE_ADDRESS__ 1
#endif
#endif

#ifdef __SANITIZE_ADDRESS__ // it brings its own: the arena's allocations alone are counted then, and not all use one
#define COUNTS_ALL false
#define plain_calloc calloc
#else
#define COUNTS_ALL true
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *block, size_t size);
#define plain_calloc __libc_calloc

void *malloc(size_t size) {
    return may_allocate() ? __libc_malloc(size) : NULL;
}

void *calloc(size_t count, size_t size) {
    return may_allocate() ? __libc_calloc(count, size) : NULL;
}

void *realloc(void *block, size_t size) {
    return may_allocate() ? __libc_realloc(block, size) : NULL;
}
#endif

// ---- at each of them -------------------------------------------------------------------------------

typedef struct site {
    char folder[64], logbook[256];
    sm_show *small, *demo;
    sm_show *rig; // four rails of 12 slots
} site;

// Does it and puts what came of it into OUT.
typedef sm_result (*attempt_fn)(const site *s, sm_text *out);

// Behind these a database makes thousands that are alike: outside of a soak ever fewer of them are enough.
#define EACH 400
static size_t next_after(size_t n) {
    return n < EACH || getenv("SLOWMATCH_SOAK") ? n + 1 : n + n / 64;
}

// Every allocation (of very many, some) fails in turn, until ATTEMPT needs fewer; at least LEAST of them are told. WHOLE: one that is not told takes nothing away.
static void try_at_each(const site *s, attempt_fn attempt, size_t least, bool whole) {
    sm_text expected = {0};
    assert_int_equal(attempt(s, &expected), SM_OK);
    assert_true(expected.length > 0);
    for (int lasting = 0; lasting < 2; lasting++) {
        size_t refused = 0;
        for (size_t n = 1;; n = next_after(n)) {
            sm_text out = {0};
            for_good = lasting == 1;
            has_failed = false;
            fail_in = n;
            sm_result result = attempt(s, &out);
            bool reached = has_failed;
            fail_in = 0;
            if (result == SM_OK && !out.failed && (whole || !reached))
                assert_string_equal(sm_text_get(&out), sm_text_get(&expected));
            if (result != SM_OK && result != SM_NO_MEMORY && result != SM_UNREADABLE &&
                result != SM_INVALID) // the last: of a file that fopen had no memory for
                fail_msg("allocation %zu failed: result %d", n, (int)result);
            refused += result != SM_OK || out.failed;
            sm_text_deinit(&out);
            if (!reached)
                break;
        }
        if (COUNTS_ALL && refused < least)
            fail_msg("only %zu were refused", refused);
    }
    sm_text_deinit(&expected);
}

// ---- the parts ---------------------------------------------------------------------------------------

static sm_result put_timeline(const site *s, sm_text *out) {
    sm_dmx_timeline *timeline = NULL;
    sm_result result = sm_dmx_timeline_create(s->demo, &timeline);
    assert_true((timeline != NULL) == (result == SM_OK));
    size_t count = 0;
    for (uint32_t channel = 0; timeline && channel < s->demo->channel_count; channel++) {
        (void)sm_dmx_steps(timeline, channel, &count);
        sm_dmx_channel at = sm_dmx_channel_at(timeline, channel, (sm_show_time){20 * SM_US_PER_S}, true);
        sm_text_printf(out, "%zu %d\n", count, sm_dmx_channel_level(&at, (sm_show_time){20 * SM_US_PER_S}));
    }
    sm_dmx_timeline_destroy(timeline);
    return result;
}

static sm_result put_survey(const site *s, sm_text *out) {
    sm_wire_universe *universes = NULL;
    size_t count = 0;
    const sm_result result = sm_wire_survey(s->demo, &universes, &count);
    assert_true((universes != NULL) == (result == SM_OK));
    for (size_t i = 0; i < count; i++)
        sm_text_printf(out, "%d %d\n", universes[i].number, (int)universes[i].why);
    free(universes);
    return result;
}

// Universe 1 of the demo is one of lights, universe 2 one of flames; here a line of a third universe goes on to the flames.
static sm_result put_judge(const site *s, sm_text *out) {
    static const uint8_t dark[SM_SACN_SLOTS];
    sm_line lines[] = {s->demo->lines[0], s->demo->lines[1]};
    sm_show show = *s->demo;
    lights_judge *judge = NULL;
    lights_verdict verdict;
    char why[SM_LIGHTS_WHY];
    lines[1].universe = 3;
    show.lines = lines;
    const sm_result result = lights_judge_create(&show, &judge);
    assert_true((judge != NULL) == (result == SM_OK));
    for (int32_t universe = 1; judge && universe < 4; universe++)
        sm_text_printf(out, "%d\n", lights_judge_pass(judge, universe, dark, NULL, &verdict, why));
    lights_judge_destroy(judge);
    lights_judge_destroy(NULL);
    return result;
}

// Four rails of which two are swapped, one has a cut lead beside a cut cable, and one reads 3 ohm too much.
static void plant_faults(const sm_show *rig, sm_reading *readings) {
    for (uint32_t slot = 0; slot < rig->slot_count; slot++) {
        const uint32_t rail = rig->slot_rails[slot], from = rail < 2 ? (slot + 12) % 24 : slot,
                       row = rig->slot_firings[from];
        const uint32_t at = slot - rig->rails[rail].slot_base;
        const bool cut = rail == 2 && (at < 4 || at == 7);
        readings[slot] = (sm_reading){.slot = slot, .value.kind = SM_READ_OPEN, .when = "", .by = ""};
        if (row != SM_NONE && !cut)
            readings[slot].value =
                (sm_read_value){.kind = SM_READ_OHMS,
                                .ohms = sm_rig_firing_loop(rig, row).nominal_ohms + (rail == 3 ? 3.0 : 0.0)};
    }
}

static sm_result put_report(const site *s, sm_text *out) {
    sm_reading before[48], readings[48];
    plant_faults(s->rig, readings);
    for (size_t i = 0; i < 48; i++)
        before[i] = readings[47 - i];
    const sm_rig_set sets[] = {{"before.csv", before, 24}, {"readings.csv", readings, 48}};
    sm_rig_report *report = NULL;
    sm_result result = sm_rig_report_create(s->rig, sets, 2, &report);
    assert_true((report != NULL) == (result == SM_OK));
    if (report) {
        assert_true(has_failed || (report->diagnosis->count == 3 && report->diagnosis->remaining_count == 1));
        sm_rig_report_text(report, out);
        sm_rig_report_json(report, out);
    }
    sm_rig_report_destroy(report);
    return result;
}

static sm_result put_feeds(const site *s, sm_text *out) {
    sm_site_feed *feeds = plain_calloc(s->demo->feed_count, sizeof *feeds);
    assert_non_null(feeds);
    const sm_result result = sm_site_feeds(s->demo, feeds);
    for (uint32_t f = 0; result == SM_OK && f < s->demo->feed_count; f++)
        sm_text_printf(out, "%.3f A, %.3f V\n", feeds[f].amps, feeds[f].chain_volts);
    free(feeds);
    return result;
}

// Rows, and the words in them: a row that came without its words is half there.
static void count_row(void *context, const sm_log_row *row) {
    unsigned *counts = context;
    counts[0]++;
    counts[1] += (unsigned)(strlen(row->target) + strlen(row->detail));
}

static sm_result rehearse(const site *s, sm_rehearsal *rehearsal, sm_operator *operator_) {
    sm_result result = SM_OK;
    (void)s;
    while (result == SM_OK || result == SM_REFUSED) {
        sm_wall_time acts_at, runs_at;
        sm_operator_word word = sm_operator_next(operator_, rehearsal, &acts_at);
        bool runs = sm_rehearsal_next_due(rehearsal, &runs_at);
        bool acts = word == SM_OPERATOR_WAIT && (!runs || acts_at.us <= runs_at.us);
        if (sm_rehearsal_is_over(rehearsal, word) || (!acts && !runs))
            return SM_OK;
        result = acts ? sm_rehearsal_act(rehearsal, sm_operator_take(operator_, acts_at), SM_SOURCE_SCRIPT,
                                         acts_at)
                      : sm_rehearsal_run(rehearsal, runs_at);
    }
    return result;
}

static const char script[] =
    "0 call-clear K\n0 key on\n0 inhibit A-01\n0 tick briefing yes\n0 arm\n1 start\n"
    "@0:02 repeat 1 2 rerig\n@0:01.5 repeat off\n@0:06 pause\n+1 mark here\n+0 resume\n@0:11 safe\n"
    "+0 rerig\n+0 read A-02 open\n+0 undo\n";

static sm_result put_rehearsal(const site *s, sm_text *out) {
    unsigned rows[2] = {0, 0};
    const sm_rehearsal_options options = {.sink = count_row, .sink_context = rows};
    sm_rehearsal *rehearsal = NULL;
    sm_operator *operator_ = NULL;
    sm_snapshot *snapshot = NULL;
    sm_findings *findings = sm_findings_create();
    sm_result result =
        findings ? sm_operator_read(s->small, "script", script, strlen(script), findings, &operator_)
                 : SM_NO_MEMORY;
    if (result == SM_INVALID && has_failed)
        result = SM_NO_MEMORY;
    if (result == SM_OK)
        result = sm_rehearsal_create(s->small, &options, &rehearsal);
    if (result == SM_OK)
        result = rehearse(s, rehearsal, operator_);
    if (result == SM_OK && sm_rehearsal_lost_words(rehearsal))
        result = SM_NO_MEMORY;
    if (result == SM_OK)
        result = sm_snapshot_create(s->small, &snapshot);
    if (result == SM_OK) {
        sm_rehearsal_snapshot(rehearsal, (sm_wall_time){30 * SM_US_PER_S}, snapshot);
        sm_text_printf(out, "%u rows, %u bytes of words, %s\n", rows[0], rows[1],
                       sm_state_text(snapshot->state));
    }
    sm_snapshot_destroy(snapshot);
    sm_rehearsal_destroy(rehearsal);
    sm_operator_destroy(operator_);
    sm_findings_destroy(findings);
    return result;
}

static sm_result take_drill(const site *s, const sm_drill *drill, sm_drill_run *run) {
    static const struct {
        int s;
        const char *line;
    } acts[] = {{1, "hint"},   {2, "call-clear J"}, {3, "key on"},  {4, "arm"},
                {20, "start"}, {60, "safe"},        {61, "key off"}};
    sm_result result = SM_OK;
    (void)drill;
    for (size_t i = 0; i < sizeof acts / sizeof acts[0] && (result == SM_OK || result == SM_REFUSED); i++) {
        sm_action action;
        char why[200];
        size_t at;
        result = sm_action_read(s->demo, acts[i].line, strlen(acts[i].line), &action, why, &at);
        if (result == SM_OK)
            result = sm_drill_act(run, &action, SM_SOURCE_SCRIPT, (sm_wall_time){acts[i].s * SM_US_PER_S});
    }
    return result == SM_REFUSED ? SM_OK : result;
}

static sm_result put_drill_of(const site *s, sm_drill_seat seat, sm_text *out) {
    sm_drill *drill = NULL;
    sm_drill_run *run = NULL;
    sm_debrief *debrief = NULL;
    sm_findings *findings = sm_findings_create();
    sm_result result =
        findings ? sm_drill_load(s->demo, "10-the-spotters-seat", findings, &drill) : SM_NO_MEMORY;
    assert_true((drill != NULL) == (result == SM_OK));
    if (result == SM_OK)
        result = sm_drill_sit(drill, seat);
    const sm_drill_options options = {.seed = 1, .crew = "K"};
    if (result == SM_OK)
        result = sm_drill_run_create(drill, &options, &run);
    if (result == SM_OK)
        result = take_drill(s, drill, run);
    if (result == SM_OK)
        result = sm_drill_finish(run, (sm_wall_time){100 * SM_US_PER_S});
    if (result == SM_OK)
        result = sm_debrief_create(run, &debrief);
    if (result == SM_OK)
        sm_debrief_text(debrief, 100, out);
    sm_debrief_destroy(debrief);
    sm_drill_run_destroy(run);
    sm_drill_destroy(drill);
    sm_findings_destroy(findings);
    return result;
}

static sm_result put_drill(const site *s, sm_text *out) {
    return put_drill_of(s, SM_SEAT_LEAD, out);
}

static sm_result put_spotters_drill(const site *s, sm_text *out) {
    return put_drill_of(s, SM_SEAT_SPOTTER, out);
}

static sm_result put_walk(const site *s, sm_text *out) {
    static const char answers[] =
        "item,answer,value,note,by,when\nbriefing,yes,,all there,K,2026-07-04T20:15\n"
        "boats,na,,no water,K and M,2026-07-04T20:15\n";
    sm_walk_list *list = NULL;
    sm_walk *walk = NULL;
    sm_walk_tick *ticks = NULL;
    sm_walk_past past = {0};
    const sm_walk_facts facts = {.now_us = INT64_C(1783196100) * SM_US_PER_S};
    sm_arena *texts = sm_arena_create();
    sm_findings *findings = sm_findings_create();
    sm_result result =
        texts && findings ? sm_walk_list_create(s->small, &(sm_walk_hash){""}, &list) : SM_NO_MEMORY;
    assert_true((list != NULL) == (result == SM_OK));
    if (result == SM_OK)
        result = sm_walk_ticks_read(list, "answers.csv", answers, strlen(answers), findings, texts, &ticks,
                                    &past.tick_count);
    past.ticks = ticks;
    sm_walk_tick tick = {0};
    sm_walk_said said = {0};
    if (result == SM_OK)
        result = sm_walk_tick_read(&list->items[0], "yes all there, by K and M", texts, &tick);
    if (result == SM_OK)
        result = sm_walk_row_read(list, 8.0, sm_log_kind_read(SM_SOURCE_CONSOLE, "enter", "K"), "K", "", 0,
                                  texts, &said);
    if (result == SM_OK)
        assert_int_equal(said.kind, SM_WALK_SAID_CHANGE);
    if (result == SM_OK)
        sm_text_printf(out, "%s: \"%s\" %s, %s\n%s\n", tick.item, tick.value, tick.note, tick.by,
                       said.change.what);
    if (result == SM_OK)
        result = sm_walk_create(list, &past, &facts, &walk);
    if (result == SM_OK) {
        sm_walk_print(out, walk);
        sm_walk_print_state(out, walk);
        sm_walk_print_json(out, walk);
    }
    sm_walk_destroy(walk);
    sm_walk_list_destroy(list);
    sm_findings_destroy(findings);
    sm_arena_destroy(texts);
    return result;
}

static sm_result put_logbook(const site *s, sm_text *out) {
    char why[400];
    sm_logbook *book = NULL;
    bool same = false, whole = false;
    sm_result result = sm_logbook_open(s->logbook, false, why, &book);
    if (result == SM_OK)
        result = sm_logbook_list(book, false, out);
    if (result == SM_OK)
        result = sm_logbook_show(book, 1, true, out);
    if (result == SM_OK)
        result = sm_logbook_readings(book, "Small Show", NULL, false, out);
    if (result == SM_OK)
        result = sm_logbook_crew(book, 90, INT64_C(1790000000000000), false, out);
    if (result == SM_OK)
        result = sm_logbook_compare(book, 1, 2, false, out, &same);
    if (result == SM_OK)
        result = sm_logbook_check(book, false, out, &whole);
    sm_logbook_close(book);
    return result;
}

static sm_result put_replay(const site *s, sm_text *out) {
    char why[400];
    sm_logbook *book = NULL;
    bool same = false;
    sm_result result = sm_logbook_open(s->logbook, false, why, &book);
    if (result == SM_OK)
        result = sm_logbook_replay(book, 2, false, out, &same);
    sm_logbook_close(book);
    return result;
}

static void a_timeline(void **state) {
    try_at_each(*state, put_timeline, 4, true);
}

static void a_survey_of_universes(void **state) {
    try_at_each(*state, put_survey, 2, true);
}

static void a_judge_of_lights(void **state) {
    try_at_each(*state, put_judge, 3, true);
}

static void a_report_of_readings(void **state) {
    try_at_each(*state, put_report, 10, true);
}

static void a_sum_over_feeds(void **state) {
    try_at_each(*state, put_feeds, 1, true);
}

static void a_rehearsal(void **state) {
    try_at_each(*state, put_rehearsal, 5, true);
}

static void count_act(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    (void)action, (void)source, (void)at;
    ++*(unsigned *)context;
}

static sm_result act_line(const site *s, sm_rehearsal *rehearsal, const char *line, sm_us at_us) {
    sm_action action;
    char why[200];
    size_t at = 0;
    assert_int_equal(sm_action_read(s->small, line, strlen(line), &action, why, &at), SM_OK);
    return sm_rehearsal_act(rehearsal, &action, SM_SOURCE_SCRIPT, (sm_wall_time){at_us});
}

// What cannot be brought to the moment of an action does not act, and nobody is told that it did.
static void an_action_waits_for_what_is_due_before_it(void **state) {
    const site *const s = *state;
    static const char *const before[] = {"call-clear K", "key on", "tick briefing yes", "arm"};
    unsigned acted = 0;
    const sm_rehearsal_options options = {.acted = count_act, .sink_context = &acted};
    sm_rehearsal *rehearsal = NULL;
    if (!COUNTS_ALL)
        skip();
    assert_int_equal(sm_rehearsal_create(s->small, &options, &rehearsal), SM_OK);
    for (size_t i = 0; i < sizeof before / sizeof before[0]; i++)
        assert_int_equal(act_line(s, rehearsal, before[i], 0), SM_OK);
    assert_int_equal(act_line(s, rehearsal, "start", SM_US_PER_S), SM_OK);
    assert_int_equal(acted, 5);
    fail_in = 1;
    for_good = true;
    const sm_result result =
        act_line(s, rehearsal, "pause", 4 * SM_US_PER_S); // the first comets have gone by then
    fail_in = 0;
    assert_int_equal(result, SM_NO_MEMORY);
    assert_int_equal(acted, 5);
    assert_int_equal(sm_rehearsal_state(rehearsal), SM_STATE_RUNNING);
    assert_int_equal(act_line(s, rehearsal, "pause", 4 * SM_US_PER_S), SM_OK);
    assert_int_equal(acted, 6);
    assert_int_equal(sm_rehearsal_state(rehearsal), SM_STATE_PAUSED);
    sm_rehearsal_destroy(rehearsal);
}

static void a_drill(void **state) {
    try_at_each(*state, put_drill, 20, false);
}

static void a_drill_of_the_spotter(void **state) {
    try_at_each(*state, put_spotters_drill, 20, false);
}

static void a_walk(void **state) {
    try_at_each(*state, put_walk, 20, true);
}

static void a_logbook(void **state) {
    try_at_each(*state, put_logbook, 20, false);
}

static void a_replay(void **state) {
    try_at_each(*state, put_replay, 20, false);
}

static int begin(void **state) {
    static site s;
    exact_arena_may = COUNTS_ALL ? NULL : may_allocate;
    char show[256];
    kept_begin(s.folder);
    folder_path(s.logbook, s.folder, "logbook.db");
    kept_rehearse(s.folder, s.logbook, NULL, NULL);
    kept_rehearse(s.folder, s.logbook, script, NULL);
    s.small = folder_load(folder_path(show, s.folder, "show"));
    s.demo = folder_load("demo-shows/lantern-quay");
    s.rig = rig_show_create(4, 12);
    for (uint32_t rail = 0; rail < 4; rail++) {
        rig_show_cable(s.rig, rail, 10.0 * (rail + 1), 22);
        for (uint32_t number = 1; number <= 12; number++)
            if ((number * 5 + rail * 3) % 7 != 0)
                (void)rig_show_fire(s.rig, rail, number, 0, SM_LOAD_ONE, 1);
    }
    *state = &s;
    return 0;
}

static int end(void **state) {
    site *s = *state;
    sm_show_destroy(s->small);
    sm_show_destroy(s->demo);
    rig_show_destroy(s->rig);
    kept_end(s->folder);
    return 0;
}

int main(int argc, char **argv) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_timeline),
        cmocka_unit_test(a_survey_of_universes),
        cmocka_unit_test(a_judge_of_lights),
        cmocka_unit_test(a_report_of_readings),
        cmocka_unit_test(a_sum_over_feeds),
        cmocka_unit_test(a_rehearsal),
        cmocka_unit_test(an_action_waits_for_what_is_due_before_it),
        cmocka_unit_test(a_drill),
        cmocka_unit_test(a_drill_of_the_spotter),
        cmocka_unit_test(a_walk),
        cmocka_unit_test(a_logbook),
        cmocka_unit_test(a_replay),
    };
    if (argc > 1)
        cmocka_set_test_filter(argv[1]);
    return cmocka_run_group_tests_name("memory that runs out", tests, begin, end);
}

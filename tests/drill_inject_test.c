// SPDX-License-Identifier: GPL-3.0-or-later
// What each injection does to the simulated field, and what of it can be seen. The rules are format.md's; no outside source.
#include "support/drill_play.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S

typedef struct bench {
    sm_show *show;
    sm_rehearsal *r;
    sm_snapshot *now;
    sm_text log;
} bench;

static void keep(void *context, const sm_log_row *row) {
    bench *b = context;
    sm_text_printf(&b->log, "%lld %s %s %s %s\n", (long long)(row->wall.us / 1000),
                   sm_source_text(row->source), sm_log_word(row->kind), row->target, row->detail);
}

static void begin_on(bench *b, sm_show *show) {
    const sm_rehearsal_options options = {.drill = true, .sink = keep, .sink_context = b};
    b->show = show;
    assert_int_equal(sm_rehearsal_create(b->show, &options, &b->r), SM_OK);
    assert_int_equal(sm_snapshot_create(b->show, &b->now), SM_OK);
}

static int begin(void **state) {
    bench *b = calloc(1, sizeof *b);
    assert_non_null(b);
    begin_on(b, drill_play_show("demo-shows/lantern-quay"));
    *state = b;
    return 0;
}

static int end(void **state) {
    bench *b = *state;
    sm_snapshot_destroy(b->now);
    sm_rehearsal_destroy(b->r);
    sm_show_destroy(b->show);
    sm_text_deinit(&b->log);
    free(b);
    return 0;
}

static void inject(bench *b, double at, const char *line) {
    sm_injection injection;
    char why[200];
    size_t fault = 0;
    if (sm_injection_read(b->show, line, strlen(line), &injection, why, &fault) != SM_OK)
        fail_msg("%s: %s", line, why);
    assert_int_equal(sm_rehearsal_inject(b->r, "e", &injection, (sm_wall_time){(sm_us)(at * 1e6)}), SM_OK);
}

static sm_result try(bench *b, double at, sm_source source, const char *line) {
    sm_action action;
    char why[200];
    size_t fault = 0;
    if (sm_action_read(b->show, line, strlen(line), &action, why, &fault) != SM_OK)
        fail_msg("%s: %s", line, why);
    return sm_rehearsal_act(b->r, &action, source, (sm_wall_time){(sm_us)(at * 1e6)});
}

static void act(bench *b, double at, const char *line) {
    if (try(b, at, SM_SOURCE_CONSOLE, line) != SM_OK)
        fail_msg("%s: %s", line, sm_rehearsal_refusal(b->r));
}

// Armed at 4, running at 5, show 0 at 10.
static void run_it(bench *b) {
    act(b, 0, "call-clear J");
    act(b, 0, "key on");
    act(b, 1, "arm");
    act(b, 5, "start");
}

static const sm_snapshot *look(bench *b, double at) {
    sm_wall_time wall = {(sm_us)(at * 1e6)};
    assert_int_equal(sm_rehearsal_run(b->r, wall), SM_OK);
    sm_rehearsal_snapshot(b->r, wall, b->now);
    return b->now;
}

static const sm_slot_view *slot(bench *b, double at, const char *name) {
    uint32_t number;
    assert_int_equal(sm_slot_find(b->show, name, strlen(name), &number), SM_OK);
    return &look(b, at)->slots[number];
}

static void expect_log(const bench *b, const char *text) {
    if (!strstr(sm_text_get(&b->log), text))
        fail_msg("not in the log: %s\n%s", text, sm_text_get(&b->log));
}

static void expect_no_log(const bench *b, const char *text) {
    if (strstr(sm_text_get(&b->log), text))
        fail_msg("in the log: %s", text);
}

// ---- slots ---------------------------------------------------------------------------------------

static void lines_are_known_by_measuring_only(void **state) {
    bench *b = *state;
    inject(b, 1, "open A-05");
    inject(b, 1, "short A-06");
    inject(b, 1, "stray A-12");
    expect_log(b, "1000 drill event e open A-05\n");
    assert_int_equal(slot(b, 1, "A-05")->verdict, SM_VERDICT_UNREAD);
    assert_int_equal(look(b, 1)->incidents.latest_at.us, SM_UNSET_US); // nothing of it can be seen
    act(b, 2, "measure");
    assert_int_equal(slot(b, 2, "A-05")->verdict, SM_VERDICT_OPEN);
    assert_int_equal(slot(b, 2, "A-06")->verdict, SM_VERDICT_SHORT);
    assert_int_equal(slot(b, 2, "A-12")->verdict, SM_VERDICT_STRAY);
    assert_int_equal(slot(b, 2, "A-07")->verdict, SM_VERDICT_GOOD);
    inject(b, 3, "mended A-05");
    assert_int_equal(slot(b, 3, "A-05")->verdict, SM_VERDICT_OPEN); // nobody has read it
    act(b, 4, "measure A");
    assert_int_equal(slot(b, 4, "A-05")->verdict, SM_VERDICT_GOOD);
}

static void a_number_written_down_mends_nothing(void **state) {
    bench *b = *state;
    inject(b, 0, "open A-02");
    act(b, 0, "read A-02 5.1");
    act(b, 0, "undo");
    act(b, 0, "read A-02 5.1");
    run_it(b);
    look(b, 18);
    expect_log(b, "17800 engine misfire A-02 comet-white open\n"); // 0:08.000 less 0.2 s of flight
}

static void a_dud_reads_well_and_does_not_go(void **state) {
    bench *b = *state;
    inject(b, 0, "misfire A-02");
    act(b, 0, "measure");
    assert_int_equal(slot(b, 0, "A-02")->verdict, SM_VERDICT_GOOD);
    run_it(b);
    assert_int_equal(slot(b, 18, "A-02")->phase, SM_SLOT_MISFIRED);
    expect_log(b, "engine misfire A-02 comet-white no ignition\n");
    act(b, 18, "safe");
    act(b, 18, "report A-02"); // a repair alone leaves the report owed
    act(b, 18, "repair A-02");
    assert_int_equal(slot(b, 18, "A-02")->phase, SM_SLOT_WAITING);
}

static void a_late_one_goes_later_whatever_the_state(void **state) {
    bench *b = *state;
    inject(b, 0, "late A-02 3 s");
    run_it(b);
    assert_int_equal(slot(b, 18, "A-02")->phase, SM_SLOT_MISFIRED); // nothing seen
    act(b, 19, "safe");
    act(b, 19, "key off");
    assert_int_equal(slot(b, 20.7, "A-02")->phase, SM_SLOT_MISFIRED);
    assert_int_equal(slot(b, 20.9, "A-02")->phase, SM_SLOT_FLYING);
    expect_log(b, "17800 engine misfire A-02 comet-white nothing seen\n");
    expect_log(b, "20800 engine fire A-02 comet-white late\n");
    // The wait begins again with it.
    assert_int_equal(look(b, 20.9)->wait_since.us, 20800000);
    look(b, 24);
    expect_log(b, "23000 engine out A-02 comet-white\n");
}

static void a_new_igniter_hangs_no_more(void **state) {
    bench *b = *state;
    inject(b, 0, "late A-02 30 s");
    run_it(b);
    act(b, 19, "safe");
    act(b, 20, "repair A-02");
    look(b, 60);
    expect_no_log(b, "A-02 comet-white late");
}

static void one_goes_by_itself(void **state) {
    bench *b = *state;
    inject(b, 2, "fires-alone A-01");
    expect_log(b, "2000 drill event e fires-alone A-01\n2000 engine fire A-01 fountain-gold by itself\n");
    assert_int_equal(slot(b, 3, "A-01")->phase, SM_SLOT_BURNING);
    assert_string_equal(look(b, 3)->incidents.latest, "A-01 went by itself");
    inject(b, 4, "fires-alone A-01"); // nothing left there
    look(b, 12);
    expect_log(b, "10000 engine out A-01 fountain-gold\n");
    act(b, 12, "call-clear J");
    act(b, 12, "key on");
    act(b, 12, "arm");
    act(b, 16, "start");
    look(b, 26);
    expect_log(b, "25000 engine spent A-01 fountain-gold\n");
}

static void one_tips_and_is_righted(void **state) {
    bench *b = *state;
    inject(b, 1, "tip A-02");
    assert_true(slot(b, 1, "A-02")->tipped);
    act(b, 2, "repair A-02");
    assert_false(slot(b, 2, "A-02")->tipped);
}

// ---- rails, modules --------------------------------------------------------------------------------

static void a_rail_comes_unplugged_and_ends_the_clear(void **state) {
    bench *b = *state;
    act(b, 0, "call-clear J");
    inject(b, 1, "unplug A");
    assert_false(look(b, 1)->rail_plugged[sm_rail_find(b->show, "A")]);
    assert_false(look(b, 1)->clear_called);
    expect_log(b, "engine guard clear NOT MET, lapsed: rail A came unplugged\n");
}

static void a_module_refuses_to_arm_until_it_is_ready(void **state) {
    bench *b = *state;
    inject(b, 0, "refuse-arm north");
    act(b, 0, "call-clear J");
    act(b, 0, "key on");
    assert_int_equal(try(b, 1, SM_SOURCE_CONSOLE, "arm"), SM_REFUSED);
    assert_string_equal(sm_rehearsal_refusal(b->r), "module north refuses to arm and does not say why");
    assert_true(look(b, 1)->module_refuses[0]);
    inject(b, 2, "module-ready north");
    act(b, 3, "arm");
}

// ---- flames, feeds, weather, people -------------------------------------------------------------------

static void what_can_be_seen_is_in_the_snapshot(void **state) {
    bench *b = *state;
    inject(b, 0, "flame-stuck jet-2");
    inject(b, 0, "flame-out jet-3");
    inject(b, 0, "feed-lost feed-main"); // and all that hangs on it, by way of the others
    inject(b, 0, "wind 14 m/s");
    inject(b, 0, "storm");
    inject(b, 0, "fire barge");
    inject(b, 0, "remote-unpaired 2");
    inject(b, 0, "remote-weak 1");
    inject(b, 0, "sound lost");
    inject(b, 0, "music-off -0.4 s");
    const sm_snapshot *now = look(b, 0);
    assert_int_equal(now->flame_faults[sm_fixture_find(b->show, "jet-2")], SM_FLAME_STUCK);
    assert_int_equal(now->flame_faults[sm_fixture_find(b->show, "jet-3")], SM_FLAME_GONE);
    assert_int_equal(now->flame_faults[sm_fixture_find(b->show, "jet-1")], SM_FLAME_AS_TOLD);
    for (uint32_t f = 0; f < b->show->fixture_count; f++)
        assert_true(now->fixture_dark[f]);
    assert_true(now->wind_known && now->wind_m_s == 14);
    assert_true(now->incidents.storm && now->incidents.sound_lost);
    assert_true(now->fire_at[sm_position_find(b->show, "barge")]);
    assert_int_equal(now->incidents.music_off_us, -400000);
    assert_int_equal(now->incidents.remote_count, 2);
    assert_true(now->incidents.remotes[0].unpaired_heard && now->incidents.remotes[1].weak);
    inject(b, 1, "remote-good 1");
    inject(b, 1, "sound back");
    now = look(b, 1);
    assert_false(now->incidents.remotes[1].weak || now->incidents.sound_lost);
    assert_string_equal(now->incidents.latest, "the music is back");
}

static void a_branch_of_the_feeds_is_dark_alone(void **state) {
    bench *b = *state;
    inject(b, 0, "feed-lost feed-jets");
    const sm_snapshot *now = look(b, 0);
    assert_true(now->fixture_dark[sm_fixture_find(b->show, "jet-1")]);
    assert_false(now->fixture_dark[sm_fixture_find(b->show, "par-1")]);
}

static void a_person_in_the_field_ends_the_clear_and_stops_arming(void **state) {
    bench *b = *state;
    act(b, 0, "call-clear J");
    act(b, 0, "key on");
    inject(b, 1, "person in-field");
    assert_int_equal(look(b, 1)->people_count, 1);
    assert_int_equal(try(b, 2, SM_SOURCE_CONSOLE, "arm"), SM_REFUSED);
    assert_int_equal(try(b, 2, SM_SOURCE_CONSOLE, "call-clear J"), SM_REFUSED);
    inject(b, 3, "person in-field"); // still one
    inject(b, 4, "person out");
    assert_int_equal(look(b, 4)->people_count, 0);
    assert_int_equal(try(b, 5, SM_SOURCE_CONSOLE, "arm"), SM_REFUSED); // the old clear has ended
    act(b, 6, "call-clear J");
    act(b, 7, "arm");
}

static void calls_are_heard_and_change_nothing(void **state) {
    bench *b = *state;
    inject(b, 1, "false-clear M");
    assert_false(look(b, 1)->clear_called); // said is not called
    assert_string_equal(look(b, 1)->incidents.latest, "M: Clear!");
    inject(b, 2, "no-answer K");
    assert_string_equal(look(b, 2)->incidents.latest, "K: (no answer)");
    assert_int_equal(try(b, 3, SM_SOURCE_INSTRUCTOR, "call J Hold, hold, hold."), SM_OK);
    assert_string_equal(look(b, 3)->incidents.call_who, "J");
    assert_string_equal(look(b, 3)->incidents.call_text, "Hold, hold, hold.");
    assert_int_equal(look(b, 3)->incidents.call_at.us, 3 * S);
}

// Who was called and does not answer is told by name until they do; whoever else calls changes nothing in that.
static void who_does_not_answer_is_named_until_they_do(void **state) {
    bench *b = *state;
    inject(b, 1, "no-answer K");
    inject(b, 2, "no-answer Ma");
    inject(b, 2, "no-answer K"); // asked again
    inject(b, 3, "call M I am outside.");
    assert_string_equal(look(b, 3)->incidents.silent_who, "Ma, K");
    assert_int_equal(look(b, 3)->incidents.silent_open, 2);
    inject(b, 4, "call k Here, outside."); // one person, however it is written
    assert_string_equal(look(b, 4)->incidents.silent_who, "Ma");
    assert_int_equal(look(b, 4)->incidents.silent_open, 1);
    assert_int_equal(try(b, 5, SM_SOURCE_CONSOLE, "answer Ma, where are you"), SM_OK);
    assert_string_equal(look(b, 5)->incidents.silent_who, "Ma"); // she has not answered by that
    inject(b, 6, "call Ma Outside.");
    assert_string_equal(look(b, 6)->incidents.silent_who, "");
}

// ---- the link ------------------------------------------------------------------------------------------

static void a_lost_link_pauses_a_module_that_holds(void **state) {
    bench *b = *state;
    run_it(b);
    inject(b, 18.1, "link lost"); // a flame is open: 0:08.000 for 0.4 s
    expect_log(b, "18100 drill event e link lost\n18100 engine state paused running\n18100 engine home jet-1 "
                  "permit flame\n");
    const sm_snapshot *now = look(b, 20);
    assert_true(now->incidents.link_lost);
    assert_int_equal(now->incidents.link_state, SM_STATE_RUNNING); // the last state known
    assert_int_equal(now->incidents.link_at.us, 18100000);
    assert_int_equal(try(b, 21, SM_SOURCE_CONSOLE, "resume"), SM_REFUSED);
    inject(b, 22, "link back");
    assert_false(look(b, 22)->incidents.link_lost);
    assert_int_equal(look(b, 30)->state, SM_STATE_PAUSED); // it resumes nothing
}

static void a_lost_link_hears_no_remote_but_the_key(void **state) {
    bench *b = *state;
    act(b, 0, "call-clear J");
    act(b, 0, "remote 1 key on");
    inject(b, 1, "link lost");
    assert_int_equal(try(b, 2, SM_SOURCE_CONSOLE, "remote 1 safe"), SM_REFUSED);
    assert_int_equal(try(b, 2, SM_SOURCE_CONSOLE, "arm"), SM_REFUSED);
    act(b, 3, "key off");
    assert_false(look(b, 3)->key);
}

static void a_lost_link_lets_a_module_go_on(void **state) {
    bench *b = *state;
    for (uint32_t m = 0; m < b->show->module_count; m++) // north goes on, south (rails C and D) holds
        b->show->modules[m].goes_on = strcmp(b->show->modules[m].name, "north") == 0;
    run_it(b);
    inject(b, 18.1, "link lost");
    expect_log(b, "18100 drill event e link lost\n18100 engine home jet-1 permit flame\n");
    look(b, 25);
    assert_int_equal(sm_rehearsal_state(b->r), SM_STATE_RUNNING);
    expect_log(b, "22000 engine fire A-03 fountain-silver\n");
    expect_log(b, "23900 engine passed C-01 mine-silver\n");
    uint32_t held;
    assert_int_equal(sm_slot_find(b->show, "C-01", 4, &held), SM_OK);
    assert_int_equal(look(b, 25)->slots[held].phase, SM_SLOT_PASSED);
    expect_log(b, "20000 engine inhibited jet-2 flame=255\n"); // no flame without the link
    const sm_snapshot *now = look(b, 26.1);
    uint32_t jet = b->show->fixtures[sm_fixture_find(b->show, "jet-1")].channel_base;
    assert_int_equal(now->levels[jet], 0);
    assert_int_equal(now->levels[jet + 1], 0);
    act(b, 27, "repeat 0:08.1 0:08.3");
    act(b, 27, "seek 0:08.2"); // back into a flame, which a repeat then begins over and over
    for (int i = 0; i < 5; i++) {
        now = look(b, 27 + 0.1 * i);
        assert_int_equal(now->levels[jet], 0);
        assert_int_equal(now->levels[jet + 1], 0);
    }
}

// ---- what a plain rehearsal does not take ---------------------------------------------------------------

static void drill_actions_are_for_drills(void **state) {
    bench *b = *state;
    assert_int_equal(try(b, 0, SM_SOURCE_CONSOLE, "reload"), SM_REFUSED);
    act(b, 0, "answer heard");
    sm_rehearsal *plain = NULL;
    const sm_rehearsal_options options = {0};
    assert_int_equal(sm_rehearsal_create(b->show, &options, &plain), SM_OK);
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(b->show, "answer heard", 12, &action, why, &at), SM_OK);
    assert_int_equal(sm_rehearsal_act(plain, &action, SM_SOURCE_CONSOLE, (sm_wall_time){0}), SM_REFUSED);
    assert_string_equal(sm_rehearsal_refusal(plain), "only in a drill");
    sm_rehearsal_destroy(plain);
}

static void passed_time_is_said_and_only_where_one_waits(void **state) {
    bench *b = *state;
    assert_int_equal(try(b, 0, SM_SOURCE_CONSOLE, "pass-time"), SM_REFUSED); // nothing to wait for
    act(b, 0, "safe");
    assert_int_equal(try(b, 0, SM_SOURCE_CONSOLE, "pass-time"), SM_REFUSED); // nothing fired, nothing waits
    run_it(b);
    assert_int_equal(try(b, 6, SM_SOURCE_CONSOLE, "pass-time"), SM_REFUSED); // not safe
    inject(b, 6, "fires-alone A-01");
    act(b, 60, "safe");
    act(b, 120, "pass-time"); // the misfire wait is the longer of the two: 30 min less the minute waited
    expect_log(b, "120000 console pass-time  29:00.000 waited (passed in practice)\n");
    assert_true(look(b, 120)->wait_since.us == 120 * S - 30 * 60 * S);
}

int main(void) {
#define AT_BENCH(test) cmocka_unit_test_setup_teardown(test, begin, end)
    const struct CMUnitTest tests[] = {
        AT_BENCH(lines_are_known_by_measuring_only),
        AT_BENCH(a_number_written_down_mends_nothing),
        AT_BENCH(a_dud_reads_well_and_does_not_go),
        AT_BENCH(a_late_one_goes_later_whatever_the_state),
        AT_BENCH(a_new_igniter_hangs_no_more),
        AT_BENCH(one_goes_by_itself),
        AT_BENCH(one_tips_and_is_righted),
        AT_BENCH(a_rail_comes_unplugged_and_ends_the_clear),
        AT_BENCH(a_module_refuses_to_arm_until_it_is_ready),
        AT_BENCH(what_can_be_seen_is_in_the_snapshot),
        AT_BENCH(a_branch_of_the_feeds_is_dark_alone),
        AT_BENCH(a_person_in_the_field_ends_the_clear_and_stops_arming),
        AT_BENCH(calls_are_heard_and_change_nothing),
        AT_BENCH(who_does_not_answer_is_named_until_they_do),
        AT_BENCH(a_lost_link_pauses_a_module_that_holds),
        AT_BENCH(a_lost_link_hears_no_remote_but_the_key),
        AT_BENCH(a_lost_link_lets_a_module_go_on),
        AT_BENCH(drill_actions_are_for_drills),
        AT_BENCH(passed_time_is_said_and_only_where_one_waits),
    };
    return cmocka_run_group_tests_name("injections", tests, NULL, NULL);
}

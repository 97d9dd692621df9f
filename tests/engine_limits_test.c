// SPDX-License-Identifier: GPL-3.0-or-later
// What the engine does at the edge of its rules and no further. Each is a sentence of the format's page, unless said otherwise.
#include "support/engine_run.h"

#include "slowmatch/inject.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define PAIR "1,A-01,mine,,\n2,A-02,mine,,\n"

static const engine_file limits[] = {
    {"show.ini", "[show]\ntitle = t\nlength = 60\ncountdown = 2\n[limits]\narm-time = 1\nreentry-wait = 5\n"
                 "misfire-wait = 30\nwind = 8 m/s\n"},
    {NULL, NULL}};

static void act_ok(engine_run *run, double at_s, const char *action) {
    if (engine_act(run, at_s, action) != SM_OK)
        fail_msg("%s: %s", action, sm_rehearsal_refusal(run->rehearsal));
}

static void expect_caution(engine_run *run, const char *line, const char *expected) {
    sm_action action;
    char why[200];
    size_t at;
    sm_text text = {0};
    assert_int_equal(sm_action_read(run->show, line, strlen(line), &action, why, &at), SM_OK);
    sm_rehearsal_caution(run->rehearsal, &action, &text);
    assert_string_equal(sm_text_get(&text), expected);
    sm_text_deinit(&text);
}

// "Nothing fired or misfired: no wait." Stopped before the first firing, and with all re-rigged after it.
static void where_nothing_has_gone_there_is_no_wait(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, limits);
    engine_run run;
    engine_run_init(&run, show, NULL);
    (void)engine_play(&run, ENGINE_START "3.5 safe\n3.6 key off\n3.7 note x\n");
    expect_caution(&run, "enter K", "");
    (void)engine_play(&run, "4 call-clear\n4 key on\n4 arm\n5 start\n7.9 safe\n8 key off\n8 note x\n");
    expect_caution(&run, "enter K", "5:00 of the wait are left");
    engine_to(&run, 307.9);
    expect_caution(&run, "enter K", "0:00 of the wait are left");
    engine_to(&run, 308.0);
    expect_caution(&run, "enter K", "");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

static const char *reads(engine_run *run, const char *slot) {
    static char text[24];
    return sm_read_value_format(text, engine_look(run)->slots[engine_slot(run->show, slot)].reading);
}

static void inject(engine_run *run, double at_s, const char *line) {
    sm_injection injection;
    char why[200];
    size_t at;
    assert_int_equal(sm_injection_read(run->show, line, strlen(line), &injection, why, &at), SM_OK);
    assert_int_equal(
        sm_rehearsal_inject(run->rehearsal, "e", &injection, (sm_wall_time){(sm_us)(at_s * 1e6)}), SM_OK);
}

// In a drill a number that is written down mends nothing; taken back, it spoils nothing either: what broke meanwhile is broken.
static void taking_back_a_reading_in_a_drill_leaves_the_field_alone(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    const sm_rehearsal_options drill = {.drill = true};
    engine_run run;
    engine_run_init(&run, show, &drill);
    act_ok(&run, 0, "read A-01 1.9");
    inject(&run, 1, "open A-01");
    act_ok(&run, 2, "undo");
    assert_string_equal(reads(&run, "A-01"), "");
    act_ok(&run, 3, "measure");
    assert_string_equal(reads(&run, "A-01"), "open");
    engine_run_deinit(&run);
    // Outside a drill the field follows the hand, both ways.
    engine_run_init(&run, show, NULL);
    act_ok(&run, 0, "read A-01 open");
    act_ok(&run, 1, "undo");
    act_ok(&run, 2, "measure");
    assert_string_equal(reads(&run, "A-01"), "1.93"); // as in engine_actions_test, from IEC 60028
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// "repair: a good igniter well connected, its reading forgotten", so that undo has nothing of it to bring back.
static void a_repair_forgets_the_readings_of_its_slot_alone(void **state) {
    (void)state;
    sm_show *show = engine_show(PAIR, NULL);
    engine_run run;
    engine_run_init(&run, show, NULL);
    act_ok(&run, 0, "read A-01 1.8");
    act_ok(&run, 0, "read A-02 1.7");
    act_ok(&run, 0, "read A-01 open");
    act_ok(&run, 0, "repair A-01");
    act_ok(&run, 0, "undo");
    assert_string_equal(reads(&run, "A-01"), "");
    assert_string_equal(reads(&run, "A-02"), "");
    assert_int_equal(engine_act(&run, 0, "undo"), SM_REFUSED);
    act_ok(&run, 1, "measure");
    assert_string_equal(reads(&run, "A-01"), "1.93");
    engine_run_deinit(&run);
    sm_show_destroy(show);
}

// The user's limit is what may just be: equal is not over it. Common practice, no source.
static void wind_equal_to_the_limit_is_within_it(void **state) {
    (void)state;
    static const engine_case cases[] = {
        {"equal", PAIR, ENGINE_ARM "2 start-in 20 s\n2 note look\n3 wind 8 m/s\n4 start-in off\n",
         "3,,script,wind,,8 m/s,\n4,,script,start-in,,off,\n4,,engine,start-in,,cancelled,taken back\n"},
        {"over", PAIR, ENGINE_ARM "2 start-in 20 s\n2 note look\n3 wind 8.01 m/s\n",
         "3,,script,wind,,8.01 m/s,\n3,,engine,start-in,,cancelled,wind over your limit\n"}};
    for (size_t i = 0; i < COUNT(cases); i++)
        engine_run_case(&cases[i], limits);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(where_nothing_has_gone_there_is_no_wait),
        cmocka_unit_test(taking_back_a_reading_in_a_drill_leaves_the_field_alone),
        cmocka_unit_test(a_repair_forgets_the_readings_of_its_slot_alone),
        cmocka_unit_test(wind_equal_to_the_limit_is_within_it),
    };
    return cmocka_run_group_tests_name("engine limits", tests, NULL, NULL);
}

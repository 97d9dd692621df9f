// SPDX-License-Identifier: GPL-3.0-or-later
// Readings over time, the report for people and for programs.
#include "support/rig_show.h"

#include "slowmatch/rig.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// Rails A and B of 6 slots on 10 and 25 m; A fires 1 to 4, B 2 to 6, B-06 two in series.
static sm_show *small_show(void) {
    sm_show *show = rig_show_create(2, 6);
    rig_show_cable(show, 0, 10.0, 22);
    rig_show_cable(show, 1, 25.0, 22);
    for (uint32_t number = 1; number <= 4; number++)
        rig_show_fire(show, 0, number, (sm_us)number * 1000000, SM_LOAD_ONE, 1);
    for (uint32_t number = 2; number <= 5; number++)
        rig_show_fire(show, 1, number, (sm_us)number * 1000000, SM_LOAD_ONE, 1);
    rig_show_fire(show, 1, 6, 7000000, SM_LOAD_SERIES, 2);
    return show;
}

static sm_read_value ohms(double value) {
    return (sm_read_value){.kind = SM_READ_OHMS, .ohms = value};
}

static sm_reading reading(const sm_show *show, uint32_t rail, uint32_t number, sm_read_value value) {
    return (sm_reading){.slot = rig_show_slot(show, rail, number), .value = value, .when = "", .by = ""};
}

// Every slot as predicted; returns how many rows.
static size_t good_readings(const sm_show *show, sm_reading *out) {
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        uint32_t firing = show->slot_firings[slot];
        sm_read_value value = {.kind = SM_READ_OPEN};
        if (firing != SM_NONE)
            value = ohms(sm_rig_firing_loop(show, firing).nominal_ohms);
        out[slot] = (sm_reading){.slot = slot, .value = value, .when = "", .by = ""};
    }
    return show->slot_count;
}

static void assert_says(const char *text, const char *part) {
    if (!strstr(text, part))
        fail_msg("\"%s\" is not in:\n%s", part, text);
}

static void newest_reading_counts(void **state) {
    (void)state;
    sm_show *show = small_show();
    const sm_reading first[] = {reading(show, 0, 1, ohms(2.9)), reading(show, 0, 2, ohms(2.9)),
                                reading(show, 0, 1, ohms(3.0))};
    const sm_reading second[] = {reading(show, 0, 1, (sm_read_value){.kind = SM_READ_OPEN})};
    const sm_rig_set sets[] = {{"first", first, 3}, {"second", second, 1}};
    sm_rig_past past[12];
    sm_rig_past_fill(show, sets, 2, past);
    assert_int_equal(past[0].now.kind, SM_READ_OPEN);
    assert_near(past[0].before.ohms, 3.0, 0.0); // the last row of the slot in its file
    assert_int_equal(past[0].before_set, 0);
    assert_near(past[1].now.ohms, 2.9, 0.0); // the second file says nothing about it
    assert_int_equal(past[1].now_set, 0);
    assert_int_equal(past[1].before_set, SM_NONE);
    assert_int_equal(past[2].now_set, SM_NONE);
    rig_show_destroy(show);
}

static void changes_in_words(void **state) {
    (void)state;
    sm_show *show = small_show();
    sm_text text = {0};
    sm_rig_past past = {.now = {.kind = SM_READ_OPEN}, .before = ohms(2.95), .now_set = 1, .before_set = 0};
    assert_true(sm_rig_past_explain(show, 0, &past, &text));
    assert_string_equal(sm_text_get(&text), "was good, now open");
    sm_text_clear(&text);
    past.now = ohms(3.25); // 0.30 more, and the meter may be off by 0.02 x 3.25 + 0.2 = 0.265
    assert_true(sm_rig_past_explain(show, 0, &past, &text));
    assert_string_equal(sm_text_get(&text), "drifted 0.30 ohm, from 2.95 to 3.25");
    sm_text_clear(&text);
    past.now = ohms(3.21);
    assert_false(sm_rig_past_explain(show, 0, &past, &text));
    past.before_set = SM_NONE;
    past.now = (sm_read_value){.kind = SM_READ_OPEN};
    assert_false(sm_rig_past_explain(show, 0, &past, &text));
    assert_int_equal(text.length, 0);
    sm_text_deinit(&text);
    rig_show_destroy(show);
}

static sm_rig_report *report_on(const sm_show *show, const sm_rig_set *sets, size_t count, sm_text *text) {
    sm_rig_report *report;
    assert_int_equal(sm_rig_report_create(show, sets, count, &report), SM_OK);
    sm_rig_report_text(report, text);
    assert_false(text->failed);
    assert_false(strstr(sm_text_get(text), "\n\n") || strstr(sm_text_get(text), "\n0 readings"));
    return report;
}

static void all_good_and_no_more_than_that(void **state) {
    (void)state;
    sm_show *show = small_show();
    sm_reading rows[12];
    const sm_rig_set set = {"now", rows, good_readings(show, rows)};
    sm_text text = {0};
    sm_rig_report *report = report_on(show, &set, 1, &text);
    assert_true(report->all_good);
    assert_int_equal(report->counts[SM_VERDICT_GOOD], 9);
    assert_memory_equal(sm_text_get(&text), "9 programmed slots: 9 good; 3 spare, 0 stray\n",
                        45); // no rail is listed
    assert_says(sm_text_get(&text), "good: as predicted (continuity only; not proof that it fires)\n");
    sm_rig_report_destroy(report);
    sm_text_deinit(&text);
    rig_show_destroy(show);
}

static void faults_rail_by_rail(void **state) {
    (void)state;
    sm_show *show = small_show();
    sm_reading rows[12];
    sm_rig_set set = {"now", rows, good_readings(show, rows)};
    rows[rig_show_slot(show, 0, 2)].value.kind = SM_READ_OPEN;
    rows[rig_show_slot(show, 0, 6)].value = ohms(2.5);
    rows[rig_show_slot(show, 1, 6)].value = ohms(4.6); // one of two on 25 m is about 4.5
    rows[rig_show_slot(show, 1, 3)].value.kind = SM_READ_NOTHING;
    rows[rig_show_slot(show, 1, 4)].value.kind = SM_READ_NOTHING;
    sm_text text = {0};
    sm_rig_report *report = report_on(show, &set, 1, &text);
    assert_false(report->all_good);
    const char *said = sm_text_get(&text);
    assert_memory_equal(said, "3 readings are off, no one cause found for them\nrail A\n", 54);
    assert_says(said, "  A-02   open    open  expected ");
    assert_says(said, "nothing conducts: terminal, lead or igniter\n");
    assert_says(said, "  A-06   stray   2.50  something is there and no cue fires it\n");
    assert_says(said, "reads like 1 of 2 in series\n");
    assert_says(said, "  not read: B-03 to B-04\n");
    assert_says(said, "9 programmed slots: 5 good, 1 open, 1 low, 2 unread; 2 spare, 1 stray\n");
    assert_says(said, "its rail unplugged at the module");
    sm_rig_report_destroy(report);
    sm_text_deinit(&text);
    rig_show_destroy(show);
}

// Good readings, and the same with the rails' heads changed over.
static void swapped_readings(const sm_show *show, sm_reading rows[12], sm_reading swapped[12]) {
    good_readings(show, rows);
    good_readings(show, swapped);
    for (uint32_t number = 1; number <= 6; number++) {
        uint32_t a = rig_show_slot(show, 0, number), b = rig_show_slot(show, 1, number);
        swapped[a].value = rows[b].value;
        swapped[b].value = rows[a].value;
    }
}

static void best_explanation_on_the_first_line(void **state) {
    (void)state;
    sm_show *show = small_show();
    sm_reading rows[12], swapped[12];
    swapped_readings(show, rows, swapped);
    const sm_rig_set sets[] = {{"before", rows, 12}, {"after", swapped, 12}};
    sm_text text = {0};
    sm_rig_report *report = report_on(show, sets, 2, &text);
    const char *said = sm_text_get(&text);
    assert_memory_equal(said, "rails A and B are swapped: ", 27);
    assert_says(said, "then still off: none\n");
    assert_says(said, "  A-01   was good, now open (before, then after)\n");
    assert_says(said, "  A-01   open    open  expected 2.59 to 3.48 ohm  cue 1 comet  see above\n");
    sm_rig_report_destroy(report);
    sm_text_deinit(&text);
    rig_show_destroy(show);
}

// What is broken on a strip that hangs in another's place is named where a person finds it.
static void what_remains_where_it_is(void **state) {
    (void)state;
    sm_show *show = small_show();
    sm_reading rows[12], swapped[12];
    swapped_readings(show, rows, swapped);
    swapped[rig_show_slot(show, 0, 5)].value.kind = SM_READ_SHORT; // A-05 is spare, B-05 is not
    const sm_rig_set sets[] = {{"folder/old.csv", rows, 12}, {"folder/new.csv", swapped, 6}};
    sm_text text = {0};
    sm_rig_report *report = report_on(show, &(sm_rig_set){"new.csv", swapped, 12}, 1, &text);
    assert_says(sm_text_get(&text), "then still off: A-05 short (in truth at B-05)\n");
    sm_rig_report_destroy(report);
    sm_text_clear(&text);
    report = report_on(show, sets, 2, &text); // B was not measured again
    assert_says(sm_text_get(&text), "6 readings are not in new.csv and from an older file\n");
    sm_rig_report_destroy(report);
    sm_text_deinit(&text);
    rig_show_destroy(show);
}

// Slots that were not read: alone, in a row, at the end of a rail; a rail is named with the place where it stands.
static void slots_not_read_are_listed(void **state) {
    (void)state;
    sm_show *show = small_show();
    sm_position truss = {.name = "truss"};
    show->positions = &truss;
    show->position_count = 1;
    show->rails[1].position = 0;
    sm_reading rows[12];
    const sm_rig_set set = {"now", rows, good_readings(show, rows)};
    static const uint32_t unread[] = {2, 4, 5, 6};
    for (size_t i = 0; i < sizeof unread / sizeof unread[0]; i++)
        rows[rig_show_slot(show, 1, unread[i])].value.kind = SM_READ_NOTHING;
    rows[rig_show_slot(show, 0, 1)].value.kind = SM_READ_OPEN;
    sm_text text = {0};
    sm_rig_report *report = report_on(show, &set, 1, &text);
    assert_says(sm_text_get(&text), "1 reading is off, no one cause found for them\nrail A\n");
    assert_says(sm_text_get(&text), "\nrail B, truss\n  not read: B-02, B-04 to B-06\n");
    sm_rig_report_destroy(report);
    sm_text_clear(&text);
    rows[rig_show_slot(show, 1, 1)].value = ohms(2.0);
    report = report_on(show, &set, 1, &text);
    assert_says(sm_text_get(&text), "\nrail B, truss\n  B-01   stray ");
    assert_false(strstr(strstr(sm_text_get(&text), "B-01") + 1, "B-01")); // with its own rail alone
    assert_false(strstr(sm_text_get(&text), "nothing changed"));          // there is one file
    sm_rig_report_destroy(report);
    sm_text_clear(&text);
    const sm_rig_set twice[] = {set, set};
    report = report_on(show, twice, 2, &text);
    assert_says(sm_text_get(&text), "\nnothing changed between the files\n");
    sm_rig_report_destroy(report);
    sm_text_deinit(&text);
    rig_show_destroy(show);
}

// The slot whose igniter gets least of what it asks for: two in series ask for twice what one does (the show's igniter), and their rail
// has the longer cable. A rail that no module fires has no current.
static void least_current_is_named(void **state) {
    (void)state;
    sm_show *show = small_show();
    sm_reading rows[12];
    const sm_rig_set set = {"now", rows, good_readings(show, rows)};
    sm_text text = {0};
    sm_rig_report *report = report_on(show, &set, 1, &text);
    assert_says(sm_text_get(&text), "\nleast firing current predicted: B-06 ");
    assert_says(sm_text_get(&text), "  taken as a steady source: modules.csv gives no capacitance for M\n");
    assert_says(sm_text_get(&text), "(taken as all_fire held for 20 ms: no impulse is given)\n");
    sm_rig_report_destroy(report);
    sm_text_clear(&text);
    show->rails[1].module = SM_NONE;
    show->modules[0].capacitance_f = 470e-6;
    show->igniters[0].impulse = 3.0;
    report = report_on(show, &set, 1, &text);
    assert_says(sm_text_get(&text), "\nleast firing current predicted: A-01 "); // the first of what is alike
    assert_says(sm_text_get(&text), "  from 470 uF, ");
    assert_says(sm_text_get(&text), ", 3.00 mJ/ohm asked for\n");
    sm_rig_report_destroy(report);
    sm_text_clear(&text);
    show->rails[0].module = SM_NONE;
    report = report_on(show, &set, 1, &text);
    assert_false(strstr(sm_text_get(&text), "least firing current"));
    sm_rig_report_destroy(report);
    sm_text_deinit(&text);
    rig_show_destroy(show);
}

static void one_object_a_line(void **state) {
    (void)state;
    sm_show *show = small_show();
    sm_reading rows[12];
    sm_rig_set set = {"now", rows, good_readings(show, rows)};
    for (uint32_t number = 2; number <= 4; number++)
        rows[rig_show_slot(show, 1, number)].value.kind = SM_READ_OPEN;
    rows[rig_show_slot(show, 0, 1)].value = ohms(2.9);
    rows[rig_show_slot(show, 0, 2)].value.kind = SM_READ_NOTHING;
    sm_rig_report *report;
    assert_int_equal(sm_rig_report_create(show, &set, 1, &report), SM_OK);
    sm_text json = {0};
    sm_rig_report_json(report, &json);
    const char *said = sm_text_get(&json);
    uint32_t lines = 0;
    for (const char *at = said; *at != '\0'; at++)
        lines += *at == '\n';
    assert_int_equal(lines, 13); // 12 slots and a finding
    assert_says(said, "{\"slot\": \"A-01\", \"cue\": \"1\", \"igniters\": \"1\", \"low\": ");
    assert_says(said, ", \"reading\": 2.9000, \"verdict\": \"good\", \"amps\": ");
    assert_says(said, ", \"reading\": null, \"verdict\": \"unread\"");
    assert_says(said,
                "{\"slot\": \"B-01\", \"cue\": null, \"igniters\": null, \"low\": null, \"nominal\": null, "
                "\"high\": null, \"reading\": \"open\", \"verdict\": \"spare\", \"amps\": null");
    assert_says(said, "\"igniters\": \"2s\"");
    assert_says(said,
                "{\"finding\": \"run-open\", \"slots\": [\"B-02\", \"B-03\", \"B-04\"], \"explains\": 3, ");
    sm_text_deinit(&json);
    sm_rig_report_destroy(report);
    rig_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(newest_reading_counts),
        cmocka_unit_test(changes_in_words),
        cmocka_unit_test(all_good_and_no_more_than_that),
        cmocka_unit_test(faults_rail_by_rail),
        cmocka_unit_test(best_explanation_on_the_first_line),
        cmocka_unit_test(what_remains_where_it_is),
        cmocka_unit_test(slots_not_read_are_listed),
        cmocka_unit_test(least_current_is_named),
        cmocka_unit_test(one_object_a_line),
    };
    return cmocka_run_group_tests_name("rig report", tests, NULL, NULL);
}

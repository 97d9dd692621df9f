// SPDX-License-Identifier: GPL-3.0-or-later
// A good show, every table and every unit, value by value.
#include "support/rig_show.h" // assert_near
#include "support/show_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static int load_every_table(void **state) {
    sm_show *show = NULL;
    sm_findings *const findings = sm_findings_create();
    const sm_result result = sm_show_load("tests/data/show/every-table", NULL, findings, &show);
    for (size_t i = 0; i < sm_findings_count(findings); i++)
        print_error("%s\n", sm_findings_at(findings, i)->message);
    sm_findings_destroy(findings);
    *state = show;
    return result == SM_OK ? 0 : 1;
}

static int destroy(void **state) {
    sm_show_destroy(*state);
    return 0;
}

static void reads_the_settings(void **state) {
    const sm_show *const show = *state;
    const sm_show_settings *const set = &show->settings;
    assert_string_equal(set->title, "Every table");
    assert_string_equal(set->audio, "tune.flac");
    // 60 frames at 29.97: 60 x 1001 / 30000 s (SMPTE ST 12-1, second-hand and recomputed).
    assert_int_equal(set->audio_start_us, 2002000);
    assert_int_equal(set->length_given_us, 90 * SM_US_PER_S);
    assert_int_equal(set->countdown_us, 4 * SM_US_PER_S);
    assert_int_equal(set->timecode.rate, SM_TC_29_97);
    assert_false(set->timecode.drop);
    assert_int_equal(set->timecode_gap_us, SM_US_PER_S);
    assert_int_equal(set->timecode.start_frames, 108000);
    assert_near(set->air_c, 15.0, 1e-9);
    assert_near(set->copper_hot_c, 45, 1e-9);
    assert_near(set->copper_cold_c, 0, 1e-9);
    assert_near(set->audience_m, -3.048, 1e-9);
    assert_int_equal(set->arm_time_us, 2500000);
    assert_near(set->wind_limit_m_s, 5.0, 1e-9);
    assert_int_equal(set->reentry_wait_us, 1800 * SM_US_PER_S); // a bare number is in minutes
    assert_int_equal(set->misfire_wait_us, 3600 * SM_US_PER_S);
    assert_near(set->meter_accuracy_percent, 1.5, 1e-9);
    assert_near(set->meter_offset_ohms, 0.1, 1e-9);
    assert_int_equal(set->expect_events, 18);
    assert_int_equal(set->expect_pyro, 7);
    assert_int_equal(set->expect_fixture, 11);
    assert_int_equal(set->expect_length_us, 90 * SM_US_PER_S);
    assert_int_equal(set->paired_count, 2);
    assert_int_equal(set->paired[1], 4);
    assert_int_equal(show->length_us, 90 * SM_US_PER_S);
}

static void reads_modules_and_rails(void **state) {
    const sm_show *const show = *state;
    assert_int_equal(show->module_count, 2);
    const sm_module *const first = &show->modules[0], *const second = &show->modules[1];
    assert_near(first->volts, 24, 1e-9);
    assert_near(first->volts_low, 20, 1e-9);
    assert_near(first->source_ohms, 0.4, 1e-9);
    assert_int_equal(first->pulse_us, 50000); // a bare number is in milliseconds
    assert_int_equal(first->gap_us, 20000);
    assert_int_equal(first->at_once, 4);
    assert_near(first->test_current_amps, 0.008, 1e-12); // a bare number is in milliamperes
    assert_true(first->goes_on);
    assert_int_equal(second->slots, 16);
    assert_near(second->volts, 18, 1e-9);
    assert_near(second->volts_low, 15, 1e-9);
    assert_near(second->source_ohms, 0.5, 1e-9);
    assert_int_equal(second->pulse_us, 40000);
    assert_int_equal(second->gap_us, 10000);
    assert_int_equal(second->at_once, 8);
    assert_near(second->test_current_amps, 0.012, 1e-12);
    assert_false(second->goes_on);
    assert_int_equal(second->line, 3);

    assert_int_equal(show->rail_count, 3);
    const sm_rail *const a = &show->rails[0], *const b = &show->rails[1], *const c = &show->rails[2];
    assert_int_equal(a->line, 3); // under a comment and the header
    assert_int_equal(a->module, 0);
    assert_near(a->cable_m, 25, 1e-9);
    assert_int_equal(a->cable.awg, 22);
    assert_int_equal(a->position, 0);
    assert_near(b->cable_m, 24.384, 1e-9);
    assert_near(b->cable.area_mm2, 0.5, 1e-12);
    assert_near(b->cable.factor, 1 / 0.21, 1e-9);
    assert_int_equal(b->first, 17);
    assert_int_equal(c->module, 1);
    assert_near(c->cable_m, 0, 1e-12);
    assert_int_equal(c->cable.awg, 22);
    assert_int_equal(c->position, SM_NONE);
    assert_int_equal(b->slot_base, 16);
    assert_int_equal(c->slot_base, 24);
    assert_int_equal(show->slot_count, 144);
    assert_int_equal(show->slot_rails[23], 1);
    assert_int_equal(show->slot_rails[24], 2);
}

static void reads_effects_igniters_positions(void **state) {
    const sm_show *const show = *state;
    const sm_igniter *const standard = &show->igniters[0], *const slow = &show->igniters[1];
    assert_near(standard->ohms, 1.5, 1e-9);
    assert_near(standard->tolerance_ohms, 0.2, 1e-9);
    assert_near(standard->lead_m, 3, 1e-9);
    assert_near(standard->no_fire_amps, 0.2, 1e-9);
    assert_near(slow->ohms, 1.6, 1e-9);
    assert_near(slow->tolerance_ohms, 0.3, 1e-9);
    assert_near(slow->lead_m, 2, 1e-9);
    assert_int_equal(slow->lead.awg, 24);
    assert_near(slow->all_fire_amps, 0.5, 1e-9);
    assert_near(slow->series_fire_amps, 1.0, 1e-9);

    const sm_effect *const fountain = &show->effects[0], *const comet = &show->effects[1];
    const sm_effect *const mystery = &show->effects[2];
    assert_int_equal(fountain->igniter, 0);
    assert_true(fountain->lead_known);
    assert_int_equal(fountain->lasts_us, 12 * SM_US_PER_S);
    assert_int_equal(fountain->zone, SM_ZONE_GROUND);
    assert_true(isnan(fountain->calibre_mm));
    assert_int_equal(comet->igniter, 1);
    assert_int_equal(comet->lead_us, 180000);
    assert_near(comet->calibre_mm, 38.1, 1e-9);
    assert_near(comet->fallout_m, 40, 1e-9);
    assert_string_equal(comet->note, "white");
    assert_false(mystery->lead_known);
    assert_int_equal(mystery->lead_us, 0);
    assert_int_equal(mystery->zone, SM_ZONE_NONE);
    assert_near(mystery->calibre_mm, 30, 1e-9); // a bare number is in millimetres
    assert_true(isnan(mystery->fallout_m));

    assert_near(show->positions[1].x_m, 5.0, 1e-5);
    assert_near(show->positions[1].y_m, 30, 1e-9);
    assert_string_equal(show->positions[1].note, "by the crane, behind the rope");
}

static void reads_profiles_fixtures_lines_feeds(void **state) {
    const sm_show *const show = *state;
    const sm_profile *const par = &show->profiles[0], *const jet = &show->profiles[2];
    assert_int_equal(par->channel_count, 4);
    assert_string_equal(par->channels[3], "blue");
    assert_int_equal(par->home[3], 26); // 10 %
    assert_false(par->flame);
    assert_int_equal(par->enable, SM_NONE);
    assert_true(jet->flame);
    assert_int_equal(jet->enable, 0);
    assert_int_equal(jet->fire, 1);
    assert_int_equal(jet->enable_range.low, 128);
    assert_int_equal(jet->fire_range.high, 255);
    assert_int_equal(jet->longest_us, 2 * SM_US_PER_S);
    assert_int_equal(jet->recover_us, 500000);
    assert_near(jet->burn_ml_s, 40, 1e-9);
    assert_near(jet->watts, 150, 1e-9);
    assert_near(jet->clear_m, 6.096, 1e-9);
    assert_int_equal(par->longest_us, SM_UNSET_US);

    const sm_fixture *const first = &show->fixtures[0], *const lost = &show->fixtures[1];
    const sm_fixture *const unit = &show->fixtures[3];
    assert_int_equal(first->universe, 1);
    assert_int_equal(show->feeds[first->feed].cord.area_mm2 > 2.4, 1);
    assert_string_equal(first->aim, "at the mast");
    assert_int_equal(lost->feed, SM_NONE); // for check to judge, as is an address beyond 512
    assert_string_equal(lost->feed_name, "nowhere");
    assert_int_equal(unit->address, 600);
    assert_near(unit->fuel_ml, 500, 1e-9);
    assert_int_equal(unit->channel_base, 13);
    assert_int_equal(show->channel_count, 15);

    assert_int_equal(show->feeds[0].from, 1); // one further down
    assert_int_equal(show->feeds[1].from, SM_NONE);
    assert_near(show->feeds[0].breaker_amps, 10, 1e-9);
    assert_near(show->feeds[0].cord_m, 25, 1e-9);
    assert_near(show->feeds[0].volts, 230, 1e-9);

    const sm_line *const line = &show->lines[0];
    assert_int_equal(line->chain_count, 3);
    assert_int_equal(line->chain[2], 2);
    assert_int_equal(line->cable_count, 3);
    assert_near(line->cables_m[2], 4.572, 1e-9);
    assert_near(line->slack_m, 0.5, 1e-9);
    assert_int_equal(show->lines[1].cable_count, 0);
    assert_near(show->lines[1].slack_m, 1, 1e-9);
    assert_int_equal(show->lines[1].source, SM_NONE);
}

static void reads_readings_and_walk(void **state) {
    const sm_show *const show = *state;
    assert_int_equal(show->reading_count, 4); // all rows: which one wins is the reader's business
    assert_int_equal(show->readings[0].slot, 4);
    assert_near(show->readings[0].value.ohms, 1.83, 1e-12);
    assert_string_equal(show->readings[0].when, "2026-07-04T19:10");
    assert_string_equal(show->readings[0].by, "J");
    assert_int_equal(show->readings[1].slot, 4);
    assert_near(show->readings[1].value.ohms, 1200, 1e-9);
    assert_int_equal(show->readings[2].value.kind, SM_READ_OPEN);
    assert_int_equal(show->readings[3].value.kind, SM_READ_SHORT);
    assert_int_equal(show->readings[3].slot, 143);
    assert_int_equal(show->walk_row_count, 2);
    assert_string_equal(show->walk_rows[0].expect, "yes");
    assert_true(show->walk_rows[0].hold);
    assert_string_equal(show->walk_rows[0].where, "left");
    assert_false(show->walk_rows[1].hold);
}

// ---- cues and events -------------------------------------------------------------

typedef struct due_event {
    sm_us due_us;
    uint32_t cue;
    const char *target, *does;
} due_event;

static const due_event due_events[] = {
    {-1000000, 7, "par-1", "dim=0"},
    {0, 0, "par-1", "dim=128 red=255"},
    {0, 0, "par-2", "dim=128 red=255"},
    {0, 0, "wash-1", "red=255 dim=128"}, // another profile, another order
    {5320000, 1, "A-05", "comet"},       // 5.5 s less 180 ms
    {10010000, 2, "A-01", "fountain"},   // 300 frames x 1001 / 30000 s
    {10010000, 2, "A-02", "fountain"},
    {10010000, 2, "B-08", "fountain"},
    {12000000, 3, "par-1", "dim=0 blue=84"},
    {12000000, 3, "wash-1", "blue=84 dim=0"},
    {20000000, 5, "par-2", "red=1"},
    {20250000, 4, "jet-1", "permit=255 flame=200"},
    {30000000, 6, "A-03", "mystery"},
    {30000000, 6, "long-C-120", "mystery"},
    {31000000, 8, "par-1", "dim=26"},
    {31000000, 8, "par-2", "dim=26"},
    {40000000, 10, "jet-1", "permit=0"},
    {59819999, 9, "B-01", "comet"},
};

static void puts_events_in_order(void **state) {
    const sm_show *const show = *state;
    assert_int_equal(show->event_count, sizeof due_events / sizeof due_events[0]);
    for (uint32_t i = 0; i < show->event_count; i++) {
        const uint32_t event = show->order[i];
        const sm_event *const each = &show->events[event];
        char slot[48];
        sm_text levels = {0};
        const bool is_firing = show->cues[each->cue].kind == SM_CUE_FIRE;
        sm_event_format_levels(show, event, &levels);
        const sm_firing *const firing = is_firing ? &show->firings[each->target] : NULL;
        assert_int_equal(sm_event_due_us(show, event), due_events[i].due_us);
        assert_int_equal(each->cue, due_events[i].cue);
        assert_string_equal(is_firing ? sm_slot_format(show, firing->slot, slot)
                                      : show->fixtures[each->target].name,
                            due_events[i].target);
        assert_string_equal(is_firing ? show->effects[firing->effect].name : sm_text_get(&levels),
                            due_events[i].does);
        if (is_firing)
            assert_int_equal(firing->event, event);
        sm_text_deinit(&levels);
    }
}

static void reads_cues(void **state) {
    const sm_show *const show = *state;
    char id[12];
    assert_int_equal(show->cue_count, 11);
    assert_string_equal(sm_cue_id(show, 0, id), "1");
    assert_string_equal(sm_cue_id(show, 2, id), "Q7");
    assert_string_equal(sm_cue_id(show, 10, id), "11");
    assert_string_equal(sm_show_text(show, show->cues[2].note), "one, two, three");
    assert_string_equal(sm_show_text(show, show->cues[1].note), "");
    assert_int_equal(show->cues[0].note, show->cues[3].note); // equal texts share their place
    assert_int_equal(show->cues[0].fade_us, 2000000);
    assert_int_equal(show->cues[0].lasts_us, 0);
    assert_int_equal(show->cues[3].lasts_us, 500000);
    assert_int_equal(show->cues[4].line, 6);
    assert_int_equal(sm_cue_event_count(show, 0), 3);
    assert_int_equal(sm_cue_event_count(show, 10), 1);
    uint32_t count;
    sm_event_levels(show, show->cues[2].first_event, &count);
    assert_int_equal(count, 0);
}

static void reads_firings(void **state) {
    const sm_show *const show = *state;
    const sm_firing *const comet = &show->firings[0], *const fountain = &show->firings[1];
    const sm_firing *const mystery = &show->firings[4];
    assert_int_equal(comet->lead_us, 180000);
    assert_int_equal(comet->lasts_us, 2 * SM_US_PER_S);
    assert_int_equal(comet->load, SM_LOAD_ONE);
    assert_int_equal(comet->igniters, 1);
    assert_near(comet->wire_m, 0, 1e-12);
    assert_int_equal(comet->wire.awg, 22);
    assert_int_equal(fountain->lasts_us, 8 * SM_US_PER_S); // the cue's, not the effect's 12 s
    assert_int_equal(fountain->load, SM_LOAD_SERIES);
    assert_int_equal(fountain->igniters, 2);
    assert_near(fountain->wire_m, 12, 1e-9);
    assert_int_equal(mystery->load, SM_LOAD_PARALLEL);
    assert_int_equal(mystery->igniters, 3);
    assert_near(mystery->wire.area_mm2, 1.5, 1e-12);
    assert_int_equal(mystery->lasts_us, 0);
    assert_int_equal(show->slot_firings[4], 0);
    assert_int_equal(show->slot_firings[5], SM_NONE);
    assert_true(sm_rail_in_use(show, 1));
}

static void finds_rows_by_name(void **state) {
    const sm_show *const show = *state;
    uint32_t slot = 0;
    assert_int_equal(sm_rail_find(show, "long-C"), 2);
    assert_int_equal(sm_rail_find(show, "long-c"), SM_NONE);
    assert_int_equal(sm_fixture_find(show, "jet-1"), 3);
    assert_int_equal(sm_group_find(show, "front"), 2);
    assert_int_equal(sm_effect_find(show, "comet"), 1);
    assert_int_equal(sm_position_find(show, "right"), 1);
    assert_int_equal(sm_slot_find(show, "A-5", 3, &slot), SM_OK);
    assert_int_equal(slot, 4);
    assert_int_equal(sm_slot_find(show, "long-C-007xx", 10, &slot), SM_OK);
    assert_int_equal(slot, 30);
    static const char *const none[] = {"A-17", "A-0",           "A-", "-5", "A5", "D-1", "A-1x",
                                       "A--1", "A-99999999999", ""};
    for (size_t i = 0; i < sizeof none / sizeof none[0]; i++)
        assert_int_equal(sm_slot_find(show, none[i], strlen(none[i]), &slot), SM_NOT_FOUND);
    assert_int_equal(slot, 30); // unchanged
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(reads_the_settings, load_every_table, destroy),
        cmocka_unit_test_setup_teardown(reads_modules_and_rails, load_every_table, destroy),
        cmocka_unit_test_setup_teardown(reads_effects_igniters_positions, load_every_table, destroy),
        cmocka_unit_test_setup_teardown(reads_profiles_fixtures_lines_feeds, load_every_table, destroy),
        cmocka_unit_test_setup_teardown(reads_readings_and_walk, load_every_table, destroy),
        cmocka_unit_test_setup_teardown(puts_events_in_order, load_every_table, destroy),
        cmocka_unit_test_setup_teardown(reads_cues, load_every_table, destroy),
        cmocka_unit_test_setup_teardown(reads_firings, load_every_table, destroy),
        cmocka_unit_test_setup_teardown(finds_rows_by_name, load_every_table, destroy),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// Planted faults named, in small rigs by hand and in random ones from seeds.
#include "rig/diagnose.h"
#include "support/rig_random.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// The bound that random rigs are held to: of 100, how many must name what was planted.
#define RIGS 300
#define NAMED_OF_100 98
#define QUIET_RIGS 1000

typedef struct rig {
    sm_show *show;
    sm_read_value values[RIG_SHOW_RAILS * RIG_SHOW_SLOTS];
    sm_rig_diagnosis *diagnosis;
} rig;

// Rails A to D of 12 slots on 10, 20, 30 and 40 m; each has a pattern of its own, every slot reads as
// predicted.
static rig good_rig(void) {
    static const char *const patterns[] = {"#######.####", "####.####.#.", "##.###.#####", "#.#.########"};
    rig r = {.show = rig_show_create(4, 12)};
    for (uint32_t rail = 0; rail < 4; rail++) {
        rig_show_cable(r.show, rail, 10.0 * (rail + 1), 22);
        for (uint32_t at = 0; at < 12; at++) {
            uint32_t slot = rig_show_slot(r.show, rail, at + 1);
            r.values[slot].kind = SM_READ_OPEN;
            if (patterns[rail][at] == '#') {
                uint32_t row = rig_show_fire(r.show, rail, at + 1, 0, SM_LOAD_ONE, 1);
                double nominal = sm_rig_firing_loop(r.show, row).nominal_ohms;
                r.values[slot] = (sm_read_value){.kind = SM_READ_OHMS, .ohms = nominal};
            }
        }
    }
    return r;
}

static void diagnose(rig *r) {
    assert_int_equal(sm_rig_diagnose(r->show, r->values, NULL, &r->diagnosis), SM_OK);
}

static void destroy(rig *r) {
    sm_rig_diagnosis_destroy(r->diagnosis);
    rig_show_destroy(r->show);
}

static sm_read_value *slot_of(rig *r, uint32_t rail, uint32_t number) {
    return &r->values[rig_show_slot(r->show, rail, number)];
}

static void exchange(rig *r, uint32_t a, uint32_t b) {
    for (uint32_t number = 1; number <= 12; number++) {
        sm_read_value keep = *slot_of(r, a, number);
        *slot_of(r, a, number) = *slot_of(r, b, number);
        *slot_of(r, b, number) = keep;
    }
}

static void assert_first(const rig *r, sm_rig_fault fault, const char *says) {
    assert_true(r->diagnosis->count > 0);
    assert_string_equal(sm_rig_fault_text(r->diagnosis->explanations[0].fault), sm_rig_fault_text(fault));
    assert_string_equal(r->diagnosis->explanations[0].says, says);
    assert_true(r->diagnosis->explanations[0].odds >= SM_RIG_ODDS_SAID);
}

static void good_rig_says_nothing(void **state) {
    (void)state;
    rig r = good_rig();
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 0);
    assert_int_equal(r.diagnosis->off, 0);
    assert_int_equal(r.diagnosis->remaining_count, 0);
    destroy(&r);
}

// Three faults of three kinds on three rails are just that.
static void independent_faults_stay_so(void **state) {
    (void)state;
    rig r = good_rig();
    slot_of(&r, 0, 5)->kind = SM_READ_OPEN;
    slot_of(&r, 2, 8)->kind = SM_READ_SHORT;
    *slot_of(&r, 1, 5) = (sm_read_value){.kind = SM_READ_OHMS, .ohms = 3.0};
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 0);
    assert_int_equal(r.diagnosis->off, 3);
    assert_int_equal(r.diagnosis->remaining_count, 3);
    assert_int_equal(r.diagnosis->remaining[0], rig_show_slot(r.show, 0, 5));
    destroy(&r);
}

// With a broken lead on top: the swap is named, the broken lead remains, at the slot where it reads.
static void swap_and_a_broken_lead(void **state) {
    (void)state;
    rig r = good_rig();
    slot_of(&r, 0, 5)->kind = SM_READ_OPEN;
    exchange(&r, 1, 2);
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    assert_first(&r, SM_RIG_RAILS_SWAPPED,
                 "rails B and C are swapped: what reads as B is the strip and cable of C; exchange their "
                 "plugs (exchange B C)");
    assert_int_equal(r.diagnosis->remaining_count, 1);
    assert_int_equal(r.diagnosis->remaining[0], rig_show_slot(r.show, 0, 5));
    const sm_rig_explanation *best = &r.diagnosis->explanations[0];
    assert_int_equal(best->explains + 1, r.diagnosis->off);
    assert_int_equal(best->remains, 1);
    destroy(&r);
}

static void three_rails_round(void **state) {
    (void)state;
    rig r = good_rig();
    exchange(&r, 0, 1);
    exchange(&r, 1, 3); // A reads as B, B as D, D as A
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    assert_first(
        &r, SM_RIG_RAILS_PERMUTED,
        "rails A, B and D are in each other's places: what reads as A is B, what reads as B is D, what reads "
        "as D is A");
    destroy(&r);
}

// Two pairs are two swaps.
static void two_pairs(void **state) {
    (void)state;
    rig r = good_rig();
    exchange(&r, 0, 1);
    exchange(&r, 2, 3);
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 2);
    assert_int_equal(r.diagnosis->explanations[0].fault, SM_RIG_RAILS_SWAPPED);
    assert_int_equal(r.diagnosis->explanations[1].fault, SM_RIG_RAILS_SWAPPED);
    assert_int_equal(r.diagnosis->remaining_count, 0);
    destroy(&r);
}

static void shifted_both_ways(void **state) {
    (void)state;
    rig r = good_rig();
    for (uint32_t number = 12; number > 1; number--)
        *slot_of(&r, 1, number) = *slot_of(&r, 1, number - 1);
    slot_of(&r, 1, 1)->kind = SM_READ_OPEN;
    for (uint32_t number = 1; number < 12; number++)
        *slot_of(&r, 2, number) = *slot_of(&r, 2, number + 1);
    slot_of(&r, 2, 12)->kind = SM_READ_OPEN;
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 2);
    bool b_first = r.diagnosis->explanations[0].rails[0] == 1;
    const sm_rig_explanation *b = &r.diagnosis->explanations[b_first ? 0 : 1];
    const sm_rig_explanation *c = &r.diagnosis->explanations[b_first ? 1 : 0];
    assert_string_equal(b->says, "rail B is plugged one slot up: what belongs to B-01 reads as B-02");
    assert_int_equal(b->shift, 1);
    assert_string_equal(c->says, "rail C is plugged one slot down: what belongs to C-02 reads as C-01");
    assert_int_equal(c->shift, -1);
    destroy(&r);
}

static void reversed(void **state) {
    (void)state;
    rig r = good_rig();
    for (uint32_t number = 1; number <= 6; number++) {
        sm_read_value keep = *slot_of(&r, 1, number);
        *slot_of(&r, 1, number) = *slot_of(&r, 1, 13 - number);
        *slot_of(&r, 1, 13 - number) = keep;
    }
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    assert_first(&r, SM_RIG_RAIL_REVERSED,
                 "rail B is plugged the wrong way round: what belongs to B-01 reads as B-12");
    destroy(&r);
}

// All programmed slots open is one rail not plugged, and never a run.
static void unplugged_is_no_run(void **state) {
    (void)state;
    rig r = good_rig();
    for (uint32_t number = 1; number <= 12; number++)
        slot_of(&r, 3, number)->kind = SM_READ_OPEN;
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    assert_first(&r, SM_RIG_RAIL_UNPLUGGED,
                 "rail D is not plugged, or its whole cable is cut: all of its programmed slots read open");
    assert_int_equal(r.diagnosis->explanations[0].explains, 10);
    destroy(&r);
}

// A rail known to be unplugged takes no part, whatever was read of it before.
static void known_unplugged_takes_no_part(void **state) {
    (void)state;
    rig r = good_rig();
    exchange(&r, 1, 2);
    const bool plugged[4] = {true, false, true, true};
    assert_int_equal(sm_rig_diagnose(r.show, r.values, plugged, &r.diagnosis), SM_OK);
    for (uint32_t i = 0; i < r.diagnosis->count; i++)
        for (uint32_t j = 0; j < r.diagnosis->explanations[i].rail_count; j++)
            assert_int_not_equal(r.diagnosis->explanations[i].rails[j], 1);
    destroy(&r);
}

// B-03 to B-06: four slots, of which 5 is spare: three programmed ones are a run, across the spare one.
static void run_across_a_spare_slot(void **state) {
    (void)state;
    rig r = good_rig();
    for (uint32_t number = 3; number <= 6; number++)
        slot_of(&r, 1, number)->kind = SM_READ_OPEN;
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    assert_first(&r, SM_RIG_RUN_OPEN, "B-03 to B-06 are open together: a cut cable, or a plug half out");
    const sm_rig_explanation *run = &r.diagnosis->explanations[0];
    assert_int_equal(run->slot_count, 3);
    assert_int_equal(run->slots[2], rig_show_slot(r.show, 1, 6));
    assert_int_equal(run->remains, 0);
    assert_int_equal(r.diagnosis->remaining_count, 0);
    destroy(&r);

    r = good_rig();
    slot_of(&r, 1, 3)->kind = slot_of(&r, 1, 4)->kind = SM_READ_OPEN; // two are no run
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 0);
    destroy(&r);
}

// Two plugs half out on one rail are two runs; a third rail's slot that reads open by itself remains.
static void two_runs_on_a_rail(void **state) {
    (void)state;
    rig r = good_rig();
    for (uint32_t number = 1; number <= 3; number++)
        slot_of(&r, 0, number)->kind = slot_of(&r, 0, number + 9)->kind = SM_READ_OPEN;
    slot_of(&r, 2, 2)->kind = SM_READ_OPEN;
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 2);
    for (uint32_t i = 0; i < 2; i++) {
        const sm_rig_explanation *run = &r.diagnosis->explanations[i];
        assert_int_equal(run->fault, SM_RIG_RUN_OPEN);
        assert_int_equal(run->slot_count, 3);
        assert_int_equal(run->remains, 4); // the other run and the slot
    }
    assert_int_equal(r.diagnosis->explanations[0].slots[0] + r.diagnosis->explanations[1].slots[0],
                     rig_show_slot(r.show, 0, 1) + rig_show_slot(r.show, 0, 10));
    assert_int_equal(r.diagnosis->remaining_count, 1);
    assert_int_equal(r.diagnosis->remaining[0], rig_show_slot(r.show, 2, 2));
    destroy(&r);
}

// Every other slot fires, and what reads is one slot up: one slot down explains nearly as much, and is not told besides.
static void one_explanation_of_a_rail_and_not_two(void **state) {
    (void)state;
    rig r = {.show = rig_show_create(1, 12)};
    rig_show_cable(r.show, 0, 10.0, 22);
    for (uint32_t number = 1; number <= 11; number += 2)
        rig_show_fire(r.show, 0, number, 0, SM_LOAD_ONE, 1);
    for (uint32_t number = 1; number <= 12; number++)
        *slot_of(&r, 0, number) =
            number % 2 == 1
                ? (sm_read_value){.kind = SM_READ_OPEN}
                : (sm_read_value){.kind = SM_READ_OHMS, .ohms = sm_rig_firing_loop(r.show, 0).nominal_ohms};
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    assert_int_equal(r.diagnosis->explanations[0].shift, 1);
    assert_int_equal(r.diagnosis->explanations[0].explains, 12);
    assert_int_equal(r.diagnosis->remaining_count, 0);
    destroy(&r);
}

// A strip of another size seldom fits the plug: the same readings speak for a swap less loudly then.
static void strips_of_other_sizes_are_swapped_less_often(void **state) {
    (void)state;
    double odds[2];
    for (uint32_t other = 0; other < 2; other++) {
        rig r = {.show = rig_show_create(2, 6)};
        for (uint32_t number = 1; number <= 3; number++) {
            rig_show_fire(r.show, 0, number, 0, SM_LOAD_ONE, 1);
            rig_show_fire(r.show, 1, number == 1 ? 2 : number + 2, 0, SM_LOAD_ONE, 1);
        }
        const double nominal = sm_rig_firing_loop(r.show, 0).nominal_ohms;
        slot_of(&r, 0, 1)->kind = slot_of(&r, 1, 4)->kind = SM_READ_OPEN;
        *slot_of(&r, 0, 4) = (sm_read_value){.kind = SM_READ_OHMS, .ohms = nominal};
        r.show->rails[1].slots -= (int32_t)other; // the last one, which fires nothing and was not read
        r.show->slot_count -= other;
        diagnose(&r);
        assert_int_equal(r.diagnosis->count, 1);
        assert_int_equal(r.diagnosis->explanations[0].fault, SM_RIG_RAILS_SWAPPED);
        odds[other] = r.diagnosis->explanations[0].odds;
        sm_rig_diagnosis_destroy(r.diagnosis);
        slot_of(&r, 1, 4)->kind = SM_READ_NOTHING; // two readings are no swap, whatever the odds
        diagnose(&r);
        assert_int_equal(r.diagnosis->count, 0);
        destroy(&r);
    }
    assert_true(odds[0] < SM_RIG_ODDS_MAX && odds[1] < odds[0] / 10.0);
}

// 15 m more of 22 AWG than declared: 2 x 15 m x 52.963 ohm/km (recomputed wire table) x 0.98035 at 15 C
// = 1.558 ohm.
static void offset_in_ohms_and_metres(void **state) {
    (void)state;
    rig r = good_rig();
    for (uint32_t number = 1; number <= 12; number++)
        slot_of(&r, 2, number)->ohms += 1.558;
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    assert_first(&r, SM_RIG_RAIL_OFFSET,
                 "rail C reads 1.56 ohm more than predicted on every slot, as 15.0 m more of its 22 AWG: "
                 "cable length or "
                 "gauge, or a bad joint");
    assert_near(r.diagnosis->explanations[0].ohms, 1.558, 1e-9);
    assert_near(r.diagnosis->explanations[0].cable_m, 15.0, 0.01);
    assert_int_equal(r.diagnosis->explanations[0].explains, 10);
    destroy(&r);
}

// 100 m of 0.5 mm2 at 20 C: 6.90 ohm of ideal copper, 7.80 ohm at the class 5 maximum of IEC 60228 (second-hand): within
// its standard, so neither its slots nor its rail are off. 1 ohm beyond what the same cable may have when hot, it is.
static void a_cable_within_its_standard_is_no_bad_joint(void **state) {
    (void)state;
    rig r = good_rig();
    r.show->settings.air_c = 20.0;
    for (uint32_t rail = 0; rail < 4; rail++) {
        r.show->rails[rail].cable_m = 100.0;
        assert_int_equal(sm_gauge_read("0.5 mm2", 7, &r.show->rails[rail].cable), SM_OK);
    }
    for (uint32_t slot = 0; slot < r.show->slot_count; slot++) {
        const uint32_t row = r.show->slot_firings[slot];
        if (row != SM_NONE)
            r.values[slot].ohms = sm_rig_firing_loop(r.show, row).nominal_ohms;
    }
    for (uint32_t number = 1; number <= 12; number++)
        slot_of(&r, 2, number)->ohms += 7.80 - 6.90;
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 0);
    assert_int_equal(r.diagnosis->off, 0);
    sm_rig_diagnosis_destroy(r.diagnosis);
    for (uint32_t number = 1; number <= 12; number++)
        slot_of(&r, 2, number)->ohms += 7.80 * 1.0786 - 7.80 + 1.0;
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    assert_int_equal(r.diagnosis->explanations[0].fault, SM_RIG_RAIL_OFFSET);
    destroy(&r);
}

// A swap whose rails read 0.55 ohm more than either predicts is still a swap, but no figure for its odds is to be had.
static void no_odds_where_the_model_does_not_hold(void **state) {
    (void)state;
    rig r = good_rig();
    exchange(&r, 1, 2);
    for (uint32_t number = 1; number <= 12; number++) {
        slot_of(&r, 1, number)->ohms += 0.55;
        slot_of(&r, 2, number)->ohms += 0.55;
    }
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    assert_int_equal(r.diagnosis->explanations[0].fault, SM_RIG_RAILS_SWAPPED);
    assert_true(isnan(r.diagnosis->explanations[0].odds));
    destroy(&r);
}

// A meter that reads 0.2 ohm high everywhere, or copper at 35 C, is no rail's fault.
static void what_all_rails_share_is_no_fault(void **state) {
    (void)state;
    rig r = good_rig();
    for (uint32_t slot = 0; slot < r.show->slot_count; slot++)
        r.values[slot].ohms += 0.2;
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 0);
    destroy(&r);

    r = good_rig();
    for (uint32_t rail = 0; rail < 4; rail++) { // 40 m to 160 m: no one offset would do for all of them
        rig_show_cable(r.show, rail, 40.0 * (rail + 1), 22);
        for (uint32_t number = 1; number <= 12; number++)
            if (r.show->slot_firings[rig_show_slot(r.show, rail, number)] != SM_NONE)
                slot_of(&r, rail, number)->ohms =
                    sm_rig_firing_loop(r.show, r.show->slot_firings[rig_show_slot(r.show, rail, number)])
                        .nominal_ohms;
        double wire = sm_rig_wire_ohms(&r.show->rails[rail].cable, 2.0 * r.show->rails[rail].cable_m, 15.0);
        for (uint32_t number = 1; number <= 12; number++)
            slot_of(&r, rail, number)->ohms += wire * 0.0802; // 0.00393 x 20 K / 0.98035
    }
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 0);
    destroy(&r);
}

// The largest rig asked for, every rail in its neighbour's place.
static void sixty_four_rails_round(void **state) {
    (void)state;
    rig r = {.show = rig_show_create(64, 32)};
    for (uint32_t rail = 0; rail < 64; rail++) {
        rig_show_cable(r.show, rail, 5.0 + 7 * rail % 61, 22);
        for (uint32_t number = 1; number <= 32; number++)
            if ((number * 7 + rail * 5) % 11 != 0)
                rig_show_fire(r.show, rail, number, 0, SM_LOAD_ONE, 1);
    }
    for (uint32_t slot = 0; slot < r.show->slot_count; slot++) {
        uint32_t firing = r.show->slot_firings[(slot + 32) % r.show->slot_count];
        r.values[slot].kind = firing == SM_NONE ? SM_READ_OPEN : SM_READ_OHMS;
        r.values[slot].ohms = firing == SM_NONE ? 0.0 : sm_rig_firing_loop(r.show, firing).nominal_ohms;
    }
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 1);
    const sm_rig_explanation *best = &r.diagnosis->explanations[0];
    assert_int_equal(best->fault, SM_RIG_RAILS_PERMUTED);
    assert_int_equal(best->rail_count, 64);
    for (uint32_t i = 0; i < 64; i++)
        assert_int_equal(best->rails[i], i);
    assert_int_equal(r.diagnosis->remaining_count, 0);
    destroy(&r);
}

static void nothing_read_nothing_said(void **state) {
    (void)state;
    rig r = good_rig();
    memset(r.values, 0, sizeof r.values);
    diagnose(&r);
    assert_int_equal(r.diagnosis->count, 0);
    assert_int_equal(r.diagnosis->off, 0);
    destroy(&r);
}

// Each allocation failed in turn, in a rig with a swap, a cut and an offset.
static void memory_runs_out(void **state) {
    (void)state;
    rig r = good_rig();
    exchange(&r, 0, 1);
    for (uint32_t number = 1; number <= 12; number++) {
        slot_of(&r, 2, number)->ohms += 1.5;
        slot_of(&r, 3, number)->kind = number < 6 ? SM_READ_OPEN : slot_of(&r, 3, number)->kind;
    }
    sm_result result = SM_NO_MEMORY;
    size_t failed = 0;
    while (result != SM_OK) {
        sm_rig_diagnosis diagnosis = {.arena = sm_arena_create()};
        assert_non_null(diagnosis.arena);
        sm_arena_fail_at(diagnosis.arena, failed + 1);
        result = rig_diagnose_into(r.show, r.values, NULL, &diagnosis);
        assert_true(result == SM_OK || result == SM_NO_MEMORY);
        assert_true(result != SM_OK || diagnosis.count == 3);
        failed += result != SM_OK;
        sm_arena_destroy(diagnosis.arena);
    }
    assert_true(failed > 20);
    destroy(&r);
}

// What a diagnosis says of a rig adds up, by the verdicts of single slots.
static void adds_up(const rig_case *test, const sm_rig_diagnosis *diagnosis) {
    uint32_t off = 0, listed = 0, explained = 0;
    for (uint32_t slot = 0; slot < test->show->slot_count; slot++) {
        const sm_verdict verdict = sm_rig_judge(test->show, slot, true, test->values[slot]);
        const bool is_off =
            verdict == SM_VERDICT_STRAY || (sm_verdict_refuses(verdict) && verdict != SM_VERDICT_UNSURE);
        const bool is_listed = listed < diagnosis->remaining_count && diagnosis->remaining[listed] == slot;
        off += is_off;
        if (diagnosis->count == 0) {
            assert_int_equal(is_listed, is_off);
            if (is_listed) {
                const bool loaded = test->show->slot_firings[slot] != SM_NONE;
                assert_int_equal(diagnosis->remaining_verdicts[listed], verdict);
                assert_int_equal(diagnosis->remaining_strips[listed], loaded ? slot : SM_NONE);
            }
        }
        listed += is_listed;
    }
    assert_int_equal(diagnosis->off, off);
    assert_int_equal(diagnosis->remaining_count, listed); // each once, in order
    for (uint32_t i = 0; i < diagnosis->count; i++) {
        const sm_rig_explanation *each = &diagnosis->explanations[i];
        explained += off - each->remains; // they concern different readings
        if (i > 0 && !isnan(each->odds) && !isnan(each[-1].odds))
            assert_true(each->odds <= each[-1].odds);
        for (uint32_t slot = 0; slot < each->slot_count; slot++)
            assert_int_not_equal(test->show->slot_firings[each->slots[slot]], SM_NONE);
    }
    assert_int_equal(off - explained, diagnosis->remaining_count);
}

static void planted_faults_are_named(void **state) {
    (void)state;
    for (int fault = 0; fault < SM_RIG_FAULT_COUNT; fault++) {
        uint32_t named = 0;
        for (uint64_t seed = 1; seed <= RIGS; seed++) {
            rig_case *test = rig_case_create(seed, (sm_rig_fault)fault);
            sm_rig_diagnosis *diagnosis;
            assert_int_equal(sm_rig_diagnose(test->show, test->values, NULL, &diagnosis), SM_OK);
            named += diagnosis->count > 0 && rig_case_is_named(test, &diagnosis->explanations[0]);
            adds_up(test, diagnosis);
            sm_rig_diagnosis_destroy(diagnosis);
            rig_case_destroy(test);
        }
        print_message("%s named in %u of %u\n", sm_rig_fault_text((sm_rig_fault)fault), named, RIGS);
        assert_true(named * 100 >= NAMED_OF_100 * RIGS);
    }
}

static void independent_faults_seldom_read_as_swapped(void **state) {
    (void)state;
    uint32_t swapped = 0;
    for (uint64_t seed = 1; seed <= QUIET_RIGS; seed++) {
        rig_case *test = rig_case_create(seed, SM_RIG_FAULT_COUNT);
        sm_rig_diagnosis *diagnosis;
        assert_int_equal(sm_rig_diagnose(test->show, test->values, NULL, &diagnosis), SM_OK);
        for (uint32_t i = 0; i < diagnosis->count; i++) {
            sm_rig_fault fault = diagnosis->explanations[i].fault;
            swapped += fault == SM_RIG_RAILS_SWAPPED || fault == SM_RIG_RAILS_PERMUTED;
        }
        adds_up(test, diagnosis);
        sm_rig_diagnosis_destroy(diagnosis);
        rig_case_destroy(test);
    }
    assert_true(swapped <= 1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(good_rig_says_nothing),
        cmocka_unit_test(independent_faults_stay_so),
        cmocka_unit_test(swap_and_a_broken_lead),
        cmocka_unit_test(three_rails_round),
        cmocka_unit_test(two_pairs),
        cmocka_unit_test(shifted_both_ways),
        cmocka_unit_test(reversed),
        cmocka_unit_test(unplugged_is_no_run),
        cmocka_unit_test(known_unplugged_takes_no_part),
        cmocka_unit_test(run_across_a_spare_slot),
        cmocka_unit_test(two_runs_on_a_rail),
        cmocka_unit_test(one_explanation_of_a_rail_and_not_two),
        cmocka_unit_test(strips_of_other_sizes_are_swapped_less_often),
        cmocka_unit_test(offset_in_ohms_and_metres),
        cmocka_unit_test(a_cable_within_its_standard_is_no_bad_joint),
        cmocka_unit_test(no_odds_where_the_model_does_not_hold),
        cmocka_unit_test(what_all_rails_share_is_no_fault),
        cmocka_unit_test(sixty_four_rails_round),
        cmocka_unit_test(nothing_read_nothing_said),
        cmocka_unit_test(memory_runs_out),
        cmocka_unit_test(planted_faults_are_named),
        cmocka_unit_test(independent_faults_seldom_read_as_swapped),
    };
    return cmocka_run_group_tests_name("rig diagnose", tests, NULL, NULL);
}

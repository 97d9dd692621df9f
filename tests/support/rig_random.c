// SPDX-License-Identifier: GPL-3.0-or-later
#include "rig_random.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdlib.h>

#include <cmocka.h>

#define TELLING_SLOTS 3
#define FAULT_RATE 0.02
#define STRAY_RATE 0.005

typedef struct dice {
    uint64_t state;
} dice;

// What is really at a slot: strip slot (SM_NONE: nothing), its ohms as they are, and those that were declared
// for it.
typedef struct truth {
    uint32_t strip_slot[RIG_SHOW_RAILS * RIG_SHOW_SLOTS];
    double ohms[RIG_SHOW_RAILS * RIG_SHOW_SLOTS]; // per strip slot
    double nominal[RIG_SHOW_RAILS * RIG_SHOW_SLOTS];
    double extra[RIG_SHOW_RAILS];
} truth;

static uint64_t roll(dice *d) { // splitmix64
    uint64_t z = d->state += UINT64_C(0x9E3779B97F4A7C15);
    z = (z ^ (z >> 30)) * UINT64_C(0xBF58476D1CE4E5B9);
    z = (z ^ (z >> 27)) * UINT64_C(0x94D049BB133111EB);
    return z ^ (z >> 31);
}

static uint32_t below(dice *d, uint32_t n) {
    return (uint32_t)(roll(d) % n);
}

static double between(dice *d, double low, double high) {
    return low + (high - low) * ((double)(roll(d) >> 11) * 0x1p-53);
}

static bool happens(dice *d, double rate) {
    return between(d, 0.0, 1.0) < rate;
}

static void program_slot(dice *d, sm_show *show, uint32_t rail, uint32_t number) {
    uint32_t pick = below(d, 20);
    sm_load_kind load = pick == 0 ? SM_LOAD_SERIES : pick == 1 ? SM_LOAD_PARALLEL : SM_LOAD_ONE;
    uint32_t row = rig_show_fire(show, rail, number, 0, load, load == SM_LOAD_ONE ? 1 : 2 + (int)below(d, 2));
    if (happens(d, 0.05))
        show->firings[row].wire_m = between(d, 3.0, 20.0);
}

// A rail filled from its first slot on, as crews do, or here and there; lengths in whole drums of 5 m.
static void program_rail(dice *d, sm_show *show, uint32_t rail, uint32_t slots) {
    rig_show_cable(show, rail, 5.0 * (1 + below(d, 12)), happens(d, 0.3) ? 20 : 22);
    bool in_order = happens(d, 0.4);
    double fill = between(d, 0.3, 1.0);
    for (uint32_t number = 1; number <= slots; number++)
        if (in_order ? number <= (uint32_t)(fill * slots) : happens(d, fill))
            program_slot(d, show, rail, number);
}

static sm_show *random_show(dice *d) {
    static const uint32_t sizes[] = {8, 12, 16, 24, 32};
    uint32_t rails = 2 + below(d, 15), slots = sizes[below(d, 5)];
    sm_show *show = rig_show_create(rails, slots);
    for (uint32_t rail = 0; rail < rails; rail++)
        program_rail(d, show, rail, slots);
    return show;
}

static double load_ohms(const sm_firing *firing, const double *bridges, double leads) {
    double series = 0.0, siemens = 0.0;
    for (int i = 0; i < firing->igniters; i++) {
        series += bridges[i] + leads;
        siemens += 1.0 / (bridges[i] + leads);
    }
    return firing->load == SM_LOAD_PARALLEL ? 1.0 / siemens : series;
}

static void hang_igniters(dice *d, const sm_show *show, double copper_c, truth *there) {
    const sm_igniter *igniter = &show->igniters[0];
    double leads = 2.0 * sm_rig_wire_ohms(&igniter->lead, igniter->lead_m, copper_c);
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        there->strip_slot[slot] = SM_NONE;
        uint32_t row = show->slot_firings[slot];
        if (row == SM_NONE)
            continue;
        const sm_firing *firing = &show->firings[row];
        const sm_rail *rail = &show->rails[show->slot_rails[slot]];
        double bridges[4];
        for (int i = 0; i < 4; i++)
            bridges[i] = igniter->ohms + between(d, -igniter->tolerance_ohms, igniter->tolerance_ohms);
        there->strip_slot[slot] = slot;
        there->nominal[slot] = sm_rig_firing_loop(show, row).nominal_ohms;
        there->ohms[slot] = 2.0 * sm_rig_wire_ohms(&rail->cable, rail->cable_m, copper_c) +
                            2.0 * sm_rig_wire_ohms(&firing->wire, firing->wire_m, copper_c) +
                            load_ohms(firing, bridges, leads);
    }
}

static void shuffle(dice *d, uint32_t *list, uint32_t count) {
    for (uint32_t i = count; i > 1; i--) {
        uint32_t j = below(d, i), keep = list[i - 1];
        list[i - 1] = list[j];
        list[j] = keep;
    }
}

static void pick_rails(dice *d, rig_case *test) {
    uint32_t order[RIG_SHOW_RAILS];
    for (uint32_t i = 0; i < test->show->rail_count; i++)
        order[i] = i;
    shuffle(d, order, test->show->rail_count);
    bool swapped = test->planted == SM_RIG_RAILS_SWAPPED, permuted = test->planted == SM_RIG_RAILS_PERMUTED;
    test->rail_count = permuted ? 3 + below(d, 2) : swapped ? 2 : 1;
    for (uint32_t i = 0; i < test->rail_count && i < test->show->rail_count; i++)
        test->rails[i] = order[i];
}

static void plant_exchange(rig_case *test, truth *there) {
    for (uint32_t i = 0; i < test->rail_count; i++) {
        const sm_rail *place = &test->show->rails[test->rails[i]];
        const sm_rail *strip = &test->show->rails[test->rails[(i + 1) % test->rail_count]];
        for (uint32_t at = 0; at < (uint32_t)place->slots; at++) {
            bool loaded = test->show->slot_firings[strip->slot_base + at] != SM_NONE;
            there->strip_slot[place->slot_base + at] = loaded ? strip->slot_base + at : SM_NONE;
        }
    }
}

static void plant_move(rig_case *test, truth *there) {
    const sm_rail *rail = &test->show->rails[test->rails[0]];
    int slots = rail->slots;
    for (int at = 0; at < slots; at++) {
        int from = test->planted == SM_RIG_RAIL_REVERSED ? slots - 1 - at : at - test->shift;
        uint32_t strip_slot = from < 0 || from >= slots ? SM_NONE : rail->slot_base + (uint32_t)from;
        bool loaded = strip_slot != SM_NONE && test->show->slot_firings[strip_slot] != SM_NONE;
        there->strip_slot[rail->slot_base + (uint32_t)at] = loaded ? strip_slot : SM_NONE;
    }
}

static void plant_open(dice *d, rig_case *test, truth *there) {
    const sm_rail *rail = &test->show->rails[test->rails[0]];
    uint32_t slots = (uint32_t)rail->slots, begin = 0, end = slots;
    if (test->planted == SM_RIG_RUN_OPEN) {
        begin = below(d, slots - 2);
        end = begin + 3 + below(d, slots - begin - 2);
    }
    test->first = rail->slot_base + begin;
    test->last = rail->slot_base + end - 1;
    for (uint32_t slot = test->first; slot <= test->last; slot++)
        there->strip_slot[slot] = SM_NONE;
}

static void plant(dice *d, rig_case *test, truth *there) {
    pick_rails(d, test);
    switch (test->planted) {
    case SM_RIG_RAILS_SWAPPED:
    case SM_RIG_RAILS_PERMUTED:
        plant_exchange(test, there);
        break;
    case SM_RIG_RAIL_SHIFTED:
    case SM_RIG_RAIL_REVERSED:
        test->shift = test->planted == SM_RIG_RAIL_REVERSED ? 0 : happens(d, 0.5) ? 1 : -1;
        plant_move(test, there);
        break;
    case SM_RIG_RAIL_UNPLUGGED:
    case SM_RIG_RUN_OPEN:
        plant_open(d, test, there);
        break;
    case SM_RIG_RAIL_OFFSET:
        test->ohms = between(d, 0.5, 6.0) * (happens(d, 0.25) ? -1.0 : 1.0);
        there->extra[test->rails[0]] = test->ohms;
        break;
    case SM_RIG_FAULT_COUNT:
        test->rail_count = 0;
        break;
    }
}

// Between what is declared at SLOT and what would be read were STRIP_SLOT there instead.
static bool tells(const rig_case *test, const truth *there, uint32_t slot, uint32_t strip_slot,
                  bool spares_read) {
    bool declared = test->show->slot_firings[slot] != SM_NONE;
    bool conducts = strip_slot != SM_NONE && test->show->slot_firings[strip_slot] != SM_NONE;
    if (!declared || !conducts)
        return declared != conducts && (declared || spares_read);
    double change = fabs(there->nominal[slot] - there->nominal[strip_slot]);
    return change > 3.0 * sm_rig_meter_error(test->show, there->nominal[strip_slot]);
}

static bool rails_differ(const rig_case *test, const truth *there, uint32_t place, uint32_t strip,
                         bool spares_read) {
    uint32_t count = 0;
    for (uint32_t at = 0; at < (uint32_t)test->show->rails[place].slots; at++) {
        count += tells(test, there, test->show->rails[place].slot_base + at,
                       test->show->rails[strip].slot_base + at, spares_read);
    }
    return count >= TELLING_SLOTS;
}

static bool exchange_can_be_told(const rig_case *test, const truth *there, bool spares_read) {
    for (uint32_t i = 0; i < test->rail_count; i++) {
        for (uint32_t j = 0; j < test->rail_count; j++)
            if (i != j && !rails_differ(test, there, test->rails[i], test->rails[j], spares_read))
                return false;
    }
    return test->rail_count <= test->show->rail_count;
}

static uint32_t programmed(const sm_show *show, uint32_t first, uint32_t last) {
    uint32_t count = 0;
    for (uint32_t slot = first; slot <= last; slot++)
        count += show->slot_firings[slot] != SM_NONE;
    return count;
}

// Not told from an unplugged rail when all programmed slots read open and the spare ones were not read.
static bool looks_unplugged(const rig_case *test, const truth *there, bool spares_read) {
    const sm_rail *rail = &test->show->rails[test->rails[0]];
    for (uint32_t slot = rail->slot_base; slot < rail->slot_base + (uint32_t)rail->slots; slot++) {
        bool read = spares_read || test->show->slot_firings[slot] != SM_NONE;
        if (read && there->strip_slot[slot] != SM_NONE)
            return false;
    }
    return true;
}

static bool can_be_told(const rig_case *test, const truth *there, bool spares_read) {
    const sm_rail *rail = &test->show->rails[test->rails[0]];
    uint32_t first = rail->slot_base, last = rail->slot_base + (uint32_t)rail->slots - 1, count = 0;
    double greatest = 0.0, least = INFINITY;
    switch (test->planted) {
    case SM_RIG_RAILS_SWAPPED:
    case SM_RIG_RAILS_PERMUTED:
        return exchange_can_be_told(test, there, spares_read);
    case SM_RIG_RUN_OPEN:
        count = programmed(test->show, test->first, test->last);
        return count >= TELLING_SLOTS && count < programmed(test->show, first, last);
    case SM_RIG_RAIL_OFFSET:
        for (uint32_t slot = first; slot <= last; slot++) {
            if (test->show->slot_firings[slot] != SM_NONE) {
                greatest =
                    fmax(greatest, sm_rig_meter_error(test->show, there->nominal[slot] + fabs(test->ohms)));
                least = fmin(least, there->nominal[slot]);
                count++;
            }
        }
        return count >= TELLING_SLOTS && fabs(test->ohms) > 3.0 * greatest && least + test->ohms > 1.0;
    case SM_RIG_RAIL_SHIFTED:
    case SM_RIG_RAIL_REVERSED:
        if (looks_unplugged(test, there, spares_read))
            return false;
        __attribute__((fallthrough));
    case SM_RIG_RAIL_UNPLUGGED:
        for (uint32_t slot = first; slot <= last; slot++)
            count += tells(test, there, slot, there->strip_slot[slot], spares_read);
        return count >= TELLING_SLOTS;
    case SM_RIG_FAULT_COUNT:
        break;
    }
    return true;
}

static sm_read_value ohms_of(double ohms) {
    return (sm_read_value){.kind = SM_READ_OHMS, .ohms = fmax(0.0, round(ohms * 100.0) / 100.0)};
}

// What an independent fault leaves of a loop of OHMS.
static sm_read_value broken(dice *d, double ohms) {
    static const sm_read_value open = {.kind = SM_READ_OPEN}, shorted = {.kind = SM_READ_SHORT};
    switch (below(d, 5)) {
    case 0:
    case 1:
        return open;
    case 2:
        return happens(d, 0.5) ? shorted : ohms_of(fmax(0.05, ohms - 1.6));
    case 3:
        return ohms_of(ohms + between(d, 1.0, 20.0));
    default:
        return ohms_of(ohms * between(d, 0.2, 0.6));
    }
}

static void measure(dice *d, rig_case *test, const truth *there, bool spares_read) {
    const sm_show_settings *set = &test->show->settings;
    double offset = between(d, -set->meter_offset_ohms, set->meter_offset_ohms);
    double gain = 1.0 + between(d, -1.0, 1.0) * set->meter_accuracy_percent / 100.0;
    for (uint32_t slot = 0; slot < test->show->slot_count; slot++) {
        bool spare = test->show->slot_firings[slot] == SM_NONE;
        uint32_t strip_slot = there->strip_slot[slot];
        if (spare && !spares_read)
            continue;
        if (strip_slot == SM_NONE) {
            bool cut = test->first <= slot && slot <= test->last;
            bool stray = spare && !cut && happens(d, STRAY_RATE);
            test->values[slot] =
                stray ? ohms_of(between(d, 1.5, 9.0)) : (sm_read_value){.kind = SM_READ_OPEN};
            continue;
        }
        double ohms = there->ohms[strip_slot] + there->extra[test->show->slot_rails[slot]];
        ohms = ohms * gain + offset;
        test->values[slot] = happens(d, FAULT_RATE) ? broken(d, ohms) : ohms_of(ohms);
    }
}

rig_case *rig_case_create(uint64_t seed, sm_rig_fault planted) {
    dice d = {.state = seed * UINT64_C(0xD1B54A32D192ED03) + (uint64_t)planted};
    rig_case *test = calloc(1, sizeof *test);
    truth *there = calloc(1, sizeof *there);
    assert_non_null(test);
    assert_non_null(there);
    bool told = false, spares_read = false;
    while (!told) {
        rig_show_destroy(test->show);
        *test = (rig_case){.show = random_show(&d), .planted = planted, .first = SM_NONE};
        *there = (truth){0};
        const sm_show_settings *set = &test->show->settings;
        spares_read = happens(&d, 0.7);
        double copper_c = happens(&d, 0.5) ? set->air_c : between(&d, set->copper_cold_c, set->copper_hot_c);
        hang_igniters(&d, test->show, copper_c, there);
        plant(&d, test, there);
        told = can_be_told(test, there, spares_read);
    }
    measure(&d, test, there, spares_read);
    free(there);
    return test;
}

void rig_case_destroy(rig_case *test) {
    if (test) {
        rig_show_destroy(test->show);
        free(test);
    }
}

static bool lists(const uint32_t *list, uint32_t count, uint32_t value) {
    for (uint32_t i = 0; i < count; i++)
        if (list[i] == value)
            return true;
    return false;
}

// The cycle of EXPLANATION has STRIP in place of PLACE.
static bool has_in_place(const sm_rig_explanation *explanation, uint32_t place, uint32_t strip) {
    for (uint32_t i = 0; i < explanation->rail_count; i++)
        if (explanation->rails[i] == place)
            return explanation->rails[(i + 1) % explanation->rail_count] == strip;
    return false;
}

bool rig_case_is_named(const rig_case *test, const sm_rig_explanation *explanation) {
    if (explanation->fault != test->planted || explanation->rail_count != test->rail_count ||
        explanation->shift != test->shift)
        return false;
    for (uint32_t i = 0; i < test->rail_count; i++)
        if (!has_in_place(explanation, test->rails[i], test->rails[(i + 1) % test->rail_count]))
            return false;
    for (uint32_t slot = test->first; test->planted == SM_RIG_RUN_OPEN && slot <= test->last; slot++)
        if (test->show->slot_firings[slot] != SM_NONE &&
            !lists(explanation->slots, explanation->slot_count, slot))
            return false;
    return test->planted != SM_RIG_RAIL_OFFSET || (explanation->ohms > 0.0) == (test->ohms > 0.0);
}

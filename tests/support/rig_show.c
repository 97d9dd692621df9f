// SPDX-License-Identifier: GPL-3.0-or-later
#include "rig_show.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void *checked(void *block) {
    assert_non_null(block);
    return block;
}

void rig_assert_near(double value, double expected, double epsilon, const char *file, int line) {
    if (!(fabs(value - expected) <= epsilon)) {
        print_error("%.9f is not within %.9f of %.9f\n", value, epsilon, expected);
        _fail(file, line);
    }
}

sm_gauge rig_show_awg(int awg) {
    sm_gauge gauge = {.area_mm2 = sm_awg_area_mm2(awg), .factor = 1.0, .is_awg = true, .awg = (int8_t)awg};
    snprintf(gauge.text, sizeof gauge.text, "%d AWG", awg);
    return gauge;
}

static void rail_name(char name[4], uint32_t rail) {
    if (rail < 26)
        snprintf(name, 4, "%c", (char)('A' + rail));
    else
        snprintf(name, 4, "%c%c", (char)('A' + rail / 26 - 1), (char)('A' + rail % 26));
}

static void fill_rails(sm_show *show, uint32_t rails, uint32_t slots) {
    show->rails = checked(calloc(rails, sizeof *show->rails));
    show->rail_count = rails;
    show->slot_count = rails * slots;
    show->slot_rails = checked(calloc(show->slot_count, sizeof *show->slot_rails));
    show->slot_firings = checked(calloc(show->slot_count, sizeof *show->slot_firings));
    for (uint32_t rail = 0; rail < rails; rail++) {
        char *name = checked(calloc(4, 1));
        rail_name(name, rail);
        show->rails[rail] = (sm_rail){
            .name = name,
            .first = (int32_t)(rail * slots) + 1,
            .slots = (int32_t)slots,
            .cable = rig_show_awg(22),
            .position = SM_NONE,
            .joints = 2,
            .slot_base = rail * slots,
        };
        for (uint32_t slot = 0; slot < slots; slot++) {
            show->slot_rails[rail * slots + slot] = rail;
            show->slot_firings[rail * slots + slot] = SM_NONE;
        }
    }
}

sm_show *rig_show_create(uint32_t rails, uint32_t slots) {
    sm_show *show = checked(calloc(1, sizeof *show));
    show->settings = (sm_show_settings){
        .air_c = 15.0,
        .copper_hot_c = 40.0,
        .copper_cold_c = 0.0,
        .meter_accuracy_percent = 2.0,
        .meter_offset_ohms = 0.2,
    };
    show->modules = checked(calloc(1, sizeof *show->modules));
    show->module_count = 1;
    show->modules[0] = (sm_module){.name = "M",
                                   .slots = (int32_t)(rails * slots),
                                   .volts = 18.0,
                                   .volts_low = 15.0,
                                   .source_ohms = 0.5,
                                   .pulse_us = 40000,
                                   .gap_us = 10000,
                                   .at_once = 8,
                                   .test_current_amps = 0.01,
                                   .capacitance_f = (double)NAN,
                                   .charge_ohms = (double)NAN};
    show->igniters = checked(calloc(1, sizeof *show->igniters));
    show->igniter_count = 1;
    show->igniters[0] = (sm_igniter){.name = "",
                                     .ohms = 1.6,
                                     .tolerance_ohms = 0.3,
                                     .lead_m = 2.0,
                                     .lead = rig_show_awg(24),
                                     .no_fire_amps = 0.2,
                                     .all_fire_amps = 0.5,
                                     .series_fire_amps = 1.0,
                                     .impulse = (double)NAN};
    show->effects = checked(calloc(1, sizeof *show->effects));
    show->effect_count = 1;
    show->effects[0] = (sm_effect){.name = "comet", .note = ""};
    show->firings = checked(calloc((size_t)rails * slots * 2, sizeof *show->firings));
    show->cues = checked(calloc((size_t)rails * slots * 2, sizeof *show->cues));
    show->events = checked(calloc((size_t)rails * slots * 2, sizeof *show->events));
    fill_rails(show, rails, slots);
    return show;
}

void rig_show_destroy(sm_show *show) {
    if (!show)
        return;
    for (uint32_t rail = 0; rail < show->rail_count; rail++) {
        char *name;
        memcpy(&name, &show->rails[rail].name, sizeof name);
        free(name);
    }
    free(show->rails);
    free(show->slot_rails);
    free(show->slot_firings);
    free(show->modules);
    free(show->igniters);
    free(show->effects);
    free(show->firings);
    free(show->cues);
    free(show->events);
    free(show);
}

void rig_show_cable(sm_show *show, uint32_t rail, double length_m, int awg) {
    show->rails[rail].cable_m = length_m;
    show->rails[rail].cable = rig_show_awg(awg);
}

uint32_t rig_show_slot(const sm_show *show, uint32_t rail, uint32_t number) {
    return show->rails[rail].slot_base + number - 1;
}

uint32_t rig_show_fire(sm_show *show, uint32_t rail, uint32_t number, sm_us fire_us, sm_load_kind load,
                       int igniters) {
    uint32_t slot = rig_show_slot(show, rail, number);
    assert_true(show->firing_count < show->slot_count * 2);
    uint32_t row = show->firing_count++;
    show->cue_count = show->event_count = show->firing_count;
    show->cues[row] = (sm_cue){.time_us = fire_us, .first_event = row, .kind = SM_CUE_FIRE};
    show->events[row] = (sm_event){.cue = row, .target = row};
    show->firings[row] = (sm_firing){
        .event = row,
        .slot = slot,
        .fire_us = fire_us,
        .load = load,
        .igniters = igniters,
        .wire = rig_show_awg(22),
    };
    if (show->slot_firings[slot] == SM_NONE)
        show->slot_firings[slot] = row;
    return row;
}

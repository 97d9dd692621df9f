// SPDX-License-Identifier: GPL-3.0-or-later
// The firing line: current, test current, cable.
#include "check/rule.h"

#include "slowmatch/rig.h"

#include <math.h>
#include <stdio.h>

#define MARGIN_ERROR 1.0
#define MARGIN_WARNING 1.5

// Continuity-test ceiling: the lesser of 50 mA and a tenth of the no-fire current (common practice; NASA-STD-8719.24
// annex 13.8.1.1.1, read, says 50 mA or a tenth of the no-fire energy).
#define TEST_MOST_AMPS 0.050
#define TEST_PART_OF_NO_FIRE 0.1

static void put_current(sm_check *check, uint32_t firing, const sm_rig_current *current) {
    const sm_show *show = check->show;
    char slot[48], others[64] = "";
    if (current->others > 0)
        snprintf(others, sizeof others, " with %u more firing in that pulse", current->others);
    check_put_as(check, current->margin < MARGIN_ERROR ? SM_ERROR : SM_WARNING, "current-low",
                 check_at_event(check, show->firings[firing].event, "target"),
                 (check_figures){FIGURE_PLAIN, current->amps, current->needed_amps, "A"},
                 "%s gets %.3f A an igniter at worst%s and needs %.3f A: %.2f times, should be %.1f times or "
                 "more",
                 sm_slot_format(show, show->firings[firing].slot, slot), current->amps, others,
                 current->needed_amps, floor(current->margin * 100.0) / 100.0, MARGIN_WARNING);
}

static void put_pulse(sm_check *check, uint32_t firing, const sm_rig_current *current) {
    const sm_show *show = check->show;
    const sm_module *module =
        &show->modules[show->rails[show->slot_rails[show->firings[firing].slot]].module];
    char slot[48], source[96] = "";
    if (!isnan(module->capacitance_f))
        snprintf(source, sizeof source, " (%.1f V of %.1f V in %.4g uF by then; %.3f A at its end)",
                 current->volts, module->volts_low, module->capacitance_f * 1e6, current->end_amps);
    check_put_as(check, current->impulse_known ? SM_ERROR : SM_WARNING, "pulse-short",
                 check_at_event(check, show->firings[firing].event, "target"),
                 (check_figures){FIGURE_PLAIN, current->impulse, current->needed_impulse, "mJ/ohm"},
                 "%s gets %.2f mJ/ohm at worst in a pulse of %s%s and needs %.2f mJ/ohm: %s",
                 sm_slot_format(show, show->firings[firing].slot, slot),
                 floor(current->impulse * 100.0) / 100.0, SPAN(module->pulse_us), source,
                 current->needed_impulse,
                 current->impulse_known ? "the igniter's impulse"
                                        : "taken as all_fire held for 20 ms, as no impulse is given");
}

// How short of what it needs: below 1 too little. What gets too little current is told as that.
static double amps_short(const sm_rig_current *current) {
    return current->margin / MARGIN_WARNING;
}

static double impulse_short(const sm_rig_current *current) {
    return current->margin < MARGIN_ERROR ? (double)INFINITY : current->impulse / current->needed_impulse;
}

// The firings of one row stand together: the row is told by its worst.
static void judge_each_cue(sm_check *check, const sm_rig_current *currents,
                           double (*worth)(const sm_rig_current *),
                           void (*tell)(sm_check *, uint32_t, const sm_rig_current *)) {
    const sm_show *show = check->show;
    for (uint32_t i = 0, end = 0; i < show->firing_count; i = end) {
        uint32_t worst = SM_NONE;
        const uint32_t cue = show->events[show->firings[i].event].cue;
        for (end = i; end < show->firing_count && show->events[show->firings[end].event].cue == cue; end++)
            if (worth(&currents[end]) < 1.0 &&
                (worst == SM_NONE || worth(&currents[end]) < worth(&currents[worst])))
                worst = end;
        if (worst != SM_NONE)
            tell(check, worst, &currents[worst]);
    }
}

sm_result check_current(sm_check *check) {
    const size_t count = check->show->firing_count;
    sm_rig_current *currents = sm_arena_alloc(check->arena, (count + 1) * sizeof *currents);
    if (!currents)
        return SM_NO_MEMORY;
    const sm_result result = sm_rig_currents(check->show, currents);
    if (result != SM_OK)
        return result;
    judge_each_cue(check, currents, amps_short, put_current);
    judge_each_cue(check, currents, impulse_short, put_pulse);
    return SM_OK;
}

sm_result check_charge(sm_check *check) {
    for (uint32_t m = 0; m < check->show->module_count; m++) {
        const sm_module *module = &check->show->modules[m];
        if (isnan(module->capacitance_f) == isnan(module->charge_ohms))
            continue;
        const bool store = isnan(module->charge_ohms);
        check_put(
            check, "charge-unknown",
            (check_place){"modules.csv", module->line, store ? "charge_ohms" : "capacitance"},
            check_no_figures(),
            store ? "module %s fires from a capacitor and has no charge_ohms: it counts as full again after "
                    "every pulse"
                  : "module %s has charge_ohms and no capacitance: it counts as a steady source",
            module->name);
    }
    return SM_OK;
}

// For each module the igniter with the least no-fire current among those that it fires; NULL where it fires none.
static void find_most_sensitive(const sm_show *show, const sm_igniter **least) {
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_firing *firing = &show->firings[i];
        const uint32_t module = show->rails[show->slot_rails[firing->slot]].module;
        const uint32_t igniter = firing->effect != SM_NONE ? show->effects[firing->effect].igniter : SM_NONE;
        if (module == SM_NONE || igniter == SM_NONE)
            continue;
        const sm_igniter *row = &show->igniters[igniter];
        if (!least[module] || row->no_fire_amps < least[module]->no_fire_amps)
            least[module] = row;
    }
}

sm_result check_test_current(sm_check *check) {
    const sm_show *show = check->show;
    const sm_igniter **least = sm_arena_alloc(check->arena, ((size_t)show->module_count + 1) * sizeof *least);
    if (!least)
        return SM_NO_MEMORY;
    find_most_sensitive(show, least);
    for (uint32_t m = 0; m < show->module_count; m++) {
        const sm_module *module = &show->modules[m];
        const double part = least[m] ? least[m]->no_fire_amps * TEST_PART_OF_NO_FIRE : (double)INFINITY;
        const double most = fmin(TEST_MOST_AMPS, part);
        if (module->test_current_amps <= most * (1.0 + 1e-9))
            continue;
        const char *igniter = least[m] && part < TEST_MOST_AMPS ? least[m]->name : NULL;
        check_put(check, "test-current-high", (check_place){"modules.csv", module->line, "test_current"},
                  (check_figures){FIGURE_AMPS, module->test_current_amps, most, NULL},
                  "module %s tests with %s, at most %s: %s%s", module->name, AMPS(module->test_current_amps),
                  AMPS(most),
                  igniter ? "a tenth of the no-fire current of igniter " : "the ceiling for testers",
                  !igniter             ? ""
                  : igniter[0] != '\0' ? igniter
                                       : "(built in)");
    }
    return SM_OK;
}

sm_result check_cable(sm_check *check) {
    const sm_show *show = check->show;
    for (uint32_t r = 0; r < show->rail_count; r++) {
        const sm_rail *rail = &show->rails[r];
        if (rail->cable_m > 0.0 || !sm_rail_in_use(show, r))
            continue;
        check_put(check, "cable-unknown", (check_place){"rails.csv", rail->line, "cable_length"},
                  check_no_figures(),
                  "rail %s is in use with 0 m of cable: its ohms and its current are predicted without any",
                  rail->name);
    }
    return SM_OK;
}

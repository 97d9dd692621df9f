// SPDX-License-Identifier: GPL-3.0-or-later
// Worst-case firing current. A firing draws from its fire time for one pulse; at a moment t those on with it
// began within (t - pulse, t]. So the worst moment of a firing is the heaviest such window that holds its
// fire time, and it is enough to look at windows that end at a fire time. Firings of a module are taken in
// order of time; `load_sum` holds running sums of 1/low, so a window's sum is one difference, and a queue of
// falling sums gives the heaviest window of each firing in one sweep.
#include "rig/current.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

// What is taken where igniters.csv gives no impulse: all_fire held for 20 ms (a trade article on testers says 5 to 20 ms,
// second-hand).
#define ALL_FIRE_HELD_S 0.020

typedef struct window {
    uint32_t first, last; // draws, both included
    double siemens;
} window;

static int draw_compare(const void *left, const void *right) {
    const rig_draw *a = left, *b = right;
    if (a->module != b->module)
        return a->module < b->module ? -1 : 1;
    if (a->fire_us != b->fire_us)
        return a->fire_us < b->fire_us ? -1 : 1;
    return a->firing < b->firing ? -1 : a->firing > b->firing;
}

static double needed_amps(const sm_igniter *igniter, const sm_firing *firing) {
    bool series = firing->load == SM_LOAD_SERIES && firing->igniters > 1;
    return series ? igniter->series_fire_amps : igniter->all_fire_amps;
}

static double needed_impulse(const sm_igniter *igniter) {
    const double taken = igniter->all_fire_amps * igniter->all_fire_amps * ALL_FIRE_HELD_S * 1000.0;
    return isnan(igniter->impulse) ? taken : igniter->impulse;
}

static sm_rig_current current_of(const sm_show *show, const rig_draw *own, const window *worst) {
    const sm_firing *firing = &show->firings[own->firing];
    const sm_module *module = &show->modules[own->module];
    const sm_igniter *igniter = rig_firing_igniter(show, firing);
    const rig_worst circuit = rig_firing_worst(show, own->firing);
    assert(worst->first <= worst->last && circuit.ohms > 0.0 && circuit.share > 0.0 && circuit.share <= 1.0);
    uint32_t others = worst->last - worst->first;
    const double others_siemens = fmax(0.0, worst->siemens - own->low_siemens); // exactly 0 where it is alone
    const double siemens = 1.0 / circuit.ohms + others_siemens;
    const double bus_volts = own->volts / (1.0 + module->source_ohms * siemens);
    const double all_ohms = module->source_ohms + 1.0 / siemens;
    const double seconds = (double)module->pulse_us / (double)SM_US_PER_S;
    sm_rig_current current = {
        .amps = bus_volts / circuit.ohms * circuit.share,
        .needed_amps = needed_amps(igniter, firing),
        .needed_impulse = needed_impulse(igniter),
        .impulse_known = !isnan(igniter->impulse),
        .volts = own->volts,
        .others = others,
    };
    current.margin = current.amps / current.needed_amps;
    current.end_amps = current.amps * rig_pulse_share(module->capacitance_f, all_ohms, seconds);
    current.impulse = rig_pulse_impulse(module->capacitance_f, all_ohms, seconds, current.amps);
    return current;
}

// Draws FIRST to before END are one module's, in order of time. QUEUE has room for END - FIRST windows.
static void module_currents(const sm_show *show, const rig_draw *draws, uint32_t first, uint32_t end,
                            window *queue, sm_rig_current *out) {
    sm_us pulse_us = show->modules[draws[first].module].pulse_us;
    uint32_t head = 0, tail = 0, start = first, next = first;
    double sum = 0.0;
    for (uint32_t i = first; i < end; i++) {
        while (next < end && (next == i || draws[next].fire_us - draws[i].fire_us < pulse_us)) {
            assert(next == i || draws[next].fire_us >= draws[next - 1].fire_us);
            sum += draws[next].low_siemens;
            while (start < next && draws[next].fire_us - draws[start].fire_us >= pulse_us)
                sum -= draws[start++].low_siemens;
            if (start == next)
                sum = draws[next].low_siemens; // sheds the rounding of what came before
            window here = {.first = start, .last = next, .siemens = sum};
            while (tail > head && queue[tail - 1].siemens <= here.siemens)
                tail--;
            queue[tail++] = here;
            next++;
        }
        while (queue[head].last < i)
            head++;
        assert(head < tail &&
               tail <= end - first); // the window that ends at I is in the queue, or a heavier one
        out[draws[i].firing] = current_of(show, &draws[i], &queue[head]);
    }
}

static uint32_t collect_draws(const sm_show *show, rig_draw *draws, sm_rig_current *out) {
    uint32_t count = 0;
    for (uint32_t i = 0; i < show->firing_count; i++) {
        const sm_firing *firing = &show->firings[i];
        uint32_t module = show->rails[show->slot_rails[firing->slot]].module;
        if (module == SM_NONE) {
            out[i] = (sm_rig_current){.amps = NAN,
                                      .needed_amps = NAN,
                                      .margin = NAN,
                                      .volts = NAN,
                                      .end_amps = NAN,
                                      .impulse = NAN,
                                      .needed_impulse = NAN};
            continue;
        }
        draws[count++] = (rig_draw){
            .fire_us = firing->fire_us,
            .module = module,
            .firing = i,
            .volts = show->modules[module].volts_low,
            .low_siemens = 1.0 / fmax(sm_rig_firing_loop(show, i).low_ohms, RIG_LEAST_OHMS),
        };
    }
    return count;
}

sm_result sm_rig_currents(const sm_show *show, sm_rig_current *out) {
    if (show->firing_count == 0)
        return SM_OK;
    rig_draw *draws = malloc(show->firing_count * sizeof *draws);
    window *queue = malloc(show->firing_count * sizeof *queue);
    if (!draws || !queue) {
        free(draws);
        free(queue);
        return SM_NO_MEMORY;
    }
    uint32_t count = collect_draws(show, draws, out);
    assert(count <= show->firing_count);
    qsort(draws, count, sizeof *draws, draw_compare);
    for (uint32_t first = 0, end = 0; first < count; first = end) {
        while (end < count && draws[end].module == draws[first].module)
            end++;
        if (!isnan(show->modules[draws[first].module].capacitance_f))
            rig_capacitor_drain(&show->modules[draws[first].module], draws + first, end - first);
        module_currents(show, draws, first, end, queue, out);
    }
    free(draws);
    free(queue);
    return SM_OK;
}

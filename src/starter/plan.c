// SPDX-License-Identifier: GPL-3.0-or-later
#include "starter/plan.h"

#include <stdio.h>

// The first firing, and what the last effect needs before the end.
#define FIRST_US (4 * SM_US_PER_S)
#define LAST_US (8 * SM_US_PER_S)
#define STEP_LEAST_US (SM_US_PER_S / 2)
#define STEP_MOST_US (2 * SM_US_PER_S)

static uint32_t round_up(uint32_t count, uint32_t each) {
    return (count + each - 1) / each;
}

// Of each rail the last slot stays spare, where it has four and more.
static uint32_t usable_slots(const sm_starter_options *o) {
    return o->rails * (o->slots >= 4 ? o->slots - 1 : o->slots);
}

plan plan_make(const sm_starter_options *options) {
    plan p = {.options = options,
              .modules = round_up(options->rails, PLAN_RAILS_A_MODULE),
              .light_lines = round_up(options->lights, PLAN_UNITS_A_LINE),
              .flame_lines = round_up(options->flames, PLAN_UNITS_A_LINE),
              .firings = usable_slots(options)};
    const sm_us span_us = options->length_us - FIRST_US - LAST_US;
    const uint32_t most = (uint32_t)(span_us / STEP_LEAST_US) + 1;
    p.firings = p.firings < most ? p.firings : most;
    const sm_us step_us =
        p.firings > 1 ? span_us / (p.firings - 1) / STEP_LEAST_US * STEP_LEAST_US : STEP_MOST_US;
    p.step_us = step_us < STEP_MOST_US ? step_us : STEP_MOST_US;
    p.series_at = p.firings > 2 ? 2 : 0;
    return p;
}

const char *plan_rail_name(uint32_t rail, char out[8]) {
    if (rail < 26)
        snprintf(out, 8, "%c", 'A' + (int)rail);
    else
        snprintf(out, 8, "%c%c", 'A' + (int)(rail / 26 - 1) % 26, 'A' + (int)(rail % 26));
    return out;
}

uint32_t plan_slots_used(const plan *p, uint32_t rail) {
    return p->firings / p->options->rails + (rail < p->firings % p->options->rails);
}

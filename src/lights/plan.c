// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights/plan.h"

#include "slowmatch/wire.h"

#include <stdlib.h>

#define NAMED 6 // fixtures of a universe; then how many more there are

static int last_address(const sm_show *show, const sm_fixture *fixture) {
    const uint32_t channels =
        fixture->profile == SM_NONE ? 1 : show->profiles[fixture->profile].channel_count;
    return fixture->address + (int)channels - 1;
}

void lights_put_lamps(const sm_show *show, int32_t universe, uint32_t most, sm_text *out) {
    uint32_t count = 0;
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        const sm_fixture *fixture = &show->fixtures[f];
        if (fixture->universe == universe && count++ < most)
            sm_text_printf(out, "%s%s (%d to %d)", count == 1 ? "" : ", ", fixture->name, fixture->address,
                           last_address(show, fixture));
    }
    if (count > most)
        sm_text_printf(out, " and %u more", count - most);
}

static void put_universe(const sm_show *show, const sm_lights_options *options,
                         const sm_wire_universe *universe, sm_text *out) {
    char to[40];
    uint32_t address = 0;
    sm_text_printf(out, "universe %d ", universe->number);
    if (universe->why != SM_WIRE_LIGHTS_ALONE) {
        sm_text_printf(out, "NEVER SENT: ");
        sm_wire_put_why(show, universe, out);
    } else if (options && sm_lights_to_of(options, universe->number, &address)) {
        sm_text_printf(out, "to %s: ", sm_lights_to_format(to, address, universe->number));
        lights_put_lamps(show, universe->number, NAMED, out);
    } else {
        sm_text_printf(out, "%s: ", options ? "NOT SENT, no destination is for it" : "may be sent");
        lights_put_lamps(show, universe->number, NAMED, out);
    }
    sm_text_printf(out, "\n");
}

// "  2/1 to 2/2 jet-1 (jet) is a flame unit"
static void put_place(const sm_show *show, const sm_wire_place *place, bool withheld, sm_text *out) {
    const sm_fixture *fixture = &show->fixtures[place->fixture];
    sm_text_printf(out, "  %d/%d to %d/%d ", place->universe, fixture->address, place->universe,
                   last_address(show, fixture));
    if (place->why != SM_WIRE_LIGHTS_ALONE)
        sm_wire_put_place_why(show, place, out);
    else
        sm_text_printf(out, "%s (%s)%s", fixture->name, show->profiles[fixture->profile].name,
                       withheld ? " is a light, not sent for what else is in its universe" : "");
    sm_text_printf(out, "\n");
}

static sm_result put_all(const sm_show *show, const sm_lights_options *options, bool each,
                         const sm_wire_universe *universes, size_t count, sm_text *out) {
    sm_wire_place *places;
    size_t place_count, p = 0;
    const sm_result result = sm_wire_places(show, &places, &place_count);
    if (result != SM_OK)
        return result;
    for (size_t i = 0; i < count; i++) {
        put_universe(show, options, &universes[i], out);
        for (; p < place_count && places[p].universe == universes[i].number; p++)
            if (each)
                put_place(show, &places[p], universes[i].why != SM_WIRE_LIGHTS_ALONE, out);
    }
    free(places);
    return SM_OK;
}

// The universe of NUMBER; NULL: nothing is patched in it.
static const sm_wire_universe *find(const sm_wire_universe *universes, size_t count, int32_t number) {
    size_t i = 0;
    while (i < count && universes[i].number != number)
        i++;
    return i < count ? &universes[i] : NULL;
}

static void put_useless(const sm_show *show, const sm_lights_options *options,
                        const sm_wire_universe *universes, size_t count, sm_text *out) {
    for (size_t i = 0; i < options->to_count; i++) {
        const int32_t number = options->to[i].universe;
        const sm_wire_universe *universe = find(universes, count, number);
        char to[40];
        if (number == 0 || (universe && universe->why == SM_WIRE_LIGHTS_ALONE))
            continue;
        sm_text_printf(out, "NEVER USED, the destination %d=%s: ", number,
                       sm_lights_to_format(to, options->to[i].address, number));
        if (universe)
            sm_wire_put_why(show, universe, out);
        else
            sm_text_printf(out, "nothing is patched in universe %d", number);
        sm_text_printf(out, "\n");
    }
}

sm_result lights_put_useless(const sm_show *show, const sm_lights_options *options, sm_text *out) {
    sm_wire_universe *universes;
    size_t count;
    const sm_result result = sm_wire_survey(show, &universes, &count);
    if (result != SM_OK)
        return result;
    put_useless(show, options, universes, count, out);
    free(universes);
    return out->failed ? SM_NO_MEMORY : SM_OK;
}

sm_result sm_lights_plan(const sm_show *show, const sm_lights_options *options, bool each, sm_text *out) {
    sm_wire_universe *universes;
    size_t count;
    sm_result result = sm_wire_survey(show, &universes, &count);
    if (result != SM_OK)
        return result;
    if (options)
        sm_text_printf(out, "interface %s, priority %d (a desk's is 100 and goes first)\n",
                       options->interface, options->priority);
    result = put_all(show, options, each, universes, count, out);
    if (options)
        put_useless(show, options, universes, count, out);
    if (count == 0)
        sm_text_printf(out, "no fixture is patched: nothing can be sent\n");
    free(universes);
    return result == SM_OK && out->failed ? SM_NO_MEMORY : result;
}

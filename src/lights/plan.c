// SPDX-License-Identifier: GPL-3.0-or-later
// What would go where, what not and why, in words.
#include "slowmatch/lights.h"
#include "slowmatch/wire.h"

#include <stdlib.h>

#define NAMED 6 // fixtures of a universe; then how many more there are

static void put_lights(const sm_show *show, const sm_wire_universe *universe, sm_text *out) {
    uint32_t count = 0;
    for (uint32_t f = 0; f < show->fixture_count && count <= NAMED; f++)
        if (show->fixtures[f].universe == universe->number && count++ < NAMED)
            sm_text_printf(out, "%s%s", count == 1 ? "" : ", ", show->fixtures[f].name);
    if (universe->lights > NAMED)
        sm_text_printf(out, " and %u more", universe->lights - NAMED);
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
        put_lights(show, universe, out);
    } else {
        sm_text_printf(out, "%s: ", options ? "NOT SENT, no destination is for it" : "may be sent");
        put_lights(show, universe, out);
    }
    sm_text_printf(out, "\n");
}

sm_result sm_lights_plan(const sm_show *show, const sm_lights_options *options, sm_text *out) {
    sm_wire_universe *universes;
    size_t count;
    const sm_result result = sm_wire_survey(show, &universes, &count);
    if (result != SM_OK)
        return result;
    if (options)
        sm_text_printf(out, "interface %s, priority %d (a desk's is 100 and goes first)\n",
                       options->interface, options->priority);
    for (size_t i = 0; i < count; i++)
        put_universe(show, options, &universes[i], out);
    if (count == 0)
        sm_text_printf(out, "no fixture is patched: nothing can be sent\n");
    free(universes);
    return out->failed ? SM_NO_MEMORY : SM_OK;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// Which universes may ever go out on a wire: those that hold lights and nothing else. There is no override.
#ifndef SLOWMATCH_WIRE_H
#define SLOWMATCH_WIRE_H

#include "slowmatch/show.h"

// Why a universe is never sent.
typedef enum sm_wire_why {
    SM_WIRE_LIGHTS_ALONE, // it may be sent
    SM_WIRE_FLAME,        // a flame unit is patched in it,
    SM_WIRE_SOUNDS,       // or one with a channel that sounds like flame,
    SM_WIRE_BURNS,        // or one that holds fuel or is told how it burns, whatever its mark says,
    SM_WIRE_NO_LIGHT,     // or one whose profile is not `wire` light
    SM_WIRE_CALLED,       // or a light that is called like a flame unit, or its profile is
    SM_WIRE_OUTSIDE,      // one takes addresses outside 1 to 512
    SM_WIRE_OVERLAP,      // two share an address
    SM_WIRE_OTHER_LINE,   // one stands on a line of another universe: which of the two is true is not known
    SM_WIRE_FLAME_LINE,   // one stands on a line that is called like one of flame units
    SM_WIRE_WHY_COUNT
} sm_wire_why;

typedef struct sm_wire_universe {
    int32_t number;
    uint32_t lights; // fixtures whose profile is `wire` light
    sm_wire_why why;
    uint32_t fixture,
        other; // the first in the table for which it is not sent, and the one that it overlaps; SM_NONE
} sm_wire_universe;

// One fixture in one universe in which it may stand: its own, and that of each line in whose chain it is.
typedef struct sm_wire_place {
    int32_t universe;
    uint32_t fixture, other; // the fixture that it overlaps, SM_NONE
    bool other_line;         // the tables name another universe for it too
    bool flame_line;         // it stands on a line that is called like one of flame units
    sm_wire_why why;         // why for its sake the universe is never sent
} sm_wire_place;

// All of them, by universe and within it by the table. The caller frees *OUT. SM_NO_MEMORY: the outputs are unchanged. O(n log n).
SM_MUST_CHECK sm_result sm_wire_places(const sm_show *show, sm_wire_place **out, size_t *count);
// Every universe that a fixture or a line of SHOW names and in which something is patched, in rising order. The caller frees *OUT.
// SM_NO_MEMORY: the outputs are unchanged. O(n log n).
SM_MUST_CHECK sm_result sm_wire_survey(const sm_show *show, sm_wire_universe **out, size_t *count);
// "jet-1 (jet) is a flame unit": appended to OUT. UNIVERSE is none that may be sent.
void sm_wire_put_why(const sm_show *show, const sm_wire_universe *universe, sm_text *out);

// The same of one place that is not SM_WIRE_LIGHTS_ALONE.
void sm_wire_put_place_why(const sm_show *show, const sm_wire_place *place, sm_text *out);

// FIXTURE holds fuel, or its profile says what it burns, how long at most, or how long it recovers: no lamp does.
bool sm_wire_burns(const sm_show *show, uint32_t fixture);
// The same of a profile alone.
bool sm_wire_profile_burns(const sm_profile *profile);

// NAME has a word in it that a channel of a flame unit is called by, and hardly ever one of a lamp: "flame-2", "pilot_flames".
// The words are the product's own.
bool sm_wire_sounds_hazardous(const char *name);
// The same of a fixture's or a profile's own name: a lamp's may have "arm" or "safety" in it, and a flame unit's "jet".
bool sm_wire_is_called_flame(const char *name);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// What stands where on the site, and what it does: every rail and fixture at its position, as the rehearsal stands or as
// the score would have it at a moment (a preview). Knows no cells.
#ifndef SLOWMATCH_BOARDS_GROUND_UNITS_H
#define SLOWMATCH_BOARDS_GROUND_UNITS_H

#include "slowmatch/dmx.h"
#include "slowmatch/engine.h"

typedef enum sm_unit_kind { SM_UNIT_RAIL, SM_UNIT_FIXTURE } sm_unit_kind;

// A rail or a fixture. Ordered by position as in positions.csv, those without one last; rails first, then as in the tables.
typedef struct sm_unit {
    sm_unit_kind kind;
    uint32_t index;    // row of rails or fixtures
    uint32_t position; // SM_NONE: none
} sm_unit;

// What a unit (or all at one place) does.
typedef struct sm_doing {
    uint32_t flying, burning; // firings
    uint32_t aerials;         // of those burning, how many in the air
    sm_us seen_us;            // until the first of those in flight is seen; INT64_MAX: none
    sm_us out_us;             // until the last of those burning is out; 0: none
    uint32_t live;            // slots that misfired, were passed over or held back
    uint32_t enabled, lit;    // flame units: enable open; flame
    int percent;              // how bright the brightest light is, 0 to 100
    bool unplugged;           // every rail is
    bool tipped, fire;        // drills: a unit tipped over; an unwanted fire at the place
    bool dark;                // no mains: every fixture is without
    uint32_t held;            // slots that a cue fires, or fixtures, that are held back,
    uint32_t holdable;        // of so many
} sm_doing;

// The largest least distance to people that anything at a place asks for.
typedef struct sm_place_need {
    double metres;         // NAN: nothing there has a figure
    double feet;           // as published; NAN for a maker's figure
    const char *what;      // the effect or fixture that asks for it
    const char *basis;     // how it comes about
    const char *source;    // where it is from
    const char *unfigured; // the first effect or flame unit there that has no figure; NULL: none
    bool wanted;           // something there burns: a distance matters
} sm_place_need;

typedef struct sm_place_on_ground {
    uint32_t position;     // row of positions
    uint32_t first, count; // its units
    sm_place_need need;
    sm_doing doing; // of all its units
} sm_place_on_ground;

typedef struct sm_ground {
    const sm_show *show;
    sm_unit *units;
    sm_doing *doing; // of each unit
    uint32_t unit_count;
    uint32_t placed;            // units that have a position
    sm_place_on_ground *places; // one for each row of positions, in order
    uint32_t place_count;
    uint32_t at_zero; // places with units at x 0, y 0: perhaps nothing was entered
    // For previews, made when first asked for:
    sm_dmx_timeline *timeline;
    uint8_t *levels;
    bool is_preview; // what is filled in is that of `at`
    sm_show_time at;
    uint32_t *rail_units, *fixture_units; // unit of each rail and fixture
} sm_ground;

// Built once a show (which must outlive it), O(firings + units). SM_NO_MEMORY: *out unchanged.
SM_MUST_CHECK sm_result sm_ground_create(const sm_show *show, sm_ground **out);
void sm_ground_destroy(sm_ground *ground);
// Fills what everything does as SNAPSHOT (of the same show) has it.
void sm_ground_look(sm_ground *ground, const sm_snapshot *now);
// ... as the score has it at AT, played there without a pause, everything due done. SM_NO_MEMORY: nothing is filled.
SM_MUST_CHECK sm_result sm_ground_preview(sm_ground *ground, sm_show_time at);

// The name of UNIT, as in its table.
const char *sm_unit_name(const sm_show *show, const sm_unit *unit);
// The level of light that FIXTURE gives with LEVELS (the show's channels), in per cent: its dimmer's times that of its
// brightest colour; without such channels, the highest of those away from home. 0 for a flame unit.
int sm_light_percent(const sm_show *show, uint32_t fixture, const uint8_t *levels);
// Metres from POSITION to the audience front are not less than NEED asks for.
bool sm_need_reached(const sm_show *show, uint32_t position, const sm_place_need *need);

#endif

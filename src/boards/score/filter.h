// SPDX-License-Identifier: GPL-3.0-or-later
// Which of a show's events are looked at: all of them, or those of what a person named.
#ifndef SLOWMATCH_BOARDS_SCORE_FILTER_H
#define SLOWMATCH_BOARDS_SCORE_FILTER_H

#include "slowmatch/engine.h"

enum sm_filter_kind { SM_FILTER_PYRO = 1, SM_FILTER_FLAME = 2, SM_FILTER_LIGHT = 4 };

// Everything that is set must be so. What sm_filter_all gives lets all pass.
typedef struct sm_filter {
    unsigned kinds;                           // sm_filter_kind, any of them; 0: all
    bool wrong;                               // only what went wrong; who asks for the events looks at it
    sm_zone zone;                             // of effects; SM_ZONE_NONE: any
    uint32_t rail, position, fixture, effect; // SM_NONE: any
    int32_t universe;                         // -1: any
} sm_filter;

sm_filter sm_filter_all(void);
// Something is left out by what a person named.
bool sm_filter_names_any(const sm_filter *filter);

// Reads "pyro", "flame", "light" (of these several: any of them), "wrong", "zone aerial", "rail A", "position left", "effect comet",
// "universe 2", "fixture jet-1", several of them for what is all of it, a bare name of a zone, rail, effect, fixture or position, or ""
// for all. SM_INVALID: WHY gets one line, *out is unchanged.
SM_MUST_CHECK sm_result sm_filter_read(const sm_show *show, const char *text, sm_filter *out, char why[200]);
// "pyro only, rail A", appended to OUT; nothing where all pass.
void sm_filter_format(const sm_filter *filter, const sm_show *show, sm_text *out);

// EVENT passes.
bool sm_filter_passes(const sm_filter *filter, const sm_show *show, uint32_t event);

// SLOT's firing did not go as it should, or will not: misfired, passed over, held, inhibited.
bool sm_slot_went_wrong(const sm_slot_view *slot);

#endif

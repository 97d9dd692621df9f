// SPDX-License-Identifier: GPL-3.0-or-later
// What stands where in a new show, and the texts of its files.
#ifndef SM_STARTER_PLAN_H
#define SM_STARTER_PLAN_H

#include "slowmatch/starter.h"

enum {
    PLAN_RAILS_A_MODULE = 4,
    PLAN_UNITS_A_LINE = 16, // of 32 that a line carries; also what one feed of 16 A does
    PLAN_LAMP_ADDRESSES = 8,
    PLAN_JET_ADDRESSES = 10,
};

typedef struct plan {
    const sm_starter_options *options;
    uint32_t modules, light_lines, flame_lines;
    uint32_t firings;   // in turn over the rails: firing i is slot i / rails of rail i % rails, both from 0
    uint32_t series_at; // the firing that is a pair in series
    sm_us step_us;      // from firing to firing
    uint32_t fixture_events;
} plan;

plan plan_make(const sm_starter_options *options);
// "A" to "Z", "AA" ...
const char *plan_rail_name(uint32_t rail, char out[8]);
// Used slots of RAIL are its first.
uint32_t plan_slots_used(const plan *p, uint32_t rail);

// ---- the files' texts, appended to OUT ----
void starter_put_settings(plan *p, sm_text *out);
void starter_put_positions(plan *p, sm_text *out);
void starter_put_modules(plan *p, sm_text *out);
void starter_put_rails(plan *p, sm_text *out);
void starter_put_readings(plan *p, sm_text *out);
void starter_put_fixtures(plan *p, sm_text *out);
void starter_put_profiles(plan *p, sm_text *out);
void starter_put_groups(plan *p, sm_text *out);
void starter_put_lines(plan *p, sm_text *out);
void starter_put_feeds(plan *p, sm_text *out);
// Counts p->fixture_events too.
void starter_put_cues(plan *p, sm_text *out);
void starter_put_drill(plan *p, sm_text *out);
// The click track, a WAV file.
void starter_put_clicks(plan *p, sm_text *out);

// "# rails.csv: HELP." and what to change first: the help of the columns of CHANGE ("slots position"), by the schema; then the
// header COLUMNS.
void starter_head(sm_text *out, const char *file, const char *change, const char *columns);
// "; title: HELP" of a key of show.ini.
void starter_key_help(sm_text *out, const char *section, const char *key);

#endif

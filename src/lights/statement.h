// SPDX-License-Identifier: GPL-3.0-or-later
// What people state before anything is sent, in their own words and by name. Each answer reads back what was asked: one that would
// fit anything is none. Kept nowhere but in the log.
#ifndef SLOWMATCH_LIGHTS_STATEMENT_H
#define SLOWMATCH_LIGHTS_STATEMENT_H

#include "lights/frame.h"

typedef struct lights_statement {
    size_t asked;   // how many questions are answered
    char by[160];   // whoever stated it, "J, K"
    char said[700]; // "universe 1 stated by J; strobes: no strobes; ..."
} lights_statement;

// What it is about.
typedef struct lights_matter {
    const sm_show *show;
    const sm_lights_options *options;
    const lights_frame *frame;
    const sm_person *people; // in the field, as the console has it
    uint32_t people_count;
} lights_matter;

// The question that comes next, appended to OUT. False: none, all is answered.
bool lights_statement_asks(const lights_statement *statement, const lights_matter *matter, sm_text *out);
// Takes ANSWER to it. False: it is none: WHY says what would be one, and the question stands.
bool lights_statement_take(lights_statement *statement, const lights_matter *matter, const char *answer,
                           char why[SM_LIGHTS_WHY]);

#endif

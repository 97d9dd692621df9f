// SPDX-License-Identifier: GPL-3.0-or-later
// What people state before anything is sent, in their own words and by name. Kept nowhere but in the log.
#ifndef SLOWMATCH_LIGHTS_STATEMENT_H
#define SLOWMATCH_LIGHTS_STATEMENT_H

#include "lights/frame.h"

typedef struct lights_statement {
    size_t asked;   // how many questions are answered
    char by[160];   // whoever stated it, "J, K"
    char said[400]; // "universe 1 by J; strobes: none; ..."
} lights_statement;

// The question that comes next for the universes of FRAME, appended to OUT. False: none, all is answered.
bool lights_statement_asks(const lights_statement *statement, const lights_frame *frame, sm_text *out);
// Takes ANSWER to it. False: it is none: WHY says what would be one, and the question stands.
bool lights_statement_take(lights_statement *statement, const lights_frame *frame, const char *answer,
                           char why[SM_LIGHTS_WHY]);

#endif

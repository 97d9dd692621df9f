// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights/statement.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// After the universes. Light does harm of its own: people who did not expect strobes, who stand under what moves, whom the end
// leaves in the dark.
static const struct {
    const char *name, *asks;
} others[] = {
    {"strobes", "STROBES: which lights strobe, and who was told? (none, where none does)"},
    {"moving",
     "MOVING LIGHTS: which move by themselves, and who stands clear of them? (none, where none does)"},
    {"dark", "DARK: who is left in the dark when the lights end? (nobody, where nobody is)"},
};
enum { OTHERS = sizeof others / sizeof others[0] };

bool lights_statement_asks(const lights_statement *statement, const lights_frame *frame, sm_text *out) {
    const size_t universes = lights_frame_count(frame);
    if (statement->asked < universes) {
        const int32_t universe = lights_frame_universe(frame, statement->asked);
        sm_text_printf(
            out,
            "\"No flame unit is connected to any node or line of universe %d: fuel shut, power off at the "
            "unit.\" Whoever states that answers: %d NAME",
            universe, universe);
        return true;
    }
    if (statement->asked < universes + OTHERS)
        sm_text_printf(out, "%s", others[statement->asked - universes].asks);
    return statement->asked < universes + OTHERS;
}

// LIST goes on with TEXT, unless it is in it already. What has no room is left out with a mark.
static void add(char *list, size_t room, const char *between, const char *text) {
    const size_t used = strlen(list);
    if (used > 0 && strstr(list, text) && strcmp(between, ", ") == 0)
        return;
    if (snprintf(list + used, room - used, "%s%s", used > 0 ? between : "", text) >= (int)(room - used) &&
        room > 4)
        memcpy(list + room - 4, "...", 4);
}

static bool take_universe(lights_statement *statement, int32_t universe, const char *answer,
                          char why[SM_LIGHTS_WHY]) {
    char *name, said[160];
    const long number = strtol(answer, &name, 10);
    const bool apart = name != answer && *name == ' ';
    while (*name == ' ')
        name++;
    if (!apart || number != universe || *name == '\0') {
        snprintf(why, SM_LIGHTS_WHY,
                 "this is asked of universe %d: its number, then the name of whoever states it", universe);
        return false;
    }
    snprintf(said, sizeof said, "universe %d stated by %.96s", universe, name);
    add(statement->by, sizeof statement->by, ", ", name);
    add(statement->said, sizeof statement->said, "; ", said);
    return true;
}

bool lights_statement_take(lights_statement *statement, const lights_frame *frame, const char *answer,
                           char why[SM_LIGHTS_WHY]) {
    const size_t universes = lights_frame_count(frame);
    char said[200];
    while (*answer == ' ')
        answer++;
    if (statement->asked < universes) {
        if (!take_universe(statement, lights_frame_universe(frame, statement->asked), answer, why))
            return false;
    } else if (statement->asked < universes + OTHERS && *answer != '\0') {
        snprintf(said, sizeof said, "%s: %.120s", others[statement->asked - universes].name, answer);
        add(statement->said, sizeof statement->said, "; ", said);
    } else {
        snprintf(why, SM_LIGHTS_WHY, "nothing is asked about lights");
        return false;
    }
    statement->asked++;
    return true;
}

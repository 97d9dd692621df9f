// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights/statement.h"

#include "lights/plan.h"

#include "slowmatch/said.h"

#include <ctype.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

enum { LAMPS_NAMED = 3, PEOPLE_NAMED = 6 };

// After the universes. Light does harm of its own: people who stand in it unawares, who did not expect strobes, who stand under what
// moves, whom the end leaves in the dark. An answer has the words of NONE, or those of SOME (and then, where lamps are asked for, one
// of them by its name, or "all"). Where a cue moves a channel that is called by one of CHANNELS, there is no NONE.
static const struct {
    const char *name, *asks, *none, *some, *form;
    bool lamp;
    const char *channels;
} others[] = {
    {"field", "FIELD: who is among or before these lamps, and who was told that light comes?",
     "nobody/none/empty/no one, field", "told/warned/know",
     "nobody in the field; or by name, and that they were told: K told", false, NULL},
    {"strobes", "STROBES: which of these lamps strobe, and who was told?", "no/none/nothing, strob",
     "strob, told/warned/know", "no strobes; or by name, and who was told: par-1 strobes, crew told", true,
     "strobe/strob/shutter/flash"},
    {"moving", "MOVING LAMPS: which of these move by themselves, and who stands clear of them?",
     "no/none/nothing, move/moves/moving", "move/moves/moving, clear",
     "nothing moves; or by name, and who stands clear: par-1 moves, K clear", true,
     "pan/tilt/rotate/rotation/spin"},
    {"dark", "DARK: who is left in the dark when these lamps end?", "nobody/none/no one, dark",
     "dark, torch/light/lamp/told/warned/know",
     "nobody in the dark; or who, and by what they see: K in the dark, has a torch", false, NULL},
};
enum { FIELD, OTHERS = sizeof others / sizeof others[0] };

// ---- what the cues say ------------------------------------------------------------------------

static bool is_lit(const lights_matter *matter, uint32_t fixture) {
    size_t u = 0;
    while (u < lights_frame_count(matter->frame) &&
           matter->show->fixtures[fixture].universe != lights_frame_universe(matter->frame, u))
        u++;
    return u < lights_frame_count(matter->frame);
}

// A mark for each channel of the lamps that is called by one of WORDS. NULL: no memory.
static bool *mark_channels(const lights_matter *matter, const char *words) {
    const sm_show *show = matter->show;
    bool *marks = calloc((size_t)show->channel_count + 1, sizeof *marks);
    for (uint32_t f = 0; marks && f < show->fixture_count; f++) {
        const sm_profile *profile = &show->profiles[show->fixtures[f].profile];
        for (uint32_t c = 0; is_lit(matter, f) && c < profile->channel_count; c++)
            marks[show->fixtures[f].channel_base + c] = sm_words_said(NULL, words, profile->channels[c]);
    }
    return marks;
}

// A mark for each fixture of which a cue sets such a channel to other than home; *COUNT of them. NULL: none, or no memory.
static bool *mark_cued(const lights_matter *matter, const char *words, uint32_t *count) {
    const sm_show *show = matter->show;
    bool *channels = words ? mark_channels(matter, words) : NULL;
    bool *cued = channels ? calloc((size_t)show->fixture_count + 1, sizeof *cued) : NULL;
    *count = 0;
    for (uint32_t e = 0; cued && e < show->event_count; e++) {
        uint32_t levels;
        const sm_level *level = sm_event_levels(show, e, &levels);
        for (uint32_t i = 0; i < levels; i++) {
            const uint32_t f = show->events[e].target;
            if (channels[show->fixtures[f].channel_base + level[i].channel] && !cued[f] &&
                level[i].level != show->profiles[show->fixtures[f].profile].home[level[i].channel]) {
                cued[f] = true;
                ++*count;
            }
        }
    }
    free(channels);
    if (*count == 0) {
        free(cued);
        return NULL;
    }
    return cued;
}

// ---- asking -------------------------------------------------------------------------------

static void put_people(const lights_matter *matter, sm_text *out) {
    for (uint32_t i = 0; i < matter->people_count && i < PEOPLE_NAMED; i++)
        sm_text_printf(out, "%s%.40s", i > 0 ? ", " : "", matter->people[i].name);
    if (matter->people_count > PEOPLE_NAMED)
        sm_text_printf(out, " and %u more", matter->people_count - PEOPLE_NAMED);
}

static void ask_universe(const lights_matter *matter, int32_t universe, sm_text *out) {
    char to[40];
    uint32_t address = 0;
    (void)sm_lights_to_of(matter->options, universe, &address);
    sm_text_printf(out, "Universe %d to %s lights ", universe, sm_lights_to_format(to, address, universe));
    lights_put_lamps(matter->show, universe, LAMPS_NAMED, out);
    sm_text_printf(
        out,
        ". \"No flame unit is connected to any node or line of universe %d: fuel shut, power off at the "
        "unit.\" Whoever states that answers: %d NAME",
        universe, universe);
}

// "By the cues: par-1, par-2 and 4 more." False: none.
static bool put_cued(const lights_matter *matter, const char *words, sm_text *out) {
    uint32_t count, put = 0;
    bool *cued = mark_cued(matter, words, &count);
    for (uint32_t f = 0; cued && f < matter->show->fixture_count && put < LAMPS_NAMED; f++)
        if (cued[f])
            sm_text_printf(out, "%s%s", put++ == 0 ? "By the cues: " : ", ", matter->show->fixtures[f].name);
    if (count > put)
        sm_text_printf(out, " and %u more", count - put);
    free(cued);
    return count > 0;
}

bool lights_statement_asks(const lights_statement *statement, const lights_matter *matter, sm_text *out) {
    const size_t universes = lights_frame_count(matter->frame);
    if (statement->asked < universes) {
        ask_universe(matter, lights_frame_universe(matter->frame, statement->asked), out);
        return true;
    }
    const size_t other = statement->asked - universes;
    if (other >= OTHERS)
        return false;
    if (other == FIELD && matter->people_count > 0) {
        sm_text_printf(out, "%s In the field by this console: ", others[FIELD].asks);
        put_people(matter, out);
        sm_text_printf(out, ". Read back each by name, and that they were told");
        return true;
    }
    sm_text_printf(out, "%s ", others[other].asks);
    if (put_cued(matter, others[other].channels, out))
        sm_text_printf(out, ". Read back%s", strchr(others[other].form, ';') + strlen("; or"));
    else
        sm_text_printf(out, "(%s)", others[other].form);
    return true;
}

// ---- taking -------------------------------------------------------------------------------

// LIST goes on with TEXT, unless it is in it already. What has no room is left out with a mark.
static void add(char *list, size_t room, const char *between, const char *text) {
    const size_t used = strlen(list);
    if (used > 0 && strstr(list, text) && strcmp(between, ", ") == 0)
        return;
    if (snprintf(list + used, room - used, "%s%s", used > 0 ? between : "", text) >= (int)(room - used) &&
        room > 4)
        memcpy(list + room - 4, "...", 4);
}

// Somebody could be called so: what is typed by habit is no name.
static bool is_name(const char *text) {
    static const char *const habits[] = {"y",    "yes",  "ok",   "okay",   "yep", "sure",
                                         "true", "none", "name", "nobody", "no",  "n"};
    bool letter = false;
    for (const char *c = text; *c != '\0'; c++)
        letter = letter || isalpha((unsigned char)*c) || (unsigned char)*c >= 0x80;
    for (size_t i = 0; i < sizeof habits / sizeof habits[0]; i++)
        letter = letter && strcasecmp(text, habits[i]) != 0;
    return letter;
}

static bool take_universe(lights_statement *statement, int32_t universe, const char *answer,
                          char why[SM_LIGHTS_WHY]) {
    char *name, said[160];
    const long number = strtol(answer, &name, 10);
    const bool apart = name != answer && *name == ' ';
    while (*name == ' ')
        name++;
    if (!apart || number != universe || !is_name(name)) {
        snprintf(why, SM_LIGHTS_WHY,
                 "this is asked of universe %d: its number, then the name of whoever states it", universe);
        return false;
    }
    snprintf(said, sizeof said, "universe %d stated by %.96s", universe, name);
    add(statement->by, sizeof statement->by, ", ", name);
    add(statement->said, sizeof statement->said, "; ", said);
    return true;
}

// ANSWER has NAME in it, whatever signs that is made of.
static bool names(const char *answer, const char *name) {
    return strcasestr(answer, name) || (!strpbrk(name, ",/!") && sm_words_said(NULL, name, answer));
}

// One of CUED (NULL: of all that are lit).
static bool names_a_lamp(const lights_matter *matter, const bool *cued, const char *answer) {
    bool found = sm_words_said(NULL, "all", answer);
    for (uint32_t f = 0; f < matter->show->fixture_count && !found; f++)
        found = (cued ? cued[f] : is_lit(matter, f)) && names(answer, matter->show->fixtures[f].name);
    return found;
}

static bool reads_back_lamps(const lights_matter *matter, size_t other, const char *answer) {
    uint32_t count;
    bool *cued = mark_cued(matter, others[other].channels, &count);
    const bool some = sm_words_said(NULL, others[other].some, answer) && strchr(answer, ' ') &&
                      (!others[other].lamp || names_a_lamp(matter, cued, answer));
    free(cued);
    return some || (count == 0 && sm_words_said(NULL, others[other].none, answer));
}

static bool reads_back_people(const lights_matter *matter, const char *answer) {
    bool all = sm_words_said(NULL, others[FIELD].some, answer);
    for (uint32_t i = 0; i < matter->people_count && i < PEOPLE_NAMED; i++)
        all = all && names(answer, matter->people[i].name);
    return all;
}

static bool take_other(lights_statement *statement, const lights_matter *matter, size_t other,
                       const char *answer, char why[SM_LIGHTS_WHY]) {
    char said[200];
    const bool fits = other == FIELD && matter->people_count > 0 ? reads_back_people(matter, answer)
                                                                 : reads_back_lamps(matter, other, answer);
    if (!fits && other == FIELD && matter->people_count > 0)
        snprintf(why, SM_LIGHTS_WHY,
                 "%u in the field by this console: read back each by name, and that they were told",
                 matter->people_count);
    else if (!fits)
        snprintf(why, SM_LIGHTS_WHY, "that reads nothing back; such as: %s", others[other].form);
    if (!fits)
        return false;
    snprintf(said, sizeof said, "%s: %.120s", others[other].name, answer);
    add(statement->said, sizeof statement->said, "; ", said);
    return true;
}

bool lights_statement_take(lights_statement *statement, const lights_matter *matter, const char *answer,
                           char why[SM_LIGHTS_WHY]) {
    const size_t universes = lights_frame_count(matter->frame);
    while (*answer == ' ')
        answer++;
    if (statement->asked >= universes + OTHERS) {
        snprintf(why, SM_LIGHTS_WHY, "nothing is asked about lights");
        return false;
    }
    const bool taken =
        statement->asked < universes
            ? take_universe(statement, lights_frame_universe(matter->frame, statement->asked), answer, why)
            : take_other(statement, matter, statement->asked - universes, answer, why);
    statement->asked += taken;
    return taken;
}

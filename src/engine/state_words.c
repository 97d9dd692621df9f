// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/engine.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

const char *sm_state_text(sm_state state) {
    static const char *const texts[] = {
        [SM_STATE_SAFE] = "safe",       [SM_STATE_ARMING] = "arming", [SM_STATE_ARMED] = "armed",
        [SM_STATE_RUNNING] = "running", [SM_STATE_PAUSED] = "paused", [SM_STATE_ENDED] = "ended",
    };
    static_assert(sizeof texts / sizeof texts[0] == SM_STATE_COUNT, "a word for each state");
    assert((unsigned)state < SM_STATE_COUNT);
    return texts[state];
}

sm_state sm_state_named(const char *text) {
    int state = 0;
    while (state < SM_STATE_COUNT && strcmp(sm_state_text((sm_state)state), text) != 0)
        state++;
    return (sm_state)state;
}

const char *sm_source_text(sm_source source) {
    static const char *const texts[] = {
        [SM_SOURCE_CONSOLE] = "console", [SM_SOURCE_REMOTE] = "remote",         [SM_SOURCE_SCRIPT] = "script",
        [SM_SOURCE_DRILL] = "drill",     [SM_SOURCE_INSTRUCTOR] = "instructor", [SM_SOURCE_SEAT] = "seat",
        [SM_SOURCE_ENGINE] = "engine",
    };
    static_assert(sizeof texts / sizeof texts[0] == SM_SOURCE_COUNT, "a word for each source");
    assert((unsigned)source < SM_SOURCE_COUNT);
    return texts[source];
}

#define OF_A_SEAT "seat "

const char *sm_source_put(char out[SM_SEAT_NAME + 8], sm_source source, const char *seat) {
    bool named = source == SM_SOURCE_SEAT && seat && seat[0] != '\0';
    snprintf(out, SM_SEAT_NAME + 8, "%s%s%s", sm_source_text(source), named ? " " : "", named ? seat : "");
    return out;
}

const char *sm_source_seat(const char *text) {
    size_t length = strlen(OF_A_SEAT);
    return strncmp(text, OF_A_SEAT, length) == 0 ? text + length : "";
}

sm_source sm_source_named(const char *text) {
    int source = 0;
    if (sm_source_seat(text)[0] != '\0')
        return SM_SOURCE_SEAT;
    while (source < SM_SOURCE_ENGINE && strcmp(sm_source_text((sm_source)source), text) != 0)
        source++;
    return (sm_source)source;
}

const char *sm_guard_text(sm_guard guard) {
    static const char *const texts[] = {
        [SM_GUARD_KEY] = "key",     [SM_GUARD_FIELD] = "field",       [SM_GUARD_CLEAR] = "clear",
        [SM_GUARD_RAILS] = "rails", [SM_GUARD_READINGS] = "readings",
    };
    static_assert(sizeof texts / sizeof texts[0] == SM_GUARD_COUNT, "a word for each guard");
    assert((unsigned)guard < SM_GUARD_COUNT);
    return texts[guard];
}

const char *sm_guard_word_text(sm_guard_word word) {
    static const char *const texts[] = {
        [SM_GUARD_MET] = "MET",
        [SM_GUARD_NOT_MET] = "NOT MET",
        [SM_GUARD_NOT_CHECKED] = "NOT CHECKED",
        [SM_GUARD_WAIVED] = "WAIVED",
    };
    static_assert(sizeof texts / sizeof texts[0] == SM_GUARD_WAIVED + 1, "a word for each");
    assert((unsigned)word < sizeof texts / sizeof texts[0]);
    return texts[word];
}

const char *sm_lights_change_text(sm_lights_change change) {
    static const char *const texts[] = {[SM_LIGHTS_ON] = "on",
                                        [SM_LIGHTS_OFF] = "off",
                                        [SM_LIGHTS_LAPSED] = "lapsed",
                                        [SM_LIGHTS_STOPPED] = "stopped"};
    static_assert(sizeof texts / sizeof texts[0] == SM_LIGHTS_CHANGE_COUNT, "a word for each change");
    assert((unsigned)change < SM_LIGHTS_CHANGE_COUNT);
    return texts[change];
}

const char *sm_sound_change_text(sm_sound_change change) {
    static const char *const texts[] = {[SM_SOUND_DEVICE] = "device",
                                        [SM_SOUND_SILENT] = "silent",
                                        [SM_SOUND_LOST] = "lost",
                                        [SM_SOUND_BACK] = "back"};
    static_assert(sizeof texts / sizeof texts[0] == SM_SOUND_CHANGE_COUNT, "a word for each change");
    assert((unsigned)change < SM_SOUND_CHANGE_COUNT);
    return texts[change];
}

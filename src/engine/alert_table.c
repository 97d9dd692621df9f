// SPDX-License-Identifier: GPL-3.0-or-later
// The one table of what can be wrong. Ranks and their order: the crew's needs, after 14 CFR 25.1322; what is to be done: common
// practice of small crews, no source.
#include "engine/alert_table.h"

#include <assert.h>
#include <string.h>

static const sm_alert_row rows[] = {
    [SM_ALERT_PEOPLE] = {"people", SM_ALERT_WARNING,
                         "somebody is reported in the field, and the module is not safe",
                         "make safe, key off; call them out by name", "lead", sm_alert_people},
    [SM_ALERT_FIRE] = {"fire", SM_ALERT_WARNING, "something burns that should not",
                       "make safe, key off, everybody back, call; nobody fights it", "everybody",
                       sm_alert_fire},
    [SM_ALERT_FLAME] = {"flame", SM_ALERT_WARNING,
                        "a flame burns outside running, or was told to close and did not",
                        "make safe, key off, shut the fuel from outside", "lead", sm_alert_flame},
    [SM_ALERT_LINK] = {"link", SM_ALERT_WARNING, "the link to the module is lost",
                       "key off, all stay out: nothing is known of the module", "lead", sm_alert_link},
    [SM_ALERT_AGE] = {"age", SM_ALERT_WARNING,
                      "a follower cannot tell how old what it shows is: all of it may be late",
                      "treat as armed; look at the console itself", "whoever follows", sm_alert_age},
    [SM_ALERT_FIRED_ALONE] = {"fired-alone", SM_ALERT_WARNING, "a slot went that nobody fired",
                              "make safe, key off, all stay out; the licensed operator decides", "lead",
                              sm_alert_fired_alone},
    [SM_ALERT_TIPPED] = {"tipped", SM_ALERT_WARNING, "what stands at a slot has tipped over",
                         "make safe, key off, all stay out; the licensed operator decides", "lead",
                         sm_alert_tipped},
    [SM_ALERT_STORM] = {"storm", SM_ALERT_WARNING, "thunder, or a storm warning",
                        "make safe, key off, all withdraw; do not stay to unplug", "everybody",
                        sm_alert_storm},
    [SM_ALERT_KEY_ON] = {"key-on", SM_ALERT_WARNING,
                         "somebody is reported in the field, and the key is on while the module is safe",
                         "key off, call them out by name", "lead", sm_alert_key_on},
    [SM_ALERT_TOO_EARLY] =
        {"too-early", SM_ALERT_WARNING,
         "somebody is reported in the field while product burns, or before the wait has run",
         "call them out by name", "lead", sm_alert_too_early},
    [SM_ALERT_WIND_RUNNING] = {"wind-running", SM_ALERT_WARNING,
                               "the wind is over the limit while running, and aerials are to come",
                               "make safe; no aerials, not fewer", "lead", sm_alert_wind_running},
    [SM_ALERT_CLEAR_LAPSED] = {"clear-lapsed", SM_ALERT_WARNING, "clear lapsed while arming or further",
                               "make safe, key off; begin again from the clear", "lead",
                               sm_alert_clear_lapsed},
    [SM_ALERT_NO_ANSWER] = {"no-answer", SM_ALERT_WARNING,
                            "somebody who was called does not answer, and the module is not safe",
                            "make safe, key off; ask again by name", "lead", sm_alert_no_answer},
    [SM_ALERT_HOLD] = {"hold", SM_ALERT_WARNING, "a hold is called",
                       "ask why; nothing goes on until they agree", "lead", sm_alert_hold},
    [SM_ALERT_UNHEARD] = {"unheard", SM_ALERT_CAUTION,
                          "somebody who was called does not answer, and the module is safe",
                          "key off, ask again by name; no answer is a hold", "lead", sm_alert_unheard},
    [SM_ALERT_WIND] = {"wind", SM_ALERT_CAUTION, "the wind is over the limit, and aerials are to come",
                       "make safe, hold back aerials, or wait and measure again", "lead", sm_alert_wind},
    [SM_ALERT_MISFIRED] = {"misfired", SM_ALERT_CAUTION, "a slot misfired and nobody has reported it",
                           "report it by slot", "lead", sm_alert_misfired},
    [SM_ALERT_WAIT] = {"wait", SM_ALERT_CAUTION, "something fired or misfired, and the wait has not run",
                       "all stay out", "everybody", sm_alert_wait},
    [SM_ALERT_BURNING] = {"burning", SM_ALERT_CAUTION, "something still burns while the show does not run",
                          "all stay out", "everybody", sm_alert_burning},
    [SM_ALERT_SWAPPED] = {"swapped", SM_ALERT_CAUTION,
                          "two rails read as plugged in each other's place, as the console sees it",
                          "make safe, key off, exchange their plugs, measure all", "lead", sm_alert_swapped},
    [SM_ALERT_STRAY] = {"stray", SM_ALERT_CAUTION,
                        "a slot that no cue fires reads as if something were there",
                        "make safe, key off, unplug its rail, look what is there", "lead", sm_alert_stray},
    [SM_ALERT_PERMIT_OPEN] = {"permit-open", SM_ALERT_CAUTION,
                              "a flame unit's enable has been open for 10 s without flame",
                              "watch that unit; close the enable between flames", "lead",
                              sm_alert_permit_open},
    [SM_ALERT_SILENT] = {"silent", SM_ALERT_CAUTION, "the sound is lost",
                         "look at the device; the clock runs on", "whoever has the sound", sm_alert_silent},
    [SM_ALERT_TIMECODE] = {"timecode", SM_ALERT_CAUTION,
                           "timecode that comes in is lost while armed or further, or it jumped",
                           "look at its source and cable; nothing goes on by itself", "whoever has the sound",
                           sm_alert_timecode},
    [SM_ALERT_TIMECODE_RATE] = {"timecode-rate", SM_ALERT_CAUTION,
                                "timecode comes in at another rate than the show's",
                                "set source and show to one rate", "whoever has the sound",
                                sm_alert_timecode_rate},
    [SM_ALERT_WIND_HIGH] = {"wind-high", SM_ALERT_ADVISORY,
                            "the wind is over the limit, and no aerials are to come",
                            "measure it again before any are allowed", "lead", sm_alert_wind_high},
    [SM_ALERT_HELD_BACK] = {"held-back", SM_ALERT_ADVISORY, "something is held back",
                            "allow it where that was meant", "lead", sm_alert_held_back},
    [SM_ALERT_WAIVED] = {"waived", SM_ALERT_ADVISORY, "a guard is waived", "look at what was waived, and why",
                         "lead", sm_alert_waived},
    [SM_ALERT_READINGS_OLD] = {"readings-old", SM_ALERT_ADVISORY,
                               "readings are older than [limits] readings-age", "everybody out, then measure",
                               "lead", sm_alert_readings_old},
    [SM_ALERT_SPEED] = {"speed", SM_ALERT_ADVISORY, "the speed is not 1",
                        "set it back where that was not meant", "lead", sm_alert_speed},
    [SM_ALERT_REPEAT] = {"repeat", SM_ALERT_ADVISORY, "a stretch is repeated",
                         "switch it off where that was not meant", "lead", sm_alert_repeat},
    [SM_ALERT_FREE_RUNNING] = {"free-running", SM_ALERT_ADVISORY, "a gap in the timecode is bridged",
                               "look at its source and cable", "whoever has the sound",
                               sm_alert_free_running},
    [SM_ALERT_TIMECODE_WAITS] = {"timecode-waits", SM_ALERT_ADVISORY,
                                 "nothing can start: timecode is not read, or is outside the show",
                                 "look at its source, cable and level, or at timecode-start",
                                 "whoever has the sound", sm_alert_timecode_waits},
    [SM_ALERT_SHOW_CHANGED] = {"show-changed", SM_ALERT_ADVISORY,
                               "a file of the show is other than when it was read",
                               "read the show again (L, while safe)", "lead", sm_alert_show_changed},
    [SM_ALERT_NOT_KEPT] = {"not-kept", SM_ALERT_ADVISORY, "the logbook does not keep this rehearsal",
                           "look at the disk", "lead", sm_alert_not_kept},
    [SM_ALERT_OFFSET] = {"offset", SM_ALERT_ADVISORY, "nobody has measured how late the device is heard",
                         "measure it, and give --sound-offset", "whoever has the sound", sm_alert_offset},
    [SM_ALERT_LIGHTS] = {"lights", SM_ALERT_ADVISORY, "lights are sent on a wire (--lights)",
                         "know who stated it; `lights off` ends it", "whoever stated it", sm_alert_lights},
};
static_assert(sizeof rows / sizeof rows[0] == SM_ALERT_COUNT, "a row for each alert");

static bool skip(const char **text, const char *words) {
    size_t length = strlen(words);
    bool begins = strncmp(*text, words, length) == 0;
    *text += begins ? length : 0;
    return begins;
}

const char *sm_alert_to_do(sm_alert_id id, sm_state state, bool key) {
    const char *text = sm_alert_row_of(id)->to_do;
    if (state == SM_STATE_SAFE)
        (void)skip(&text, "make safe, ");
    if (!key && !skip(&text, "key off, "))
        (void)skip(&text, "key off; ");
    return text;
}

sm_act sm_alert_act(sm_alert_id id, sm_state state, bool key) {
    static const struct {
        const char *words;
        sm_act act;
    } acts[] = {{"make safe", SM_ACT_SAFE}, {"key off", SM_ACT_KEY_OFF}, {"report it", SM_ACT_REPORT}};
    const char *text = sm_alert_to_do(id, state, key);
    for (size_t i = 0; i < sizeof acts / sizeof acts[0]; i++)
        if (strncmp(text, acts[i].words, strlen(acts[i].words)) == 0)
            return acts[i].act;
    return SM_ACT_COUNT;
}

sm_alert_id sm_alert_about(sm_alert_id id) {
    switch (id) {
    case SM_ALERT_KEY_ON:
    case SM_ALERT_TOO_EARLY:
        return SM_ALERT_PEOPLE;
    case SM_ALERT_WIND:
    case SM_ALERT_WIND_HIGH:
        return SM_ALERT_WIND_RUNNING;
    case SM_ALERT_UNHEARD:
        return SM_ALERT_NO_ANSWER;
    case SM_ALERT_TIMECODE_WAITS:
    case SM_ALERT_FREE_RUNNING:
        return SM_ALERT_TIMECODE;
    default:
        return id;
    }
}

const sm_alert_row *sm_alert_row_of(sm_alert_id id) {
    assert(id < SM_ALERT_COUNT);
    return &rows[id];
}

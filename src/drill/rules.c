// SPDX-License-Identifier: GPL-3.0-or-later
// The built-in rules: what no drill has to say, because it holds in all of them. They judge a try, even one that this rehearsal refuses.
// Common practice of small crews, from memory; no source.
#include "drill/run.h"

#include <assert.h>
#include <ctype.h>
#include <stdio.h>

static const sm_drill_rule_row rules[] = {
    [SM_RULE_ENTRY] =
        {"entry-too-early", "Nobody enters while the module is not safe, the key is on or the wait runs", 100,
         "Nobody goes into the field unless the module is safe, the key is off and the wait is over. What "
         "did not go may still go."},
    [SM_RULE_HANDS] =
        {"hands-on-live", "No hands at plugs or terminals while the key is on", 100,
         "Nobody plugs, unplugs or repairs unless the module is safe and the key is off: hands at a "
         "terminal that can be fired are hands in front of it."},
    [SM_RULE_PLUGGED] =
        {"repair-plugged", "No work at a slot whose rail is plugged", 100,
         "Nobody works at a slot whose rail is plugged: it is unplugged at the module end first."},
    [SM_RULE_PEOPLE] =
        {"people-in-field", "No key, test, arming or start with anyone in the field", 100,
         "With anyone in the field there is no key, no measuring, no arming, no start and no resume."},
    [SM_RULE_LINK] =
        {"resume-after-link", "Nobody resumes after a lost link", 100,
         "A link that was lost says nothing about the module. Nobody resumes after it: make safe, key off, "
         "and begin again."},
    [SM_RULE_NO_CLEAR] =
        {"arm-without-clear", "No arming without a new clear", 40,
         "Arming needs a new clear: everyone called by name and answered. An old clear is none, and "
         "silence is none."},
    [SM_RULE_LAPSED] = {"going-without-clear", "No start and no going on after clear has lapsed", 100,
                        "Clear has lapsed, and nobody knows who is in the field. Make safe, and call it "
                        "again from the first "
                        "name."},
    [SM_RULE_UNHEARD] = {"start-unheard", "No start while somebody has not answered", 100,
                         "Somebody was not heard. No answer is a hold, and no start is made over it."},
    [SM_RULE_WIND] =
        {"going-over-wind", "Over the wind limit no aerials, not fewer", 100,
         "The wind is over your limit and aerials are still to go. Hold them all back, or wait and measure "
         "again."},
    [SM_RULE_UNREPORTED] =
        {"misfire-unreported", "Nobody goes in before a misfire is reported", 40,
         "A misfire is live. It is reported by slot and heard back before anyone goes in."},
    [SM_RULE_WAIVER] =
        {"waiver-names-nothing", "No waiver that does not say what it lets go", 20,
         "A waiver names what it is about, slot or rail, and why. Without that nobody knows what was let "
         "go."},
    [SM_RULE_SILENCE] =
        {"clear-over-silence", "No clear over silence", 100,
         "Clear is called when everyone has answered from outside, by name. Silence is no answer, and one "
         "person cannot answer for another."},
    [SM_RULE_KEY] = {"spotter-at-the-key", "The spotter never has the key", 40,
                     "The spotter never has the key, and does not arm, start or resume: whoever watches the "
                     "field has no hand on the module but to stop it."},
};
static_assert(sizeof rules / sizeof rules[0] == SM_RULE_COUNT, "a row for each rule");

const sm_drill_rule_row *sm_drill_rule_of(sm_drill_rule rule) {
    assert((unsigned)rule < SM_RULE_COUNT);
    return &rules[rule];
}

static bool is_word(char c) {
    return isalnum((unsigned char)c) || c == '-' || c == '_';
}

static bool names_anything(const sm_show *show, const char *reason) {
    for (const char *at = reason; *at != '\0';) {
        while (*at != '\0' && !is_word(*at))
            at++;
        size_t length = 0;
        while (is_word(at[length]))
            length++;
        char name[64];
        uint32_t slot;
        snprintf(name, sizeof name, "%.*s", (int)(length < 63 ? length : 63), at);
        if (length > 0 &&
            (sm_rail_find(show, name) != SM_NONE || sm_slot_find(show, at, length, &slot) == SM_OK))
            return true;
        at += length;
    }
    return false;
}

static bool wait_is_over(const sm_drill_run *run, const sm_facts *facts) {
    if (!run->armed_once)
        return true;
    sm_us wait = sm_wait_asked_us(&run->drill->show->settings, facts->misfired > 0);
    return wait == SM_UNSET_US || facts->wait_since.us == SM_UNSET_US ||
           facts->now.us >= facts->wait_since.us + wait;
}

#define BIT(rule) (1u << SM_RULE_##rule)

// Over the limit means no aerials. What the meter of the drill showed counts, and what was written down: the higher of the two.
static bool wind_is_over(const sm_drill_run *run, const sm_facts *facts) {
    double limit = run->drill->show->settings.wind_limit_m_s; // NAN where it is not set: nothing is over it
    return (facts->wind_m_s > limit || run->wind_shown_m_s > limit) &&
           sm_rehearsal_aerials_to_come(run->rehearsal);
}

// What starting or going on breaks.
static unsigned broken_by_going(const sm_drill_run *run, const sm_facts *facts) {
    return (facts->people > 0 ? BIT(PEOPLE) : 0) | (facts->clear_called ? 0 : BIT(LAPSED)) |
           (drill_crew_has_answered(run) ? 0 : BIT(UNHEARD)) | (wind_is_over(run, facts) ? BIT(WIND) : 0);
}

// The rules that trying ACTION breaks, a bit each.
static unsigned broken_by(const sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    const sm_show *show = run->drill->show;
    bool off = facts->state == SM_STATE_SAFE && !facts->key;
    bool people = facts->people > 0;
    switch (action->act) {
    case SM_ACT_ENTER:
        return (!off || !wait_is_over(run, facts) ? BIT(ENTRY) : 0) |
               (facts->misfired_unreported > 0 ? BIT(UNREPORTED) : 0);
    case SM_ACT_PLUG:
    case SM_ACT_UNPLUG:
    case SM_ACT_EXCHANGE:
        return off ? 0 : BIT(HANDS);
    case SM_ACT_REPAIR:
        return (off ? 0 : BIT(HANDS)) |
               (sm_rehearsal_plugged(run->rehearsal, show->slot_rails[action->index]) ? BIT(PLUGGED) : 0);
    case SM_ACT_CALL_CLEAR:
        return people || !drill_crew_has_answered(run) ? BIT(SILENCE) : 0;
    case SM_ACT_KEY_ON:
    case SM_ACT_MEASURE:
        return people ? BIT(PEOPLE) : 0;
    case SM_ACT_START:
    case SM_ACT_START_IN:
    case SM_ACT_RESUME:
        return broken_by_going(run, facts) |
               (action->act == SM_ACT_RESUME && facts->link_lost_since_safe ? BIT(LINK) : 0);
    case SM_ACT_ARM:
        return (people ? BIT(PEOPLE) : 0) | (facts->clear_called ? 0 : BIT(NO_CLEAR));
    case SM_ACT_WAIVE:
        return names_anything(show, action->detail) ? 0 : BIT(WAIVER);
    default:
        return 0;
    }
}

// The same in the spotter's seat. A spotter reports who comes and goes, and does not send them.
static unsigned broken_by_spotter(const sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    switch (action->act) {
    case SM_ACT_CALL_CLEAR:
        return facts->people > 0 || !drill_crew_has_answered(run) ? BIT(SILENCE) : 0;
    case SM_ACT_KEY_ON:
    case SM_ACT_ARM:
    case SM_ACT_START:
    case SM_ACT_START_IN:
    case SM_ACT_RESUME:
        return BIT(KEY);
    default:
        return 0;
    }
}

unsigned drill_rules_broken(const sm_drill_run *run, const sm_action *action, const sm_facts *facts) {
    if (run->actor == DRILL_OTHER)
        return 0;
    return run->actor == DRILL_SPOTTER ? broken_by_spotter(run, action, facts)
                                       : broken_by(run, action, facts);
}

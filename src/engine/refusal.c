// SPDX-License-Identifier: GPL-3.0-or-later
// What the engine would say to an action that arms, starts or goes on, for whoever asks before it is done.
#include "engine/rehearsal.h"

static unsigned asked_by(sm_act act) {
    switch (act) {
    case SM_ACT_ARM:
        return (1u << SM_GUARD_COUNT) - 1;
    case SM_ACT_START:
    case SM_ACT_START_IN:
    case SM_ACT_RESUME:
        return SM_ASKED_PEOPLE;
    case SM_ACT_CALL_CLEAR:
        return 1u << SM_GUARD_FIELD;
    default:
        return 0;
    }
}

static void add(sm_text *why, const char *words) {
    sm_text_printf(why, "%s%s", why->length > 0 ? "; " : "", words);
}

bool sm_snapshot_refuses(const sm_snapshot *now, sm_act act, sm_text *why) {
    // Bad slots first: they take longest to mend.
    static const sm_guard order[] = {SM_GUARD_READINGS, SM_GUARD_RAILS, SM_GUARD_FIELD, SM_GUARD_CLEAR,
                                     SM_GUARD_KEY};
    unsigned asked = asked_by(act);
    sm_text words = {0};
    if (asked == 0)
        return false;
    const bool goes_on = act != SM_ACT_CALL_CLEAR; // a hold, or no link, does not keep anybody from calling
    bool refuses = goes_on && (now->incidents.link_lost || now->hold_count > 0);
    if (goes_on && now->incidents.link_lost)
        add(&words, "the link is lost");
    if (goes_on && now->hold_count > 0) {
        sm_text hold = {0};
        sm_hold_describe(now->hold_who, now->hold_why, now->hold_count, &hold);
        add(&words, sm_text_get(&hold));
        sm_text_deinit(&hold);
    }
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++) {
        const sm_guard_status *guard = &now->guards[order[i]];
        if ((asked & 1u << order[i]) == 0 || guard->word != SM_GUARD_NOT_MET)
            continue;
        refuses = true;
        add(&words, guard->why);
    }
    if (goes_on && act != SM_ACT_ARM) {
        sm_text timecode = {0};
        refuses |= sm_timecode_refuses(&now->timecode, now->show, now->wall, &timecode);
        if (timecode.length > 0)
            add(&words, sm_text_get(&timecode));
        sm_text_deinit(&timecode);
    }
    sm_text_printf(why, "%s", sm_text_get(&words));
    sm_text_deinit(&words);
    return refuses;
}

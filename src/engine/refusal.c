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

static void add_hold(const sm_snapshot *now, bool brief, sm_text *why) {
    sm_text hold = {0};
    if (brief)
        sm_text_printf(&hold, "hold by %s", now->hold_who);
    else
        sm_hold_describe(now->hold_who, now->hold_why, now->hold_count, &hold);
    add(why, sm_text_get(&hold));
    sm_text_deinit(&hold);
}

static bool add_timecode(const sm_snapshot *now, bool brief, sm_text *why) {
    sm_text words = {0};
    bool refuses = sm_timecode_refuses(&now->timecode, now->show, now->wall, &words);
    if (refuses && !brief)
        add(why, sm_text_get(&words));
    sm_text_deinit(&words);
    return refuses;
}

static bool refuses(const sm_snapshot *now, sm_act act, bool brief, sm_text *why) {
    // Bad slots first: they take longest to mend.
    static const sm_guard order[] = {SM_GUARD_READINGS, SM_GUARD_RAILS, SM_GUARD_FIELD, SM_GUARD_CLEAR,
                                     SM_GUARD_KEY};
    const unsigned asked = asked_by(act);
    const bool goes_on =
        asked != 0 && act != SM_ACT_CALL_CLEAR; // a hold, or no link, keeps nobody from calling
    sm_text words = {0};
    bool any = goes_on && (now->incidents.link_lost || now->hold_count > 0);
    if (goes_on && now->incidents.link_lost)
        add(&words, "the link is lost");
    if (goes_on && now->hold_count > 0)
        add_hold(now, brief, &words);
    for (size_t i = 0; i < sizeof order / sizeof order[0]; i++) {
        const sm_guard_status *guard = &now->guards[order[i]];
        if ((asked & 1u << order[i]) == 0 || guard->word != SM_GUARD_NOT_MET)
            continue;
        any = true;
        add(&words, brief ? sm_guard_text(order[i]) : guard->why);
    }
    if (goes_on && act != SM_ACT_ARM)
        any |= add_timecode(now, brief, &words);
    sm_text_printf(why, "%s", sm_text_get(&words));
    sm_text_deinit(&words);
    return any;
}

bool sm_snapshot_refuses(const sm_snapshot *now, sm_act act, sm_text *why) {
    return refuses(now, act, false, why);
}

bool sm_snapshot_refuses_briefly(const sm_snapshot *now, sm_act act, sm_text *why) {
    return refuses(now, act, true, why);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// What a careful crew would not do now. The action is done all the same, as in a real field; a drill marks it, a plain
// rehearsal says it. Source of the rows: common practice of small crews, no source.
#include "engine/rehearsal.h"

#include "slowmatch/inject.h"

#include <string.h>

static bool key_is_off_and_safe(const sm_rehearsal *r) {
    return r->state == SM_STATE_SAFE && !r->key;
}

static void add(sm_text *out, const char *words) {
    sm_text_printf(out, "%s%s", out->length > 0 ? "; " : "", words);
}

static void add_not_off(const sm_rehearsal *r, sm_text *out) {
    sm_text_printf(out, "%sthe module is %s with the key %s", out->length > 0 ? "; " : "",
                   sm_state_text(r->state), r->key ? "ON" : "OFF");
}

static void add_people(const sm_rehearsal *r, sm_text *out) {
    sm_guard_status field = sm_guard_look(r, SM_GUARD_FIELD);
    add(out, field.why);
}

// A wait is asked for once something has gone, or should have.
static bool anything_has_gone(const sm_rehearsal *r, const sm_facts *facts) {
    bool gone = facts->misfired > 0;
    for (uint32_t slot = 0; slot < r->show->slot_count && !gone; slot++)
        gone = r->field.slots[slot].spent;
    return gone;
}

static void add_wait(const sm_rehearsal *r, sm_text *out) {
    sm_facts facts = sm_rehearsal_facts(r);
    const bool runs = r->state == SM_STATE_SAFE && !facts.link_lost;
    const sm_wait wait =
        sm_wait_look(&r->show->settings, facts.misfired > 0, facts.wait_since, runs, facts.now);
    const sm_us left = wait.limit_us != SM_UNSET_US ? wait.limit_us - wait.gone_us : 0;
    if (wait.asked && anything_has_gone(r, &facts) && !runs)
        add(out, "the wait has not begun");
    else if (wait.asked && anything_has_gone(r, &facts) && left > 0) {
        char clock[24];
        sm_text_printf(out, "%sthe wait has %.*s to run", out->length > 0 ? "; " : "",
                       (int)strcspn(sm_clock_format(clock, left), "."), clock);
    }
    if (facts.misfired_unreported > 0)
        sm_text_printf(out, "%s%u misfired and not reported", out->length > 0 ? "; " : "",
                       facts.misfired_unreported);
}

static void look_at_hands(const sm_rehearsal *r, const sm_action *action, sm_text *out) {
    if (!key_is_off_and_safe(r))
        add_not_off(r, out);
    if (action->act == SM_ACT_REPAIR && r->field.plugged[r->show->slot_rails[action->index]])
        add(out, "its rail is plugged: unplug it at the module end first");
}

void sm_rehearsal_caution(const sm_rehearsal *r, const sm_action *action, sm_text *out) {
    switch (action->act) {
    case SM_ACT_ENTER:
        if (!key_is_off_and_safe(r))
            add_not_off(r, out);
        add_wait(r, out);
        break;
    case SM_ACT_PLUG:
    case SM_ACT_EXCHANGE:
        if (r->field.people_count > 0)
            add_people(r, out);
        look_at_hands(r, action, out);
        break;
    case SM_ACT_UNPLUG:
        look_at_hands(r, action, out);
        break;
    case SM_ACT_REPAIR:
        look_at_hands(r, action, out);
        add_wait(r, out);
        break;
    case SM_ACT_KEY_ON:
        if (r->field.people_count > 0)
            add_people(r, out);
        break;
    case SM_ACT_MEASURE: // the test current goes through what may still be live
        if (r->field.people_count > 0)
            add_people(r, out);
        add_wait(r, out);
        break;
    default:
        break;
    }
}

// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/confirm_words.h"

#include "boards/view.h"
#include "boards/words/state_line.h"

#include "slowmatch/conditions.h"

// Where the reasons can be looked at.
static const sm_board *board_of_reasons(const sm_snapshot *now, sm_act act) {
    bool slots = now->guards[SM_GUARD_READINGS].word == SM_GUARD_NOT_MET ||
                 now->guards[SM_GUARD_RAILS].word == SM_GUARD_NOT_MET;
    return act == SM_ACT_ARM && slots ? &sm_board_rails : &sm_board_guards;
}

// What puts it right, in the order of the next step, by keys or as lines by words. Nobody is sent to a slot that misfired, or before
// the wait has run.
static const char *mend(const sm_view *view) {
    const sm_snapshot *now = view->snapshot;
    const bool bad = now->guards[SM_GUARD_READINGS].word == SM_GUARD_NOT_MET;
    if (now->misfired > 0 || sm_snapshot_all_stay_out(now))
        return "";
    if (bad && sm_condition_any_spent(now))
        return view->as_lines ? ", rerig makes all new (simulated)" : ", R re-rigs (simulated)";
    if (bad && sm_condition_swapped(now, view->swapped))
        return view->as_lines ? ", exchange changes the plugs" : ", E exchanges the plugs";
    if (bad)
        return view->as_lines ? ", repair mends, waive leaves out by name"
                              : ", F mends, W leaves out by name";
    return view->as_lines ? ", plug plugs, waive leaves out by name" : ", P plugs, W leaves out by name";
}

bool sm_confirm_describe_refusal(const sm_view *view, sm_act act, sm_text *out) {
    char key[16];
    sm_text why = {0};
    bool refuses = sm_snapshot_refuses(view->snapshot, act, &why);
    const sm_board *board = board_of_reasons(view->snapshot, act);
    if (refuses)
        sm_text_printf(out, "%s will be refused: %s; %s looks%s.", sm_action_row_of(act)->name,
                       sm_text_get(&why), view->as_lines ? board->name : sm_key_name(board->key, key),
                       board != &sm_board_rails ? "" : mend(view));
    sm_text_deinit(&why);
    return refuses;
}

void sm_confirm_add_standing(const sm_snapshot *now, sm_text *out) {
    sm_text text = {0};
    sm_conditions_add(now, &text);
    if (text.length > 2)
        sm_text_printf(out, " %s.", sm_text_get(&text) + 2); // without the comma before the first
    sm_text_clear(&text);
    if (sm_condition_stray(now, &text))
        sm_text_printf(out, " %s.", sm_text_get(&text));
    sm_text_clear(&text);
    if ((now->state == SM_STATE_SAFE || now->state == SM_STATE_ARMED) && sm_condition_spent(now, &text))
        sm_text_printf(out, " %s.", sm_text_get(&text));
    sm_text_deinit(&text);
}

void sm_confirm_add_people(const sm_snapshot *now, sm_text *out) {
    if (now->people_count > 0)
        sm_text_printf(out, "IN FIELD %u: %s%s; everybody out first. ", now->people_count,
                       now->people[0].name, now->people_count > 1 ? " and more" : "");
}

static void add_alert(const sm_view *view, sm_alert_id id, sm_text *out) {
    const sm_alert *alert = sm_alerts_find(view->alerts, id);
    if (alert)
        sm_text_printf(out, " %s.", alert->words);
}

static void add_silent(const sm_view *view, sm_text *out) {
    const sm_incidents *incidents = &view->snapshot->incidents;
    if (incidents->silent_open > 0)
        sm_text_printf(out, " NO ANSWER from %s: ask again by name.", incidents->silent_who);
}

// What an operator who is about to go on must not be left to look for.
static void add_dangers(const sm_view *view, sm_text *out) {
    add_alert(view, SM_ALERT_FIRE, out);
    add_alert(view, SM_ALERT_FLAME, out);
    add_alert(view, SM_ALERT_FIRED_ALONE, out);
    add_alert(view, SM_ALERT_TIPPED, out);
    if (view->snapshot->incidents.storm)
        sm_text_printf(out, " STORM: all withdraw.");
    add_silent(view, out);
    add_alert(view, SM_ALERT_WIND, out);
    add_alert(view, SM_ALERT_WIND_RUNNING, out);
    add_alert(view, SM_ALERT_WIND_HIGH, out);
    add_alert(view, SM_ALERT_WAIT, out);
    add_alert(view, SM_ALERT_BURNING, out);
}

void sm_confirm_describe(const sm_view *view, sm_act act, sm_text *out) {
    const sm_snapshot *now = view->snapshot;
    char span[24], clock[24], name[48];
    switch (act) {
    case SM_ACT_ARM:
        sm_text_printf(out, "ARM the rehearsed module, armed after %s.",
                       sm_age_format(view->show->settings.arm_time_us, span));
        if (now->guards[SM_GUARD_READINGS].word == SM_GUARD_NOT_CHECKED)
            sm_text_printf(out, " Readings NOT CHECKED: %s.", now->guards[SM_GUARD_READINGS].why);
        add_dangers(view, out);
        sm_confirm_add_standing(now, out);
        add_alert(view, SM_ALERT_READINGS_OLD, out);
        break;
    case SM_ACT_START:
        sm_text_printf(out, "START counts down %s", sm_snapshot_count(now, span));
        sm_text_printf(out, " and begins at %s.", sm_clock_format(clock, now->place.us));
        add_dangers(view, out);
        sm_confirm_add_standing(now, out);
        break;
    case SM_ACT_RESUME:
        sm_text_printf(out, "RESUME counts down %s", sm_snapshot_count(now, span));
        if (now->next_firing != SM_NONE) {
            const sm_event *event = &view->show->events[now->next_firing];
            sm_text_printf(out, ", FIRES %s",
                           sm_slot_format(view->show, view->show->firings[event->target].slot, name));
            sm_text_printf(out, " %s after the count.",
                           sm_countdown_format(sm_snapshot_until_event(now, now->next_firing), span));
        } else {
            sm_text_printf(out, "; nothing more fires.");
        }
        add_dangers(view, out);
        sm_confirm_add_standing(now, out);
        break;
    case SM_ACT_RERIG:
        sm_confirm_add_people(now, out);
        sm_text_printf(out, "RE-RIG (simulated): every slot is new, nothing is fired, misfired or read.");
        break;
    case SM_ACT_QUIT:
        sm_text_printf(out, view->drill && !view->drill->over
                                ? "END THE DRILL: makes safe; then the debrief asks you four questions."
                                : "quit: makes safe, and leaves.");
        break;
    default:
        sm_text_printf(out, "%s: %s.", sm_action_row_of(act)->name, sm_action_row_of(act)->help);
        break;
    }
}

#define NAMED 4

// Slots that wait and whose moment lies before MOMENT; the first of them by name.
static uint32_t left_live(const sm_snapshot *now, sm_show_time moment, sm_text *names) {
    const sm_show *show = now->show;
    uint32_t count = 0;
    char name[48];
    for (uint32_t slot = 0; slot < show->slot_count; slot++) {
        uint32_t firing = show->slot_firings[slot];
        if (firing == SM_NONE || now->slots[slot].phase != SM_SLOT_WAITING ||
            show->firings[firing].fire_us >= moment.us)
            continue;
        if (count++ < NAMED)
            sm_text_printf(names, "%s%s", count > 1 ? ", " : "", sm_slot_format(show, slot, name));
    }
    if (count > NAMED)
        sm_text_printf(names, " and %u more", count - NAMED);
    return count;
}

bool sm_jump_leaves_live(const sm_snapshot *now, sm_show_time moment) {
    sm_text names = {0};
    uint32_t count = left_live(now, moment, &names);
    sm_text_deinit(&names);
    return count > 0;
}

void sm_jump_describe(const sm_view *view, sm_show_time moment, sm_text *out) {
    const sm_snapshot *now = view->snapshot;
    char clock[24];
    sm_text names = {0};
    uint32_t passed = left_live(now, moment, &names);
    sm_clock_format(clock, moment.us);
    sm_text_printf(out, now->state == SM_STATE_RUNNING  ? "JUMP while RUNNING: "
                        : now->state == SM_STATE_PAUSED ? "JUMP while PAUSED, STILL ARMED: "
                                                        : "JUMP: ");
    if (passed > 0)
        sm_text_printf(out, "%s not fired yet, %s passed over and %s LIVE; ", sm_text_get(&names),
                       passed == 1 ? "is" : "are", passed == 1 ? "stays" : "stay");
    sm_text_printf(out,
                   now->state == SM_STATE_RUNNING  ? "GOES ON AT ONCE, no count, from %s."
                   : now->state == SM_STATE_PAUSED ? "RESUME will go on from %s."
                                                   : "START WILL BEGIN AT %s.",
                   clock);
    sm_text_deinit(&names);
}

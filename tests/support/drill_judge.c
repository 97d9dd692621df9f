// SPDX-License-Identifier: GPL-3.0-or-later
#include "drill_judge.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char *const crew[DRILL_JUDGE_CREW] = {"K", "M"};

static bool is_trainee(sm_source source) {
    return source == SM_SOURCE_SCRIPT;
}

static void nobody_is_heard(drill_judge *j) {
    memset(j->heard, 0, sizeof j->heard);
}

static void hear_words(drill_judge *j, const char *who, const char *words) {
    bool says = strstr(words, "out") || strstr(words, "clear") || strstr(words, "Clear");
    for (int i = 0; i < DRILL_JUDGE_CREW; i++)
        if (strcmp(crew[i], who) == 0 && says)
            j->heard[i] = true;
}

static void watch_event(drill_judge *j, const char *what) {
    char who[32], words[300];
    if (sscanf(what, "call %31s %299[^\n]", who, words) == 2)
        hear_words(j, who, words);
    if (sscanf(what, "false-clear %31s", who) == 1)
        hear_words(j, who, "clear");
    for (int i = 0; i < DRILL_JUDGE_CREW && sscanf(what, "no-answer %31s", who) == 1; i++)
        j->heard[i] = j->heard[i] && strcmp(crew[i], who) != 0;
    if (strcmp(what, "person in-field") == 0) {
        j->people++;
        nobody_is_heard(j);
    }
    if (strcmp(what, "person out") == 0 && j->people > 0)
        j->people--;
    if (strcmp(what, "link lost") == 0)
        j->link_lost = true;
    sscanf(what, "wind %lf", &j->wind_shown_m_s);
    if (strncmp(what, "unplug ", 7) == 0)
        j->rail_out[what[7] - 'A'] = true;
}

static void forbid(drill_judge *j, bool broken, const char *what) {
    if (broken && !j->broken)
        j->broken = what;
}

static bool everyone_is_heard(const drill_judge *j) {
    return j->heard[0] && j->heard[1];
}

// Over the limit, by the meter or by what was written down, and aerials are to come from AT on.
static bool aerials_fly_over_the_limit(const drill_judge *j, sm_show_time at) {
    if (!j->show || j->held_back)
        return false;
    double limit = j->show->settings.wind_limit_m_s;
    bool any = false;
    for (uint32_t i = 0; i < j->show->firing_count; i++)
        any = any || (j->show->effects[j->show->firings[i].effect].zone == SM_ZONE_AERIAL &&
                      j->show->firings[i].fire_us > at.us);
    return any && (j->wind_shown_m_s > limit || j->wind_told_m_s > limit);
}

// What a spotter does: nothing at the key.
static void watch_spotter(drill_judge *j, sm_act act, bool goes) {
    bool at_key = (act == SM_ACT_KEY_ON && !j->key) || (act == SM_ACT_ARM && j->state == SM_STATE_SAFE);
    forbid(j, at_key || goes, "a spotter at the key");
}

// What the trainee did, before it changes anything.
static void watch_deed(drill_judge *j, sm_act act, const char *target, sm_show_time at) {
    bool off = j->state == SM_STATE_SAFE && !j->key;
    bool goes = (act == SM_ACT_START && j->state == SM_STATE_ARMED) ||
                (act == SM_ACT_RESUME && j->state == SM_STATE_PAUSED);
    if (act == SM_ACT_CALL_CLEAR)
        forbid(j, j->people > 0 || !everyone_is_heard(j), "clear over silence");
    if (j->spotter) {
        watch_spotter(j, act, goes);
        return;
    }
    forbid(j, act == SM_ACT_ENTER && j->waits, "in before the wait has run");
    forbid(j, act == SM_ACT_ENTER && j->unreported > 0, "in to a misfire that nobody has reported");
    forbid(j, act == SM_ACT_ARM && j->state == SM_STATE_SAFE && !j->clear, "armed without a clear");
    forbid(j, goes && !j->clear, "a start without a clear");
    forbid(j, goes && aerials_fly_over_the_limit(j, at), "aerials over the wind limit");
    if (act == SM_ACT_ENTER || act == SM_ACT_PLUG || act == SM_ACT_UNPLUG || act == SM_ACT_REPAIR)
        forbid(j, !off, "hands or feet with the key on");
    if (act == SM_ACT_REPAIR)
        forbid(j, !j->rail_out[target[0] - 'A'], "work at a plugged rail");
    if (act == SM_ACT_KEY_ON || (act == SM_ACT_MEASURE && j->state == SM_STATE_SAFE) || goes)
        forbid(j, j->people > 0, "people in the field");
    forbid(j, goes && !everyone_is_heard(j), "a start over silence");
    forbid(j, act == SM_ACT_RESUME && j->state == SM_STATE_PAUSED && j->link_lost,
           "resumed after a lost link");
}

static void follow_deed(drill_judge *j, sm_act act, const char *target) {
    switch (act) {
    case SM_ACT_KEY_ON:
    case SM_ACT_KEY_OFF:
        j->key = act == SM_ACT_KEY_ON;
        j->link_lost = j->link_lost && act == SM_ACT_KEY_ON;
        break;
    case SM_ACT_SAFE:
        j->link_lost = false;
        break;
    case SM_ACT_ENTER:
        j->people++;
        nobody_is_heard(j);
        break;
    case SM_ACT_LEAVE:
        j->people--;
        break;
    case SM_ACT_PLUG:
    case SM_ACT_UNPLUG:
        j->rail_out[target[0] - 'A'] = act == SM_ACT_UNPLUG;
        break;
    case SM_ACT_CALL_CLEAR:
        j->clear = true;
        break;
    case SM_ACT_PASS_TIME:
        j->waits = false;
        break;
    case SM_ACT_REPORT:
        j->unreported--;
        break;
    case SM_ACT_WIND:
        sscanf(target, "%lf", &j->wind_told_m_s);
        break;
    case SM_ACT_INHIBIT:
    case SM_ACT_ALLOW:
        if (strcmp(target, "aerial") == 0)
            j->held_back = act == SM_ACT_INHIBIT;
        break;
    default:
        break;
    }
}

void drill_judge_watch(void *context, const sm_log_row *row) {
    drill_judge *j = context;
    if (row->kind.what == SM_LOG_STATE)
        j->state = row->kind.state;
    else if (row->kind.what == SM_LOG_FIRE || row->kind.what == SM_LOG_MISFIRE) {
        j->waits = true;
        j->unreported += row->kind.what == SM_LOG_MISFIRE;
    } else if (row->kind.what == SM_LOG_EVENT)
        watch_event(j, row->detail);
    else if (row->kind.what == SM_LOG_GUARD && strcmp(row->target, "clear") == 0 && j->clear) {
        j->clear = false;
        nobody_is_heard(j);
    } else if (sm_log_is_act(row->kind, SM_ACT_CALL))
        hear_words(j, row->target, row->detail);
    else if (row->kind.what == SM_LOG_ACTION) {
        if (is_trainee(row->source))
            watch_deed(j, row->kind.act, row->target, row->show);
        follow_deed(j, row->kind.act, row->target);
    } else if (row->kind.what == SM_LOG_REFUSED && is_trainee(row->source))
        watch_deed(j, row->kind.act, "A", row->show); // tried: a real module would not refuse
}

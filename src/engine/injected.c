// SPDX-License-Identifier: GPL-3.0-or-later
// What a drill has put in the way, and what the engine asks of it. What an injection does when it happens is in inject.c.
#include "engine/rehearsal.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- memory -----------------------------------------------------------------------------------

bool sm_injected_init(sm_rehearsal *r, const sm_show *show) {
    r->fire_at = calloc(show->position_count + 1u, sizeof *r->fire_at);
    r->feed_lost = calloc(show->feed_count + 1u, sizeof *r->feed_lost);
    r->module_refuses = calloc(show->module_count + 1u, sizeof *r->module_refuses);
    r->flame_faults = calloc(show->fixture_count + 1u, sizeof *r->flame_faults);
    r->incidents.link_at.us = r->incidents.call_at.us = r->incidents.latest_at.us =
        r->incidents.answer_at.us = SM_UNSET_US;
    return r->fire_at && r->feed_lost && r->module_refuses && r->flame_faults;
}

void sm_injected_forget(sm_rehearsal *r) {
    r->fire_at = r->feed_lost = r->module_refuses = NULL;
    r->flame_faults = NULL;
    r->hung_count = 0;
}

void sm_injected_deinit(sm_rehearsal *r) {
    free(r->fire_at);
    free(r->feed_lost);
    free(r->module_refuses);
    free(r->flame_faults);
}

// ---- what the engine asks ---------------------------------------------------------------------

bool sm_hang_fire(sm_rehearsal *r, uint32_t event, sm_us late_us) {
    assert(late_us > 0);
    if (r->hung_count == SM_HUNG_MAX)
        return false;
    const sm_hung hung = {event, {r->now.us + late_us}};
    uint32_t at = r->hung_count++;
    for (; at > 0 && r->hung[at - 1].at.us > hung.at.us; at--)
        r->hung[at] = r->hung[at - 1];
    r->hung[at] = hung;
    return true;
}

bool sm_hung_next(const sm_rehearsal *r, sm_wall_time *at) {
    if (r->hung_count == 0)
        return false;
    *at = r->hung[0].at;
    return true;
}

const char *sm_refusing_module(const sm_rehearsal *r) {
    for (uint32_t m = 0; m < r->show->module_count; m++)
        if (r->module_refuses[m])
            return r->show->modules[m].name;
    return NULL;
}

bool sm_link_keeps_home(const sm_rehearsal *r, uint32_t fixture) {
    return r->incidents.link_lost && r->show->profiles[r->show->fixtures[fixture].profile].flame;
}

bool sm_link_holds(const sm_rehearsal *r, uint32_t slot) {
    return r->incidents.link_lost &&
           !r->show->modules[r->show->rails[r->show->slot_rails[slot]].module].goes_on;
}

// Takes the name at AT, which is LENGTH long, out of the list.
static void forget_silent(sm_incidents *incidents, char *at, size_t length) {
    const char *rest = at + length;
    if (*rest != '\0')
        rest += strlen(", ");
    else if (at > incidents->silent_who)
        at -= strlen(", ");
    memmove(at, rest, strlen(rest) + 1);
    incidents->silent_open--;
}

// Somebody who is heard is silent no more.
static void speaks_up(sm_incidents *incidents, const char *who) {
    char name[sizeof incidents->silent_who];
    for (char *at = incidents->silent_who; *at != '\0';) {
        const char *end = strstr(at, ", ");
        size_t length = end ? (size_t)(end - at) : strlen(at);
        snprintf(name, sizeof name, "%.*s", (int)length, at);
        if (sm_person_same(name, who)) {
            forget_silent(incidents, at, length);
            return;
        }
        at += length + (end ? strlen(", ") : 0);
    }
}

void sm_hear_silence(sm_rehearsal *r, const char *who) {
    sm_incidents *incidents = &r->incidents;
    sm_hear_call(r, who, "(no answer)"); // of one who was silent before: asked again
    size_t used = strlen(incidents->silent_who);
    if (used + strlen(", ") + strlen(who) < sizeof incidents->silent_who)
        snprintf(incidents->silent_who + used, sizeof incidents->silent_who - used, "%s%s",
                 used > 0 ? ", " : "", who);
    incidents->silent_open++;
}

void sm_hear_call(sm_rehearsal *r, const char *who, const char *text) {
    sm_copy_cut(r->incidents.call_who, sizeof r->incidents.call_who, who);
    sm_copy_cut(r->incidents.call_text, sizeof r->incidents.call_text, text);
    r->incidents.call_at = r->now;
    r->incidents.calls_open++;
    r->incidents.answer[0] = '\0';
    sm_hear_words(r, who, text);
}

void sm_hear_words(sm_rehearsal *r, const char *who, const char *text) {
    speaks_up(&r->incidents, who);
    char line_room[SM_WORDS_ROOM] = "";
    sm_text line = SM_TEXT_IN(line_room);
    sm_text_printf(&line, "%s: %s", who, text);
    sm_copy_cut(r->incidents.latest, sizeof r->incidents.latest, sm_text_get(&line));
    r->incidents.latest_at = r->now;
    sm_text_deinit(&line);
}

// ---- what can be seen of it -------------------------------------------------------------------

void sm_injected_snapshot(const sm_rehearsal *r, sm_snapshot *s) {
    const sm_show *show = r->show;
    s->incidents = r->incidents;
    memcpy(s->fire_at, r->fire_at, show->position_count * sizeof *s->fire_at);
    memcpy(s->feed_lost, r->feed_lost, show->feed_count * sizeof *s->feed_lost);
    memcpy(s->module_refuses, r->module_refuses, show->module_count * sizeof *s->module_refuses);
    memcpy(s->flame_faults, r->flame_faults, show->fixture_count * sizeof *s->flame_faults);
    for (uint32_t f = 0; f < show->fixture_count; f++) {
        s->fixture_dark[f] = false;
        uint32_t feed = show->fixtures[f].feed;
        for (uint32_t steps = 0; feed != SM_NONE && steps <= show->feed_count; steps++) {
            s->fixture_dark[f] = s->fixture_dark[f] || r->feed_lost[feed];
            feed = show->feeds[feed].from;
        }
    }
}

// SPDX-License-Identifier: GPL-3.0-or-later
// What a drill does to the rehearsal. Each injection changes what is true out there, and what of it can be seen or heard; what the crew
// has written down (readings, reports, the clear) changes only where its own rules say so.
#include "slowmatch/inject.h"

#include "engine/rehearsal.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

// ---- what happens -----------------------------------------------------------------------------

typedef void (*inject_fn)(sm_rehearsal *r, const sm_injection *in);

static void set_truth(sm_rehearsal *r, uint32_t slot, sm_read_value value) {
    r->field.slots[slot].truth = value;
}

static void do_open(sm_rehearsal *r, const sm_injection *in) {
    set_truth(r, in->index, (sm_read_value){SM_READ_OPEN, 0});
}

static void do_short(sm_rehearsal *r, const sm_injection *in) {
    set_truth(r, in->index, (sm_read_value){SM_READ_SHORT, 0});
}

// Something with an igniter's resistance hangs on a slot that no cue fires: the default igniter's 1.6 ohm and its leads.
static void do_stray(sm_rehearsal *r, const sm_injection *in) {
    set_truth(r, in->index, (sm_read_value){SM_READ_OHMS, 2.0});
}

static void do_mended(sm_rehearsal *r, const sm_injection *in) {
    sm_field_slot *s = &r->field.slots[in->index];
    s->truth = (sm_read_value){0};
    s->dud = s->tipped = false;
    s->late_us = 0;
}

static void do_unplug(sm_rehearsal *r, const sm_injection *in) {
    r->field.plugged[in->index] = false;
    char why[160];
    snprintf(why, sizeof why, "rail %s came unplugged", r->show->rails[in->index].name);
    sm_lapse_clear(r, why); // a hand or a foot was there
}

static void do_misfire(sm_rehearsal *r, const sm_injection *in) {
    r->field.slots[in->index].dud = true;
}

static void do_late(sm_rehearsal *r, const sm_injection *in) {
    r->field.slots[in->index].late_us = in->us;
}

static void do_fires_alone(sm_rehearsal *r, const sm_injection *in) {
    if (r->field.slots[in->index].spent)
        return;
    r->field.slots[in->index].fired_alone = true;
    sm_fire_event(r, r->show->firings[r->show->slot_firings[in->index]].event, NULL, SM_FIRED_BY_ITSELF);
}

static void do_tip(sm_rehearsal *r, const sm_injection *in) {
    r->field.slots[in->index].tipped = true;
}

static void do_refuse_arm(sm_rehearsal *r, const sm_injection *in) {
    r->module_refuses[in->index] = true;
}

static void do_module_ready(sm_rehearsal *r, const sm_injection *in) {
    r->module_refuses[in->index] = false;
}

static void do_flame_stuck(sm_rehearsal *r, const sm_injection *in) {
    r->flame_faults[in->index] = SM_FLAME_STUCK;
}

static void do_flame_out(sm_rehearsal *r, const sm_injection *in) {
    r->flame_faults[in->index] = SM_FLAME_GONE;
}

static void do_feed_lost(sm_rehearsal *r, const sm_injection *in) {
    r->feed_lost[in->index] = true;
}

static void do_wind(sm_rehearsal *r, const sm_injection *in) {
    r->wind_known = true;
    r->wind_m_s = in->wind_m_s;
    r->wind_at = r->now;
}

static void do_storm(sm_rehearsal *r, const sm_injection *in) {
    (void)in;
    r->incidents.storm = true;
}

static void do_fire(sm_rehearsal *r, const sm_injection *in) {
    r->fire_at[in->index] = true;
}

#define SOMEBODY "a person"

static void do_person_in(sm_rehearsal *r, const sm_injection *in) {
    (void)in;
    sm_simulated_field *field = &r->field;
    if (sm_field_person(field, SOMEBODY) == SM_NONE && field->people_count < SM_PEOPLE_MAX) {
        sm_person *person = &field->people[field->people_count++];
        *person = (sm_person){.name = SOMEBODY, .since = r->now};
    }
    sm_lapse_clear(r, SOMEBODY " went in");
}

static void do_person_out(sm_rehearsal *r, const sm_injection *in) {
    (void)in;
    sm_simulated_field *field = &r->field;
    uint32_t at = sm_field_person(field, SOMEBODY);
    if (at == SM_NONE)
        return;
    field->people_count--;
    memmove(&field->people[at], &field->people[at + 1], (field->people_count - at) * sizeof field->people[0]);
}

static void do_call(sm_rehearsal *r, const sm_injection *in) {
    sm_hear_call(r, in->who, in->text);
}

static void do_no_answer(sm_rehearsal *r, const sm_injection *in) {
    sm_hear_silence(r, in->who);
}

static void do_false_clear(sm_rehearsal *r, const sm_injection *in) {
    sm_hear_call(r, in->who, "Clear!"); // said, not checked: the guard takes only a clear that is called
}

static bool any_goes_on(const sm_show *show) {
    for (uint32_t m = 0; m < show->module_count; m++)
        if (show->modules[m].goes_on)
            return true;
    return false;
}

static void do_link_lost(sm_rehearsal *r, const sm_injection *in) {
    (void)in;
    if (r->incidents.link_lost)
        return;
    r->incidents.link_lost = true;
    r->incidents.link_state = r->state;
    r->incidents.link_at = r->now;
    r->link_lost_since_safe = true;
    if (r->state != SM_STATE_RUNNING)
        return;
    if (!any_goes_on(r->show)) {
        sm_pause_here(r);
        return;
    }
    sm_show_time stood_at = sm_place_now(r);
    for (uint32_t f = 0; f < r->show->fixture_count; f++)
        sm_hold_fixture_home(r, f, stood_at);
}

static void do_link_back(sm_rehearsal *r, const sm_injection *in) {
    (void)in;
    if (!r->incidents.link_lost)
        return;
    r->incidents.link_lost = false;
    r->incidents.link_at = r->now;
    if (r->wait_since.us != SM_UNSET_US) // nobody knew the module safe before
        r->wait_since = r->now;
}

static sm_remote_view *remote_of(sm_rehearsal *r, int32_t number) {
    sm_incidents *s = &r->incidents;
    for (uint32_t i = 0; i < s->remote_count; i++)
        if (s->remotes[i].number == number)
            return &s->remotes[i];
    if (s->remote_count == SM_REMOTES_MAX)
        return &s->remotes[SM_REMOTES_MAX - 1];
    s->remotes[s->remote_count] = (sm_remote_view){.number = number};
    return &s->remotes[s->remote_count++];
}

static void do_remote_unpaired(sm_rehearsal *r, const sm_injection *in) {
    remote_of(r, in->remote)->unpaired_heard = true;
}

static void do_remote_weak(sm_rehearsal *r, const sm_injection *in) {
    remote_of(r, in->remote)->weak = true;
}

static void do_remote_good(sm_rehearsal *r, const sm_injection *in) {
    *remote_of(r, in->remote) = (sm_remote_view){.number = in->remote};
}

static void do_sound_lost(sm_rehearsal *r, const sm_injection *in) {
    (void)in;
    r->incidents.sound_lost = true;
}

static void do_sound_back(sm_rehearsal *r, const sm_injection *in) {
    (void)in;
    r->incidents.sound_lost = false;
}

static void do_music_off(sm_rehearsal *r, const sm_injection *in) {
    r->incidents.music_off_us = in->us;
}

static const inject_fn functions[] = {
    [SM_INJECT_OPEN] = do_open,
    [SM_INJECT_SHORT] = do_short,
    [SM_INJECT_STRAY] = do_stray,
    [SM_INJECT_MENDED] = do_mended,
    [SM_INJECT_UNPLUG] = do_unplug,
    [SM_INJECT_MISFIRE] = do_misfire,
    [SM_INJECT_LATE] = do_late,
    [SM_INJECT_FIRES_ALONE] = do_fires_alone,
    [SM_INJECT_TIP] = do_tip,
    [SM_INJECT_REFUSE_ARM] = do_refuse_arm,
    [SM_INJECT_MODULE_READY] = do_module_ready,
    [SM_INJECT_FLAME_STUCK] = do_flame_stuck,
    [SM_INJECT_FLAME_OUT] = do_flame_out,
    [SM_INJECT_FEED_LOST] = do_feed_lost,
    [SM_INJECT_WIND] = do_wind,
    [SM_INJECT_STORM] = do_storm,
    [SM_INJECT_FIRE] = do_fire,
    [SM_INJECT_PERSON_IN] = do_person_in,
    [SM_INJECT_PERSON_OUT] = do_person_out,
    [SM_INJECT_CALL] = do_call,
    [SM_INJECT_NO_ANSWER] = do_no_answer,
    [SM_INJECT_FALSE_CLEAR] = do_false_clear,
    [SM_INJECT_LINK_LOST] = do_link_lost,
    [SM_INJECT_LINK_BACK] = do_link_back,
    [SM_INJECT_REMOTE_UNPAIRED] = do_remote_unpaired,
    [SM_INJECT_REMOTE_WEAK] = do_remote_weak,
    [SM_INJECT_REMOTE_GOOD] = do_remote_good,
    [SM_INJECT_SOUND_LOST] = do_sound_lost,
    [SM_INJECT_SOUND_BACK] = do_sound_back,
    [SM_INJECT_MUSIC_OFF] = do_music_off,
};
static_assert(sizeof functions / sizeof functions[0] == SM_INJECT_COUNT, "a function for each injection");

// ---- what can be seen of it -------------------------------------------------------------------

// Whose name stands in the line about an injection.
typedef enum named {
    NAMED_NOTHING,
    NAMED_SLOT,
    NAMED_RAIL,
    NAMED_MODULE,
    NAMED_FIXTURE,
    NAMED_FEED,
    NAMED_POSITION,
    NAMED_REMOTE,
    NAMED_WIND
} named;

// What the trainee is told. No row for what cannot be seen from outside the field: an open lead or a dud, which only a meter or the
// moment tells, and a call, which is shown when it is heard.
static const struct {
    const char *before;
    named named;
    const char *after;
} told[SM_INJECT_COUNT] = {
    [SM_INJECT_UNPLUG] = {"rail ", NAMED_RAIL, " shows unplugged"},
    [SM_INJECT_FIRES_ALONE] = {"", NAMED_SLOT, " went by itself"},
    [SM_INJECT_TIP] = {"what stands at ", NAMED_SLOT, " has tipped over"},
    [SM_INJECT_REFUSE_ARM] = {"module ", NAMED_MODULE, " says not ready"},
    [SM_INJECT_MODULE_READY] = {"module ", NAMED_MODULE, " says ready"},
    [SM_INJECT_FLAME_STUCK] = {"", NAMED_FIXTURE, " burns on although it was told to close"},
    [SM_INJECT_FLAME_OUT] = {"", NAMED_FIXTURE, " does not light"},
    [SM_INJECT_FEED_LOST] = {"feed ", NAMED_FEED, " is dead, and what hangs on it"},
    [SM_INJECT_WIND] = {"wind ", NAMED_WIND, " m/s"},
    [SM_INJECT_STORM] = {"thunder", NAMED_NOTHING, ""},
    [SM_INJECT_FIRE] = {"FIRE at ", NAMED_POSITION, ""},
    [SM_INJECT_PERSON_IN] = {"a person is seen in the field", NAMED_NOTHING, ""},
    [SM_INJECT_PERSON_OUT] = {"that person is seen coming out", NAMED_NOTHING, ""},
    [SM_INJECT_LINK_LOST] = {"link lost: treat as armed", NAMED_NOTHING, ""},
    [SM_INJECT_LINK_BACK] = {"link back; it resumes nothing", NAMED_NOTHING, ""},
    [SM_INJECT_REMOTE_UNPAIRED] = {"remote ", NAMED_REMOTE, " heard, not paired"},
    [SM_INJECT_REMOTE_WEAK] = {"remote ", NAMED_REMOTE, " battery low"},
    [SM_INJECT_REMOTE_GOOD] = {"remote ", NAMED_REMOTE, " battery good"},
    [SM_INJECT_SOUND_LOST] = {"the music has stopped", NAMED_NOTHING, ""},
    [SM_INJECT_SOUND_BACK] = {"the music is back", NAMED_NOTHING, ""},
};

static const char *name_in(const sm_show *show, const sm_injection *in, char buffer[48]) {
    switch (told[in->what].named) {
    case NAMED_NOTHING:
        break;
    case NAMED_SLOT:
        return sm_slot_format(show, in->index, buffer);
    case NAMED_RAIL:
        return show->rails[in->index].name;
    case NAMED_MODULE:
        return show->modules[in->index].name;
    case NAMED_FIXTURE:
        return show->fixtures[in->index].name;
    case NAMED_FEED:
        return show->feeds[in->index].name;
    case NAMED_POSITION:
        return show->positions[in->index].name;
    case NAMED_REMOTE:
        snprintf(buffer, 48, "%d", in->remote);
        return buffer;
    case NAMED_WIND:
        snprintf(buffer, 48, "%.1f", in->wind_m_s);
        return buffer;
    }
    return "";
}

bool sm_injection_tell(const sm_show *show, const sm_injection *in, sm_text *out) {
    char name[48];
    assert((unsigned)in->what < SM_INJECT_COUNT);
    if (!told[in->what].before)
        return false;
    sm_text_printf(out, "%s%s%s", told[in->what].before, name_in(show, in, name), told[in->what].after);
    return true;
}

static void show_latest(sm_rehearsal *r, const sm_injection *in) {
    char line_room[SM_WORDS_ROOM] = "";
    sm_text line = SM_TEXT_IN(line_room);
    if (sm_injection_tell(r->show, in, &line)) {
        if (in->what == SM_INJECT_LINK_LOST)
            sm_text_printf(&line, ", last known %s", sm_state_text(r->incidents.link_state));
        sm_copy_cut(r->incidents.latest, sizeof r->incidents.latest, sm_text_get(&line));
        r->incidents.latest_at = r->now;
    }
    sm_text_deinit(&line);
}

// Nothing starts by itself after anything happened that can be seen or heard, but what makes things better.
static void cancel_start(sm_rehearsal *r, const sm_injection *in) {
    static const bool better[SM_INJECT_COUNT] = {[SM_INJECT_MODULE_READY] = true,
                                                 [SM_INJECT_PERSON_OUT] = true,
                                                 [SM_INJECT_LINK_BACK] = true,
                                                 [SM_INJECT_REMOTE_GOOD] = true,
                                                 [SM_INJECT_SOUND_BACK] = true};
    char line_room[SM_WORDS_ROOM] = "";
    sm_text line = SM_TEXT_IN(line_room);
    bool seen = sm_injection_tell(r->show, in, &line);
    bool heard =
        in->what == SM_INJECT_CALL || in->what == SM_INJECT_NO_ANSWER || in->what == SM_INJECT_FALSE_CLEAR;
    if (heard)
        sm_text_printf(&line, "%s: %s", r->incidents.call_who, r->incidents.call_text);
    if ((seen || heard) && !better[in->what])
        sm_start_cancel(r, sm_text_get(&line));
    sm_text_deinit(&line);
}

sm_result sm_rehearsal_inject(sm_rehearsal *r, const char *name, const sm_injection *in, sm_wall_time at) {
    assert((unsigned)in->what < SM_INJECT_COUNT && functions[in->what]);
    sm_result result = sm_rehearsal_bring(r, at);
    if (result == SM_OK)
        result = sm_burning_reserve(r);
    if (result != SM_OK)
        return result;
    char detail_room[SM_WORDS_ROOM] = "";
    sm_text detail = SM_TEXT_IN(detail_room);
    if (in->what == SM_INJECT_CALL)
        sm_text_printf(&detail, "call %s %s", in->who, in->text);
    sm_rehearsal_drill_row(r, (sm_log_kind){.what = SM_LOG_EVENT}, name,
                           in->what == SM_INJECT_CALL ? sm_row_words(r, &detail) : in->text);
    sm_text_deinit(&detail);
    functions[in->what](r, in);
    show_latest(r, in);
    cancel_start(r, in);
    r->alerts_changed = true;
    sm_alerts_tell(r);
    return SM_OK;
}

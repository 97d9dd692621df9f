// SPDX-License-Identifier: GPL-3.0-or-later
// What each action does. A function a row; each checks what only it knows, logs the action's row, then acts.
#include "engine/act_call.h"
#include "engine/proposals.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

// ---- key, clear, states -----------------------------------------------------------------

static sm_result key_on(const sm_act_call *c) {
    sm_act_log(c);
    c->r->key = true;
    c->r->key_at = c->r->now;
    return SM_OK;
}

static sm_result key_off(const sm_act_call *c) {
    sm_act_log(c);
    c->r->key = false;
    c->r->key_at = c->r->now;
    sm_make_safe(c->r, "key off");
    return SM_OK;
}

static sm_result call_clear(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    if (r->field.people_count > 0) {
        sm_guard_status field = sm_guard_look(r, SM_GUARD_FIELD);
        return sm_act_refuse(c, "field: %s", field.why);
    }
    sm_act_log(c);
    r->clear_called = true;
    r->clear_at = r->now;
    r->clear_lapse[0] = '\0';
    if (r->incidents.calls_open > r->incidents.silent_open) // all who had answered have been heard
        r->incidents.calls_open = r->incidents.silent_open;
    snprintf(r->clear_who, sizeof r->clear_who, "%s", c->action->target);
    return SM_OK;
}

#define ASKS(guard) (1u << SM_GUARD_##guard)
#define ASKS_PEOPLE SM_ASKED_PEOPLE
#define ONLY_PEOPLE "a real module would not refuse, only people check this"

// Refuses when one of the guards ASKED is not met.
static bool guards_refuse(const sm_act_call *c, unsigned asked, const char *adds) {
    char names_room[SM_WORDS_ROOM] = "", why_room[SM_WORDS_ROOM] = "";
    sm_text names = SM_TEXT_IN(names_room), why = SM_TEXT_IN(why_room);
    bool refused = sm_guards_refuse(c->r, asked, &names, &why);
    if (refused) {
        const char *between = adds[0] != '\0' ? "; " : "";
        sm_text_printf(&names, "%s%s", between, adds);
        sm_text_printf(&why, "%s%s", between, adds);
        sm_copy_cut(c->r->refusal, sizeof c->r->refusal, sm_text_get(&why));
        sm_log_refused(c->r, c->action, c->source, sm_row_words(c->r, &names));
    }
    sm_text_deinit(&names);
    sm_text_deinit(&why);
    return refused;
}

static void forget_passed(sm_rehearsal *r) {
    for (uint32_t slot = 0; slot < r->show->slot_count; slot++) {
        sm_field_slot *s = &r->field.slots[slot];
        if (s->outcome == SM_OUTCOME_PASSED || s->outcome == SM_OUTCOME_HELD)
            s->outcome = SM_OUTCOME_NONE;
    }
}

static sm_result arm(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    if (guards_refuse(c, ASKS_PEOPLE | ASKS(RAILS) | ASKS(READINGS), ""))
        return SM_REFUSED;
    if (sm_refusing_module(r))
        return sm_act_refuse(c, "module %s refuses to arm and does not say why", sm_refusing_module(r));
    sm_act_log(c);
    r->made_safe_at[0] = r->start_cancelled[0] = '\0';
    if (!r->place_set)
        forget_passed(r);
    r->arming_ends.us = r->now.us + r->show->settings.arm_time_us;
    sm_enter_state(r, SM_STATE_ARMING, r->place);
    return SM_OK;
}

// The timecode lets nothing start.
static bool timecode_refuses(const sm_act_call *c, sm_result *result) {
    char room[256] = "";
    sm_text why = SM_TEXT_IN(room);
    const bool refuses = sm_timecode_refuses(&c->r->timecode, c->r->show, c->r->now, &why);
    if (refuses)
        *result = sm_act_refuse(c, "%s", sm_text_get(&why));
    sm_text_deinit(&why);
    return refuses;
}

// As the operator wants it, from the place or along the timecode.
static void run(sm_rehearsal *r, bool resume) {
    if (r->timecode.state == SM_TIMECODE_OFF)
        sm_run_from_place(r, resume);
    else
        sm_run_along_timecode(r);
}

static sm_result start(const sm_act_call *c) {
    sm_result refused;
    if (guards_refuse(c, ASKS_PEOPLE, ONLY_PEOPLE))
        return SM_REFUSED;
    if (timecode_refuses(c, &refused))
        return refused;
    sm_act_log(c);
    sm_start_cancel(c->r, "started by hand");
    c->r->start_cancelled[0] = '\0';
    run(c->r, false);
    return SM_OK;
}

static sm_result start_in(const sm_act_call *c) {
    if (c->action->moment_us < SM_US_PER_S || c->action->moment_us > SM_START_IN_MAX_US)
        return sm_act_refuse(c, "%s is outside 1 s to 24 h", c->action->target);
    if (guards_refuse(c, ASKS_PEOPLE, ONLY_PEOPLE))
        return SM_REFUSED;
    if (c->r->wind_known && c->r->wind_m_s > c->r->show->settings.wind_limit_m_s) // false where it is not set
        return sm_act_refuse(c, "wind over your limit: nothing starts by itself");
    sm_act_log(c);
    sm_start_set(c->r, c->action->moment_us);
    return SM_OK;
}

static sm_result start_in_off(const sm_act_call *c) {
    sm_act_log(c);
    sm_start_cancel(c->r, "taken back");
    c->r->start_cancelled[0] = '\0';
    return SM_OK;
}

static sm_result pause_show(const sm_act_call *c) {
    sm_act_log(c);
    sm_pause_here(c->r);
    return SM_OK;
}

static sm_result resume(const sm_act_call *c) {
    sm_result refused;
    if (guards_refuse(c, ASKS_PEOPLE, ONLY_PEOPLE))
        return SM_REFUSED;
    if (timecode_refuses(c, &refused))
        return refused;
    sm_act_log(c);
    run(c->r, true);
    return SM_OK;
}

static sm_result make_safe(const sm_act_call *c) {
    sm_act_log(c);
    sm_make_safe(c->r, "made safe");
    return SM_OK;
}

static sm_result quit(const sm_act_call *c) {
    sm_act_log(c);
    sm_make_safe(c->r, "quit");
    c->r->quit = true;
    return SM_OK;
}

// ---- places and speed ---------------------------------------------------------------------

static bool find_moment(const sm_act_call *c, sm_us given, const char *name, sm_show_time *out) {
    out->us = given;
    if (given != SM_UNSET_US)
        return true;
    for (uint32_t i = 0; i < c->r->mark_count; i++)
        if (strcmp(c->r->marks[i].name, name) == 0) {
            *out = c->r->marks[i].at;
            return true;
        }
    return false;
}

static sm_result seek(const sm_act_call *c) {
    sm_show_time to;
    if (!find_moment(c, c->action->moment_us, c->action->target, &to))
        return sm_act_refuse(c, "no mark %s", c->action->target);
    char length[24];
    if (to.us < 0 || to.us > c->r->show->length_us)
        return sm_act_refuse(c, "%s is outside the show: 0 to %s", c->action->target,
                             sm_clock_format(length, c->r->show->length_us));
    sm_act_log(c);
    sm_start_cancel(c->r, "another place was set");
    sm_seek_to(c->r, to);
    return SM_OK;
}

static sm_result speed(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    if (c->action->speed_ppm < 100000 || c->action->speed_ppm > 2000000)
        return sm_act_refuse(c, "speed %s is outside 0.1 to 2", c->action->target);
    sm_act_log(c);
    sm_start_cancel(r, "the speed was changed");
    r->clock = (sm_show_clock){r->now, sm_show_now(r), c->action->speed_ppm, r->state == SM_STATE_RUNNING};
    return SM_OK;
}

// A shorter one would be little but jumps; nobody can follow it by ear or eye.
#define SHORTEST_REPEAT_US (SM_US_PER_S / 10)

static sm_result repeat(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    char second[96];
    size_t n = strcspn(c->action->detail, " ");
    snprintf(second, sizeof second, "%.*s", (int)n, c->action->detail);
    sm_show_time from, to;
    if (!find_moment(c, c->action->moment_us, c->action->target, &from))
        return sm_act_refuse(c, "no mark %s", c->action->target);
    if (!find_moment(c, c->action->end_us, second, &to))
        return sm_act_refuse(c, "no mark %s", second);
    if (from.us < 0 || to.us > r->show->length_us || from.us >= to.us)
        return sm_act_refuse(c, "repeat goes from an earlier to a later moment within the show");
    if (to.us - from.us < SHORTEST_REPEAT_US)
        return sm_act_refuse(c, "a repeat is at least 0.1 s long");
    sm_act_log(c);
    sm_start_cancel(r, "a repeat was set");
    r->repeat_on = true;
    r->repeat_rerig = c->action->rerig;
    r->repeat_from = from;
    r->repeat_to = to;
    sm_repeat_look(r);
    return SM_OK;
}

static sm_result repeat_off(const sm_act_call *c) {
    sm_act_log(c);
    c->r->repeat_on = false;
    sm_repeat_look(c->r);
    return SM_OK;
}

// ---- undo ---------------------------------------------------------------------------------

static sm_result undo(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    if (r->undo_count == 0)
        return sm_act_refuse(c, "no reading, mark, tick, note or proposal to take back");
    uint32_t asked = c->action->count > 0 ? (uint32_t)c->action->count : 1;
    uint32_t count = asked < r->undo_count ? asked : r->undo_count;
    const sm_undo *last = &r->undos[r->undo_count - 1];
    char what[96], slot[48] = "", more[32] = "";
    if (last->act == SM_ACT_READ)
        sm_slot_format(r->show, last->slot, slot);
    if (count > 1)
        snprintf(more, sizeof more, " and %u before it", count - 1);
    snprintf(what, sizeof what, "%s%s%s%s", sm_action_row_of(last->act)->name, slot[0] != '\0' ? " " : "",
             slot, more);
    for (uint32_t i = 0; i < count; i++)
        sm_undo_take_back(r);
    sm_log_action(r, c->action, c->source, what);
    return SM_OK;
}

static sm_result mark(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    if (r->mark_count == SM_MARKS_MAX)
        return sm_act_refuse(c, "%d marks are the most: undo takes the last one back", SM_MARKS_MAX);
    sm_act_log(c);
    sm_mark *m = &r->marks[r->mark_count++];
    snprintf(m->name, sizeof m->name, "%s", c->action->target);
    m->at = r->preview.on ? sm_preview_place(&r->preview, r->now) : sm_show_now(r);
    sm_undo_remember(r, (sm_undo){.act = SM_ACT_MARK});
    return SM_OK;
}

static sm_result tick_or_note(const sm_act_call *c) {
    sm_act_log(c);
    sm_undo_remember(c->r, (sm_undo){.act = c->action->act});
    return SM_OK;
}

// Who sits there is known outside; here it is a row. From elsewhere it says what became of the seat.
static sm_result seat(const sm_act_call *c) {
    if (c->source != SM_SOURCE_SEAT && strcmp(c->action->detail, "free") != 0)
        return sm_act_refuse(c, "write: seat %.40s free", c->action->target);
    sm_act_log(c);
    return SM_OK;
}

// ---- inhibit ------------------------------------------------------------------------------

static sm_result inhibit(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    if (sm_inhibit_find(r, c->action->target) == SM_NONE && r->inhibit_count == SM_INHIBITS_MAX)
        return sm_act_refuse(c, "%d names are the most: inhibit a rail, a group, a position or a zone",
                             SM_INHIBITS_MAX);
    sm_act_log(c);
    sm_inhibit_add(r, c->action->target);
    sm_inhibits_apply(r);
    return SM_OK;
}

static sm_result allow(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    uint32_t at = sm_inhibit_find(r, c->action->target);
    sm_act_log(c);
    if (at == SM_NONE)
        return SM_OK; // what another name holds stays held
    sm_inhibit_remove(r, at);
    sm_inhibits_apply(r);
    return SM_OK;
}

// ---- sound ----------------------------------------------------------------------------------

static sm_result volume(const sm_act_call *c) {
    if (!(c->action->number >= 0 && c->action->number <= 100))
        return sm_act_refuse(c, "volume %s is outside 0 to 100 %%", c->action->target);
    sm_act_log(c);
    c->r->volume = c->action->number;
    return SM_OK;
}

static sm_result mute(const sm_act_call *c) {
    sm_act_log(c);
    c->r->muted = !c->r->muted;
    return SM_OK;
}

// Its row comes when the folder has been read.
static sm_result reload(const sm_act_call *c) {
    sm_rehearsal *r = c->r;
    char slot[48];
    if (r->burning_count > 0)
        return sm_act_refuse(c, "%s still burns: read the folder again when it is out",
                             sm_slot_format(r->show, r->burning[0].slot, slot));
    r->reload_asked = true;
    r->reload_source = c->source;
    return SM_OK;
}

static sm_result propose(const sm_act_call *c) {
    char why[160];
    if (!sm_propose(c->r, c->action, why))
        return sm_act_refuse(c, "%s", why);
    sm_act_log(c);
    return SM_OK;
}

static sm_result listen(const sm_act_call *c) {
    char why[160];
    if (!sm_preview_begin(c->r, c->action, why))
        return sm_act_refuse(c, "%s", why);
    sm_log_action(c->r, c->action, c->source, why);
    return SM_OK;
}

static sm_result listen_off(const sm_act_call *c) {
    sm_act_log(c);
    c->r->preview = (sm_preview){0};
    return SM_OK;
}

// Its row comes when the folder has been read with it.
static sm_result apply(const sm_act_call *c) {
    char why[160];
    return sm_apply_ask(c->r, c->source, why) ? SM_OK : sm_act_refuse(c, "%s", why);
}

static sm_result only_row(const sm_act_call *c) {
    sm_act_log(c);
    return SM_OK;
}

// ---- the table --------------------------------------------------------------------------------

static sm_act_fn *const functions[] = {
    [SM_ACT_KEY_ON] = key_on,
    [SM_ACT_KEY_OFF] = key_off,
    [SM_ACT_CALL_CLEAR] = call_clear,
    [SM_ACT_ARM] = arm,
    [SM_ACT_START] = start,
    [SM_ACT_START_IN] = start_in,
    [SM_ACT_START_IN_OFF] = start_in_off,
    [SM_ACT_PAUSE] = pause_show,
    [SM_ACT_RESUME] = resume,
    [SM_ACT_HOLD] = sm_act_hold,
    [SM_ACT_LIFT] = sm_act_lift,
    [SM_ACT_SAFE] = make_safe,
    [SM_ACT_SEEK] = seek,
    [SM_ACT_SPEED] = speed,
    [SM_ACT_REPEAT] = repeat,
    [SM_ACT_REPEAT_OFF] = repeat_off,
    [SM_ACT_MARK] = mark,
    [SM_ACT_RERIG] = sm_act_rerig,
    [SM_ACT_INHIBIT] = inhibit,
    [SM_ACT_ALLOW] = allow,
    [SM_ACT_PLUG] = sm_act_plug,
    [SM_ACT_UNPLUG] = sm_act_unplug,
    [SM_ACT_EXCHANGE] = sm_act_exchange,
    [SM_ACT_REPAIR] = sm_act_repair,
    [SM_ACT_ENTER] = sm_act_enter,
    [SM_ACT_LEAVE] = sm_act_leave,
    [SM_ACT_MEASURE] = sm_act_measure,
    [SM_ACT_READ] = sm_act_read_slot,
    [SM_ACT_KEEP_READINGS] = only_row, // who runs the rehearsal keeps them
    [SM_ACT_REPORT] = sm_act_report,
    [SM_ACT_WIND] = sm_act_wind,
    [SM_ACT_WAIVE] = sm_act_waive,
    [SM_ACT_TICK] = tick_or_note,
    [SM_ACT_SIGN] = only_row,
    [SM_ACT_NOTE] = tick_or_note,
    [SM_ACT_SEAT] = seat,
    [SM_ACT_PAPER] = only_row, // who runs the rehearsal writes it
    [SM_ACT_PROPOSE] = propose,
    [SM_ACT_LISTEN] = listen,
    [SM_ACT_LISTEN_OFF] = listen_off,
    [SM_ACT_APPLY] = apply,
    [SM_ACT_UNDO] = undo,
    [SM_ACT_RELOAD] = reload,
    [SM_ACT_VOLUME] = volume,
    [SM_ACT_MUTE] = mute,
    [SM_ACT_LIGHTS_ON] = only_row, // who runs the rehearsal has them
    [SM_ACT_LIGHTS_ANSWER] = only_row,
    [SM_ACT_LIGHTS_OFF] = only_row,
    [SM_ACT_HINT] = only_row,
    [SM_ACT_TRIGGER] = only_row,
    [SM_ACT_CALL] = sm_act_speak,
    [SM_ACT_ANSWER] = sm_act_answer,
    [SM_ACT_ASK] = only_row,
    [SM_ACT_INJECT] = only_row,
    [SM_ACT_JUDGE] = only_row,
    [SM_ACT_REMARK] = only_row,
    [SM_ACT_PASS_TIME] = sm_act_pass_time,
    [SM_ACT_HOLD_DRILL] = only_row,
    [SM_ACT_GO_DRILL] = only_row,
    [SM_ACT_QUIT] = quit,
};
static_assert(sizeof functions / sizeof functions[0] == SM_ACT_COUNT, "a function for each action");

static sm_result refuse_state(const sm_act_call *c, const sm_action_row *row) {
    char states_room[SM_WORDS_ROOM] = "";
    sm_text states = SM_TEXT_IN(states_room);
    for (int state = 0; state < SM_STATE_COUNT; state++)
        if (row->states & 1u << state)
            sm_text_printf(&states, "%s%s", states.length > 0 ? ", " : "", sm_state_text((sm_state)state));
    sm_result result =
        sm_act_refuse(c, "not while %s; allowed in: %s", sm_state_text(c->r->state), sm_text_get(&states));
    sm_text_deinit(&states);
    return result;
}

static sm_result refuse_held(const sm_act_call *c) {
    const sm_hold *hold = &c->r->holds[0];
    char why_room[SM_WORDS_ROOM] = "";
    sm_text why = SM_TEXT_IN(why_room);
    sm_hold_describe(hold->who, hold->why, c->r->hold_count, &why);
    sm_result result = sm_act_refuse(c, "%s", sm_text_get(&why));
    sm_text_deinit(&why);
    return result;
}

sm_result sm_act_do(sm_rehearsal *r, const sm_action *action, sm_source source) {
    assert((unsigned)action->act < SM_ACT_COUNT && functions[action->act]);
    const sm_act_call c = {r, action, source};
    const sm_action_row *row = sm_action_row_of(action->act);
    if (row->drill_only && !r->options.drill)
        return sm_act_refuse(&c, "only in a drill");
    if (row->no_drill && r->options.drill)
        return sm_act_refuse(&c, "not in a drill: end it first");
    if (sm_timecode_keeps(&r->timecode, action->act))
        return sm_act_refuse(&c, "place and pace come with the timecode (--timecode-in)");
    if ((row->states & 1u << r->state) == 0)
        return refuse_state(&c, row);
    bool goes_on = action->act == SM_ACT_ARM || action->act == SM_ACT_START ||
                   action->act == SM_ACT_START_IN || action->act == SM_ACT_RESUME;
    if (r->incidents.link_lost && (goes_on || source == SM_SOURCE_REMOTE))
        return sm_act_refuse(&c, "the link is lost: the module does not hear it; treat as armed");
    if (goes_on && r->hold_count > 0)
        return refuse_held(&c);
    return functions[action->act](&c);
}

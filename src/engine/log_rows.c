// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/rehearsal.h"

#include "slowmatch/inject.h"

#include <assert.h>
#include <stdio.h>
#include <string.h>

void sm_copy_cut(char *out, size_t room, const char *text) {
    size_t length = strlen(text);
    if (length < room) {
        memcpy(out, text, length + 1);
        return;
    }
    length = 0;
    while (text[length] != '\0') {
        size_t next = sm_utf8_length(text + length, strnlen(text + length, 4));
        next = next > 0 ? next : 1;
        if (length + next >= room)
            break;
        length += next;
    }
    memcpy(out, text, length);
    out[length] = '\0';
}

const char *sm_row_words(sm_rehearsal *r, const sm_text *words) {
    r->words_lost |= words->failed;
    return sm_text_get(words);
}

bool sm_rehearsal_lost_words(sm_rehearsal *r) {
    const bool lost = r->words_lost;
    r->words_lost = false;
    return lost;
}

static void put(sm_rehearsal *r, sm_log_row row) {
    if (!r->options.sink)
        return;
    row.wall.us = r->now.us > r->issued.us ? r->now.us : r->issued.us;
    row.late_us = row.wall.us - r->now.us;
    row.cue = row.cue ? row.cue : "";
    row.target = row.target ? row.target : "";
    row.detail = row.detail ? row.detail : "";
    r->options.sink(r->options.sink_context, &row);
}

static sm_log_row row_now(const sm_rehearsal *r, sm_source source, sm_log_kind kind) {
    bool in_show = r->state == SM_STATE_RUNNING || r->state == SM_STATE_PAUSED || r->state == SM_STATE_ENDED;
    return (sm_log_row){
        .has_show = in_show || r->place_set, .show = sm_show_now(r), .source = source, .kind = kind};
}

static void log_event(sm_rehearsal *r, sm_log_kind kind, uint32_t event, const sm_show_time *show,
                      const char *target, const char *detail) {
    char id[12];
    sm_log_row row = row_now(r, SM_SOURCE_ENGINE, kind);
    row.cue = sm_cue_id(r->show, r->show->events[event].cue, id);
    if (show) {
        row.has_show = true;
        row.show = *show;
    }
    row.target = target;
    row.detail = detail;
    put(r, row);
}

void sm_log_event(sm_rehearsal *r, sm_log_what what, uint32_t event, const sm_show_time *show,
                  const char *target, const char *detail) {
    log_event(r, (sm_log_kind){.what = what}, event, show, target, detail);
}

void sm_log_fired(sm_rehearsal *r, sm_fired fired, uint32_t event, const sm_show_time *show,
                  const char *target, const char *effect) {
    static const char *const adds[] = {
        [SM_FIRED_WHEN_DUE] = "", [SM_FIRED_LATE] = " late", [SM_FIRED_BY_ITSELF] = " by itself"};
    static_assert(sizeof adds / sizeof adds[0] == SM_FIRED_COUNT, "words for each way to go");
    char detail_room[SM_WORDS_ROOM] = "";
    sm_text detail = SM_TEXT_IN(detail_room);
    sm_text_printf(&detail, "%s%s", effect, adds[fired]);
    log_event(r, (sm_log_kind){.what = SM_LOG_FIRE, .fired = fired}, event, show, target,
              sm_row_words(r, &detail));
    sm_text_deinit(&detail);
}

static void log_from(sm_rehearsal *r, sm_source source, const char *seat, sm_log_kind kind,
                     const char *target, const char *detail) {
    sm_log_row row = row_now(r, source, kind);
    row.seat = seat;
    row.target = target;
    row.detail = detail;
    put(r, row);
}

static void log_of(sm_rehearsal *r, sm_source source, sm_log_kind kind, const char *target,
                   const char *detail) {
    log_from(r, source, NULL, kind, target, detail);
}

void sm_log_plain(sm_rehearsal *r, sm_log_what what, const char *target, const char *detail) {
    log_of(r, SM_SOURCE_ENGINE, (sm_log_kind){.what = what}, target, detail);
}

void sm_log_state(sm_rehearsal *r, sm_state state, sm_state old) {
    log_of(r, SM_SOURCE_ENGINE, (sm_log_kind){.what = SM_LOG_STATE, .state = state}, sm_state_text(state),
           sm_state_text(old));
}

void sm_log_alert(sm_rehearsal *r, int rank, const char *name, const char *detail) {
    log_of(r, SM_SOURCE_ENGINE, (sm_log_kind){.what = SM_LOG_ALERT, .rank = rank}, name, detail);
}

void sm_log_goes_on(sm_rehearsal *r, sm_act act, const char *target, const char *detail) {
    log_of(r, SM_SOURCE_ENGINE, (sm_log_kind){.act = act}, target, detail);
}

void sm_rehearsal_drill_row(sm_rehearsal *r, sm_log_kind kind, const char *target, const char *detail) {
    log_of(r, SM_SOURCE_DRILL, kind, target, detail);
}

void sm_log_action(sm_rehearsal *r, const sm_action *action, sm_source source, const char *detail) {
    log_from(r, source, action->seat, (sm_log_kind){.act = action->act}, action->target,
             detail ? detail : action->detail);
}

void sm_log_refused(sm_rehearsal *r, const sm_action *action, sm_source source, const char *detail) {
    log_from(r, source, action->seat, (sm_log_kind){.what = SM_LOG_REFUSED, .act = action->act},
             sm_act_word(action->act), detail);
}

void sm_log_unpaired(sm_rehearsal *r, const sm_action *action, const char *number) {
    log_of(r, SM_SOURCE_REMOTE, (sm_log_kind){.what = SM_LOG_UNPAIRED, .act = action->act},
           sm_act_word(action->act), number);
}

void sm_log_guard(sm_rehearsal *r, sm_guard guard, sm_guard_word word, const char *why) {
    char detail[220];
    snprintf(detail, sizeof detail, "%s, %s", sm_guard_word_text(word), why);
    sm_log_plain(r, SM_LOG_GUARD, sm_guard_text(guard), detail);
}

// SPDX-License-Identifier: GPL-3.0-or-later
#include "engine/rehearsal.h"

#include <stdio.h>
#include <string.h>

void sm_copy_cut(char *out, size_t room, const char *text) {
    size_t length = 0;
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

void sm_log_row_format(sm_text *out, const sm_log_row *row) {
    char wall[24], show[24];
    sm_text_printf(out, "%s,%s,%s,", sm_us_format(wall, row->wall.us),
                   row->has_show ? sm_us_format(show, row->show.us) : "", sm_source_text(row->source));
    const char *const fields[] = {row->what, row->cue, row->target, row->detail};
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        sm_text_append_csv(out, fields[i]);
        sm_text_append(out, ",", 1);
    }
    sm_text_printf(out, "%lld\n", (long long)row->late_us);
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

static sm_log_row row_now(const sm_rehearsal *r, sm_source source, const char *what) {
    bool in_show = r->state == SM_STATE_RUNNING || r->state == SM_STATE_PAUSED || r->state == SM_STATE_ENDED;
    return (sm_log_row){
        .has_show = in_show || r->place_set, .show = sm_show_now(r), .source = source, .what = what};
}

void sm_log_event(sm_rehearsal *r, const char *what, uint32_t event, const sm_show_time *show,
                  const char *target, const char *detail) {
    char id[12];
    sm_log_row row = row_now(r, SM_SOURCE_ENGINE, what);
    row.cue = sm_cue_id(r->show, r->show->events[event].cue, id);
    if (show) {
        row.has_show = true;
        row.show = *show;
    }
    row.target = target;
    row.detail = detail;
    put(r, row);
}

static void log_of(sm_rehearsal *r, sm_source source, const char *what, const char *target,
                   const char *detail) {
    sm_log_row row = row_now(r, source, what);
    row.target = target;
    row.detail = detail;
    put(r, row);
}

void sm_log_plain(sm_rehearsal *r, const char *what, const char *target, const char *detail) {
    log_of(r, SM_SOURCE_ENGINE, what, target, detail);
}

void sm_log_drill(sm_rehearsal *r, const char *what, const char *target, const char *detail) {
    log_of(r, SM_SOURCE_DRILL, what, target, detail);
}

static void first_word(const char *name, char word[24]) {
    snprintf(word, 24, "%.*s", (int)strcspn(name, " "), name);
}

void sm_log_action(sm_rehearsal *r, const sm_action *action, sm_source source, const char *detail) {
    char what[24];
    first_word(sm_action_row_of(action->act)->name, what);
    sm_log_row row = row_now(r, source, what);
    row.target = action->target;
    row.detail = detail ? detail : action->detail;
    put(r, row);
}

// A row in place of the action's own.
static void in_place_of(sm_rehearsal *r, const char *word, const sm_action *action, sm_source source,
                        const char *detail) {
    char what[24];
    first_word(sm_action_row_of(action->act)->name, what);
    sm_log_row row = row_now(r, source, word);
    row.target = what;
    row.detail = detail;
    put(r, row);
}

void sm_log_refused(sm_rehearsal *r, const sm_action *action, sm_source source, const char *detail) {
    in_place_of(r, "refused", action, source, detail);
}

void sm_log_unpaired(sm_rehearsal *r, const sm_action *action, const char *number) {
    in_place_of(r, "unpaired", action, SM_SOURCE_REMOTE, number);
}

void sm_log_guard(sm_rehearsal *r, sm_guard guard, sm_guard_word word, const char *why) {
    char detail[220];
    snprintf(detail, sizeof detail, "%s, %s", sm_guard_word_text(word), why);
    sm_log_plain(r, "guard", sm_guard_text(guard), detail);
}

// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/walk_answers.h"

#include "session/inside.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// Signatures grow old: judged again this often at least.
#define JUDGE_AGAIN_US (10 * SM_US_PER_S)

// Rows of one kind that were said, earlier walks first.
typedef struct said_rows {
    void *rows; // in the arena
    size_t count;
} said_rows;

struct sm_walkthrough {
    char *logbook_path;
    const sm_show *show;   // of the list
    double wind_limit_m_s; // of that show, which may be gone
    sm_walk_list *list;
    sm_walk *walk;
    sm_arena *texts;
    said_rows ticks, signs, changes;
    size_t earlier; // ticks of other rehearsals: `undo` leaves them
    uint64_t seen;  // rows of the log
    sm_us judged_us;
    bool stale, has_earlier;
    const sm_findings *findings;
    bool wind_known;
    double wind_m_s;
    sm_verdict *verdicts; // of each slot, as last judged
    sm_unix_us *read_us;  // of each slot, SM_UNSET_US: not read in this rehearsal
    char waivers[SM_GUARD_COUNT][200];
};

sm_result sm_walkthrough_create(const char *logbook_path, sm_walkthrough **out) {
    sm_walkthrough *w = calloc(1, sizeof *w);
    if (!w)
        return SM_NO_MEMORY;
    w->texts = sm_arena_create();
    w->logbook_path = logbook_path ? strdup(logbook_path) : NULL;
    if (!w->texts || (logbook_path && !w->logbook_path)) {
        sm_walkthrough_destroy(w);
        return SM_NO_MEMORY;
    }
    *out = w;
    return SM_OK;
}

void sm_walkthrough_destroy(sm_walkthrough *w) {
    if (!w)
        return;
    sm_walk_destroy(w->walk);
    sm_walk_list_destroy(w->list);
    sm_arena_destroy(w->texts);
    free(w->verdicts);
    free(w->read_us);
    free(w->logbook_path);
    free(w);
}

// ---- what was said ------------------------------------------------------------------------

// False: no memory, the row is left out.
static bool add(sm_walkthrough *w, said_rows *to, const void *row, size_t size) {
    void *grown = sm_arena_grow(w->texts, to->rows, to->count, size);
    if (!grown)
        return false;
    to->rows = grown;
    memcpy((char *)to->rows + to->count++ * size, row, size);
    return true;
}

static void read_earlier(sm_walkthrough *w, const char *title) {
    sm_logbook *logbook = NULL;
    sm_walk_past past = {0};
    char why[400];
    w->ticks = w->signs = w->changes = (said_rows){0};
    if (w->logbook_path && sm_logbook_open(w->logbook_path, false, why, &logbook) == SM_OK &&
        sm_logbook_walk_past(logbook, title, w->texts, &past) == SM_OK) {
        for (size_t i = 0; i < past.tick_count; i++)
            add(w, &w->ticks, &past.ticks[i], sizeof past.ticks[i]);
        for (size_t i = 0; i < past.sign_count; i++)
            add(w, &w->signs, &past.signs[i], sizeof past.signs[i]);
        for (size_t i = 0; i < past.change_count; i++)
            add(w, &w->changes, &past.changes[i], sizeof past.changes[i]);
    }
    w->earlier = w->ticks.count;
    w->has_earlier = true;
    sm_logbook_close(logbook);
}

static void take_row(sm_walkthrough *w, const sm_walk_seen *seen, const sm_recent_row *row) {
    sm_walk_said said;
    if (row->source == SM_SOURCE_ENGINE ||
        sm_walk_row_read(w->list, w->wind_limit_m_s, row->kind, row->target, row->detail,
                         seen->launch_us + row->wall.us, w->texts, &said) != SM_OK)
        return;
    w->stale |= said.kind != SM_WALK_SAID_NOTHING;
    switch (said.kind) {
    case SM_WALK_SAID_NOTHING:
        break;
    case SM_WALK_SAID_TICK:
        add(w, &w->ticks, &said.tick, sizeof said.tick);
        break;
    case SM_WALK_SAID_UNTICK:
        w->ticks.count -= w->ticks.count > w->earlier;
        break;
    case SM_WALK_SAID_SIGN:
        add(w, &w->signs, &said.sign, sizeof said.sign);
        break;
    case SM_WALK_SAID_CHANGE:
        add(w, &w->changes, &said.change, sizeof said.change);
        break;
    }
}

// The rows that came before the last UNTIL of them.
static void take_rows(sm_walkthrough *w, const sm_walk_seen *seen, uint64_t until) {
    uint64_t fresh = seen->recent->count - w->seen;
    fresh = fresh < SM_RECENT_ROWS ? fresh : SM_RECENT_ROWS;
    for (; fresh > until; fresh--) {
        const sm_recent_row *row = sm_recent_at(seen->recent, fresh - 1);
        if (row)
            take_row(w, seen, row);
    }
    w->seen = seen->recent->count - until;
}

// What was answered before the folder was read again was answered to the questions of that time.
static void take_rows_before_reload(sm_walkthrough *w, const sm_walk_seen *seen) {
    uint64_t fresh = seen->recent->count - w->seen, after = 0;
    for (; after < fresh && after < SM_RECENT_ROWS; after++) {
        const sm_recent_row *row = sm_recent_at(seen->recent, after);
        if (row && (sm_log_is_act(row->kind, SM_ACT_RELOAD) || sm_log_is_act(row->kind, SM_ACT_APPLY)))
            break;
    }
    take_rows(w, seen, after);
}

// ---- looking ----------------------------------------------------------------------------------

// Answers given before stay; what changed since is seen by its hash.
static void take_show(sm_walkthrough *w, const sm_walk_seen *seen) {
    sm_walk_destroy(w->walk);
    sm_walk_list_destroy(w->list);
    w->walk = NULL;
    w->list = NULL;
    w->show = seen->now->show;
    w->wind_limit_m_s = w->show->settings.wind_limit_m_s;
    w->stale = true;
    free(w->verdicts);
    free(w->read_us);
    w->verdicts = calloc(seen->now->show->slot_count + 1u, sizeof *w->verdicts);
    w->read_us = calloc(seen->now->show->slot_count + 1u, sizeof *w->read_us);
    if (w->verdicts && w->read_us && sm_walk_list_create(seen->now->show, NULL, &w->list) == SM_OK &&
        !w->has_earlier)
        read_earlier(w, seen->now->show->settings.title);
}

// Readings and waivers of this rehearsal. True: they are others than before.
static bool take_field(sm_walkthrough *w, const sm_snapshot *now, sm_unix_us launch_us) {
    bool others = false;
    for (uint32_t slot = 0; slot < now->show->slot_count; slot++) {
        others |= w->verdicts[slot] != now->slots[slot].verdict;
        w->verdicts[slot] = now->slots[slot].verdict;
        sm_us read_at = now->slots[slot].read_at.us;
        sm_unix_us read_us = read_at != SM_UNSET_US ? launch_us + read_at : SM_UNSET_US;
        others |= w->read_us[slot] != read_us;
        w->read_us[slot] = read_us;
    }
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++) {
        char text[200] = "";
        if (now->guards[guard].word == SM_GUARD_WAIVED)
            snprintf(text, sizeof text, "%s, %s", sm_guard_text((sm_guard)guard), now->guards[guard].why);
        others |= strcmp(text, w->waivers[guard]) != 0;
        memcpy(w->waivers[guard], text, sizeof text);
    }
    return others;
}

// A name once found void stays so, whatever is put back, here and in later rehearsals.
static void keep_void(sm_walkthrough *w, const sm_walk_seen *seen) {
    sm_walk_sign *signs = w->signs.rows;
    if (w->list->content.hex[0] == '\0')
        return; // the logbook waits for the same
    for (size_t i = 0; i < w->walk->name_count; i++) {
        const char *why = w->walk->names[i].void_by;
        if (!why || signs[i].void_by)
            continue;
        signs[i].void_by = sm_arena_text(w->texts, why, strlen(why));
        if (signs[i].void_by && seen->session)
            sm_session_keep_void(seen->session, w->show->settings.title, &signs[i]);
    }
}

static void judge(sm_walkthrough *w, const sm_walk_seen *seen) {
    const sm_snapshot *now = seen->now;
    const char *waivers[SM_GUARD_COUNT];
    size_t waiver_count = 0;
    for (int guard = 0; guard < SM_GUARD_COUNT; guard++)
        if (w->waivers[guard][0])
            waivers[waiver_count++] = w->waivers[guard];
    const sm_walk_past past = {w->ticks.rows,  w->ticks.count,  w->signs.rows,
                               w->signs.count, w->changes.rows, w->changes.count};
    const sm_walk_facts facts = {.now_us = seen->launch_us + now->wall.us,
                                 .findings = seen->findings,
                                 .verdicts = w->verdicts,
                                 .read_us = w->read_us,
                                 .waivers = waivers,
                                 .waiver_count = waiver_count,
                                 .wind_known = now->wind_known,
                                 .wind_m_s = now->wind_m_s};
    sm_walk *walk = NULL;
    if (sm_walk_create(w->list, &past, &facts, &walk) == SM_OK) {
        sm_walk_destroy(w->walk);
        w->walk = walk;
        keep_void(w, seen);
        w->stale = false;
        w->judged_us = now->wall.us;
        w->findings = seen->findings;
        w->wind_known = now->wind_known;
        w->wind_m_s = now->wind_m_s;
    }
}

// Before the rows: a name is put to it.
static void take_content(sm_walkthrough *w, const sm_walk_seen *seen) {
    if (seen->content.hex[0] == '\0')
        return;
    w->stale |= !sm_walk_hash_equal(&w->list->content, &seen->content);
    w->list->content = seen->content;
}

const sm_walk *sm_walkthrough_look(sm_walkthrough *w, const sm_walk_seen *seen) {
    const sm_snapshot *now = seen->now;
    if (w->show != seen->now->show) {
        if (w->list)
            take_rows_before_reload(w, seen);
        take_show(w, seen);
    }
    if (!w->list)
        return NULL;
    take_content(w, seen);
    take_rows(w, seen, 0);
    w->stale |= take_field(w, now, seen->launch_us);
    bool same_wind = w->wind_known == now->wind_known && (!now->wind_known || w->wind_m_s == now->wind_m_s);
    if (w->stale || !w->walk || w->findings != seen->findings || !same_wind ||
        now->wall.us - w->judged_us >= JUDGE_AGAIN_US)
        judge(w, seen);
    return w->walk;
}

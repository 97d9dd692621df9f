// SPDX-License-Identifier: GPL-3.0-or-later
// The engine again, from what is kept: the show as it was loaded, and what it was told, in order and each at its moment.
//
// What it was told are the actions, and the rows that only somebody outside can make: of the sound, of a drill, of a reload that
// failed. The rows that come out are held against the rows that were kept, one by one, by all but the moment of issue: a replay has
// a virtual clock, so when a row was due is compared, not how late it was. A rehearsal that was cut off has a last row; what the
// replay makes beyond that was not kept and is not compared.
#include "logbook/restore_show.h"

#include "slowmatch/inject.h"
#include "slowmatch/json.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

typedef struct replay {
    sm_store *store;
    int64_t number;
    sm_show *show;
    sm_rehearsal *rehearsal;
    sqlite3_stmt *rows, *inputs;
    bool has_row; // `rows` stands on the row to come
    bool ended;   // the rehearsal was not cut off
    bool alerts;  // it has rows of alerts; earlier programs kept none
    int64_t compared, last_due_us;
    sm_result result; // of reading the rows
    sm_text differs;  // the first difference; empty: none
} replay;

// ---- what comes out ----------------------------------------------------------------------

enum { ROW_DUE, ROW_SHOW, ROW_SOURCE, ROW_WHAT, ROW_CUE, ROW_TARGET, ROW_DETAIL };

static void next_row(replay *p) {
    p->has_row = sm_store_step(p->store, p->rows, &p->result);
}

static bool same_row(const replay *p, const sm_log_row *row, sm_us due_us) {
    char source[SM_SEAT_NAME + 8];
    sqlite3_stmt *kept = p->rows;
    bool has_show = sqlite3_column_type(kept, ROW_SHOW) != SQLITE_NULL;
    return sqlite3_column_int64(kept, ROW_DUE) == due_us && has_show == row->has_show &&
           (!has_show || sqlite3_column_int64(kept, ROW_SHOW) == row->show.us) &&
           strcmp(sm_query_text(kept, ROW_SOURCE), sm_source_put(source, row->source, row->seat)) == 0 &&
           strcmp(sm_query_text(kept, ROW_WHAT), sm_log_word(row->kind)) == 0 &&
           strcmp(sm_query_text(kept, ROW_CUE), row->cue) == 0 &&
           strcmp(sm_query_text(kept, ROW_TARGET), row->target) == 0 &&
           strcmp(sm_query_text(kept, ROW_DETAIL), row->detail) == 0;
}

static void put_row(sm_text *out, sm_us due_us, const char *what, const char *target, const char *detail) {
    char at[24];
    sm_text_printf(out, "%s %s %s %s", sm_us_format(at, due_us), what, target, detail);
}

// The row that was kept, up to what comes of it now.
static void put_kept(replay *p) {
    sm_text_printf(&p->differs, "row %lld: kept ", (long long)p->compared + 1);
    if (p->has_row)
        put_row(&p->differs, sqlite3_column_int64(p->rows, ROW_DUE), sm_query_text(p->rows, ROW_WHAT),
                sm_query_text(p->rows, ROW_TARGET), sm_query_text(p->rows, ROW_DETAIL));
    else
        sm_text_printf(&p->differs, "nothing more");
    sm_text_printf(&p->differs, ", now ");
}

static void compare_row(void *context, const sm_log_row *row) {
    replay *p = context;
    sm_us due_us = row->wall.us - row->late_us;
    if (p->differs.length > 0 || p->result != SM_OK || (!p->has_row && !p->ended))
        return;
    if (row->kind.what == SM_LOG_ALERT && !p->alerts)
        return;
    if (p->has_row && same_row(p, row, due_us)) {
        p->compared++;
        next_row(p);
        return;
    }
    put_kept(p);
    put_row(&p->differs, due_us, sm_log_word(row->kind), row->target, row->detail);
}

// ---- what it was told ------------------------------------------------------------------------

enum { INPUT_KIND, INPUT_AT, INPUT_SOURCE, INPUT_LINE, INPUT_DETAIL, INPUT_LOAD };

typedef struct input {
    const char *kind, *line, *detail, *seat;
    sm_wall_time at;
    sm_source source;
    int64_t load;
} input;

static void cannot(replay *p, const input *in, const char *why) {
    sm_text_printf(&p->differs, "what it was told at row %lld cannot be told again: %s %s: %s",
                   (long long)p->compared + 1, in->kind, in->line, why);
}

static sm_result tell_action(replay *p, const input *in) {
    sm_action action;
    char why[200];
    size_t at;
    if (sm_action_read(p->show, in->line, strlen(in->line), &action, why, &at) != SM_OK) {
        cannot(p, in, why);
        return SM_OK;
    }
    if (in->detail[0] != '\0')
        snprintf(action.detail, sizeof action.detail, "%s", in->detail);
    snprintf(action.seat, sizeof action.seat, "%s", in->seat);
    sm_result result = sm_rehearsal_act(p->rehearsal, &action, in->source, in->at);
    return result == SM_REFUSED ? SM_OK : result;
}

// A refusal that came from outside: a reload that failed, a drill's. Its row names the action's first word alone.
static sm_result tell_refusal(replay *p, const input *in) {
    sm_action action;
    char why[200];
    size_t at;
    const char *line = strcmp(in->line, "key") == 0 ? "key on" : in->line;
    if (sm_action_read_partly(p->show, line, strlen(line), &action, why, &at) != SM_OK) {
        cannot(p, in, why);
        return SM_OK;
    }
    snprintf(action.seat, sizeof action.seat, "%s", in->seat);
    sm_result result = sm_rehearsal_refuse(p->rehearsal, &action, in->source, in->detail, in->at);
    return result == SM_REFUSED ? SM_OK : result;
}

static sm_result tell_sound(replay *p, const input *in) {
    int change = 0;
    while (change < SM_SOUND_CHANGE_COUNT - 1 &&
           strcmp(sm_sound_change_text((sm_sound_change)change), in->line) != 0)
        change++;
    return sm_rehearsal_sound(p->rehearsal, (sm_sound_change)change, in->detail, in->at);
}

static sm_result tell_lights(replay *p, const input *in) {
    int change = 0;
    while (change < SM_LIGHTS_CHANGE_COUNT - 1 &&
           strcmp(sm_lights_change_text((sm_lights_change)change), in->line) != 0)
        change++;
    return sm_rehearsal_lights(p->rehearsal, (sm_lights_change)change, in->detail, in->at);
}

static sm_result tell_timecode(replay *p, const input *in) {
    sm_timecode_news news;
    if (sm_timecode_news_read(in->line, in->detail, &news))
        return sm_rehearsal_timecode(p->rehearsal, &news, in->at);
    cannot(p, in, "it is no news of a timecode");
    return SM_OK;
}

static sm_result tell_event(replay *p, const input *in) {
    sm_injection injection;
    char why[200];
    size_t at;
    if (sm_injection_read(p->show, in->detail, strlen(in->detail), &injection, why, &at) == SM_OK)
        return sm_rehearsal_inject(p->rehearsal, in->line, &injection, in->at);
    cannot(p, in, why);
    return SM_OK;
}

static sm_result tell_load(replay *p, const input *in) {
    sm_show *show;
    sm_result result = sm_restore_show(p->store, in->load, &show);
    if (result != SM_OK)
        return result;
    result = sm_rehearsal_run(p->rehearsal, in->at);
    if (result == SM_OK)
        result = sm_rehearsal_replace_show(p->rehearsal, show);
    sm_show_destroy(result == SM_OK ? p->show : show);
    p->show = result == SM_OK ? show : p->show;
    return result;
}

// Up to the input's instant. What is told comes before what the engine does at that instant, unless the engine had done it before
// somebody spoke: then its row is the next one kept.
static sm_result bring(replay *p, const input *in) {
    sm_result result = sm_rehearsal_bring(p->rehearsal, in->at);
    bool engine_first = p->has_row && sqlite3_column_int64(p->rows, ROW_DUE) <= in->at.us &&
                        strcmp(sm_query_text(p->rows, ROW_SOURCE), sm_source_text(SM_SOURCE_ENGINE)) == 0;
    return result == SM_OK && engine_first ? sm_rehearsal_run(p->rehearsal, in->at) : result;
}

static sm_result tell(replay *p, const input *in) {
    if (strcmp(in->kind, "sound") == 0)
        return tell_sound(p, in);
    if (strcmp(in->kind, "lights") == 0)
        return tell_lights(p, in);
    if (strcmp(in->kind, "timecode") == 0)
        return tell_timecode(p, in);
    if (strcmp(in->kind, "load") == 0)
        return tell_load(p, in);
    if (strcmp(in->kind, "reload-failed") == 0) {
        sm_result ran = sm_rehearsal_run(p->rehearsal, in->at);
        if (ran == SM_OK)
            sm_rehearsal_reload_failed(p->rehearsal, in->detail, in->at);
        return ran;
    }
    sm_result result = bring(p, in);
    if (result != SM_OK)
        return result;
    if (strcmp(in->kind, "action") == 0)
        return tell_action(p, in);
    if (strcmp(in->kind, "refuse") == 0)
        return tell_refusal(p, in);
    if (strcmp(in->kind, "event") == 0)
        return tell_event(p, in);
    sm_rehearsal_drill_row(p->rehearsal, sm_log_kind_read(SM_SOURCE_DRILL, in->kind, in->line), in->line,
                           in->detail);
    return SM_OK;
}

static sm_result tell_all(replay *p) {
    sm_result read = SM_OK, result = SM_OK;
    while (result == SM_OK && p->differs.length == 0 && sm_store_step(p->store, p->inputs, &read)) {
        const input in = {.kind = sm_query_text(p->inputs, INPUT_KIND),
                          .line = sm_query_text(p->inputs, INPUT_LINE),
                          .detail = sm_query_text(p->inputs, INPUT_DETAIL),
                          .at = {sqlite3_column_int64(p->inputs, INPUT_AT)},
                          .source = sm_source_named(sm_query_text(p->inputs, INPUT_SOURCE)),
                          .seat = sm_source_seat(sm_query_text(p->inputs, INPUT_SOURCE)),
                          .load = sqlite3_column_int64(p->inputs, INPUT_LOAD)};
        result = tell(p, &in);
    }
    if (result == SM_OK && read == SM_OK)
        result = sm_rehearsal_run(p->rehearsal, (sm_wall_time){p->last_due_us});
    return result != SM_OK ? result : read;
}

// ---- the whole -------------------------------------------------------------------------------

static sm_result open_rehearsal(replay *p) {
    const sm_bind bind = {.number = p->number};
    sqlite3_stmt *row = sm_query_prepare(p->store,
                                         "SELECT load, flags, ended_us IS NOT NULL, (SELECT max(wall_us - "
                                         "late_us) FROM row WHERE rehearsal = ?1), "
                                         "EXISTS (SELECT 1 FROM row WHERE rehearsal = ?1 AND what = 'alert') "
                                         "FROM rehearsal WHERE id = ?1",
                                         &bind, 1);
    if (!row)
        return SM_UNREADABLE;
    sm_result result;
    sm_rehearsal_options options = {.sink = compare_row, .sink_context = p};
    int64_t load = 0;
    if (sm_store_step(p->store, row, &result)) {
        const char *flags = sm_query_text(row, 1);
        load = sqlite3_column_int64(row, 0);
        options.bare = strstr(flags, "bare ") != NULL;
        options.readings_not_judged = strstr(flags, "not-judged ") != NULL;
        options.drill = strstr(flags, "drill ") != NULL;
        p->ended = sqlite3_column_int64(row, 2) != 0;
        p->last_due_us = sqlite3_column_int64(row, 3);
        p->alerts = sqlite3_column_int64(row, 4) != 0;
    }
    sqlite3_finalize(row);
    if (result == SM_OK)
        result = sm_restore_show(p->store, load, &p->show);
    return result == SM_OK ? sm_rehearsal_create(p->show, &options, &p->rehearsal) : result;
}

static sm_result run(replay *p) {
    const sm_bind bind = {.number = p->number};
    p->rows =
        sm_query_prepare(p->store,
                         "SELECT wall_us - late_us, show_us, source, what, cue, target, detail FROM row "
                         "WHERE rehearsal = ?1 ORDER BY n",
                         &bind, 1);
    p->inputs = sm_query_prepare(
        p->store, "SELECT kind, at_us, source, line, detail, load FROM input WHERE rehearsal = ?1 ORDER BY n",
        &bind, 1);
    if (!p->rows || !p->inputs)
        return SM_UNREADABLE;
    next_row(p);
    sm_result result = p->result == SM_OK ? open_rehearsal(p) : p->result;
    if (result == SM_OK)
        result = tell_all(p);
    if (result == SM_OK)
        result = p->result;
    if (result == SM_OK && p->differs.length == 0 && p->has_row) {
        put_kept(p);
        sm_text_printf(&p->differs, "nothing more");
    }
    return result;
}

static void say_outcome(const replay *p, bool json, sm_text *out) {
    bool same = p->differs.length == 0;
    if (json) {
        sm_json line = sm_json_line_open(out);
        sm_json_integer(&line, "number", p->number);
        sm_json_integer(&line, "rows", p->compared);
        sm_json_bool(&line, "same", same);
        sm_json_text(&line, "differs", same ? NULL : p->differs.bytes);
        sm_json_line_close(&line);
        return;
    }
    sm_text_printf(out, "REHEARSAL %lld  played again from what it was told: %lld rows the same",
                   (long long)p->number, (long long)p->compared);
    if (same)
        sm_text_printf(out, ", none differs%s\n", p->ended ? "" : "; it was cut off there");
    else
        sm_text_printf(out, ", then it differs\n%s\n", p->differs.bytes);
}

sm_result sm_logbook_replay(sm_logbook *logbook, int64_t number, bool json, sm_text *out, bool *same) {
    replay p = {.store = &logbook->store, .number = number};
    sm_result result = sm_query_has(p.store, number);
    if (result == SM_OK)
        result = run(&p);
    if (result == SM_NO_MEMORY || p.differs.failed) {
        snprintf(p.store->why, sizeof p.store->why, "memory ran out");
        result = SM_NO_MEMORY;
    }
    if (result == SM_OK) {
        say_outcome(&p, json, out);
        *same = p.differs.length == 0;
        result = sm_query_done(p.store, out, result);
    }
    sqlite3_finalize(p.rows);
    sqlite3_finalize(p.inputs);
    sm_rehearsal_destroy(p.rehearsal);
    sm_show_destroy(p.show);
    sm_text_deinit(&p.differs);
    return result;
}

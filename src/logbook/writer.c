// SPDX-License-Identifier: GPL-3.0-or-later
// Rows and actions become entries, which a background writer hands to the keeper.
#include "logbook/attempts.h"
#include "logbook/debriefs.h"
#include "logbook/keeper.h"
#include "logbook/kept_show.h"
#include "logbook/walks.h"

#include "slowmatch/background.h"
#include "slowmatch/clock.h"
#include "slowmatch/logbook.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define TICKS_MAX 256

// The end at the disk: of the background writer's thread, but for the problem.
typedef struct disk_end {
    sm_keeper keeper;
    pthread_mutex_t lock;
    char problem[SM_STORE_WHY]; // under the lock
} disk_end;

// Of the thread that rehearses.
struct sm_logbook_writer {
    char token[33];
    sm_unix_us launch_us;
    bool is_drill; // what happens in it is no word about any site
    sm_logbook_load *load;
    sm_logbook_load *first; // what it began with, while its music is not known; NULL: it has begun
    char mode[16], flags[64];
    sm_text early; // entries from before it has begun
    int64_t rows, inputs;
    bool own_row_due;         // the next row is the one of the action that was told
    int64_t ticks[TICKS_MAX]; // row numbers of the answers that `undo` may take back
    size_t tick_count;
    sm_attempt attempt;
    bool waits;      // what is handed over now stays in `waiting`
    sm_text waiting; // entries that nobody may read while the drill runs
    sm_arena *texts;
    disk_end *end;
    sm_background *background;
};

// ---- the end at the disk --------------------------------------------------------------------

static void end_free(void *context) {
    disk_end *end = context;
    sm_keeper_deinit(&end->keeper);
    pthread_mutex_destroy(&end->lock);
    free(end);
}

static disk_end *end_create(const char *path) {
    disk_end *end = calloc(1, sizeof *end);
    if (!end)
        return NULL;
    pthread_mutex_init(&end->lock, NULL);
    if (sm_keeper_init(&end->keeper, path, sm_monotonic_us()) != SM_OK) {
        end_free(end);
        return NULL;
    }
    memcpy(end->problem, end->keeper.problem, sizeof end->problem);
    return end;
}

static void tell_problem(disk_end *end) {
    pthread_mutex_lock(&end->lock);
    memcpy(end->problem, end->keeper.problem, sizeof end->problem);
    pthread_mutex_unlock(&end->lock);
}

static int take_entries(void *context, const char *bytes, size_t length, bool durable) {
    disk_end *end = context;
    sm_keeper_take(&end->keeper, bytes, length, durable, sm_monotonic_us());
    tell_problem(end);
    return 0; // what happened is told in words
}

static void take_last(void *context) {
    disk_end *end = context;
    sm_keeper_finish(&end->keeper);
    tell_problem(end);
}

// What is new waits at most this long for a transaction; a change of state does not wait.
static const sm_background_work work = {
    .write = take_entries, .finish = take_last, .abandon = end_free, .gather_us = SM_US_PER_S / 10};

// ---- entries --------------------------------------------------------------------------------

// Hands over ENTRIES and frees them.
static void hand_over(sm_logbook_writer *w, sm_text *entries, bool at_once) {
    if (entries->failed)
        sm_background_lose(w->background);
    else if (w->waits || w->first)
        sm_text_append(w->waits ? &w->waiting : &w->early, entries->bytes, entries->length);
    else
        sm_background_put(w->background, entries->bytes, entries->length, at_once);
    sm_text_deinit(entries);
}

// One entry of KIND.
#define PUT(w, at_once, kind, ...)                                                                           \
    do {                                                                                                     \
        sm_text entry_ = {0};                                                                                \
        SM_ENTRY_PUT(&entry_, kind, __VA_ARGS__);                                                            \
        hand_over(w, &entry_, at_once);                                                                      \
    } while (0)

// ---- what the rows mean to the walk and the readings -----------------------------------------

static void put_said(sm_logbook_writer *w, int64_t n, const sm_walk_said *said) {
    sm_text entry = {0};
    const char *title = w->load->title;
    if (said->kind == SM_WALK_SAID_TICK)
        sm_tick_entry_put(&entry, w->token, n, title, &said->tick);
    else if (said->kind == SM_WALK_SAID_SIGN)
        sm_sign_entry_put(&entry, w->token, n, title, &said->sign);
    else
        sm_change_entry_put(&entry, w->token, n, title, &said->change);
    hand_over(w, &entry, false);
}

static void remember_tick(sm_logbook_writer *w, int64_t n) {
    if (w->tick_count == TICKS_MAX)
        memmove(w->ticks, w->ticks + 1, --w->tick_count * sizeof w->ticks[0]);
    w->ticks[w->tick_count++] = n;
}

static void put_untick(sm_logbook_writer *w) {
    if (w->tick_count > 0)
        PUT(w, false, SM_ENTRY_UNTICK, sm_value_text(w->token), sm_value_number(w->ticks[--w->tick_count]));
}

static void put_reading(sm_logbook_writer *w, sm_unix_us when_us, const sm_log_row *row) {
    sm_read_value value;
    char ohms[32], taken[24];
    if (sm_read_value_read(row->detail, strlen(row->detail), &value) == SM_OK)
        PUT(w, false, SM_ENTRY_READING, sm_value_text(w->load->title), sm_value_text(row->target),
            sm_value_text(row->detail), sm_value_ohms(ohms, value),
            sm_value_text(sm_walk_when_format(taken, when_us)), sm_value_number(when_us), sm_value_text(""),
            sm_value_text("hand"));
}

static void look_at(sm_logbook_writer *w, int64_t n, const sm_log_row *row) {
    sm_unix_us when_us = w->launch_us + row->wall.us;
    sm_walk_said said;
    if (sm_log_is_act(row->kind, SM_ACT_READ))
        put_reading(w, when_us, row);
    if (sm_walk_row_read(w->load->list, w->load->wind_limit_m_s, row->kind, row->target, row->detail, when_us,
                         w->texts, &said) != SM_OK) {
        sm_background_lose(w->background);
        return;
    }
    if (said.kind == SM_WALK_SAID_TICK)
        remember_tick(w, n);
    if (said.kind == SM_WALK_SAID_UNTICK)
        put_untick(w);
    else if (said.kind != SM_WALK_SAID_NOTHING)
        put_said(w, n, &said);
}

// ---- rows and actions ----------------------------------------------------------------------------

static void put_input(sm_logbook_writer *w, const char *kind, sm_wall_time at, const char *source,
                      const char *line, const char *detail, const char *load) {
    PUT(w, false, SM_ENTRY_INPUT, sm_value_text(w->token), sm_value_number(w->inputs++), sm_value_text(kind),
        sm_value_number(at.us), sm_value_text(source), sm_value_text(line), sm_value_text(detail),
        sm_value_text(load));
}

// Rows that the rehearsal was told to make, and that its actions alone would not make again. IS_OWN: the first row after an action,
// which may be its own; that of a `reload` comes later.
static void put_told_row(sm_logbook_writer *w, const sm_log_row *row, bool is_own) {
    const sm_wall_time at = {row->wall.us - row->late_us};
    const char *kind = NULL;
    char source[SM_SEAT_NAME + 8];
    if (row->kind.what == SM_LOG_SOUND)
        kind = "sound";
    else if (row->kind.what == SM_LOG_LIGHTS)
        kind = "lights";
    else if (row->kind.what == SM_LOG_TIMECODE)
        kind = "timecode";
    else if (row->kind.what == SM_LOG_EVENT)
        kind = "event";
    else if (!is_own && row->kind.what == SM_LOG_REFUSED && row->kind.act != SM_ACT_RELOAD)
        kind = "refuse";
    else if (!is_own && row->source == SM_SOURCE_DRILL)
        kind = sm_log_word(row->kind);
    if (kind)
        put_input(w, kind, at, sm_source_put(source, row->source, row->seat), row->target, row->detail, "");
}

void sm_logbook_writer_row(sm_logbook_writer *w, const sm_log_row *row) {
    int64_t number = w->rows++;
    char source[SM_SEAT_NAME + 8];
    put_told_row(w, row, w->own_row_due);
    PUT(w, row->kind.what == SM_LOG_STATE, SM_ENTRY_ROW, sm_value_text(w->token), sm_value_number(number),
        sm_value_number(row->wall.us), sm_value_us(row->has_show ? row->show.us : SM_UNSET_US),
        sm_value_text(sm_source_put(source, row->source, row->seat)), sm_value_text(sm_log_word(row->kind)),
        sm_value_text(row->cue), sm_value_text(row->target), sm_value_text(row->detail),
        sm_value_number(row->late_us));
    if (!w->is_drill && (w->own_row_due || row->source != SM_SOURCE_ENGINE))
        look_at(w, number, row);
    w->own_row_due = false;
}

static void hand_over_waiting(sm_logbook_writer *w) {
    if (w->waiting.length > 0 || w->waiting.failed)
        hand_over(w, &w->waiting, true);
}

void sm_logbook_writer_drill_row(sm_logbook_writer *w, const sm_log_row *row, bool waits) {
    w->waits = waits;
    sm_logbook_writer_row(w, row);
    w->waits = false;
    if (sm_drill_is_over_by(row))
        hand_over_waiting(w);
}

void sm_logbook_writer_action(sm_logbook_writer *w, const sm_action *action, sm_source source,
                              sm_wall_time at) {
    const sm_action_row *form = sm_action_row_of(action->act);
    const char *name = form->name;
    bool two_words = strchr(name, ' ') != NULL; // its second word is the target
    bool has_arguments =
        form->arguments[0] != SM_ARG_NONE; // else its detail was added by somebody: the text of a hint
    sm_text line = {0};
    char named[SM_SEAT_NAME + 8];
    if (action->remote != 0)
        sm_text_printf(&line, "remote %d ", (int)action->remote);
    sm_text_printf(&line, "%s", name);
    if (!two_words && action->target[0] != '\0')
        sm_text_printf(&line, " %s", action->target);
    if (has_arguments && action->detail[0] != '\0')
        sm_text_printf(&line, " %s", action->detail);
    if (line.failed)
        sm_background_lose(w->background);
    put_input(w, "action", at, sm_source_put(named, source, action->seat), sm_text_get(&line),
              has_arguments ? "" : action->detail, "");
    sm_text_deinit(&line);
    w->own_row_due = true;
}

void sm_logbook_writer_load(sm_logbook_writer *w, sm_logbook_load *load, sm_wall_time at) {
    assert(load->hash.hex[0] != '\0');
    hand_over(w, &load->entries, false);
    put_input(w, "load", at, sm_source_text(SM_SOURCE_ENGINE), "", "", load->hash.hex);
    if (w->load != w->first)
        sm_logbook_load_destroy(w->load);
    w->load = load;
}

void sm_logbook_writer_reload_failed(sm_logbook_writer *w, const char *why, sm_wall_time at) {
    put_input(w, "reload-failed", at, sm_source_text(SM_SOURCE_ENGINE), "", why, "");
}

void sm_logbook_writer_attempt(sm_logbook_writer *w, const sm_drill_run *run) {
    sm_text entries = {0};
    if (!sm_drill_has_begun(run))
        return;
    sm_attempt_put(&w->attempt, w->token, w->load->title, sm_unix_now_us(), run, &entries);
    if (entries.length > 0 || entries.failed)
        hand_over(w, &entries, true);
}

void sm_logbook_writer_drill(sm_logbook_writer *w, const sm_logbook_drill *drill) {
    sm_text entry = {0};
    char token[sizeof w->token + SM_SEAT_NAME];
    snprintf(token, sizeof token, "%s%s%s", w->token, drill->beside ? " " : "",
             drill->beside ? drill->seat : "");
    sm_drill_entry_put(&entry, token, drill);
    hand_over(w, &entry, true);
}

void sm_logbook_writer_void(sm_logbook_writer *w, const char *title, const sm_walk_sign *sign) {
    sm_text entry = {0};
    sm_void_entry_put(&entry, title, sign);
    hand_over(w, &entry, false);
}

void sm_logbook_writer_debrief(sm_logbook_writer *w, const sm_debrief *debrief) {
    sm_text entries = {0};
    sm_debrief_entries_put(&entries, w->token, debrief);
    hand_over(w, &entries, true);
}

// ---- beginning and ending ----------------------------------------------------------------------------

static void put_begin(sm_logbook_writer *w) {
    sm_logbook_load *load = w->first;
    w->first = NULL;
    hand_over(w, &load->entries, false);
    PUT(w, true, SM_ENTRY_REHEARSAL, sm_value_text(w->token), sm_value_text(load->hash.hex),
        sm_value_number(w->launch_us), sm_value_text(w->mode), sm_value_text(w->flags));
    if (w->early.length > 0 || w->early.failed)
        hand_over(w, &w->early, true);
    if (load != w->load)
        sm_logbook_load_destroy(load);
}

sm_walk_hash sm_logbook_writer_music(sm_logbook_writer *w, const sm_walk_hash *music) {
    assert(w->first);
    sm_logbook_load_music(w->first, music);
    const sm_walk_hash content = w->first->content;
    put_begin(w);
    return content;
}

static void writer_free(sm_logbook_writer *w) {
    assert(!w->first || w->first == w->load); // one that was replaced goes with what was held for it
    sm_logbook_load_destroy(w->load);
    sm_text_deinit(&w->early);
    sm_arena_destroy(w->texts);
    sm_attempt_deinit(&w->attempt);
    sm_text_deinit(&w->waiting);
    free(w);
}

sm_result sm_logbook_writer_create(const sm_logbook_start *start, sm_logbook_load *load,
                                   sm_logbook_writer **out) {
    sm_logbook_writer *w = calloc(1, sizeof *w);
    if (!w) {
        sm_logbook_load_destroy(load);
        return SM_NO_MEMORY;
    }
    sm_token_make(w->token);
    w->launch_us = start->launch_us;
    snprintf(w->mode, sizeof w->mode, "%s", start->mode);
    snprintf(w->flags, sizeof w->flags, "%s%s%s%s", start->bare ? "bare " : "",
             start->readings_not_judged ? "not-judged " : "", start->drill ? "drill " : "",
             start->fast ? "fast " : "");
    w->is_drill = start->drill;
    w->attempt.scripted = start->scripted;
    sm_walk_hash hash;
    if (start->drill_file && sm_walk_hash_file(start->drill_file, NULL, &hash) == SM_OK)
        snprintf(w->attempt.file, sizeof w->attempt.file, "%.12s", hash.hex);
    w->load = w->first = load;
    w->texts = sm_arena_create();
    w->end = w->texts ? end_create(start->path) : NULL;
    if (w->end && sm_background_start(&work, w->end, &w->background) == SM_OK) {
        if (load->hash.hex[0] != '\0')
            put_begin(w);
        *out = w;
        return SM_OK;
    }
    if (w->end)
        end_free(w->end);
    writer_free(w);
    return SM_NO_MEMORY;
}

char *sm_logbook_writer_problem(sm_logbook_writer *w, char buffer[400]) {
    bool lost = sm_background_lost(w->background);
    pthread_mutex_lock(&w->end->lock);
    snprintf(buffer, 400, "%s", lost ? "memory ran out: rows were lost" : w->end->problem);
    pthread_mutex_unlock(&w->end->lock);
    return buffer;
}

bool sm_logbook_writer_close(sm_logbook_writer *w, sm_us patience_us, char *problem) {
    char said[SM_STORE_WHY] = "the disk did not answer in time";
    if (problem)
        problem[0] = '\0';
    if (!w)
        return true;
    if (w->first)
        (void)sm_logbook_writer_music(w, &sm_logbook_unread);
    hand_over_waiting(w);
    PUT(w, true, SM_ENTRY_END, sm_value_text(w->token), sm_value_number(sm_unix_now_us()));
    bool lost = sm_background_lost(w->background);
    if (sm_background_close(w->background, patience_us)) {
        snprintf(said, sizeof said, "%s", lost ? "memory ran out: rows were lost" : w->end->problem);
        end_free(w->end);
    }
    writer_free(w);
    if (problem)
        memcpy(problem, said, sizeof said);
    return said[0] == '\0';
}

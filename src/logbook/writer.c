// SPDX-License-Identifier: GPL-3.0-or-later
// The writer: rows and actions become records in a queue; a thread of its own hands them to the keeper.
#include "logbook/keeper.h"
#include "logbook/load.h"

#include "slowmatch/logbook.h"

#include <errno.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

// What is new waits at most this long for a transaction; a change of state does not wait.
#define COMMIT_US (SM_US_PER_S / 10)
#define TICKS_MAX 256

struct sm_logbook_writer {
    char token[33];
    sm_unix_us launch_us;
    bool is_drill; // what happens in it is no word about any site
    sm_logbook_load *load;
    // Of the thread that rehearses:
    int64_t rows, inputs;
    bool own_row_due;         // the next row is the one of the action that was told
    int64_t ticks[TICKS_MAX]; // row numbers of the answers that `undo` may take back
    size_t tick_count;
    sm_arena *texts;
    // Of the writer's thread:
    sm_keeper keeper;
    pthread_t thread;
    // Under the lock:
    pthread_mutex_t lock;
    pthread_cond_t changed;
    sm_text queue;
    int64_t since_us; // monotonic, of the oldest record in the queue
    bool at_once, ending, lost;
    bool ended, kept; // the thread has written all it could, and all of it is in the logbook
    bool abandoned;   // nobody waits for the thread: it frees the writer itself
    char problem[SM_STORE_WHY];
};

static int64_t monotonic_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000;
}

static void writer_free(sm_logbook_writer *w) {
    sm_keeper_deinit(&w->keeper);
    sm_logbook_load_destroy(w->load);
    sm_arena_destroy(w->texts);
    sm_text_deinit(&w->queue);
    pthread_cond_destroy(&w->changed);
    pthread_mutex_destroy(&w->lock);
    free(w);
}

// ---- the thread -----------------------------------------------------------------------

static void wait_for_batch(sm_logbook_writer *w) {
    while (w->queue.length == 0 && !w->ending)
        pthread_cond_wait(&w->changed, &w->lock);
    while (!w->at_once && !w->ending) {
        int64_t until = w->since_us + COMMIT_US;
        struct timespec at = {.tv_sec = until / SM_US_PER_S, .tv_nsec = until % SM_US_PER_S * 1000};
        if (pthread_cond_timedwait(&w->changed, &w->lock, &at) == ETIMEDOUT)
            break;
    }
}

static void *write_batches(void *context) {
    sm_logbook_writer *w = context;
    pthread_mutex_lock(&w->lock);
    while (w->queue.length > 0 || !w->ending) {
        wait_for_batch(w);
        sm_text batch = w->queue;
        bool durable = w->at_once || w->ending;
        w->queue = (sm_text){0};
        w->at_once = false;
        pthread_mutex_unlock(&w->lock);
        if (batch.length > 0)
            sm_keeper_take(&w->keeper, batch.bytes, batch.length, durable, monotonic_us());
        sm_text_deinit(&batch);
        pthread_mutex_lock(&w->lock);
        memcpy(w->problem, w->keeper.problem, sizeof w->problem);
    }
    pthread_mutex_unlock(&w->lock);
    bool kept = sm_keeper_finish(&w->keeper);
    pthread_mutex_lock(&w->lock);
    memcpy(w->problem, w->keeper.problem, sizeof w->problem);
    w->kept = kept && !w->lost;
    w->ended = true;
    bool abandoned = w->abandoned;
    pthread_cond_broadcast(&w->changed);
    pthread_mutex_unlock(&w->lock);
    if (abandoned)
        writer_free(w);
    return NULL;
}

// ---- the queue ----------------------------------------------------------------------------

static void put_bytes(sm_logbook_writer *w, const char *bytes, size_t length, bool at_once) {
    pthread_mutex_lock(&w->lock);
    size_t before = w->queue.length;
    if (before == 0)
        w->since_us = monotonic_us();
    sm_text_append(&w->queue, bytes, length);
    if (w->queue.failed) {
        w->queue.failed = false;
        w->lost = true;
    }
    w->at_once = w->at_once || at_once;
    if (before == 0 || at_once)
        pthread_cond_broadcast(&w->changed);
    pthread_mutex_unlock(&w->lock);
}

static void note_loss(sm_logbook_writer *w) {
    pthread_mutex_lock(&w->lock);
    w->lost = true;
    pthread_mutex_unlock(&w->lock);
}

static void put(sm_logbook_writer *w, const sm_record *record, bool at_once) {
    sm_text bytes = {0};
    if (sm_record_put(&bytes, record))
        put_bytes(w, bytes.bytes, bytes.length, at_once);
    else
        note_loss(w);
    sm_text_deinit(&bytes);
}

// ---- what the rows mean to the walk and the readings -----------------------------------------

static void put_walk_record(sm_logbook_writer *w, sm_record_kind kind, int64_t n, const char *title,
                            const sm_walk_said *said) {
    sm_text bytes = {0};
    bool put = kind == SM_RECORD_TICK   ? sm_tick_record_put(&bytes, w->token, n, title, &said->tick)
               : kind == SM_RECORD_SIGN ? sm_sign_record_put(&bytes, w->token, n, title, &said->sign)
                                        : sm_change_record_put(&bytes, w->token, n, title, &said->change);
    if (put)
        put_bytes(w, bytes.bytes, bytes.length, false);
    else
        note_loss(w);
    sm_text_deinit(&bytes);
}

static void remember_tick(sm_logbook_writer *w, int64_t n) {
    if (w->tick_count == TICKS_MAX)
        memmove(w->ticks, w->ticks + 1, --w->tick_count * sizeof w->ticks[0]);
    w->ticks[w->tick_count++] = n;
}

static void put_untick(sm_logbook_writer *w) {
    char number[24];
    if (w->tick_count == 0)
        return;
    put(w,
        &(sm_record){SM_RECORD_UNTICK,
                     2,
                     {sm_field_text(w->token), sm_field_integer(number, w->ticks[--w->tick_count])}},
        false);
}

static void put_reading(sm_logbook_writer *w, sm_unix_us when_us, const sm_log_row *row) {
    sm_read_value value;
    char ohms[32] = "", when[24], taken[24];
    if (sm_read_value_read(row->detail, strlen(row->detail), &value) != SM_OK)
        return;
    if (value.kind == SM_READ_OHMS)
        snprintf(ohms, sizeof ohms, "%.9g", value.ohms);
    put(w,
        &(sm_record){SM_RECORD_READING,
                     8,
                     {sm_field_text(w->load->title), sm_field_text(row->target), sm_field_text(row->detail),
                      sm_field_text(ohms), sm_field_text(sm_walk_when_format(taken, when_us)),
                      sm_field_integer(when, when_us), sm_field_text(""), sm_field_text("hand")}},
        false);
}

static void look_at(sm_logbook_writer *w, int64_t n, const sm_log_row *row) {
    sm_unix_us when_us = w->launch_us + row->wall.us;
    const char *title = w->load->title;
    sm_walk_said said;
    if (sm_log_is_act(row->kind, SM_ACT_READ))
        put_reading(w, when_us, row);
    if (sm_walk_row_read(w->load->list, w->load->wind_limit_m_s, row->kind, row->target, row->detail, when_us,
                         w->texts, &said) != SM_OK) {
        note_loss(w);
        return;
    }
    switch (said.kind) {
    case SM_WALK_SAID_NOTHING:
        break;
    case SM_WALK_SAID_TICK:
        remember_tick(w, n);
        put_walk_record(w, SM_RECORD_TICK, n, title, &said);
        break;
    case SM_WALK_SAID_UNTICK:
        put_untick(w);
        break;
    case SM_WALK_SAID_SIGN:
        put_walk_record(w, SM_RECORD_SIGN, n, title, &said);
        break;
    case SM_WALK_SAID_CHANGE:
        put_walk_record(w, SM_RECORD_CHANGE, n, title, &said);
        break;
    }
}

// ---- rows and actions ----------------------------------------------------------------------------

static void put_input(sm_logbook_writer *w, const char *kind, sm_wall_time at, sm_source source,
                      const char *line, const char *detail, const char *load) {
    char number[24], when[24];
    put(w,
        &(sm_record){SM_RECORD_INPUT,
                     8,
                     {sm_field_text(w->token), sm_field_integer(number, w->inputs++), sm_field_text(kind),
                      sm_field_integer(when, at.us), sm_field_text(sm_source_text(source)),
                      sm_field_text(line), sm_field_text(detail), sm_field_text(load)}},
        false);
}

// Rows that the rehearsal was told to make, and that its actions alone would not make again. IS_OWN: the first row after an action,
// which may be its own; that of a `reload` comes later.
static void put_told_row(sm_logbook_writer *w, const sm_log_row *row, bool is_own) {
    const sm_wall_time at = {row->wall.us - row->late_us};
    const char *kind = NULL;
    if (row->kind.what == SM_LOG_SOUND)
        kind = "sound";
    else if (row->kind.what == SM_LOG_EVENT)
        kind = "event";
    else if (!is_own && row->kind.what == SM_LOG_REFUSED && row->kind.act != SM_ACT_RELOAD)
        kind = "refuse";
    else if (!is_own && row->source == SM_SOURCE_DRILL)
        kind = sm_log_word(row->kind);
    if (kind)
        put_input(w, kind, at, row->source, row->target, row->detail, "");
}

void sm_logbook_writer_row(sm_logbook_writer *w, const sm_log_row *row) {
    char n[24], wall[24], show[24], late[24];
    int64_t number = w->rows++;
    put_told_row(w, row, w->own_row_due);
    put(w,
        &(sm_record){SM_RECORD_ROW,
                     10,
                     {sm_field_text(w->token), sm_field_integer(n, number),
                      sm_field_integer(wall, row->wall.us),
                      row->has_show ? sm_field_integer(show, row->show.us) : (sm_field){"", 0},
                      sm_field_text(sm_source_text(row->source)), sm_field_text(sm_log_word(row->kind)),
                      sm_field_text(row->cue), sm_field_text(row->target), sm_field_text(row->detail),
                      sm_field_integer(late, row->late_us)}},
        row->kind.what == SM_LOG_STATE);
    if (!w->is_drill && (w->own_row_due || row->source != SM_SOURCE_ENGINE))
        look_at(w, number, row);
    w->own_row_due = false;
}

void sm_logbook_writer_action(sm_logbook_writer *w, const sm_action *action, sm_source source,
                              sm_wall_time at) {
    const sm_action_row *form = sm_action_row_of(action->act);
    const char *name = form->name;
    bool two_words = strchr(name, ' ') != NULL; // its second word is the target
    bool has_arguments =
        form->arguments[0] != SM_ARG_NONE; // else its detail was added by somebody: the text of a hint
    sm_text line = {0};
    if (action->remote != 0)
        sm_text_printf(&line, "remote %d ", (int)action->remote);
    sm_text_printf(&line, "%s", name);
    if (!two_words && action->target[0] != '\0')
        sm_text_printf(&line, " %s", action->target);
    if (has_arguments && action->detail[0] != '\0')
        sm_text_printf(&line, " %s", action->detail);
    put_input(w, "action", at, source, sm_text_get(&line), has_arguments ? "" : action->detail, "");
    sm_text_deinit(&line);
    w->own_row_due = true;
}

void sm_logbook_writer_load(sm_logbook_writer *w, sm_logbook_load *load, sm_wall_time at) {
    put_bytes(w, load->records.bytes, load->records.length, false);
    put_input(w, "load", at, SM_SOURCE_ENGINE, "", "", load->hash.hex);
    sm_logbook_load_destroy(w->load);
    w->load = load;
}

void sm_logbook_writer_reload_failed(sm_logbook_writer *w, const char *why, sm_wall_time at) {
    put_input(w, "reload-failed", at, SM_SOURCE_ENGINE, "", why, "");
}

void sm_logbook_writer_drill(sm_logbook_writer *w, const sm_logbook_drill *drill) {
    sm_text bytes = {0};
    if (sm_drill_record_put(&bytes, w->token, drill))
        put_bytes(w, bytes.bytes, bytes.length, true);
    sm_text_deinit(&bytes);
}

void sm_logbook_writer_debrief(sm_logbook_writer *w, const sm_debrief *debrief) {
    sm_text bytes = {0};
    if (sm_debrief_records_put(&bytes, w->token, debrief))
        put_bytes(w, bytes.bytes, bytes.length, true);
    else
        note_loss(w);
    sm_text_deinit(&bytes);
}

// ---- beginning and ending ----------------------------------------------------------------------------

static void put_begin(sm_logbook_writer *w, const sm_logbook_start *start) {
    char began[24], flags[64];
    snprintf(flags, sizeof flags, "%s%s%s%s", start->bare ? "bare " : "",
             start->readings_not_judged ? "not-judged " : "", start->drill ? "drill " : "",
             start->fast ? "fast " : "");
    put_bytes(w, w->load->records.bytes, w->load->records.length, false);
    put(w,
        &(sm_record){SM_RECORD_REHEARSAL,
                     5,
                     {sm_field_text(w->token), sm_field_text(w->load->hash.hex),
                      sm_field_integer(began, start->launch_us), sm_field_text(start->mode),
                      sm_field_text(flags)}},
        true);
}

static void init_lock(sm_logbook_writer *w) {
    pthread_condattr_t attributes;
    pthread_mutex_init(&w->lock, NULL);
    pthread_condattr_init(&attributes);
    pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    pthread_cond_init(&w->changed, &attributes);
    pthread_condattr_destroy(&attributes);
}

sm_result sm_logbook_writer_create(const sm_logbook_start *start, sm_logbook_load *load,
                                   sm_logbook_writer **out) {
    sm_logbook_writer *w = calloc(1, sizeof *w);
    if (!w) {
        sm_logbook_load_destroy(load);
        return SM_NO_MEMORY;
    }
    init_lock(w);
    sm_record_token(w->token);
    w->launch_us = start->launch_us;
    w->is_drill = start->drill;
    w->load = load;
    w->texts = sm_arena_create();
    bool made = sm_keeper_init(&w->keeper, start->path, monotonic_us()) == SM_OK && w->texts;
    if (made) {
        memcpy(w->problem, w->keeper.problem, sizeof w->problem);
        put_begin(w, start);
        made = !w->lost && pthread_create(&w->thread, NULL, write_batches, w) == 0;
    }
    if (!made) {
        writer_free(w);
        return SM_NO_MEMORY;
    }
    *out = w;
    return SM_OK;
}

char *sm_logbook_writer_problem(sm_logbook_writer *w, char buffer[400]) {
    pthread_mutex_lock(&w->lock);
    snprintf(buffer, 400, "%s", w->lost ? "memory ran out: rows were lost" : w->problem);
    pthread_mutex_unlock(&w->lock);
    return buffer;
}

static sm_unix_us now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return (sm_unix_us)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000;
}

// True: the thread has ended.
static bool wait_for_end(sm_logbook_writer *w, sm_us patience_us) {
    int64_t limit = monotonic_us() + patience_us;
    struct timespec at = {.tv_sec = limit / SM_US_PER_S, .tv_nsec = limit % SM_US_PER_S * 1000};
    pthread_mutex_lock(&w->lock);
    w->ending = true;
    pthread_cond_broadcast(&w->changed);
    int waited = 0;
    while (!w->ended && waited != ETIMEDOUT)
        waited = patience_us < 0 ? pthread_cond_wait(&w->changed, &w->lock)
                                 : pthread_cond_timedwait(&w->changed, &w->lock, &at);
    bool ended = w->ended;
    w->abandoned = !ended;
    pthread_mutex_unlock(&w->lock);
    return ended;
}

bool sm_logbook_writer_close(sm_logbook_writer *w, sm_us patience_us, char *problem) {
    char buffer[SM_STORE_WHY] = "the disk did not answer in time", ended[24];
    bool kept = false;
    if (problem)
        problem[0] = '\0';
    if (!w)
        return true;
    put(w, &(sm_record){SM_RECORD_END, 2, {sm_field_text(w->token), sm_field_integer(ended, now_us())}},
        true);
    pthread_t thread = w->thread;
    if (wait_for_end(w, patience_us)) {
        pthread_join(thread, NULL);
        kept = w->kept;
        sm_logbook_writer_problem(w, buffer);
        writer_free(w);
    } else {
        pthread_detach(thread);
    }
    if (problem)
        memcpy(problem, buffer, sizeof buffer);
    return kept;
}

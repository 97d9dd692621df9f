// SPDX-License-Identifier: GPL-3.0-or-later
#include "session/inside.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

// The sound has no descriptor to wait on: its events are looked for this often.
#define LOOK_AGAIN_US (SM_US_PER_S / 10)

// ---- telling the screen ---------------------------------------------------------------

static void send_news(sm_session *session) { // under the lock
    if (!session->news_sent)
        session->news_sent = write(session->news[1], "", 1) == 1;
}

void sm_session_tell(sm_session *session, sm_outcome_kind kind, const char *format, ...) {
    sm_outcome_note note = {.kind = kind, .wall = sm_audio_now(session->audio)};
    va_list args;
    va_start(args, format);
    vsnprintf(note.text, sizeof note.text, format, args);
    va_end(args);
    pthread_mutex_lock(&session->lock);
    if (session->outcome_count == SM_OUTCOMES) {
        session->outcome_first = (session->outcome_first + 1) % SM_OUTCOMES;
        session->outcome_count--;
    }
    session->outcomes[(session->outcome_first + session->outcome_count++) % SM_OUTCOMES] = note;
    send_news(session);
    pthread_mutex_unlock(&session->lock);
}

static void keep_row(void *context, const sm_log_row *row) {
    sm_session *session = context;
    if (session->log)
        sm_log_writer_put(session->log, row);
    if (session->kept)
        sm_logbook_writer_row(session->kept, row);
    // What a drill plants and marks is for the debrief: the trainee sees what can be seen, the score last of all.
    bool hidden = row->kind.what == SM_LOG_EVENT || row->kind.what == SM_LOG_MARK;
    if (!hidden) {
        pthread_mutex_lock(&session->lock);
        sm_recent_put(&session->recent, row);
        pthread_mutex_unlock(&session->lock);
    }
    session->changed = true;
}

static void keep_action(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_session *session = context;
    if (session->kept)
        sm_logbook_writer_action(session->kept, action, source, at);
}

// `back` must be of the present show before it can be filled. False: no memory for it.
static bool renew_back(sm_session *session) {
    if (session->back && session->back->show == session->show)
        return true;
    sm_snapshot *renewed;
    if (sm_snapshot_create(session->show, &renewed) != SM_OK)
        return false;
    sm_snapshot_destroy(session->back);
    session->back = renewed;
    return true;
}

static bool looks_at(const sm_snapshot *snapshot, const sm_show *show) {
    return snapshot && snapshot->show == show;
}

// Replaced shows that no snapshot points at any more are let go.
static void free_retired(sm_session *session) {
    for (size_t i = 0; i < SM_RETIRED; i++) {
        sm_show *show = session->retired[i];
        if (!show)
            continue;
        if (looks_at(session->back, show)) {
            sm_snapshot_destroy(session->back);
            session->back = NULL; // made anew for the next one
        }
        pthread_mutex_lock(&session->lock);
        bool used = looks_at(session->ready, show) || looks_at(session->front, show);
        pthread_mutex_unlock(&session->lock);
        if (!used) {
            sm_show_destroy(show);
            session->retired[i] = NULL;
        }
    }
}

static void publish(sm_session *session) {
    if (!renew_back(session)) {
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out: the screen shows what was before");
        return;
    }
    sm_rehearsal_snapshot(session->rehearsal, sm_audio_now(session->audio), session->back);
    const sm_snapshot *seen = session->back;
    session->heard = (sm_heard){seen->repeat_on,          seen->repeat_from,
                                seen->repeat_to,          seen->at,
                                (int)seen->volume,        seen->muted || seen->sights.sound_lost,
                                seen->sights.music_off_us};
    sm_drill_view drill_view;
    sm_drill_view_fill(&drill_view, session->drill_run);
    session->changed = false;
    pthread_mutex_lock(&session->lock);
    sm_snapshot *taken = session->ready;
    session->ready = session->back;
    session->back = taken;
    session->ready_new = true;
    session->drill_view = drill_view;
    session->wanted = false;
    send_news(session);
    pthread_mutex_unlock(&session->lock);
    free_retired(session);
}

// ---- the sound follows --------------------------------------------------------------------

static bool same_transport(const sm_transport *a, const sm_transport *b) {
    return a->w0.us == b->w0.us && a->s0.us == b->s0.us && a->speed_ppm == b->speed_ppm &&
           a->playing == b->playing;
}

static void tell_transport(sm_session *session, const sm_transport *transport) {
    if (sm_audio_transport(session->audio, transport->w0, transport->s0, transport->speed_ppm,
                           transport->playing) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "the music cannot be played at this speed");
}

// Where the next jump of a repeat is planned, the sound is told ahead of time, to meet it to the frame.
static bool planned_jump(const sm_heard *heard, const sm_transport *now, sm_transport *jump) {
    if (!heard->repeat_on || !now->playing || heard->at.us >= heard->repeat_to.us)
        return false;
    *jump =
        (sm_transport){sm_transport_wall_at(now, heard->repeat_to), heard->repeat_from, now->speed_ppm, true};
    return true;
}

static void follow_sound(sm_session *session) {
    const sm_heard *heard = &session->heard;
    sm_transport now = sm_rehearsal_transport(session->rehearsal), jump = {0};
    bool jumps = planned_jump(heard, &now, &jump);
    bool same = same_transport(&now, &session->transport) && jumps == session->jump_told &&
                (!jumps || same_transport(&jump, &session->jump));
    if (!same) {
        tell_transport(session, &now);
        if (jumps)
            tell_transport(session, &jump);
        session->transport = now;
        session->jump = jump;
        session->jump_told = jumps;
    }
    if (heard->volume != session->volume) {
        session->volume = heard->volume;
        sm_audio_volume(session->audio, session->volume);
    }
    if (heard->music_off_us != session->music_off_us) {
        session->music_off_us = heard->music_off_us;
        sm_audio_music_off(session->audio, session->music_off_us);
    }
    if (heard->muted != session->muted) {
        session->muted = heard->muted;
        sm_audio_mute(session->audio, session->muted);
    }
}

void sm_session_send_timecode(sm_session *session) {
    if (session->timecode_channel && sm_audio_timecode_send(session->audio, &session->show->settings.timecode,
                                                            session->timecode_channel) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "no timecode goes out");
}

static_assert((int)SM_SOUND_DEVICE == SM_AUDIO_EVENT_DEVICE &&
                  (int)SM_SOUND_SILENT == SM_AUDIO_EVENT_SILENT &&
                  (int)SM_SOUND_LOST == SM_AUDIO_EVENT_LOST && (int)SM_SOUND_BACK == SM_AUDIO_EVENT_BACK,
              "what happens to the sound is the same for the sound and for the engine");

static void log_sound(sm_session *session) {
    sm_audio_event event;
    while (sm_audio_next_event(session->audio, &event)) {
        sm_wall_time now = sm_audio_now(session->audio);
        sm_rehearsal_issue_at(session->rehearsal, now);
        if (sm_rehearsal_sound(session->rehearsal, (sm_sound_change)event.kind, event.text, now) != SM_OK)
            sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out");
        if (event.kind == SM_AUDIO_EVENT_LOST)
            sm_session_tell(session, SM_OUTCOME_WRONG, "SOUND LOST: %s; the clock runs on", event.text);
        else if (event.kind == SM_AUDIO_EVENT_BACK)
            sm_session_tell(session, SM_OUTCOME_TOLD, "sound is back: %s", event.text);
    }
}

// ---- acting ------------------------------------------------------------------------------------

static void act(sm_session *session, const sm_action *action) {
    if (action->act == SM_ACT_QUIT && sm_session_end_drill(session))
        return;
    sm_wall_time now = sm_audio_now(session->audio);
    sm_rehearsal_issue_at(session->rehearsal, now);
    sm_text caution = {0};
    if (!session->drill_run) // a drill marks it, and says so afterwards
        sm_rehearsal_caution(session->rehearsal, action, &caution);
    sm_result result = session->drill_run
                           ? sm_drill_act(session->drill_run, action, SM_SOURCE_CONSOLE, now)
                           : sm_rehearsal_act(session->rehearsal, action, SM_SOURCE_CONSOLE, now);
    session->changed = true;
    if (result == SM_REFUSED) {
        sm_session_tell(session, SM_OUTCOME_REFUSED, "%s refused: %s", sm_action_row_of(action->act)->name,
                        sm_rehearsal_refusal(session->rehearsal));
    } else if (result != SM_OK) {
        sm_session_tell(session, SM_OUTCOME_WRONG, "%s: %s", sm_action_row_of(action->act)->name,
                        sm_result_text(result));
    } else if (action->act == SM_ACT_RELOAD) {
        session->reload_wanted = true;
    } else if (caution.length > 0) {
        sm_session_tell(session, SM_OUTCOME_WRONG, "%s is done, BUT %s", sm_action_row_of(action->act)->name,
                        sm_text_get(&caution));
    }
    sm_text_deinit(&caution);
}

// A file of readings is taken back as one; whatever else can be taken back, or forgets readings, ends that.
static void follow_undo(sm_session *session, sm_action *action) {
    switch (action->act) {
    case SM_ACT_UNDO:
        if (session->file_reads > 1 && action->count == 0) {
            action->count = session->file_reads;
            snprintf(action->target, sizeof action->target, "%d", (int)action->count);
        }
        session->file_reads = 0;
        break;
    case SM_ACT_READ:
    case SM_ACT_MARK:
    case SM_ACT_TICK:
    case SM_ACT_NOTE:
    case SM_ACT_REPAIR:
    case SM_ACT_MEASURE:
    case SM_ACT_RELOAD:
        session->file_reads = 0;
        break;
    default:
        break;
    }
}

void sm_session_do(sm_session *session, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    if (sm_action_read(session->show, line, strlen(line), &action, why, &at) != SM_OK) {
        sm_session_tell(session, SM_OUTCOME_WRONG, "%s", why);
        return;
    }
    follow_undo(session, &action);
    act(session, &action);
}

static void run_to_now(sm_session *session) {
    sm_wall_time now = sm_audio_now(session->audio);
    sm_rehearsal_issue_at(session->rehearsal, now);
    sm_state before = sm_rehearsal_state(session->rehearsal);
    sm_wall_time due = {INT64_MAX};
    session->changed |= session->drill_run && sm_drill_next_due(session->drill_run, &due) && due.us <= now.us;
    if ((session->drill_run ? sm_drill_run_to(session->drill_run, now)
                            : sm_rehearsal_run(session->rehearsal, now)) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out: tried again soon");
    session->changed |= before != sm_rehearsal_state(session->rehearsal);
}

// ---- the engine's thread -----------------------------------------------------------------------------

typedef struct work {
    char **lines;
    size_t line_count;
    char *read_path;
    bool wanted, ending;
} work;

// When to wake up by oneself, on CLOCK_MONOTONIC.
static struct timespec next_wake(sm_session *session) {
    struct timespec latest = sm_monotonic_after(LOOK_AGAIN_US);
    sm_wall_time due;
    bool any = session->drill_run ? sm_drill_next_due(session->drill_run, &due)
                                  : sm_rehearsal_next_due(session->rehearsal, &due);
    if (!any)
        return latest;
    struct timespec at = sm_monotonic_at_ns(sm_audio_monotonic_ns(session->audio, due));
    bool sooner = at.tv_sec < latest.tv_sec || (at.tv_sec == latest.tv_sec && at.tv_nsec < latest.tv_nsec);
    return sooner ? at : latest;
}

static work wait_for_work(sm_session *session) {
    struct timespec until = next_wake(session);
    pthread_mutex_lock(&session->lock);
    while (session->line_count == 0 && !session->read_path && !session->wanted && !session->ending &&
           !session->job.done)
        if (pthread_cond_timedwait(&session->wake, &session->lock, &until) == ETIMEDOUT)
            break;
    work taken = {session->lines, session->line_count, session->read_path, session->wanted, session->ending};
    session->lines = NULL;
    session->line_count = session->line_capacity = 0;
    session->read_path = NULL;
    pthread_mutex_unlock(&session->lock);
    return taken;
}

static void do_lines(sm_session *session, const work *taken) {
    for (size_t i = 0; i < taken->line_count; i++) {
        sm_session_do(session, taken->lines[i]);
        free(taken->lines[i]);
    }
    free(taken->lines);
    pthread_mutex_lock(&session->lock);
    session->lines_done += taken->line_count;
    session->has_quit = sm_rehearsal_quit(session->rehearsal);
    if (taken->line_count > 0)
        pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
}

static void *drive(void *context) {
    sm_session *session = context;
    for (;;) {
        work taken = wait_for_work(session);
        run_to_now(session);
        do_lines(session, &taken);
        sm_session_serve_instructor(session);
        sm_session_follow_drill(session);
        if (taken.read_path) {
            free(session->reading_path);
            session->reading_path = taken.read_path;
        }
        sm_job_collect(session);
        sm_job_begin(session, &session->reading_path);
        log_sound(session);
        if (session->changed || taken.wanted)
            publish(session);
        follow_sound(session);
        if (taken.ending)
            break;
    }
    sm_job_abandon(session);
    return NULL;
}

// ---- making and ending ----------------------------------------------------------------------------------

static bool open_news(sm_session *session) {
    if (pipe2(session->news, O_CLOEXEC | O_NONBLOCK) != 0) {
        session->news[0] = session->news[1] = -1;
        return false;
    }
    return true;
}

static sm_result open_sound(sm_session *session, const sm_session_options *options) {
    const sm_show_settings *settings = &session->show->settings;
    sm_text path = {0}, cache = {0};
    if (settings->audio[0])
        sm_text_printf(&path, "%s/%s", session->show->folder, settings->audio);
    bool keeps = sm_audio_cache_folder(&cache) == SM_OK;
    sm_audio_options audio = {.path = settings->audio[0] ? sm_text_get(&path) : NULL,
                              .audio_start_us = settings->audio_start_us,
                              .device = options->device,
                              .silent = options->silent,
                              .sound_offset_us = options->sound_offset_us,
                              .cache_folder = keeps ? sm_text_get(&cache) : NULL};
    sm_result result = path.failed ? SM_NO_MEMORY : sm_audio_open(&audio, &session->audio);
    sm_text_deinit(&path);
    sm_text_deinit(&cache);
    session->timecode_channel = options->timecode_channel;
    if (result == SM_OK)
        sm_session_send_timecode(session);
    return result;
}

static sm_result make_snapshots(sm_session *session) {
    sm_snapshot **const all[] = {&session->back, &session->ready, &session->front};
    for (size_t i = 0; i < 3; i++) {
        sm_result result = sm_snapshot_create(session->show, all[i]);
        if (result != SM_OK)
            return result;
        sm_rehearsal_snapshot(session->rehearsal, (sm_wall_time){0}, *all[i]);
    }
    return SM_OK;
}

// A logbook that cannot be written stops nothing: the screen says so.
static sm_result begin_keeping(sm_session *session, const sm_session_options *options, char problem[320]) {
    sm_logbook_load *load = NULL;
    struct timespec now;
    if (!options->logbook_path)
        return SM_OK;
    sm_result result = sm_logbook_load_create(session->show, options->readings_file, &load);
    if (result == SM_UNREADABLE) {
        snprintf(problem, 320, "%.200s: cannot be kept in the logbook: %s", session->show->folder,
                 strerror(errno));
    }
    if (result != SM_OK)
        return result;
    clock_gettime(CLOCK_REALTIME, &now);
    const sm_logbook_start start = {.path = options->logbook_path,
                                    .mode = options->drill ? "drill" : "console",
                                    .drill = options->drill != NULL,
                                    .bare = options->bare,
                                    .launch_us = (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000 -
                                                 sm_audio_now(session->audio).us};
    return sm_logbook_writer_create(&start, load, &session->kept);
}

static sm_result open_rehearsal(sm_session *session, const sm_session_options *options) {
    if (!options->drill) {
        sm_rehearsal_options plain = {
            .bare = options->bare, .sink = keep_row, .acted = keep_action, .sink_context = session};
        return sm_rehearsal_create(session->show, &plain, &session->rehearsal);
    }
    session->drill = options->drill;
    sm_drill_options taken = {.seed = options->drill->seed,
                              .crew = options->drill->crew,
                              .bare = options->bare,
                              .waits = true, // until the first screen was read and answered
                              .sink = keep_row,
                              .acted = keep_action,
                              .sink_context = session};
    sm_result result = sm_drill_run_create(options->drill->drill, &taken, &session->drill_run);
    if (result == SM_OK) {
        session->rehearsal = sm_drill_rehearsal(session->drill_run);
        sm_drill_view_fill(&session->drill_view, session->drill_run);
        char why[SM_LINK_WHY];
        if (sm_link_listen(why, &session->link) != SM_OK)
            sm_session_tell(session, SM_OUTCOME_TOLD, "%s", why); // the drill goes on alone
    }
    return result;
}

static sm_result begin(sm_session *session, const sm_session_options *options, char problem[320]) {
    snprintf(problem, 320, "memory ran out");
    session->show = options->show;
    session->folder = strdup(options->show->folder);
    session->readings_file = options->readings_file ? strdup(options->readings_file) : NULL;
    if (!session->folder || (options->readings_file && !session->readings_file))
        return SM_NO_MEMORY;
    if (!open_news(session)) {
        snprintf(problem, 320, "no pipe could be opened: %s", strerror(errno));
        return SM_UNREADABLE;
    }
    if (options->log_path) {
        sm_result result = sm_log_writer_open(options->log_path, &session->log);
        if (result != SM_OK) {
            snprintf(problem, 320, "%s: the log cannot be written: %s", options->log_path, strerror(errno));
            return result;
        }
    }
    sm_result result = open_sound(session, options);
    if (result != SM_OK) {
        snprintf(problem, 320, "the sound clock could not be started: %s", sm_result_text(result));
        return result;
    }
    result = begin_keeping(session, options, problem);
    if (result != SM_OK)
        return result;
    result = open_rehearsal(session, options);
    if (result == SM_OK)
        result = make_snapshots(session);
    if (result == SM_OK) {
        session->thread_runs = pthread_create(&session->thread, NULL, drive, session) == 0;
        result = session->thread_runs ? SM_OK : SM_NO_MEMORY;
    }
    return result;
}

sm_result sm_session_create(const sm_session_options *options, char problem[320], sm_session **out) {
    sm_session *session = calloc(1, sizeof *session);
    if (!session) {
        snprintf(problem, 320, "memory ran out");
        sm_show_destroy(options->show);
        sm_findings_destroy(options->loaded);
        return SM_NO_MEMORY;
    }
    session->news[0] = session->news[1] = -1;
    session->volume = session->heard.volume = 100;
    session->check_wanted = true;
    session->loaded = options->loaded;
    session->unkept = options->unkept;
    pthread_mutex_init(&session->lock, NULL);
    sm_condition_init(&session->wake);
    sm_result result = begin(session, options, problem);
    if (result != SM_OK) {
        sm_session_destroy(session);
        return result;
    }
    *out = session;
    return SM_OK;
}

static void end_thread(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    session->ending = true;
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
    pthread_join(session->thread, NULL);
}

void sm_session_destroy(sm_session *session) {
    if (!session)
        return;
    if (session->thread_runs)
        end_thread(session);
    sm_session_close_rehearsal(session); // its last rows go into the log
    sm_log_writer_close(session->log, 2 * SM_US_PER_S);
    sm_logbook_writer_close(session->kept, 2 * SM_US_PER_S, session->unkept);
    sm_audio_close(session->audio);
    sm_snapshot_destroy(session->back);
    sm_snapshot_destroy(session->ready);
    sm_snapshot_destroy(session->front);
    for (size_t i = 0; i < SM_RETIRED; i++)
        sm_show_destroy(session->retired[i]);
    sm_show_destroy(session->show);
    sm_findings_destroy(session->findings);
    for (size_t i = 0; i < session->line_count; i++)
        free(session->lines[i]);
    free(session->lines);
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++)
        free(session->answers[i]);
    sm_debrief_destroy(session->debrief);
    free(session->read_path);
    free(session->reading_path);
    sm_findings_destroy(session->loaded);
    sm_findings_destroy(session->of_show);
    free(session->folder);
    free(session->readings_file);
    for (int i = 0; i < 2; i++)
        if (session->news[i] >= 0)
            close(session->news[i]);
    pthread_cond_destroy(&session->wake);
    pthread_mutex_destroy(&session->lock);
    free(session);
}

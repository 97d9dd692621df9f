// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/driver_private.h"

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

static void send_news(sm_driver *driver) { // under the lock
    if (!driver->news_sent)
        driver->news_sent = write(driver->news[1], "", 1) == 1;
}

void sm_driver_tell(sm_driver *driver, sm_outcome_kind kind, const char *format, ...) {
    sm_outcome_note note = {.kind = kind, .wall = sm_audio_now(driver->audio)};
    va_list args;
    va_start(args, format);
    vsnprintf(note.text, sizeof note.text, format, args);
    va_end(args);
    pthread_mutex_lock(&driver->lock);
    if (driver->outcome_count == SM_OUTCOMES) {
        driver->outcome_first = (driver->outcome_first + 1) % SM_OUTCOMES;
        driver->outcome_count--;
    }
    driver->outcomes[(driver->outcome_first + driver->outcome_count++) % SM_OUTCOMES] = note;
    send_news(driver);
    pthread_mutex_unlock(&driver->lock);
}

static void keep_row(void *context, const sm_log_row *row) {
    sm_driver *driver = context;
    if (driver->log)
        sm_log_writer_put(driver->log, row);
    if (driver->kept)
        sm_logbook_writer_row(driver->kept, row);
    // What a drill plants and marks is for the debrief: the trainee sees what can be seen, the score last of all.
    bool hidden =
        row->source == SM_SOURCE_DRILL && (strcmp(row->what, "event") == 0 || strcmp(row->what, "mark") == 0);
    if (!hidden) {
        pthread_mutex_lock(&driver->lock);
        sm_recent_put(&driver->recent, row);
        pthread_mutex_unlock(&driver->lock);
    }
    driver->changed = true;
}

static void keep_action(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_driver *driver = context;
    if (driver->kept)
        sm_logbook_writer_action(driver->kept, action, source, at);
}

// `back` must be of the present show before it can be filled. False: no memory for it.
static bool renew_back(sm_driver *driver) {
    if (driver->back && driver->back->show == driver->show)
        return true;
    sm_snapshot *renewed;
    if (sm_snapshot_create(driver->show, &renewed) != SM_OK)
        return false;
    sm_snapshot_destroy(driver->back);
    driver->back = renewed;
    return true;
}

static bool looks_at(const sm_snapshot *snapshot, const sm_show *show) {
    return snapshot && snapshot->show == show;
}

// Replaced shows that no snapshot points at any more are let go.
static void free_retired(sm_driver *driver) {
    for (size_t i = 0; i < SM_RETIRED; i++) {
        sm_show *show = driver->retired[i];
        if (!show)
            continue;
        if (looks_at(driver->back, show)) {
            sm_snapshot_destroy(driver->back);
            driver->back = NULL; // made anew for the next one
        }
        pthread_mutex_lock(&driver->lock);
        bool used = looks_at(driver->ready, show) || looks_at(driver->front, show);
        pthread_mutex_unlock(&driver->lock);
        if (!used) {
            sm_show_destroy(show);
            driver->retired[i] = NULL;
        }
    }
}

static void publish(sm_driver *driver) {
    if (!renew_back(driver)) {
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out: the screen shows what was before");
        return;
    }
    sm_rehearsal_snapshot(driver->rehearsal, sm_audio_now(driver->audio), driver->back);
    const sm_snapshot *seen = driver->back;
    driver->heard = (sm_heard){seen->repeat_on,          seen->repeat_from,
                               seen->repeat_to,          seen->at,
                               (int)seen->volume,        seen->muted || seen->sights.sound_lost,
                               seen->sights.music_off_us};
    sm_drill_view drill_view;
    sm_drill_view_fill(&drill_view, driver->drill_run);
    driver->changed = false;
    pthread_mutex_lock(&driver->lock);
    sm_snapshot *taken = driver->ready;
    driver->ready = driver->back;
    driver->back = taken;
    driver->ready_new = true;
    driver->drill_view = drill_view;
    driver->wanted = false;
    send_news(driver);
    pthread_mutex_unlock(&driver->lock);
    free_retired(driver);
}

// ---- the sound follows --------------------------------------------------------------------

static bool same_transport(const sm_transport *a, const sm_transport *b) {
    return a->w0.us == b->w0.us && a->s0.us == b->s0.us && a->speed_ppm == b->speed_ppm &&
           a->playing == b->playing;
}

static void tell_transport(sm_driver *driver, const sm_transport *transport) {
    if (sm_audio_transport(driver->audio, transport->w0, transport->s0, transport->speed_ppm,
                           transport->playing) != SM_OK)
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "the music cannot be played at this speed");
}

// Where the next jump of a repeat is planned, the sound is told ahead of time, to meet it to the frame.
static bool planned_jump(const sm_heard *heard, const sm_transport *now, sm_transport *jump) {
    if (!heard->repeat_on || !now->playing || heard->at.us >= heard->repeat_to.us)
        return false;
    *jump =
        (sm_transport){sm_transport_wall_at(now, heard->repeat_to), heard->repeat_from, now->speed_ppm, true};
    return true;
}

static void follow_sound(sm_driver *driver) {
    const sm_heard *heard = &driver->heard;
    sm_transport now = sm_rehearsal_transport(driver->rehearsal), jump = {0};
    bool jumps = planned_jump(heard, &now, &jump);
    bool same = same_transport(&now, &driver->transport) && jumps == driver->jump_told &&
                (!jumps || same_transport(&jump, &driver->jump));
    if (!same) {
        tell_transport(driver, &now);
        if (jumps)
            tell_transport(driver, &jump);
        driver->transport = now;
        driver->jump = jump;
        driver->jump_told = jumps;
    }
    if (heard->volume != driver->volume) {
        driver->volume = heard->volume;
        sm_audio_volume(driver->audio, driver->volume);
    }
    if (heard->music_off_us != driver->music_off_us) {
        driver->music_off_us = heard->music_off_us;
        sm_audio_music_off(driver->audio, driver->music_off_us);
    }
    if (heard->muted != driver->muted) {
        driver->muted = heard->muted;
        sm_audio_mute(driver->audio, driver->muted);
    }
}

void sm_driver_send_timecode(sm_driver *driver) {
    if (driver->timecode_channel && sm_audio_timecode_send(driver->audio, &driver->show->settings.timecode,
                                                           driver->timecode_channel) != SM_OK)
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "no timecode goes out");
}

static void log_sound(sm_driver *driver) {
    sm_audio_event event;
    while (sm_audio_next_event(driver->audio, &event)) {
        sm_wall_time now = sm_audio_now(driver->audio);
        sm_rehearsal_issue_at(driver->rehearsal, now);
        if (sm_rehearsal_sound(driver->rehearsal, sm_audio_event_text(event.kind), event.text, now) != SM_OK)
            sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out");
        if (event.kind == SM_AUDIO_EVENT_LOST)
            sm_driver_tell(driver, SM_OUTCOME_WRONG, "SOUND LOST: %s; the clock runs on", event.text);
        else if (event.kind == SM_AUDIO_EVENT_BACK)
            sm_driver_tell(driver, SM_OUTCOME_TOLD, "sound is back: %s", event.text);
    }
}

// ---- acting ------------------------------------------------------------------------------------

static void act(sm_driver *driver, const sm_action *action) {
    if (action->act == SM_ACT_QUIT && sm_driver_end_drill(driver))
        return;
    sm_wall_time now = sm_audio_now(driver->audio);
    sm_rehearsal_issue_at(driver->rehearsal, now);
    sm_text caution = {0};
    if (!driver->drill_run) // a drill marks it, and says so afterwards
        sm_rehearsal_caution(driver->rehearsal, action, &caution);
    sm_result result = driver->drill_run
                           ? sm_drill_act(driver->drill_run, action, SM_SOURCE_CONSOLE, now)
                           : sm_rehearsal_act(driver->rehearsal, action, SM_SOURCE_CONSOLE, now);
    driver->changed = true;
    if (result == SM_REFUSED) {
        sm_driver_tell(driver, SM_OUTCOME_REFUSED, "%s refused: %s", sm_action_row_of(action->act)->name,
                       sm_rehearsal_refusal(driver->rehearsal));
    } else if (result != SM_OK) {
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "%s: %s", sm_action_row_of(action->act)->name,
                       sm_result_text(result));
    } else if (action->act == SM_ACT_RELOAD) {
        driver->reload_wanted = true;
    } else if (caution.length > 0) {
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "%s is done, BUT %s", sm_action_row_of(action->act)->name,
                       sm_text_get(&caution));
    }
    sm_text_deinit(&caution);
}

// A file of readings is taken back as one; whatever else can be taken back, or forgets readings, ends that.
static void follow_undo(sm_driver *driver, sm_action *action) {
    switch (action->act) {
    case SM_ACT_UNDO:
        if (driver->file_reads > 1 && action->count == 0) {
            action->count = driver->file_reads;
            snprintf(action->target, sizeof action->target, "%d", (int)action->count);
        }
        driver->file_reads = 0;
        break;
    case SM_ACT_READ:
    case SM_ACT_MARK:
    case SM_ACT_TICK:
    case SM_ACT_NOTE:
    case SM_ACT_REPAIR:
    case SM_ACT_MEASURE:
    case SM_ACT_RELOAD:
        driver->file_reads = 0;
        break;
    default:
        break;
    }
}

void sm_driver_do(sm_driver *driver, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    if (sm_action_read(driver->show, line, strlen(line), &action, why, &at) != SM_OK) {
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "%s", why);
        return;
    }
    follow_undo(driver, &action);
    act(driver, &action);
}

static void run_to_now(sm_driver *driver) {
    sm_wall_time now = sm_audio_now(driver->audio);
    sm_rehearsal_issue_at(driver->rehearsal, now);
    sm_state before = sm_rehearsal_state(driver->rehearsal);
    sm_wall_time due = {INT64_MAX};
    driver->changed |= driver->drill_run && sm_drill_next_due(driver->drill_run, &due) && due.us <= now.us;
    if ((driver->drill_run ? sm_drill_run_to(driver->drill_run, now)
                           : sm_rehearsal_run(driver->rehearsal, now)) != SM_OK)
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out: tried again soon");
    driver->changed |= before != sm_rehearsal_state(driver->rehearsal);
}

// ---- the engine's thread -----------------------------------------------------------------------------

typedef struct work {
    char **lines;
    size_t line_count;
    char *read_path;
    bool wanted, ending;
} work;

// When to wake up by oneself, on CLOCK_MONOTONIC.
static struct timespec next_wake(sm_driver *driver) {
    struct timespec latest = sm_monotonic_after(LOOK_AGAIN_US);
    sm_wall_time due;
    bool any = driver->drill_run ? sm_drill_next_due(driver->drill_run, &due)
                                 : sm_rehearsal_next_due(driver->rehearsal, &due);
    if (!any)
        return latest;
    struct timespec at = sm_monotonic_at_ns(sm_audio_monotonic_ns(driver->audio, due));
    bool sooner = at.tv_sec < latest.tv_sec || (at.tv_sec == latest.tv_sec && at.tv_nsec < latest.tv_nsec);
    return sooner ? at : latest;
}

static work wait_for_work(sm_driver *driver) {
    struct timespec until = next_wake(driver);
    pthread_mutex_lock(&driver->lock);
    while (driver->line_count == 0 && !driver->read_path && !driver->wanted && !driver->ending &&
           !driver->job.done)
        if (pthread_cond_timedwait(&driver->wake, &driver->lock, &until) == ETIMEDOUT)
            break;
    work taken = {driver->lines, driver->line_count, driver->read_path, driver->wanted, driver->ending};
    driver->lines = NULL;
    driver->line_count = driver->line_capacity = 0;
    driver->read_path = NULL;
    pthread_mutex_unlock(&driver->lock);
    return taken;
}

static void do_lines(sm_driver *driver, const work *taken) {
    for (size_t i = 0; i < taken->line_count; i++) {
        sm_driver_do(driver, taken->lines[i]);
        free(taken->lines[i]);
    }
    free(taken->lines);
    pthread_mutex_lock(&driver->lock);
    driver->lines_done += taken->line_count;
    driver->has_quit = sm_rehearsal_quit(driver->rehearsal);
    if (taken->line_count > 0)
        pthread_cond_broadcast(&driver->wake);
    pthread_mutex_unlock(&driver->lock);
}

static void *drive(void *context) {
    sm_driver *driver = context;
    for (;;) {
        work taken = wait_for_work(driver);
        run_to_now(driver);
        do_lines(driver, &taken);
        sm_driver_serve_instructor(driver);
        sm_driver_follow_drill(driver);
        if (taken.read_path) {
            free(driver->reading_path);
            driver->reading_path = taken.read_path;
        }
        sm_job_collect(driver);
        sm_job_begin(driver, &driver->reading_path);
        log_sound(driver);
        if (driver->changed || taken.wanted)
            publish(driver);
        follow_sound(driver);
        if (taken.ending)
            break;
    }
    sm_job_abandon(driver);
    return NULL;
}

// ---- making and ending ----------------------------------------------------------------------------------

static bool open_news(sm_driver *driver) {
    if (pipe2(driver->news, O_CLOEXEC | O_NONBLOCK) != 0) {
        driver->news[0] = driver->news[1] = -1;
        return false;
    }
    return true;
}

static sm_result open_sound(sm_driver *driver, const sm_driver_options *options) {
    const sm_show_settings *settings = &driver->show->settings;
    sm_text path = {0}, cache = {0};
    if (settings->audio[0])
        sm_text_printf(&path, "%s/%s", driver->show->folder, settings->audio);
    bool keeps = sm_audio_cache_folder(&cache) == SM_OK;
    sm_audio_options audio = {.path = settings->audio[0] ? sm_text_get(&path) : NULL,
                              .audio_start_us = settings->audio_start_us,
                              .device = options->device,
                              .silent = options->silent,
                              .sound_offset_us = options->sound_offset_us,
                              .cache_folder = keeps ? sm_text_get(&cache) : NULL};
    sm_result result = path.failed ? SM_NO_MEMORY : sm_audio_open(&audio, &driver->audio);
    sm_text_deinit(&path);
    sm_text_deinit(&cache);
    driver->timecode_channel = options->timecode_channel;
    if (result == SM_OK)
        sm_driver_send_timecode(driver);
    return result;
}

static sm_result make_snapshots(sm_driver *driver) {
    sm_snapshot **const all[] = {&driver->back, &driver->ready, &driver->front};
    for (size_t i = 0; i < 3; i++) {
        sm_result result = sm_snapshot_create(driver->show, all[i]);
        if (result != SM_OK)
            return result;
        sm_rehearsal_snapshot(driver->rehearsal, (sm_wall_time){0}, *all[i]);
    }
    return SM_OK;
}

// A logbook that cannot be written stops nothing: the screen says so.
static sm_result begin_keeping(sm_driver *driver, const sm_driver_options *options, char problem[320]) {
    sm_logbook_load *load = NULL;
    struct timespec now;
    if (!options->logbook_path)
        return SM_OK;
    sm_result result = sm_logbook_load_create(driver->show, options->readings_file, &load);
    if (result == SM_UNREADABLE) {
        snprintf(problem, 320, "%.200s: cannot be kept in the logbook: %s", driver->show->folder,
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
                                                 sm_audio_now(driver->audio).us};
    return sm_logbook_writer_create(&start, load, &driver->kept);
}

static sm_result open_rehearsal(sm_driver *driver, const sm_driver_options *options) {
    if (!options->drill) {
        sm_rehearsal_options plain = {
            .bare = options->bare, .sink = keep_row, .acted = keep_action, .sink_context = driver};
        return sm_rehearsal_create(driver->show, &plain, &driver->rehearsal);
    }
    driver->drill = options->drill;
    sm_drill_options taken = {.seed = options->drill->seed,
                              .crew = options->drill->crew,
                              .bare = options->bare,
                              .waits = true, // until the first screen was read and answered
                              .sink = keep_row,
                              .acted = keep_action,
                              .sink_context = driver};
    sm_result result = sm_drill_run_create(options->drill->drill, &taken, &driver->drill_run);
    if (result == SM_OK) {
        driver->rehearsal = sm_drill_rehearsal(driver->drill_run);
        sm_drill_view_fill(&driver->drill_view, driver->drill_run);
        char why[SM_LINK_WHY];
        if (sm_link_listen(why, &driver->link) != SM_OK)
            sm_driver_tell(driver, SM_OUTCOME_TOLD, "%s", why); // the drill goes on alone
    }
    return result;
}

static sm_result begin(sm_driver *driver, const sm_driver_options *options, char problem[320]) {
    snprintf(problem, 320, "memory ran out");
    driver->show = options->show;
    driver->folder = strdup(options->show->folder);
    driver->readings_file = options->readings_file ? strdup(options->readings_file) : NULL;
    if (!driver->folder || (options->readings_file && !driver->readings_file))
        return SM_NO_MEMORY;
    if (!open_news(driver)) {
        snprintf(problem, 320, "no pipe could be opened: %s", strerror(errno));
        return SM_UNREADABLE;
    }
    if (options->log_path) {
        sm_result result = sm_log_writer_open(options->log_path, &driver->log);
        if (result != SM_OK) {
            snprintf(problem, 320, "%s: the log cannot be written: %s", options->log_path, strerror(errno));
            return result;
        }
    }
    sm_result result = open_sound(driver, options);
    if (result != SM_OK) {
        snprintf(problem, 320, "the sound clock could not be started: %s", sm_result_text(result));
        return result;
    }
    result = begin_keeping(driver, options, problem);
    if (result != SM_OK)
        return result;
    result = open_rehearsal(driver, options);
    if (result == SM_OK)
        result = make_snapshots(driver);
    if (result == SM_OK) {
        driver->thread_runs = pthread_create(&driver->thread, NULL, drive, driver) == 0;
        result = driver->thread_runs ? SM_OK : SM_NO_MEMORY;
    }
    return result;
}

sm_result sm_driver_create(const sm_driver_options *options, char problem[320], sm_driver **out) {
    sm_driver *driver = calloc(1, sizeof *driver);
    if (!driver) {
        snprintf(problem, 320, "memory ran out");
        sm_show_destroy(options->show);
        sm_findings_destroy(options->loaded);
        return SM_NO_MEMORY;
    }
    driver->news[0] = driver->news[1] = -1;
    driver->volume = driver->heard.volume = 100;
    driver->check_wanted = true;
    driver->loaded = options->loaded;
    driver->unkept = options->unkept;
    pthread_mutex_init(&driver->lock, NULL);
    sm_condition_init(&driver->wake);
    sm_result result = begin(driver, options, problem);
    if (result != SM_OK) {
        sm_driver_destroy(driver);
        return result;
    }
    *out = driver;
    return SM_OK;
}

static void end_thread(sm_driver *driver) {
    pthread_mutex_lock(&driver->lock);
    driver->ending = true;
    pthread_cond_broadcast(&driver->wake);
    pthread_mutex_unlock(&driver->lock);
    pthread_join(driver->thread, NULL);
}

void sm_driver_destroy(sm_driver *driver) {
    if (!driver)
        return;
    if (driver->thread_runs)
        end_thread(driver);
    sm_driver_close_rehearsal(driver); // its last rows go into the log
    sm_log_writer_close(driver->log, 2 * SM_US_PER_S);
    sm_logbook_writer_close(driver->kept, 2 * SM_US_PER_S, driver->unkept);
    sm_audio_close(driver->audio);
    sm_snapshot_destroy(driver->back);
    sm_snapshot_destroy(driver->ready);
    sm_snapshot_destroy(driver->front);
    for (size_t i = 0; i < SM_RETIRED; i++)
        sm_show_destroy(driver->retired[i]);
    sm_show_destroy(driver->show);
    sm_findings_destroy(driver->findings);
    for (size_t i = 0; i < driver->line_count; i++)
        free(driver->lines[i]);
    free(driver->lines);
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++)
        free(driver->answers[i]);
    sm_debrief_destroy(driver->debrief);
    free(driver->read_path);
    free(driver->reading_path);
    sm_findings_destroy(driver->loaded);
    sm_findings_destroy(driver->of_show);
    free(driver->folder);
    free(driver->readings_file);
    for (int i = 0; i < 2; i++)
        if (driver->news[i] >= 0)
            close(driver->news[i]);
    pthread_cond_destroy(&driver->wake);
    pthread_mutex_destroy(&driver->lock);
    free(driver);
}

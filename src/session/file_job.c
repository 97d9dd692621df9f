// SPDX-License-Identifier: GPL-3.0-or-later
// Files read while the rehearsal goes on: the show again, or readings.
#include "session/inside.h"

#include "slowmatch/check.h"
#include "slowmatch/clock.h"
#include "slowmatch/music.h"

#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// A file that hangs holds no end up for longer.
#define ABANDON_US SM_US_PER_S

static void put_all(sm_findings *to, const sm_findings *from) {
    for (size_t i = 0; from && i < sm_findings_count(from); i++)
        sm_findings_put(to, sm_findings_at(from, i));
}

// What the rules say about SHOW, joined with what LOADED holds, into OUT.
static void check_show(const sm_show *show, const sm_findings *loaded, const sm_check_options *audio,
                       sm_findings *out) {
    sm_check_report *report;
    if (sm_check_report_create(show, show->folder, loaded, audio, &report) != SM_OK) {
        sm_findings_add(out, "show.ini", 0, 0, SM_WARNING, "not-checked",
                        "memory ran out before the rules had been run");
        return;
    }
    put_all(out, report->findings);
    sm_check_report_destroy(report);
}

// What hangs on the show that was loaded; all of it is there before the rehearsal goes over to it.
static sm_result make_ready(sm_session *session, sm_job *job) {
    sm_result result = SM_OK;
    if (session->script) {
        result = sm_script_read(session->script_path, job->loaded, job->findings, &job->script);
        if (result != SM_OK && result != SM_NO_MEMORY)
            job->why = "the script does not fit the show as it is now";
    }
    for (size_t i = 0; i < 3 && result == SM_OK; i++)
        result = sm_snapshot_create(job->loaded, &job->snapshots[i]);
    if (result == SM_OK && (session->kept || !session->operated))
        result = sm_session_read_music(job);
    if (result == SM_OK && session->kept)
        result = sm_logbook_load_create(job->loaded, session->readings_file, &job->music.hash, &job->to_keep);
    if (result == SM_OK && session->kept)
        job->content = sm_logbook_load_content(job->to_keep);
    else if (result == SM_OK && !session->operated)
        result = sm_walk_content(job->loaded, &job->music.hash, &job->content);
    if (result == SM_REFUSED && !job->why)
        job->why = "the folder was changed while it was read, reload again";
    return result;
}

// Without it the sheets are made when one is asked for.
static void make_paper(const sm_show *show, sm_job *job) {
    if (sm_paper_create(show, NULL, &job->paper) != SM_OK)
        job->paper = NULL;
}

static void load_show(sm_session *session, sm_job *job) {
    sm_show_load_options options = {.readings_file = session->readings_file};
    sm_findings *loaded = sm_findings_create();
    if (!loaded) {
        job->result = SM_NO_MEMORY;
        return;
    }
    job->result = sm_show_load(session->folder, &options, loaded, &job->loaded);
    if (job->result == SM_OK) {
        sm_audio_info info;
        sm_check_options audio;
        sm_music_ask(job->loaded, NULL, &info, &audio);
        if (audio.audio_exists)
            sm_show_set_audio_end(job->loaded, audio.audio_end_us);
        if (session->checks)
            check_show(job->loaded, loaded, &audio, job->findings);
        else
            put_all(job->findings, loaded);
        job->result = make_ready(session, job);
        if (session->checks)
            make_paper(job->loaded, job);
    } else {
        put_all(job->findings, loaded);
    }
    sm_findings_destroy(loaded);
}

// The show that is being rehearsed: it is only read.
static void check_present_show(const sm_session *session, sm_job *job) {
    sm_audio_info info;
    sm_check_options audio;
    sm_music_ask(job->show, NULL, &info, &audio);
    check_show(job->show, session->loaded, &audio, job->findings);
    make_paper(job->show, job);
    job->result = SM_OK;
}

static sm_result load_readings_at(sm_job *job, const char *path, sm_arena *texts) {
    return sm_readings_load(job->show, path, job->findings, &job->readings, &job->reading_count, texts);
}

// A bare name that is not where the program was started stands with the show, where most files of readings lie.
static void load_readings(sm_job *job) {
    sm_arena *texts = sm_arena_create(); // when and by are not kept: `read` takes them from the rehearsal
    sm_text with_show = {0};
    job->result = texts ? load_readings_at(job, job->path, texts) : SM_NO_MEMORY;
    if (job->result == SM_UNREADABLE && errno == ENOENT && !strchr(job->path, '/')) {
        sm_text_printf(&with_show, "%s/%s", job->show->folder, job->path);
        job->result = with_show.failed ? SM_NO_MEMORY : load_readings_at(job, sm_text_get(&with_show), texts);
    }
    sm_text_deinit(&with_show);
    sm_arena_destroy(texts);
}

static void *work_on_job(void *context) {
    sm_session *session = context;
    sm_job *job = &session->job;
    if (job->kind == SM_JOB_APPLY)
        sm_session_apply(session, job);
    if (job->kind == SM_JOB_RELOAD || (job->kind == SM_JOB_APPLY && !job->why))
        load_show(session, job);
    else if (job->kind == SM_JOB_TRY)
        sm_session_try(job);
    else if (job->kind == SM_JOB_ACCENT)
        sm_session_find_accent(session);
    else if (job->kind == SM_JOB_CHECK)
        check_present_show(session, job);
    else if (job->kind == SM_JOB_READINGS)
        load_readings(job);
    else if (job->kind == SM_JOB_KEEP)
        sm_session_write_readings(job);
    else if (job->kind == SM_JOB_PAPER)
        sm_session_write_paper(job);
    pthread_mutex_lock(&session->lock);
    job->done = true;
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
    return NULL;
}

static void reload_failed(sm_session *session, const char *why) {
    sm_wall_time now = sm_session_act_moment(session);
    if (session->kept)
        sm_logbook_writer_reload_failed(session->kept, why, now);
    sm_rehearsal_reload_failed(session->rehearsal, why, now);
    sm_session_tell(session, SM_OUTCOME_REFUSED, "%s: %s; the show stays as it was",
                    session->job.kind == SM_JOB_APPLY ? "apply" : "reload", why);
}

static void job_clear(sm_job *job) {
    sm_operator_destroy(job->script);
    for (size_t i = 0; i < 3; i++)
        sm_snapshot_destroy(job->snapshots[i]);
    sm_show_destroy(job->loaded);
    sm_logbook_load_destroy(job->to_keep);
    sm_paper_destroy(job->paper);
    free(job->readings);
    free(job->path);
    free(job->rows);
    sm_text_deinit(&job->said);
    sm_text_deinit(&job->words);
    sm_findings_destroy(job->findings);
    *job = (sm_job){0};
}

// Takes over PATH. False: no memory, or no thread.
static bool begin(sm_session *session, sm_job_kind kind, char *path) {
    sm_job *job = &session->job;
    sm_findings *findings = sm_findings_create();
    assert(job->kind == SM_JOB_NONE);
    *job = (sm_job){
        .kind = kind, .show = session->show, .path = path, .findings = findings, .music = session->music};
    if (kind == SM_JOB_KEEP) {
        job->rows = session->keep_rows;
        job->row_count = session->keep_count;
        job->kept_at = session->now;
        session->keep_rows = NULL;
    }
    sm_session_take_proposals(session, job);
    if (findings && !session->audio) {
        work_on_job(session);
        return true;
    }
    if (findings && pthread_create(&job->thread, NULL, work_on_job, session) == 0)
        return true;
    job_clear(job);
    return false;
}

// Where the show's readings come from.
static char *readings_path(const sm_session *session) {
    sm_text path = {0};
    if (session->readings_file)
        sm_text_printf(&path, "%s", session->readings_file);
    else
        sm_text_printf(&path, "%s/readings.csv", session->folder);
    if (path.failed)
        sm_text_deinit(&path);
    return path.bytes;
}

static void begin_next(sm_session *session) {
    if (session->job.kind != SM_JOB_NONE)
        return;
    if (session->accent_wanted) { // somebody taps, and it takes some milliseconds
        session->accent_wanted = false;
        (void)begin(session, SM_JOB_ACCENT, NULL); // who asked may ask again
    } else if (session->check_wanted) {
        session->check_wanted = false;
        (void)begin(session, SM_JOB_CHECK, NULL); // without it the notes stay as loading left them
    } else if (session->apply_wanted || session->reload_wanted) {
        const sm_job_kind kind = session->apply_wanted ? SM_JOB_APPLY : SM_JOB_RELOAD;
        *(session->apply_wanted ? &session->apply_wanted : &session->reload_wanted) = false;
        if (!begin(session, kind, NULL))
            reload_failed(session, "memory ran out");
    } else if (session->try_wanted) {
        session->try_wanted = false;
        (void)begin(session, SM_JOB_TRY, NULL); // who asked may ask again
    } else if (session->reading_path) {
        char *path = session->reading_path;
        session->reading_path = NULL;
        if (!begin(session, SM_JOB_READINGS, path))
            sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out: no readings were taken");
    } else if (session->keep_rows) {
        if (!begin(session, SM_JOB_KEEP, readings_path(session)))
            sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out: no reading was kept");
    } else if (session->paper_path) {
        char *path = session->paper_path;
        session->paper_path = NULL;
        if (!begin(session, SM_JOB_PAPER, path))
            sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out: no paper was written");
    }
}

// ---- taking the result in --------------------------------------------------------------------

// A show that loads is rehearsed whatever the rules find in it; that they found errors is said. Returns BUFFER.
static const char *errors_found(size_t errors, char buffer[128]) {
    buffer[0] = '\0';
    if (errors > 0) {
        snprintf(buffer, 128,
                 "; the rules found %zu error%s in it: F7 says what, mend the folder and reload (L)", errors,
                 errors == 1 ? "" : "s");
    }
    return buffer;
}

// Why JOB's show cannot take the place of the present one; NULL: it can. BUFFER holds the text where it is not static.
static const char *why_not(const sm_session *session, const sm_job *job, char buffer[96]) {
    if (job->why)
        return job->why;
    if (job->result != SM_OK && job->errors == 0)
        return sm_result_text(job->result);
    snprintf(buffer, 96, "%zu error%s in the folder, see notes", job->errors, job->errors == 1 ? "" : "s");
    if (job->result != SM_OK)
        return buffer;
    bool safe = sm_rehearsal_state(session->rehearsal) == SM_STATE_SAFE;
    return safe ? NULL : "no longer safe when the folder had been read";
}

static void give_paper(sm_session *session, sm_job *job) {
    sm_session_take_paper(session, job->paper);
    job->paper = NULL;
}

// The old one is given back; a script goes on where it was.
static void go_over(sm_session *session, sm_job *job) {
    if (job->script) {
        sm_operator_follow(job->script, session->script);
        sm_operator_destroy(session->script);
        session->script = job->script;
        job->script = NULL;
    }
    sm_session_send_timecode(session);
    give_paper(session, job);
    sm_session_set_content(session, job->content);
    session->music = job->music;
    if (session->kept) {
        sm_logbook_writer_load(session->kept, job->to_keep, sm_rehearsal_facts(session->rehearsal).now);
        job->to_keep = NULL;
    }
}

static void replace_show(sm_session *session, sm_job *job) {
    char buffer[128];
    const char *why = why_not(session, job, buffer);
    if (why) {
        reload_failed(session, why);
        return;
    }
    if (!sm_session_can_retire(session)) {
        reload_failed(session, "the show before is still on screen, try again");
        return;
    }
    bool other_music = strcmp(session->show->settings.audio, job->loaded->settings.audio) != 0;
    (void)sm_session_act_moment(session); // the row that follows is issued now
    if (sm_rehearsal_replace_show(session->rehearsal, job->loaded) != SM_OK) {
        reload_failed(session, "memory ran out");
        return;
    }
    sm_session_retire_show(session, job->loaded, job->snapshots);
    job->loaded = NULL;
    go_over(session, job);
    sm_session_tell(
        session, job->errors > 0 ? SM_OUTCOME_WRONG : SM_OUTCOME_TOLD,
        job->kind == SM_JOB_APPLY
            ? "cues.csv was written and the show read again, readings are kept; paper of TIME and CALLS "
              "is old now%s%s"
            : "the show was read again, readings are kept%s%s",
        other_music ? "; the other music sounds after a new launch" : "", errors_found(job->errors, buffer));
}

// In a message a long path would take the room of what it is about; the findings have it whole. One that leads nowhere is said as typed.
static const char *name_of(const char *path) {
    const char *slash = strrchr(path, '/');
    return slash && slash[1] ? slash + 1 : path;
}

static void take_readings(sm_session *session, sm_job *job) {
    if (job->result == SM_UNREADABLE) {
        sm_session_tell(session, SM_OUTCOME_WRONG,
                        SM_SESSION_NO_FILE
                        ": %s cannot be opened (paths begin where the program was started, a bare "
                        "name also in the show's folder)",
                        job->path);
        return;
    }
    if (job->result != SM_OK) {
        sm_session_tell(session, SM_OUTCOME_WRONG, "%s: %s, nothing was taken; see notes", name_of(job->path),
                        job->errors > 0 ? "there are errors in it" : sm_result_text(job->result));
        return;
    }
    for (size_t i = 0; i < job->reading_count; i++) {
        sm_read_value value = job->readings[i].value;
        char slot[48], word[24], line[96];
        if (value.kind == SM_READ_OHMS)
            snprintf(word, sizeof word, "%.9g", value.ohms); // as people type it, and no digit less
        else
            sm_read_value_format(word, value);
        snprintf(line, sizeof line, "read %s %s", sm_slot_format(session->show, job->readings[i].slot, slot),
                 word);
        sm_session_read_of_file(session, line);
    }
    session->file_reads = job->reading_count <= INT32_MAX ? (int32_t)job->reading_count : 0;
    sm_session_tell(session, SM_OUTCOME_TOLD, "%zu reading%s taken from %s; u takes %s back",
                    job->reading_count, job->reading_count == 1 ? "" : "s", name_of(job->path),
                    job->reading_count == 1 ? "it" : "them all");
}

// Before anything is said about them. Those of a readings file come before those of the show, which stay; those of a
// folder that could not be read stand alone.
static void hand_over_findings(sm_session *session, sm_job *job) {
    sm_findings_sort(job->findings);
    job->errors = sm_findings_count_of(job->findings, SM_ERROR);
    if (job->kind == SM_JOB_READINGS) {
        put_all(job->findings, session->of_show);
    } else {
        sm_findings *kept = sm_findings_create();
        if (kept)
            put_all(kept, job->findings);
        sm_findings_destroy(session->of_show);
        session->of_show = kept;
    }
    pthread_mutex_lock(&session->lock);
    sm_findings_destroy(session->findings);
    session->findings = job->findings;
    job->done = false;
    pthread_mutex_unlock(&session->lock);
    job->findings = NULL;
}

static void collect(sm_session *session) {
    sm_job *job = &session->job;
    pthread_mutex_lock(&session->lock);
    bool done = job->done;
    pthread_mutex_unlock(&session->lock);
    if (!done)
        return;
    assert(job->kind != SM_JOB_NONE);
    if (session->audio)
        pthread_join(job->thread, NULL);
    if (job->kind == SM_JOB_PAPER)
        sm_session_tell_paper(session, job);
    else if (job->kind == SM_JOB_KEEP)
        sm_session_tell_kept(session, job);
    else if (job->kind == SM_JOB_TRY)
        sm_session_give_words(session, job);
    else if (job->kind != SM_JOB_ACCENT &&
             job->why != job->why_room) // nothing was written, so nothing was read
        hand_over_findings(session, job);
    if (job->kind == SM_JOB_CHECK)
        give_paper(session, job);
    else if (job->kind == SM_JOB_RELOAD || job->kind == SM_JOB_APPLY)
        replace_show(session, job);
    else if (job->kind == SM_JOB_READINGS)
        take_readings(session, job);
    // errors of the show at launch stand beside the notes' name: a message would cover the answer to a key
    session->changed = true;
    job_clear(job);
}

void sm_session_do_jobs(sm_session *session) {
    collect(session);
    begin_next(session);
    if (!session->audio)
        collect(session);
}

static bool wait_for_job(sm_session *session) {
    const struct timespec until = sm_monotonic_after(ABANDON_US);
    atomic_store(&session->job.progress.left, true);
    pthread_mutex_lock(&session->lock);
    while (!session->job.done && pthread_cond_timedwait(&session->wake, &session->lock, &until) == 0)
        continue;
    const bool done = session->job.done;
    pthread_mutex_unlock(&session->lock);
    return done;
}

static void end_job(sm_session *session) {
    sm_job *job = &session->job;
    if (job->kind == SM_JOB_NONE)
        return;
    if (job->kind == SM_JOB_RELOAD || job->kind == SM_JOB_APPLY)
        reload_failed(session, "the rehearsal ended");
    session->left_behind = session->audio && !wait_for_job(session);
    if (session->left_behind) {
        pthread_detach(job->thread);
        return;
    }
    if (session->audio)
        pthread_join(job->thread, NULL);
    if (job->kind == SM_JOB_KEEP)
        sm_session_tell_kept(session, job);
    job_clear(job);
}

void sm_session_abandon_job(sm_session *session) {
    end_job(session);
    session->accent_wanted = session->check_wanted = session->apply_wanted = false;
    session->reload_wanted = session->try_wanted = false;
    free(session->reading_path);
    session->reading_path = NULL;
    // What somebody asked to be written waited behind it, and is theirs: who quits at once has it too.
    while (!session->left_behind && (session->keep_rows || session->paper_path)) {
        begin_next(session);
        end_job(session);
    }
}

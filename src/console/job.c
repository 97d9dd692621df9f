// SPDX-License-Identifier: GPL-3.0-or-later
// Files read while the rehearsal goes on: the show again, or readings.
#include "console/driver_private.h"

#include "slowmatch/check.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

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

// Whether SHOW's music can be played, and when it ends.
static void ask_music(const sm_show *show, sm_audio_info *info, sm_check_options *out) {
    *out = (sm_check_options){.audio_looked_for = true, .audio_end_us = SM_UNSET_US};
    if (!show->settings.audio[0])
        return;
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", show->folder, show->settings.audio);
    if (!path.failed && sm_audio_probe(sm_text_get(&path), info) == SM_OK) {
        out->audio_exists = true;
        out->audio_end_us = show->settings.audio_start_us + info->length_us;
    }
    out->audio_error = info->problem;
    sm_text_deinit(&path);
}

static void load_show(sm_driver *driver, sm_job *job) {
    sm_show_load_options options = {.readings_file = driver->readings_file};
    sm_findings *loaded = sm_findings_create();
    if (!loaded) {
        job->result = SM_NO_MEMORY;
        return;
    }
    job->result = sm_show_load(driver->folder, &options, loaded, &job->loaded);
    if (job->result == SM_OK) {
        sm_audio_info info = {0};
        sm_check_options audio;
        ask_music(job->loaded, &info, &audio);
        if (audio.audio_exists)
            sm_show_set_audio_end(job->loaded, audio.audio_end_us);
        check_show(job->loaded, loaded, &audio, job->findings);
        if (driver->kept)
            job->result = sm_logbook_load_create(job->loaded, driver->readings_file, &job->to_keep);
    } else {
        put_all(job->findings, loaded);
    }
    sm_findings_destroy(loaded);
}

// The show that is being rehearsed: it is only read.
static void check_present_show(const sm_driver *driver, sm_job *job) {
    sm_audio_info info = {0};
    sm_check_options audio;
    ask_music(job->show, &info, &audio);
    check_show(job->show, driver->loaded, &audio, job->findings);
    job->result = SM_OK;
}

static void load_readings(sm_job *job) {
    sm_arena *texts = sm_arena_create(); // when and by are not kept: `read` takes them from the rehearsal
    job->result = SM_NO_MEMORY;
    if (texts) {
        job->result =
            sm_readings_load(job->show, job->path, job->findings, &job->readings, &job->reading_count, texts);
    }
    sm_arena_destroy(texts);
}

static void *work_on_job(void *context) {
    sm_driver *driver = context;
    sm_job *job = &driver->job;
    if (job->kind == SM_JOB_RELOAD)
        load_show(driver, job);
    else if (job->kind == SM_JOB_CHECK)
        check_present_show(driver, job);
    else
        load_readings(job);
    pthread_mutex_lock(&driver->lock);
    job->done = true;
    pthread_cond_broadcast(&driver->wake);
    pthread_mutex_unlock(&driver->lock);
    return NULL;
}

static void reload_failed(sm_driver *driver, const char *why) {
    sm_wall_time now = sm_audio_now(driver->audio);
    sm_rehearsal_issue_at(driver->rehearsal, now);
    if (driver->kept)
        sm_logbook_writer_reload_failed(driver->kept, why, now);
    sm_rehearsal_reload_failed(driver->rehearsal, why, now);
    sm_driver_tell(driver, SM_OUTCOME_REFUSED, "reload: %s; the show stays as it was", why);
}

static void job_clear(sm_job *job) {
    sm_show_destroy(job->loaded);
    sm_logbook_load_destroy(job->to_keep);
    free(job->readings);
    free(job->path);
    sm_findings_destroy(job->findings);
    *job = (sm_job){0};
}

// Takes over PATH. False: no memory, or no thread.
static bool begin(sm_driver *driver, sm_job_kind kind, char *path) {
    sm_job *job = &driver->job;
    sm_findings *findings = sm_findings_create();
    *job = (sm_job){.kind = kind, .show = driver->show, .path = path, .findings = findings};
    if (findings && pthread_create(&job->thread, NULL, work_on_job, driver) == 0)
        return true;
    job_clear(job);
    return false;
}

void sm_job_begin(sm_driver *driver, char **read_path) {
    if (driver->job.kind != SM_JOB_NONE)
        return;
    if (driver->check_wanted) {
        driver->check_wanted = false;
        (void)begin(driver, SM_JOB_CHECK, NULL); // without it the notes stay as loading left them
    } else if (driver->reload_wanted) {
        driver->reload_wanted = false;
        if (!begin(driver, SM_JOB_RELOAD, NULL))
            reload_failed(driver, "memory ran out");
    } else if (*read_path) {
        char *path = *read_path;
        *read_path = NULL;
        if (!begin(driver, SM_JOB_READINGS, path))
            sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out: no readings were taken");
    }
}

// ---- taking the result in --------------------------------------------------------------------

static sm_show **place_to_retire(sm_driver *driver) {
    for (size_t i = 0; i < SM_RETIRED; i++)
        if (!driver->retired[i])
            return &driver->retired[i];
    return NULL;
}

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

static void replace_show(sm_driver *driver, sm_job *job) {
    sm_show **place = place_to_retire(driver);
    if (job->result != SM_OK) {
        size_t errors = job->errors;
        char why[96];
        snprintf(why, sizeof why, "%zu error%s in the folder, see notes", errors, errors == 1 ? "" : "s");
        reload_failed(driver, errors > 0 ? why : sm_result_text(job->result));
    } else if (sm_rehearsal_state(driver->rehearsal) != SM_STATE_SAFE) {
        reload_failed(driver, "no longer safe when the folder had been read");
    } else if (!place) {
        reload_failed(driver, "the show before is still on screen, try again");
    } else if (sm_rehearsal_replace_show(driver->rehearsal, job->loaded) != SM_OK) {
        reload_failed(driver, "memory ran out");
    } else {
        const char *before = driver->show->settings.audio, *after = job->loaded->settings.audio;
        bool other_music = strcmp(before, after) != 0;
        *place = driver->show;
        driver->show = job->loaded;
        job->loaded = NULL;
        sm_driver_send_timecode(driver);
        if (driver->kept) {
            sm_logbook_writer_load(driver->kept, job->to_keep, sm_rehearsal_facts(driver->rehearsal).now);
            job->to_keep = NULL;
        }
        char errors[128];
        sm_driver_tell(driver, job->errors > 0 ? SM_OUTCOME_WRONG : SM_OUTCOME_TOLD,
                       "the show was read again, readings are kept%s%s",
                       other_music ? "; the other music sounds after a new launch" : "",
                       errors_found(job->errors, errors));
    }
}

static void take_readings(sm_driver *driver, sm_job *job) {
    if (job->result != SM_OK) {
        size_t errors = job->errors;
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "%s: %s, nothing was taken; see notes", job->path,
                       job->result == SM_UNREADABLE
                           ? "cannot be opened (paths begin where the program was started)"
                       : errors > 0 ? "there are errors in it"
                                    : sm_result_text(job->result));
        return;
    }
    for (size_t i = 0; i < job->reading_count; i++) {
        sm_read_value value = job->readings[i].value;
        char slot[48], word[24], line[96];
        if (value.kind == SM_READ_OHMS)
            snprintf(word, sizeof word, "%.6f", value.ohms); // closer than people print it
        else
            sm_read_value_format(word, value);
        snprintf(line, sizeof line, "read %s %s", sm_slot_format(driver->show, job->readings[i].slot, slot),
                 word);
        sm_driver_do(driver, line);
    }
    driver->file_reads = job->reading_count <= INT32_MAX ? (int32_t)job->reading_count : 0;
    sm_driver_tell(driver, SM_OUTCOME_TOLD, "%zu readings taken from %s; u takes them all back",
                   job->reading_count, job->path);
}

// Before anything is said about them. Those of a readings file come before those of the show, which stay; those of a
// folder that could not be read stand alone.
static void hand_over_findings(sm_driver *driver, sm_job *job) {
    sm_findings_sort(job->findings);
    job->errors = sm_findings_count_of(job->findings, SM_ERROR);
    if (job->kind == SM_JOB_READINGS) {
        put_all(job->findings, driver->of_show);
    } else {
        sm_findings *kept = sm_findings_create();
        if (kept)
            put_all(kept, job->findings);
        sm_findings_destroy(driver->of_show);
        driver->of_show = kept;
    }
    pthread_mutex_lock(&driver->lock);
    sm_findings_destroy(driver->findings);
    driver->findings = job->findings;
    job->done = false;
    pthread_mutex_unlock(&driver->lock);
    job->findings = NULL;
}

void sm_job_collect(sm_driver *driver) {
    sm_job *job = &driver->job;
    pthread_mutex_lock(&driver->lock);
    bool done = job->done;
    pthread_mutex_unlock(&driver->lock);
    if (!done)
        return;
    pthread_join(job->thread, NULL);
    hand_over_findings(driver, job);
    if (job->kind == SM_JOB_RELOAD) {
        replace_show(driver, job);
    } else if (job->kind == SM_JOB_READINGS) {
        take_readings(driver, job);
    } // errors of the show at launch stand beside the notes' name: a message would cover the answer to a key
    driver->changed = true;
    job_clear(job);
}

void sm_job_abandon(sm_driver *driver) {
    sm_job *job = &driver->job;
    if (job->kind == SM_JOB_NONE)
        return;
    pthread_join(job->thread, NULL);
    if (job->kind == SM_JOB_RELOAD)
        reload_failed(driver, "the rehearsal ended");
    job_clear(job);
}

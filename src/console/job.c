// SPDX-License-Identifier: GPL-3.0-or-later
// Files read while the rehearsal goes on: the show again, or readings.
#include "console/driver_private.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void load_show(sm_driver *driver, sm_job *job) {
    sm_show_load_options options = {.readings_file = driver->readings_file};
    job->result = sm_show_load(driver->folder, &options, job->findings, &job->loaded);
    if (job->result != SM_OK || !job->loaded->settings.audio[0]) {
        return;
    }
    sm_text path = {0};
    sm_text_printf(&path, "%s/%s", job->loaded->folder, job->loaded->settings.audio);
    sm_audio_info info;
    if (!path.failed && sm_audio_probe(sm_text_get(&path), &info) == SM_OK) {
        sm_show_set_audio_end(job->loaded, job->loaded->settings.audio_start_us + info.length_us);
    } else {
        sm_findings_add(job->findings, job->loaded->settings.audio, 0, 0, SM_ERROR, "audio-unreadable",
                        "the music cannot be read: %s", info.problem);
    }
    sm_text_deinit(&path);
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
    if (job->kind == SM_JOB_RELOAD) {
        load_show(driver, job);
    } else {
        load_readings(job);
    }
    pthread_mutex_lock(&driver->lock);
    job->done = true;
    pthread_cond_broadcast(&driver->wake);
    pthread_mutex_unlock(&driver->lock);
    return NULL;
}

static bool begin(sm_driver *driver, sm_job_kind kind, char *path) {
    sm_job *job = &driver->job;
    sm_findings *findings = job->kind == SM_JOB_NONE ? sm_findings_create() : NULL;
    if (!findings) {
        free(path);
        return false;
    }
    *job = (sm_job){.kind = kind, .show = driver->show, .path = path, .findings = findings};
    if (pthread_create(&job->thread, NULL, work_on_job, driver) != 0) {
        sm_findings_destroy(findings);
        free(path);
        *job = (sm_job){0};
        return false;
    }
    return true;
}

bool sm_job_begin_reload(sm_driver *driver) {
    return begin(driver, SM_JOB_RELOAD, NULL);
}

bool sm_job_begin_readings(sm_driver *driver, char *path) {
    return begin(driver, SM_JOB_READINGS, path);
}

// ---- taking the result in --------------------------------------------------------------------

static void reload_failed(sm_driver *driver, const char *why) {
    sm_wall_time now = sm_audio_now(driver->audio);
    sm_rehearsal_issue_at(driver->rehearsal, now);
    sm_rehearsal_reload_failed(driver->rehearsal, why, now);
    sm_driver_tell(driver, SM_OUTCOME_REFUSED, "reload: %s; the show stays as it was", why);
}

static sm_show **place_to_retire(sm_driver *driver) {
    for (size_t i = 0; i < SM_RETIRED; i++) {
        if (!driver->retired[i]) {
            return &driver->retired[i];
        }
    }
    return NULL;
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
        sm_driver_tell(driver, SM_OUTCOME_TOLD, "the show was read again, readings are kept%s",
                       other_music ? "; the other music sounds after a new launch" : "");
    }
}

static void take_readings(sm_driver *driver, sm_job *job) {
    if (job->result != SM_OK) {
        size_t errors = job->errors;
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "%s: %s, nothing was taken; see notes", job->path,
                       errors > 0 ? "there are errors in it" : sm_result_text(job->result));
        return;
    }
    for (size_t i = 0; i < job->reading_count; i++) {
        sm_read_value value = job->readings[i].value;
        char slot[48], word[24], line[96];
        if (value.kind == SM_READ_OHMS) {
            snprintf(word, sizeof word, "%.6f", value.ohms); // closer than people print it
        } else {
            sm_read_value_format(word, value);
        }
        snprintf(line, sizeof line, "read %s %s", sm_slot_format(driver->show, job->readings[i].slot, slot),
                 word);
        sm_driver_do(driver, line);
    }
    sm_driver_tell(driver, SM_OUTCOME_TOLD, "%zu readings taken from %s", job->reading_count, job->path);
}

static void job_clear(sm_job *job) {
    sm_show_destroy(job->loaded);
    free(job->readings);
    free(job->path);
    sm_findings_destroy(job->findings);
    *job = (sm_job){0};
}

// Before anything is said about them.
static void hand_over_findings(sm_driver *driver, sm_job *job) {
    sm_findings_sort(job->findings);
    job->errors = sm_findings_count_of(job->findings, SM_ERROR);
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
    if (!done) {
        return;
    }
    pthread_join(job->thread, NULL);
    hand_over_findings(driver, job);
    if (job->kind == SM_JOB_RELOAD) {
        replace_show(driver, job);
    } else {
        take_readings(driver, job);
    }
    driver->changed = true;
    job_clear(job);
}

void sm_job_abandon(sm_driver *driver) {
    if (driver->job.kind != SM_JOB_NONE) {
        pthread_join(driver->job.thread, NULL);
        job_clear(&driver->job);
    }
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The screen's side of the driver.
#include "console/driver_private.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

int sm_driver_descriptor(const sm_driver *driver) {
    return driver->news[0];
}

void sm_driver_want(sm_driver *driver) {
    pthread_mutex_lock(&driver->lock);
    driver->wanted = true;
    pthread_cond_broadcast(&driver->wake);
    pthread_mutex_unlock(&driver->lock);
}

const sm_snapshot *sm_driver_take(sm_driver *driver) {
    char bytes[16];
    pthread_mutex_lock(&driver->lock);
    while (read(driver->news[0], bytes, sizeof bytes) > 0) {
    }
    driver->news_sent = false;
    if (driver->ready_new) {
        sm_snapshot *taken = driver->ready;
        driver->ready = driver->front;
        driver->front = taken;
        driver->ready_new = false;
    }
    const sm_snapshot *front = driver->front;
    pthread_mutex_unlock(&driver->lock);
    return front;
}

// Under the lock. Takes over LINE where true.
static bool queue_line(sm_driver *driver, char *line) {
    if (driver->line_count == driver->line_capacity) {
        size_t capacity = driver->line_capacity ? 2 * driver->line_capacity : 16;
        char **grown = realloc(driver->lines, capacity * sizeof *grown);
        if (!grown)
            return false;
        driver->lines = grown;
        driver->line_capacity = capacity;
    }
    driver->lines[driver->line_count++] = line;
    driver->lines_given++;
    pthread_cond_broadcast(&driver->wake);
    return true;
}

bool sm_driver_act(sm_driver *driver, const char *line) {
    char *copy = strdup(line);
    if (!copy)
        return false;
    pthread_mutex_lock(&driver->lock);
    bool queued = queue_line(driver, copy);
    pthread_mutex_unlock(&driver->lock);
    if (!queued)
        free(copy);
    return queued;
}

void sm_driver_read_file(sm_driver *driver, const char *path) {
    char *copy = strdup(path);
    pthread_mutex_lock(&driver->lock);
    free(driver->read_path);
    driver->read_path = copy;
    pthread_cond_broadcast(&driver->wake);
    pthread_mutex_unlock(&driver->lock);
}

bool sm_driver_make_safe(sm_driver *driver, sm_us patience_us) {
    struct timespec limit = sm_monotonic_after(patience_us);
    char *line = strdup("safe");
    pthread_mutex_lock(&driver->lock);
    bool done = line && queue_line(driver, line);
    if (!done)
        free(line);
    uint64_t number = driver->lines_given;
    while (done && driver->lines_done < number) {
        if (pthread_cond_timedwait(&driver->wake, &driver->lock, &limit) == ETIMEDOUT) {
            done = driver->lines_done >= number;
            break;
        }
    }
    pthread_mutex_unlock(&driver->lock);
    return done;
}

bool sm_driver_flush_log(sm_driver *driver, sm_us patience_us) {
    return !driver->log || sm_log_writer_flush(driver->log, patience_us);
}

bool sm_driver_has_quit(sm_driver *driver) {
    pthread_mutex_lock(&driver->lock);
    bool quit = driver->has_quit;
    pthread_mutex_unlock(&driver->lock);
    return quit;
}

bool sm_driver_outcome(sm_driver *driver, sm_outcome_note *out) {
    pthread_mutex_lock(&driver->lock);
    bool any = driver->outcome_count > 0;
    if (any) {
        *out = driver->outcomes[driver->outcome_first];
        driver->outcome_first = (driver->outcome_first + 1) % SM_OUTCOMES;
        driver->outcome_count--;
    }
    pthread_mutex_unlock(&driver->lock);
    return any;
}

void sm_driver_recent(sm_driver *driver, sm_recent *to) {
    pthread_mutex_lock(&driver->lock);
    sm_recent_follow(to, &driver->recent);
    pthread_mutex_unlock(&driver->lock);
}

sm_findings *sm_driver_findings(sm_driver *driver) {
    pthread_mutex_lock(&driver->lock);
    sm_findings *findings = driver->findings;
    driver->findings = NULL;
    pthread_mutex_unlock(&driver->lock);
    return findings;
}

void sm_driver_drill(sm_driver *driver, sm_drill_view *out) {
    pthread_mutex_lock(&driver->lock);
    *out = driver->drill_view;
    pthread_mutex_unlock(&driver->lock);
}

sm_debrief *sm_driver_debrief(sm_driver *driver) {
    pthread_mutex_lock(&driver->lock);
    sm_debrief *debrief = driver->debrief;
    driver->debrief = NULL;
    pthread_mutex_unlock(&driver->lock);
    return debrief;
}

bool sm_driver_answer(sm_driver *driver, unsigned question, const char *text) {
    char *copy = strdup(text);
    if (!copy)
        return false;
    pthread_mutex_lock(&driver->lock);
    free(driver->answers[question]);
    driver->answers[question] = copy;
    driver->wanted = true;
    pthread_cond_broadcast(&driver->wake);
    pthread_mutex_unlock(&driver->lock);
    return true;
}

sm_audio *sm_driver_audio(sm_driver *driver) {
    return driver->audio;
}

int sm_driver_log_error(sm_driver *driver) {
    return driver->log ? sm_log_writer_error(driver->log) : 0;
}

char *sm_driver_logbook_problem(sm_driver *driver, char buffer[400]) {
    buffer[0] = '\0';
    return driver->kept ? sm_logbook_writer_problem(driver->kept, buffer) : buffer;
}

sm_wall_time sm_driver_now(sm_driver *driver) {
    return sm_audio_now(driver->audio);
}

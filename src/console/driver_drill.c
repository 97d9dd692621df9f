// SPDX-License-Identifier: GPL-3.0-or-later
// The drill on the console: its instructor, its end.
#include "console/driver_private.h"

#include <stdlib.h>
#include <time.h>

void sm_driver_serve_instructor(sm_driver *driver) {
    bool did = false;
    if (driver->link &&
        sm_link_serve(driver->link, driver->drill_run, sm_audio_now(driver->audio), &did) != SM_OK)
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out");
    driver->changed |= did;
}

// ---- its end ------------------------------------------------------------------------------

// Written down as it stands now. False: memory ran out.
static bool write_debrief(sm_driver *driver) {
    sm_debrief *debrief = NULL;
    if (sm_debrief_create(driver->drill_run, &debrief) != SM_OK) {
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out: no debrief");
        return false;
    }
    pthread_mutex_lock(&driver->lock);
    sm_debrief_destroy(driver->debrief);
    driver->debrief = debrief;
    pthread_mutex_unlock(&driver->lock);
    driver->changed = true;
    return true;
}

static void make_safe(sm_driver *driver, sm_source source, sm_wall_time now) {
    const sm_action safe = {.act = SM_ACT_SAFE, .index = SM_NONE};
    if (sm_drill_act(driver->drill_run, &safe, source, now) != SM_OK)
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out");
}

bool sm_driver_end_drill(sm_driver *driver) {
    if (!driver->drill_run || sm_drill_is_over(driver->drill_run))
        return false;
    sm_wall_time now = sm_audio_now(driver->audio);
    sm_rehearsal_issue_at(driver->rehearsal, now);
    // Ended before it is made safe: how the drill is left is no stop of the trainee's.
    if (sm_drill_finish(driver->drill_run, now) != SM_OK)
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out");
    make_safe(driver, SM_SOURCE_CONSOLE, now);
    driver->changed = true;
    return true;
}

// The answers given since the last round. False: none.
static bool take_answers(sm_driver *driver) {
    char *answers[SM_DRILL_QUESTIONS];
    bool any = false;
    pthread_mutex_lock(&driver->lock);
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++) {
        answers[i] = driver->answers[i];
        driver->answers[i] = NULL;
    }
    pthread_mutex_unlock(&driver->lock);
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++) {
        if (!answers[i])
            continue;
        any = true;
        sm_wall_time now = sm_audio_now(driver->audio);
        sm_rehearsal_issue_at(driver->rehearsal, now);
        if (sm_drill_answer(driver->drill_run, i, answers[i], now) != SM_OK)
            sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out: this answer is not kept");
        free(answers[i]);
    }
    return any;
}

void sm_driver_follow_drill(sm_driver *driver) {
    if (!driver->drill_run || !sm_drill_is_over(driver->drill_run))
        return;
    if (!driver->debriefed) {
        // Nothing may run on while somebody types: whoever ended it, it is made safe.
        if (sm_rehearsal_state(driver->rehearsal) != SM_STATE_SAFE) {
            sm_wall_time now = sm_audio_now(driver->audio);
            sm_rehearsal_issue_at(driver->rehearsal, now);
            make_safe(driver, SM_SOURCE_DRILL, now);
        }
        driver->debriefed = write_debrief(driver);
    }
    if (take_answers(driver))
        write_debrief(driver);
}

static void keep_drill(sm_driver *driver) {
    const sm_console_drill *drill = driver->drill;
    struct timespec now;
    if (!driver->kept || !drill->crew || sm_drill_was_broken_off(driver->drill_run))
        return;
    clock_gettime(CLOCK_REALTIME, &now);
    const sm_logbook_drill taken = {.person = drill->crew,
                                    .drill = drill->drill->name,
                                    .seat = sm_drill_seat_text(drill->drill->seat),
                                    .title = driver->show->settings.title,
                                    .when_us = (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000,
                                    .score = sm_drill_score(driver->drill_run),
                                    .passed = drill->passed,
                                    .with_hints = sm_drill_hints_asked(driver->drill_run) > 0,
                                    .marks = sm_text_get(&drill->json)};
    sm_logbook_writer_drill(driver->kept, &taken);
}

// The drill ends with the rehearsal, and its debrief is written down.
void sm_driver_close_rehearsal(sm_driver *driver) {
    if (!driver->drill_run) {
        sm_rehearsal_destroy(driver->rehearsal);
        return;
    }
    sm_console_drill *drill = driver->drill;
    if (driver->audio && sm_drill_finish(driver->drill_run, sm_audio_now(driver->audio)) == SM_OK) {
        take_answers(driver);
        sm_drill_debrief_json(driver->drill_run, &drill->json);
        drill->passed = sm_drill_passed(driver->drill_run);
        drill->taken = sm_debrief_create(driver->drill_run, &drill->debrief) == SM_OK && !drill->json.failed;
        keep_drill(driver);
        if (driver->kept && drill->debrief)
            sm_logbook_writer_debrief(driver->kept, drill->debrief);
        sm_driver_serve_instructor(driver);
    }
    sm_link_close(driver->link);
    sm_drill_run_destroy(driver->drill_run);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The drill on the console: its instructor, its end.
#include "console/driver_private.h"

#include <time.h>

void sm_driver_serve_instructor(sm_driver *driver) {
    bool did = false;
    if (driver->link &&
        sm_link_serve(driver->link, driver->drill_run, sm_audio_now(driver->audio), &did) != SM_OK) {
        sm_driver_tell(driver, SM_OUTCOME_WRONG, "memory ran out");
    }
    driver->changed |= did;
}

static void keep_drill(sm_driver *driver) {
    const sm_console_drill *drill = driver->drill;
    struct timespec now;
    if (!driver->kept || !drill->crew || sm_drill_was_broken_off(driver->drill_run)) {
        return;
    }
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
        sm_drill_debrief_text(driver->drill_run, &drill->text);
        sm_drill_debrief_json(driver->drill_run, &drill->json);
        drill->passed = sm_drill_passed(driver->drill_run);
        drill->taken = !drill->text.failed && !drill->json.failed;
        keep_drill(driver);
        sm_driver_serve_instructor(driver);
    }
    sm_link_close(driver->link);
    sm_drill_run_destroy(driver->drill_run);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// Lights on a wire, where --lights names one. Off until a person has stated at the console what is connected.
#include "cmd/outlets.h"

#include "slowmatch/lights.h"

#include <stdio.h>

static sm_result create(sm_session *session, void *context, char problem[SM_SESSION_PROBLEM], void **self) {
    const headless_options *options = ((cmd_outlet_call *)context)->options;
    sm_lights_options lights;
    sm_lights *made;
    char why[SM_LIGHTS_WHY];
    if (!options->lights)
        return SM_OK;
    sm_result result =
        sm_lights_options_read(options->lights, options->lights_to, options->lights_priority, &lights, why);
    if (result == SM_OK && !sm_lights_options_fit(&lights, why))
        result = SM_INVALID;
    if (result == SM_INVALID)
        snprintf(problem, SM_SESSION_PROBLEM, "--lights: %s", why);
    if (result == SM_OK)
        result = sm_lights_create(session, &lights, &made);
    if (result == SM_OK)
        *self = made;
    return result;
}

static void row(void *self, const sm_log_row *row) {
    sm_lights_row(self, row);
}

static void snapshot(void *self, const sm_snapshot *snapshot) {
    sm_lights_snapshot(self, snapshot);
}

static sm_wall_time step(void *self, sm_wall_time now) {
    return sm_lights_step(self, now);
}

static void destroy(void *self) {
    sm_lights_destroy(self);
}

const sm_outlet cmd_outlet_lights = {
    .name = "lights", .create = create, .row = row, .snapshot = snapshot, .step = step, .destroy = destroy};

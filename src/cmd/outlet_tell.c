// SPDX-License-Identifier: GPL-3.0-or-later
// The rehearsal for followers, through a broker.
#include "cmd/outlets.h"

#include "slowmatch/tell.h"

#include <stdio.h>

static sm_result create(sm_session *session, void *context, char problem[SM_SESSION_PROBLEM], void **self) {
    const headless_options *options = ((cmd_outlet_call *)context)->options;
    sm_broker broker;
    sm_teller *teller;
    if (!options->tell)
        return SM_OK;
    if (options->seats && !sm_seats_are_good(options->seats)) {
        snprintf(problem, SM_SESSION_PROBLEM, "--seats %.100s: write up to eight names with commas between",
                 options->seats);
        return SM_INVALID;
    }
    if (!sm_broker_read(options->tell, options->broker_keys, &broker, problem))
        return SM_INVALID;
    sm_result result = sm_teller_create(&broker, session, options->seats, problem, &teller);
    if (result != SM_OK)
        return result;
    char line[400];
    snprintf(line, sizeof line, "told to the broker at %s as run %s", broker.host, sm_teller_run(teller));
    sm_session_say(session, SM_OUTCOME_TOLD, line);
    *self = teller;
    return SM_OK;
}

static void row(void *self, const sm_log_row *row) {
    sm_teller_row(self, row);
}

static void snapshot(void *self, const sm_snapshot *snapshot) {
    sm_teller_snapshot(self, snapshot);
}

static sm_wall_time step(void *self, sm_wall_time now) {
    return sm_teller_step(self, now);
}

static void tell_seat(void *self, const char *seat, sm_seat_word word, const char *text) {
    sm_teller_tell_seat(self, seat, word, text);
}

static void destroy(void *self) {
    sm_teller_destroy(self);
}

const sm_outlet cmd_outlet_tell = {.name = "tell",
                                   .create = create,
                                   .row = row,
                                   .snapshot = snapshot,
                                   .step = step,
                                   .tell_seat = tell_seat,
                                   .destroy = destroy};

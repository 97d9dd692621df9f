// SPDX-License-Identifier: GPL-3.0-or-later
// The log's lines on standard output, of a headless rehearsal that is no drill.
#include "cmd/outlets.h"

#include <errno.h>
#include <stdlib.h>

typedef struct lines {
    cmd_outlet_call *call;
    sm_text row;
} lines;

static void put(lines *l, const char *text, size_t length) {
    bool soon = !l->call->options->fast; // whoever reads along sees each row at its time
    bool written = cmd_put(stdout, text, length) && (!soon || fflush(stdout) == 0);
    if (written || l->call->lines_failed)
        return;
    l->call->lines_failed = true;
    l->call->lines_error = errno;
}

static sm_result create(sm_session *session, void *context, char problem[SM_SESSION_PROBLEM], void **self) {
    cmd_outlet_call *call = context;
    (void)session;
    (void)problem;
    if (!call->lines)
        return SM_OK;
    lines *l = calloc(1, sizeof *l);
    if (!l)
        return SM_NO_MEMORY;
    l->call = call;
    put(l, SM_LOG_HEADER "\n", sizeof SM_LOG_HEADER);
    *self = l;
    return SM_OK;
}

static void row(void *self, const sm_log_row *row) {
    lines *l = self;
    sm_text_clear(&l->row);
    sm_log_row_format(&l->row, row);
    if (l->row.failed) {
        l->call->lines_failed = true;
        l->call->lines_error = ENOMEM;
    } else {
        put(l, sm_text_get(&l->row), l->row.length);
    }
}

static void destroy(void *self) {
    lines *l = self;
    if (fflush(stdout) != 0 && !l->call->lines_failed) {
        l->call->lines_failed = true;
        l->call->lines_error = errno;
    }
    sm_text_deinit(&l->row);
    free(l);
}

const sm_outlet cmd_outlet_lines = {.name = "lines", .create = create, .row = row, .destroy = destroy};

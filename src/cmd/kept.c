// SPDX-License-Identifier: GPL-3.0-or-later
// The logbook for commands: where it is, and keeping a rehearsal in it.
#include "cmd/cmd.h"

#include "slowmatch/logbook.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

int64_t cmd_now_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    return (int64_t)now.tv_sec * SM_US_PER_S + now.tv_nsec / 1000;
}

static sm_logbook_load *take_load(const sm_show *show, const char *readings_file) {
    sm_logbook_load *load = NULL;
    sm_result result = sm_logbook_load_create(show, readings_file, &load);
    if (result != SM_OK)
        cmd_complain("%s: cannot be kept in the logbook: %s", show->folder,
                     result == SM_UNREADABLE ? strerror(errno) : sm_result_text(result));
    return load;
}

sm_logbook_writer *cmd_logbook_begin(sm_logbook_start *start, const sm_show *show, const char *readings_file,
                                     sm_us elapsed_us) {
    char problem[400];
    sm_logbook_writer *writer = NULL;
    start->launch_us = cmd_now_us() - elapsed_us;
    sm_logbook_load *load = take_load(show, readings_file);
    if (!load)
        return NULL;
    if (sm_logbook_writer_create(start, load, &writer) != SM_OK) {
        cmd_complain("%s", sm_result_text(SM_NO_MEMORY));
        return NULL;
    }
    if (sm_logbook_writer_problem(writer, problem)[0] != '\0')
        cmd_complain("not being kept in the logbook: %s", problem);
    return writer;
}

void cmd_logbook_load(sm_logbook_writer *writer, const sm_show *show, const char *readings_file,
                      sm_wall_time at) {
    sm_logbook_load *load = take_load(show, readings_file);
    if (load)
        sm_logbook_writer_load(writer, load, at);
}

void cmd_logbook_end(sm_logbook_writer *writer) {
    char problem[400];
    if (!sm_logbook_writer_close(writer, -1, problem))
        cmd_complain("not kept in the logbook: %s", problem);
}

char *cmd_logbook_path(const char *given) {
    char *path = given ? strdup(given) : sm_logbook_default_path();
    if (!path)
        cmd_complain("%s", sm_result_text(SM_NO_MEMORY));
    return path;
}

sm_logbook *cmd_logbook_open(const char *given, bool create) {
    char why[400];
    char *path = cmd_logbook_path(given);
    sm_logbook *logbook = NULL;
    sm_result result = path ? sm_logbook_open(path, create, why, &logbook) : SM_NO_MEMORY;
    if (path && (result != SM_OK || why[0] != '\0'))
        cmd_complain("%s: %s", path, why[0] != '\0' ? why : sm_result_text(result));
    free(path);
    return logbook;
}

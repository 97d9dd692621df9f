// SPDX-License-Identifier: GPL-3.0-or-later
// The logbook that commands open, and the time that they write into it.
#include "cmd/cmd.h"

#include "slowmatch/clock.h"
#include "slowmatch/logbook.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>

char *cmd_logbook_path(const char *given) {
    char *path = given ? strdup(given) : sm_logbook_default_path();
    if (!path && errno == ENOTDIR)
        cmd_complain("neither HOME nor XDG_DATA_HOME is set: there is no place for a logbook; --logbook FILE "
                     "names one");
    else if (!path)
        cmd_failed(NULL, SM_NO_MEMORY);
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

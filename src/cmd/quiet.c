// SPDX-License-Identifier: GPL-3.0-or-later
// Libraries that decode music print to descriptor 2 what they think of a file. The program says it in a line of its own, so
// theirs go nowhere meanwhile.
#include "cmd/cmd.h"

#include <fcntl.h>
#include <stdio.h>
#include <unistd.h>

// Where descriptor 2 led before it was muffled; NULL: it is not.
static FILE *before;

FILE *cmd_stderr(void) {
    return before ? before : stderr;
}

void cmd_muffle(void) {
    int null = !before ? open("/dev/null", O_WRONLY | O_CLOEXEC) : -1;
    if (null < 0)
        return;
    fflush(stderr);
    int kept = fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3);
    before = kept >= 0 ? fdopen(kept, "w") : NULL;
    if (before) {
        setvbuf(before, NULL, _IONBF, 0);
        dup2(null, STDERR_FILENO);
    } else if (kept >= 0) {
        close(kept);
    }
    close(null);
}

void cmd_unmuffle(void) {
    if (!before)
        return;
    dup2(fileno(before), STDERR_FILENO);
    fclose(before);
    before = NULL;
}

void cmd_music_ask(const sm_show *show, sm_progress *progress, sm_audio_info *info, sm_check_options *out) {
    cmd_muffle();
    sm_music_ask(show, progress, info, out);
    cmd_unmuffle();
}

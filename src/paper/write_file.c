// SPDX-License-Identifier: GPL-3.0-or-later
// Paper onto the disk: in place of nothing, or of other paper.
#include "slowmatch/files.h"
#include "slowmatch/paper.h"

#include <errno.h>
#include <stdlib.h>

enum { MODE = 0644, HEAD_BYTES = 400 };

// What stands at PATH; *bytes NULL: nothing.
static sm_result read_old(const char *path, char **bytes, size_t *length) {
    *bytes = NULL;
    *length = 0;
    const sm_result result = sm_file_read(path, bytes, length);
    return result == SM_UNREADABLE && errno == ENOENT ? SM_OK : result;
}

sm_result sm_paper_write(const sm_paper *paper, const bool *chosen, const char *printed, const char *path) {
    sm_file_new file = {.mode = MODE, .if_same = true};
    char *old;
    sm_text html = {0};
    sm_result result = read_old(path, &old, &file.old_length);
    file.old = old;
    if (result == SM_OK && old &&
        !sm_paper_is_own(old, file.old_length < HEAD_BYTES ? file.old_length : HEAD_BYTES))
        result = SM_REFUSED;
    if (result == SM_OK) {
        sm_paper_html(paper, chosen, printed, &html);
        file.bytes = html.bytes;
        file.length = html.length;
        result = html.failed ? SM_NO_MEMORY : sm_file_replace(path, &file);
    }
    const int why = errno;
    sm_text_deinit(&html);
    free(old);
    errno = why;
    return result;
}

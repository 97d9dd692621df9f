// SPDX-License-Identifier: GPL-3.0-or-later
#include "logbook/in_use.h"

#include <errno.h>
#include <fcntl.h>
#include <sys/file.h>
#include <unistd.h>

int sm_in_use_lock(const sm_store *store, sm_in_use_as how, bool *busy) {
    sm_text path = {0};
    sm_text_printf(&path, "%s-in-use", sqlite3_db_filename(store->db, "main"));
    int file =
        path.failed ? -1 : open(path.bytes, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK, 0600);
    sm_text_deinit(&path);
    *busy = false;
    if (file >= 0 && flock(file, (how == SM_IN_USE_ALONE ? LOCK_EX : LOCK_SH) | LOCK_NB) != 0) {
        *busy = errno == EWOULDBLOCK;
        close(file);
        return -1;
    }
    return file;
}

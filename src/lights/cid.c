// SPDX-License-Identifier: GPL-3.0-or-later
#include "lights/cid.h"

#include "slowmatch/files.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/random.h>
#include <unistd.h>

// A random UUID (RFC 4122, version 4).
static bool make(uint8_t cid[SM_SACN_CID_BYTES]) {
    if (getrandom(cid, SM_SACN_CID_BYTES, 0) != SM_SACN_CID_BYTES)
        return false;
    cid[6] = (uint8_t)((cid[6] & 0x0F) | 0x40);
    cid[8] = (uint8_t)((cid[8] & 0x3F) | 0x80);
    return true;
}

static bool read_or_make(int file, uint8_t cid[SM_SACN_CID_BYTES]) {
    const ssize_t length = pread(file, cid, SM_SACN_CID_BYTES, 0);
    if (length == SM_SACN_CID_BYTES)
        return true;
    return length >= 0 && make(cid) && pwrite(file, cid, SM_SACN_CID_BYTES, 0) == SM_SACN_CID_BYTES;
}

// The file stays open: the lock lasts as long as the process.
bool lights_cid_take(uint8_t cid[SM_SACN_CID_BYTES], char why[SM_LIGHTS_WHY]) {
    char *path = sm_user_data_path("lights-cid");
    int file = -1;
    if (path && sm_folder_make_above(path, 0700) == SM_OK)
        file = open(path, O_RDWR | O_CREAT | O_CLOEXEC | O_NOFOLLOW, 0600);
    free(path);
    const bool locked = file >= 0 && flock(file, LOCK_EX | LOCK_NB) == 0;
    if (locked && read_or_make(file, cid))
        return true;
    if (file >= 0 && !locked && errno == EWOULDBLOCK)
        snprintf(why, SM_LIGHTS_WHY, "another slowmatch has lights on this machine, or still fades them");
    else
        snprintf(why, SM_LIGHTS_WHY, "the sender's identifier cannot be kept: %s", strerror(errno));
    if (file >= 0)
        close(file);
    return false;
}

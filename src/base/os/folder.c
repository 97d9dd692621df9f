// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/files.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

// What cannot be made on the way shows at the end: a folder above may be there and closed to this user.
static sm_result make_folders(char *path, mode_t mode) {
    for (char *slash = strchr(path + 1, '/'); slash; slash = strchr(slash + 1, '/')) {
        *slash = '\0';
        mkdir(path, mode);
        *slash = '/';
    }
    struct stat found;
    if (mkdir(path, mode) == 0)
        return SM_OK;
    int why = errno;
    if (stat(path, &found) == 0) {
        if (S_ISDIR(found.st_mode))
            return SM_OK;
        why = ENOTDIR;
    }
    errno = why;
    return SM_UNREADABLE;
}

static sm_result make_copied(char *copy, mode_t mode) {
    if (!copy)
        return SM_NO_MEMORY;
    sm_result result = copy[0] == '\0' ? SM_OK : make_folders(copy, mode);
    int why = errno;
    free(copy);
    errno = why;
    return result;
}

sm_result sm_folder_make(const char *path, mode_t mode) {
    return make_copied(strdup(path), mode);
}

sm_result sm_folder_make_above(const char *path, mode_t mode) {
    const char *slash = strrchr(path, '/');
    return make_copied(strndup(path, slash ? (size_t)(slash - path) : 0), mode);
}

bool sm_folder_is_own(const char *path, mode_t mode) {
    struct stat found;
    if (lstat(path, &found) != 0)
        return false;
    errno = EACCES;
    return S_ISDIR(found.st_mode) && found.st_uid == geteuid() && (found.st_mode & mode) == 0;
}

char *sm_user_data_path(const char *name) {
    const char *const data = getenv("XDG_DATA_HOME"), *const home = getenv("HOME");
    sm_text path = {0};
    errno = ENOMEM;
    if (data && data[0] == '/') // the XDG base directory specification: a relative one is ignored
        sm_text_printf(&path, "%s/slowmatch/%s", data, name);
    else if (home && home[0] == '/')
        sm_text_printf(&path, "%s/.local/share/slowmatch/%s", home, name);
    else
        errno = ENOTDIR; // never below /
    if (path.failed)
        sm_text_deinit(&path);
    return path.bytes;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// A spill file begins with the records' header and the full path of its logbook; its writer holds a lock on it.
#include "logbook/spill.h"

#include "slowmatch/files.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#define SUFFIX ".slowmatch-spill"

// ---- where --------------------------------------------------------------------------

// The place of PATH in full, whether or not the file is there. The caller frees it; NULL when memory runs out.
static char *full_path(const char *path) {
    char *real = realpath(path, NULL);
    if (real)
        return real;
    sm_text out = {0};
    char *here = path[0] != '/' ? getcwd(NULL, 0) : NULL;
    sm_text_printf(&out, "%s%s%s", here ? here : "", here ? "/" : "", path);
    free(here);
    return out.bytes;
}

#define FOLDERS 3
// Folder number I for spill files of LOGBOOK, appended to OUT.
static void put_folder(sm_text *out, const char *logbook, int i) {
    const char *state = getenv("XDG_STATE_HOME"), *home = getenv("HOME"), *passing = getenv("TMPDIR");
    const char *slash = strrchr(logbook, '/');
    if (i == 0)
        sm_text_printf(out, "%.*s", slash ? (int)(slash - logbook) : 1, slash ? logbook : ".");
    else if (i == 1 && state && state[0] == '/')
        sm_text_printf(out, "%s/slowmatch", state);
    else if (i == 1 && home)
        sm_text_printf(out, "%s/.local/state/slowmatch", home);
    else
        sm_text_printf(out, "%s/slowmatch-%u", passing && passing[0] == '/' ? passing : "/tmp",
                       (unsigned)getuid());
}

// A folder of somebody else is no place for what this program reads back.
static bool make_folder(const char *path) {
    struct stat found;
    return sm_folder_make(path, 0700) == SM_OK && stat(path, &found) == 0 && found.st_uid == getuid();
}

// ---- writing ------------------------------------------------------------------------------

// Appends all of it or nothing.
static bool append(int file, const char *bytes, size_t length) {
    off_t before = lseek(file, 0, SEEK_END);
    if (before >= 0 && sm_write_all(file, bytes, length) && fsync(file) == 0)
        return true;
    int why = errno;
    if (before >= 0 && ftruncate(file, before) != 0)
        errno = why; // the cut-off record is seen by its lengths
    errno = why;
    return false;
}

static bool begin_in(sm_spill *spill, const char *folder, const char *logbook) {
    char token[33];
    sm_text path = {0}, head = {0};
    sm_record_token(token);
    sm_text_printf(&path, "%s/%s" SUFFIX, folder, token);
    sm_text_printf(&head, SM_RECORD_HEADER "%s\n", logbook);
    if (!path.failed && !head.failed) {
        spill->file = open(path.bytes, O_RDWR | O_CREAT | O_EXCL | O_CLOEXEC, 0600);
        if (spill->file >= 0 && flock(spill->file, LOCK_EX | LOCK_NB) == 0 &&
            append(spill->file, head.bytes, head.length)) {
            spill->path = path.bytes;
            path.bytes = NULL;
        }
    }
    int why = errno;
    if (!spill->path && spill->file >= 0) {
        unlink(path.bytes);
        close(spill->file);
        spill->file = -1;
    }
    sm_text_deinit(&path);
    sm_text_deinit(&head);
    errno = why;
    return spill->path != NULL;
}

static bool begin(sm_spill *spill, const char *logbook) {
    char *full = full_path(logbook);
    for (int i = 0; full && i < FOLDERS && !spill->path; i++) {
        sm_text folder = {0};
        put_folder(&folder, full, i);
        if (!folder.failed && make_folder(folder.bytes))
            begin_in(spill, folder.bytes, full);
        int why = errno;
        sm_text_deinit(&folder);
        errno = why;
    }
    int why = errno;
    free(full);
    errno = why;
    return spill->path != NULL;
}

bool sm_spill_write(sm_spill *spill, const char *logbook, const char *bytes, size_t length) {
    return (spill->path || begin(spill, logbook)) && append(spill->file, bytes, length);
}

void sm_spill_end(sm_spill *spill, bool done) {
    if (spill->path && done)
        unlink(spill->path);
    if (spill->file >= 0)
        close(spill->file);
    free(spill->path);
    *spill = (sm_spill){.file = -1};
}

// ---- taking in -------------------------------------------------------------------------------

// Where the records begin in a spill file of LOGBOOK (NULL: of any); NULL where it is none.
static const char *records_of(const char *bytes, size_t length, const char *logbook) {
    size_t head = strlen(SM_RECORD_HEADER);
    if (length < head || memcmp(bytes, SM_RECORD_HEADER, head) != 0)
        return NULL;
    const char *line = bytes + head, *end = memchr(line, '\n', length - head);
    if (!end || (logbook && (strlen(logbook) != (size_t)(end - line) ||
                             memcmp(line, logbook, (size_t)(end - line)) != 0)))
        return NULL;
    return end + 1;
}

static sm_result take(sm_store *store, const char *path, const char *logbook, bool *taken) {
    char *bytes;
    size_t length;
    sm_result result = sm_file_read(path, &bytes, &length);
    *taken = false;
    if (result != SM_OK) {
        snprintf(store->why, sizeof store->why, "%s: %s", path, strerror(errno));
        return result;
    }
    const char *records = records_of(bytes, length, logbook);
    if (records) {
        result = sm_store_put(store, records, length - (size_t)(records - bytes), true);
        *taken = result == SM_OK;
    }
    free(bytes);
    return result;
}

sm_result sm_spill_take(sm_store *store, const char *spill) {
    bool taken;
    return take(store, spill, NULL, &taken);
}

static sm_result take_one(sm_store *store, const char *folder, const char *name, const char *logbook) {
    sm_text path = {0};
    bool taken = false;
    sm_result result = SM_OK;
    sm_text_printf(&path, "%s/%s", folder, name);
    int file = path.failed ? -1 : open(path.bytes, O_RDONLY | O_CLOEXEC | O_NOFOLLOW);
    if (file >= 0 && flock(file, LOCK_EX | LOCK_NB) == 0) {
        result = take(store, path.bytes, logbook, &taken);
        if (taken)
            unlink(path.bytes);
    }
    if (file >= 0)
        close(file);
    sm_text_deinit(&path);
    return result;
}

static bool is_spill(const char *name) {
    size_t length = strlen(name), suffix = strlen(SUFFIX);
    return length > suffix && strcmp(name + length - suffix, SUFFIX) == 0;
}

// What one file did not let in keeps no other out.
static sm_result take_folder(sm_store *store, const char *folder, const char *logbook) {
    sm_result result = SM_OK;
    DIR *listed = opendir(folder);
    for (struct dirent *entry = listed ? readdir(listed) : NULL; entry; entry = readdir(listed)) {
        sm_result one = is_spill(entry->d_name) ? take_one(store, folder, entry->d_name, logbook) : SM_OK;
        result = one != SM_OK ? one : result;
    }
    if (listed)
        closedir(listed);
    return result;
}

sm_result sm_spills_take(sm_store *store, const char *logbook) {
    char *full = full_path(logbook);
    sm_result result = full ? SM_OK : SM_NO_MEMORY;
    for (int i = 0; i < FOLDERS && full; i++) {
        sm_text folder = {0};
        put_folder(&folder, full, i);
        sm_result one = folder.failed ? SM_NO_MEMORY : take_folder(store, folder.bytes, full);
        result = one != SM_OK ? one : result;
        sm_text_deinit(&folder);
    }
    free(full);
    return result;
}

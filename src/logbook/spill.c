// SPDX-License-Identifier: GPL-3.0-or-later
// The name of a spill says which logbook it belongs to, by the hash of its full path. SQLite's own lock, held from the first moment to
// the last, says that somebody is writing it; so no file is opened here but by SQLite (closing another descriptor of it would drop the
// locks that this program has on it).
#include "logbook/spill.h"

#include "logbook/legacy.h"
#include "logbook/merge.h"

#include "slowmatch/files.h"
#include "slowmatch/walk.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <unistd.h>

#define PREFIX "slowmatch-spill-"
#define SUFFIX ".db"
#define LEGACY_SUFFIX ".slowmatch-spill"
#define HASH_DIGITS 16

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
    else if (i == 1 && home && home[0] == '/')
        sm_text_printf(out, "%s/.local/state/slowmatch", home);
    else
        sm_text_printf(out, "%s/slowmatch-%u", passing && passing[0] == '/' ? passing : "/tmp",
                       (unsigned)getuid());
}

// A folder of somebody else, or one that others may write to, is no place for what this program reads back. Who may write beside the
// logbook could as well write the logbook.
static bool is_trusted(const char *path, int i) {
    struct stat found;
    bool passing = i == FOLDERS - 1; // there anybody could put a link
    return (passing ? lstat(path, &found) : stat(path, &found)) == 0 && S_ISDIR(found.st_mode) &&
           found.st_uid == geteuid() && (i == 0 || (found.st_mode & 022) == 0);
}

// PREFIX and the hash of the logbook at FULL.
static void put_stem(sm_text *out, const char *full) {
    sm_walk_hash hash = sm_walk_hash_bytes(full, strlen(full));
    sm_text_printf(out, PREFIX "%.*s-", HASH_DIGITS, hash.hex);
}

// ---- writing ------------------------------------------------------------------------------

static sm_result fail(sm_spill *spill, int why) {
    snprintf(spill->store.why, sizeof spill->store.why, "%s", strerror(why));
    return SM_UNREADABLE;
}

static sm_result begin_in(sm_spill *spill, const char *folder, const char *logbook, const sm_text *begun) {
    char token[33];
    sm_text path = {0};
    sm_token_make(token);
    sm_text_printf(&path, "%s/", folder);
    put_stem(&path, logbook);
    sm_text_printf(&path, "%s" SUFFIX, token);
    sm_result result = path.failed ? fail(spill, ENOMEM) : SM_OK;
    if (result == SM_OK)
        result = sm_store_open_carrier(&spill->store, path.bytes, SM_CARRIER_NEW);
    if (result == SM_OK) {
        spill->path = path.bytes;
        path = (sm_text){0};
        result = sm_store_put(&spill->store, begun->bytes, begun->length, true);
        if (result != SM_OK)
            sm_spill_end(spill, true);
    }
    sm_text_deinit(&path);
    return result;
}

static sm_result make_folder(sm_spill *spill, const char *path, int i) {
    if (sm_folder_make(path, 0700) != SM_OK)
        return fail(spill, errno);
    return is_trusted(path, i) ? SM_OK : fail(spill, EACCES);
}

static sm_result begin(sm_spill *spill, const char *logbook, const sm_text *begun) {
    char *full = full_path(logbook);
    sm_result result = full ? SM_UNREADABLE : fail(spill, ENOMEM);
    for (int i = spill->next_folder; full && i < FOLDERS && result != SM_OK; i++) {
        sm_text folder = {0};
        put_folder(&folder, full, i);
        result = folder.failed ? fail(spill, ENOMEM) : make_folder(spill, folder.bytes, i);
        if (result == SM_OK)
            result = begin_in(spill, folder.bytes, full, begun);
        spill->next_folder = i + 1;
        sm_text_deinit(&folder);
    }
    free(full);
    return result;
}

bool sm_spill_write(sm_spill *spill, const char *logbook, const sm_text *begun, const char *bytes,
                    size_t length) {
    while (spill->path || begin(spill, logbook, begun) == SM_OK) {
        if (sm_store_put(&spill->store, bytes, length, true) == SM_OK) {
            spill->written = true;
            return true;
        }
        spill->left = spill->left || spill->written;
        sm_spill_end(spill, !spill->written); // its disk is full, or gone: on in the next folder
    }
    spill->next_folder = 0;
    return false;
}

void sm_spill_end(sm_spill *spill, bool done) {
    if (spill->path && done)
        sm_store_remove(&spill->store, spill->path);
    else
        sm_store_close(&spill->store);
    free(spill->path);
    spill->path = NULL;
    spill->written = false;
}

// ---- taking in -------------------------------------------------------------------------------

static sm_result take_spill(const char *path, const char *logbook, char why[SM_STORE_WHY]) {
    sm_store store;
    sm_result result = sm_store_open_carrier(&store, path, SM_CARRIER_OWN);
    if (result == SM_REFUSED)
        return SM_OK; // somebody is writing it
    if (result == SM_OK)
        result = sm_merge(&store, 0, logbook, NULL);
    if (result == SM_OK)
        sm_store_remove(&store, path);
    else
        memcpy(why, store.why, sizeof store.why);
    sm_store_close(&store);
    return result;
}

// Of a spill that was cut off by a kill all whole records count.
static sm_result take_records(const char *bytes, size_t length, const char *logbook, sm_store *store) {
    sm_text entries = {0};
    sm_result result = sm_legacy_read(bytes, length, &entries);
    if (result != SM_NO_MEMORY)
        result = sm_store_open(store, logbook, false);
    if (result == SM_OK)
        result = sm_store_put(store, entries.bytes, entries.length, true);
    sm_store_close(store);
    sm_text_deinit(&entries);
    return result;
}

// A spill of an earlier program, whose writer holds a lock on it.
static sm_result take_legacy(const char *path, const char *logbook, char why[SM_STORE_WHY]) {
    char *bytes = NULL;
    size_t length;
    sm_store store = {0};
    sm_result result = SM_OK;
    int file = open(path, O_RDONLY | O_CLOEXEC | O_NOFOLLOW | O_NONBLOCK);
    if (file >= 0 && flock(file, LOCK_EX | LOCK_NB) == 0) {
        result = sm_file_read(path, &bytes, &length);
        if (result != SM_OK)
            sm_store_failed_errno(&store, path);
    }
    const char *records =
        bytes && sm_legacy_is_records(bytes, length) ? sm_legacy_spill_records(bytes, length, logbook) : NULL;
    if (records) {
        result = take_records(records, length - (size_t)(records - bytes), logbook, &store);
        if (result == SM_OK)
            unlink(path);
    }
    if (result != SM_OK)
        memcpy(why, store.why, sizeof store.why);
    if (file >= 0)
        close(file);
    free(bytes);
    return result;
}

// A plain file of this user's, with one name, that nobody else may write.
static bool is_own(int folder, const char *name) {
    struct stat found;
    return fstatat(folder, name, &found, AT_SYMLINK_NOFOLLOW) == 0 && S_ISREG(found.st_mode) &&
           found.st_uid == geteuid() && (found.st_mode & 022) == 0 && found.st_nlink == 1 &&
           found.st_size > 0;
}

static bool ends_with(const char *name, const char *end) {
    size_t length = strlen(name), tail = strlen(end);
    return length > tail && strcmp(name + length - tail, end) == 0;
}

// What one file did not let in keeps no other out.
static sm_result take_folder(const char *folder, const char *logbook, char why[SM_STORE_WHY]) {
    sm_result result = SM_OK;
    sm_text stem = {0}, path = {0};
    put_stem(&stem, logbook);
    DIR *listed = stem.failed ? NULL : opendir(folder);
    for (const struct dirent *entry; listed && (entry = readdir(listed));) {
        const char *name = entry->d_name;
        bool spill = strncmp(name, stem.bytes, stem.length) == 0 && ends_with(name, SUFFIX);
        if ((!spill && !ends_with(name, LEGACY_SUFFIX)) || !is_own(dirfd(listed), name))
            continue;
        sm_text_clear(&path);
        sm_text_printf(&path, "%s/%s", folder, name);
        sm_result one = path.failed ? SM_NO_MEMORY
                        : spill     ? take_spill(path.bytes, logbook, why)
                                    : take_legacy(path.bytes, logbook, why);
        result = one != SM_OK ? one : result;
    }
    if (listed)
        closedir(listed);
    sm_text_deinit(&stem);
    sm_text_deinit(&path);
    return result;
}

sm_result sm_spills_take(const char *logbook, char why[SM_STORE_WHY]) {
    char *full = full_path(logbook);
    sm_result result = full ? SM_OK : SM_NO_MEMORY;
    for (int i = 0; i < FOLDERS && full; i++) {
        sm_text folder = {0};
        put_folder(&folder, full, i);
        bool trusted = !folder.failed && is_trusted(folder.bytes, i);
        sm_result one = trusted ? take_folder(folder.bytes, full, why) : SM_OK;
        result = one != SM_OK ? one : result;
        sm_text_deinit(&folder);
    }
    free(full);
    return result;
}

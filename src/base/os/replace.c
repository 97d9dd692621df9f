// SPDX-License-Identifier: GPL-3.0-or-later
// Where the old content counts, the two files exchange their names in one step (Linux has a call for it), so that what was there is
// looked at when nobody can change it any more by that name, and put back where it is not what the caller has seen.
#include "slowmatch/files.h"

#include <dirent.h>
#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define SUFFIX ".slowmatch-new"
#define LOCK_TRIES 200
#define LOCK_WAIT_NS 5000000
#define BACK_TRIES 100
#define LEFT_OVER_S                                                                                          \
    60 // a file beside that is younger may be of a program in another container, whose number means nothing here

bool sm_write_all(int descriptor, const char *bytes, size_t length) {
    while (length > 0) {
        ssize_t wrote = write(descriptor, bytes, length);
        if (wrote < 0 && errno != EINTR)
            return false;
        if (wrote > 0) {
            bytes += wrote;
            length -= (size_t)wrote;
        }
    }
    return true;
}

// ---- beside ----------------------------------------------------------------------------

// "PATH.PID-RANDOM" and the suffix.
static void name_beside(const char *path, sm_text *out) {
    uint32_t word;
    if (getrandom(&word, sizeof word, GRND_NONBLOCK) != (ssize_t)sizeof word)
        word = (uint32_t)clock();
    sm_text_printf(out, "%s.%ld-%08x" SUFFIX, path, (long)getpid(), (unsigned)word);
}

// NAME was made beside BASE by a program that is no more.
static bool is_left_over(int folder, const char *name, const char *base) {
    struct stat found;
    size_t length = strlen(name), head = strlen(base), tail = strlen(SUFFIX);
    if (length < head + tail || strncmp(name, base, head) != 0 || name[head] != '.' ||
        strcmp(name + length - tail, SUFFIX) != 0)
        return false;
    long maker = strtol(name + head + 1, NULL, 10);
    return maker > 0 && kill((pid_t)maker, 0) != 0 && errno == ESRCH &&
           fstatat(folder, name, &found, AT_SYMLINK_NOFOLLOW) == 0 && S_ISREG(found.st_mode) &&
           time(NULL) - found.st_mtime > LEFT_OVER_S;
}

// Flushes the folder that PATH lies in, so that the name is on the disk as the bytes are. SWEEP: removes left-over files first.
static void look_after_folder(const char *path, bool sweep) {
    const char *slash = strrchr(path, '/');
    char *folder = slash ? strndup(path, slash == path ? 1 : (size_t)(slash - path)) : strdup(".");
    DIR *listed = folder ? opendir(folder) : NULL;
    free(folder);
    if (!listed)
        return;
    for (const struct dirent *entry; sweep && (entry = readdir(listed));)
        if (is_left_over(dirfd(listed), entry->d_name, slash ? slash + 1 : path))
            unlinkat(dirfd(listed), entry->d_name, 0);
    if (!sweep)
        fsync(dirfd(listed));
    closedir(listed);
}

// Writes FILE to PATH, a new name. WAS (NULL: none) has the mode and owner that it takes over.
static bool write_beside(const char *path, const sm_file_new *file, const struct stat *was) {
    int descriptor =
        open(path, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC | O_NOFOLLOW, was ? 0600 : file->mode);
    if (descriptor < 0)
        return false;
    bool written = sm_write_all(descriptor, file->bytes, file->length);
    if (written && was) {
        bool own = fchown(descriptor, was->st_uid, was->st_gid) == 0;
        written = fchmod(descriptor, was->st_mode & (own ? 07777 : 0777)) == 0;
    }
    written = written && fsync(descriptor) == 0;
    int why = errno;
    if (close(descriptor) != 0 && written) {
        why = errno;
        written = false;
    }
    errno = why;
    return written;
}

// ---- in place -------------------------------------------------------------------------------

static sm_result refuse(int why) {
    errno = why;
    return SM_REFUSED;
}

static sm_result same_content(const char *path, const sm_file_new *file) {
    char *bytes;
    size_t length;
    struct stat found;
    if (lstat(path, &found) == 0 && !S_ISREG(found.st_mode))
        return refuse(EBUSY);
    sm_result result = sm_file_read(path, &bytes, &length);
    if (result != SM_OK)
        return result == SM_UNREADABLE && errno == ENOENT ? refuse(EBUSY) : result;
    bool same = length == file->old_length && memcmp(bytes, file->old, length) == 0;
    free(bytes);
    return same ? SM_OK : refuse(EBUSY);
}

static bool swap(const char *a, const char *b, unsigned flags) {
    return renameat2(AT_FDCWD, a, AT_FDCWD, b, flags) == 0;
}

// PATH has OURS in place of what others wrote, which BESIDE is: they change places again. Whoever writes PATH meanwhile has written over
// what stood there, so what is found is newer, and goes back in its turn. False: BESIDE is somebody else's file and stays.
static bool put_back(const char *beside, const char *path, ino_t ours) {
    struct stat theirs, found;
    ino_t stands = ours;
    for (int i = 0; i < BACK_TRIES; i++) {
        if (lstat(beside, &theirs) != 0 || !swap(beside, path, RENAME_EXCHANGE) || lstat(beside, &found) != 0)
            return false;
        if (found.st_ino == stands)
            return true;
        stands = theirs.st_ino;
    }
    return false;
}

// After this BESIDE is no name of anything that is still needed, but where *keep is set: it is somebody else's file.
static sm_result exchange(const char *beside, const char *path, const sm_file_new *file, bool *keep) {
    struct stat ours;
    sm_result result = same_content(path, file);
    if (result != SM_OK || lstat(beside, &ours) != 0)
        return result != SM_OK ? result : SM_UNREADABLE;
    if (!swap(beside, path, RENAME_EXCHANGE)) { // a file system that cannot
        if (errno != EINVAL && errno != ENOSYS)
            return errno == ENOENT ? refuse(EBUSY) : SM_UNREADABLE;
        return rename(beside, path) == 0 ? SM_OK : SM_UNREADABLE;
    }
    result = same_content(beside, file);
    if (result == SM_OK)
        return SM_OK;
    int why = errno; // changed between the look and the step
    *keep = !put_back(beside, path, ours.st_ino);
    errno = why;
    return result;
}

static sm_result put_in_place(const char *beside, const char *path, const sm_file_new *file, bool *keep) {
    if (file->if_same && file->old)
        return exchange(beside, path, file, keep);
    if (!file->if_same)
        return rename(beside, path) == 0 ? SM_OK : SM_UNREADABLE;
    if (swap(beside, path, RENAME_NOREPLACE))
        return SM_OK;
    if (errno == EEXIST)
        return refuse(EBUSY);
    if (errno != EINVAL && errno != ENOSYS)
        return SM_UNREADABLE;
    if (access(path, F_OK) == 0)
        return refuse(EBUSY);
    return rename(beside, path) == 0 ? SM_OK : SM_UNREADABLE;
}

static sm_result may_replace(const char *path, const sm_file_new *file, const struct stat *was) {
    if (!S_ISREG(was->st_mode))
        return refuse(EINVAL);
    if (file->refuse_hard_links && was->st_nlink > 1)
        return refuse(EMLINK);
    return access(path, W_OK) == 0 ? SM_OK : SM_UNREADABLE; // written only where it could be written in place
}

// Waits a second at most for other programs that replace PATH, and holds a lock on it; -1: errno. Programs that know nothing of the lock
// are noticed by what they leave.
static int open_locked(const char *path) {
    for (int i = 0; i < LOCK_TRIES; i++) {
        struct stat held, there;
        int descriptor = open(path, O_RDWR | O_CLOEXEC | O_NOFOLLOW);
        if (descriptor < 0)
            return -1;
        bool locked =
            flock(descriptor, LOCK_EX | LOCK_NB) == 0 || errno != EWOULDBLOCK; // or there are no locks here
        if (locked && fstat(descriptor, &held) == 0 && lstat(path, &there) == 0 &&
            held.st_ino == there.st_ino && held.st_dev == there.st_dev)
            return descriptor;
        close(descriptor);
        nanosleep(&(struct timespec){.tv_nsec = LOCK_WAIT_NS}, NULL);
    }
    errno = EAGAIN;
    return -1;
}

// WAS: what PATH is, NULL where there is none.
static sm_result replace(const char *path, const sm_file_new *file, const struct stat *was) {
    sm_text beside = {0};
    bool keep = false;
    look_after_folder(path, true);
    name_beside(path, &beside);
    if (beside.failed) {
        sm_text_deinit(&beside);
        return SM_NO_MEMORY;
    }
    sm_result result = write_beside(beside.bytes, file, was) ? SM_OK : SM_UNREADABLE;
    if (result == SM_OK)
        result = put_in_place(beside.bytes, path, file, &keep);
    int why = errno;
    if (!keep)
        unlink(beside.bytes); // after an exchange the old file, after a failure the new one
    if (result == SM_OK)
        look_after_folder(path, false);
    sm_text_deinit(&beside);
    errno = why;
    return result;
}

static sm_result replace_locked(const char *path, const sm_file_new *file) {
    struct stat was;
    if (lstat(path, &was) != 0)
        return file->if_same && file->old ? refuse(EBUSY) : replace(path, file, NULL);
    sm_result result = may_replace(path, file, &was);
    int lock = result == SM_OK ? open_locked(path) : -1;
    if (result == SM_OK)
        result = lock < 0 ? SM_UNREADABLE : replace(path, file, &was);
    int why = errno;
    if (lock >= 0)
        close(lock);
    errno = why;
    return result;
}

sm_result sm_file_replace(const char *path, const sm_file_new *file) {
    struct stat found;
    char *real = realpath(path, NULL);
    if (!real && (errno != ENOENT || lstat(path, &found) == 0)) // a link that leads nowhere stays one
        return errno == ENOMEM ? SM_NO_MEMORY : SM_UNREADABLE;
    sm_result result = replace_locked(real ? real : path, file);
    int why = errno;
    free(real);
    errno = why;
    return result;
}

void sm_file_sweep(const char *path) {
    char *real = realpath(path, NULL);
    look_after_folder(real ? real : path, true);
    free(real);
}

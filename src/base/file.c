// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/base.h"

#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

// No table of a show comes near this; an endless device file does.
#define FILE_BYTES_MAX ((size_t)2 << 30)

// Reads DESCRIPTOR to its end into *bytes, which starts with room for CAPACITY bytes and grows.
static sm_result read_all(int descriptor, char **bytes, size_t capacity, size_t *length) {
    for (;;) {
        if (*length + 1 >= capacity) {
            if (capacity > FILE_BYTES_MAX) {
                errno = EFBIG;
                return SM_UNREADABLE;
            }
            capacity *= 2;
            char *const grown = realloc(*bytes, capacity);
            if (!grown)
                return SM_NO_MEMORY;
            *bytes = grown;
        }
        const ssize_t got = read(descriptor, *bytes + *length, capacity - *length - 1);
        if (got == 0)
            break;
        if (got < 0 && errno != EINTR)
            return SM_UNREADABLE;
        if (got > 0)
            *length += (size_t)got;
    }
    (*bytes)[*length] = '\0';
    return SM_OK;
}

// By these names a shell hands over what another program writes, and a person what is typed.
static bool is_handed_over(const char *path) {
    static const char *const names[] = {"/dev/fd/", "/dev/stdin", "/proc/self/fd/"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
        if (strncmp(path, names[i], strlen(names[i])) == 0)
            return true;
    return false;
}

// 0: it can be read to its end.
static int why_not(const char *path, int descriptor) {
    struct stat status;
    if (fstat(descriptor, &status) != 0)
        return errno;
    if (S_ISDIR(status.st_mode))
        return EISDIR;
    if (S_ISREG(status.st_mode))
        return 0;
    if (!is_handed_over(path))
        return EMEDIUMTYPE;
    return fcntl(descriptor, F_SETFL, O_RDONLY) == 0 ? 0 : errno; // and waited for
}

int sm_file_open(const char *path) {
    const int descriptor = open(path, O_RDONLY | O_NONBLOCK | O_CLOEXEC | O_NOCTTY);
    const int why = descriptor >= 0 ? why_not(path, descriptor) : errno;
    if (why != 0 && descriptor >= 0)
        close(descriptor);
    errno = why;
    return why == 0 ? descriptor : -1;
}

bool sm_file_is_none(int error) {
    return error == ENOENT || error == ENOTDIR || error == EMEDIUMTYPE;
}

const char *sm_file_why(int error) {
    return error == EMEDIUMTYPE ? "it is no plain file; copy what comes out of it into one" : strerror(error);
}

sm_result sm_file_read(const char *path, char **bytes, size_t *length) {
    const int descriptor = sm_file_open(path);
    if (descriptor < 0)
        return SM_UNREADABLE;
    struct stat status;
    sm_result result = SM_UNREADABLE;
    char *read_bytes = NULL;
    size_t read_length = 0;
    if (fstat(descriptor, &status) == 0) {
        // Two bytes more than the file: one for the NUL, one so that the end is seen without growing.
        const bool is_sized = status.st_size > 0 && (size_t)status.st_size <= FILE_BYTES_MAX;
        const size_t capacity = is_sized ? (size_t)status.st_size + 2 : 4096;
        read_bytes = malloc(capacity);
        result = !read_bytes ? SM_NO_MEMORY : read_all(descriptor, &read_bytes, capacity, &read_length);
    }
    const int kept = errno;
    close(descriptor);
    if (result != SM_OK) {
        free(read_bytes);
        errno = kept;
        return result;
    }
    *bytes = read_bytes;
    *length = read_length;
    return SM_OK;
}

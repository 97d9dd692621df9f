// SPDX-License-Identifier: GPL-3.0-or-later
// Preloaded into the program under test: the call that FAULT_AT counts, of the kind that FAULT_KIND names, fails. Linked into nothing.
// Allocations, files, threads and processes count where the program itself asks for them: what libraries do at their own is theirs. FAULT_MARK is a file that is
// made when the fault came.
#define _GNU_SOURCE
#include <dlfcn.h>
#include <errno.h>
#include <fcntl.h>
#include <link.h>
#include <pthread.h>
#include <spawn.h>
#include <stdarg.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/socket.h>
#include <sys/syscall.h>
#include <unistd.h>

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);

static const char *kind, *mark;
static atomic_long left;
static uintptr_t own_begin, own_end;

// The program itself comes first.
static int find_own(struct dl_phdr_info *info, size_t size, void *data) {
    (void)size;
    (void)data;
    for (int i = 0; i < info->dlpi_phnum; i++) {
        const ElfW(Phdr) *part = &info->dlpi_phdr[i];
        if (part->p_type != PT_LOAD || !(part->p_flags & PF_X))
            continue;
        own_begin = info->dlpi_addr + part->p_vaddr;
        own_end = own_begin + part->p_memsz;
    }
    return 1;
}

__attribute__((constructor)) static void begin(void) {
    const char *at = getenv("FAULT_AT");
    dl_iterate_phdr(find_own, NULL);
    mark = getenv("FAULT_MARK");
    kind = getenv("FAULT_KIND");
    atomic_store(&left, at ? atol(at) : 0);
}

static bool fails(const char *what, int error) {
    if (!kind || strcmp(kind, what) != 0 || atomic_load(&left) <= 0 || atomic_fetch_sub(&left, 1) != 1)
        return false;
    if (mark)
        syscall(SYS_close, (int)syscall(SYS_openat, AT_FDCWD, mark, O_CREAT | O_WRONLY | O_CLOEXEC, 0600));
    errno = error;
    return true;
}

static bool own_fails(const void *caller, const char *what, int error) {
    return (uintptr_t)caller >= own_begin && (uintptr_t)caller < own_end && fails(what, error);
}

static bool allocation_fails(const void *caller) {
    return own_fails(caller, "allocation", ENOMEM);
}

void *malloc(size_t size) {
    return allocation_fails(__builtin_return_address(0)) ? NULL : __libc_malloc(size);
}

void *calloc(size_t count, size_t size) {
    return allocation_fails(__builtin_return_address(0)) ? NULL : __libc_calloc(count, size);
}

void *realloc(void *old, size_t size) {
    return allocation_fails(__builtin_return_address(0)) ? NULL : __libc_realloc(old, size);
}

ssize_t write(int fd, const void *bytes, size_t count) {
    if (fails("write", ENOSPC) || fails("write interrupted", EINTR))
        return -1;
    return syscall(SYS_write, fd, bytes, count > 1 && fails("write cut short", 0) ? count / 2 : count);
}

ssize_t pwrite64(int fd, const void *bytes, size_t count, off64_t at) {
    if (fails("write", ENOSPC) || fails("write interrupted", EINTR))
        return -1;
    return syscall(SYS_pwrite64, fd, bytes, count > 1 && fails("write cut short", 0) ? count / 2 : count, at);
}

ssize_t read(int fd, void *bytes, size_t count) {
    if (fails("read", EIO) || fails("read interrupted", EINTR))
        return -1;
    return syscall(SYS_read, fd, bytes, count > 1 && fails("read cut short", 0) ? count / 2 : count);
}

int fsync(int fd) {
    return fails("sync", EIO) ? -1 : (int)syscall(SYS_fsync, fd);
}

int fdatasync(int fd) {
    return fails("sync", EIO) ? -1 : (int)syscall(SYS_fdatasync, fd);
}

int rename(const char *from, const char *to) {
    return fails("rename", EIO) ? -1 : (int)syscall(SYS_renameat2, AT_FDCWD, from, AT_FDCWD, to, 0);
}

int renameat2(int from_at, const char *from, int to_at, const char *to, unsigned how) {
    return fails("rename", EIO) ? -1 : (int)syscall(SYS_renameat2, from_at, from, to_at, to, how);
}

void *mmap64(void *at, size_t length, int allowed, int flags, int fd, off64_t offset) {
    return fails("mapping", ENOMEM)
               ? MAP_FAILED
               : (void *)syscall(SYS_mmap, at, length, allowed, flags, fd, offset); // NOLINT
}

int socket(int family, int type, int protocol) {
    return fails("socket", EMFILE) ? -1 : (int)syscall(SYS_socket, family, type, protocol);
}

int connect(int fd, __CONST_SOCKADDR_ARG to, socklen_t length) {
    return fails("connection", ECONNREFUSED) ? -1 : (int)syscall(SYS_connect, fd, to.__sockaddr__, length);
}

int open(const char *path, int flags, ...) {
    va_list more;
    va_start(more, flags);
    const mode_t mode = flags & (O_CREAT | O_TMPFILE) ? va_arg(more, mode_t) : 0;
    va_end(more);
    return own_fails(__builtin_return_address(0), "file", EMFILE)
               ? -1
               : (int)syscall(SYS_openat, AT_FDCWD, path, flags, mode);
}

int pthread_create(pthread_t *thread, const pthread_attr_t *how, void *(*begin_at)(void *), void *data) {
    if (own_fails(__builtin_return_address(0), "thread", EAGAIN))
        return EAGAIN;
    int (*real)(pthread_t *, const pthread_attr_t *, void *(*)(void *), void *);
    void *found = dlsym(RTLD_NEXT, "pthread_create");
    memcpy(&real, &found, sizeof real); // a function behind an object's pointer, which ISO C has no cast for
    return real(thread, how, begin_at, data);
}

int posix_spawn(pid_t *pid, const char *path, const posix_spawn_file_actions_t *files,
                const posix_spawnattr_t *how, char *const argv[], char *const environment[]) {
    if (own_fails(__builtin_return_address(0), "process", EAGAIN))
        return EAGAIN;
    int (*real)(pid_t *, const char *, const posix_spawn_file_actions_t *, const posix_spawnattr_t *,
                char *const[], char *const[]);
    void *found = dlsym(RTLD_NEXT, "posix_spawn");
    memcpy(&real, &found, sizeof real);
    return real(pid, path, files, how, argv, environment);
}

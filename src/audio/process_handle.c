// SPDX-License-Identifier: GPL-3.0-or-later
// The program's own side of the sound process: starts it, watches it, ends it.
#include "audio/process_handle.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

static sm_shared *shared_create(int *fd) {
    *fd = memfd_create("slowmatch-sound", MFD_CLOEXEC);
    if (*fd < 0)
        return NULL;
    void *memory = MAP_FAILED;
    if (ftruncate(*fd, sizeof(sm_shared)) == 0)
        memory = mmap(NULL, sizeof(sm_shared), PROT_READ | PROT_WRITE, MAP_SHARED, *fd, 0);
    if (memory != MAP_FAILED)
        return memory;
    close(*fd);
    return NULL;
}

// In a session of its own, so that keys typed at the terminal do not signal it; with no signal blocked or
// ignored.
static int spawn(int fd, pid_t *pid) {
    posix_spawn_file_actions_t files;
    posix_spawnattr_t how;
    sigset_t none, all;
    sigemptyset(&none);
    sigfillset(&all);
    posix_spawn_file_actions_init(&files);
    posix_spawnattr_init(&how);
    posix_spawnattr_setsigmask(&how, &none);
    posix_spawnattr_setsigdefault(&how, &all);
    posix_spawnattr_setflags(&how, POSIX_SPAWN_SETSID | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
    char name[] = "slowmatch", argument[] = SM_AUDIO_PROCESS_ARGUMENT;
    char *const argv[] = {name, argument, NULL};
    int error = posix_spawn_file_actions_adddup2(&files, fd, SM_SHARED_FD);
    if (error == 0)
        error = posix_spawn(pid, "/proc/self/exe", &files, &how, argv, environ);
    posix_spawnattr_destroy(&how);
    posix_spawn_file_actions_destroy(&files);
    return error;
}

sm_result sm_child_start(sm_child *child, const char *device, const int *rates, int count) {
    int fd;
    sm_shared *shared = shared_create(&fd);
    if (!shared)
        return SM_NO_MEMORY;
    shared->magic = SM_SHARED_MAGIC;
    shared->parent = getpid();
    snprintf(shared->wanted, sizeof shared->wanted, "%s", device);
    for (int i = 0; i < count && i < SM_RATES_MAX; i++)
        shared->rates[i] = rates[i];
    pid_t pid = 0;
    int error = spawn(fd, &pid);
    close(fd);
    if (error) {
        munmap(shared, sizeof *shared);
        errno = error;
        return SM_UNREADABLE;
    }
    child->pid = pid;
    child->shared = shared;
    return SM_OK;
}

bool sm_child_runs(sm_child *child) {
    if (child->pid == 0)
        return false;
    pid_t got = waitpid(child->pid, NULL, WNOHANG);
    if (got == child->pid || (got < 0 && errno == ECHILD))
        child->pid = 0;
    return child->pid != 0;
}

void sm_child_end(sm_child *child) {
    if (child->pid != 0) {
        kill(child->pid, SIGKILL);
        for (int i = 0; i < SM_CHILD_DYING; i++)
            if (child->dying[i] == 0) {
                child->dying[i] = child->pid;
                break;
            }
        child->pid = 0;
    }
    if (child->shared)
        munmap(child->shared, sizeof *child->shared);
    child->shared = NULL;
}

bool sm_child_reap(sm_child *child) {
    bool none = true;
    for (int i = 0; i < SM_CHILD_DYING; i++) {
        if (child->dying[i] != 0 && waitpid(child->dying[i], NULL, WNOHANG) != 0)
            child->dying[i] = 0; // reaped, or somebody else did
        none = none && child->dying[i] == 0;
    }
    return none;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The program's own side of the sound process: starts it, watches it, ends it.
#include "audio/process_handle.h"

#include "audio/mono.h"

#include "slowmatch/start_self.h"

#include <errno.h>
#include <fcntl.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/wait.h>
#include <unistd.h>

#define START_NS (4 * SM_NS_PER_S)
#define LOST_NS (250 * SM_NS_PER_MS)
#define LOST_LOOKS                                                                                           \
    5 // looks in vain, so that a thread that was itself kept waiting does not take that for silence

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

sm_result sm_child_start(sm_child *child, sm_child_work work, const char *device, const int *rates,
                         int count) {
    int fd;
    sm_shared *shared = shared_create(&fd);
    if (!shared)
        return SM_NO_MEMORY;
    shared->magic = SM_SHARED_MAGIC;
    shared->parent = getpid();
    shared->listens = work == SM_CHILD_LISTENS || work == SM_CHILD_LISTS_INPUTS;
    shared->lists = work == SM_CHILD_LISTS_OUTPUTS || work == SM_CHILD_LISTS_INPUTS;
    snprintf(shared->wanted, sizeof shared->wanted, "%s", device);
    for (int i = 0; i < count && i < SM_RATES_MAX; i++)
        shared->rates[i] = rates[i];
    pid_t pid = 0;
    char name[] = "slowmatch", argument[] = SM_AUDIO_PROCESS_ARGUMENT;
    const int error = sm_start_self((char *[]){name, argument, NULL}, fd, SM_SHARED_FD, &pid);
    close(fd);
    if (error) {
        munmap(shared, sizeof *shared);
        errno = error;
        return SM_UNREADABLE;
    }
    child->pid = pid;
    child->shared = shared;
    child->begun_ns = sm_mono_ns();
    child->beats = 0;
    return SM_OK;
}

bool sm_child_beats(const sm_child *child) {
    return atomic_load_explicit(&child->shared->beats, memory_order_relaxed) > 0;
}

static bool is_silent(sm_child *child, int64_t now_ns) {
    uint64_t beats = atomic_load_explicit(&child->shared->beats, memory_order_relaxed);
    child->looks++;
    if (beats != child->beats) {
        child->beats = beats;
        child->beat_ns = now_ns;
        child->looks = 0;
    }
    return now_ns - child->beat_ns > LOST_NS && child->looks >= LOST_LOOKS;
}

const char *sm_child_trouble(sm_child *child, int64_t now_ns) {
    const sm_shared *shared = child->shared;
    if (atomic_load_explicit(&shared->phase, memory_order_acquire) == SM_CHILD_FAILED) {
        snprintf(child->why, sizeof child->why, "%.191s", shared->why);
        return child->why;
    }
    if (!sm_child_runs(child))
        return "the sound process ended";
    if (!sm_child_beats(child))
        return now_ns - child->begun_ns > START_NS ? "the sound system does not answer" : NULL;
    if (!is_silent(child, now_ns))
        return NULL;
    return shared->listens ? "the device gives no more sound" : "the device takes no more sound";
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

// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/start_self.h"

#include <signal.h>
#include <spawn.h>
#include <unistd.h>

int sm_start_self(char *const argv[], int descriptor, int target, pid_t *pid) {
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
    int error = posix_spawn_file_actions_adddup2(&files, descriptor, target);
    if (error == 0)
        error = posix_spawn(pid, "/proc/self/exe", &files, &how, argv, environ);
    posix_spawnattr_destroy(&how);
    posix_spawn_file_actions_destroy(&files);
    return error;
}

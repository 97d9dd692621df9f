// SPDX-License-Identifier: GPL-3.0-or-later
// The callback makes no system call, so no lock that waits and no allocation that asks the system for memory either. Called 10,000 times
// in a thread under seccomp's strict mode, with the clocks read before: that mode also takes away the processor's time stamp counter that
// they are read from. And 10,000 times whole, clocks and all, under a filter that ends the process by SIGSYS at any call but exit.
#include "audio/shared.h"

#include <linux/filter.h>
#include <linux/seccomp.h>
#include <pthread.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

#define CALLS 10000
#define FRAMES 480

static void callbacks(sm_shared *shared) {
    float out[FRAMES * 2];
    for (int i = 0; i < CALLS; i++) {
        sm_shared_callback(shared, out, FRAMES, 1.0, 1.05);
        atomic_store(&shared->readings_taken, atomic_load(&shared->readings_put));
    }
}

// Calls it in a child that may make no system call; returns the child's wait status.
static int strictly(sm_shared *shared, bool forbidden) {
    struct sock_filter rules[] = {
        BPF_STMT(BPF_LD | BPF_W | BPF_ABS, offsetof(struct seccomp_data, nr)),
        BPF_JUMP(BPF_JMP | BPF_JEQ | BPF_K, SYS_exit, 0, 1),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_ALLOW),
        BPF_STMT(BPF_RET | BPF_K, SECCOMP_RET_KILL_PROCESS),
    };
    struct sock_fprog nothing = {.len = sizeof rules / sizeof *rules, .filter = rules};
    pid_t pid = fork();
    if (pid == 0) {
        callbacks(shared); // the clocks' pages are mapped, the memory is touched
        if (prctl(PR_SET_NO_NEW_PRIVS, 1, 0, 0, 0) != 0 ||
            prctl(PR_SET_SECCOMP, SECCOMP_MODE_FILTER, &nothing) != 0)
            syscall(SYS_exit, 77);
        callbacks(shared);
        if (forbidden)
            syscall(SYS_getppid);
        syscall(SYS_exit, 0);
    }
    int status = -1;
    assert_true(pid > 0 && waitpid(pid, &status, 0) == pid);
    return status;
}

static void the_callback_makes_no_system_call(void **state) {
    (void)state;
    sm_shared *shared = mmap(NULL, sizeof *shared, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    assert_ptr_not_equal(shared, MAP_FAILED);
    shared->channels = 2;
    sm_ring_publish(&shared->ring, (uint64_t)CALLS * FRAMES);
    int status = strictly(shared, true);
    if (WIFEXITED(status) && WEXITSTATUS(status) == 77) {
        print_message("no seccomp filters here: skipped\n");
        munmap(shared, sizeof *shared);
        skip();
    }
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGSYS); // the check itself can fail
    uint64_t before = atomic_load(&shared->beats);
    status = strictly(shared, false);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 0);
    assert_int_equal(atomic_load(&shared->beats) - before, 2 * CALLS);
    munmap(shared, sizeof *shared);
}

static void *fill_in_strict_mode(void *context) {
    sm_shared *shared = context;
    static float out[FRAMES * 2];
    if (prctl(PR_SET_SECCOMP, SECCOMP_MODE_STRICT) != 0)
        syscall(SYS_exit, 0);
    for (int i = 0; i < CALLS; i++) {
        sm_shared_fill(shared, out, FRAMES, 1.0, 1.05, (sm_stamp){.mono_ns = i, .real_ns = i});
        atomic_store(&shared->readings_taken, atomic_load(&shared->readings_put));
    }
    if (shared->channels == 1) // the check itself can fail
        syscall(SYS_getppid);
    shared->channels = 0; // all of it was done
    syscall(SYS_exit, 0); // the one way out for a thread in that mode
    return NULL;
}

// How many of the calls came to their end in a thread of strict mode, in a process of its own, which a wrong call ends.
static uint64_t calls_in_strict_mode(sm_shared *shared) {
    atomic_store(&shared->beats, 0);
    pid_t pid = fork();
    if (pid == 0) {
        pthread_t thread;
        if (pthread_create(&thread, NULL, fill_in_strict_mode, shared) != 0 ||
            pthread_join(thread, NULL) != 0)
            syscall(SYS_exit_group, 1);
        syscall(SYS_exit_group, 0);
    }
    int status;
    assert_true(pid > 0 && waitpid(pid, &status, 0) == pid);
    return atomic_load(&shared->beats);
}

static void the_callback_runs_in_strict_mode(void **state) {
    (void)state;
    sm_shared *shared = mmap(NULL, sizeof *shared, PROT_READ | PROT_WRITE, MAP_SHARED | MAP_ANONYMOUS, -1, 0);
    assert_ptr_not_equal(shared, MAP_FAILED);
    sm_ring_publish(&shared->ring, (uint64_t)CALLS * FRAMES);
    shared->channels = 2;
    uint64_t calls = calls_in_strict_mode(shared);
    if (calls == 0) {
        print_message("no strict mode of seccomp here: skipped\n");
        munmap(shared, sizeof *shared);
        skip();
    }
    assert_int_equal(calls, CALLS);
    assert_int_equal(shared->channels, 0);
    shared->channels = 1;
    calls_in_strict_mode(shared);
    assert_int_equal(shared->channels, 1); // the call that is not allowed ended it
    munmap(shared, sizeof *shared);
}

static void readings_come_in_order_and_tell_when(void **state) {
    (void)state;
    sm_shared *shared = calloc(1, sizeof *shared);
    assert_non_null(shared);
    shared->channels = 2;
    float out[FRAMES * 2];
    for (unsigned i = 0; i < SM_READINGS + 10;
         i++) // ten more than there is room for: the latest are left out
        sm_shared_callback(shared, out, FRAMES, 5, 5.05);
    sm_clock_reading reading;
    unsigned count = 0;
    for (; sm_shared_reading(shared, &reading); count++)
        assert_int_equal(reading.frame, count * FRAMES);
    assert_int_equal(count, SM_READINGS);
    free(shared);
    // A stream clock of its own: sounds 50 ms after the look.
    reading =
        (sm_clock_reading){.mono_ns = 1000, .real_ns = 2000000000000000000, .current_s = 77, .dac_s = 77.05};
    assert_int_equal(sm_clock_reading_sounds_ns(&reading), 50001000);
    // The stream's clock is the real one: the look came 30 ms after PortAudio's, and is not counted.
    reading = (sm_clock_reading){
        .mono_ns = 9000000000, .real_ns = 2000000030000000, .current_s = 2000000.0, .dac_s = 2000000.05};
    assert_in_range(sm_clock_reading_sounds_ns(&reading), 9019999000, 9020001000);
    // The same with the monotonic one.
    reading = (sm_clock_reading){
        .mono_ns = 9030000000, .real_ns = 2000000000000000, .current_s = 9.0, .dac_s = 9.05};
    assert_in_range(sm_clock_reading_sounds_ns(&reading), 9049999000, 9050001000);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_callback_runs_in_strict_mode),
        cmocka_unit_test(the_callback_makes_no_system_call),
        cmocka_unit_test(readings_come_in_order_and_tell_when),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

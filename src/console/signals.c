// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/signals.h"

#include <pthread.h>
#include <sys/signalfd.h>
#include <unistd.h>

// All that would kill, but for those that tell of a crash (screen/crash.h).
static const int ending[] = {SIGINT,  SIGTERM, SIGHUP,  SIGQUIT, SIGALRM,   SIGVTALRM, SIGPROF,
                             SIGUSR1, SIGUSR2, SIGXCPU, SIGPOLL, SIGSTKFLT, SIGPWR};

bool sm_signal_ends(int signal) {
    for (size_t i = 0; i < sizeof ending / sizeof ending[0]; i++)
        if (ending[i] == signal)
            return true;
    return signal >= SIGRTMIN && signal <= SIGRTMAX;
}

sm_result sm_signals_open(sm_signals *signals) {
    sigemptyset(&signals->taken);
    for (size_t i = 0; i < sizeof ending / sizeof ending[0]; i++)
        sigaddset(&signals->taken, ending[i]);
    for (int real_time = SIGRTMIN; real_time <= SIGRTMAX; real_time++)
        sigaddset(&signals->taken, real_time);
    sigaddset(&signals->taken, SIGTSTP);
    sigaddset(&signals->taken, SIGWINCH);
    sigaddset(&signals->taken, SIGPIPE); // a terminal or a sound process that goes away is no reason to die
    pthread_sigmask(SIG_BLOCK, &signals->taken, &signals->before);
    signals->descriptor = signalfd(-1, &signals->taken, SFD_NONBLOCK | SFD_CLOEXEC);
    if (signals->descriptor < 0) {
        pthread_sigmask(SIG_SETMASK, &signals->before, NULL);
        return SM_UNREADABLE;
    }
    return SM_OK;
}

void sm_signals_close(sm_signals *signals) {
    if (signals->descriptor >= 0) {
        close(signals->descriptor);
        signals->descriptor = -1;
        pthread_sigmask(SIG_SETMASK, &signals->before, NULL);
    }
}

int sm_signals_next(const sm_signals *signals) {
    struct signalfd_siginfo info;
    if (read(signals->descriptor, &info, sizeof info) == (ssize_t)sizeof info)
        return (int)info.ssi_signo;
    return 0;
}

void sm_signals_stop(const sm_signals *signals) {
    (void)signals;
    sigset_t stop;
    sigemptyset(&stop);
    sigaddset(&stop, SIGTSTP);
    kill(0, SIGTSTP); // the whole job: a shell that started us by way of another program waits for all of it
    pthread_sigmask(SIG_UNBLOCK, &stop, NULL);
    // Here the process stands still until SIGCONT.
    pthread_sigmask(SIG_BLOCK, &stop, NULL);
}

void sm_signals_die(int signal) {
    struct sigaction plain = {.sa_handler = SIG_DFL};
    sigaction(signal, &plain, NULL);
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, signal);
    raise(signal);
    pthread_sigmask(SIG_UNBLOCK, &set, NULL);
    _exit(128 + signal); // where the signal is ignored for good
}

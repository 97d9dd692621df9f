// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/watchdog.h"

#include "console/signals.h"
#include "screen/keys.h"

#include "slowmatch/clock.h"

#include <poll.h>
#include <string.h>
#include <unistd.h>

#define LOOK_US (SM_US_PER_S / 4)
// When a write to the terminal takes longer than this, the watchdog itself looks for the keys that stop.
#define STALLED_US (SM_US_PER_S / 4)
// When it takes longer than this, the watchdog itself obeys a signal.
#define STUCK_US (2 * SM_US_PER_S)
#define PATIENCE_US (2 * SM_US_PER_S)

// A signal that ends the program and has come or is being obeyed; 0: none.
static int ending_signal(sm_watchdog *watchdog) {
    int obeyed = atomic_load(&watchdog->signal);
    if (obeyed)
        return obeyed;
    sigset_t pending;
    sigpending(&pending);
    for (int signal = 1; signal <= SIGRTMAX; signal++)
        if (sm_signal_ends(signal) && sigismember(&pending, signal) == 1)
            return signal;
    return 0;
}

static sm_us writing_for(sm_watchdog *watchdog) {
    int64_t since = atomic_load(&watchdog->writing_since_us);
    return since != 0 ? sm_monotonic_us() - since : 0;
}

// What is typed blindly, while the screen stands still, is taken for one thing only: SPACE, F8 or Ctrl-C make safe.
// The rest is dropped. (Where text was being typed SPACE stops as well: better once too often.)
static void take_stop_keys(sm_watchdog *watchdog) {
    struct pollfd in = {STDIN_FILENO, POLLIN, 0};
    char bytes[256];
    if (poll(&in, 1, 0) <= 0 || !(in.revents & POLLIN))
        return;
    ssize_t count = read(STDIN_FILENO, bytes, sizeof bytes - 1);
    if (count <= 0)
        return;
    static const char f8[] = "\033[19~";
    if (memchr(bytes, ' ', (size_t)count) || memchr(bytes, SM_KEY_INTERRUPT, (size_t)count) ||
        memmem(bytes, (size_t)count, f8, sizeof f8 - 1))
        if (watchdog->session)
            (void)sm_session_act(watchdog->session, "safe");
}

// The screen's thread cannot do it: safe, the log, the terminal's modes, and death by the signal.
static void end_without_screen(sm_watchdog *watchdog, int signal) {
    if (watchdog->session) {
        sm_session_make_safe(watchdog->session, PATIENCE_US);
        sm_session_flush_log(watchdog->session, PATIENCE_US);
    }
    tcflush(STDOUT_FILENO, TCOFLUSH);
    tcsetattr(STDIN_FILENO, TCSANOW, &watchdog->modes);
    sm_signals_die(signal);
}

static void *watch(void *context) {
    sm_watchdog *watchdog = context;
    pthread_mutex_lock(&watchdog->lock);
    while (!watchdog->ending) {
        struct timespec until = sm_monotonic_after(LOOK_US);
        pthread_cond_timedwait(&watchdog->changed, &watchdog->lock, &until);
        sm_us span = writing_for(watchdog);
        if (span > STALLED_US)
            take_stop_keys(watchdog);
        int signal = span > STUCK_US || watchdog->launching ? ending_signal(watchdog) : 0;
        if (signal && !watchdog->ending)
            end_without_screen(watchdog, signal);
    }
    pthread_mutex_unlock(&watchdog->lock);
    return NULL;
}

sm_result sm_watchdog_start(sm_watchdog *watchdog) {
    watchdog->launching = true;
    tcgetattr(STDIN_FILENO, &watchdog->modes);
    pthread_mutex_init(&watchdog->lock, NULL);
    sm_condition_init(&watchdog->changed);
    watchdog->runs = pthread_create(&watchdog->thread, NULL, watch, watchdog) == 0;
    return watchdog->runs ? SM_OK : SM_NO_MEMORY;
}

void sm_watchdog_launched(sm_watchdog *watchdog, sm_session *session) {
    pthread_mutex_lock(&watchdog->lock);
    watchdog->session = session;
    watchdog->launching = false;
    pthread_mutex_unlock(&watchdog->lock);
}

void sm_watchdog_stop(sm_watchdog *watchdog) {
    if (!watchdog->runs)
        return;
    pthread_mutex_lock(&watchdog->lock);
    watchdog->ending = true;
    pthread_cond_broadcast(&watchdog->changed);
    pthread_mutex_unlock(&watchdog->lock);
    pthread_join(watchdog->thread, NULL);
    pthread_cond_destroy(&watchdog->changed);
    pthread_mutex_destroy(&watchdog->lock);
    watchdog->runs = false;
}

void sm_watchdog_writes(sm_watchdog *watchdog, bool writes) {
    atomic_store(&watchdog->writing_since_us, writes ? sm_monotonic_us() : 0);
}

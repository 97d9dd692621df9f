// SPDX-License-Identifier: GPL-3.0-or-later
// One line on the terminal while something takes longer than a second: how far it is, how fast, and what is left. A thread looks at what is
// counted; whoever does the work does not wait for the terminal. Nothing is drawn where standard error is no terminal, or one that cannot
// go back in its line.
#include "cmd/progress_line.h"

#include "cmd/cmd.h"

#include "slowmatch/clock.h"

#include <assert.h>
#include <fcntl.h>
#include <math.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <time.h>
#include <unistd.h>

#define QUIET_US SM_US_PER_S         // what is over sooner needs no line
#define EACH_US (SM_US_PER_S / 4)    // between two drawings
#define SETTLED_US (SM_US_PER_S / 2) // before that nobody knows how long it takes
enum { LINE_BYTES = 256 };

struct cmd_progress {
    pthread_t thread;
    pthread_mutex_t lock; // over all below but the counts
    pthread_cond_t ends;
    bool over;
    int terminal;
    const char *what; // NULL: nothing yet
    cmd_progress_unit unit;
    int64_t began_us;
    size_t columns_used;
    sm_progress counts;
};

static const struct unit {
    const char *name;
    double size; // in what is counted
    int decimals;
} units[] = {
    [CMD_PROGRESS_BYTES] = {"MB", 1e6, 1},
    [CMD_PROGRESS_MUSIC] = {"s", SM_US_PER_S, 0},
    [CMD_PROGRESS_ROWS] = {"rows", 1, 0},
    [CMD_PROGRESS_RULES] = {"rules", 1, 0},
};
static_assert(sizeof units / sizeof units[0] == CMD_PROGRESS_UNITS, "a row a unit");

static size_t columns_of(int terminal) {
    struct winsize size;
    return ioctl(terminal, TIOCGWINSZ, &size) == 0 && size.ws_col > 0 ? size.ws_col : 80;
}

// "reading cues.csv: 43 %, 12.4 of 28.9 MB, 11.2 a second, 2 s left"
static void put_line(const cmd_progress *line, int64_t now_us, sm_text *out) {
    const struct unit *const unit = &units[line->unit];
    const double done = (double)atomic_load(&line->counts.done) / unit->size,
                 counted = (double)atomic_load(&line->counts.whole) / unit->size,
                 spent_s = (double)(now_us - line->began_us) / 1e6;
    const double whole = done < counted ? counted : done; // what was read twice is counted twice
    sm_text_printf(out, "%s: ", line->what);
    if (counted > 0)
        sm_text_printf(out, "%.0f %%, ", done * 100 / whole);
    sm_text_printf(out, "%.*f ", unit->decimals, done);
    if (counted > 0)
        sm_text_printf(out, "of %.*f ", unit->decimals, whole);
    sm_text_printf(out, "%s", unit->name);
    if (now_us - line->began_us < SETTLED_US || !(done > 0))
        return;
    sm_text_printf(out, ", %.*f a second", unit->decimals, done / spent_s);
    if (counted > done)
        sm_text_printf(out, ", %.0f s left", ceil((counted - done) * spent_s / done));
    else if (counted > 0)
        sm_text_printf(out, ", nearly done"); // what is counted; it is still put in order
}

static void draw(cmd_progress *line, int64_t now_us) {
    char room[LINE_BYTES];
    sm_text text = SM_TEXT_IN(room);
    put_line(line, now_us, &text);
    if (!text.failed)
        line->columns_used =
            cmd_put_over(line->terminal, sm_text_get(&text), line->columns_used, columns_of(line->terminal));
    sm_text_deinit(&text);
}

static void *run(void *context) {
    cmd_progress *line = context;
    int64_t next_us = sm_monotonic_us() + QUIET_US;
    pthread_mutex_lock(&line->lock);
    while (!line->over) {
        const int64_t now_us = sm_monotonic_us();
        if (now_us < next_us) {
            const struct timespec until = sm_monotonic_at_ns(next_us * 1000);
            pthread_cond_timedwait(&line->ends, &line->lock, &until);
            continue;
        }
        if (line->what)
            draw(line, now_us);
        next_us = now_us + EACH_US;
    }
    pthread_mutex_unlock(&line->lock);
    return NULL;
}

static bool can_be_drawn(void) {
    const char *terminal = getenv("TERM");
    return isatty(STDERR_FILENO) && terminal && terminal[0] != '\0' && strcmp(terminal, "dumb") != 0;
}

static bool start(cmd_progress *line) {
    pthread_condattr_t clock;
    sigset_t every, before;
    line->terminal =
        fcntl(STDERR_FILENO, F_DUPFD_CLOEXEC, 3); // its own: what others say meanwhile may be muffled
    if (line->terminal < 0)
        return false;
    pthread_mutex_init(&line->lock, NULL);
    pthread_condattr_init(&clock);
    pthread_condattr_setclock(&clock, CLOCK_MONOTONIC);
    pthread_cond_init(&line->ends, &clock);
    pthread_condattr_destroy(&clock);
    sigfillset(&every);
    pthread_sigmask(SIG_SETMASK, &every, &before); // signals stay with the caller
    const bool runs = pthread_create(&line->thread, NULL, run, line) == 0;
    pthread_sigmask(SIG_SETMASK, &before, NULL);
    if (!runs)
        close(line->terminal);
    return runs;
}

cmd_progress *cmd_progress_begin(void) {
    cmd_progress *line = can_be_drawn() ? calloc(1, sizeof *line) : NULL;
    if (line && !start(line)) {
        free(line);
        line = NULL;
    }
    return line;
}

sm_progress *cmd_progress_of(cmd_progress *line, const char *what, cmd_progress_unit unit) {
    if (!line)
        return NULL;
    pthread_mutex_lock(&line->lock);
    line->what = what;
    line->unit = unit;
    line->began_us = sm_monotonic_us();
    atomic_store(&line->counts.done, 0);
    atomic_store(&line->counts.whole, 0);
    pthread_mutex_unlock(&line->lock);
    return &line->counts;
}

void cmd_progress_end(cmd_progress *line) {
    if (!line)
        return;
    pthread_mutex_lock(&line->lock);
    line->over = true;
    pthread_cond_signal(&line->ends);
    pthread_mutex_unlock(&line->lock);
    pthread_join(line->thread, NULL);
    if (line->columns_used > 0)
        cmd_put_over(line->terminal, "", line->columns_used, columns_of(line->terminal));
    close(line->terminal);
    pthread_cond_destroy(&line->ends);
    pthread_mutex_destroy(&line->lock);
    free(line);
}

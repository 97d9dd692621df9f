// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/crash.h"

#include <signal.h>
#include <stddef.h>
#include <termios.h>
#include <unistd.h>

static const int crashes[] = {SIGSEGV, SIGBUS, SIGILL, SIGFPE, SIGABRT, SIGSYS, SIGTRAP};

// For the handler, which is given nothing.
static struct termios before;
static volatile sig_atomic_t is_terminal;

// Xterm's control sequences: no mouse, no marks round pastes, the first screen, plain, the cursor. Where they are not known they do
// nothing.
static void on_crash(int number) {
    static const char plain[] = "\033[?1000l\033[?1006l\033[?2004l\033[?1049l\033[0m\033[?25h\r\n";
    if (is_terminal) {
        (void)!write(STDOUT_FILENO, plain, sizeof plain - 1);
        tcsetattr(STDIN_FILENO, TCSANOW, &before);
    }
    raise(number); // its own action again: it kills as soon as this returns
}

void sm_crash_guard(bool on) {
    const struct sigaction guard = {.sa_handler = on_crash, .sa_flags = (int)SA_RESETHAND};
    struct sigaction was;
    is_terminal = on && tcgetattr(STDIN_FILENO, &before) == 0;
    for (size_t i = 0; i < sizeof crashes / sizeof crashes[0]; i++) {
        if (sigaction(crashes[i], NULL, &was) != 0)
            continue;
        if (on && was.sa_handler == SIG_DFL)
            sigaction(crashes[i], &guard, NULL);
        else if (!on && was.sa_handler == on_crash)
            signal(crashes[i], SIG_DFL);
    }
}

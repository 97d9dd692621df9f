// SPDX-License-Identifier: GPL-3.0-or-later
// A program that crashes leaves the terminal as it found it, too.
#ifndef SLOWMATCH_SCREEN_CRASH_H
#define SLOWMATCH_SCREEN_CRASH_H

#include <stdbool.h>

// ON: before the terminal is taken over. From then on the signals of a crash give it back before they kill; one that somebody handles
// already (a sanitizer) is left alone. Main thread.
void sm_crash_guard(bool on);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// A rehearsal without a screen: the log's lines on standard output.
#ifndef CMD_HEADLESS_H
#define CMD_HEADLESS_H

#include "slowmatch/show.h"

typedef struct headless_options {
    sm_show *show;
    const char *script_path, *log_path, *readings_file, *device;
    sm_us sound_offset_us;
    bool silent, fast, bare;
} headless_options;

// Returns the exit status. Takes the show, and destroys it or the one that a `reload` put in its place.
int headless_run(const headless_options *options);

#endif

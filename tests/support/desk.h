// SPDX-License-Identifier: GPL-3.0-or-later
// The console's screen over a show folder, without a terminal: the engine on a virtual clock, keys in, a grid of cells out.
#ifndef SLOWMATCH_TESTS_DESK_H
#define SLOWMATCH_TESTS_DESK_H

#include "console/rig_line.h"
#include "console/ui.h"
#include "console/walkthrough.h"

typedef struct desk_options {
    const char *folder;   // of the show
    const char *readings; // as --readings; NULL
    const char *logbook;  // earlier walks; NULL
    bool music;           // its shape is computed, and waited for
} desk_options;

typedef struct desk {
    sm_show *show;
    sm_rehearsal *rehearsal;
    sm_snapshot *now;
    sm_wall_time wall;
    sm_recent recent;
    sm_day day; // launched at 21:00:00 UTC
    sm_findings *findings;
    sm_text noise;
    sm_audio *audio;
    sm_audio_status sound;
    sm_rig_line rig_line;
    sm_walkthrough *walkthrough;
    sm_ui ui;
    sm_cells *cells;
    char acted[256]; // the latest line
    int acts;
    char file[256]; // asked to be read
    bool no_memory; // the owner cannot take lines
} desk;

// 80 by 24. Fails the test when it cannot. The locale must be one of UTF-8.
void desk_begin(desk *d, const desk_options *options);
void desk_end(desk *d);
void desk_size(desk *d, int columns, int rows);
void desk_advance(desk *d, sm_us span);
void desk_press(desk *d, int key);
void desk_type(desk *d, const char *keys); // '\n' is Enter
// Draws, and looks for TEXT in a row.
bool desk_shows(desk *d, const char *text);
// Draws all; every row ends with a line feed. Appends to OUT.
void desk_picture(desk *d, sm_text *out);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// The console's screen over a show folder, without a terminal and threads: the engine on a virtual clock, keys in, a grid of
// cells out.
#ifndef SLOWMATCH_TESTS_DESK_H
#define SLOWMATCH_TESTS_DESK_H

#include "console/frame.h"
#include "show_folder.h"

#include "slowmatch/rig_explainer.h"
#include "slowmatch/walk_answers.h"

typedef struct desk_options {
    const char *folder;   // of the show
    const char *readings; // as --readings; NULL
    const char *logbook;  // earlier walks; NULL
    bool music;           // its shape is computed, and waited for
    bool drill;           // actions of drills are allowed
} desk_options;

typedef struct desk {
    sm_show *show;
    sm_rehearsal *rehearsal;
    sm_snapshot *now;
    sm_wall_time wall;
    sm_recent recent;
    sm_time_of_day time_of_day; // launched at 21:00:00 UTC
    sm_walk_hash content;       // of the show
    sm_findings *findings;
    sm_text stray_output;
    sm_audio *audio;
    sm_session *session; // nothing of it is there but its sound; NULL without music
    sm_audio_status sound;
    sm_rig_explainer rig_explanation;
    sm_walkthrough *walkthrough;
    sm_ui ui;
    sm_cells *cells;
    char acted[256]; // the latest line
    int acts;
    char file[256];   // asked to be read
    bool takes_files; // else asking for one fails the test
    bool no_memory;   // the owner cannot take lines
    show_folder own;  // removed in the end, where there is one
} desk;

// 80 by 24. Fails the test when it cannot. The locale must be one of UTF-8.
void desk_begin(desk *d, const desk_options *options);
void desk_end(desk *d);
// The same on the heap, over FILES, which desk_destroy removes.
desk *desk_create(show_folder files, bool drill);
desk *desk_create_short(bool drill);                         // over the short show, whose B-01 burns 12 s
desk *desk_at_board(show_folder files, int key, bool drill); // past the first screen, on the board of KEY
void desk_destroy(desk *d);
// cmocka's setup and teardown: *state is a desk over the short show, past the first screen.
int desk_setup_short(void **state);
int desk_setup_short_drill(void **state);
int desk_setup_first(void **state); // at the first screen, and files may be asked for
int desk_teardown(void **state);

// Takes a new snapshot, and shows it to the screen.
void desk_look(desk *d);
void desk_size(desk *d, int columns, int rows);
void desk_advance(desk *d, sm_us span);
void desk_press(desk *d, int key);
void desk_type(desk *d, const char *keys); // '\n' is Enter
// By another hand, at once: LINE must be an action. desk_do: one that is at most refused.
sm_result desk_act(desk *d, const char *line, sm_source source);
void desk_do(desk *d, const char *line);
void desk_inject(desk *d, const char *line);
// To ARMED, from SAFE: by another hand; by keys, from the boards. It takes the arm-time; a second.
void desk_arm(desk *d);
void desk_arm_by_keys(desk *d);
// Lets boards finish what they do beside drawing; returns how many pieces it took.
int desk_work(desk *d);

// These draw first. The row that has TEXT in it, from 0, or -1; whether there is one.
int desk_find(desk *d, const char *text);
bool desk_shows(desk *d, const char *text);
// Whether TEXT stands anywhere, broken over rows or not: rows and runs of blanks are one blank.
bool desk_says(desk *d, const char *text);
// The text of row Y, until the next call.
const char *desk_row(desk *d, int y);
// Clicks on the first character of TEXT, which must be there.
void desk_click(desk *d, const char *text);
// Draws all; every row ends with a line feed. Appends to OUT.
void desk_picture(desk *d, sm_text *out);

#endif

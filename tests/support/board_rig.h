// SPDX-License-Identifier: GPL-3.0-or-later
// The console without its terminal and threads, over the engine and a show folder, with time at a stand: for tests of boards.
#ifndef SLOWMATCH_TESTS_BOARD_RIG_H
#define SLOWMATCH_TESTS_BOARD_RIG_H

#include "console/ui.h"
#include "show_folder.h"

typedef struct board_rig {
    show_folder files;
    sm_show *show;
    sm_rehearsal *rehearsal;
    sm_snapshot *now;
    sm_findings *findings;
    sm_recent recent;
    sm_text noise;
    sm_audio_status sound;
    sm_day day;
    sm_wall_time wall;
    sm_ui ui;
    sm_cells *cells;
    char acted[256]; // the latest line
    int acts;
} board_rig;

// Over the show in FILES, which the rig removes in the end. On 80x24, past the first screen, on the board of KEY.
board_rig *board_rig_begin(show_folder files, int key);
// The same in a rehearsal that takes what a drill puts in the way.
board_rig *board_rig_begin_drill(show_folder files, int key);
void board_rig_inject(board_rig *r, const char *line);
void board_rig_end(board_rig *r);
void board_rig_size(board_rig *r, int columns, int rows);
// Characters as keys; a newline is Enter.
void board_rig_type(board_rig *r, const char *keys);
void board_rig_key(board_rig *r, int key);
// Does an action outside the console.
void board_rig_act(board_rig *r, const char *line);
// Lets SPAN of wall time go by.
void board_rig_advance(board_rig *r, sm_us span);
// To ARMED.
void board_rig_arm(board_rig *r);
// Lets boards finish what they do beside drawing; returns how many pieces it took.
int board_rig_work(board_rig *r);
// Draws; the row that has TEXT in it, from 0, or -1.
int board_rig_find(board_rig *r, const char *text);
bool board_rig_shows(board_rig *r, const char *text);
// Clicks on the first character of TEXT, which must be there.
void board_rig_click(board_rig *r, const char *text);
// Draws; the text of row Y, until the next call.
const char *board_rig_row(board_rig *r, int y);

#endif

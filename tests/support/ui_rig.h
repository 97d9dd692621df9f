// SPDX-License-Identifier: GPL-3.0-or-later
// The console without terminal and threads, over the engine and the short show, with time at a stand.
#ifndef SLOWMATCH_TESTS_UI_RIG_H
#define SLOWMATCH_TESTS_UI_RIG_H

#include "console/ui.h"
#include "short_show.h"

typedef struct ui_rig {
    short_show files;
    sm_show *show;
    sm_rehearsal *rehearsal;
    sm_snapshot *now;
    sm_findings *findings;
    sm_recent recent;
    sm_text noise;
    sm_audio_status sound;
    sm_day day; // launched at 21:00:00 UTC
    sm_drill_view drill;
    sm_wall_time wall;
    sm_ui ui;
    sm_cells *cells;
    char acted[256]; // the latest line
    int acts;
} ui_rig;

// cmocka's setup and teardown: *state is a ui_rig on 80x24, past the first screen. DRILL_BEGIN: actions of drills are allowed.
int ui_rig_begin(void **state);
int ui_rig_begin_drill(void **state);
int ui_rig_end(void **state);
void ui_rig_look(ui_rig *r);
void ui_rig_advance(ui_rig *r, sm_us span);
void ui_rig_size(ui_rig *r, int columns, int rows);
// Types KEYS; '\n' is Enter.
void ui_rig_press(ui_rig *r, const char *keys);
// Draws, and says whether TEXT stands in some row; whether it stands anywhere, broken over rows or not (rows and runs of
// blanks are one blank).
bool ui_rig_shows(ui_rig *r, const char *text);
bool ui_rig_says(ui_rig *r, const char *text);
// By another hand: ACTION at once, as if by a remote hand or an instructor.
sm_result ui_rig_act(ui_rig *r, const char *action, sm_source source);
// To ARMED, from the boards.
void ui_rig_arm(ui_rig *r);

#endif

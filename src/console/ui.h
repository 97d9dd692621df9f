// SPDX-License-Identifier: GPL-3.0-or-later
// The console without its terminal and its threads: what is on screen, and what a key does. Tests drive it directly.
#ifndef SLOWMATCH_CONSOLE_UI_H
#define SLOWMATCH_CONSOLE_UI_H

#include "boards/boards.h"
#include "boards/strip/strip.h"
#include "console/call_tones.h"
#include "console/choices.h"
#include "console/complete.h"
#include "console/hits.h"
#include "console/jumps.h"
#include "console/keymap.h"
#include "screen/prompt.h"
#include "screen/scroller.h"

#include "slowmatch/session.h"

// The smallest terminal on which the boards are shown.
#define SM_UI_COLUMNS 40
#define SM_UI_ROWS 12

typedef enum sm_ui_mode {
    SM_UI_FIRST, // the first screen, and its question
    SM_UI_BOARD,
    SM_UI_PROMPT,  // text is typed
    SM_UI_CONFIRM, // the second key of two is awaited
    SM_UI_INHIBIT, // which to hold back is awaited
    SM_UI_HELP
} sm_ui_mode;

typedef enum sm_ui_ask {
    SM_ASK_ARGUMENTS,
    SM_ASK_COMMAND,
    SM_ASK_READINGS,
    SM_ASK_BOARD,
    SM_ASK_CALLS,
    SM_ASK_DEVICE,
    SM_ASK_START_AT
} sm_ui_ask;

// What the second of two keys does.
typedef struct sm_confirm {
    sm_act act;
    char line[SM_LINE_BYTES];
    char says[1024];        // the question; "": that of sm_confirm_describe, as things stand
    sm_wall_time starts_at; // start-in: when; else us SM_UNSET_US
} sm_confirm;

typedef struct sm_ui {
    sm_view view; // set by the owner before each draw and press
    sm_ui_mode mode;
    size_t chosen;       // board
    size_t left;         // board to the left of those that stand beside it on a wide terminal
    sm_choices choices;  // the view's are these
    bool chose;          // they have changed: the owner keeps them and takes it back
    size_t before_after; // board to go back to when the show is armed again
    void *states[SM_BOARDS];
    sm_strip *strip;
    sm_prompt prompt;
    sm_ui_ask ask;
    sm_act asking;            // of SM_ASK_ARGUMENTS
    size_t asker;             // board of SM_ASK_BOARD
    sm_candidates candidates; // what is typed may go on with
    size_t cycle;             // which of them was put in by Tab, from 1; 0: none
    sm_history history;
    sm_confirm confirm;
    sm_scroller help;
    bool has_message;
    sm_outcome_note message;
    bool drill_begun; // the first screen was left once
    bool drill_ended; // the debrief was put before people
    sm_state state;   // at the latest look
    sm_us bell_at;    // wall time of the next tone while arming
    bool bell;        // a tone is due: the owner sounds it and takes it back
    bool arming_tone; // likewise, while arming
    sm_call_tones call_tones;
    sm_jumps jumps;
    bool too_small;         // as drawn last: no question can be shown, so only stops are taken
    bool repaint;           // the owner paints everything anew and takes it back
    sm_hits hits;           // of the latest drawing
    int cursor_x, cursor_y; // of the typed text, -1: none; set by drawing
    // What the owner does for it:
    void *owner;
    bool (*act)(void *owner, const char *line);
    bool (*answer)(void *owner, unsigned question, const char *text); // keeps an answer of the debrief
    void (*read_file)(void *owner, const char *path);
} sm_ui;

// VIEW must be set before. SM_NO_MEMORY: deinit it all the same.
SM_MUST_CHECK sm_result sm_ui_init(sm_ui *ui);
void sm_ui_deinit(sm_ui *ui);
// The choices have been set by the owner: begins with the board that they name.
void sm_ui_begin_as_chosen(sm_ui *ui);
// The boards beside another on a wide terminal, those offered now; returns how many.
size_t sm_ui_beside(const sm_ui *ui, size_t boards[SM_BESIDE]);
// The view has changed (a new snapshot): looks at what that means.
void sm_ui_look(sm_ui *ui);
// Another show: boards go back to their beginning.
void sm_ui_show_changed(sm_ui *ui);
// Does what KEY means. True: something on screen has changed.
bool sm_ui_press(sm_ui *ui, int key);
// Does what the mouse did (x and y of the whole grid): chooses boards, moves cursors, asks, makes safe; nothing that arms,
// starts, resumes or answers a question. True: something on screen has changed.
bool sm_ui_point(sm_ui *ui, sm_mouse mouse);
// Does a small piece of what boards have to do beside drawing, such as a search. True: there is more to do; when it turns
// false, something on screen may have changed.
bool sm_ui_work(sm_ui *ui);
// Draws everything anew.
void sm_ui_draw(sm_ui *ui, sm_cells *cells);

// ---- pieces, each in a file of its own --------------------------------------------------------

// ui.c, for the pieces: says TEXT in the message's row; does the action LINE.
void sm_ui_say(sm_ui *ui, sm_outcome_kind kind, const char *text);
void sm_ui_do(sm_ui *ui, const char *line);

// ui_ask.c. Asks for a line; for the arguments of ACT; looks anew at what is typed may go on with.
void sm_ui_ask_line(sm_ui *ui, sm_ui_ask ask, const char *label, const char *initial);
void sm_ui_ask_arguments(sm_ui *ui, sm_act act);
// Asks for a line that is the board ASKER's own.
void sm_ui_ask_board(sm_ui *ui, size_t asker, const char *label);
void sm_ui_ask_look(sm_ui *ui);
void sm_ui_press_prompt(sm_ui *ui, int key);
// Asks for the second key: LINE is done by it. SAYS as in sm_confirm.
void sm_ui_confirm(sm_ui *ui, sm_act act, const char *line, const char *says);
void sm_ui_confirm_key(sm_ui *ui, sm_act act);
void sm_ui_press_confirm(sm_ui *ui, int key);
// A start at a clock time: asks for it, or takes back the one that is set; what was typed.
void sm_ui_ask_start_at(sm_ui *ui);
void sm_ui_start_at_typed(sm_ui *ui);

// ui_inhibit.c. Asks which to hold back; the question; the key. ALLOW NAME is read back before it is done.
void sm_ui_ask_inhibit(sm_ui *ui);
void sm_inhibit_describe(const sm_view *view, sm_text *out);
void sm_ui_press_inhibit(sm_ui *ui, int key);
void sm_ui_read_back_allow(sm_ui *ui, const char *name);

// Does a row of the key table that is about sound or beats; false: it is not.
bool sm_ui_sound_row(sm_ui *ui, const sm_key_row *row);
// What was typed for SM_ASK_CALLS or SM_ASK_DEVICE. False: it cannot be so, and why was said.
bool sm_ui_sound_typed(sm_ui *ui, const char *text);
// Draws the devices that can be chosen, with their numbers.
void sm_devices_draw(const sm_view *view, sm_area area);

// foot.c. The last rows: AREA ends with the keys, above them the message or what is typed, growing upwards over the board.
void sm_foot_draw(sm_ui *ui, sm_area area);
// The rows at the foot of the screen AREA: the keys, and the message with all its rows while nothing is asked.
int sm_foot_rows(const sm_ui *ui, sm_area area);

// What the second of two keys will do, in words.
void sm_confirm_describe(const sm_view *view, sm_act act, sm_text *out);
// What a jump to MOMENT does as things stand, in words.
void sm_jump_describe(const sm_view *view, sm_show_time moment, sm_text *out);
// Which guards that ACT asks are NOT MET, and why.
void sm_confirm_add_unmet(const sm_snapshot *snapshot, sm_act act, sm_text *out);
// What would be started with and is easily forgotten.
void sm_confirm_add_standing(const sm_snapshot *snapshot, sm_text *out);
// Draws the first screen into AREA.
void sm_first_draw(sm_area area, bool asks);
// Draws help for BOARD, the brief of DRILL (NULL: none) before it; from row TOP on. Returns the rows it needs.
int sm_help_draw(const sm_board *board, const sm_drill_view *drill, sm_area area, int top);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// The console without its terminal and its threads: what is on screen, and what a key does. Tests drive it directly.
#ifndef SLOWMATCH_CONSOLE_UI_H
#define SLOWMATCH_CONSOLE_UI_H

#include "boards/boards.h"
#include "boards/strip/strip.h"
#include "console/choices.h"
#include "console/complete.h"
#include "console/folder_names.h"
#include "console/hits.h"
#include "console/jumps.h"
#include "console/keymap.h"
#include "screen/paste.h"
#include "screen/prompt.h"
#include "screen/scroller.h"

#include "slowmatch/session.h"
#include "slowmatch/taps.h"

// The smallest terminal on which the boards are shown.
#define SM_UI_COLUMNS 40
#define SM_UI_ROWS 12

typedef enum sm_ui_mode {
    SM_UI_FIRST, // the first screen, and its question
    SM_UI_BOARD,
    SM_UI_PROMPT,  // text is typed
    SM_UI_CONFIRM, // the second key of two is awaited
    SM_UI_INHIBIT, // which to hold back is awaited
    SM_UI_HELP,
    SM_UI_ALERTS, // what stands, and what to do
    SM_UI_TUNE,   // each key proposes another time for a cue
    SM_UI_APPLY,  // whether that is to be written
    SM_UI_MODES
} sm_ui_mode;

// What the second of two keys does.
typedef struct sm_confirm {
    sm_act act;
    char line[SM_LINE_BYTES];
    char says[1024];        // the question; "": that of sm_confirm_describe, as things stand
    sm_wall_time starts_at; // start-in: when; else us SM_UNSET_US
    sm_show_time jumps_to;  // seek
    bool said_refused;      // as it was drawn last: that it will be refused, and any key leaves it
} sm_confirm;

// The cue whose time is being put right.
typedef struct sm_tune {
    uint32_t cue;
    bool onwards;       // and all from there on
    sm_taps taps;       // show times
    sm_taps habit;      // how much later than a cue that stands right taps came
    sm_us accent_us;    // the accent of the music nearest to what was tapped; SM_UNSET_US: none
    bool accent_waits;  // it is being looked for
    const char *notice; // why the latest key did nothing, NULL: it did something; static
} sm_tune;

typedef struct sm_asked sm_asked; // modes/typing.h

// A line that was typed and given to the engine, which may know a reason to refuse it that nobody else does.
typedef struct sm_given {
    bool waits; // for that, as long as no key is pressed
    sm_act act;
    const char *begins; // the words of a refusal; static
    sm_prompt prompt;
    const sm_asked *asked;
    sm_act asking;
} sm_given;

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
    const sm_asked *asked;    // what the line that is typed is for
    sm_act asking;            // whose arguments it is, SM_ACT_COUNT: none
    size_t asker;             // the board that asked for it
    sm_completion completion; // what is typed may go on with
    sm_history history;
    sm_given given;
    sm_confirm confirm;
    sm_tune tune;
    sm_scroller help;     // of the help, and of the list of alerts
    size_t help_page;     // the board whose keys it shows first
    char help_sought[64]; // only rows with this; "": all
    sm_alerts alerts;     // the view's are these
    bool has_message;
    sm_outcome_note message;
    bool drill_begun; // the first screen was left once
    bool drill_ended; // the debrief was put before people
    sm_state state;   // at the latest look
    sm_us bell_at;    // wall time of the next tone while arming
    sm_us alert_at;   // wall time of the next tone of an alert that nobody has acknowledged
    bool bell;        // the terminal's bell is due: the owner sounds it and takes it back
    unsigned tones;   // likewise, 1 << sm_tone each
    sm_call_tones call_tones;
    sm_jumps jumps;
    bool too_small;         // as drawn last: no question can be shown, so only stops are taken
    bool repaint;           // the owner paints everything anew and takes it back
    sm_hits hits;           // of the latest drawing
    int cursor_x, cursor_y; // of the typed text, -1: none; set by drawing
    // What the owner does for it:
    void *owner;
    bool (*act)(void *owner, const char *line);
    // What was given is not in the view's snapshot yet; NULL: it always is.
    bool (*is_behind)(void *owner);
    bool (*answer)(void *owner, unsigned question, const char *text); // keeps an answer of the debrief
    void (*read_file)(void *owner, const char *path);
    // The names in FOLDER; NULL: not known, or not yet. May be NULL itself.
    const sm_folder_names *(*names_in)(void *owner, const char *folder);
    void (*want_tuning)(void *owner); // asks for the view's tuning words; NULL: nobody makes them
} sm_ui;

// VIEW must be set before. SM_NO_MEMORY: deinit it all the same.
SM_MUST_CHECK sm_result sm_ui_init(sm_ui *ui);
void sm_ui_deinit(sm_ui *ui);
// The choices have been set by the owner: begins with the board that they name.
void sm_ui_begin_as_chosen(sm_ui *ui);
// The view has changed (a new snapshot): looks at what that means.
void sm_ui_look(sm_ui *ui);
// Another show: boards go back to their beginning.
void sm_ui_show_changed(sm_ui *ui);
// Does what KEY means. True: something on screen has changed.
bool sm_ui_press(sm_ui *ui, int key);
// PASTE has ended: text where a line is typed, nothing anywhere else, and never a key.
void sm_ui_paste(sm_ui *ui, const sm_paste *paste);
// Ctrl-C: makes safe, leaves whatever is asked, and asks whether to leave. False: that is asked already, or could not be seen; the owner
// leaves.
SM_MUST_CHECK bool sm_ui_interrupt(sm_ui *ui);
// Does what the mouse did (x and y of the whole grid): chooses boards, moves cursors, asks, makes safe; nothing that arms,
// starts, resumes or answers a question. True: something on screen has changed.
bool sm_ui_point(sm_ui *ui, sm_mouse mouse);
// Does a small piece of what boards have to do beside drawing, such as a search. True: there is more to do; when it turns
// false, something on screen may have changed.
bool sm_ui_work(sm_ui *ui);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// What boards look at, and what they are. A board is one const table of callbacks; its state is private to its file.
// Handlers say what must happen next; they neither draw nor loop, and nothing in here waits.
#ifndef SLOWMATCH_BOARDS_VIEW_H
#define SLOWMATCH_BOARDS_VIEW_H

#include "screen/cells.h"
#include "screen/keys.h"

#include "slowmatch/audio.h"
#include "slowmatch/engine.h"
#include "slowmatch/session.h"
#include "slowmatch/time_of_day.h"
#include "slowmatch/walk.h"

#define SM_CALLS_BYTES 96

// Everything that is shown, for the time of one frame or one key.
typedef struct sm_view {
    const sm_snapshot *snapshot;
    const sm_show *show;
    const sm_day *day;
    const sm_recent *recent;
    const sm_findings *findings; // of the show as loaded last, never NULL
    bool checked;                // the rules have been run over it
    const sm_text *noise;        // what libraries wrote to descriptor 2
    sm_audio *audio;             // NULL where there is none (tests)
    const sm_audio_status *sound;
    const char *rig;            // what is wrong with the rig as a whole, "" for nothing said
    bool tones;                 // somebody answered that no live product is within earshot
    char calls[SM_CALLS_BYTES]; // call tones for this: a target or "pyro"; "" for none
    bool ticks;                 // a tick at each cue
    bool silent;                // no sound device is to be opened
    const char *timecode_side;  // "left", "right": where linear timecode goes out; NULL for nowhere
    const sm_walk *walk;        // as it stands; NULL where there is none
    const sm_drill_view *drill; // NULL: no drill
    const sm_debrief *debrief;  // of a drill that is over; NULL: none yet
} sm_view;

// What must happen after a key, as bits.
enum sm_next {
    SM_NEXT_NOTHING = 0,
    SM_NEXT_UNUSED = 1, // the key means nothing here: it is looked up in the key table
    SM_NEXT_REDRAW = 2,
    SM_NEXT_ACT = 4,     // do `line`
    SM_NEXT_PROMPT = 8,  // ask on: `line` is what the command line begins with
    SM_NEXT_CUE = 16,    // show `cue` on the score
    SM_NEXT_ANSWER = 64, // keep what was typed as the answer to `question` of the debrief
    SM_NEXT_ASK = 32 // ask for a line of text that is the board's own: `line` says what for; `answer` gets it
};

typedef struct sm_request {
    char line[256];
    uint32_t cue;
    unsigned question;
    unsigned next; // after an answer that was taken: SM_NEXT_ANSWER, SM_NEXT_ASK
} sm_request;

// A key of a board's own, for the help screen.
typedef struct sm_board_key {
    const char *keys; // "Up Down"
    const char *help;
} sm_board_key;

typedef struct sm_board {
    const char *name; // one word
    int key;          // chooses it
    bool drill_only;  // of no use without a drill: among the others only in one
    const char *about;
    const sm_board_key *keys; // key_count of them
    size_t key_count;
    size_t
        state_size; // of its private state; zeroed at first, and when SHOW_CHANGED is NULL and the show changes (forgotten first)
    void (*draw)(void *state, const sm_view *view, sm_area area, bool focused);
    unsigned (*press)(void *state, const sm_view *view, int key,
                      sm_request *request); // NULL: no keys of its own
    // The mouse; x and y count from the area as drawn last. It only looks, moves cursors and asks: SM_NEXT_ACT is not
    // obeyed. NULL: the wheel is Up or Down three times, a click chooses the board and no more.
    unsigned (*point)(void *state, const sm_view *view, sm_mouse mouse, sm_request *request);
    void (*resize)(void *state, int columns, int rows);     // NULL: nothing to do
    void (*show_changed)(void *state, const sm_view *view); // names kept, numbers may not be
    // Takes the text that SM_NEXT_ASK asked for. False: `line` says why not, and it can be mended where it was typed.
    bool (*answer)(void *state, const sm_view *view, const char *text, sm_request *request);
    // Does a small piece (well under a frame) of what takes longer. True: there is more to do.
    bool (*work)(void *state, const sm_view *view); // NULL: nothing ever does
    void (*forget)(void *state);                    // frees what the state holds; NULL: it holds nothing
    // What an argument asked for in a prompt is likely to be ("A-05"), NULL or "" for nothing.
    void (*suggest)(void *state, const sm_view *view, sm_argument argument, sm_text *out);
} sm_board;

extern const sm_board sm_board_score, sm_board_rails, sm_board_fixtures, sm_board_guards, sm_board_after,
    sm_board_notes, sm_board_log, sm_board_ground, sm_board_debrief, sm_board_walk;

#define SM_BOARDS 10
// The boards in the order of their keys.
const sm_board *sm_board_at(size_t index);
// It stands among the others, and Tab comes by it.
bool sm_board_is_offered(const sm_board *board, const sm_view *view);

// ---- what several boards need ------------------------------------------------------------

// Puts CUE before people on the score (STATE is the score's).
void sm_score_show_cue(void *state, const sm_view *view, uint32_t cue);

// FLAME fixture's enable is open, its flame burns, as the levels stand.
typedef struct sm_flame_view {
    bool is_flame, enabled, lit;
    bool told; // to burn; what burns although it is not, or does not although it is, has a fault or no feed
    uint8_t level; // of the fire channel
} sm_flame_view;
sm_flame_view sm_flame_look(const sm_snapshot *snapshot, uint32_t fixture);

// Append in words what stands of a drill's making and can be seen or heard: all of it; what the drill's first row does not say anyway;
// and of what is wrong at RAIL ("FIRE HERE, 2 TIPPED OVER"). False: nothing.
bool sm_sights_standing(const sm_snapshot *snapshot, sm_text *out);
bool sm_sights_older(const sm_snapshot *snapshot, sm_text *out);
bool sm_rail_trouble(const sm_snapshot *snapshot, uint32_t rail, sm_text *out);

// Whether the row over the boards that tells the latest call has room for the whole of it on a screen of COLUMNS.
bool sm_call_fits(const sm_snapshot *snapshot, int columns);

// "calls pyro, tick at each cue, timecode right": what is on beside the music; appends nothing for nothing.
void sm_tones_describe(const sm_view *view, sm_text *out);

// "waiting", "burning", ... a word for people about a slot's phase.
const char *sm_phase_word(sm_slot_phase phase);

// What a board that only scrolls keeps: the first row in sight, the rows there are, the rows it needs.
typedef struct sm_scroller {
    int top, rows, needed;
} sm_scroller;
// After drawing from row -top on: Y is the row behind the last. Comes back when there is less than there was.
void sm_scroller_drawn(sm_scroller *scroller, int y, int rows);
// The same, and where rows are left below, the last row of AREA says how many.
void sm_scroller_drawn_in(sm_scroller *scroller, int y, sm_area area);
// Arrows and pages. SM_NEXT_UNUSED for any other key.
unsigned sm_scroller_press(sm_scroller *scroller, int key);

// Keeps TOP so that ROW of COUNT rows is visible in ROOM rows.
int sm_scroll_to(int top, int row, int count, int room);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// What boards look at, and what they are. A board is one const table of callbacks; its state is private to its file.
// Handlers say what must happen next; they neither draw nor loop, and nothing in here waits.
#ifndef SLOWMATCH_BOARDS_VIEW_H
#define SLOWMATCH_BOARDS_VIEW_H

#include "boards/looks.h"
#include "screen/keys.h"

#include "slowmatch/alerts.h"
#include "slowmatch/audio.h"
#include "slowmatch/call_tones.h"
#include "slowmatch/engine.h"
#include "slowmatch/session.h"
#include "slowmatch/time_of_day.h"
#include "slowmatch/walk.h"

// Everything that is shown, for the time of one frame or one key.
typedef struct sm_view {
    const sm_snapshot *snapshot;
    const sm_show *show;
    const sm_time_of_day *time_of_day;
    const char *
        following; // what stands beside REHEARSAL where it is told elsewhere: "FOLLOWING"; NULL: it is our own
    const char *seat;           // at which they follow, and may call hold; NULL: none, or it is another's
    const char *told_run;       // what is followed, and whether its console has ended; NULL: it is our own
    bool told_ended;            // its console said that it ended
    bool seat_refused;          // the seat that was asked for
    bool seat_asked;            // nobody has said yet whose it is: a hold may not arrive
    bool seat_drills;           // a drill is taken: the seat may do what is its part
    bool told_drills;           // a drill is taken where it is told from, whose steps are not told
    const char *told;           // the latest thing that whoever sits there is to know or to say; NULL: none
    const sm_seats_view *seats; // who sits elsewhere; NULL: no seat was granted
    bool age_not_proven;        // of what is told
    const sm_recent *recent;
    const sm_findings *findings; // of the show as loaded last, never NULL
    bool checked;                // the rules have been run over it
    const sm_text *stray_output; // what libraries wrote to descriptor 2
    const char *rig_explanation; // what is wrong with the rig as a whole, "" for nothing said
    const uint32_t *swapped;     // the two rails that it says are exchanged, SM_NONE: none; NULL: not known
    const sm_walk *walk;         // as it stands; NULL where there is none
    const char
        *tuning_words; // what the proposals would change in cues.csv, in lines; "" or NULL while nobody knows
    const char *paper_words; // the sheets of paper and their words, a line each; "" while they are being made
    const sm_drill_view *drill; // NULL: no drill
    const sm_debrief *debrief;  // of a drill that is over; NULL: none yet
    const sm_alerts *alerts;    // what must not be missed, never NULL
    const char *show_changed;   // a file of the show that is other than when it was read, NULL: none
    sm_lights_view lights;      // on a wire
    const char *not_kept;       // why the logbook keeps nothing, NULL: it keeps, or need not
    bool offset_measured;       // somebody has measured how late the device is heard
    bool as_lines;              // told in lines (--lines): where a key is meant, a line is
    bool (*key_of)(sm_act act, char name[16]); // the key that does ACT; NULL: keys are told nowhere
    // What is heard:
    sm_session *session; // asked for its sound and its clock alone; NULL where there is none (tests)
    const sm_audio_status *sound;
    bool silent;                // no sound device is to be opened
    bool tones;                 // somebody answered that no live product is within earshot
    char calls[SM_CALLS_BYTES]; // call tones for this: a target or "pyro"; "" for none
    bool ticks;                 // a tick at each cue
    const char *timecode_side;  // "left", "right": where linear timecode goes out; NULL for nowhere
} sm_view;

// What must happen after a key, as bits.
enum sm_next {
    SM_NEXT_NOTHING = 0,
    SM_NEXT_UNUSED = 1, // the key means nothing here: it is looked up in the key table
    SM_NEXT_REDRAW = 2,
    SM_NEXT_ACT = 4,     // do `line`
    SM_NEXT_PROMPT = 8,  // ask on: `line` is what the command line begins with
    SM_NEXT_CUE = 16,    // show `cue` on the board that shows cues
    SM_NEXT_ASK = 32,    // ask for a line of text of the board's own: `line` says what for; `answer` gets it
    SM_NEXT_SAY = 128,   // say `line`: what was typed stays to be mended
    SM_NEXT_ANSWER = 64, // keep what was typed as the answer to `question` of the debrief
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

// NULL for a callback: the board has nothing to do then.
typedef struct sm_board {
    const char *name; // one word
    int key;          // chooses it
    bool drill_only;  // of no use without a drill: among the others only in one
    const char *about;
    const sm_board_key *keys; // key_count of them
    size_t key_count;
    size_t state_size; // of its private state, zeroed at first
    void (*draw)(void *state, const sm_view *view, sm_area area, bool focused); // never NULL
    unsigned (*press)(void *state, const sm_view *view, int key, sm_request *request);
    // The mouse; x and y count from the area as drawn last. It only looks, moves cursors and asks: SM_NEXT_ACT is not
    // obeyed. NULL: the wheel is Up or Down three times, a click chooses the board and no more.
    unsigned (*point)(void *state, const sm_view *view, sm_mouse mouse, sm_request *request);
    // Another show: names are kept, numbers may not be. NULL: the state is forgotten and zeroed.
    void (*show_changed)(void *state, const sm_view *view);
    // Takes the text that SM_NEXT_ASK asked for. False: `line` says why not, and it can be mended where it was typed.
    bool (*answer)(void *state, const sm_view *view, const char *text, sm_request *request);
    // Puts CUE before people. Only one board has it.
    void (*show_cue)(void *state, const sm_view *view, uint32_t cue);
    // Does a small piece (well under a frame) of what takes longer. True: there is more to do.
    bool (*work)(void *state, const sm_view *view);
    void (*forget)(void *state); // frees what the state holds
    // What an argument asked for in a prompt is likely to be ("A-05"), NULL or "" for nothing.
    void (*suggest)(void *state, const sm_view *view, sm_argument argument, sm_text *out);
} sm_board;

extern const sm_board sm_board_score, sm_board_rails, sm_board_fixtures, sm_board_guards, sm_board_after,
    sm_board_notes, sm_board_log, sm_board_ground, sm_board_debrief, sm_board_walk;

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// One line of text, as it is typed; what it may go on with, and the lines typed before.
#ifndef SLOWMATCH_SCREEN_PROMPT_H
#define SLOWMATCH_SCREEN_PROMPT_H

#include "screen/cells.h"
#include "screen/keys.h"

#define SM_PROMPT_BYTES 256

typedef struct sm_prompt {
    char label[96]; // what is asked for
    char text[SM_PROMPT_BYTES];
    size_t length, cursor; // in bytes; the cursor is at a character's beginning
    // What is likely meant. Only shown, dim, where what is typed begins it; no part of the text until it is taken.
    char offer[SM_PROMPT_BYTES];
} sm_prompt;

typedef enum sm_prompt_word { SM_PROMPT_GOES_ON, SM_PROMPT_DONE, SM_PROMPT_LEFT } sm_prompt_word;

// Begins anew, with INITIAL already typed.
void sm_prompt_begin(sm_prompt *prompt, const char *label, const char *initial);
// Offers TEXT, "" for nothing.
void sm_prompt_offer(sm_prompt *prompt, const char *text);
// The offer goes on from what is typed.
bool sm_prompt_offers(const sm_prompt *prompt);
// Where it does, it becomes the text. False: it does not.
bool sm_prompt_take(sm_prompt *prompt);
// TEXT in place of the bytes from FROM up to the cursor; false: no room, nothing changed.
bool sm_prompt_replace(sm_prompt *prompt, size_t from, const char *text);
// COUNT characters put in at the cursor as text, all or none; false: no room.
bool sm_prompt_put(sm_prompt *prompt, const int *characters, size_t count);
sm_prompt_word sm_prompt_press(sm_prompt *prompt, int key);
// Draws it in the first row of AREA; *cursor_x gets the column of the cursor.
void sm_prompt_draw(const sm_prompt *prompt, sm_area area, int *cursor_x);

// ---- what a word may go on with -----------------------------------------------------------

#define SM_CANDIDATES 64
#define SM_CANDIDATE_BYTES 48

// What the candidates are comes from whoever asks for the line.
typedef struct sm_candidates {
    size_t start;                                  // in bytes: where the word to complete begins
    size_t count;                                  // all that fit
    size_t kept;                                   // of them in `names`, as they were put in
    char names[SM_CANDIDATES][SM_CANDIDATE_BYTES]; // in place of the line from `start` on
    char common[SM_CANDIDATE_BYTES];               // what they all begin with
    size_t chosen;                                 // of `names`, by Tab, from 1; 0: none yet
} sm_candidates;

// Puts NAME in where it begins with the LENGTH bytes of WORD, which is what is typed.
void sm_candidates_put(sm_candidates *to, const char *word, size_t length, const char *name);

typedef enum sm_completed {
    SM_COMPLETED_NOTHING,
    SM_COMPLETED_PART,  // as far as all candidates agree
    SM_COMPLETED_WHOLE, // there was only one
    SM_COMPLETED_STEP   // one of several, in turn; another Tab puts in the next
} sm_completed;

// A Tab, FORWARD or back: completes the word before the cursor.
sm_completed sm_prompt_complete(sm_prompt *prompt, sm_candidates *all, bool forward);

// ---- lines typed before ---------------------------------------------------------------------

#define SM_HISTORY 64

// The lines typed before, oldest forgotten first. {0} is a valid empty one.
typedef struct sm_history {
    char lines[SM_HISTORY][SM_PROMPT_BYTES];
    size_t count;                // ever kept
    size_t back;                 // how far back one looks, 0: at what is being typed
    char typed[SM_PROMPT_BYTES]; // it, while one looks back
} sm_history;
// Keeps LINE, unless it is the latest one already, and looks at nothing before.
void sm_history_keep(sm_history *history, const char *line);
// The line that is BY steps further back than the one shown (negative: forward); NULL: there is none. TYPED, what is typed
// now, is kept to come back to.
const char *sm_history_look(sm_history *history, int by, const char *typed);

#endif

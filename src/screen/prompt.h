// SPDX-License-Identifier: GPL-3.0-or-later
// One line of text, as it is typed.
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
// The offer goes on from what is typed: it becomes the text. False: it does not.
bool sm_prompt_take(sm_prompt *prompt);
// TEXT in place of the bytes from FROM up to the cursor; false: no room, nothing changed.
bool sm_prompt_replace(sm_prompt *prompt, size_t from, const char *text);
sm_prompt_word sm_prompt_press(sm_prompt *prompt, int key);
// Draws it in the first row of AREA; *cursor_x gets the column of the cursor.
void sm_prompt_draw(const sm_prompt *prompt, sm_area area, int *cursor_x);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// One line of text, as it is typed.
#ifndef SLOWMATCH_CONSOLE_PROMPT_H
#define SLOWMATCH_CONSOLE_PROMPT_H

#include "console/cells.h"
#include "console/keys.h"

#define SM_PROMPT_BYTES 256

typedef struct sm_prompt {
    char label[96]; // what is asked for
    char text[SM_PROMPT_BYTES];
    size_t length, cursor; // in bytes; the cursor is at a character's beginning
} sm_prompt;

typedef enum sm_prompt_word { SM_PROMPT_GOES_ON, SM_PROMPT_DONE, SM_PROMPT_LEFT } sm_prompt_word;

// Begins anew, with INITIAL already typed.
void sm_prompt_begin(sm_prompt *prompt, const char *label, const char *initial);
sm_prompt_word sm_prompt_press(sm_prompt *prompt, int key);
// Draws it in the first row of AREA; *cursor_x gets the column of the cursor.
void sm_prompt_draw(const sm_prompt *prompt, sm_area area, int *cursor_x);

#endif

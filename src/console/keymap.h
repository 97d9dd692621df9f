// SPDX-License-Identifier: GPL-3.0-or-later
// The key table: which key does what, everywhere. The key line, the prompts and the help screen are made from it and from
// the action table.
#ifndef SLOWMATCH_CONSOLE_KEYMAP_H
#define SLOWMATCH_CONSOLE_KEYMAP_H

#include "screen/keys.h"

#include "slowmatch/engine.h"

typedef enum sm_key_how {
    SM_HOW_ACT,      // done at once, without arguments
    SM_HOW_KEY,      // the key switch: on when it is off, off when it is on
    SM_HOW_CONFIRM,  // asks for a second, different key
    SM_HOW_ASK,      // asks for the arguments
    SM_HOW_INHIBIT,  // asks with one more key what to hold back
    SM_HOW_START_AT, // asks for a clock time
    SM_HOW_TUNE,     // keys that propose times for a cue
    SM_HOW_LISTEN,   // hears the chosen cue where it is proposed to be, or no more
    SM_HOW_APPLY,    // shows what would be written, and asks
    SM_HOW_FASTER,
    SM_HOW_SLOWER,
    SM_HOW_LOUDER,
    SM_HOW_SOFTER,
    SM_HOW_SECOND_BACK, // seeks: see jumps.h
    SM_HOW_SECOND_ON,
    SM_HOW_CUE_BACK,
    SM_HOW_CUE_ON,
    SM_HOW_BEAT_BACK,
    SM_HOW_BEAT_ON,
    SM_HOW_BEAT, // marks a beat
    // The console's own:
    SM_HOW_COMMAND,  // the command line
    SM_HOW_READINGS, // asks for a file of readings
    SM_HOW_TONES,    // asks the question about tones again
    SM_HOW_CALLS,    // asks what call tones are for
    SM_HOW_TICKS,    // a tick at each cue, or none
    SM_HOW_LIGHTS,   // asks for lights on a wire, and answers
    SM_HOW_DEVICE,   // asks for a sound device
    SM_HOW_STRIP_CLOSER,
    SM_HOW_STRIP_WIDER,
    SM_HOW_BIG, // big figures in place of the boards, and back
    SM_HOW_HELP,
    SM_HOW_ALERTS, // lists what stands, and what to do
    SM_HOW_NEXT_BOARD,
    SM_HOW_PREVIOUS_BOARD,
    SM_HOW_COLOURS, // the next palette
    SM_HOW_BESIDE,  // keeps the board beside others, or gives it back its place
    SM_HOW_REDRAW,
    SM_HOWS
} sm_key_how;

typedef struct sm_key_row {
    int key;
    sm_key_how how;
    sm_act act;       // SM_ACT_COUNT: not an action of the table
    const char *hint; // a word for the key line, NULL: not on it
    const char *help; // where the action's own help does not say it
} sm_key_row;

// All rows, in the order of the help screen.
const sm_key_row *sm_keymap(size_t *count);
// The name of the key that does ACT. False: none does.
bool sm_keymap_key_of(sm_act act, char name[16]);
// Row of KEY; NULL.
const sm_key_row *sm_keymap_find(int key);

#endif

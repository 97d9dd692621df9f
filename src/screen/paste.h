// SPDX-License-Identifier: GPL-3.0-or-later
// Text that is pasted, told from keys by the marks that terminals put around it (xterm's control sequences, bracketed paste: mode 2004,
// ESC [ 200 ~ before and ESC [ 201 ~ behind). Nothing in it is a key.
#ifndef SLOWMATCH_SCREEN_PASTE_H
#define SLOWMATCH_SCREEN_PASTE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define SM_PASTE_MOST 256 // characters; a line that is typed has room for no more

// {0}: none is under way. The owner: the terminal.
typedef struct sm_paste {
    bool under_way;
    bool late;         // its end stays away: keys may have been typed since
    int64_t latest_us; // of its latest character
    size_t matched;    // characters of the mark at its end
    bool gap;          // a line end or tab, which becomes a blank where more follows
    bool spoilt;       // some of it has no room, or came after such a pause that keys may be among it
    size_t count;
    int text[SM_PASTE_MOST]; // characters, no control characters among them
} sm_paste;

// The mark before it has come at NOW.
void sm_paste_begin(sm_paste *paste, int64_t now_us);
// KEY (a character, or what a key of the keyboard is) has come. SM_KEY_NONE: it goes on. SM_KEY_PASTED: it has ended. SM_KEY_PASTING:
// its end stays away, and a key that does nothing was typed. Else a key that stops: these, and Esc twice, which ends it, are taken again
// once its end has stayed away for a second.
int sm_paste_take(sm_paste *paste, int key, int64_t now_us);

#endif

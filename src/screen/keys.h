// SPDX-License-Identifier: GPL-3.0-or-later
// Keys: a Unicode character, or one of these.
#ifndef SLOWMATCH_SCREEN_KEYS_H
#define SLOWMATCH_SCREEN_KEYS_H

enum sm_key {
    SM_KEY_NONE = -1,
    SM_KEY_TAB = '\t',
    SM_KEY_ENTER = '\r',
    SM_KEY_ESCAPE = 0x1B,
    SM_KEY_REDRAW = 0x0C,    // Ctrl-L
    SM_KEY_INTERRUPT = 0x03, // Ctrl-C
    SM_KEY_QUIT = 0x1C,      // Ctrl-\ on most keyboards
    SM_KEY_SUSPEND = 0x1A,   // Ctrl-Z
    SM_KEY_ERASE_LINE = 0x15,
    SM_KEY_SPECIAL = 0x110000, // above all characters
    SM_KEY_BACKSPACE,
    SM_KEY_DELETE,
    SM_KEY_LEFT,
    SM_KEY_RIGHT,
    SM_KEY_UP,
    SM_KEY_DOWN,
    SM_KEY_HOME,
    SM_KEY_END,
    SM_KEY_PAGE_UP,
    SM_KEY_PAGE_DOWN,
    SM_KEY_BACK_TAB,
    SM_KEY_F0, // F1 is SM_KEY_F0 + 1
    SM_KEY_F12 = SM_KEY_F0 + 12,
    SM_KEY_MOUSE,  // sm_terminal_mouse says what it did
    SM_KEY_GROUND, // no key: the terminal has said whether it is dark or light, see sm_terminal_ground
    SM_KEY_PASTED, // no key: text was pasted, see sm_terminal_pasted
    SM_KEY_PASTING // a key that came in a paste whose end stays away
};

// What the mouse did, and where: columns and rows from the upper left corner of what it is told to.
typedef struct sm_mouse {
    int x, y;
    enum { SM_MOUSE_CLICK, SM_MOUSE_WHEEL_UP, SM_MOUSE_WHEEL_DOWN } what;
} sm_mouse;

// "SPACE", "F8", "Ctrl-L", "a". Returns BUFFER.
char *sm_key_name(int key, char buffer[16]);

// The keys that stop: the first wherever no text is typed, the second also there. No escape sequence swallows them.
#define SM_KEY_STOP ' '
#define SM_KEY_STOP_TYPING (SM_KEY_F0 + 8)

#endif

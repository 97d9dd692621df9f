// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/keys.h"

#include <stdio.h>

char *sm_key_name(int key, char buffer[16]) {
    static const struct {
        int key;
        const char *name;
    } names[] = {
        {' ', "SPACE"},
        {SM_KEY_TAB, "Tab"},
        {SM_KEY_BACK_TAB, "Shift-Tab"},
        {SM_KEY_ENTER, "Enter"},
        {SM_KEY_ESCAPE, "Esc"},
        {SM_KEY_UP, "Up"},
        {SM_KEY_DOWN, "Down"},
        {SM_KEY_LEFT, "Left"},
        {SM_KEY_RIGHT, "Right"},
        {SM_KEY_HOME, "Home"},
        {SM_KEY_END, "End"},
        {SM_KEY_PAGE_UP, "PageUp"},
        {SM_KEY_PAGE_DOWN, "PageDown"},
    };
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        if (names[i].key == key) {
            snprintf(buffer, 16, "%s", names[i].name);
            return buffer;
        }
    }
    if (key > SM_KEY_F0 && key <= SM_KEY_F12)
        snprintf(buffer, 16, "F%d", key - SM_KEY_F0);
    else if (key >= 0 && key < 0x20)
        snprintf(buffer, 16, "Ctrl-%c", key + '@');
    else if (key >= 0 && key < 0x7F)
        snprintf(buffer, 16, "%c", key);
    else
        snprintf(buffer, 16, "key %d", key);
    return buffer;
}

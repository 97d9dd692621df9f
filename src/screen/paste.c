// SPDX-License-Identifier: GPL-3.0-or-later
#include "screen/paste.h"

#include "screen/keys.h"

#include "slowmatch/base.h"

// A paste comes in one go. After such a pause its end is no longer counted on: a stop key must not be lost in it. Ours, no source.
#define LATE_US SM_US_PER_S

static const int end_mark[] = {SM_KEY_ESCAPE, '[', '2', '0', '1', '~'};
#define END_MARK (sizeof end_mark / sizeof end_mark[0])

void sm_paste_begin(sm_paste *paste, int64_t now_us) {
    *paste = (sm_paste){.under_way = true, .latest_us = now_us};
}

static bool is_control(int key) {
    return key < 0x20 || (key >= 0x7F && key < 0xA0) || key >= SM_KEY_SPECIAL;
}

static void put(sm_paste *paste, int key) {
    if (paste->count < SM_PASTE_MOST)
        paste->text[paste->count++] = key;
    else
        paste->spoilt = true;
}

static void take_text(sm_paste *paste, int key) {
    if (key == SM_KEY_ENTER || key == '\n' || key == SM_KEY_TAB) {
        paste->gap = paste->count > 0;
    } else if (!is_control(key)) {
        if (paste->gap)
            put(paste, ' ');
        paste->gap = false;
        put(paste, key);
    }
}

static bool stops(int key) {
    return key == SM_KEY_STOP || key == SM_KEY_STOP_TYPING || key == SM_KEY_INTERRUPT || key == SM_KEY_QUIT ||
           key == SM_KEY_SUSPEND;
}

// What is no part of the mark after all is text.
static void give_up_mark(sm_paste *paste) {
    for (size_t i = 1; i < paste->matched; i++)
        take_text(paste, end_mark[i]);
    paste->matched = 0;
}

int sm_paste_take(sm_paste *paste, int key, int64_t now_us) {
    paste->late |= now_us - paste->latest_us > LATE_US;
    paste->latest_us = now_us;
    if (key == SM_KEY_PASTED || (key == end_mark[paste->matched] && paste->matched + 1 == END_MARK)) {
        paste->under_way = false;
        return SM_KEY_PASTED;
    }
    if (key == end_mark[paste->matched]) {
        paste->matched++;
        return SM_KEY_NONE;
    }
    bool escapes = key == SM_KEY_ESCAPE && paste->matched == 1;
    give_up_mark(paste);
    paste->matched = key == SM_KEY_ESCAPE;
    if (!paste->late) {
        take_text(paste, key);
        return SM_KEY_NONE;
    }
    if (stops(key))
        return key;
    paste->spoilt |= key != SM_KEY_ESCAPE;
    paste->under_way = !escapes;
    return SM_KEY_PASTING;
}

// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/keymap.h"

#include <stdio.h>

static const sm_key_row rows[] = {
    {SM_KEY_STOP, SM_HOW_ACT, SM_ACT_SAFE, NULL, NULL},
    {SM_KEY_STOP_TYPING, SM_HOW_ACT, SM_ACT_SAFE, NULL, "make safe, also while text is typed"},
    {'c', SM_HOW_ASK, SM_ACT_CALL_CLEAR, "clear", NULL},
    {'p', SM_HOW_ACT, SM_ACT_PAUSE, "pause", NULL},
    {'r', SM_HOW_CONFIRM, SM_ACT_RESUME, "resume", NULL},
    {'h', SM_HOW_ASK, SM_ACT_HOLD, NULL, NULL},
    {'g', SM_HOW_ASK, SM_ACT_LIFT, NULL, NULL},
    {'k', SM_HOW_KEY, SM_ACT_COUNT, "key", "turn the key switch: on, or off (which makes safe)"},
    {'a', SM_HOW_CONFIRM, SM_ACT_ARM, "arm", NULL},
    {'b', SM_HOW_CONFIRM, SM_ACT_START, "start", NULL},
    {'S', SM_HOW_START_AT, SM_ACT_START_IN, NULL, "start by itself at a clock time; again: no more"},
    {'!', SM_HOW_ALERTS, SM_ACT_COUNT, "alerts",
     "what stands that must not be missed: since when, what to do"},
    {'j', SM_HOW_ASK, SM_ACT_SEEK, "jump", NULL},
    {'<', SM_HOW_SECOND_BACK, SM_ACT_COUNT, NULL, "jump a second back"},
    {'>', SM_HOW_SECOND_ON, SM_ACT_COUNT, NULL, "jump a second on"},
    {'(', SM_HOW_CUE_BACK, SM_ACT_COUNT, NULL, "jump to where the module acts on the cue before"},
    {')', SM_HOW_CUE_ON, SM_ACT_COUNT, NULL, "jump to where the module acts on the next cue"},
    {'B', SM_HOW_BEAT, SM_ACT_COUNT, NULL, "tap a beat: marks this moment as beat-1, beat-2 ..."},
    {'{', SM_HOW_BEAT_BACK, SM_ACT_COUNT, NULL, "jump to the beat before"},
    {'}', SM_HOW_BEAT_ON, SM_ACT_COUNT, NULL, "jump to the next beat"},
    {'.', SM_HOW_FASTER, SM_ACT_COUNT, NULL, "faster, a step"},
    {',', SM_HOW_SLOWER, SM_ACT_COUNT, NULL, "slower, a step"},
    {'z', SM_HOW_ASK, SM_ACT_SPEED, NULL, NULL},
    {'[', SM_HOW_ASK, SM_ACT_REPEAT, NULL, NULL},
    {']', SM_HOW_ACT, SM_ACT_REPEAT_OFF, NULL, NULL},
    {'\'', SM_HOW_ASK, SM_ACT_MARK, NULL, NULL},
    {'R', SM_HOW_CONFIRM, SM_ACT_RERIG, "re-rig", NULL},
    {'e', SM_HOW_ASK, SM_ACT_ENTER, NULL, NULL},
    {'l', SM_HOW_ASK, SM_ACT_LEAVE, NULL, NULL},
    {'P', SM_HOW_ASK, SM_ACT_PLUG, NULL, NULL},
    {'U', SM_HOW_ASK, SM_ACT_UNPLUG, NULL, NULL},
    {'E', SM_HOW_ASK, SM_ACT_EXCHANGE, NULL, NULL},
    {'F', SM_HOW_ASK, SM_ACT_REPAIR, NULL, NULL},
    {'M', SM_HOW_ASK, SM_ACT_MEASURE, NULL, NULL},
    {'d', SM_HOW_ASK, SM_ACT_READ, NULL, NULL},
    {'J', SM_HOW_ASK, SM_ACT_KEEP_READINGS, NULL, NULL},
    {'f', SM_HOW_READINGS, SM_ACT_COUNT, NULL, "take readings from a file"},
    {'x', SM_HOW_ASK, SM_ACT_REPORT, "report", NULL},
    {'I', SM_HOW_INHIBIT, SM_ACT_INHIBIT, "inhibit",
     "hold back all of a kind, by one more key: aerials, flames ..."},
    {'i', SM_HOW_ASK, SM_ACT_INHIBIT, NULL, NULL},
    {'A', SM_HOW_ASK, SM_ACT_ALLOW, NULL, NULL},
    {'w', SM_HOW_ASK, SM_ACT_WIND, NULL, NULL},
    {'W', SM_HOW_ASK, SM_ACT_WAIVE, NULL, NULL},
    {'t', SM_HOW_ASK, SM_ACT_TICK, NULL, NULL},
    {'G', SM_HOW_ASK, SM_ACT_SIGN, NULL, NULL},
    {'H', SM_HOW_ACT, SM_ACT_HINT, "hint", NULL},
    {'y', SM_HOW_ASK, SM_ACT_ANSWER, "answer", NULL},
    {'Q', SM_HOW_ASK, SM_ACT_ASK, "ask", NULL},
    {'Y', SM_HOW_ACT, SM_ACT_PASS_TIME, NULL, NULL},
    {'n', SM_HOW_ASK, SM_ACT_NOTE, NULL, NULL},
    {'N', SM_HOW_ASK, SM_ACT_PAPER, NULL, NULL},
    {'&', SM_HOW_ASK, SM_ACT_SEAT, NULL, NULL},
    {'*', SM_HOW_TUNE, SM_ACT_PROPOSE, NULL, "put the time of a cue right, by keys or by tapping along"},
    {'"', SM_HOW_LISTEN, SM_ACT_LISTEN, NULL,
     "hear the music round the chosen cue, where it is proposed to be, round and round; again: no more"},
    {'@', SM_HOW_APPLY, SM_ACT_APPLY, NULL, NULL},
    {'u', SM_HOW_ACT, SM_ACT_UNDO, NULL, NULL},
    {'L', SM_HOW_ACT, SM_ACT_RELOAD, NULL, NULL},
    {'Z', SM_HOW_STRIP_CLOSER, SM_ACT_COUNT, NULL, "the strip closer: half of the stretch, round now"},
    {'X', SM_HOW_STRIP_WIDER, SM_ACT_COUNT, NULL, "the strip wider, up to the whole show"},
    {'+', SM_HOW_LOUDER, SM_ACT_COUNT, NULL, "louder, a step"},
    {'-', SM_HOW_SOFTER, SM_ACT_COUNT, NULL, "softer, a step"},
    {'v', SM_HOW_ASK, SM_ACT_VOLUME, NULL, NULL},
    {'m', SM_HOW_ACT, SM_ACT_MUTE, NULL, NULL},
    {'T', SM_HOW_TONES, SM_ACT_COUNT, NULL, "tones: is live product rigged within earshot?"},
    {'C', SM_HOW_CALLS, SM_ACT_COUNT, NULL,
     "call tones: three, two, one, now for a target or all pyro, or off"},
    {'K', SM_HOW_TICKS, SM_ACT_COUNT, NULL, "a tick at each cue, to check by ear; again: none"},
    {'^', SM_HOW_LIGHTS, SM_ACT_LIGHTS_ON, "lights", NULL},
    {'~', SM_HOW_ACT, SM_ACT_LIGHTS_OFF, "lights off", NULL},
    {'o', SM_HOW_DEVICE, SM_ACT_COUNT, NULL, "list the sound devices and choose one"},
    {SM_KEY_TAB, SM_HOW_NEXT_BOARD, SM_ACT_COUNT, "board", "the next board"},
    {SM_KEY_BACK_TAB, SM_HOW_PREVIOUS_BOARD, SM_ACT_COUNT, NULL, "the board before"},
    {'=', SM_HOW_BESIDE, SM_ACT_COUNT, NULL,
     "on a wide terminal: keep this board beside the others, or no longer"},
    {'V', SM_HOW_COLOURS, SM_ACT_COUNT, NULL, "other colours: plain, dark, light, colour-blind, night"},
    {'D', SM_HOW_BIG, SM_ACT_COUNT, NULL,
     "big figures, to be read across a room; again, Esc or a board: back"},
    {':', SM_HOW_COMMAND, SM_ACT_COUNT, "command", "type any action"},
    {'?', SM_HOW_HELP, SM_ACT_COUNT, "help", "this help"},
    {SM_KEY_F0 + 1, SM_HOW_HELP, SM_ACT_COUNT, NULL, "this help"},
    {'q', SM_HOW_CONFIRM, SM_ACT_QUIT, "quit", NULL},
    {SM_KEY_REDRAW, SM_HOW_REDRAW, SM_ACT_COUNT, NULL, "paint the screen anew"},
};

const sm_key_row *sm_keymap(size_t *count) {
    *count = sizeof rows / sizeof rows[0];
    return rows;
}

const sm_key_row *sm_keymap_find(int key) {
    for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++)
        if (rows[i].key == key)
            return &rows[i];
    return NULL;
}

bool sm_keymap_key_of(sm_act act, char name[16]) {
    bool turns_key = act == SM_ACT_KEY_ON || act == SM_ACT_KEY_OFF;
    for (size_t i = 0; i < sizeof rows / sizeof rows[0] && act != SM_ACT_COUNT; i++) {
        if (rows[i].act == act || (turns_key && rows[i].how == SM_HOW_KEY)) {
            sm_key_name(rows[i].key, name);
            return true;
        }
    }
    return false;
}

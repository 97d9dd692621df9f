// SPDX-License-Identifier: GPL-3.0-or-later
// The one vocabulary of actions: everything a person can do, where it is allowed, and its one line of help.
#include "slowmatch/engine.h"

#include <assert.h>

#define IN(state) (1u << SM_STATE_##state)
#define ANY_STATE ((1u << SM_STATE_COUNT) - 1u)

// An action that takes nothing; one that takes arguments, NEEDED of them at least; one that there is in drills alone; one that
// there is in no drill.
#define WORD(act, word, states, help) [SM_ACT_##act] = {word, {0}, 0, states, false, word, help, false}
#define TAKES(act, word, form, needed, states, help, ...)                                                    \
    [SM_ACT_##act] = {word, {__VA_ARGS__}, needed, states, false, form, help, false}
#define IN_DRILLS(act, word, form, needed, help, ...)                                                        \
    [SM_ACT_##act] = {word, {__VA_ARGS__}, needed, ANY_STATE, true, form, help, false}

#define OUTSIDE_DRILLS(act, word, form, needed, states, help, ...)                                           \
    [SM_ACT_##act] = {word, {__VA_ARGS__}, needed, states, false, form, help, true}

static const sm_action_row rows[] = {
    WORD(KEY_ON, "key on", ANY_STATE, "turn the key switch on"),
    WORD(KEY_OFF, "key off", ANY_STATE, "turn the key switch off; makes safe"),
    TAKES(CALL_CLEAR, "call-clear", "call-clear [WHO]", 0, ANY_STATE,
          "say that the field was checked and is empty of people", SM_ARG_WHO),
    WORD(ARM, "arm", IN(SAFE), "arm the rehearsed module"),
    WORD(START, "start", IN(ARMED), "count down and run from the place set"),
    TAKES(START_IN, "start-in", "start-in TIME", 1, IN(ARMED),
          "start by itself after TIME (90 s, 5 min, 1:30:00); any stop or lapse cancels it", SM_ARG_SPAN),
    WORD(START_IN_OFF, "start-in off", ANY_STATE, "no start by itself"),
    WORD(PAUSE, "pause", IN(RUNNING), "hold what is to come; what burns goes on burning"),
    WORD(RESUME, "resume", IN(PAUSED), "count down and go on from the pause"),
    TAKES(HOLD, "hold", "hold WHO WHY", 2, ANY_STATE,
          "WHO calls hold: stops at once, nothing arms or goes on until it is lifted", SM_ARG_WHO,
          SM_ARG_TEXT),
    TAKES(LIFT, "lift", "lift WHO LEAD", 2, ANY_STATE, "LEAD lifts the hold that WHO called, who agrees",
          SM_ARG_WHO, SM_ARG_WHO),
    WORD(SAFE, "safe", ANY_STATE, "make safe in one step; the place goes back to 0"),
    TAKES(SEEK, "seek", "seek MOMENT", 1, IN(SAFE) | IN(ARMED) | IN(RUNNING) | IN(PAUSED),
          "go to a moment of the show", SM_ARG_MOMENT),
    TAKES(SPEED, "speed", "speed X", 1, ANY_STATE, "run at 0.1 to 2 times the speed", SM_ARG_SPEED),
    TAKES(REPEAT, "repeat", "repeat A B [rerig]", 2, ANY_STATE, "run from A to B over and over",
          SM_ARG_MOMENT, SM_ARG_MOMENT, SM_ARG_RERIG),
    WORD(REPEAT_OFF, "repeat off", ANY_STATE, "stop repeating"),
    TAKES(MARK, "mark", "mark NAME", 1, ANY_STATE, "remember this moment of the show by name", SM_ARG_NAME),
    WORD(RERIG, "rerig", IN(SAFE), "every slot as new, from the show and its readings"),
    TAKES(INHIBIT, "inhibit", "inhibit TARGET", 1, ANY_STATE,
          "hold back a slot, rail, effect, fixture, group, position or zone", SM_ARG_TARGET),
    TAKES(ALLOW, "allow", "allow TARGET", 1, IN(SAFE) | IN(PAUSED), "end an inhibit", SM_ARG_TARGET),
    TAKES(PLUG, "plug", "plug RAIL", 1, ANY_STATE, "plug a rail in at the module", SM_ARG_RAIL),
    TAKES(UNPLUG, "unplug", "unplug RAIL", 1, ANY_STATE, "unplug a rail at the module", SM_ARG_RAIL),
    TAKES(EXCHANGE, "exchange", "exchange RAIL RAIL", 2, IN(SAFE),
          "exchange the plugs of two rails at the module; both are to be measured again", SM_ARG_RAIL,
          SM_ARG_RAIL),
    TAKES(REPAIR, "repair", "repair SLOT", 1, ANY_STATE,
          "a good igniter well connected; its reading is forgotten", SM_ARG_SLOT),
    TAKES(ENTER, "enter", "enter WHO", 1, ANY_STATE, "report a person in the field", SM_ARG_WHO),
    TAKES(LEAVE, "leave", "leave WHO", 1, ANY_STATE, "report a person out of the field", SM_ARG_WHO),
    TAKES(MEASURE, "measure", "measure [RAIL]", 0, IN(SAFE),
          "pass the test current: every plugged slot takes its reading", SM_ARG_RAIL),
    TAKES(READ, "read", "read SLOT VALUE", 2, ANY_STATE, "enter a reading taken by hand: ohms, open or short",
          SM_ARG_SLOT, SM_ARG_VALUE),
    OUTSIDE_DRILLS(KEEP_READINGS, "keep-readings", "keep-readings WHO", 1, ANY_STATE,
                   "add the readings entered by hand to readings.csv, WHO having taken them", SM_ARG_WHO),
    TAKES(REPORT, "report", "report SLOT", 1, ANY_STATE, "report a misfire by slot", SM_ARG_SLOT),
    TAKES(WIND, "wind", "wind SPEED", 1, ANY_STATE, "enter the wind as measured", SM_ARG_WIND),
    TAKES(WAIVE, "waive", "waive GUARD REASON", 2, IN(SAFE), "go on without a guard: recorded, not approved",
          SM_ARG_GUARD, SM_ARG_REASON),
    TAKES(TICK, "tick", "tick ITEM yes|no|na|later [VALUE] [NOTE]", 2, ANY_STATE,
          "answer an item of the walkthrough", SM_ARG_ITEM, SM_ARG_ANSWER, SM_ARG_NOTE),
    TAKES(SIGN, "sign", "sign WHO", 1, ANY_STATE, "sign by name: a record, not a permission", SM_ARG_WHO),
    TAKES(NOTE, "note", "note TEXT", 1, ANY_STATE, "keep a note at this moment", SM_ARG_TEXT),
    TAKES(SEAT, "seat", "seat NAME free", 2, ANY_STATE,
          "the lead's word that a seat is free: whoever sits or sat there is out, the next may sit",
          SM_ARG_WHO, SM_ARG_TEXT),
    TAKES(PAPER, "paper", "paper FILE", 1, ANY_STATE,
          "write the paper that the crew carries to FILE, to print", SM_ARG_TEXT),
    OUTSIDE_DRILLS(PROPOSE, "propose", "propose CUE MOMENT|+0.05 s|-1 f|beat [on]", 2, ANY_STATE,
                   "propose another time for a cue, with `on` for all from there on; changes nothing yet",
                   SM_ARG_CUE, SM_ARG_STEP),
    OUTSIDE_DRILLS(LISTEN, "listen", "listen CUE", 1, IN(SAFE),
                   "hear the music round a cue, where it is proposed to be, round and round; key off",
                   SM_ARG_CUE),
    OUTSIDE_DRILLS(LISTEN_OFF, "listen off", "listen off", 0, ANY_STATE, "listen no more", 0),
    OUTSIDE_DRILLS(APPLY, "apply", "apply", 0, IN(SAFE),
                   "write what is proposed into cues.csv, key off, and read the folder again", 0),
    TAKES(UNDO, "undo", "undo [N]", 0, ANY_STATE,
          "take back the last reading, mark, tick, note or proposal, or the last N", SM_ARG_COUNT),
    OUTSIDE_DRILLS(RELOAD, "reload", "reload", 0, IN(SAFE), "read the show's folder again; readings are kept",
                   0),
    TAKES(VOLUME, "volume", "volume X", 1, ANY_STATE, "volume in per cent, 0 to 100", SM_ARG_VOLUME),
    WORD(MUTE, "mute", ANY_STATE, "sound off, and on again"),
    OUTSIDE_DRILLS(LIGHTS_ON, "lights on", "lights on", 0, ANY_STATE,
                   "ask for lights on a wire (--lights): what would be sent is told, and questions follow",
                   0),
    OUTSIDE_DRILLS(LIGHTS_ANSWER, "lights answer", "lights answer TEXT", 1, ANY_STATE,
                   "answer the question about lights on a wire that stands", SM_ARG_TEXT),
    OUTSIDE_DRILLS(LIGHTS_OFF, "lights off", "lights off", 0, ANY_STATE,
                   "no lights on a wire: they fade home, then nothing is sent", 0),
    IN_DRILLS(HINT, "hint", "hint", 0, "ask for a hint", 0),
    IN_DRILLS(TRIGGER, "trigger", "trigger EVENT", 1, "make an event of the drill happen now", SM_ARG_EVENT),
    IN_DRILLS(CALL, "call", "call WHO TEXT", 2, "speak as a person of the crew", SM_ARG_WHO, SM_ARG_TEXT),
    IN_DRILLS(ANSWER, "answer", "answer TEXT", 1, "answer the latest call", SM_ARG_TEXT),
    IN_DRILLS(ASK, "ask", "ask WHO", 1, "ask somebody of the crew by name; wait for the answer", SM_ARG_WHO),
    IN_DRILLS(INJECT, "inject", "inject DO", 1, "make anything happen now that a drill can", SM_ARG_TEXT),
    IN_DRILLS(JUDGE, "judge", "judge MARK yes|no REASON", 2, "judge a mark; beside what was computed",
              SM_ARG_ITEM, SM_ARG_ANSWER, SM_ARG_REASON),
    IN_DRILLS(REMARK, "remark", "remark TEXT", 1, "add a remark to the debrief", SM_ARG_TEXT),
    IN_DRILLS(PASS_TIME, "pass-time", "pass-time", 0, "let a wait run out (passed in practice)", 0),
    IN_DRILLS(HOLD_DRILL, "hold-drill", "hold-drill", 0, "hold the drill", 0),
    IN_DRILLS(GO_DRILL, "go-drill", "go-drill", 0, "go on with the drill", 0),
    WORD(QUIT, "quit", ANY_STATE, "make safe and end"),
};
static_assert(sizeof rows / sizeof rows[0] == SM_ACT_COUNT, "a row for each action");

const sm_action_row *sm_action_row_of(sm_act act) {
    assert((unsigned)act < SM_ACT_COUNT);
    return &rows[act];
}

const char *sm_act_word(sm_act act) {
    static const char *const of_two_words[SM_ACT_COUNT] = {
        [SM_ACT_KEY_ON] = "key",        [SM_ACT_KEY_OFF] = "key",      [SM_ACT_START_IN_OFF] = "start-in",
        [SM_ACT_REPEAT_OFF] = "repeat", [SM_ACT_LIGHTS_ON] = "lights", [SM_ACT_LIGHTS_ANSWER] = "lights",
        [SM_ACT_LIGHTS_OFF] = "lights", [SM_ACT_LISTEN_OFF] = "listen"};
    return of_two_words[act] ? of_two_words[act] : sm_action_row_of(act)->name;
}

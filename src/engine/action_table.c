// SPDX-License-Identifier: GPL-3.0-or-later
// The one vocabulary of actions: everything a person can do, where it is allowed, and its one line of help.
#include "slowmatch/engine.h"

#include <assert.h>

#define IN(state) (1u << SM_STATE_##state)
#define ANY_STATE ((1u << SM_STATE_COUNT) - 1u)

static const sm_action_row rows[] = {
    [SM_ACT_KEY_ON] = {"key on", {0}, 0, ANY_STATE, false, "key on", "turn the key switch on"},
    [SM_ACT_KEY_OFF] =
        {"key off", {0}, 0, ANY_STATE, false, "key off", "turn the key switch off; makes safe"},
    [SM_ACT_CALL_CLEAR] = {"call-clear",
                           {SM_ARG_WHO},
                           0,
                           ANY_STATE,
                           false,
                           "call-clear [WHO]",
                           "say that the field was checked and is empty of people"},
    [SM_ACT_ARM] = {"arm", {0}, 0, IN(SAFE), false, "arm", "arm the rehearsed module"},
    [SM_ACT_START] = {"start", {0}, 0, IN(ARMED), false, "start", "count down and run from the place set"},
    [SM_ACT_START_IN] = {"start-in",
                         {SM_ARG_SPAN},
                         1,
                         IN(ARMED),
                         false,
                         "start-in TIME",
                         "start by itself after TIME (90 s, 5 min, 1:30:00); any stop or lapse cancels it"},
    [SM_ACT_START_IN_OFF] = {"start-in off", {0}, 0, ANY_STATE, false, "start-in off", "no start by itself"},
    [SM_ACT_PAUSE] =
        {"pause", {0}, 0, IN(RUNNING), false, "pause", "hold what is to come; what burns goes on burning"},
    [SM_ACT_RESUME] = {"resume", {0}, 0, IN(PAUSED), false, "resume", "count down and go on from the pause"},
    [SM_ACT_SAFE] =
        {"safe", {0}, 0, ANY_STATE, false, "safe", "make safe in one step; the place goes back to 0"},
    [SM_ACT_SEEK] = {"seek",
                     {SM_ARG_MOMENT},
                     1,
                     IN(SAFE) | IN(ARMED) | IN(RUNNING) | IN(PAUSED),
                     false,
                     "seek MOMENT",
                     "go to a moment of the show"},
    [SM_ACT_SPEED] =
        {"speed", {SM_ARG_SPEED}, 1, ANY_STATE, false, "speed X", "run at 0.1 to 2 times the speed"},
    [SM_ACT_REPEAT] = {"repeat",
                       {SM_ARG_MOMENT, SM_ARG_MOMENT, SM_ARG_RERIG},
                       2,
                       ANY_STATE,
                       false,
                       "repeat A B [rerig]",
                       "run from A to B over and over"},
    [SM_ACT_REPEAT_OFF] = {"repeat off", {0}, 0, ANY_STATE, false, "repeat off", "stop repeating"},
    [SM_ACT_MARK] =
        {"mark", {SM_ARG_NAME}, 1, ANY_STATE, false, "mark NAME", "remember this moment of the show by name"},
    [SM_ACT_RERIG] =
        {"rerig", {0}, 0, IN(SAFE), false, "rerig", "every slot as new, from the show and its readings"},
    [SM_ACT_INHIBIT] = {"inhibit",
                        {SM_ARG_TARGET},
                        1,
                        ANY_STATE,
                        false,
                        "inhibit TARGET",
                        "hold back a slot, rail, effect, fixture, group, position or zone"},
    [SM_ACT_ALLOW] =
        {"allow", {SM_ARG_TARGET}, 1, IN(SAFE) | IN(PAUSED), false, "allow TARGET", "end an inhibit"},
    [SM_ACT_PLUG] = {"plug", {SM_ARG_RAIL}, 1, ANY_STATE, false, "plug RAIL", "plug a rail in at the module"},
    [SM_ACT_UNPLUG] =
        {"unplug", {SM_ARG_RAIL}, 1, ANY_STATE, false, "unplug RAIL", "unplug a rail at the module"},
    [SM_ACT_REPAIR] = {"repair",
                       {SM_ARG_SLOT},
                       1,
                       ANY_STATE,
                       false,
                       "repair SLOT",
                       "a good igniter well connected; its reading is forgotten"},
    [SM_ACT_ENTER] =
        {"enter", {SM_ARG_WHO}, 1, ANY_STATE, false, "enter WHO", "report a person in the field"},
    [SM_ACT_LEAVE] =
        {"leave", {SM_ARG_WHO}, 1, ANY_STATE, false, "leave WHO", "report a person out of the field"},
    [SM_ACT_MEASURE] = {"measure",
                        {SM_ARG_RAIL},
                        0,
                        IN(SAFE),
                        false,
                        "measure [RAIL]",
                        "pass the test current: every plugged slot takes its reading"},
    [SM_ACT_READ] = {"read",
                     {SM_ARG_SLOT, SM_ARG_VALUE},
                     2,
                     ANY_STATE,
                     false,
                     "read SLOT VALUE",
                     "enter a reading taken by hand: ohms, open or short"},
    [SM_ACT_REPORT] =
        {"report", {SM_ARG_SLOT}, 1, ANY_STATE, false, "report SLOT", "report a misfire by slot"},
    [SM_ACT_WIND] = {"wind", {SM_ARG_WIND}, 1, ANY_STATE, false, "wind SPEED", "enter the wind as measured"},
    [SM_ACT_WAIVE] = {"waive",
                      {SM_ARG_GUARD, SM_ARG_REASON},
                      2,
                      IN(SAFE),
                      false,
                      "waive GUARD REASON",
                      "go on without a guard: recorded, not approved"},
    [SM_ACT_TICK] = {"tick",
                     {SM_ARG_ITEM, SM_ARG_ANSWER, SM_ARG_NOTE},
                     2,
                     ANY_STATE,
                     false,
                     "tick ITEM yes|no|na|later [VALUE] [NOTE]",
                     "answer an item of the walkthrough"},
    [SM_ACT_SIGN] =
        {"sign", {SM_ARG_WHO}, 1, ANY_STATE, false, "sign WHO", "sign by name: a record, not a permission"},
    [SM_ACT_NOTE] = {"note", {SM_ARG_TEXT}, 1, ANY_STATE, false, "note TEXT", "keep a note at this moment"},
    [SM_ACT_PAPER] = {"paper",
                      {SM_ARG_TEXT},
                      1,
                      ANY_STATE,
                      false,
                      "paper FILE",
                      "write the paper that the crew carries to FILE, to print"},
    [SM_ACT_UNDO] = {"undo",
                     {SM_ARG_COUNT},
                     0,
                     ANY_STATE,
                     false,
                     "undo [N]",
                     "take back the last reading, mark, tick or note, or the last N"},
    [SM_ACT_RELOAD] =
        {"reload", {0}, 0, IN(SAFE), false, "reload", "read the show's folder again; readings are kept"},
    [SM_ACT_VOLUME] =
        {"volume", {SM_ARG_VOLUME}, 1, ANY_STATE, false, "volume X", "volume in per cent, 0 to 100"},
    [SM_ACT_MUTE] = {"mute", {0}, 0, ANY_STATE, false, "mute", "sound off, and on again"},
    [SM_ACT_HINT] = {"hint", {0}, 0, ANY_STATE, true, "hint", "ask for a hint"},
    [SM_ACT_TRIGGER] = {"trigger",
                        {SM_ARG_EVENT},
                        1,
                        ANY_STATE,
                        true,
                        "trigger EVENT",
                        "make an event of the drill happen now"},
    [SM_ACT_CALL] = {"call",
                     {SM_ARG_WHO, SM_ARG_TEXT},
                     2,
                     ANY_STATE,
                     true,
                     "call WHO TEXT",
                     "speak as a person of the crew"},
    [SM_ACT_ANSWER] = {"answer", {SM_ARG_TEXT}, 1, ANY_STATE, true, "answer TEXT", "answer the latest call"},
    [SM_ACT_ASK] = {"ask",
                    {SM_ARG_WHO},
                    1,
                    ANY_STATE,
                    true,
                    "ask WHO",
                    "ask somebody of the crew by name; wait for the answer"},
    [SM_ACT_INJECT] = {"inject",
                       {SM_ARG_TEXT},
                       1,
                       ANY_STATE,
                       true,
                       "inject DO",
                       "make anything happen now that a drill can"},
    [SM_ACT_JUDGE] = {"judge",
                      {SM_ARG_ITEM, SM_ARG_ANSWER, SM_ARG_REASON},
                      2,
                      ANY_STATE,
                      true,
                      "judge MARK yes|no REASON",
                      "judge a mark; beside what was computed"},
    [SM_ACT_REMARK] =
        {"remark", {SM_ARG_TEXT}, 1, ANY_STATE, true, "remark TEXT", "add a remark to the debrief"},
    [SM_ACT_PASS_TIME] =
        {"pass-time", {0}, 0, ANY_STATE, true, "pass-time", "let a wait run out (passed in practice)"},
    [SM_ACT_HOLD_DRILL] = {"hold-drill", {0}, 0, ANY_STATE, true, "hold-drill", "hold the drill"},
    [SM_ACT_GO_DRILL] = {"go-drill", {0}, 0, ANY_STATE, true, "go-drill", "go on with the drill"},
    [SM_ACT_QUIT] = {"quit", {0}, 0, ANY_STATE, false, "quit", "make safe and end"},
};
static_assert(sizeof rows / sizeof rows[0] == SM_ACT_COUNT, "a row for each action");

const sm_action_row *sm_action_row_of(sm_act act) {
    assert((unsigned)act < SM_ACT_COUNT);
    return &rows[act];
}

const char *sm_act_word(sm_act act) {
    static const char *const of_two_words[SM_ACT_COUNT] = {[SM_ACT_KEY_ON] = "key",
                                                           [SM_ACT_KEY_OFF] = "key",
                                                           [SM_ACT_START_IN_OFF] = "start-in",
                                                           [SM_ACT_REPEAT_OFF] = "repeat"};
    return of_two_words[act] ? of_two_words[act] : sm_action_row_of(act)->name;
}

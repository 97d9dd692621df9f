// SPDX-License-Identifier: GPL-3.0-or-later
// The one thing to do next, in the order that practice asks for. Part of the engine, and as pure.
// Source of the order: common practice of small crews, no source. Local rules, the maker's data and the licensed operator go first.
#ifndef SLOWMATCH_NEXT_STEP_H
#define SLOWMATCH_NEXT_STEP_H

#include "slowmatch/engine.h"

// In the order in which they are looked at: the first that fits is the step.
typedef enum sm_step_id {
    SM_STEP_LINK,         // stop: nothing is known of the module
    SM_STEP_CALL_OUT,     // the same, and somebody is in the field
    SM_STEP_LINK_KEY_OFF, // stop: the same with the key off
    SM_STEP_MAKE_SAFE,    // somebody is in the field, clear lapsed, or worse
    SM_STEP_END,          // ended: make safe
    SM_STEP_WITHDRAW,     // stop: storm
    SM_STEP_KEEP_BACK,    // stop: an unwanted fire
    SM_STEP_KEY_OFF,      // before anybody goes in, or while somebody is
    SM_STEP_REPORT,       // a misfire, by slot
    SM_STEP_STAY_OUT,     // stop: the wait has not run, or something burns
    SM_STEP_SHUT_FUEL,    // stop: a flame burns on
    SM_STEP_OPERATOR, // stop: a misfire is live, a unit tipped over, a slot went by itself: the licensed operator's
    SM_STEP_ASK,       // stop: somebody does not answer
    SM_STEP_LIFT,      // a hold stands: nothing goes on before whoever called it agrees
    SM_STEP_RIG_ANEW,  // what was fired is counted, the wait has run
    SM_STEP_EXCHANGE,  // two rails that read as plugged in each other's place
    SM_STEP_UNPLUG,    // a rail with a slot that is not good, or where something is that no cue fires
    SM_STEP_ENTER,     // one named person, another watching
    SM_STEP_REPAIR,    // a slot of a rail that is out
    SM_STEP_TAKE_OFF,  // what no cue fires, on a rail that is out
    SM_STEP_LEAVE,     // everybody out and counted
    SM_STEP_PLUG,      // a rail with a cue
    SM_STEP_MEASURE,   // all of it
    SM_STEP_HOLD_BACK, // the aerials, when the wind is over the limit
    SM_STEP_CALL_CLEAR,
    SM_STEP_KEY_ON,
    SM_STEP_ARM,
    SM_STEP_WAIT_ARMING, // the tone
    SM_STEP_WAIT_TIMECODE,
    SM_STEP_START,
    SM_STEP_RESUME,
    SM_STEP_WATCH, // running: the field, not the screen
    SM_STEP_COUNT
} sm_step_id;

typedef struct sm_step {
    sm_step_id id;
    sm_act act;      // what does it, SM_ACT_COUNT: nothing here does
    uint32_t index;  // slot or rail that it is about, SM_NONE: none
    uint32_t second; // the other rail of an exchange
    bool stop;       // one of the named stops: nothing leads on from here but time or other people
    char words[160]; // imperative, without its key: "unplug rail A at the module end"
} sm_step;

// What the snapshot cannot know.
typedef struct sm_step_facts {
    uint32_t swapped
        [2]; // rails that the readings explain as exchanged at the module (sm_rig_diagnose); SM_NONE: none
} sm_step_facts;

// The next step as things stand in NOW and KNOWN (NULL: nothing of it). Never a waiver, never a repair of a misfired slot, never hands at a rail with the key on.
sm_step sm_next_step(const sm_snapshot *now, const sm_step_facts *known);

#endif

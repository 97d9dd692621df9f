// SPDX-License-Identifier: GPL-3.0-or-later
// What a drill puts in the crew's way: things that go wrong in the simulated field, on the link, at the remotes, in the sound.
// Part of the engine, and as pure. Only a rehearsal made with options.drill takes them.
#ifndef SLOWMATCH_INJECT_H
#define SLOWMATCH_INJECT_H

#include "slowmatch/engine.h"

typedef enum sm_inject {
    SM_INJECT_OPEN,
    SM_INJECT_SHORT,
    SM_INJECT_STRAY,
    SM_INJECT_MENDED,
    SM_INJECT_UNPLUG,
    SM_INJECT_MISFIRE,
    SM_INJECT_LATE,
    SM_INJECT_FIRES_ALONE,
    SM_INJECT_TIP,
    SM_INJECT_REFUSE_ARM,
    SM_INJECT_MODULE_READY,
    SM_INJECT_FLAME_STUCK,
    SM_INJECT_FLAME_OUT,
    SM_INJECT_FEED_LOST,
    SM_INJECT_WIND,
    SM_INJECT_STORM,
    SM_INJECT_FIRE,
    SM_INJECT_PERSON_IN,
    SM_INJECT_PERSON_OUT,
    SM_INJECT_CALL,
    SM_INJECT_NO_ANSWER,
    SM_INJECT_FALSE_CLEAR,
    SM_INJECT_LINK_LOST,
    SM_INJECT_LINK_BACK,
    SM_INJECT_REMOTE_UNPAIRED,
    SM_INJECT_REMOTE_WEAK,
    SM_INJECT_REMOTE_GOOD,
    SM_INJECT_SOUND_LOST,
    SM_INJECT_SOUND_BACK,
    SM_INJECT_MUSIC_OFF,
    SM_INJECT_COUNT
} sm_inject;

// One injection, read and resolved against one show.
typedef struct sm_injection {
    sm_inject what;
    uint32_t index; // slot, rail, module, fixture, feed or position; SM_NONE where none
    int32_t remote; // number of the hand-held remote, 0 where none
    double wind_m_s;
    sm_us us; // late: after it was due, from 1 ms to 60 s; music-off: how far the music is off
    char who[96];
    char text[224]; // of a call; of the others the line as it was written, for the log
} sm_injection;

typedef struct sm_inject_row {
    const char *name; // "link lost"
    const char *form; // "late SLOT TIME"
    const char *help; // one line: what happens
} sm_inject_row;
// Row of WHAT; static.
const sm_inject_row *sm_inject_row_of(sm_inject what);

// Reads one line ("late A-05 400 ms"). SM_INVALID: WHY gets one clear sentence and *at the byte offset of the word at fault.
SM_MUST_CHECK sm_result sm_injection_read(const sm_show *show, const char *text, size_t length,
                                          sm_injection *out, char why[200], size_t *at);

// What of INJECTION can be seen or heard from outside the field, in words, appended to OUT. False: only a meter or the moment tells.
bool sm_injection_tell(const sm_show *show, const sm_injection *injection, sm_text *out);

// Does everything due before AT and the end of arming at AT, then lets INJECTION happen with one row `event` (target NAME, source
// drill), its consequences after it. AT before the last time given counts as that. SM_NO_MEMORY: nothing happened.
SM_MUST_CHECK sm_result sm_rehearsal_inject(sm_rehearsal *rehearsal, const char *name,
                                            const sm_injection *injection, sm_wall_time at);

// Does everything due before AT and the end of arming at AT, as sm_rehearsal_act would before its action.
SM_MUST_CHECK sm_result sm_rehearsal_bring(sm_rehearsal *rehearsal, sm_wall_time at);
// One row of source drill at the rehearsal's present instant: `mark` and its like.
void sm_rehearsal_drill_row(sm_rehearsal *rehearsal, sm_log_kind kind, const char *target,
                            const char *detail);
// Refuses ACTION on the drill's behalf: runs to AT, logs `refused` with WHY, changes nothing else. Returns SM_REFUSED, or SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_rehearsal_refuse(sm_rehearsal *rehearsal, const sm_action *action,
                                            sm_source source, const char *why, sm_wall_time at);

// What a drill's rules ask before an action, without the cost of a snapshot.
typedef struct sm_facts {
    sm_wall_time now; // the latest moment the rehearsal was brought to
    sm_state state;
    bool key, clear_called;
    uint32_t people;
    uint32_t misfired_unreported; // slots that misfired and were not reported
    uint32_t misfired;            // slots that misfired, reported or not
    sm_wall_time wait_since;      // us SM_UNSET_US: nothing to wait for yet
    bool link_lost_since_safe;    // the link was lost since the module was last made safe
    bool link_lost;
    double wind_m_s; // as measured or shown last; NAN: not known
} sm_facts;
sm_facts sm_rehearsal_facts(const sm_rehearsal *rehearsal);
// The wait that the show's limits ask for before anyone goes in: the longer of the two where something misfired; those that are not set
// do not count. SM_UNSET_US: none is set.
sm_us sm_wait_asked_us(const sm_show_settings *settings, bool misfired);
// Of its reading, whether it is plugged now or not.
sm_verdict sm_rehearsal_verdict_read(const sm_rehearsal *rehearsal, uint32_t slot);
// The module takes REMOTE's word; 0: no remote.
bool sm_remote_is_paired(const sm_show *show, int32_t remote);
bool sm_rehearsal_plugged(const sm_rehearsal *rehearsal, uint32_t rail);
bool sm_rehearsal_inhibits(const sm_rehearsal *rehearsal, const char *name); // held by exactly that name
bool sm_rehearsal_has_person(const sm_rehearsal *rehearsal, const char *name);
bool sm_rehearsal_has_misfired(const sm_rehearsal *rehearsal, uint32_t slot);
bool sm_rehearsal_was_reported(const sm_rehearsal *rehearsal, uint32_t slot); // its misfire
// An aerial that is not held back is still to go.
bool sm_rehearsal_aerials_to_come(const sm_rehearsal *rehearsal);

// An action given in part, to be matched: like sm_action_read, but arguments may be left out from any on.
SM_MUST_CHECK sm_result sm_action_read_partly(const sm_show *show, const char *text, size_t length,
                                              sm_action *out, char why[200], size_t *at);
// ACTION is what PATTERN (read partly) says: the same action, and the same in every argument that the pattern gives.
bool sm_action_matches(const sm_action *pattern, const sm_action *action);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// The simulated field: what hangs on every slot, what is plugged, what is known of it by readings, who is out there.
#ifndef ENGINE_FIELD_H
#define ENGINE_FIELD_H

#include "slowmatch/engine.h"

// How the latest run through a slot ended.
typedef enum sm_outcome {
    SM_OUTCOME_NONE,
    SM_OUTCOME_FIRED,
    SM_OUTCOME_MISFIRED,
    SM_OUTCOME_PASSED,
    SM_OUTCOME_HELD
} sm_outcome;

typedef struct sm_field_slot {
    sm_read_value
        truth; // what the line really shows; SM_READ_NOTHING: as rigged (a good igniter, or nothing on a spare)
    sm_read_value reading;
    sm_wall_time read_at; // us SM_UNSET_US: from a file
    int64_t read_when_us; // of a file: when, SM_UNSET_US where it does not say
    sm_verdict verdict;   // of the reading, the rail taken as plugged
    sm_outcome outcome;
    bool spent;
    bool read_spent; // the reading was taken after the slot fired
    bool by_hand;    // it was entered by hand
    bool reported;
    bool mended; // it misfired, was repaired, and is still to be reported
    bool waived; // guard `readings` goes on without it
    bool inhibited;
    bool dud;         // a drill: reads well and will not go
    bool tipped;      // a drill
    bool fired_alone; // a drill
    sm_us late_us;    // a drill: goes so much later than it should
} sm_field_slot;

typedef struct sm_simulated_field {
    const sm_show *show;
    sm_field_slot *slots;
    bool *plugged; // a rail each
    bool *rail_waived;
    sm_person people[SM_PEOPLE_MAX];
    uint32_t people_count;
} sm_simulated_field;

// Rails plugged unless BARE, a good igniter in every programmed slot, changed by the show's readings. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_field_init(sm_simulated_field *field, const sm_show *show, bool bare);
void sm_field_deinit(sm_simulated_field *field);

bool sm_field_programmed(const sm_simulated_field *field, uint32_t slot);
// A reading: what is known of SLOT, and so what is taken to be true of it.
void sm_field_read(sm_simulated_field *field, uint32_t slot, sm_read_value value, sm_wall_time at);
// What a meter would show at SLOT now.
sm_read_value sm_field_measure(const sm_simulated_field *field, uint32_t slot);
// A good igniter well connected; the reading is forgotten. A misfire stays one until it is reported.
void sm_field_repair(sm_simulated_field *field, uint32_t slot);
// What misfired at SLOT is reported; where it was repaired before, it is a misfire no more.
void sm_field_report(sm_simulated_field *field, uint32_t slot);
// Every slot as new, or one; readings stay but those of a spent igniter.
void sm_field_rerig(sm_simulated_field *field);
// What hangs on the plug of rail A is on that of B now, and the other way round; of neither anything was read yet. As many slots each.
void sm_field_exchange(sm_simulated_field *field, uint32_t a, uint32_t b);
void sm_field_rerig_slot(sm_simulated_field *field, uint32_t slot);
// The verdict of the firing line as it is plugged now.
sm_verdict sm_field_verdict(const sm_simulated_field *field, uint32_t slot);
// Why SLOT would not fire now ("open", "short", "rail unplugged"), NULL when it would.
const char *sm_field_misfire(const sm_simulated_field *field, uint32_t slot);
// What hangs on SLOT fires, with fewer igniters than the load has.
bool sm_field_partial(const sm_simulated_field *field, uint32_t slot);
// Row of the person called NAME, SM_NONE.
uint32_t sm_field_person(const sm_simulated_field *field, const char *name);
// Takes over, by name, what is known of the slots, rails and people of OLD (another show).
void sm_field_carry(sm_simulated_field *field, const sm_simulated_field *old);

#endif

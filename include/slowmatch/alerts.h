// SPDX-License-Identifier: GPL-3.0-or-later
// What a crew must not miss: one ranked list, from one table. The state line, the alert row, the big figures, guards, log,
// drills and paper read this list; nothing else decides what is wrong. Part of the engine, and as pure.
// Ranks after 14 CFR 25.1322 (warning, caution, advisory: by how soon one must know and act); each has an answer that people
// should give, as IEC 62682 asks.
#ifndef SLOWMATCH_ALERTS_H
#define SLOWMATCH_ALERTS_H

#include "slowmatch/engine.h"
#include "slowmatch/time_of_day.h"

typedef enum sm_alert_rank {
    SM_ALERT_WARNING = 1, // stop or keep out now
    SM_ALERT_CAUTION,     // know now, act next
    SM_ALERT_ADVISORY     // be aware
} sm_alert_rank;

// In the order in which they are told.
typedef enum sm_alert_id {
    SM_ALERT_PEOPLE,
    SM_ALERT_FIRE,
    SM_ALERT_FLAME,
    SM_ALERT_LINK,
    SM_ALERT_AGE,
    SM_ALERT_FIRED_ALONE,
    SM_ALERT_TIPPED,
    SM_ALERT_STORM,
    SM_ALERT_KEY_ON,
    SM_ALERT_TOO_EARLY,
    SM_ALERT_WIND_RUNNING,
    SM_ALERT_CLEAR_LAPSED,
    SM_ALERT_NO_ANSWER,
    SM_ALERT_HOLD,
    SM_ALERT_UNHEARD,
    SM_ALERT_WIND,
    SM_ALERT_MISFIRED,
    SM_ALERT_WAIT,
    SM_ALERT_BURNING,
    SM_ALERT_SWAPPED,
    SM_ALERT_STRAY,
    SM_ALERT_PERMIT_OPEN,
    SM_ALERT_SILENT,
    SM_ALERT_TIMECODE,
    SM_ALERT_TIMECODE_RATE,
    SM_ALERT_WIND_HIGH,
    SM_ALERT_HELD_BACK,
    SM_ALERT_WAIVED,
    SM_ALERT_READINGS_OLD,
    SM_ALERT_SPEED,
    SM_ALERT_REPEAT,
    SM_ALERT_FREE_RUNNING,
    SM_ALERT_TIMECODE_WAITS,
    SM_ALERT_SHOW_CHANGED,
    SM_ALERT_NOT_KEPT,
    SM_ALERT_OFFSET,
    SM_ALERT_LIGHTS,
    SM_ALERT_COUNT
} sm_alert_id;

// What the snapshot cannot know. {0}: nothing of it. Owned by the caller.
typedef struct sm_alert_facts {
    const sm_time_of_day
        *day; // NULL: words hold no time of day, and nothing that hangs on the date is told (--fast)
    bool age_not_proven;      // of what is shown: a follower whose questions come back late, or not at all
    bool told_ended;          // a follower's console said that it ends: the link was not cut
    bool sound_lost;          // the device was lost, the show runs on in silence
    bool sounds;              // there is a device, and sound comes out of it
    bool offset_measured;     // --sound-offset was given
    const char *show_changed; // a file of the show that is other than when it was read; NULL: none
    const char *lights;       // on a wire: "LIGHTS ON THE WIRE universe 1 ..."; NULL: none are
    const uint32_t *
        swapped; // two rails that the readings explain as exchanged at the module (sm_rig_diagnose); SM_NONE or NULL: none
    const char *not_kept; // why the logbook keeps nothing; NULL: it keeps, or need not
} sm_alert_facts;

// A flame unit's enable that is open so long with no flame is told. The figure of the rule enable-left-open; ours, no source.
#define SM_PERMIT_IDLE_US (10 * SM_US_PER_S)
#define SM_ALERT_WORDS 200
#define SM_ALERT_ESSENTIAL 22 // columns at most of what is never cut

typedef struct sm_alert {
    sm_alert_id id;
    sm_wall_time since;
    bool acknowledged;          // somebody has seen it: it makes no sound any more, and stays
    uint32_t essential;         // bytes of WORDS that are never cut, at most SM_ALERT_ESSENTIAL columns
    char words[SM_ALERT_WORDS]; // "IN FIELD 2: K 21:14, M 21:15"
} sm_alert;

// How old the readings of slots are that a cue fires.
typedef struct sm_readings_age {
    uint32_t read;      // have one
    uint32_t from_file; // of these, how many were not taken in this rehearsal
    uint32_t old;       // older than [limits] readings-age
    uint32_t undated;   // from a file that does not say when
    sm_us oldest_us;    // SM_UNSET_US: none is dated
} sm_readings_age;
sm_readings_age sm_snapshot_readings_age(const sm_snapshot *now, const sm_time_of_day *day);

// One row of the table.
typedef struct sm_alert_row {
    const char *name; // in the log: "people"
    sm_alert_rank rank;
    const char *when;  // for the manual and `?`: what makes it begin
    const char *to_do; // what is to be done, imperative
    const char *who;   // who does it
    // Appends its words where it stands, the essential ones first; *essential gets their bytes. False: it does not stand.
    bool (*stands)(const sm_snapshot *now, const sm_alert_facts *facts, sm_text *out, uint32_t *essential);
} sm_alert_row;

// Row of ID; static.
const sm_alert_row *sm_alert_row_of(sm_alert_id id);
// The first alert of those about the same thing as ID, which goes on where one of them ends and another begins: the wind over the limit
// is the same wind while safe and while running.
sm_alert_id sm_alert_about(sm_alert_id id);
// "WARNING", "CAUTION", "ADVISORY".
const char *sm_alert_rank_text(sm_alert_rank rank);
// to_do of ID without the words at its beginning that leave nothing to do in STATE with the KEY so: "key off, " with the key off. Static.
const char *sm_alert_to_do(sm_alert_id id, sm_state state, bool key);
// The stop, or the report, that these words begin with; SM_ACT_COUNT: they begin with none.
sm_act sm_alert_act(sm_alert_id id, sm_state state, bool key);

// The alerts that stand, most pressing first, since when, and which somebody has acknowledged. {0} is a valid empty one.
typedef struct sm_alerts {
    sm_alert at[SM_ALERT_COUNT];
    uint32_t count;
} sm_alerts;

// Told of each alert that begins or ends; ALERT lives only during the call.
typedef void (*sm_alert_news)(void *context, const sm_alert *alert, bool begins);

// Brings ALERTS up to date with NOW and FACTS; NEWS (NULL: nobody) hears what began and ended, ends first. Any thread, one at a
// time. Where memory runs out the words may be short, the alert stands all the same.
void sm_alerts_look(sm_alerts *alerts, const sm_snapshot *now, const sm_alert_facts *facts,
                    sm_alert_news news, void *context);
// The alert ID where it stands, else NULL.
const sm_alert *sm_alerts_find(const sm_alerts *alerts, sm_alert_id id);
// Acknowledges what stands as ID: the attention it asked for, never the fact.
void sm_alerts_acknowledge(sm_alerts *alerts, sm_alert_id id);
// What stands as the engine tells it in the log: by what it knows itself, with no time of day. Valid as long as REHEARSAL.
const sm_alerts *sm_rehearsal_alerts(const sm_rehearsal *rehearsal);
// The rank of the most pressing alert that nobody has acknowledged, 0: none.
sm_alert_rank sm_alerts_calls(const sm_alerts *alerts);

#endif

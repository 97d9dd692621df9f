// SPDX-License-Identifier: GPL-3.0-or-later
// The rehearsal's inside, shared by the engine's own files.
//
// Terms. An *instant* is one microsecond of the rehearsal's clock. Within it, format.md fixes the order: end of arming; actions; ends
// (`out` by wall time, `home` by show time), then beginnings, both in table order; then `ended`. The event number is the table order.
// `cursor` is the place in show->order of the next event to begin; everything before it has happened or was skipped. The *place* is the
// show time at which start or resume begins; `floor` keeps the channels standing as at the place until show time is there, also through a
// pause on the way.
#ifndef ENGINE_REHEARSAL_H
#define ENGINE_REHEARSAL_H

#include "engine/dmx_play.h"
#include "engine/field.h"

#include "slowmatch/alerts.h"
#include "slowmatch/rig_explainer.h"
#include "slowmatch/targets.h"

typedef enum sm_firing_state {
    SM_FIRING_PENDING,
    SM_FIRING_FIRED,
    SM_FIRING_MISFIRED,
    SM_FIRING_PASSED,
    SM_FIRING_HELD,
    SM_FIRING_WAS_SPENT
} sm_firing_state;

typedef struct sm_undo {
    sm_act act; // read, mark, tick, note, propose
    uint32_t slot;
    sm_field_slot before;
} sm_undo;
// So many are kept beside one for each slot: a whole file of readings can be taken back.
#define SM_UNDO_MAX 128

// A firing that was due, showed nothing, and goes by itself later.
typedef struct sm_hung {
    uint32_t event;
    sm_wall_time at;
} sm_hung;
#define SM_HUNG_MAX 32

// Called by a station by name, and not lifted yet.
typedef struct sm_hold {
    char who[96], why[224];
    sm_wall_time at;
} sm_hold;
#define SM_HOLDS_MAX 8

struct sm_rehearsal {
    const sm_show *show;
    sm_rehearsal_options options;
    sm_dmx_timeline *timeline;
    sm_simulated_field field;
    sm_dmx_play *dmx;

    sm_state state;
    sm_wall_time now, issued, state_since, arming_ends;
    sm_show_clock clock;
    sm_show_time place, floor;
    bool place_set; // by a seek: show time is worth a column in the log
    bool quit, reload_asked;
    bool words_lost;         // of a row
    bool apply_asked;        // what is proposed stands in the folder that is read
    sm_source reload_source; // of the latest `reload` or `apply`

    uint32_t cursor;
    uint32_t *firing_places; // places in show->order that are firings, a firing each, ascending
    uint8_t *progress;       // sm_firing_state, a firing each
    bool *firing_inhibited;  // a firing each
    bool *fixture_inhibited; // a fixture each
    sm_burning *burning;     // sorted, soonest out first
    uint32_t burning_count, burning_capacity;

    bool repeat_on, repeat_rerig, repeat_ahead; // ahead: show time has yet to reach repeat_to
    sm_show_time repeat_from, repeat_to;

    sm_timecode_in timecode;
    sm_wall_time starts_at; // a start by itself; us SM_UNSET_US: none is set
    char start_cancelled[160];
    sm_wall_time start_cancelled_at;

    sm_hold holds[SM_HOLDS_MAX]; // the first one first
    uint32_t hold_count;
    bool key, clear_called;
    sm_wall_time key_at; // turned, us SM_UNSET_US: never
    char clear_who[96], clear_lapse[160];
    sm_wall_time clear_at;
    char waived_by[SM_GUARD_COUNT][160]; // "" where not waived
    sm_wall_time waived_at[SM_GUARD_COUNT];
    bool wind_known;
    double wind_m_s;
    sm_wall_time wind_at, wait_since;
    double volume;
    bool muted;
    sm_mark marks[SM_MARKS_MAX];
    uint32_t mark_count;
    char inhibits[SM_INHIBITS_MAX][96];
    uint32_t inhibit_count;
    sm_proposal proposals[SM_PROPOSALS_MAX];
    uint32_t proposal_count;
    sm_preview preview;
    char soundless[96]; // why nothing can be heard, "" where it can
    sm_undo *undos;     // undo_room of them
    uint32_t undo_count, undo_room;
    char made_safe_at[24];
    char refusal[400];

    // ---- alert_rows.c ---------------------------------------------------------
    sm_alerts alerts;       // as told in the log
    sm_rig_explainer rig;   // for them: what the readings say of the rig as a whole
    sm_snapshot *seen;      // they were looked at in it
    sm_wall_time alerts_at; // one begins or ends then at the earliest, with time alone; us INT64_MAX: none
    bool alerts_changed;    // something happened that one may hang on
    bool sound_lost;

    // ---- what a drill did -----------------------------------------------------
    sm_incidents incidents;
    bool link_lost_since_safe;
    sm_hung hung[SM_HUNG_MAX]; // soonest first
    uint32_t hung_count;
    bool *fire_at, *feed_lost, *module_refuses; // a position, feed, module each
    uint8_t *flame_faults;                      // a fixture each
};

// ---- log.c: rows ------------------------------------------------------------------------

// A row of the engine at its present instant. Any text may be NULL for "".
// About EVENT; SHOW is the moment of the show it belongs to, NULL: the present one, if there is one.
void sm_log_event(sm_rehearsal *r, sm_log_what what, uint32_t event, const sm_show_time *show,
                  const char *target, const char *detail);
void sm_log_fired(sm_rehearsal *r, sm_fired fired, uint32_t event, const sm_show_time *show,
                  const char *target, const char *effect);
void sm_log_plain(sm_rehearsal *r, sm_log_what what, const char *target, const char *detail);
void sm_log_state(sm_rehearsal *r, sm_state state, sm_state old);
// An alert begins with RANK, or ends (0).
void sm_log_alert(sm_rehearsal *r, int rank, const char *name, const char *detail);
// The engine goes on with ACT, or ends it, by itself.
void sm_log_goes_on(sm_rehearsal *r, sm_act act, const char *target, const char *detail);
// The row of an action.
void sm_log_action(sm_rehearsal *r, const sm_action *action, sm_source source, const char *detail);
// `refused` in place of it, and the sentence for people.
void sm_log_refused(sm_rehearsal *r, const sm_action *action, sm_source source, const char *detail);
// `unpaired` in place of it.
void sm_log_unpaired(sm_rehearsal *r, const sm_action *action, const char *number);
void sm_log_guard(sm_rehearsal *r, sm_guard guard, sm_guard_word word, const char *why);

// What fits in needs no memory: so the row of a stop, or of a flame that closes, is whole whatever happens.
#define SM_WORDS_ROOM 512
// The words of a row; that memory ran out for some of them is noted.
const char *sm_row_words(sm_rehearsal *r, const sm_text *words);

// TEXT into OUT of ROOM bytes, cut where it does not fit, but in no character.
void sm_copy_cut(char *out, size_t room, const char *text);

// ---- place_now.c ----------------------------------------------------------------------------

// Show time at wall AT while running: never past the end, which a microsecond of the wall may overshoot at high speed.
sm_show_time sm_show_at(const sm_rehearsal *r, sm_wall_time at);
sm_show_time sm_show_now(const sm_rehearsal *r); // the place while not running
// Where the show stands: show time, but not before the place while counting down to it.
sm_show_time sm_place_now(const sm_rehearsal *r);

// ---- flame_home.c ---------------------------------------------------------------------------

// Hazard fixtures go home from where they stood at STOOD_AT, with a row each that was away.
void sm_hold_fixture_home(sm_rehearsal *r, uint32_t fixture, sm_show_time stood_at);
void sm_hold_all_home(sm_rehearsal *r, sm_show_time stood_at);
// Without a row: all but while running, inhibited ones and those without a link always.
void sm_hold_quietly(sm_rehearsal *r);

// ---- states_and_places.c --------------------------------------------------------------------

// Enters STATE with its row. Other than running: show time stands at the place, hazard fixtures go home from where they stood at
// STOOD_AT, with a row each.
void sm_enter_state(sm_rehearsal *r, sm_state state, sm_show_time stood_at);
void sm_make_safe(sm_rehearsal *r, const char *lapse);
void sm_run_from_place(sm_rehearsal *r, bool resume);
void sm_run_along_timecode(sm_rehearsal *r); // start or resume while one is LOCKED
void sm_seek_to(sm_rehearsal *r, sm_show_time to);
void sm_repeat_jump(sm_rehearsal *r);
// Recomputes whether the end of the repeat still lies ahead.
void sm_repeat_look(sm_rehearsal *r);
void sm_pause_here(sm_rehearsal *r);
void sm_all_pending(sm_rehearsal *r);
// The wait since SINCE; where it does not run yet (RUNS) it stands in full.
sm_wait sm_wait_look(const sm_show_settings *settings, bool misfired, sm_wall_time since, bool runs,
                     sm_wall_time now);

// ---- instants.c -------------------------------------------------------------------------------

void sm_end_arming(sm_rehearsal *r);
SM_MUST_CHECK sm_result sm_run_until(sm_rehearsal *r, sm_wall_time to, bool including);

// ---- alert_rows.c ---------------------------------------------------------------------------------

// Tells what began and ended, where anything can have. Once after each action and each instant.
void sm_alerts_tell(sm_rehearsal *r);
// FIXTURE was told something, or came home, while running.
void sm_alerts_flame_told(sm_rehearsal *r, uint32_t fixture);

// ---- firings.c ---------------------------------------------------------------------------------

// What hangs on EVENT's slot goes now. SHOW is the moment of the show for its row. Room was reserved.
void sm_fire_event(sm_rehearsal *r, uint32_t event, const sm_show_time *show, sm_fired fired);
// Room for one more burning firing. SM_NO_MEMORY: unchanged.
SM_MUST_CHECK sm_result sm_burning_reserve(sm_rehearsal *r);

// ---- injected.c: what a drill did -------------------------------------------------------------------

// Nothing has happened yet. False: no memory.
bool sm_injected_init(sm_rehearsal *r, const sm_show *show);
void sm_injected_deinit(sm_rehearsal *r);
void sm_injected_forget(sm_rehearsal *r); // without freeing: another holds it
// The latest call, as a screen shows it; and words that nobody has to answer.
void sm_hear_call(sm_rehearsal *r, const char *who, const char *text);
void sm_hear_silence(sm_rehearsal *r, const char *who);
void sm_hear_words(sm_rehearsal *r, const char *who, const char *text);
// EVENT's firing shows nothing now and goes LATE_US later; false: no room, it goes now.
bool sm_hang_fire(sm_rehearsal *r, uint32_t event, sm_us late_us);
// When the next hung firing goes. False: none hangs.
bool sm_hung_next(const sm_rehearsal *r, sm_wall_time *at);
// Name of a module that refuses to arm, NULL when none does.
const char *sm_refusing_module(const sm_rehearsal *r);
// No cue opens FIXTURE, which is hazardous, and SLOT's module holds its firings, while the link is lost.
bool sm_link_keeps_home(const sm_rehearsal *r, uint32_t fixture);
bool sm_link_holds(const sm_rehearsal *r, uint32_t slot);
void sm_injected_snapshot(const sm_rehearsal *r, sm_snapshot *s);

// ---- timecode_words.c -----------------------------------------------------------------------------

bool sm_timecode_has_line(sm_timecode_change change);
const char *sm_timecode_change_text(sm_timecode_change change);

// Where a start or resume at AT would begin, the count after it; only while LOCKED.
sm_show_time sm_timecode_begins(const sm_timecode_in *timecode, const sm_show *show, sm_wall_time at);
// When sm_timecode_outside next turns into another, after AT, as far as is known; INT64_MAX: never.
sm_us sm_timecode_turns_us(const sm_timecode_in *timecode, const sm_show *show, sm_wall_time at);
// ACT is not for people while the timecode has the place and the pace.
bool sm_timecode_keeps(const sm_timecode_in *timecode, sm_act act);

// ---- start_in.c -----------------------------------------------------------------------------------

// A start by itself, SPAN from now. The caller has looked at the guards.
void sm_start_set(sm_rehearsal *r, sm_us span);
// No start by itself any more, for good. Where one was set it is logged with WHY, for people.
void sm_start_cancel(sm_rehearsal *r, const char *why);
// Guards that start and resume ask, bit 1 << guard.
#define SM_ASKED_PEOPLE (1u << SM_GUARD_KEY | 1u << SM_GUARD_FIELD | 1u << SM_GUARD_CLEAR)

// ---- guard_status.c -----------------------------------------------------------------------------------

sm_guard_status sm_guard_look(const sm_rehearsal *r, sm_guard guard);
// Guards of the list ASKED (bit 1 << guard) that refuse now; appends their names to NAMES, their reasons to WHY.
bool sm_guards_refuse(const sm_rehearsal *r, unsigned asked, sm_text *names, sm_text *why);
void sm_lapse_clear(sm_rehearsal *r, const char *why);
void sm_lapse_waivers(sm_rehearsal *r);
// Waives GUARD for what REASON names. False: it names not all; MISSING gets the first missing one, or why it cannot be.
bool sm_guard_waive(sm_rehearsal *r, sm_guard guard, const char *reason, sm_source source, char missing[200]);

// ---- undo.c ---------------------------------------------------------------------------------------

// The oldest is forgotten where there is no room.
void sm_undo_remember(sm_rehearsal *r, sm_undo undo);
// Readings of SLOT, SM_NONE: of all, can no longer be taken back.
void sm_undo_forget_readings(sm_rehearsal *r, uint32_t slot);
void sm_undo_take_back(sm_rehearsal *r); // the latest

// ---- holds.c ---------------------------------------------------------------------------------------

void sm_holds_snapshot(const sm_rehearsal *r, sm_snapshot *s);

// ---- acts.c ----------------------------------------------------------------------------------------

// What ACTION does, its own row included. The caller has checked the state it is allowed in.
SM_MUST_CHECK sm_result sm_act_do(sm_rehearsal *r, const sm_action *action, sm_source source);

// ---- inhibits.c -----------------------------------------------------------------------------------

uint32_t sm_inhibit_find(const sm_rehearsal *r, const char *name); // SM_NONE: not in the list
// The caller has seen to it that there is room. Both change the list alone.
void sm_inhibit_add(sm_rehearsal *r, const char *name);
void sm_inhibit_remove(sm_rehearsal *r, uint32_t at);
// Holds and lets go what the list says; hazard fixtures newly held go home with a row each.
void sm_inhibits_apply(sm_rehearsal *r);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// The rehearsal: a pure, deterministic function of (state, time, action) in integer microseconds. No clock, thread, file, sound or
// screen in here: whoever drives it says what time it is. One rehearsal belongs to one thread at a time.
#ifndef SLOWMATCH_ENGINE_H
#define SLOWMATCH_ENGINE_H

#include "slowmatch/dmx.h"
#include "slowmatch/proposals.h"
#include "slowmatch/rig.h"
#include "slowmatch/show.h"
#include "slowmatch/timecode_in.h"

// ---- words -------------------------------------------------------------------------

typedef enum sm_state {
    SM_STATE_SAFE,
    SM_STATE_ARMING,
    SM_STATE_ARMED,
    SM_STATE_RUNNING,
    SM_STATE_PAUSED,
    SM_STATE_ENDED,
    SM_STATE_COUNT
} sm_state;
const char *sm_state_text(sm_state state); // "safe" ...
sm_state sm_state_named(const char *text); // SM_STATE_COUNT: none

typedef enum sm_source {
    SM_SOURCE_CONSOLE,
    SM_SOURCE_REMOTE,
    SM_SOURCE_SCRIPT,
    SM_SOURCE_DRILL,
    SM_SOURCE_INSTRUCTOR,
    SM_SOURCE_SEAT, // a person who follows elsewhere, at a seat that the lead granted
    SM_SOURCE_ENGINE,
    SM_SOURCE_COUNT
} sm_source;
const char *sm_source_text(sm_source source);
sm_source sm_source_named(const char *text); // "seat left" too; SM_SOURCE_ENGINE where it names none

// A seat's name: a word, its NUL included.
#define SM_SEAT_NAME 32
// The name of who sits there.
#define SM_SEAT_WHO 64
// SOURCE and where it is a seat which one: "seat left". Returns OUT.
const char *sm_source_put(char out[SM_SEAT_NAME + 8], sm_source source, const char *seat);
// Which one, "" where TEXT names none.
const char *sm_source_seat(const char *text);

typedef enum sm_guard {
    SM_GUARD_KEY,
    SM_GUARD_FIELD,
    SM_GUARD_CLEAR,
    SM_GUARD_RAILS,
    SM_GUARD_READINGS,
    SM_GUARD_COUNT
} sm_guard;
const char *sm_guard_text(sm_guard guard); // "key", "field", ...

typedef enum sm_guard_word {
    SM_GUARD_MET,
    SM_GUARD_NOT_MET,
    SM_GUARD_NOT_CHECKED,
    SM_GUARD_WAIVED
} sm_guard_word;
const char *sm_guard_word_text(sm_guard_word word); // "MET", "NOT MET", "NOT CHECKED", "WAIVED"

typedef struct sm_guard_status {
    sm_guard_word word;
    char why
        [160]; // "clear called by J", "41 of 48 slots unread", "A-05 open, B-02 short and 2 more", "by K: B-02 broken lead"
    sm_wall_time since; // since when it is so, of readings the oldest; us SM_UNSET_US: not known
} sm_guard_status;

// ---- actions: the one table ----------------------------------------------------------

typedef enum sm_act {
    SM_ACT_KEY_ON,
    SM_ACT_KEY_OFF,
    SM_ACT_CALL_CLEAR,
    SM_ACT_ARM,
    SM_ACT_START,
    SM_ACT_START_IN,
    SM_ACT_START_IN_OFF,
    SM_ACT_PAUSE,
    SM_ACT_RESUME,
    SM_ACT_HOLD,
    SM_ACT_LIFT,
    SM_ACT_SAFE,
    SM_ACT_SEEK,
    SM_ACT_SPEED,
    SM_ACT_REPEAT,
    SM_ACT_REPEAT_OFF,
    SM_ACT_MARK,
    SM_ACT_RERIG,
    SM_ACT_INHIBIT,
    SM_ACT_ALLOW,
    SM_ACT_PLUG,
    SM_ACT_UNPLUG,
    SM_ACT_EXCHANGE,
    SM_ACT_REPAIR,
    SM_ACT_ENTER,
    SM_ACT_LEAVE,
    SM_ACT_MEASURE,
    SM_ACT_READ,
    SM_ACT_KEEP_READINGS,
    SM_ACT_REPORT,
    SM_ACT_WIND,
    SM_ACT_WAIVE,
    SM_ACT_TICK,
    SM_ACT_SIGN,
    SM_ACT_NOTE,
    SM_ACT_SEAT,
    SM_ACT_PAPER,
    SM_ACT_PROPOSE,
    SM_ACT_LISTEN,
    SM_ACT_LISTEN_OFF,
    SM_ACT_APPLY,
    SM_ACT_UNDO,
    SM_ACT_RELOAD,
    SM_ACT_VOLUME,
    SM_ACT_MUTE,
    SM_ACT_LIGHTS_ON,
    SM_ACT_LIGHTS_ANSWER,
    SM_ACT_LIGHTS_OFF,
    SM_ACT_HINT,
    SM_ACT_TRIGGER,
    SM_ACT_CALL,
    SM_ACT_ANSWER,
    SM_ACT_ASK,
    SM_ACT_INJECT,
    SM_ACT_JUDGE,
    SM_ACT_REMARK,
    SM_ACT_PASS_TIME,
    SM_ACT_HOLD_DRILL,
    SM_ACT_GO_DRILL,
    SM_ACT_QUIT,
    SM_ACT_COUNT
} sm_act;

// What an argument is: how it is read, how completion offers it.
typedef enum sm_argument {
    SM_ARG_NONE,
    SM_ARG_WHO,
    SM_ARG_TEXT,
    SM_ARG_NAME,
    SM_ARG_NOTE,
    SM_ARG_REASON,
    SM_ARG_MOMENT,
    SM_ARG_SPEED,
    SM_ARG_TARGET,
    SM_ARG_RAIL,
    SM_ARG_SLOT,
    SM_ARG_VALUE,
    SM_ARG_WIND,
    SM_ARG_GUARD,
    SM_ARG_ITEM,
    SM_ARG_ANSWER,
    SM_ARG_MEASURED,
    SM_ARG_RERIG,
    SM_ARG_VOLUME,
    SM_ARG_EVENT,
    SM_ARG_SPAN,
    SM_ARG_COUNT,
    SM_ARG_CUE,
    SM_ARG_STEP
} sm_argument;

#define SM_ACTION_ARGUMENTS 4
typedef struct sm_action_row {
    const char *name; // "key on", "seek"
    sm_argument arguments[SM_ACTION_ARGUMENTS];
    uint8_t needed; // how many of them must be given
    uint8_t states; // bit 1 << sm_state for each state it is allowed in
    bool drill_only;
    const char *form; // "seek MOMENT"
    const char *help; // one line
    bool no_drill;
} sm_action_row;
// Row of ACT; static.
const sm_action_row *sm_action_row_of(sm_act act);
// The first word of its name, as the log has it ("key"); static.
const char *sm_act_word(sm_act act);

// An action with its arguments, read and resolved against one show.
typedef struct sm_action {
    sm_act act;
    int32_t remote;          // number of the hand-held remote it came by, 0: none
    char seat[SM_SEAT_NAME]; // it came from, "": none
    char target[96];         // first argument, as the log shows it
    char detail[224];        // the rest
    uint32_t index;          // slot, rail or cue, SM_NONE where none (measure: all rails)
    uint32_t second;         // exchange: the other rail
    // seek, repeat. SM_UNSET_US: a mark's name, in target / detail. start-in: the span. propose: where to, or how far in end_us
    sm_us moment_us, end_us;
    int32_t speed_ppm;   // speed, millionths
    sm_read_value value; // read
    double number;       // wind (m/s), volume (per cent)
    sm_guard guard;      // waive
    int32_t count;       // undo: how many, 0 where not given
    bool rerig;
    bool from_file; // read: of a file that was taken in, not by hand
    bool onwards;   // propose: every cue from there on
    bool beat;      // propose: to the nearest beat that was tapped
} sm_action;

// Reads one line ("read A-05 1.83", "remote 2 arm"). SM_INVALID: WHY gets one clear sentence (what is wrong, what would be right) and
// *at the byte offset of the word at fault.
SM_MUST_CHECK sm_result sm_action_read(const sm_show *show, const char *text, size_t length, sm_action *out,
                                       char why[200], size_t *at);

// ---- log rows ---------------------------------------------------------------------------

#define SM_LOG_HEADER "wall,show,source,what,cue,target,detail,late_us"

// What a row is about. Its word stands in the log and in the logbook; the program compares no words.
typedef enum sm_log_what {
    SM_LOG_ACTION, // an action was done, or the engine goes on with one (`repeat` again, `start-in` cancelled)
    SM_LOG_REFUSED,  // in place of the action's row
    SM_LOG_UNPAIRED, // in place of the action's row
    SM_LOG_STATE,
    SM_LOG_GUARD,
    SM_LOG_FIRE,
    SM_LOG_MISFIRE,
    SM_LOG_PASSED,
    SM_LOG_SPENT,
    SM_LOG_INHIBITED,
    SM_LOG_OUT,
    SM_LOG_SET,
    SM_LOG_HOME,
    SM_LOG_SOUND,
    SM_LOG_LIGHTS,   // on a wire
    SM_LOG_TIMECODE, // that comes in
    SM_LOG_EVENT,
    SM_LOG_ALERT,   // one began or ended (slowmatch/alerts.h)
    SM_LOG_MARK,    // a drill's; the action `mark` is an action
    SM_LOG_UNKNOWN, // read from a log of another version
    SM_LOG_COUNT
} sm_log_what;

// How a firing went.
typedef enum sm_fired { SM_FIRED_WHEN_DUE, SM_FIRED_LATE, SM_FIRED_BY_ITSELF, SM_FIRED_COUNT } sm_fired;

typedef struct sm_log_kind {
    sm_log_what what;
    sm_act act;     // of ACTION, REFUSED, UNPAIRED
    sm_state state; // of STATE: the new one
    sm_fired fired; // of FIRE; not read back from a log
    int rank;       // of ALERT: its sm_alert_rank where it begins, 0: it ends; not read back from a log
} sm_log_kind;
// The word of the log; static.
const char *sm_log_word(sm_log_kind kind);
// From the words of a log. Where a row tells only the first word of an action (`refused`), the first action of that word.
sm_log_kind sm_log_kind_read(sm_source source, const char *word, const char *target);
// ACT was done.
bool sm_log_is_act(sm_log_kind kind, sm_act act);

typedef struct sm_log_row {
    sm_wall_time wall;
    bool has_show;
    sm_show_time show;
    sm_source source;
    const char *seat; // of that source; NULL: none
    sm_log_kind kind;
    const char *cue, *target, *detail; // never NULL, live only during the call
    sm_us late_us;
} sm_log_row;
typedef void (*sm_log_sink)(void *context, const sm_log_row *row);
// Called with each action just before it acts or is refused, before its own row. Live only during the call.
typedef void (*sm_action_sink)(void *context, const sm_action *action, sm_source source, sm_wall_time at);
// One CSV record with its newline, appended to OUT.
void sm_log_row_format(sm_text *out, const sm_log_row *row);

// ---- the rehearsal -------------------------------------------------------------------------

typedef struct sm_rehearsal sm_rehearsal;

typedef struct sm_rehearsal_options {
    bool bare;                // every rail starts unplugged
    bool readings_not_judged; // headless without a script: guard `readings` is not judged
    bool drill; // a drill: its actions are allowed, a reading by hand changes nothing out there, no reload
    bool no_alerts;   // the log tells none and sm_rehearsal_alerts has none: for searches, which nobody reads
    sm_log_sink sink; // called for each row, in wall order; may be NULL
    sm_action_sink acted; // may be NULL; gets sink_context too
    void *sink_context;
} sm_rehearsal_options;

// The show's readings shape the field. SHOW must outlive the rehearsal. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_rehearsal_create(const sm_show *show, const sm_rehearsal_options *options,
                                            sm_rehearsal **out);
void sm_rehearsal_destroy(sm_rehearsal *rehearsal);

// Time. Everything has a due time on the rehearsal's own clock; what is logged as `wall` is when it was issued: ISSUED or the due time,
// whichever is later. A virtual clock leaves ISSUED at 0.
void sm_rehearsal_issue_at(sm_rehearsal *rehearsal, sm_wall_time issued);
// When the next thing is due by itself (arming ends, an event, an end, `ended`). False: nothing, until somebody acts.
bool sm_rehearsal_next_due(const sm_rehearsal *rehearsal, sm_wall_time *due);
// Does everything due up to and including TO. SM_NO_MEMORY: stopped before the thing it could not hold; call again.
SM_MUST_CHECK sm_result sm_rehearsal_run(sm_rehearsal *rehearsal, sm_wall_time to);
// Does everything due before AT and the end of arming at AT, then ACTION. SM_REFUSED: logged so, nothing changed; sm_rehearsal_refusal
// says why. AT before the last time given counts as that.
SM_MUST_CHECK sm_result sm_rehearsal_act(sm_rehearsal *rehearsal, const sm_action *action, sm_source source,
                                         sm_wall_time at);
// Why the last action was refused: one sentence for people; "" when it was not.
const char *sm_rehearsal_refusal(const sm_rehearsal *rehearsal);
// What a careful crew would not do as things stand, where ACTION will be done all the same (hands or feet in the field unless safe
// with the key off, a key or a measurement with anyone there): appended to OUT, nothing where there is nothing to say. To be asked
// before the action.
void sm_rehearsal_caution(const sm_rehearsal *rehearsal, const sm_action *action, sm_text *out);
// What happened to the sound.
typedef enum sm_sound_change {
    SM_SOUND_DEVICE,
    SM_SOUND_SILENT,
    SM_SOUND_LOST,
    SM_SOUND_BACK,
    SM_SOUND_CHANGE_COUNT
} sm_sound_change;
const char *sm_sound_change_text(sm_sound_change change); // "device" ...
// A row about the sound at AT.
SM_MUST_CHECK sm_result sm_rehearsal_sound(sm_rehearsal *rehearsal, sm_sound_change change,
                                           const char *detail, sm_wall_time at);
// What happened to the lights on a wire.
typedef enum sm_lights_change {
    SM_LIGHTS_ON, // by whoever stated that no flame unit is connected
    SM_LIGHTS_OFF,
    SM_LIGHTS_LAPSED,  // what was stated no longer holds
    SM_LIGHTS_STOPPED, // by a fault: nothing is sent any more
    SM_LIGHTS_CHANGE_COUNT
} sm_lights_change;
const char *sm_lights_change_text(sm_lights_change change); // "on" ...
// A row about them at AT.
SM_MUST_CHECK sm_result sm_rehearsal_lights(sm_rehearsal *rehearsal, sm_lights_change change,
                                            const char *detail, sm_wall_time at);
// The level of every channel at AT as on the wire, as the snapshot has it: show->channel_count of them.
void sm_rehearsal_levels(const sm_rehearsal *rehearsal, sm_wall_time at, uint8_t *levels);
// An action `reload` or `apply` was accepted and waits for one of the next two; its row, or `refused` in place of it, is theirs.
bool sm_rehearsal_reload_asked(const sm_rehearsal *rehearsal);
// Puts SHOW (loaded again) in place of the old one, in state safe: readings, plugs, spent slots, people, inhibits are kept by name,
// proposals by the cues' ids. Logs `reload`; or `apply`, where what was proposed stands in it, and forgets that. SM_NO_MEMORY: unchanged. The old show may be destroyed afterwards.
SM_MUST_CHECK sm_result sm_rehearsal_replace_show(sm_rehearsal *rehearsal, const sm_show *show);
// What is proposed, in order: at most SM_PROPOSALS_MAX into OUT. Returns how many.
uint32_t sm_rehearsal_proposals(const sm_rehearsal *rehearsal, sm_proposal out[SM_PROPOSALS_MAX]);
// Memory ran out for words of a row of the log since this was last asked.
bool sm_rehearsal_lost_words(sm_rehearsal *rehearsal);
// `reload` or `apply` that failed: logs `refused`, with WHY; all stays as it was.
void sm_rehearsal_reload_failed(sm_rehearsal *rehearsal, const char *why, sm_wall_time at);

// ---- looking at it ----------------------------------------------------------------------------

// Marks what an inhibit of NAME holds: SLOTS (show->slot_count) and FIXTURES (show->fixture_count); what is marked stays so.
void sm_inhibit_mark(const sm_show *show, const char *name, bool *slots, bool *fixtures);
sm_state sm_rehearsal_state(const sm_rehearsal *rehearsal);
bool sm_rehearsal_quit(const sm_rehearsal *rehearsal); // `quit` was done
// The longest span of `start-in`.
#define SM_START_IN_MAX_US (INT64_C(24) * 3600 * SM_US_PER_S)
// A start by itself is set (`start-in`), and when it is due.
bool sm_rehearsal_starts_at(const sm_rehearsal *rehearsal, sm_wall_time *at);
// What the sound must follow.
sm_show_clock sm_rehearsal_show_clock(const sm_rehearsal *rehearsal);
// What the sound must follow beside it.
typedef struct sm_heard {
    bool repeats; // at show time `repeat_to`, which lies ahead, it goes back to `repeat_from`
    sm_show_time repeat_from, repeat_to;
    double volume; // per cent
    bool muted;    // by hand, or by a drill's `sound lost`
    sm_us music_off_us;
    sm_preview preview; // while it is on, this in place of the show's clock
} sm_heard;
sm_heard sm_rehearsal_heard(const sm_rehearsal *rehearsal);

typedef enum sm_slot_phase {
    SM_SLOT_SPARE,   // no cue fires it
    SM_SLOT_WAITING, // not fired yet
    SM_SLOT_FLYING,  // fired, before the audience sees it
    SM_SLOT_BURNING,
    SM_SLOT_SPENT,
    SM_SLOT_MISFIRED, // due, and did not fire: live
    SM_SLOT_PASSED,   // skipped: live
    SM_SLOT_HELD      // due while inhibited: live
} sm_slot_phase;

typedef struct sm_slot_view {
    sm_slot_phase phase;
    sm_read_value reading;
    sm_verdict verdict;
    bool inhibited;
    bool reported;    // its misfire was reported
    bool tipped;      // a drill: what stands there has tipped over
    bool fired_alone; // a drill: it went by itself
    bool
        by_hand; // the reading was entered in this rehearsal, neither measured in the simulated field nor from a file
    sm_wall_time read_at; // wall of the reading; us is SM_UNSET_US where it came from a file
    int64_t read_when_us; // of a file: when, microseconds since 1970; SM_UNSET_US where it does not say
    sm_wall_time until;   // FLYING: seen at; BURNING: out at
} sm_slot_view;

typedef struct sm_burning {
    uint32_t event, slot;
    sm_wall_time seen_at, out_at;
} sm_burning;

#define SM_PEOPLE_MAX 64
#define SM_MARKS_MAX 64
#define SM_INHIBITS_MAX 64
typedef struct sm_person {
    char name[96];
    sm_wall_time since;
} sm_person;
typedef struct sm_mark {
    char name[96];
    sm_show_time at;
} sm_mark;

typedef enum sm_flame_fault { SM_FLAME_AS_TOLD, SM_FLAME_STUCK, SM_FLAME_GONE } sm_flame_fault;
#define SM_REMOTES_MAX 16
typedef struct sm_remote_view {
    int32_t number;
    bool unpaired_heard, weak;
} sm_remote_view;

// What a drill has put in the trainee's way, as far as it can be seen or heard. All nothing in a plain rehearsal.
typedef struct sm_incidents {
    bool link_lost;
    sm_state link_state;  // the last state known
    sm_wall_time link_at; // when the link was lost, or came back; us SM_UNSET_US: it was never lost
    bool storm, sound_lost;
    sm_us music_off_us;                // how far the music is off, 0: in step
    char call_who[96], call_text[224]; // the latest call; an unanswered one has the text "(no answer)"
    sm_wall_time call_at;              // us SM_UNSET_US: nobody has called
    uint32_t calls_open;               // calls since the latest answer, or since clear was called
    uint32_t silent_open; // those of them who did not answer: a clear that is called answers none
    char silent_who[160]; // their names, ", " between them, as far as there is room; each until they call
    char answer[224];     // to the latest call, "" while there is none
    sm_wall_time answer_at;
    char latest[240];                       // the latest thing that happened and can be seen, for one line
    sm_wall_time latest_at;                 // us SM_UNSET_US: nothing yet
    sm_remote_view remotes[SM_REMOTES_MAX]; // of which there is something to say
    uint32_t remote_count;
} sm_incidents;

// Everything a screen needs, copied out in one go. Arrays have the show's sizes.
typedef struct sm_snapshot {
    const sm_show *show;
    sm_wall_time wall;
    sm_state state;
    sm_wall_time state_since;
    sm_wall_time arming_ends; // while arming
    bool has_show;            // show time is worth showing (a place was set, or running, paused, ended)
    sm_show_time at;          // show time now; in safe, arming, armed: the place (0)
    int32_t speed_ppm;
    bool counting_down; // running, before the place it was started from
    sm_show_time place; // where start or resume begins (or began)
    sm_timecode_in timecode;
    sm_wall_time starts_at; // a start by itself; us SM_UNSET_US: none is set
    char start_cancelled
        [160]; // why the latest one was cancelled, "" where none was since the module was armed
    sm_wall_time start_cancelled_at;
    bool key;
    sm_guard_status guards[SM_GUARD_COUNT];
    sm_person people[SM_PEOPLE_MAX];
    uint32_t people_count;
    bool clear_called;
    char clear_who[96], clear_lapse[160];
    sm_wall_time clear_at; // of the call, or of the lapse
    bool wind_known;
    double wind_m_s;
    sm_wall_time wind_at;
    uint32_t cursor;      // position in show->order of the next event to come
    uint32_t next_firing; // event number of the next firing to come that is not held back or spent, SM_NONE
    uint32_t flying, burning_count, misfired, passed; // slots
    sm_burning *burning;   // those in flight and burning, soonest out first (count flying + burning_count)
    uint32_t burning_room; // every firing and 64 more; a short repeat with rerig may burn more than it lists
    sm_slot_view *slots;   // show->slot_count
    bool *rail_plugged;    // show->rail_count
    uint8_t *levels;       // show->channel_count, as on the wire
    bool *fixture_inhibited; // show->fixture_count
    bool wait_runs;          // re-entry wait: counting since wait_since; at `ended` it does not run
    sm_wall_time wait_since; // us SM_UNSET_US: nothing to wait for yet
    bool repeat_on, repeat_rerig;
    sm_show_time repeat_from, repeat_to;
    sm_mark marks[SM_MARKS_MAX];
    uint32_t mark_count;
    sm_proposal proposals[SM_PROPOSALS_MAX];
    uint32_t proposal_count;
    sm_preview preview;
    char inhibits[SM_INHIBITS_MAX][96];
    uint32_t inhibit_count;
    double volume; // per cent
    bool muted;
    sm_incidents incidents;
    bool *fire_at;         // an unwanted fire; show->position_count
    bool *feed_lost;       // show->feed_count
    bool *fixture_dark;    // its feed or one before it is lost; show->fixture_count
    uint8_t *flame_faults; // sm_flame_fault; show->fixture_count
    sm_us *
        permit_idle_us; // flame units: how long the enable is open with no flame, show time; show->fixture_count
    bool *module_refuses;             // to arm; show->module_count
    uint32_t hold_count;              // holds that nobody has lifted yet
    char hold_who[96], hold_why[224]; // of the first of them, "" for none
    sm_wall_time hold_at;
    char made_safe_at[24]; // "0:43.200" after a make safe from running or paused, "" otherwise
} sm_snapshot;

SM_MUST_CHECK sm_result sm_snapshot_create(const sm_show *show, sm_snapshot **out);
void sm_snapshot_destroy(sm_snapshot *snapshot);
// Fills SNAPSHOT (made for the same show) as of wall AT; does not advance the rehearsal.
void sm_rehearsal_snapshot(const sm_rehearsal *rehearsal, sm_wall_time at, sm_snapshot *snapshot);

// ---- what a snapshot says, put together --------------------------------------------------------

// What flame unit FIXTURE does.
typedef struct sm_flame_view {
    bool is_flame; // else the rest is not set
    bool enabled;  // its enable channel is open
    bool told;     // to burn, by its channels
    bool lit;      // it burns; other than `told` where it has a fault or no feed
    uint8_t level; // of the fire channel
} sm_flame_view;
sm_flame_view sm_flame_look(const sm_snapshot *snapshot, uint32_t fixture);
// Flames that burn now.
uint32_t sm_flames_lit(const sm_snapshot *now);

// The wait before anybody goes in: the longer of the two that hold. The one place where it is computed.
typedef struct sm_wait {
    bool asked;       // something fired or misfired; else the rest is not set
    bool runs;        // made safe, and the link stands: it counts. Else it stands in full (`limit_us`)
    bool has_run;     // the limit is set and over
    sm_us limit_us;   // SM_UNSET_US: NOT SET
    sm_us gone_us;    // 0 until it runs
    const char *name; // the setting: "reentry-wait", "misfire-wait"
} sm_wait;
sm_wait sm_snapshot_wait(const sm_snapshot *now);
// "wait 04:10 of 30:00 since made safe (your setting)", appended to OUT; nothing where nothing is waited for. Returns how many
// bytes of it are essential.
uint32_t sm_wait_describe(const sm_snapshot *now, sm_text *out);
// The wait has not run, or something burns.
bool sm_snapshot_all_stay_out(const sm_snapshot *now);

// FIRING is an aerial that would still go: neither held back, spent, misfired nor passed over.
bool sm_snapshot_aerial_goes(const sm_snapshot *now, uint32_t firing);
// The wind is over the limit that is set, and an aerial would still go.
bool sm_snapshot_wind_over(const sm_snapshot *now);

// Why the engine would refuse ACT as things stand, one of those that arm, start or go on: "A-05 open, C-08 short; key OFF", appended
// to WHY. False: it would not, or is no such action.
bool sm_snapshot_refuses(const sm_snapshot *now, sm_act act, sm_text *why);
// The same in few words, for a row that is cut and has the timecode elsewhere: "hold by M; field; clear".
bool sm_snapshot_refuses_briefly(const sm_snapshot *now, sm_act act, sm_text *why);
// "hold by M: a person at the fence; to be lifted when M agrees", appended to OUT, of the first of COUNT.
void sm_hold_describe(const char *who, const char *why, uint32_t count, sm_text *out);
// Why it lets nothing start or go on at AT, appended to WHY. False: it does, or nobody listens.
bool sm_timecode_refuses(const sm_timecode_in *timecode, const sm_show *show, sm_wall_time at, sm_text *why);

// An unwanted fire stands anywhere.
bool sm_snapshot_fire(const sm_snapshot *now);
// Something for which practice asks make safe and key off: fire, a flame that burns on, a slot that fired by itself, a unit that
// tipped over, a storm, nobody answering.
bool sm_snapshot_danger(const sm_snapshot *now);

// ---- the operator: a script, or the built-in sequence --------------------------------------------

typedef struct sm_operator sm_operator;
// Reads a script (format.md). All findings at once, with FILE as their file. *out only on SM_OK.
SM_MUST_CHECK sm_result sm_operator_read(const sm_show *show, const char *file, const char *text,
                                         size_t length, sm_findings *findings, sm_operator **out);
// The built-in sequence: call-clear, key on, arm at wall 0, start when armed.
SM_MUST_CHECK sm_result sm_operator_builtin(const sm_show *show, sm_operator **out);
// OPERATOR (the same script, read against the show loaded again) goes on where OLD was.
void sm_operator_follow(sm_operator *operator_, const sm_operator *old);
void sm_operator_destroy(sm_operator *operator_);

typedef enum sm_operator_word {
    SM_OPERATOR_WAIT, // the next line acts at *at
    SM_OPERATOR_HELD, // lines are left, none can act until the rehearsal moves by itself
    SM_OPERATOR_OUT,  // no line is left
    SM_OPERATOR_NEVER // a line is left whose moment can never come
} sm_operator_word;
sm_operator_word sm_operator_next(const sm_operator *operator_, const sm_rehearsal *rehearsal,
                                  sm_wall_time *at);
// The line that acts next (0: none), for a message.
uint32_t sm_operator_line(const sm_operator *operator_);
// Whose line that is: of the operator, or in a drill of the instructor.
sm_source sm_operator_source(const sm_operator *operator_);
// That line's action, which its caller acts at AT; goes on to the line after it.
const sm_action *sm_operator_take(sm_operator *operator_, sm_wall_time at);
// A headless run is over.
bool sm_rehearsal_is_over(const sm_rehearsal *rehearsal, sm_operator_word word);

#endif

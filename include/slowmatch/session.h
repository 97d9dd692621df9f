// SPDX-License-Identifier: GPL-3.0-or-later
// A rehearsal being run: the engine or a drill around it, its sound, log, logbook, instructor and outlets, and the one road to all of
// them. Lines of text go in, rows and snapshots come out. It knows no screen.
//
// One function, sm_session_step, moves everything. Who calls it is the *driver*: a thread of the session's own (sm_session_start), or
// the caller's loop. Time is the sound's clock (the silent one where there is no sound), or a virtual one: the moments that the steps are
// given.
//
// Unless said otherwise a function is for any one thread beside the driver's, takes a session that sm_session_create made, cannot fail,
// and waits for no more than a short lock.
#ifndef SLOWMATCH_SESSION_H
#define SLOWMATCH_SESSION_H

#include "slowmatch/audio.h"
#include "slowmatch/drill.h"
#include "slowmatch/engine.h"
#include "slowmatch/walk.h"

typedef struct sm_session sm_session;

// ---- what it gives out ----------------------------------------------------------------------

// What there is to show of a drill: the latest thing to be seen or heard, what is next, what was marked.
typedef struct sm_drill_view {
    const sm_drill *drill; // NULL: no drill
    bool over, held, broken_off;
    char hint[240];
    sm_act next;      // what it is about, SM_ACT_COUNT: nothing
    char marked[240]; // the latest mark, "" while there is none
    sm_wall_time marked_at;
    char asked[240]; // the latest hint that was asked for, "" while there is none
    sm_wall_time asked_at;
} sm_drill_view;

// The latest rows of the log: more than a show of the usual size has, so that what misfired at its beginning can still be found at its end.
#define SM_RECENT_ROWS 1792

typedef struct sm_recent_row {
    sm_wall_time wall;
    bool has_show;
    sm_show_time show;
    sm_source source;
    char seat[SM_SEAT_NAME]; // of that source, "": none
    sm_log_kind kind;
    char cue[32], target[96], detail[224]; // as an action has them; cut where longer
} sm_recent_row;

// A ring: row number N (from 0) is in rows[N % SM_RECENT_ROWS]. {0} is a valid empty one.
typedef struct sm_recent {
    uint64_t count; // rows ever put in
    sm_recent_row rows[SM_RECENT_ROWS];
} sm_recent;

void sm_recent_put(sm_recent *recent, const sm_log_row *row);
// Brings TO, an older copy of FROM, up to date.
void sm_recent_follow(sm_recent *to, const sm_recent *from);
// Row AGE rows before the newest (0); NULL where there is none.
const sm_recent_row *sm_recent_at(const sm_recent *recent, uint64_t age);

// A drill to be taken, and what came of it: set when the rehearsal has ended.
typedef struct sm_drill_taken {
    const sm_drill *drill; // of the show; outlives the session
    uint64_t seed;
    const char *crew; // NULL: nobody named
    bool piped;       // its lines come out of no terminal: as a script's, they are nobody's
    bool taken;       // the rest is set
    bool passed;
    sm_debrief *debrief; // the caller's to destroy
    sm_text json;        // its marks; the caller's to deinit
} sm_drill_taken;

// ---- outlets --------------------------------------------------------------------------------

#define SM_SESSION_PROBLEM 320

typedef enum sm_outcome_kind {
    SM_OUTCOME_REFUSED, // the engine refused it
    SM_OUTCOME_WRONG,   // it could not be understood, or could not be done
    SM_OUTCOME_TOLD     // it was done, and there is something to say
} sm_outcome_kind;

// What whoever sits elsewhere is told alone.
typedef enum sm_seat_word {
    SM_SEAT_ANSWERED, // what came of their line
    SM_SEAT_PROMPTED, // what they are to know, or to say
    SM_SEAT_DEBRIEFED // what they did, when it is over
} sm_seat_word;

// Something that follows the rehearsal: lines on standard output, lights, followers. All callbacks run on the driver's thread, within
// a step; none may wait, and what goes to a network does so from a thread or a process of the outlet's own. It begins off: nothing
// leaves the program before an action asks for it.
typedef struct sm_outlet {
    const char *name;
    // Begins it for SESSION, which is not running yet (sm_session_act is for later). CONTEXT is the options'. *SELF is handed to the
    // others; left NULL, nobody asked for the outlet and none of them is called. On failure the session does not begin, and PROBLEM
    // has one line.
    sm_result (*create)(sm_session *session, void *context, char problem[SM_SESSION_PROBLEM], void **self);
    // The rehearsal stands at wall 0, and nothing has happened: before the first step catches up with anything. NULL: it needs none.
    void (*begin)(void *self);
    // Each row of the log, in wall order; lives only during the call. NULL: it needs none.
    void (*row)(void *self, const sm_log_row *row);
    // Each snapshot that is made: when something has changed, or one was asked for. NULL: it needs none.
    void (*snapshot)(void *self, const sm_snapshot *snapshot);
    // After everything else of a step at NOW. Returns when it wants the next step at the latest; us INT64_MAX: whenever. NULL: it
    // needs none.
    sm_wall_time (*step)(void *self, sm_wall_time now);
    // TEXT is for whoever sits at SEAT, and nobody else. NULL: it knows no seats.
    void (*tell_seat)(void *self, const char *seat, sm_seat_word word, const char *text);
    // The rehearsal has ended and its last row was given. NULL: nothing to free.
    void (*destroy)(void *self);
} sm_outlet;

#define SM_OUTLETS_MAX 8

// What there is to see of lights on a wire. {0}: no outlet is for them.
#define SM_LIGHTS_WORDS 4000
typedef struct sm_lights_view {
    bool there;                  // --lights was given
    bool on;                     // they are sent
    char asks[448];              // the question that stands, "" for none
    char alert[160];             // "LIGHTS ON THE WIRE universe 1 to 10.9.0.2, by J", "" for none
    char words[SM_LIGHTS_WORDS]; // lines: what goes where, what does not and why, what others were heard
} sm_lights_view;

// Seats on other machines that the lead granted, and who sits there. {0}: none.
#define SM_SEATS_MAX 8
#define SM_SEAT_INSTRUCTOR "instructor" // of that seat: it acts as the instructor
typedef enum sm_sits {
    SM_SITS_NOBODY,
    SM_SITS_THERE,
    SM_SITS_LOST, // nothing is heard of them; the lead frees the seat by name
    SM_SITS_COUNT
} sm_sits;

typedef struct sm_seat_view {
    char name[SM_SEAT_NAME], who[SM_SEAT_WHO]; // who: "" for nobody named
    sm_sits sits;
    bool asked; // by somebody else, who does not sit there
    sm_wall_time since;
} sm_seat_view;

typedef struct sm_seats_view {
    uint32_t count;
    sm_seat_view at[SM_SEATS_MAX];
} sm_seats_view;
// "spotter: Kim · left: free · K: LOST, Ann", appended to OUT; nothing without seats.
void sm_seats_describe(const sm_seats_view *seats, bool drill, sm_text *out);

// For outlets, within their callbacks.
const sm_show *sm_session_show(const sm_session *session);
sm_state sm_session_state(const sm_session *session);
bool sm_session_drills(const sm_session *session); // a drill is taken, and is not over
// The level of every channel now (show->channel_count of them).
void sm_session_levels(const sm_session *session, uint8_t *levels);
void sm_session_say(sm_session *session, sm_outcome_kind kind, const char *text);
// A row of the log; and what there is to see.
void sm_session_log_lights(sm_session *session, sm_lights_change change, const char *detail);
// News of a timecode that comes in.
void sm_session_timecode(sm_session *session, const sm_timecode_news *news);
const sm_timecode_in *sm_session_timecode_in(const sm_session *session);
// Where the show stands and how it goes on.
sm_show_clock sm_session_show_clock(const sm_session *session);
// When the CLOCK_MONOTONIC moment MONO_NS, near now, is on the rehearsal's clock.
sm_wall_time sm_session_wall_at(sm_session *session, int64_t mono_ns);
void sm_session_show_lights(sm_session *session, const sm_lights_view *view);
// Who sits where now: what has changed is logged and told, and a drill no longer plays who sits there. `since` is set here.
void sm_session_show_seats(sm_session *session, const sm_seats_view *view);

// ---- making one -----------------------------------------------------------------------------

typedef struct sm_session_options {
    sm_show *show;       // taken over, also on failure
    sm_findings *loaded; // what loading it found, NULL: nothing; taken over as well
    const char *readings_file;
    sm_drill_taken *drill; // NULL: none. Its result is set by sm_session_end
    // An operator acts: the lines of the script, or without one the built-in sequence; the session is over with them. Without an
    // operator people act, and it is never over.
    bool operated;
    const char *script_path;
    sm_findings *script_findings; // gets what is wrong with the script; NULL only without one
    const char *log_path;
    const char *logbook_path; // NULL: not kept
    char *unkept;             // 400 bytes: at the end, why it is not in its logbook, "" where it is; NULL
    const char *device;
    sm_us sound_offset_us;
    int timecode_channel; // 0: none
    bool virtual_clock;   // no sound, no waiting: time is what the steps are given
    bool silent, bare;
    bool checks;                     // the rules are run over the show, at the start and each time it is read
    bool keeps_shape;                // the music's shape is kept for the next time
    const sm_outlet *const *outlets; // outlet_count of them, at most SM_OUTLETS_MAX; they outlive the session
    size_t outlet_count;
    void *outlet_context;
} sm_session_options;

// Makes the rehearsal ready for its first step. On success PROBLEM has one line about what goes on without ("" for nothing); on failure
// why, or "" where the findings say it: SM_NO_MEMORY, SM_UNREADABLE (the script, the log, a file of the show), SM_INVALID (the script),
// or what an outlet returned. *OUT is unchanged then.
SM_MUST_CHECK sm_result sm_session_create(const sm_session_options *options, char problem[SM_SESSION_PROBLEM],
                                          sm_session **out);
// Ends the thread, finishes a drill and sets its result, writes the last rows and waits for the disk, PATIENCE_US for the log and as
// long for the logbook (below 0: for ever). The caller makes safe before. After it only functions that look are allowed.
void sm_session_end(sm_session *session, sm_us patience_us);
// sm_session_end with some seconds of patience where it was not called; closes the sound and frees all. Waits for a file that is being
// read. NULL is taken.
void sm_session_destroy(sm_session *session);

// ---- driving it -----------------------------------------------------------------------------

// Moves everything up to NOW, which never goes back: a stop that waits first, then the engine, the operator's lines, the lines given,
// the instructor, the drill's end, files being read, news of the sound, a snapshot, the outlets, the sound. What it catches up with is
// bounded; where that was not enough, the session is behind, and the next step is due at once. Driver's thread.
// A memory that runs out in it is told, and tried again in a later step; with an operator it ends the session.
void sm_session_step(sm_session *session, sm_wall_time now);
// When something is next due by itself, us possibly in the past. False: nothing, until somebody acts. Driver's thread.
bool sm_session_next_due(sm_session *session, sm_wall_time *due);
// Waits until a step is due or something was given, at most 0.1 s; on a virtual clock not at all. Driver's thread.
void sm_session_wait(sm_session *session);
// Drives it in a thread of its own from now on, on its clock. SM_NO_MEMORY: no thread; nothing has changed.
SM_MUST_CHECK sm_result sm_session_start(sm_session *session);

typedef enum sm_session_over {
    SM_SESSION_GOES_ON,
    SM_SESSION_DONE,            // as the operator or the drill wanted it
    SM_SESSION_ARMING_REFUSED,  // in the built-in sequence
    SM_SESSION_LINE_NEVER_CAME, // of the script
    SM_SESSION_OUT_OF_MEMORY
} sm_session_over;

// With an operator: why the session is over, and nothing moves any more. Any thread.
sm_session_over sm_session_is_over(sm_session *session);
// The script's line whose moment never came; 0: none. Driver's thread, or after sm_session_end.
uint32_t sm_session_line_left(const sm_session *session);
// Why the latest action was refused; "" when it was not. As sm_session_line_left.
const char *sm_session_refusal(const sm_session *session);

// ---- lines in ---------------------------------------------------------------------------------

#define SM_SESSION_LINE 512 // bytes of a line, its NUL included

// The action LINE by hand, done in the next step. False: memory ran out, or it is too long; never so of a stop (safe, key off, pause,
// quit), which needs no memory. Any thread.
bool sm_session_act(sm_session *session, const char *line);
// The same by whoever sits at SEAT; a line that nobody may say there is refused, and answered there.
bool sm_session_act_from(sm_session *session, const char *seat, const char *line);
// What is told where a file of readings cannot be opened begins so: another name may help.
#define SM_SESSION_NO_FILE "no readings taken"
// Reads the file PATH of readings and takes each of its rows as a `read`. False: memory ran out.
bool sm_session_read_file(sm_session *session, const char *path);
// Makes safe and waits until that is done, at most PATIENCE_US. Any thread; without sm_session_start the driver's alone, at once. True:
// done.
bool sm_session_make_safe(sm_session *session, sm_us patience_us);
// Keeps TEXT ("": left empty) as the answer to QUESTION of the debrief. False: memory ran out.
bool sm_session_answer(sm_session *session, unsigned question, const char *text);

// ---- looking at it ----------------------------------------------------------------------------

// Readable when there is something new; sm_session_take empties it.
int sm_session_descriptor(const sm_session *session);
// Asks for a snapshot as of the next step, which is due at once.
void sm_session_want(sm_session *session);
// The latest snapshot there is; valid until the next call. Never NULL.
const sm_snapshot *sm_session_take(sm_session *session);
// A line that was given before the latest sm_session_take is not in the snapshot that it returned.
bool sm_session_is_behind(sm_session *session);
// `quit` was done.
bool sm_session_has_quit(sm_session *session);

typedef struct sm_outcome_note {
    sm_outcome_kind kind;
    sm_wall_time wall;
    char text[448];
} sm_outcome_note;

// What there is to see of lights on a wire. Any thread.
void sm_session_lights(sm_session *session, sm_lights_view *out);
// Who sits where. Any thread.
void sm_session_seats(sm_session *session, sm_seats_view *out);
// The oldest outcome not yet taken; false: none. The oldest are forgotten where too many wait.
bool sm_session_outcome(sm_session *session, sm_outcome_note *out);
// Brings TO up to date with the latest rows of the log.
void sm_session_recent(sm_session *session, sm_recent *to);
// Findings of the latest check, reload or readings file, once each; NULL: nothing new. The caller destroys them.
sm_findings *sm_session_findings(sm_session *session);
// The sheets of paper of the show and the words that must stand on them, a line each, when they have been made anew; NULL: nothing new.
// The caller frees it.
char *sm_session_paper_words(sm_session *session);
// Asks what the proposals would change in cues.csv and what `check` would newly find then; and the answer, in lines, NULL: it is not there
// yet. The caller frees it.
void sm_session_want_tuning(sm_session *session);
char *sm_session_tuning_words(sm_session *session);
// What there is to show of the drill, as of the latest snapshot made.
void sm_session_drill(sm_session *session, sm_drill_view *out);
// The debrief of the drill that is over, anew after each answer; NULL: nothing new. The caller destroys it.
sm_debrief *sm_session_debrief(sm_session *session);
// Its sound, as slowmatch/audio.h tells. Any thread. A virtual clock has none: it is silent, without a device.
void sm_session_sound(sm_session *session, sm_audio_status *out);
void sm_session_sound_tone(sm_session *session, sm_tone tone);
size_t sm_session_sound_devices(sm_session *session, sm_audio_device *out, size_t room);
void sm_session_sound_choose(sm_session *session, const char *device);
size_t sm_session_sound_overview(sm_session *session, sm_show_time from, sm_show_time to, size_t columns,
                                 sm_audio_peak *out);
// Asks for the accent of the music nearest to NEAR, at most WITHIN away; an earlier question is forgotten.
void sm_session_want_accent(sm_session *session, sm_show_time near, sm_us within);
// What was found: us SM_UNSET_US where there is none. False: it is not known yet, *OUT is unchanged.
bool sm_session_accent(sm_session *session, sm_show_time *out);
// errno of a log that could not be written (ENOMEM: rows were lost for want of memory), 0. Any thread.
int sm_session_log_error(sm_session *session);
// Waits until every row so far is in the log's file, at most PATIENCE_US. Any thread. True: it is.
bool sm_session_flush_log(sm_session *session, sm_us patience_us);
// Why the rehearsal is not being kept in the logbook, "" while it is (or need not be). Any thread. Returns BUFFER.
char *sm_session_logbook_problem(sm_session *session, char buffer[400]);
// The content of SHOW (sm_walk_content), which a snapshot names; "" while its music is being read. Any thread.
sm_walk_hash sm_session_content(sm_session *session, const sm_show *show);
// Wall time now; on a virtual clock that of the latest step, driver's thread.
sm_wall_time sm_session_now(sm_session *session);
// When the rehearsal's wall time was 0. Any thread.
sm_unix_us sm_session_launched(const sm_session *session);

#endif

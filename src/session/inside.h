// SPDX-License-Identifier: GPL-3.0-or-later
// The inside of the session.
//
// Two threads use a session: the driver, which makes the steps, and the one that looks (the screen, or whoever reads outcomes). The
// rehearsal, the show and the snapshot `back` belong to the driver. The snapshot `front` belongs to the one that looks; it changes the
// pointer only under the lock. What stands below "Under the lock" is read and written under it. A show that was replaced is kept until no
// snapshot points at it.
//
// The files call each other in this order, never back: step.c, file_job.c, by_hand.c and script.c, drill.c, seats.c, engine_road.c, rows.c,
// outcomes.c; for_outlets.c, snapshots.c, sound.c and run_outlets.c stand beside them, over outcomes.c. session.c makes and ends it all;
// requests.c is what others ask for.
#ifndef SLOWMATCH_SESSION_INSIDE_H
#define SLOWMATCH_SESSION_INSIDE_H

#include "session/given_lines.h"
#include "session/log_file.h"

#include "slowmatch/clock.h"
#include "slowmatch/inject.h"
#include "slowmatch/link.h"
#include "slowmatch/logbook.h"
#include "slowmatch/paper.h"
#include "slowmatch/session.h"

#include <sys/stat.h>

#define SM_OUTCOMES 16
#define SM_RETIRED 4

// The sound has no descriptor to wait on, so the driver looks for its events this often.
#define SM_LOOK_AGAIN_US (SM_US_PER_S / 10)

// A job reads or writes files, or checks the show, in a thread of its own (in the driver's, on a virtual clock). There is one at a time.
typedef enum sm_job_kind {
    SM_JOB_NONE,
    SM_JOB_CHECK,
    SM_JOB_RELOAD,
    SM_JOB_APPLY, // a reload, before which what is proposed is written
    SM_JOB_TRY,
    SM_JOB_READINGS,
    SM_JOB_ACCENT,
    SM_JOB_PAPER,
    SM_JOB_KEEP
} sm_job_kind;
// A reading as it goes into readings.csv.
typedef struct sm_reading_row {
    char rail[64], slot[12], reading[24], when[24], by[96];
} sm_reading_row;

// The hash of the music, and the file that it was read from. `file` is all 0 where there is no music, or where the file changed while it
// was read.
typedef struct sm_music_read {
    sm_walk_hash hash;
    struct stat file;
} sm_music_read;
typedef struct sm_music_reader sm_music_reader;

typedef struct sm_job {
    sm_job_kind kind;
    pthread_t thread;
    const sm_show *show; // the show that readings belong to
    char *path;          // the file of readings, or of paper
    // The result.
    sm_show *loaded;
    sm_operator *script;       // read against `loaded`
    sm_snapshot *snapshots[3]; // of `loaded`
    sm_logbook_load *to_keep;  // of `loaded`; NULL: not kept
    sm_walk_hash content;      // of `loaded`
    sm_music_read music;       // before the job: as read last; after it: of `loaded`
    sm_progress progress;      // of reading the music
    sm_reading *readings;
    size_t reading_count;
    sm_paper *paper;      // of the show that was read or checked; NULL: none
    sm_reading_row *rows; // SM_JOB_KEEP: the readings to be added
    size_t row_count;
    sm_wall_time kept_at;
    sm_text said; // SM_JOB_KEEP: why it failed
    sm_findings *findings;
    size_t errors;                           // how many of `findings` are errors
    sm_proposal proposals[SM_PROPOSALS_MAX]; // SM_JOB_APPLY, SM_JOB_TRY: as they stood when the job began
    uint32_t proposal_count;
    sm_text words; // SM_JOB_TRY: what the proposals would change
    char why_room[240];
    const char *why; // why it failed; NULL: `result` and `errors` say it
    int error;       // errno of that failure
    sm_result result;
    bool done; // under the lock
} sm_job;

// The latest question for an accent: where in the music, close to `near`, something begins suddenly.
typedef struct sm_accent {
    sm_show_time near, at; // `at` once it is known
    sm_us within;
    unsigned number;   // of the question, from 1
    bool asked, known; // asked: no job has taken it yet
} sm_accent;

typedef struct sm_outlet_run {
    const sm_outlet *outlet;
    void *self;
    sm_wall_time wants; // when it wants its next step
} sm_outlet_run;

// What the sound process was told last; it is told again when something differs.
typedef struct sm_told {
    sm_show_clock transport;
    bool jumps; // `jump` holds: the transport after a repeat's next jump
    sm_show_clock jump;
    bool preview; // transport and jump are those of a preview
    int volume;
    bool muted;
    sm_us music_off_us;
} sm_told;

struct sm_session {
    sm_audio *audio; // NULL: a virtual clock
    sm_log_writer *log;
    sm_unix_us launched_us;  // when the rehearsal's wall time was 0; set before any thread
    sm_logbook_writer *kept; // NULL: not kept
    char *unkept;            // why nothing is kept, from the options; NULL: it is kept
    char *folder, *readings_file;
    int timecode_channel; // 0: none
    bool operated, checks;
    char *script_path; // NULL: the built-in sequence
    int news[2];       // a pipe: a byte in it says that there is something new to look at
    pthread_t thread;
    bool thread_runs;
    bool ended;       // sm_session_end was called
    bool left_behind; // a job still reads: what it uses outlives the session

    pthread_mutex_t lock;
    pthread_cond_t wake;
    // Under the lock:
    sm_given_lines lines; // actions to come
    char *read_path;      // a readings file asked for
    bool wanted;          // a snapshot is asked for
    bool ending;
    bool has_quit;
    sm_session_over over;
    bool news_sent;
    sm_snapshot *ready;
    // Lines acted since the beginning, when `ready` and `front` were filled.
    uint64_t ready_lines, front_lines;
    bool ready_new;
    sm_snapshot *front;
    sm_outcome_note outcomes[SM_OUTCOMES];
    size_t outcome_first, outcome_count;
    sm_findings *findings;
    bool tuning_asked;  // what is proposed is to be tried out
    char *tuning_words; // what came of it, until it is taken
    sm_accent accent;
    sm_walk_hash content;          // content of the show `content_of`; "" where its music cannot be read
    const sm_show *content_of;     // NULL: not known yet
    sm_music_reader *music_reader; // NULL: no music is being read. Only the driver changes it
    char *paper_words;             // words of the present show's sheets, until somebody takes them
    // Rows up to the latest snapshot: the row of an action is not shown before the state that it led to.
    sm_recent shown;
    sm_drill_view drill_view;
    sm_lights_view lights;
    sm_seats_view seats;
    sm_debrief *debrief;               // of the drill that is over, until somebody takes it
    char *answers[SM_DRILL_QUESTIONS]; // to the debrief's questions, until the driver takes them

    // The driver's thread:
    sm_music_read music; // of the music that was read last
    sm_recent recent;
    sm_wall_time now; // moment of the present step
    sm_rehearsal *rehearsal;
    sm_drill_run *drill_run; // NULL: a plain rehearsal; else the rehearsal is inside it
    sm_drill_taken *drill;
    bool debriefed;    // the drill is over, and its debrief is made
    sm_link *link;     // an instructor may join; NULL: none can
    sm_link_feed feed; // what an instructor at another terminal has been told so far
    bool instructed;   // an instructor has done something since the driver looked
    bool seats_debriefed;
    sm_operator *script; // NULL: people act
    bool arming_refused, out_of_memory, stalled, words_lost;
    sm_show *show;
    sm_paper *paper;              // of the present show; NULL: not made yet
    sm_show *retired[SM_RETIRED]; // replaced, and perhaps still looked at
    sm_snapshot *back;
    // Of the present show: they take the place of `ready` and `front` where these are still of an older one.
    sm_snapshot *spares[2];
    sm_told told;
    bool changed; // something has changed since the latest snapshot
    sm_outlet_run outlets[SM_OUTLETS_MAX];
    size_t outlet_count;
    sm_job job;
    bool check_wanted, reload_wanted, apply_wanted, try_wanted, accent_wanted;
    char *reading_path;        // a readings file still to be read
    sm_reading_row *keep_rows; // readings still to be kept
    size_t keep_count;
    sm_wall_time kept_until; // readings by hand up to this moment are kept; us is -1 before the first keeping
    char *paper_path;        // a file of paper still to be written
    // Readings taken from the latest file, as long as nothing else that can be taken back came after them.
    int32_t file_reads;
    sm_findings *loaded;  // findings of loading the show at the start; NULL: none
    sm_findings *of_show; // findings of the latest check of the show
};

// ---- outcomes.c -----------------------------------------------------------------------------------

// Now by the session's clock. Any thread where the clock is real.
sm_wall_time sm_session_clock(const sm_session *session);
void sm_session_send_news(sm_session *session); // under the lock
void sm_session_tell(sm_session *session, sm_outcome_kind kind, const char *format, ...) SM_PRINTF(3, 4);

// ---- rows.c: what the engine calls --------------------------------------------------------------

void sm_session_keep_row(void *context, const sm_log_row *row);
void sm_session_keep_action(void *context, const sm_action *action, sm_source source, sm_wall_time at);

// ---- engine_road.c: the one road to the engine, or to the drill around it ---------------------------

bool sm_session_engine_due(const sm_session *session, sm_wall_time *due);
SM_MUST_CHECK sm_result sm_session_engine_run(sm_session *session, sm_wall_time to);
// The moment at which things act now: that of the step, or, while there is something left to catch up with, that of the next such thing,
// so that acting never waits for it. Rows from here on are issued now.
sm_wall_time sm_session_act_moment(sm_session *session);
// Acts at AT. A stop is done also where a drill has no memory left to judge it.
SM_MUST_CHECK sm_result sm_session_engine_act(sm_session *session, const sm_action *action, sm_source source,
                                              sm_wall_time at);

// NO DRILL: a real emergency. False: there is no drill, or it is over.
bool sm_session_no_drill(sm_session *session);

// ---- drill.c: its instructor, its end ----------------------------------------------------------------

// Does what an instructor asked for, and tells them what is new.
void sm_session_serve_instructor(sm_session *session);
// `quit` in a drill that is not over ends the drill, made safe first: the debrief comes before one leaves. True: so it was done.
bool sm_session_end_drill(sm_session *session);
// After each round: a drill that has just ended is made safe and debriefed; answers are kept.
void sm_session_follow_drill(sm_session *session);
// Finishes a drill, sets its result and keeps it.
void sm_session_finish_drill(sm_session *session);

// ---- by_hand.c ----------------------------------------------------------------------------------------

// Acts LINE now, and tells what came of it.
void sm_session_do(sm_session *session, sm_source source, const char *line);
// The `read` LINE of a file that is taken in.
void sm_session_read_of_file(sm_session *session, const char *line);

// ---- seats.c ------------------------------------------------------------------------------------------

// Acts LINE of whoever sits at SEAT now, and answers there.
void sm_session_do_from(sm_session *session, const char *seat, const char *line);
// Tells whoever sits at SEAT, by the outlets.
void sm_session_tell_seat(sm_session *session, const char *seat, sm_seat_word word, const char *text);
// The same, as a drill calls it.
void sm_session_hear_drill(void *context, const char *seat, const char *text);
// What is new in the drill, to an instructor who sits elsewhere.
void sm_session_feed_instructor(sm_session *session);
// The drill is over: to each seat what it did, and to all what the crew did.
void sm_session_debrief_seats(sm_session *session);

// ---- paper.c --------------------------------------------------------------------------------------------

// PAPER (NULL: none yet), of the present show, is the session's from now on.
void sm_session_take_paper(sm_session *session, sm_paper *paper);
// Writes the sheets of JOB's show to its file, in the job's thread; and tells what came of it.
void sm_session_write_paper(sm_job *job);
void sm_session_tell_paper(sm_session *session, const sm_job *job);
// ACTION ticks a sheet whose words are not those read aloud: WHY not.
bool sm_session_refuses_words(sm_session *session, const sm_action *action, char why[200]);

// ---- content.c ------------------------------------------------------------------------------------------

// Reads the music: here where nobody waits for a screen, and *MUSIC is its hash; else in a thread. Errors as sm_walk_hash_music.
SM_MUST_CHECK sm_result sm_session_begin_content(sm_session *session, const sm_session_options *options,
                                                 const sm_walk_hash **music);
// Takes in what was read, if it was.
void sm_session_take_content(sm_session *session);
// The end: what is still being read is left.
void sm_session_leave_content(sm_session *session);
// CONTENT is that of the show that is rehearsed.
void sm_session_set_content(sm_session *session, sm_walk_hash content);
// Reads the music of the show that JOB has loaded, unless it is the one before; in the job's thread. Errors as sm_walk_hash_music.
SM_MUST_CHECK sm_result sm_session_read_music(sm_job *job);
// ACTION is a name below the walk, and what it would be put to is not known: WHY not.
bool sm_session_refuses_name(const sm_session *session, const sm_action *action, char why[200]);
// What people are told of a logbook that waits for the music, "" for nothing. Returns BUFFER.
char *sm_session_logbook_waits(sm_session *session, char buffer[400]);

// ---- apply.c --------------------------------------------------------------------------------------------

// What is proposed now, for JOB.
void sm_session_take_proposals(sm_session *session, sm_job *job);
// Writes it into cues.csv: JOB's result and `why`. In the job's thread.
void sm_session_apply(sm_session *session, sm_job *job);
// Says in JOB's words what that would change. In the job's thread.
void sm_session_try(sm_job *job);
void sm_session_give_words(sm_session *session, sm_job *job);

// ---- script.c -----------------------------------------------------------------------------------------

// The script at PATH, NULL for the built-in sequence, read against SHOW. SM_UNREADABLE (errno), SM_INVALID (FINDINGS say it),
// SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_script_read(const char *path, const sm_show *show, sm_findings *findings,
                                       sm_operator **out);
// When the operator's next line acts. False: none does by itself.
bool sm_session_script_due(const sm_session *session, sm_wall_time *at);
SM_MUST_CHECK sm_result sm_session_script_act(sm_session *session, sm_wall_time at);
// Whether the operator has come to an end, and how. SM_SESSION_GOES_ON without one.
sm_session_over sm_session_script_over(const sm_session *session);

// ---- file_job.c -----------------------------------------------------------------------------------------

// Takes in what was read, and begins what is wanted next unless a job is under way. Returns at once; on a virtual clock when it is done.
void sm_session_do_jobs(sm_session *session);
// Waits for a job under way and forgets what it found. One that does not end soon (a disk that hangs, a very long file) is left behind.
void sm_session_abandon_job(sm_session *session);

// ---- keep_readings.c -------------------------------------------------------------------------------------

// Takes down what was entered by hand since the latest keeping, taken by WHO at its own moments. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_session_ask_to_keep(sm_session *session, const char *who);
// Adds them to the file that the readings come from: the job's thread. And what came of it.
void sm_session_write_readings(sm_job *job);
// SIGN, below a walk of the show called TITLE, was found void. Any thread, until the session ends.
void sm_session_keep_void(sm_session *session, const char *title, const sm_walk_sign *sign);
void sm_session_tell_kept(sm_session *session, const sm_job *job);

// ---- snapshots.c -----------------------------------------------------------------------------------------

// The three that go round. SM_NO_MEMORY.
SM_MUST_CHECK sm_result sm_session_make_snapshots(sm_session *session);
// A snapshot as of now, for whoever looks and for the outlets. Allocates nothing.
void sm_session_publish(sm_session *session);
// There is room to put one more show aside: the ones before are no longer looked at.
bool sm_session_can_retire(const sm_session *session);
// SHOW in place of the present one, with SNAPSHOTS of it; takes all over.
void sm_session_retire_show(sm_session *session, sm_show *show, sm_snapshot *snapshots[3]);
void sm_session_free_snapshots(sm_session *session);

// ---- sound.c ------------------------------------------------------------------------------------------

SM_MUST_CHECK sm_result sm_session_open_sound(sm_session *session, const sm_session_options *options);
// Timecode goes out by the settings of the present show.
void sm_session_send_timecode(sm_session *session);
// News of the sound become rows; the only one of a virtual clock is that there is none, at the start.
void sm_session_log_no_sound(sm_session *session);
void sm_session_log_sound(sm_session *session);
// The sound follows the rehearsal.
void sm_session_follow_sound(sm_session *session);
// Looks for the accent that was asked for. In the job's thread.
void sm_session_find_accent(sm_session *session);

// ---- run_outlets.c ------------------------------------------------------------------------------------------

SM_MUST_CHECK sm_result sm_session_open_outlets(sm_session *session, const sm_session_options *options,
                                                char problem[SM_SESSION_PROBLEM]);
void sm_session_begin_outlets(sm_session *session);
void sm_session_row_to_outlets(sm_session *session, const sm_log_row *row);
void sm_session_snapshot_to_outlets(sm_session *session, const sm_snapshot *snapshot);
void sm_session_step_outlets(sm_session *session);
// The earliest step that one of them wants.
sm_wall_time sm_session_outlets_want(const sm_session *session);
void sm_session_close_outlets(sm_session *session);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
// The inside of the session, shared by session.c (the engine's thread) and job.c (reading files meanwhile).
//
// Who owns what. The rehearsal, the show and `back` belong to the engine's thread; `front` to the screen's thread, which
// changes the pointer only under the lock; all else marked so is under the lock. A show that was replaced is kept until no
// snapshot points at it any more.
#ifndef SLOWMATCH_SESSION_INSIDE_H
#define SLOWMATCH_SESSION_INSIDE_H

#include "session/drill_view.h"
#include "session/log_file.h"

#include "slowmatch/clock.h"
#include "slowmatch/inject.h"
#include "slowmatch/link.h"
#include "slowmatch/logbook.h"
#include "slowmatch/session.h"

#define SM_OUTCOMES 16
#define SM_RETIRED 4

// Files read, or the show checked, in a thread of its own: one job at a time.
typedef enum sm_job_kind { SM_JOB_NONE, SM_JOB_CHECK, SM_JOB_RELOAD, SM_JOB_READINGS } sm_job_kind;
typedef struct sm_job {
    sm_job_kind kind;
    pthread_t thread;
    const sm_show *show; // readings: of which show
    char *path;          // readings: which file
    // The result.
    sm_show *loaded;
    sm_logbook_load *to_keep; // of `loaded`; NULL: not kept
    sm_reading *readings;
    size_t reading_count;
    sm_findings *findings;
    size_t errors; // in them
    sm_result result;
    bool done; // under the lock
} sm_job;

// What of the latest snapshot the sound follows.
typedef struct sm_heard {
    bool repeat_on;
    sm_show_time repeat_from, repeat_to, at;
    int volume;
    bool muted;
    sm_us music_off_us; // a drill
} sm_heard;

struct sm_session {
    sm_audio *audio;
    sm_log_writer *log;
    sm_logbook_writer *kept; // NULL: not kept
    char *unkept;            // of the options
    char *folder, *readings_file;
    int timecode_channel; // 0: none
    int news[2];          // a pipe
    pthread_t thread;
    bool thread_runs;

    pthread_mutex_t lock;
    pthread_cond_t wake;
    // Under the lock:
    char **lines; // actions to come
    size_t line_count, line_capacity;
    uint64_t lines_given, lines_done;
    char *read_path; // a readings file asked for
    bool wanted;     // a snapshot
    bool ending;
    bool has_quit;
    bool news_sent;
    sm_snapshot *ready;
    bool ready_new;
    sm_snapshot *front;
    sm_outcome_note outcomes[SM_OUTCOMES];
    size_t outcome_first, outcome_count;
    sm_findings *findings;
    sm_recent recent;
    sm_drill_view drill_view;
    sm_debrief *debrief;               // of the drill that is over, until it is taken
    char *answers[SM_DRILL_QUESTIONS]; // to its questions, until the engine's thread takes them

    // The engine's thread:
    sm_rehearsal *rehearsal;
    sm_drill_run *drill_run; // NULL: a plain rehearsal; else the rehearsal is inside it
    sm_drill_taken *drill;
    bool debriefed; // the drill is over, and was told so
    sm_link *link;  // an instructor may join; NULL: none can
    sm_show *show;
    sm_show *retired[SM_RETIRED]; // replaced, and perhaps still looked at
    sm_snapshot *back;
    sm_transport transport; // as last told to the sound
    bool jump_told;         // a repeat's jump was told to the sound as well
    sm_transport jump;
    sm_heard heard;
    int volume; // as last told to the sound
    bool muted;
    sm_us music_off_us;
    bool changed; // since the latest snapshot
    sm_job job;
    bool check_wanted, reload_wanted;
    char *reading_path; // a readings file still to be read
    int32_t
        file_reads; // readings taken from the latest file, while nothing else that can be taken back came after
    sm_findings *loaded;  // of loading the show at the start; NULL: none
    sm_findings *of_show; // of the show as checked last
};

// job.c. Engine's thread; all return at once.
// Begins what is wanted next, unless a job is under way; takes *READ_PATH over when it begins to read it.
void sm_job_begin(sm_session *session, char **read_path);
// Takes the result of a job that has ended into the rehearsal.
void sm_job_collect(sm_session *session);
// Waits for a job under way and forgets what it found.
void sm_job_abandon(sm_session *session);

// driver_drill.c. Engine's thread, or after it has ended.
// Does what an instructor asked for, and tells them what is new.
void sm_session_serve_instructor(sm_session *session);
// `quit` in a drill that is not over ends the drill, made safe first: the debrief comes before one leaves. True: so it was done.
bool sm_session_end_drill(sm_session *session);
// After each round: a drill that has just ended is made safe and debriefed; answers are kept.
void sm_session_follow_drill(sm_session *session);
// Ends the rehearsal; a drill is finished first, its debrief written down and kept.
void sm_session_close_rehearsal(sm_session *session);

// session.c, for job.c.
// Timecode goes out by the settings of the present show.
void sm_session_send_timecode(sm_session *session);
void sm_session_tell(sm_session *session, sm_outcome_kind kind, const char *format, ...) SM_PRINTF(3, 4);
// Acts LINE now.
void sm_session_do(sm_session *session, const char *line);

#endif

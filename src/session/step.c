// SPDX-License-Identifier: GPL-3.0-or-later
// One step of the session, and the thread that makes them.
//
// A stop comes first: the lines up to the last stop that waits are acted before anything is caught up with, at the moment where the
// rehearsal stands. Then at most WORK_A_STEP things are done that are due, one by one in their order; then at most
// LINES_A_STEP of the lines left are acted where that came to. So whatever waits gets its turn within a bounded time, however far behind the rehearsal is.
#include "session/inside.h"

#include <assert.h>
#include <errno.h>
#include <stdlib.h>

#define WORK_A_STEP 256
#define LINES_A_STEP 64

// ---- lines --------------------------------------------------------------------------------------

static bool do_line(sm_session *session) {
    sm_given_line line;
    pthread_mutex_lock(&session->lock);
    bool any = sm_given_take(&session->lines, &line);
    pthread_mutex_unlock(&session->lock);
    if (!any)
        return false;
    if (line.source == SM_SOURCE_SEAT)
        sm_session_do_from(session, line.seat, line.text);
    else
        sm_session_do(session, line.source, line.text);
    pthread_mutex_lock(&session->lock);
    session->lines.done++;
    assert(session->lines.done <= session->lines.given);
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
    return true;
}

static void do_stops(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    size_t count = sm_given_to_last_stop(&session->lines);
    pthread_mutex_unlock(&session->lock);
    while (count-- > 0)
        do_line(session);
}

static void do_lines(sm_session *session) {
    for (size_t i = 0; i < LINES_A_STEP && do_line(session); i++) {
    }
}

// ---- catching up ----------------------------------------------------------------------------------

// What is due next, the engine's or the operator's. False: nothing by itself.
static bool find_due(const sm_session *session, sm_wall_time *due, bool *is_script) {
    sm_wall_time acts_at, runs_at;
    bool acts = sm_session_script_due(session, &acts_at);
    bool runs = sm_session_engine_due(session, &runs_at);
    *is_script = acts && (!runs || acts_at.us <= runs_at.us);
    if (acts || runs)
        *due = *is_script ? acts_at : runs_at;
    return acts || runs;
}

// Nobody looks at a rehearsal that runs by itself: it ends as failed, the module safe and hazard fixtures at home.
static void break_off(sm_session *session) {
    static const sm_action safe = {.act = SM_ACT_SAFE, .index = SM_NONE, .second = SM_NONE};
    if (!session->operated || session->out_of_memory)
        return;
    session->out_of_memory = true;
    if (sm_rehearsal_state(session->rehearsal) != SM_STATE_SAFE &&
        sm_session_engine_act(session, &safe, SM_SOURCE_ENGINE, sm_session_act_moment(session)) != SM_OK)
        sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out before the module could be made safe");
}

static void memory_ran_out(sm_session *session) {
    session->stalled = true;
    sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out: %s",
                    session->operated ? "the rehearsal ends here" : "tried again soon");
    break_off(session);
}

// A row is there, but not all of its words.
static void look_for_lost_words(sm_session *session) {
    const bool lost = sm_rehearsal_lost_words(session->rehearsal) || session->words_lost;
    session->words_lost = false;
    if (!lost)
        return;
    sm_session_tell(session, SM_OUTCOME_WRONG, "memory ran out: words of a row of the log are lost");
    break_off(session);
}

// Does the next thing that is due by now. False: there is none, or it cannot be done.
static bool do_due(sm_session *session) {
    sm_wall_time due;
    bool is_script;
    if (sm_session_script_over(session) != SM_SESSION_GOES_ON || !find_due(session, &due, &is_script) ||
        due.us > session->now.us)
        return false;
    session->changed = true;
    sm_result result = is_script ? sm_session_script_act(session, due) : sm_session_engine_run(session, due);
    if ((session->reload_wanted || session->apply_wanted) && !session->audio)
        sm_session_do_jobs(session); // on a virtual clock the folder is read within the moment of the action
    if (result != SM_OK)
        memory_ran_out(session);
    return result == SM_OK;
}

static void catch_up(sm_session *session) {
    int work = 0;
    session->stalled = false;
    while (work < WORK_A_STEP && do_due(session))
        work++;
    assert(work <= WORK_A_STEP);
    look_for_lost_words(session);
    bool done = work < WORK_A_STEP && !session->stalled;
    // With nothing left up to now, the rehearsal stands there.
    if (done && sm_session_script_over(session) == SM_SESSION_GOES_ON &&
        sm_session_engine_run(session, session->now) != SM_OK)
        memory_ran_out(session);
}

// ---- the step -----------------------------------------------------------------------------------------

static void take_path(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    char *path = session->read_path;
    session->read_path = NULL;
    session->try_wanted |= session->tuning_asked;
    session->tuning_asked = false;
    session->accent_wanted |= session->accent.asked;
    session->accent.asked = false;
    pthread_mutex_unlock(&session->lock);
    if (!path)
        return;
    free(session->reading_path);
    session->reading_path = path;
}

static bool is_watched(const sm_session *session) {
    bool watched = session->thread_runs;
    for (size_t i = 0; i < session->outlet_count; i++)
        watched |= session->outlets[i].outlet->snapshot != NULL;
    return watched;
}

static void tell_all(sm_session *session) {
    sm_session_over over = sm_session_script_over(session);
    pthread_mutex_lock(&session->lock);
    bool wanted = session->wanted;
    bool publishes = wanted || (session->changed && is_watched(session));
    if (!publishes)
        sm_recent_follow(&session->shown, &session->recent);
    session->has_quit = sm_rehearsal_quit(session->rehearsal);
    session->over = over;
    pthread_mutex_unlock(&session->lock);
    if (publishes)
        sm_session_publish(session);
    sm_session_step_outlets(session);
    sm_session_follow_sound(session);
}

void sm_session_step(sm_session *session, sm_wall_time now) {
    assert(now.us >= session->now.us && !session->ended);
    session->now = now;
    do_stops(session);
    catch_up(session);
    do_lines(session);
    sm_session_take_content(session);
    if (sm_session_script_over(session) == SM_SESSION_GOES_ON) {
        sm_session_serve_instructor(session);
        sm_session_follow_drill(session);
        take_path(session);
        sm_session_do_jobs(session);
        sm_session_log_sound(session);
    }
    tell_all(session);
}

bool sm_session_next_due(sm_session *session, sm_wall_time *due) {
    bool is_script, any = find_due(session, due, &is_script);
    sm_wall_time wanted = sm_session_outlets_want(session);
    if (wanted.us < INT64_MAX && (!any || wanted.us < due->us)) {
        *due = wanted;
        any = true;
    }
    return any;
}

// ---- on a real clock ------------------------------------------------------------------------------------

// When to wake up by oneself, on CLOCK_MONOTONIC.
static struct timespec next_wake(sm_session *session) {
    struct timespec latest = sm_monotonic_after(SM_LOOK_AGAIN_US);
    sm_wall_time due;
    if (session->stalled || !sm_session_next_due(session, &due))
        return latest;
    struct timespec at = sm_monotonic_at_ns(sm_audio_monotonic_ns(session->audio, due));
    bool sooner = at.tv_sec < latest.tv_sec || (at.tv_sec == latest.tv_sec && at.tv_nsec < latest.tv_nsec);
    return sooner ? at : latest;
}

void sm_session_wait(sm_session *session) {
    if (!session->audio)
        return;
    struct timespec until = next_wake(session);
    pthread_mutex_lock(&session->lock);
    while (session->lines.count == 0 && !session->read_path && !session->wanted && !session->ending &&
           !session->job.done)
        if (pthread_cond_timedwait(&session->wake, &session->lock, &until) == ETIMEDOUT)
            break;
    pthread_mutex_unlock(&session->lock);
}

static bool is_ending(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    bool ending = session->ending;
    pthread_mutex_unlock(&session->lock);
    return ending;
}

static void *drive(void *context) {
    sm_session *session = context;
    char why[SM_HURRY_WHY];
    bool ending = false;
    (void)sm_thread_hurry(why); // --version says what stands in the way
    while (!ending) {
        sm_session_wait(session);
        ending = is_ending(session);
        sm_session_step(session, sm_session_clock(session));
    }
    return NULL;
}

sm_result sm_session_start(sm_session *session) {
    assert(!session->thread_runs && session->audio);
    session->thread_runs = true;
    if (pthread_create(&session->thread, NULL, drive, session) == 0)
        return SM_OK;
    session->thread_runs = false;
    return SM_NO_MEMORY;
}

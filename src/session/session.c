// SPDX-License-Identifier: GPL-3.0-or-later
// A session is made and ended.
#include "session/inside.h"

#include <assert.h>
#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define PATIENCE_US (2 * SM_US_PER_S)

static bool open_news(sm_session *session) {
    if (pipe2(session->news, O_CLOEXEC | O_NONBLOCK) != 0) {
        session->news[0] = session->news[1] = -1;
        return false;
    }
    return true;
}

static bool copy_text(char **to, const char *from) {
    *to = from ? strdup(from) : NULL;
    return !from || *to;
}

// ---- its pieces, in the order in which they are opened ----------------------------------------

typedef sm_result opener(sm_session *session, const sm_session_options *options,
                         char problem[SM_SESSION_PROBLEM]);

static sm_result open_texts(sm_session *session, const sm_session_options *options,
                            char problem[SM_SESSION_PROBLEM]) {
    if (!copy_text(&session->folder, options->show->folder) ||
        !copy_text(&session->readings_file, options->readings_file) ||
        sm_given_init(&session->lines) != SM_OK)
        return SM_NO_MEMORY;
    if (open_news(session))
        return SM_OK;
    snprintf(problem, SM_SESSION_PROBLEM, "no pipe could be opened: %s", strerror(errno));
    return SM_UNREADABLE;
}

static sm_result open_script(sm_session *session, const sm_session_options *options,
                             char problem[SM_SESSION_PROBLEM]) {
    if (!options->operated)
        return SM_OK;
    sm_result result =
        sm_script_read(options->script_path, session->show, options->script_findings, &session->script);
    if (result == SM_UNREADABLE)
        snprintf(problem, SM_SESSION_PROBLEM, "%s: %s", options->script_path, sm_file_why(errno));
    else if (result == SM_INVALID)
        problem[0] = '\0';
    if (result != SM_OK || !options->script_path)
        return result;
    session->script_path =
        realpath(options->script_path, NULL); // a reload's findings name it beside files of the folder
    return session->script_path || copy_text(&session->script_path, options->script_path) ? SM_OK
                                                                                          : SM_NO_MEMORY;
}

static sm_result open_log(sm_session *session, const sm_session_options *options,
                          char problem[SM_SESSION_PROBLEM]) {
    if (!options->log_path)
        return SM_OK;
    sm_result result = sm_log_writer_open(options->log_path, &session->log);
    if (result == SM_UNREADABLE)
        snprintf(problem, SM_SESSION_PROBLEM, "%s: the log cannot be written: %s", options->log_path,
                 errno == EEXIST ? "it is there and no log; give another name" : strerror(errno));
    return result;
}

static sm_result open_sound(sm_session *session, const sm_session_options *options,
                            char problem[SM_SESSION_PROBLEM]) {
    sm_result result = sm_session_open_sound(session, options);
    if (result != SM_OK)
        snprintf(problem, SM_SESSION_PROBLEM, "the clock could not be started: %s", sm_result_text(result));
    return result;
}

// A logbook that cannot be written stops nothing: see sm_session_logbook_problem.
static sm_result open_logbook(sm_session *session, const sm_session_options *options,
                              char problem[SM_SESSION_PROBLEM]) {
    sm_logbook_load *load = NULL;
    session->launched_us = sm_unix_now_us() - sm_session_clock(session).us;
    const sm_walk_hash *music = NULL;
    sm_result result = sm_session_begin_content(session, options, &music);
    if (!options->logbook_path)
        return result;
    char drill_file[1024] = "";
    if (options->drill)
        snprintf(drill_file, sizeof drill_file, "%.700s/drills/%.200s.ini", session->show->folder,
                 options->drill->drill->name);
    if (result == SM_OK)
        result = sm_logbook_load_create(session->show, options->readings_file, music, &load);
    if (result == SM_UNREADABLE)
        snprintf(problem, SM_SESSION_PROBLEM, "%.200s: cannot be kept in the logbook: %s",
                 session->show->folder, strerror(errno));
    if (result == SM_REFUSED)
        snprintf(problem, SM_SESSION_PROBLEM, "%.200s: was changed while it was opened; launch again",
                 session->show->folder);
    if (result != SM_OK)
        return result;
    const sm_logbook_start start = {.path = options->logbook_path,
                                    .mode = options->drill      ? "drill"
                                            : options->operated ? "headless"
                                                                : "console",
                                    .drill = options->drill != NULL,
                                    .drill_file = options->drill ? drill_file : NULL,
                                    .scripted =
                                        options->operated || (options->drill && options->drill->piped),
                                    .bare = options->bare,
                                    .readings_not_judged = options->operated && !options->script_path,
                                    .fast = options->virtual_clock,
                                    .launch_us = session->launched_us};
    if (music)
        sm_session_set_content(session, sm_logbook_load_content(load));
    return sm_logbook_writer_create(&start, load, &session->kept);
}

static sm_result open_drill(sm_session *session, const sm_session_options *options,
                            char problem[SM_SESSION_PROBLEM]) {
    const sm_drill_options taken = {.seed = options->drill->seed,
                                    .crew = options->drill->crew,
                                    .bare = options->bare,
                                    .readings_not_judged = options->operated && !options->script_path,
                                    // People have the first screen to read and answer.
                                    .waits = !options->operated,
                                    .to_seat = sm_session_hear_drill,
                                    .sink = sm_session_keep_row,
                                    .acted = sm_session_keep_action,
                                    .sink_context = session};
    session->drill = options->drill;
    sm_result result = sm_drill_run_create(options->drill->drill, &taken, &session->drill_run);
    if (result != SM_OK)
        return result;
    session->rehearsal = sm_drill_rehearsal(session->drill_run);
    char why[SM_LINK_WHY];
    if (session->audio && sm_link_listen(why, &session->link) != SM_OK) { // the drill goes on alone
        snprintf(problem, SM_SESSION_PROBLEM, "%s", why);
        sm_session_tell(session, SM_OUTCOME_TOLD, "%s", why);
    } else if (session->link && sm_link_number(session->link) > 1) {
        sm_session_tell(
            session, SM_OUTCOME_TOLD,
            "another drill is being taken on this machine; for an instructor this one is number %u",
            sm_link_number(session->link));
    }
    return SM_OK;
}

static sm_result open_rehearsal(sm_session *session, const sm_session_options *options,
                                char problem[SM_SESSION_PROBLEM]) {
    const sm_rehearsal_options plain = {.bare = options->bare,
                                        .readings_not_judged = options->operated && !options->script_path,
                                        .sink = sm_session_keep_row,
                                        .acted = sm_session_keep_action,
                                        .sink_context = session};
    problem[0] = '\0';
    sm_result result = options->drill ? open_drill(session, options, problem)
                                      : sm_rehearsal_create(session->show, &plain, &session->rehearsal);
    if (result == SM_OK && options->virtual_clock)
        sm_session_log_no_sound(session);
    if (result == SM_OK)
        result = sm_session_make_snapshots(session);
    if (result != SM_OK)
        snprintf(problem, SM_SESSION_PROBLEM, "%s", sm_result_text(result));
    return result;
}

static sm_result begin(sm_session *session, const sm_session_options *options,
                       char problem[SM_SESSION_PROBLEM]) {
    static opener *const openers[] = {
        open_texts, open_script, open_log, open_sound, open_logbook, sm_session_open_outlets, open_rehearsal};
    snprintf(problem, SM_SESSION_PROBLEM, "%s", sm_result_text(SM_NO_MEMORY));
    for (size_t i = 0; i < sizeof openers / sizeof openers[0]; i++) {
        sm_result result = openers[i](session, options, problem);
        if (result != SM_OK)
            return result;
    }
    sm_session_begin_outlets(session);
    return SM_OK;
}

sm_result sm_session_create(const sm_session_options *options, char problem[SM_SESSION_PROBLEM],
                            sm_session **out) {
    assert(options->show && (!options->script_path || (options->operated && options->script_findings)));
    sm_session *session = calloc(1, sizeof *session);
    if (!session) {
        snprintf(problem, SM_SESSION_PROBLEM, "%s", sm_result_text(SM_NO_MEMORY));
        sm_show_destroy(options->show);
        sm_findings_destroy(options->loaded);
        return SM_NO_MEMORY;
    }
    session->news[0] = session->news[1] = -1;
    session->show = options->show;
    session->kept_until.us = -1;
    session->operated = options->operated;
    session->checks = session->check_wanted = options->checks;
    session->loaded = options->loaded;
    session->unkept = options->unkept;
    sm_hurried_lock_init(&session->lock);
    sm_condition_init(&session->wake);
    sm_result result = begin(session, options, problem);
    if (result != SM_OK) {
        sm_session_destroy(session);
        return result;
    }
    *out = session;
    return SM_OK;
}

// ---- the end ------------------------------------------------------------------------------------

static void end_thread(sm_session *session) {
    if (!session->thread_runs)
        return;
    pthread_mutex_lock(&session->lock);
    session->ending = true;
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
    pthread_join(session->thread, NULL);
    session->thread_runs = false;
}

void sm_session_end(sm_session *session, sm_us patience_us) {
    assert(!session->ended);
    end_thread(session);
    if (session->rehearsal) {
        sm_session_abandon_job(session);
        // A run that broke down was not taken.
        if (session->over != SM_SESSION_LINE_NEVER_CAME && session->over != SM_SESSION_OUT_OF_MEMORY)
            sm_session_finish_drill(session);
    }
    session->ended = true;
    sm_session_leave_content(session);
    sm_session_flush_log(session, patience_us);
    sm_logbook_writer_close(session->kept, patience_us, session->unkept);
    session->kept = NULL;
    sm_link_close(session->link);
    session->link = NULL;
    sm_session_close_outlets(session);
}

static void free_texts(sm_session *session) {
    for (unsigned i = 0; i < SM_DRILL_QUESTIONS; i++)
        free(session->answers[i]);
    free(session->read_path);
    free(session->reading_path);
    free(session->paper_path);
    free(session->keep_rows);
    free(session->folder);
    free(session->readings_file);
    free(session->script_path);
    sm_paper_destroy(session->paper);
    free(session->paper_words);
    free(session->tuning_words);
    sm_findings_destroy(session->findings);
    sm_findings_destroy(session->loaded);
    sm_findings_destroy(session->of_show);
}

void sm_session_destroy(sm_session *session) {
    if (!session)
        return;
    if (!session->ended)
        sm_session_end(session, PATIENCE_US);
    sm_log_writer_close(session->log, PATIENCE_US);
    sm_audio_close(session->audio);
    if (session->left_behind)
        return;
    if (session->drill_run)
        sm_drill_run_destroy(session->drill_run);
    else
        sm_rehearsal_destroy(session->rehearsal);
    sm_operator_destroy(session->script);
    sm_session_free_snapshots(session);
    sm_show_destroy(session->show);
    sm_debrief_destroy(session->debrief);
    free_texts(session);
    sm_given_deinit(&session->lines);
    for (int i = 0; i < 2; i++)
        if (session->news[i] >= 0)
            close(session->news[i]);
    pthread_cond_destroy(&session->wake);
    pthread_mutex_destroy(&session->lock);
    free(session);
}

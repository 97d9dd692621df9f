// SPDX-License-Identifier: GPL-3.0-or-later
// Sheets of paper and their words: what was read aloud is held against the sheets of the show that is rehearsed.
#include "session/inside.h"

#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#define SHEET "paper:"

void sm_session_take_paper(sm_session *session, sm_paper *paper) {
    sm_text words = {0};
    sm_paper_destroy(session->paper);
    session->paper = paper;
    if (paper)
        sm_paper_print_words(paper, NULL, false, &words);
    pthread_mutex_lock(&session->lock);
    free(session->paper_words);
    session->paper_words = words.failed ? NULL : words.bytes;
    pthread_mutex_unlock(&session->lock);
    if (words.failed)
        sm_text_deinit(&words);
}

char *sm_session_paper_words(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    char *words = session->paper_words;
    session->paper_words = NULL;
    pthread_mutex_unlock(&session->lock);
    return words;
}

bool sm_session_refuses_words(sm_session *session, const sm_action *action, char why[200]) {
    static const char yes[] = "yes";
    const size_t sheet = strlen(SHEET);
    if (action->act != SM_ACT_TICK || strncmp(action->target, SHEET, sheet) != 0 ||
        strncmp(action->detail, yes, strlen(yes)) != 0)
        return false;
    sm_paper *made = NULL;
    if (!session->paper && sm_paper_create(session->show, NULL, &made) == SM_OK)
        sm_session_take_paper(session, made);
    const char *name = action->target + sheet;
    const uint32_t at = session->paper ? sm_paper_find(session->paper, name) : SM_NONE;
    if (!session->paper)
        snprintf(why, 200, "the sheets of this show cannot be made");
    else if (at == SM_NONE)
        snprintf(why, 200, "no sheet %.60s; slowmatch paper --words lists them", name);
    else if (!sm_paper_words_equal(action->detail + strlen(yes), session->paper->sheets[at].words))
        snprintf(why, 200,
                 "these are not the words of %.60s as this show stands: the sheet is old, or another", name);
    else
        return false;
    return true;
}

void sm_session_write_paper(sm_job *job) {
    struct timespec now;
    char printed[24];
    clock_gettime(CLOCK_REALTIME, &now);
    sm_walk_when_format(printed, (sm_unix_us)now.tv_sec * SM_US_PER_S);
    job->result = sm_paper_create(job->show, NULL, &job->paper);
    if (job->result == SM_OK)
        job->result = sm_paper_write(job->paper, NULL, printed, job->path);
    job->error = errno;
}

void sm_session_tell_paper(sm_session *session, const sm_job *job) {
    if (job->result == SM_OK)
        sm_session_tell(session, SM_OUTCOME_TOLD,
                        "%s: %u sheets, to be printed at full size; the words of LIST: %s", job->path,
                        job->paper->count, job->paper->sheets[0].words);
    else if (job->result == SM_REFUSED)
        sm_session_tell(session, SM_OUTCOME_REFUSED,
                        "paper: %s was not written by slowmatch and stays as it is", job->path);
    else
        sm_session_tell(session, SM_OUTCOME_WRONG, "paper: %s: %s", job->path,
                        job->result == SM_UNREADABLE ? strerror(job->error) : sm_result_text(job->result));
}

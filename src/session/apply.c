// SPDX-License-Identifier: GPL-3.0-or-later
// Proposed cue times are written into cues.csv before the folder is read again; or only tried out, for whoever wants to see first.
#include "session/inside.h"

#include "slowmatch/music.h"
#include "slowmatch/tables.h"

#include <assert.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void sm_session_take_proposals(sm_session *session, sm_job *job) {
    job->proposal_count = sm_rehearsal_proposals(session->rehearsal, job->proposals);
}

void sm_session_apply(sm_session *session, sm_job *job) {
    sm_text why = {0};
    sm_tuning *tuning = NULL;
    sm_audio_info info;
    sm_check_options music;
    char *const backups = sm_table_backups_path();
    assert(job->kind == SM_JOB_APPLY && job->proposal_count <= SM_PROPOSALS_MAX);
    sm_music_ask(session->show, NULL, &info, &music);
    job->result =
        backups ? sm_tuning_create(session->show, job->proposals, job->proposal_count, &music, &why, &tuning)
                : SM_NO_MEMORY;
    if (job->result == SM_UNREADABLE) { // what could not be tried out can be written all the same
        sm_text_clear(&why);
        job->result =
            sm_tuning_create(session->show, job->proposals, job->proposal_count, NULL, &why, &tuning);
    }
    if (job->result == SM_OK) {
        sm_tuning_text(tuning, &job->words);
        sm_session_give_words(session, job); // before anything is written
        job->result = sm_tuning_save(tuning, backups, &why);
    }
    if (job->result != SM_OK) {
        snprintf(job->why_room, sizeof job->why_room, "%s",
                 why.length > 0 ? why.bytes : sm_result_text(job->result));
        job->why = job->why_room;
    }
    sm_tuning_destroy(tuning);
    sm_text_deinit(&why);
    free(backups);
}

void sm_session_try(sm_job *job) {
    sm_text why = {0};
    sm_tuning *tuning = NULL;
    sm_audio_info info;
    sm_check_options music;
    assert(job->kind == SM_JOB_TRY && job->proposal_count <= SM_PROPOSALS_MAX);
    sm_music_ask(job->show, NULL, &info, &music);
    job->result = sm_tuning_create(job->show, job->proposals, job->proposal_count, &music, &why, &tuning);
    if (job->result == SM_OK)
        sm_tuning_text(tuning, &job->words);
    else
        sm_text_printf(&job->words, "%s\n", why.length > 0 ? why.bytes : sm_result_text(job->result));
    sm_tuning_destroy(tuning);
    sm_text_deinit(&why);
}

void sm_session_give_words(sm_session *session, sm_job *job) {
    pthread_mutex_lock(&session->lock);
    free(session->tuning_words);
    session->tuning_words = job->words.failed ? NULL : job->words.bytes;
    pthread_mutex_unlock(&session->lock);
    if (!job->words.failed)
        job->words = (sm_text){0};
}

void sm_session_want_tuning(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    session->tuning_asked = true;
    session->wanted = true;
    pthread_cond_broadcast(&session->wake);
    pthread_mutex_unlock(&session->lock);
}

char *sm_session_tuning_words(sm_session *session) {
    pthread_mutex_lock(&session->lock);
    char *words = session->tuning_words;
    session->tuning_words = NULL;
    pthread_mutex_unlock(&session->lock);
    return words;
}

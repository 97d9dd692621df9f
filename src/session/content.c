// SPDX-License-Identifier: GPL-3.0-or-later
// What the show consists of, its music with it. The music may be large, or lie on a slow disk: it is read in a thread of its own, which is
// left behind where it is not done in time. What needs it (a name below the walk, the logbook's rows of the show) waits for it.
#include "session/inside.h"

#include "slowmatch/music.h"

#include <assert.h>
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// From here on people are told that what happens is held in memory until the music has been read.
#define LONG_MUSIC_BYTES 200000000

// Of the session and of the thread; whoever lets it go last frees it.
struct sm_music_reader {
    char *path;
    sm_progress progress;
    atomic_int owners;
    // The result.
    sm_result result;
    int error;
    sm_music_read read;
    atomic_bool done;
};

static void let_go(sm_music_reader *reader) {
    if (!reader)
        return;
    const int owners = atomic_fetch_sub(&reader->owners, 1);
    assert(owners > 0);
    if (owners > 1)
        return;
    free(reader->path);
    free(reader);
}

static bool is_same(const struct stat *a, const struct stat *b) {
    return a->st_dev == b->st_dev && a->st_ino == b->st_ino && a->st_size == b->st_size &&
           a->st_mtim.tv_sec == b->st_mtim.tv_sec && a->st_mtim.tv_nsec == b->st_mtim.tv_nsec &&
           a->st_ctim.tv_sec == b->st_ctim.tv_sec && a->st_ctim.tv_nsec == b->st_ctim.tv_nsec;
}

// Reads the music at PATH (NULL: none), unless BEFORE (NULL: none) is of the same file.
static sm_result read_music(const char *path, sm_progress *progress, const sm_music_read *before,
                            sm_music_read *out) {
    sm_music_read read = {0};
    struct stat after;
    const bool there = path && stat(path, &read.file) == 0;
    if (there && before && is_same(&read.file, &before->file)) {
        *out = *before;
        return SM_OK;
    }
    const sm_result result = sm_walk_hash_music(path, progress, &read.hash);
    const int why = errno;
    // One that was written meanwhile is read again the next time.
    if (!there || stat(path, &after) != 0 || !is_same(&after, &read.file))
        read.file = (struct stat){0};
    errno = why;
    if (result == SM_OK)
        *out = read;
    return result;
}

static void *run(void *context) {
    sm_music_reader *reader = context;
    sm_thread_stand_back(); // the first screen needs the processor
    reader->result = read_music(reader->path, &reader->progress, NULL, &reader->read);
    reader->error = errno;
    atomic_store(&reader->done, true);
    let_go(reader);
    return NULL;
}

static sm_result start(sm_session *session, char *path) {
    sm_music_reader *reader = calloc(1, sizeof *reader);
    pthread_t thread;
    assert(!session->music_reader);
    if (!reader) {
        free(path);
        return SM_NO_MEMORY;
    }
    reader->path = path;
    atomic_store(&reader->owners, 2);
    if (pthread_create(&thread, NULL, run, reader) != 0) {
        free(path);
        free(reader);
        return SM_NO_MEMORY;
    }
    pthread_detach(thread);
    session->music_reader = reader;
    return SM_OK;
}

void sm_session_set_content(sm_session *session, sm_walk_hash content) {
    pthread_mutex_lock(&session->lock);
    session->content = content;
    session->content_of = session->show;
    pthread_mutex_unlock(&session->lock);
}

// Without a logbook, which has read the tables for itself, they are read here.
static sm_walk_hash read_content(const sm_session *session) {
    sm_walk_hash content = {""};
    if (sm_walk_content(session->show, &session->music.hash, &content) != SM_OK)
        content.hex[0] = '\0';
    return content;
}

sm_result sm_session_begin_content(sm_session *session, const sm_session_options *options,
                                   const sm_walk_hash **music) {
    char *path = sm_music_path(session->show);
    if (options->operated && !options->logbook_path) {
        free(path);
        return SM_OK; // nothing is kept, and a script signs what it likes
    }
    if (session->show->settings.audio[0] && !path)
        return SM_NO_MEMORY;
    if (path && !options->operated && !options->virtual_clock)
        return start(session, path);
    const sm_result result = read_music(path, NULL, NULL, &session->music);
    const int why = errno;
    free(path);
    errno = why;
    if (result == SM_OK)
        *music = &session->music.hash;
    if (result == SM_OK && !options->logbook_path)
        sm_session_set_content(session, read_content(session));
    return result;
}

sm_result sm_session_read_music(sm_job *job) {
    const sm_music_read before = job->music;
    char *path = sm_music_path(job->loaded);
    if (job->loaded->settings.audio[0] && !path)
        return SM_NO_MEMORY;
    const sm_result result = read_music(path, &job->progress, &before, &job->music);
    const int why = errno;
    free(path);
    errno = why;
    return result;
}

// A show that was read again meanwhile has its own already.
static void take_read(sm_session *session, const sm_music_reader *reader) {
    const bool is_other = session->content_of != NULL;
    sm_walk_hash content = {""};
    if (!is_other)
        session->music = reader->read;
    if (session->kept)
        content = sm_logbook_writer_music(session->kept, &reader->read.hash);
    else if (!is_other)
        content = read_content(session);
    if (!is_other)
        sm_session_set_content(session, content);
}

static void end_reading(sm_session *session) {
    sm_music_reader *reader = session->music_reader;
    pthread_mutex_lock(&session->lock);
    session->music_reader = NULL;
    pthread_mutex_unlock(&session->lock);
    let_go(reader);
}

void sm_session_take_content(sm_session *session) {
    sm_music_reader *reader = session->music_reader;
    if (!reader || !atomic_load(&reader->done))
        return;
    if (reader->result == SM_OK) {
        take_read(session, reader);
    } else {
        sm_session_tell(
            session, SM_OUTCOME_WRONG,
            "the music cannot be read: %s; no name is taken below the walk, and the logbook keeps "
            "that it was not read",
            reader->result == SM_UNREADABLE ? sm_file_why(reader->error) : sm_result_text(reader->result));
        if (session->kept)
            (void)sm_logbook_writer_music(session->kept, &sm_logbook_unread);
    }
    end_reading(session);
    session->changed = true;
}

void sm_session_leave_content(sm_session *session) {
    sm_session_take_content(session);
    if (session->music_reader)
        atomic_store(&session->music_reader->progress.left, true);
    end_reading(session);
}

sm_walk_hash sm_session_content(sm_session *session, const sm_show *show) {
    pthread_mutex_lock(&session->lock);
    const sm_walk_hash content = session->content_of == show ? session->content : (sm_walk_hash){""};
    pthread_mutex_unlock(&session->lock);
    return content;
}

bool sm_session_refuses_name(const sm_session *session, const sm_action *action, char why[200]) {
    const sm_music_reader *reader = session->music_reader;
    if (action->act != SM_ACT_SIGN || session->operated || session->content_of)
        return false;
    if (!reader) {
        snprintf(why, 200, "the music cannot be read, so that nobody knows what is signed");
        return true;
    }
    const uint64_t whole = atomic_load(&reader->progress.whole), done = atomic_load(&reader->progress.done);
    snprintf(why, 200, "the music is still being read (%d %%): sign once it has been",
             whole > 0 ? (int)(100 * (done < whole ? done : whole) / whole) : 0);
    return true;
}

char *sm_session_logbook_waits(sm_session *session, char buffer[400]) {
    pthread_mutex_lock(&session->lock);
    const sm_music_reader *reader = session->music_reader;
    buffer[0] = '\0';
    if (reader && session->kept && atomic_load(&reader->progress.whole) >= LONG_MUSIC_BYTES)
        snprintf(buffer, 400, "not before all of the music has been read; held in memory until then");
    pthread_mutex_unlock(&session->lock);
    return buffer;
}

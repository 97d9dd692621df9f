// SPDX-License-Identifier: GPL-3.0-or-later
// Three snapshots go round between the driver and whoever looks: one is filled, one is ready, one is looked at. None is ever made while
// the rehearsal runs: those of another show come with it.
#include "session/drill_view.h"
#include "session/inside.h"

#include <assert.h>

sm_result sm_session_make_snapshots(sm_session *session) {
    sm_snapshot **const all[] = {&session->back, &session->ready, &session->front};
    for (size_t i = 0; i < 3; i++) {
        sm_result result = sm_snapshot_create(session->show, all[i]);
        if (result != SM_OK)
            return result;
        sm_rehearsal_snapshot(session->rehearsal, (sm_wall_time){0}, *all[i]);
    }
    sm_drill_view_fill(&session->drill_view, session->drill_run); // a key may come before the first round
    return SM_OK;
}

// `back` is of an older show where whoever looks has given it back: a spare takes its place.
static void renew_back(sm_session *session) {
    if (session->back->show == session->show)
        return;
    size_t place = session->spares[0] ? 0 : 1;
    assert(session->spares[place] && session->spares[place]->show == session->show);
    sm_snapshot_destroy(session->back);
    session->back = session->spares[place];
    session->spares[place] = NULL;
}

// Replaced shows that no snapshot points at any more are let go.
static void free_retired(sm_session *session) {
    renew_back(session);
    for (size_t i = 0; i < SM_RETIRED; i++) {
        sm_show *show = session->retired[i];
        if (!show)
            continue;
        pthread_mutex_lock(&session->lock);
        bool used = session->ready->show == show || session->front->show == show;
        pthread_mutex_unlock(&session->lock);
        if (!used) {
            sm_show_destroy(show);
            session->retired[i] = NULL;
        }
    }
}

static void put_in(sm_session *session, sm_snapshot **const places[3], sm_snapshot *snapshots[3]) {
    for (size_t i = 0; i < 3; i++) {
        assert(snapshots[i]->show == session->show);
        sm_snapshot_destroy(*places[i]);
        *places[i] = snapshots[i];
        snapshots[i] = NULL;
    }
}

// SM_RETIRED: none is free.
static size_t place_to_retire(const sm_session *session) {
    size_t place = 0;
    while (place < SM_RETIRED && session->retired[place])
        place++;
    return place;
}

bool sm_session_can_retire(const sm_session *session) {
    return place_to_retire(session) < SM_RETIRED;
}

void sm_session_retire_show(sm_session *session, sm_show *show, sm_snapshot *snapshots[3]) {
    assert(sm_session_can_retire(session));
    session->retired[place_to_retire(session)] = session->show;
    session->show = show;
    if (session->thread_runs) {
        put_in(session, (sm_snapshot * *[3]){&session->back, &session->spares[0], &session->spares[1]},
               snapshots);
        return;
    }
    for (size_t i = 0; i < 3; i++)
        sm_rehearsal_snapshot(session->rehearsal, session->now, snapshots[i]);
    put_in(session, (sm_snapshot * *[3]){&session->back, &session->ready, &session->front}, snapshots);
    free_retired(session);
}

void sm_session_publish(sm_session *session) {
    sm_drill_view drill_view;
    renew_back(session);
    assert(session->back && session->back->show == session->show);
    sm_rehearsal_snapshot(session->rehearsal, session->now, session->back);
    sm_drill_view_fill(&drill_view, session->drill_run);
    sm_session_snapshot_to_outlets(session, session->back);
    session->changed = false;
    pthread_mutex_lock(&session->lock);
    sm_snapshot *taken = session->ready;
    session->ready = session->back;
    session->back = taken;
    session->ready_new = true;
    session->ready_lines = session->lines.done;
    session->drill_view = drill_view;
    session->wanted = false;
    sm_recent_follow(&session->shown, &session->recent);
    sm_session_send_news(session);
    pthread_mutex_unlock(&session->lock);
    free_retired(session);
}

void sm_session_free_snapshots(sm_session *session) {
    sm_snapshot *const all[] = {session->back, session->ready, session->front, session->spares[0],
                                session->spares[1]};
    for (size_t i = 0; i < sizeof all / sizeof all[0]; i++)
        sm_snapshot_destroy(all[i]);
    for (size_t i = 0; i < SM_RETIRED; i++)
        sm_show_destroy(session->retired[i]);
}

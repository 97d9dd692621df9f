// SPDX-License-Identifier: GPL-3.0-or-later
#include "console/rehearsal_view.h"

#include "console/modes/typing.h"

#include "slowmatch/clock.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

// ---- what the ui asks for -------------------------------------------------------------------

static bool act(void *owner, const char *line) {
    sm_rehearsal_view *v = owner;
    v->acted = true;
    return sm_session_act(v->session, line);
}

static bool is_behind(void *owner) {
    return sm_session_is_behind(((sm_rehearsal_view *)owner)->session);
}

static void read_file(void *owner, const char *path) {
    (void)sm_session_read_file(((sm_rehearsal_view *)owner)->session, path);
}

static const sm_folder_names *names_in(void *owner, const char *folder) {
    return sm_folder_reader_names(((sm_rehearsal_view *)owner)->folders, folder);
}

static bool answer(void *owner, unsigned question, const char *text) {
    return sm_session_answer(((sm_rehearsal_view *)owner)->session, question, text);
}

// What was said of earlier proposals says nothing of these.
static void want_tuning(void *owner) {
    sm_rehearsal_view *v = owner;
    free(v->tuning_words);
    free(sm_session_tuning_words(v->session));
    v->tuning_words = NULL;
    v->ui.view.tuning_words = NULL;
    sm_session_want_tuning(v->session);
}

static void take_tuning_words(sm_rehearsal_view *v) {
    char *words = sm_session_tuning_words(v->session);
    if (words) {
        free(v->tuning_words);
        v->tuning_words = words;
    }
    v->ui.view.tuning_words = v->tuning_words;
}

static void take_findings(sm_rehearsal_view *v) {
    sm_findings *findings = sm_session_findings(v->session);
    if (findings) {
        sm_findings_destroy(v->findings);
        v->findings = findings;
        v->ui.view.checked = true;
    }
}

static void take_paper_words(sm_rehearsal_view *v) {
    char *words = sm_session_paper_words(v->session);
    if (words) {
        free(v->paper_words);
        v->paper_words = words;
    }
    v->ui.view.paper_words = v->paper_words ? v->paper_words : "";
}

static void take_view(sm_rehearsal_view *v) {
    sm_session_recent(v->session, &v->recent); // before the snapshot, which is never older than the rows then
    const sm_snapshot *snapshot = sm_session_take(v->session);
    bool other_show = v->ui.view.show && v->ui.view.show != snapshot->show;
    if (v->ui.view.show != snapshot->show)
        sm_show_watch_begin(v->watch, snapshot->show);
    take_findings(v);
    take_paper_words(v);
    take_tuning_words(v);
    sm_session_sound(v->session, &v->sound);
    v->ui.view.snapshot = snapshot;
    v->ui.view.show = snapshot->show;
    v->ui.view.time_of_day = &v->time_of_day;
    v->ui.view.recent = &v->recent;
    v->ui.view.findings = v->findings;
    v->ui.view.stray_output = v->stray_output;
    v->ui.view.session = v->session;
    v->ui.view.sound = &v->sound;
    v->ui.view.rig_explanation = sm_rig_explainer_look(&v->rig_explanation, snapshot);
    v->ui.view.swapped = v->rig_explanation.swapped;
    v->ui.view.show_changed = sm_show_watch_look(v->watch, v->show_changed) ? v->show_changed : NULL;
    sm_session_lights(v->session, &v->ui.view.lights);
    sm_session_seats(v->session, &v->seats);
    v->ui.view.seats = v->seats.count > 0 ? &v->seats : NULL;
    v->ui.view.not_kept = v->logbook_problem[0] ? v->logbook_problem : NULL;
    v->ui.view.walk = sm_walkthrough_look(
        v->walkthrough, &(sm_walk_seen){snapshot, &v->recent, v->ui.view.checked ? v->findings : NULL,
                                        v->time_of_day.launch_us, v->session,
                                        sm_session_content(v->session, snapshot->show)});
    sm_session_drill(v->session, &v->drill);
    v->ui.view.drill = v->drill.drill ? &v->drill : NULL;
    sm_debrief *debrief = sm_session_debrief(v->session);
    if (debrief) {
        sm_debrief_destroy(v->debrief);
        v->debrief = debrief;
    }
    v->ui.view.debrief = v->debrief;
    if (other_show)
        sm_ui_show_changed(&v->ui);
}

// Said when it begins and when it changes; the message after it may cover it.
static void take_logbook_problem(sm_rehearsal_view *v) {
    char problem[400];
    sm_session_logbook_problem(v->session, problem);
    if (problem[0] && (strcmp(problem, v->logbook_problem) != 0 || !v->ui.has_message)) {
        v->ui.has_message = true;
        v->ui.message.kind = SM_OUTCOME_WRONG;
        snprintf(v->ui.message.text, sizeof v->ui.message.text, "NOT BEING KEPT in the logbook: %s", problem);
    }
    snprintf(v->logbook_problem, sizeof v->logbook_problem, "%s", problem);
}

static void take_outcomes(sm_rehearsal_view *v) {
    while (sm_session_outcome(v->session, &v->ui.message)) {
        v->ui.has_message = true;
        if (v->ui.message.kind != SM_OUTCOME_TOLD)
            sm_ui_refused(&v->ui, v->ui.message.text);
        if (v->outcome)
            v->outcome(v, &v->ui.message);
        v->ui.bell |= v->ui.view.tones && v->ui.message.kind != SM_OUTCOME_TOLD;
    }
    int error = sm_session_log_error(v->session);
    if (error) {
        v->ui.has_message = true;
        v->ui.message.kind = SM_OUTCOME_WRONG;
        snprintf(v->ui.message.text, sizeof v->ui.message.text, "THE LOG CANNOT BE WRITTEN: %s",
                 strerror(error));
    }
}

static void sound_tones(sm_rehearsal_view *v) {
    for (int tone = 0; tone < SM_TONE_COUNT; tone++)
        if (v->ui.tones & 1u << tone)
            sm_session_sound_tone(v->session, (sm_tone)tone);
    v->ui.tones = 0;
}

void sm_rehearsal_view_look(sm_rehearsal_view *v) {
    take_view(v);
    take_outcomes(v);
    take_logbook_problem(v);
    sm_ui_look(&v->ui);
    sound_tones(v);
}

bool sm_rehearsal_moves(const sm_snapshot *snapshot) {
    return snapshot->state == SM_STATE_RUNNING || snapshot->state == SM_STATE_ARMING ||
           snapshot->preview.on || snapshot->timecode.state == SM_TIMECODE_LOCKED || snapshot->flying > 0 ||
           snapshot->burning_count > 0;
}

// ---- beginning and ending -----------------------------------------------------------------------------------

static sm_findings *copy_findings(const sm_findings *from) {
    sm_findings *copy = sm_findings_create();
    for (size_t i = 0; copy && from && i < sm_findings_count(from); i++)
        sm_findings_put(copy, sm_findings_at(from, i));
    return copy;
}

static bool begin_session(sm_rehearsal_view *v, const sm_console_options *options,
                          char problem[SM_CONSOLE_PROBLEM]) {
    const sm_session_options session = {.show = options->show,
                                        .loaded = copy_findings(options->findings),
                                        .readings_file = options->readings_file,
                                        .drill = options->drill,
                                        .log_path = options->log_path,
                                        .logbook_path = options->logbook_path,
                                        .unkept = v->unkept,
                                        .device = options->device,
                                        .sound_offset_us = options->sound_offset_us,
                                        .timecode_channel = options->timecode_channel,
                                        .silent = options->silent,
                                        .bare = options->bare,
                                        .checks = true,
                                        .keeps_shape = true,
                                        .outlets = options->outlets,
                                        .outlet_count = options->outlet_count,
                                        .outlet_context = options->outlet_context};
    v->to_hand_over = NULL;
    if (sm_session_create(&session, problem, &v->session) != SM_OK)
        return false;
    snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
    return sm_session_start(v->session) == SM_OK;
}

bool sm_rehearsal_view_begin(sm_rehearsal_view *v, const sm_console_options *options,
                             const sm_text *stray_output, char problem[SM_CONSOLE_PROBLEM]) {
    snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
    v->findings = copy_findings(options->findings);
    v->stray_output = stray_output;
    if (!v->findings || sm_walkthrough_create(options->logbook_path, &v->walkthrough) != SM_OK ||
        sm_show_watch_start(options->readings_file, &v->watch) != SM_OK ||
        sm_folder_reader_start(&v->folders) != SM_OK || !begin_session(v, options, problem))
        return false;
    v->time_of_day.launch_us = sm_session_launched(v->session);
    take_view(v);
    if (sm_ui_init(&v->ui) != SM_OK)
        return false;
    v->ui.view.silent = options->silent;
    v->ui.view.offset_measured = options->sound_offset_us != 0;
    v->ui.view.timecode_side = sm_audio_side_text(options->timecode_channel);
    v->ui.owner = v;
    v->ui.act = act;
    v->ui.is_behind = is_behind;
    v->ui.answer = answer;
    v->ui.read_file = read_file;
    v->ui.names_in = names_in;
    v->ui.want_tuning = want_tuning;
    return true;
}

void sm_rehearsal_view_end(sm_rehearsal_view *v) {
    sm_session_destroy(v->session);
    sm_ui_deinit(&v->ui);
    sm_findings_destroy(v->findings);
    free(v->tuning_words);
    free(v->paper_words);
    sm_debrief_destroy(v->debrief);
    sm_rig_explainer_deinit(&v->rig_explanation);
    sm_walkthrough_destroy(v->walkthrough);
    sm_show_watch_stop(v->watch);
    sm_folder_reader_stop(v->folders);
    sm_show_destroy(v->to_hand_over);
}

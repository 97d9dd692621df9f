// SPDX-License-Identifier: GPL-3.0-or-later
#include "cmd/headless.h"

#include "cmd/cmd.h"
#include "cmd/outlets.h"

#include "slowmatch/clock.h"
#include "slowmatch/session.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

typedef struct run {
    const headless_options *options;
    cmd_outlet_call outlets;
    sm_session *session;
    sm_drill_taken drill; // of a drill
    bool decoded;         // the music, or there is none
    char unkept[400];
} run;

// ---- what is said meanwhile -----------------------------------------------------------------------

static void unmuffle_when_decoded(run *r) {
    sm_audio_status status;
    if (r->decoded || r->options->fast)
        return;
    sm_session_sound(r->session, &status);
    r->decoded = status.decoded || !status.has_music;
    if (r->decoded)
        cmd_unmuffle();
}

// What went wrong, and what is wrong in a folder that was read again.
static void say_what_is_wrong(run *r) {
    sm_outcome_note note;
    sm_findings *findings = sm_session_findings(r->session);
    if (findings)
        cmd_print_findings(2, sm_session_take(r->session)->show->folder, findings);
    sm_findings_destroy(findings);
    char *const tuning = sm_session_tuning_words(r->session); // of `apply`, in lines
    if (tuning)
        cmd_put(cmd_stderr(), tuning, strlen(tuning));
    free(tuning);
    while (sm_session_outcome(r->session, &note))
        if (note.kind == SM_OUTCOME_WRONG)
            cmd_complain("%s", note.text);
}

// ---- the loop ---------------------------------------------------------------------------------------

// On a virtual clock each step is to the next thing that is due. False: there is none.
static bool next_moment(run *r, sm_wall_time *now) {
    if (!r->options->fast)
        *now = sm_session_now(r->session);
    return !r->options->fast || sm_session_next_due(r->session, now);
}

static bool goes_on(run *r) {
    return sm_session_is_over(r->session) == SM_SESSION_GOES_ON && cmd_stop_signal() == 0 &&
           !r->outlets.lines_failed && sm_session_log_error(r->session) == 0;
}

static void loop(run *r) {
    sm_wall_time now = {0};
    char why[SM_HURRY_WHY];
    if (!r->options->fast)
        (void)sm_thread_hurry(why);
    sm_session_step(r->session, next_moment(r, &now) ? now : (sm_wall_time){0});
    while (goes_on(r) && next_moment(r, &now)) {
        sm_session_step(r->session, now);
        unmuffle_when_decoded(r);
        say_what_is_wrong(r);
        sm_session_wait(r->session);
    }
    // A signal ends the rehearsal as a crew would: safe first.
    if (cmd_stop_signal() != 0 && !r->options->fast)
        sm_session_make_safe(r->session, 0);
}

// ---- beginning and end ----------------------------------------------------------------------------

static int begin(run *r) {
    const headless_options *o = r->options;
    char problem[SM_SESSION_PROBLEM], unkept[400];
    sm_findings *script_findings = sm_findings_create();
    sm_session_options options = {.show = o->show,
                                  .readings_file = o->readings_file,
                                  .drill = o->drill ? &r->drill : NULL,
                                  .operated = true,
                                  .script_path = o->script_path,
                                  .script_findings = script_findings,
                                  .log_path = o->log_path,
                                  .logbook_path = o->logbook_path,
                                  .unkept = r->unkept,
                                  .device = o->device,
                                  .sound_offset_us = o->sound_offset_us,
                                  .timecode_channel = o->timecode_channel,
                                  .virtual_clock = o->fast,
                                  .silent = o->silent,
                                  .bare = o->bare,
                                  .outlet_context = &r->outlets};
    options.outlets = cmd_outlets(&options.outlet_count);
    cmd_muffle(); // until the music is decoded
    sm_result result = sm_session_create(&options, problem, &r->session);
    if (o->fast || result != SM_OK)
        cmd_unmuffle();
    if (script_findings)
        cmd_print_findings(2, NULL, script_findings);
    sm_findings_destroy(script_findings);
    if (problem[0])
        cmd_complain("%s", problem);
    if (result == SM_OK && sm_session_logbook_problem(r->session, unkept)[0])
        cmd_complain("not being kept in the logbook: %s", unkept);
    return result == SM_OK ? CMD_GOOD : CMD_UNUSABLE;
}

static void complain_of_script(const run *r) {
    sm_findings *findings = sm_findings_create();
    if (!findings) {
        cmd_failed(r->options->script_path, SM_NO_MEMORY);
        return;
    }
    sm_findings_add(findings, r->options->script_path, sm_session_line_left(r->session), 1, SM_ERROR,
                    "script", "its moment never came: the show did not reach it");
    cmd_print_findings(STDERR_FILENO, NULL, findings);
    sm_findings_destroy(findings);
}

static int status_of(run *r) {
    int error = sm_session_log_error(r->session);
    if (error != 0 || r->outlets.lines_failed) {
        cmd_complain("the log could not be written: %s", strerror(error ? error : r->outlets.lines_error));
        return CMD_UNUSABLE;
    }
    sm_session_over over = cmd_stop_signal() ? SM_SESSION_DONE : sm_session_is_over(r->session);
    if (over == SM_SESSION_GOES_ON) // and yet nothing is due any more
        over = sm_session_line_left(r->session) > 0 ? SM_SESSION_LINE_NEVER_CAME : SM_SESSION_DONE;
    switch (over) {
    case SM_SESSION_LINE_NEVER_CAME:
        complain_of_script(r);
        return CMD_UNUSABLE;
    case SM_SESSION_ARMING_REFUSED:
        cmd_complain("arming was refused: %s", sm_session_refusal(r->session));
        return CMD_FINDINGS;
    case SM_SESSION_OUT_OF_MEMORY:
        return CMD_UNUSABLE; // it was said
    default:
        return CMD_GOOD;
    }
}

// The drill's debrief on standard output, and whether it was passed.
static int print_debrief(const run *r) {
    const sm_drill_taken *taken = &r->drill;
    sm_text text = {0};
    if (!taken->taken) {
        cmd_complain("memory ran out");
        return CMD_UNUSABLE;
    }
    if (!r->options->drill->json)
        sm_debrief_text(taken->debrief, cmd_columns(), &text);
    const sm_text *said = r->options->drill->json ? &taken->json : &text;
    bool failed = !cmd_put(stdout, sm_text_get(said), said->length) || said->failed || fflush(stdout) != 0;
    sm_text_deinit(&text);
    if (failed) {
        cmd_complain("the debrief could not be written: %s", strerror(errno));
        return CMD_UNUSABLE;
    }
    return taken->passed ? CMD_GOOD : CMD_FINDINGS;
}

static int rehearse(run *r) {
    int status = begin(r);
    if (status != CMD_GOOD)
        return status;
    cmd_catch_signals(); // until here, reading the show, one ends the program at once
    loop(r);
    say_what_is_wrong(r);
    sm_session_end(r->session, -1);
    status = status_of(r);
    if (r->options->drill && status == CMD_GOOD)
        status = print_debrief(r);
    if (r->unkept[0])
        cmd_complain("not kept in the logbook: %s", r->unkept);
    return status;
}

int headless_run(const headless_options *options) {
    run r = {.options = options, .outlets = {.options = options, .lines = !options->drill}};
    if (options->drill)
        r.drill = (sm_drill_taken){
            .drill = options->drill->drill, .seed = options->drill->seed, .crew = options->drill->crew};
    signal(SIGPIPE, SIG_IGN); // a closed pipe is a write error, said as one
    int status = rehearse(&r);
    sm_session_destroy(r.session);
    cmd_unmuffle();
    sm_debrief_destroy(r.drill.debrief);
    sm_text_deinit(&r.drill.json);
    cmd_die_of_signal();
    return status;
}

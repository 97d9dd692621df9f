// SPDX-License-Identifier: GPL-3.0-or-later
#include "cmd/headless.h"

#include "cmd/cmd.h"

#include "slowmatch/audio.h"
#include "slowmatch/engine.h"
#include "slowmatch/link.h"
#include "slowmatch/logbook.h"

#include <errno.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

typedef struct run {
    const headless_options *options;
    sm_show *show; // the one that runs
    sm_rehearsal *rehearsal;
    sm_link *link;       // an instructor may join; NULL: none can
    sm_drill_run *drill; // NULL: a plain rehearsal; else the rehearsal is inside it
    sm_operator *operator_;
    sm_audio *audio;         // NULL with --fast
    sm_transport told;       // what the audio was told last
    sm_logbook_writer *kept; // NULL: not kept
    FILE *log;               // NULL: standard output only
    sm_text row;
    bool decoded; // the music, or there is none
    bool write_failed;
    bool arming_refused;
} run;

static volatile sig_atomic_t stop_signal; // set by the handler alone

static void on_signal(int number) {
    stop_signal = number;
}

static void keep_action(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    run *r = context;
    if (r->kept)
        sm_logbook_writer_action(r->kept, action, source, at);
}

static void write_row(void *context, const sm_log_row *row) {
    run *r = context;
    if (r->kept)
        sm_logbook_writer_row(r->kept, row);
    sm_text_clear(&r->row);
    sm_log_row_format(&r->row, row);
    FILE *const streams[] = {r->options->drill ? NULL : stdout, r->log};
    for (size_t i = 0; i < 2; i++) {
        if (!streams[i])
            continue;
        bool written = fputs(sm_text_get(&r->row), streams[i]) >= 0 && (!r->audio || fflush(streams[i]) == 0);
        if (!written || r->row.failed)
            r->write_failed = true;
    }
}

// ---- the clock ------------------------------------------------------------------------------

static void sleep_until(run *r, const sm_wall_time *due) {
    // Woken at least ten times a second: the clock's rate is corrected, and the sound has news.
    int64_t now_ns = sm_audio_monotonic_ns(r->audio, sm_audio_now(r->audio));
    int64_t until_ns = now_ns + 100000000;
    if (due) {
        int64_t due_ns = sm_audio_monotonic_ns(r->audio, *due);
        until_ns = due_ns < until_ns ? due_ns : until_ns;
    }
    struct timespec until = {.tv_sec = until_ns / 1000000000, .tv_nsec = until_ns % 1000000000};
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
}

static void unmuffle_when_decoded(run *r) {
    sm_audio_status status;
    sm_audio_status_get(r->audio, &status);
    if (status.decoded || !status.has_music)
        cmd_unmuffle();
    r->decoded = status.decoded || !status.has_music;
}

static sm_result pass_sound_news(run *r) {
    if (!r->decoded)
        unmuffle_when_decoded(r);
    sm_audio_event event;
    while (sm_audio_next_event(r->audio, &event)) {
        sm_result result =
            sm_rehearsal_sound(r->rehearsal, (sm_sound_change)event.kind, event.text, sm_audio_now(r->audio));
        if (result != SM_OK)
            return result;
    }
    return SM_OK;
}

static void tell_audio(run *r) {
    sm_transport now = sm_rehearsal_transport(r->rehearsal);
    if (now.w0.us == r->told.w0.us && now.s0.us == r->told.s0.us && now.speed_ppm == r->told.speed_ppm &&
        now.playing == r->told.playing)
        return;
    if (sm_audio_transport(r->audio, now.w0, now.s0, now.speed_ppm, now.playing) == SM_OK)
        r->told = now;
}

static void send_timecode(run *r) {
    const sm_moment_base *base = &r->show->settings.timecode;
    if (r->audio && sm_audio_timecode_send(r->audio, base, r->options->timecode_channel) != SM_OK)
        cmd_complain("no timecode goes out");
}

// ---- the script, the show again ----------------------------------------------------------------

// The script (or the built-in sequence), read against SHOW.
static int read_script(const headless_options *o, const sm_show *show, sm_operator **out) {
    if (!o->script_path)
        return sm_operator_builtin(show, out) == SM_OK ? CMD_GOOD : CMD_UNUSABLE;
    char *text = NULL;
    size_t length;
    if (sm_file_read(o->script_path, &text, &length) != SM_OK) {
        cmd_complain("%s: %s", o->script_path, strerror(errno));
        return CMD_UNUSABLE;
    }
    sm_findings *findings = sm_findings_create();
    sm_result result = SM_NO_MEMORY;
    if (findings)
        result = sm_operator_read(show, o->script_path, text, length, findings, out);
    if (findings)
        cmd_print_findings(2, NULL, findings);
    sm_findings_destroy(findings);
    free(text);
    return result == SM_OK ? CMD_GOOD : CMD_UNUSABLE;
}

// What a line `reload` asks for. The script's names are looked up again: another show may have its rails in another order.
static void reload(run *r, sm_wall_time at) {
    sm_operator *operator_ = NULL;
    sm_show *show = cmd_show_open(r->show->folder, r->options->readings_file);
    const char *why = NULL;
    if (!show)
        why = "the folder cannot be read as a show";
    else if (read_script(r->options, show, &operator_) != CMD_GOOD)
        why = "the script does not fit the show as it is now";
    else if (sm_rehearsal_replace_show(r->rehearsal, show) != SM_OK)
        why = "memory ran out";
    if (why) {
        if (r->kept)
            sm_logbook_writer_reload_failed(r->kept, why, at);
        sm_rehearsal_reload_failed(r->rehearsal, why, at);
        sm_operator_destroy(operator_);
        sm_show_destroy(show);
        return;
    }
    if (r->kept)
        cmd_logbook_load(r->kept, show, r->options->readings_file, at);
    sm_operator_follow(operator_, r->operator_);
    sm_operator_destroy(r->operator_);
    sm_show_destroy(r->show);
    r->operator_ = operator_;
    r->show = show;
    send_timecode(r);
}

// ---- the loop ---------------------------------------------------------------------------------

static sm_result act(run *r, const sm_action *action, sm_source source, sm_wall_time at) {
    return r->drill ? sm_drill_act(r->drill, action, source, at)
                    : sm_rehearsal_act(r->rehearsal, action, source, at);
}

static sm_result run_to(run *r, sm_wall_time to) {
    return r->drill ? sm_drill_run_to(r->drill, to) : sm_rehearsal_run(r->rehearsal, to);
}

static bool next_due(const run *r, sm_wall_time *due) {
    return r->drill ? sm_drill_next_due(r->drill, due) : sm_rehearsal_next_due(r->rehearsal, due);
}

static sm_result act_next(run *r, sm_wall_time at) {
    bool arming = sm_rehearsal_state(r->rehearsal) == SM_STATE_SAFE;
    sm_result result = act(r, sm_operator_take(r->operator_, at), SM_SOURCE_SCRIPT, at);
    if (result == SM_OK && sm_rehearsal_reload_asked(r->rehearsal))
        reload(r, at);
    if (result != SM_REFUSED)
        return result;
    if (!r->options->script_path && arming && !r->drill)
        r->arming_refused = true;
    return SM_OK;
}

typedef enum stepped { STEP_DID, STEP_WAITS, STEP_IDLE } stepped;

// Does the next thing if it is due by NOW. STEP_WAITS: *due is when to come again; STEP_IDLE: nothing is to come.
static sm_result step(run *r, sm_wall_time now, stepped *how, sm_wall_time *due) {
    sm_wall_time acts_at, runs_at;
    sm_operator_word word = sm_operator_next(r->operator_, r->rehearsal, &acts_at);
    bool runs = next_due(r, &runs_at);
    bool acts = word == SM_OPERATOR_WAIT && (!runs || acts_at.us <= runs_at.us);
    *how = acts || runs ? STEP_WAITS : STEP_IDLE;
    *due = acts ? acts_at : runs_at;
    if (*how == STEP_IDLE || due->us > now.us)
        return SM_OK;
    *how = STEP_DID;
    return acts ? act_next(r, acts_at) : run_to(r, runs_at);
}

static bool is_over(const run *r) {
    sm_wall_time at;
    if (r->drill && sm_drill_is_over(r->drill))
        return true;
    if (r->drill && sm_drill_lead_is_busy(r->drill))
        return r->write_failed; // nobody else has to act
    return r->write_failed || r->arming_refused ||
           sm_rehearsal_is_over(r->rehearsal, sm_operator_next(r->operator_, r->rehearsal, &at));
}

static sm_result loop_fast(run *r) {
    const sm_wall_time end_of_time = {INT64_MAX};
    sm_result result =
        sm_rehearsal_sound(r->rehearsal, SM_SOUND_SILENT, "a virtual clock has no sound", (sm_wall_time){0});
    stepped how = STEP_DID;
    while (result == SM_OK && how == STEP_DID && !is_over(r) && stop_signal == 0) {
        sm_wall_time due;
        result = step(r, end_of_time, &how, &due);
    }
    return result;
}

static sm_result loop_on_clock(run *r) {
    sm_result result = SM_OK;
    while (result == SM_OK && !is_over(r) && stop_signal == 0) {
        sm_wall_time now = sm_audio_now(r->audio), due;
        stepped how;
        sm_rehearsal_issue_at(r->rehearsal, now);
        result = step(r, now, &how, &due);
        tell_audio(r);
        if (result != SM_OK || how == STEP_DID)
            continue; // what is due at once goes first: news of the sound would move time past it
        result = pass_sound_news(r);
        bool did = false;
        if (result == SM_OK && r->link)
            result = sm_link_serve(r->link, r->drill, sm_audio_now(r->audio), &did);
        if (did)
            continue;
        if (result == SM_OK)
            sleep_until(r, how == STEP_WAITS ? &due : NULL);
    }
    return result;
}

// ---- beginning and end ----------------------------------------------------------------------------

static bool open_log(run *r) {
    if (!r->options->log_path)
        return true;
    r->log = fopen(r->options->log_path, "we");
    if (!r->log)
        cmd_complain("%s: %s", r->options->log_path, strerror(errno));
    return r->log != NULL;
}

static bool open_audio(run *r) {
    const headless_options *o = r->options;
    if (o->fast)
        return true;
    char *path = cmd_audio_path(r->show);
    const sm_audio_options options = {.path = path,
                                      .audio_start_us = r->show->settings.audio_start_us,
                                      .device = o->device,
                                      .silent = o->silent,
                                      .sound_offset_us = o->sound_offset_us};
    if (path)
        cmd_muffle(); // until the music is decoded
    sm_result result = sm_audio_open(&options, &r->audio);
    free(path);
    if (result != SM_OK)
        cmd_complain("the clock could not be started: %s", sm_result_text(result));
    else
        send_timecode(r);
    return result == SM_OK;
}

static sm_result create_drill(run *r) {
    const headless_drill *d = r->options->drill;
    const sm_drill_options options = {.seed = d->seed,
                                      .crew = d->crew,
                                      .bare = r->options->bare,
                                      .readings_not_judged = !r->options->script_path,
                                      .sink = write_row,
                                      .acted = keep_action,
                                      .sink_context = r};
    sm_result result = sm_drill_run_create(d->drill, &options, &r->drill);
    if (result == SM_OK)
        r->rehearsal = sm_drill_rehearsal(r->drill);
    char why[SM_LINK_WHY];
    if (result == SM_OK && !r->options->fast && sm_link_listen(why, &r->link) != SM_OK)
        cmd_complain("%s", why); // the drill goes on alone
    return result;
}

static bool open_logbook(run *r) {
    const headless_options *o = r->options;
    if (!o->logbook_path)
        return true;
    sm_logbook_start start = {.path = o->logbook_path,
                              .mode = o->drill ? "drill" : "headless",
                              .drill = o->drill != NULL,
                              .bare = o->bare,
                              .readings_not_judged = !o->script_path,
                              .fast = o->fast};
    sm_us elapsed_us = r->audio ? sm_audio_now(r->audio).us : 0;
    r->kept = cmd_logbook_begin(&start, r->show, o->readings_file, elapsed_us);
    return r->kept != NULL;
}

static bool open_rehearsal(run *r) {
    const sm_rehearsal_options options = {.bare = r->options->bare,
                                          .readings_not_judged = !r->options->script_path,
                                          .sink = write_row,
                                          .acted = keep_action,
                                          .sink_context = r};
    if (!r->options->drill)
        fputs(SM_LOG_HEADER "\n", stdout);
    if (r->log)
        fputs(SM_LOG_HEADER "\n", r->log);
    if ((r->options->drill ? create_drill(r) : sm_rehearsal_create(r->show, &options, &r->rehearsal)) ==
        SM_OK)
        return true;
    cmd_complain("memory ran out");
    return false;
}

// A signal ends the rehearsal as a crew would: safe first.
static void make_safe_on_signal(run *r) {
    if (stop_signal == 0 || !r->audio)
        return;
    const sm_action safe = {.act = SM_ACT_SAFE, .index = SM_NONE};
    sm_wall_time now = sm_audio_now(r->audio);
    sm_rehearsal_issue_at(r->rehearsal, now);
    if (act(r, &safe, SM_SOURCE_CONSOLE, now) != SM_OK)
        cmd_complain("memory ran out");
}

static void keep_drill(const run *r) {
    if (sm_drill_was_broken_off(r->drill))
        return;
    const headless_drill *d = r->options->drill;
    sm_text marks = {0};
    sm_drill_debrief_json(r->drill, &marks);
    const sm_logbook_drill taken = {.person = d->crew,
                                    .drill = d->drill->name,
                                    .seat = sm_drill_seat_text(d->drill->seat),
                                    .title = r->show->settings.title,
                                    .when_us = cmd_now_us(),
                                    .score = sm_drill_score(r->drill),
                                    .passed = sm_drill_passed(r->drill),
                                    .with_hints = sm_drill_hints_asked(r->drill) > 0,
                                    .marks = sm_text_get(&marks)};
    sm_logbook_writer_drill(r->kept, &taken);
    sm_text_deinit(&marks);
}

// False: memory ran out.
static bool write_debrief(const run *r, sm_text *out) {
    sm_debrief *debrief = NULL;
    if (sm_debrief_create(r->drill, &debrief) != SM_OK)
        return false;
    if (r->kept)
        sm_logbook_writer_debrief(r->kept, debrief);
    if (r->options->drill->json)
        sm_drill_debrief_json(r->drill, out);
    else
        sm_debrief_text(debrief, cmd_columns(), out);
    sm_debrief_destroy(debrief);
    return !out->failed;
}

// The drill's end, its debrief, and whether it was passed.
static int debrief(run *r) {
    sm_wall_time now = r->audio ? sm_audio_now(r->audio) : sm_rehearsal_facts(r->rehearsal).now;
    sm_text text = {0};
    if (sm_drill_finish(r->drill, now) != SM_OK || !write_debrief(r, &text)) {
        sm_text_deinit(&text);
        cmd_complain("memory ran out");
        return CMD_UNUSABLE;
    }
    if (r->kept && r->options->drill->crew)
        keep_drill(r);
    bool failed = fputs(sm_text_get(&text), stdout) < 0 || fflush(stdout) != 0;
    sm_text_deinit(&text);
    if (failed) {
        cmd_complain("the debrief could not be written: %s", strerror(errno));
        return CMD_UNUSABLE;
    }
    return sm_drill_passed(r->drill) ? CMD_GOOD : CMD_FINDINGS;
}

static int status_of(run *r, sm_result result) {
    sm_wall_time at;
    if (result != SM_OK) {
        cmd_complain("%s", sm_result_text(result));
        return CMD_UNUSABLE;
    }
    if (r->write_failed) {
        cmd_complain("the log could not be written: %s", strerror(errno));
        return CMD_UNUSABLE;
    }
    bool ended = sm_rehearsal_quit(r->rehearsal) || (r->drill && sm_drill_is_over(r->drill));
    if (!ended && stop_signal == 0 && r->options->script_path &&
        sm_operator_next(r->operator_, r->rehearsal, &at) != SM_OPERATOR_OUT) {
        fprintf(cmd_stderr(), "%s:%u:1: error: its moment never came: the show did not reach it [script]\n",
                r->options->script_path, sm_operator_line(r->operator_));
        return CMD_UNUSABLE;
    }
    if (r->arming_refused)
        cmd_complain("arming was refused: %s", sm_rehearsal_refusal(r->rehearsal));
    return r->arming_refused ? CMD_FINDINGS : CMD_GOOD;
}

static int rehearse(run *r) {
    int status = read_script(r->options, r->show, &r->operator_);
    if (status != CMD_GOOD)
        return status;
    if (!open_log(r) || !open_audio(r) || !open_logbook(r) || !open_rehearsal(r))
        return CMD_UNUSABLE;
    sm_result result = r->options->fast ? loop_fast(r) : loop_on_clock(r);
    make_safe_on_signal(r);
    if (fflush(stdout) != 0 || (r->log && fflush(r->log) != 0))
        r->write_failed = true;
    status = status_of(r, result);
    if (r->drill && status == CMD_GOOD)
        status = debrief(r);
    if (r->log && fflush(r->log) != 0)
        status = CMD_UNUSABLE;
    return status;
}

int headless_run(const headless_options *options) {
    run r = {.options = options, .show = options->show};
    struct sigaction action = {.sa_handler = on_signal};
    sigaction(SIGINT, &action, NULL);
    sigaction(SIGTERM, &action, NULL);
    sigaction(SIGHUP, &action, NULL);
    signal(SIGPIPE, SIG_IGN); // a closed pipe is a write error, said as one
    int status = rehearse(&r);
    sm_link_close(r.link);
    if (r.drill)
        sm_drill_run_destroy(r.drill);
    else
        sm_rehearsal_destroy(r.rehearsal);
    cmd_logbook_end(r.kept);
    sm_operator_destroy(r.operator_);
    sm_audio_close(r.audio);
    cmd_unmuffle();
    sm_show_destroy(r.show);
    if (r.log)
        fclose(r.log);
    sm_text_deinit(&r.row);
    if (stop_signal != 0) {
        signal((int)stop_signal, SIG_DFL);
        raise((int)stop_signal);
    }
    return status;
}

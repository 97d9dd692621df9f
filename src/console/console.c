// SPDX-License-Identifier: GPL-3.0-or-later
// The screen's thread: waits for keys, signals and news, draws when something has changed.
#include "slowmatch/console.h"

#include "boards/words/rig_explanation.h"
#include "console/frame.h"
#include "console/pace.h"
#include "console/signals.h"
#include "console/ui.h"
#include "console/watchdog.h"
#include "screen/stray_output.h"
#include "screen/terminal.h"

#include "slowmatch/clock.h"
#include "slowmatch/session.h"
#include "slowmatch/walk_answers.h"

#include <errno.h>
#include <locale.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

// What the engine says so soon after a key is taken for the answer to it.
#define ANSWER_US (SM_US_PER_S / 10)
// A redraw asks the session for a snapshot, and waits for it at most so long.
#define ASK_PATIENCE_US (SM_US_PER_S / 20)
// How long the end waits for a make safe.
#define SAFE_PATIENCE_US (SM_US_PER_S / 2)

typedef struct console {
    sm_session *session;
    sm_terminal *terminal;
    sm_cells *cells;
    sm_ui ui;
    sm_stray_output stray_output;
    sm_signals signals;
    sm_watchdog watchdog;
    sm_time_of_day time_of_day;
    sm_recent recent;
    sm_findings *findings;
    char *paper_words;
    sm_walkthrough *walkthrough;
    sm_choices_keeper *keeper; // NULL: choices are kept nowhere
    sm_palette painted;        // as told to the terminal
    sm_rig_explainer rig_explanation;
    sm_audio_status sound;
    sm_drill_view drill;
    sm_debrief *debrief;
    sm_show *to_hand_over; // until the session has it
    sm_pace pace;
    int64_t keyed_us; // of the latest key that changed something
    bool acted;       // it was an action, and the engine has not said anything since
    bool keyed;       // it has not been drawn yet
    bool asked;       // for the snapshot of the next redraw,
    int64_t asked_us; // then
    bool answered;    // news came in this round
    bool dirty;       // something on screen has changed
    bool works;       // a board has more to do beside drawing
    bool over;
    int signal;                // that ends the program, 0
    char logbook_problem[400]; // as said last
    char unkept[400];
    int unkept_choices; // errno as noted last
} console;

const char *sm_console_missing(void) {
    return sm_terminal_missing();
}

// ---- what the ui asks for -------------------------------------------------------------------

static bool act(void *owner, const char *line) {
    console *c = owner;
    c->acted = true;
    return sm_session_act(c->session, line);
}

static void read_file(void *owner, const char *path) {
    (void)sm_session_read_file(((console *)owner)->session, path);
}

static bool answer(void *owner, unsigned question, const char *text) {
    return sm_session_answer(((console *)owner)->session, question, text);
}

// ---- looking at the rehearsal ------------------------------------------------------------------

static bool moves(const sm_snapshot *snapshot) {
    return snapshot->state == SM_STATE_RUNNING || snapshot->state == SM_STATE_ARMING ||
           snapshot->flying > 0 || snapshot->burning_count > 0;
}

static void take_findings(console *c) {
    sm_findings *findings = sm_session_findings(c->session);
    if (findings) {
        sm_findings_destroy(c->findings);
        c->findings = findings;
        c->ui.view.checked = true;
    }
}

static void take_paper_words(console *c) {
    char *words = sm_session_paper_words(c->session);
    if (words) {
        free(c->paper_words);
        c->paper_words = words;
    }
    c->ui.view.paper_words = c->paper_words ? c->paper_words : "";
}

static void look(console *c) {
    const sm_snapshot *snapshot = sm_session_take(c->session);
    bool other_show = c->ui.view.show && c->ui.view.show != snapshot->show;
    take_findings(c);
    take_paper_words(c);
    sm_session_recent(c->session, &c->recent);
    sm_audio_status_get(sm_session_audio(c->session), &c->sound);
    c->ui.view.snapshot = snapshot;
    c->ui.view.show = snapshot->show;
    c->ui.view.time_of_day = &c->time_of_day;
    c->ui.view.recent = &c->recent;
    c->ui.view.findings = c->findings;
    c->ui.view.stray_output = &c->stray_output.latest;
    c->ui.view.audio = sm_session_audio(c->session);
    c->ui.view.sound = &c->sound;
    c->ui.view.rig_explanation = sm_rig_explainer_look(&c->rig_explanation, snapshot);
    c->ui.view.not_kept = c->logbook_problem[0] ? c->logbook_problem : NULL;
    c->ui.view.walk = sm_walkthrough_look(
        c->walkthrough, &(sm_walk_seen){snapshot, &c->recent, c->ui.view.checked ? c->findings : NULL,
                                        c->time_of_day.launch_us});
    sm_session_drill(c->session, &c->drill);
    c->ui.view.drill = c->drill.drill ? &c->drill : NULL;
    sm_debrief *debrief = sm_session_debrief(c->session);
    if (debrief) {
        sm_debrief_destroy(c->debrief);
        c->debrief = debrief;
    }
    c->ui.view.debrief = c->debrief;
    if (other_show)
        sm_ui_show_changed(&c->ui);
}

// Said when it begins and when it changes; the message after it may cover it.
static void take_logbook_problem(console *c) {
    char problem[400];
    sm_session_logbook_problem(c->session, problem);
    if (problem[0] && (strcmp(problem, c->logbook_problem) != 0 || !c->ui.has_message)) {
        c->ui.has_message = true;
        c->ui.message.kind = SM_OUTCOME_WRONG;
        snprintf(c->ui.message.text, sizeof c->ui.message.text, "NOT BEING KEPT in the logbook: %s", problem);
    }
    snprintf(c->logbook_problem, sizeof c->logbook_problem, "%s", problem);
}

static void take_outcomes(console *c) {
    while (sm_session_outcome(c->session, &c->ui.message)) {
        c->ui.has_message = true;
        c->ui.bell |= c->ui.view.tones && c->ui.message.kind != SM_OUTCOME_TOLD;
    }
    int error = sm_session_log_error(c->session);
    if (error) {
        c->ui.has_message = true;
        c->ui.message.kind = SM_OUTCOME_WRONG;
        snprintf(c->ui.message.text, sizeof c->ui.message.text, "THE LOG CANNOT BE WRITTEN: %s",
                 strerror(error));
    }
}

// ---- what was chosen ---------------------------------------------------------------------------------

static void note(console *c, const char *line) {
    if (line[0])
        sm_text_printf(&c->stray_output.latest, "%s\n", line);
}

static void read_choices(console *c) {
    char *path = sm_choices_path(), problem[SM_CHOICES_PROBLEM] = "";
    if (path) {
        sm_choices_read(path, &c->ui.choices, problem);
        note(c, problem);
        sm_ui_begin_as_chosen(&c->ui);
        if (sm_choices_keeper_start(path, &c->keeper) != SM_OK)
            note(c, "memory ran out: what is chosen is not kept");
    }
    free(path);
}

static void take_choices(console *c) {
    if (c->painted != c->ui.choices.colours) {
        c->painted = c->ui.choices.colours;
        sm_terminal_colours(c->terminal, c->painted);
    }
    if (c->ui.chose) {
        c->ui.chose = false;
        sm_choices_keeper_put(c->keeper, &c->ui.choices);
    }
    int error = sm_choices_keeper_error(c->keeper);
    if (error != c->unkept_choices) {
        char line[160];
        snprintf(line, sizeof line, "what is chosen on the screen is not kept: %s", strerror(error));
        note(c, error ? line : "");
        c->unkept_choices = error;
    }
}

// ---- drawing ----------------------------------------------------------------------------------------

// Makes the grid fit the terminal. False: no memory; what is there stays.
static bool fit_cells(console *c) {
    int columns, rows;
    sm_terminal_measure(c->terminal, &columns, &rows);
    if (c->cells && sm_cells_columns(c->cells) == columns && sm_cells_rows(c->cells) == rows)
        return true;
    sm_cells *cells = sm_cells_create(columns, rows);
    if (!cells)
        return false;
    sm_cells_destroy(c->cells);
    c->cells = cells;
    sm_pace_fit(&c->pace, columns, rows);
    sm_terminal_forget(c->terminal);
    return true;
}

static void draw(console *c) {
    sm_pace_begin(&c->pace, sm_monotonic_us());
    c->keyed = false;
    if (!c->cells || !sm_terminal_takes(c->terminal))
        return; // the frame is left out
    c->dirty = false;
    take_choices(c);
    sm_frame_draw(&c->ui, c->cells);
    if (sm_terminal_is_ascii(c->terminal))
        sm_cells_to_ascii(c->cells);
    if (c->ui.repaint) {
        sm_terminal_forget(c->terminal);
        c->ui.repaint = false;
    }
    sm_watchdog_writes(&c->watchdog, true);
    size_t bytes = sm_terminal_paint(c->terminal, c->cells, c->ui.cursor_x, c->ui.cursor_y);
    sm_pace_count(&c->pace, bytes);
    if (c->ui.bell) {
        sm_terminal_bell(c->terminal);
        c->ui.bell = false;
    }
    sm_watchdog_writes(&c->watchdog, false);
}

// ---- keys and signals ----------------------------------------------------------------------------------

static void suspend(console *c) {
    sm_session_make_safe(c->session, SAFE_PATIENCE_US);
    sm_terminal_leave(c->terminal);
    sm_signals_stop(&c->signals);
    sm_terminal_return(c->terminal);
    (void)fit_cells(c);
    c->dirty = true;
}

static void take_signals(console *c) {
    for (int signal = sm_signals_next(&c->signals); signal; signal = sm_signals_next(&c->signals)) {
        if (sm_signal_ends(signal)) {
            c->signal = signal;
            c->over = true;
        } else if (signal == SIGTSTP) {
            suspend(c);
        } else if (signal == SIGWINCH) {
            // Also at the same size as before: smaller for a moment, it lost what stood outside.
            sm_terminal_forget(c->terminal);
            c->dirty |= fit_cells(c);
        }
    }
}

static void changed_by_hand(console *c, bool changed) {
    if (changed) {
        c->dirty = c->keyed = true;
        c->keyed_us = sm_monotonic_us();
    }
}

static void take_keys(console *c) {
    for (int key = sm_terminal_key(c->terminal); key != SM_KEY_NONE; key = sm_terminal_key(c->terminal)) {
        if (key == SM_KEY_INTERRUPT || key == SM_KEY_QUIT) {
            c->signal = key == SM_KEY_INTERRUPT ? SIGINT : SIGQUIT;
            c->over = true;
        } else if (key == SM_KEY_SUSPEND) {
            suspend(c);
        } else if (key == SM_KEY_MOUSE) {
            changed_by_hand(c, sm_ui_point(&c->ui, sm_terminal_mouse(c->terminal)));
        } else {
            changed_by_hand(c, sm_ui_press(&c->ui, key));
        }
    }
}

// ---- the loop ---------------------------------------------------------------------------------------------

// When the next redraw is due, by what is on screen now.
static int64_t due_us(const console *c) {
    if (c->asked)
        return c->asked_us + ASK_PATIENCE_US;
    bool changes = c->dirty || moves(c->ui.view.snapshot);
    return sm_pace_due_us(&c->pace, !changes ? SM_PACE_IDLE : c->keyed ? SM_PACE_KEYED : SM_PACE_MOVING);
}

static void wait_for_anything(console *c) {
    // News that are known of already would only wake it again and again until the redraw.
    int news = c->dirty && !c->asked ? -1 : sm_session_descriptor(c->session);
    struct pollfd waited[] = {{STDIN_FILENO, POLLIN, 0},
                              {c->signals.descriptor, POLLIN, 0},
                              {news, POLLIN, 0},
                              {c->stray_output.descriptor, POLLIN, 0}};
    int64_t left = c->works ? 0 : due_us(c) - sm_monotonic_us();
    poll(waited, sizeof waited / sizeof waited[0], left > 0 ? (int)(left / 1000 + 1) : 0);
    if (waited[0].revents & (POLLHUP | POLLERR))
        raise(SIGHUP); // the terminal is gone, and nothing else may tell
    if (news >= 0 && (waited[2].revents & POLLIN)) {
        c->dirty = true;
        c->answered = true;
        c->keyed |= c->acted && sm_monotonic_us() - c->keyed_us < ANSWER_US;
        c->acted = false;
    }
}

// The terminal's bell stands in where no sound plays.
static void sound_arming(console *c) {
    if (!c->ui.arming_tone)
        return;
    c->ui.arming_tone = false;
    if (c->sound.state == SM_AUDIO_SOUNDING && !c->ui.view.snapshot->incidents.sound_lost)
        sm_audio_tone(sm_session_audio(c->session), SM_TONE_ARMING);
    else
        c->ui.bell = true;
}

static void redraw(console *c) {
    c->asked = false;
    look(c);
    take_outcomes(c);
    take_logbook_problem(c);
    sm_ui_look(&c->ui);
    sound_arming(c);
    draw(c);
    c->over |= sm_session_has_quit(c->session);
}

// One round: whatever has come is taken. A redraw is in two steps: a snapshot as of now is asked for, and drawn as soon
// as it is there; if the engine's thread is late, what there is is drawn.
static void go_round(console *c) {
    c->answered = false;
    wait_for_anything(c);
    take_signals(c);
    take_keys(c);
    c->dirty |= sm_stray_output_read(&c->stray_output);
    bool worked = c->works;
    c->works = sm_ui_work(&c->ui);
    c->dirty |= worked; // how far it has come, and that it is done
    bool due = sm_monotonic_us() >= due_us(c);
    if (c->asked && (c->answered || due)) {
        redraw(c);
    } else if (!c->asked && due) {
        c->asked = true;
        c->asked_us = sm_monotonic_us();
        sm_session_want(c->session);
    }
}

// ---- beginning and ending -----------------------------------------------------------------------------------

static sm_findings *copy_findings(const sm_findings *from) {
    sm_findings *copy = sm_findings_create();
    for (size_t i = 0; copy && from && i < sm_findings_count(from); i++)
        sm_findings_put(copy, sm_findings_at(from, i));
    return copy;
}

static bool begin(console *c, const sm_console_options *options, char problem[SM_CONSOLE_PROBLEM]) {
    snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
    c->findings = copy_findings(options->findings);
    if (!c->findings || sm_walkthrough_create(options->logbook_path, &c->walkthrough) != SM_OK)
        return false;
    if (sm_signals_open(&c->signals) != SM_OK || sm_stray_output_catch(&c->stray_output) != SM_OK) {
        snprintf(problem, SM_CONSOLE_PROBLEM, "signals or messages cannot be caught: %s", strerror(errno));
        return false;
    }
    sm_session_options session = {.show = options->show,
                                  .loaded = copy_findings(options->findings),
                                  .readings_file = options->readings_file,
                                  .drill = options->drill,
                                  .log_path = options->log_path,
                                  .logbook_path = options->logbook_path,
                                  .unkept = c->unkept,
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
    c->to_hand_over = NULL;
    if (sm_session_create(&session, problem, &c->session) != SM_OK)
        return false;
    snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
    if (sm_session_start(c->session) != SM_OK)
        return false;
    c->time_of_day.launch_us = sm_unix_now_us() - sm_session_now(c->session).us;
    look(c);
    if (sm_ui_init(&c->ui) != SM_OK)
        return false;
    c->ui.view.silent = options->silent;
    c->ui.view.offset_measured = options->sound_offset_us != 0;
    c->ui.view.timecode_side = sm_audio_side_text(options->timecode_channel);
    c->ui.owner = c;
    c->ui.act = act;
    c->ui.answer = answer;
    c->ui.read_file = read_file;
    read_choices(c);
    if (sm_watchdog_start(&c->watchdog, c->session) != SM_OK)
        return false;
    sm_watchdog_writes(&c->watchdog, true);
    sm_result result = sm_terminal_open(&c->terminal);
    sm_watchdog_writes(&c->watchdog, false);
    if (result != SM_OK) {
        snprintf(problem, SM_CONSOLE_PROBLEM, "this terminal (TERM) cannot be used: %s",
                 sm_result_text(result));
        return false;
    }
    sm_terminal_listen(c->terminal, c->ui.choices.mouse);
    c->dirty = true;
    return fit_cells(c);
}

static void end(console *c) {
    if (c->session && !sm_session_has_quit(c->session))
        sm_session_make_safe(c->session, SAFE_PATIENCE_US);
    atomic_store(&c->watchdog.signal, c->signal);
    sm_watchdog_writes(&c->watchdog, true);
    sm_terminal_close(c->terminal);
    sm_watchdog_writes(&c->watchdog, false);
    sm_watchdog_stop(&c->watchdog);
    sm_session_destroy(c->session);
    sm_choices_keeper_stop(c->keeper);
    sm_stray_output_release(&c->stray_output);
    sm_ui_deinit(&c->ui);
    sm_cells_destroy(c->cells);
    sm_findings_destroy(c->findings);
    free(c->paper_words);
    sm_debrief_destroy(c->debrief);
    sm_rig_explainer_deinit(&c->rig_explanation);
    sm_walkthrough_destroy(c->walkthrough);
    sm_show_destroy(c->to_hand_over);
    sm_signals_close(&c->signals);
}

int sm_console_run(const sm_console_options *options, char problem[SM_CONSOLE_PROBLEM]) {
    setlocale(LC_CTYPE, "");
    console *c = calloc(1, sizeof *c);
    if (!c) {
        sm_show_destroy(options->show);
        snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
        return 2;
    }
    c->signals.descriptor = c->stray_output.saved = c->stray_output.descriptor = -1;
    c->to_hand_over = options->show;
    bool begun = begin(c, options, problem);
    if (begun)
        problem[0] = '\0';
    while (begun && !c->over)
        go_round(c);
    int signal = c->signal;
    end(c);
    if (begun) {
        snprintf(problem, SM_CONSOLE_PROBLEM, "%s%.270s", c->unkept[0] ? "not kept in the logbook: " : "",
                 c->unkept);
    }
    free(c);
    if (signal)
        sm_signals_die(signal);
    return begun ? 0 : 2;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The lines' loop: waits for what is typed, signals and news, and tells what has changed.
#include "console/lines/lines.h"

#include "console/lines/told.h"
#include "console/lines/typed.h"
#include "console/modes/modes.h"
#include "console/modes/second_key.h"
#include "console/signals.h"
#include "console/watchdog.h"
#include "screen/stray_output.h"

#include "slowmatch/clock.h"
#include "slowmatch/console.h"

#include <errno.h>
#include <fcntl.h>
#include <locale.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

// What was done by hand is answered by then; only then the next line is taken, so that it is understood as things stand.
#define ANSWER_US SM_US_PER_S
#define SAFE_PATIENCE_US (SM_US_PER_S / 2)
#define OUT_PATIENCE_US (2 * SM_US_PER_S)
// How often what has an age, or moves by itself, is looked at.
#define LOOK_US (SM_US_PER_S / 10)
#define IDLE_US SM_US_PER_S

#define TYPED_BYTES SM_PROMPT_BYTES

typedef struct driver {
    sm_lines lines; // first, so that what is told of it finds the rest
    sm_stray_output stray_output;
    sm_signals signals;
    char typed[TYPED_BYTES];
    size_t length; // of it; TYPED_BYTES: too long, dropped up to its end
    bool terminal; // standard input is one
    bool early;    // what is read was there before the question was
    int64_t acted_us, looked_us;
    bool waits; // for the answer to a line
    bool over;
    int signal; // that ends the program, 0
} driver;

// ---- what is typed ------------------------------------------------------------------------------

// What was done, if anything was, is told before the next prompt.
static void await_answer(driver *d) {
    d->waits = d->lines.seen.acted;
    d->acted_us = sm_monotonic_us();
    if (d->waits)
        sm_session_want(d->lines.seen.session);
}

static void line_ended(driver *d) {
    bool long_one = d->length >= TYPED_BYTES;
    d->typed[long_one ? 0 : d->length] = '\0';
    d->length = 0;
    sm_lines_out_typed(&d->lines.out);
    if (long_one) {
        sm_lines_out_say(&d->lines.out, "not done: the line is too long");
        d->lines.typed = true;
        return;
    }
    if (d->early && !sm_lines_stops(d->typed)) {
        char says[TYPED_BYTES + 64];
        snprintf(says, sizeof says, "not taken, it came before the question: %s", d->typed);
        sm_lines_out_say(&d->lines.out, says);
        return;
    }
    d->lines.seen.acted = false;
    sm_lines_typed(&d->lines, d->typed);
    await_answer(d);
}

// A line is bytes up to its line feed; what is no text becomes a question mark, so that it is refused and can be seen.
static void take_byte(driver *d, char byte) {
    if (byte == '\n') {
        line_ended(d);
    } else if (byte != '\r' && d->length < TYPED_BYTES) {
        bool control = (unsigned char)byte < 0x20 || byte == 0x7F;
        d->typed[d->length] = byte == '\t' ? ' ' : control ? '?' : byte;
        d->length += d->length < TYPED_BYTES;
    }
}

// False: nothing is there now, or nobody is there any more.
static bool read_byte(driver *d, char *byte) {
    struct pollfd in = {STDIN_FILENO, POLLIN, 0};
    if (d->over || poll(&in, 1, 0) <= 0)
        return false;
    ssize_t count = read(STDIN_FILENO, byte, 1);
    if (count == 0 || (count < 0 && errno != EINTR && errno != EAGAIN))
        d->over = true; // the end makes safe
    return count > 0;
}

// One line at the most, byte by byte: what stands behind it is left for whoever reads next. On a terminal a paste is as many lines as it
// has; where one of them asks what leads to a firing, those behind it were there before anybody read the question, and answer nothing.
static void take_line(driver *d) {
    const sm_ui *ui = &d->lines.seen.ui;
    bool asked = sm_ui_asks_to_fire(ui);
    char byte = '\0';
    while (byte != '\n' && read_byte(d, &byte))
        take_byte(d, byte);
    d->early = d->terminal && !asked && sm_ui_asks_to_fire(ui);
    while (d->early && sm_ui_asks_to_fire(ui) && read_byte(d, &byte))
        take_byte(d, byte);
    d->early = false;
}

// ---- signals --------------------------------------------------------------------------------------

// Ctrl-C of a person; a second one, while it is asked whether to leave, leaves.
static void interrupt(driver *d) {
    d->lines.seen.acted = false;
    if (!d->terminal || !sm_ui_interrupt(&d->lines.seen.ui)) {
        d->signal = SIGINT;
        d->over = true;
        return;
    }
    d->length = 0; // the terminal has dropped the line too, and begun no new one
    d->lines.typed = d->lines.asked_anew = true;
    await_answer(d);
}

static void take_signals(driver *d) {
    for (int signal = sm_signals_next(&d->signals); signal; signal = sm_signals_next(&d->signals)) {
        if (signal == SIGINT) {
            interrupt(d);
        } else if (sm_signal_ends(signal)) {
            d->signal = signal;
            d->over = true;
        } else if (signal == SIGTSTP) {
            sm_session_make_safe(d->lines.seen.session, SAFE_PATIENCE_US);
            sm_signals_stop(&d->signals);
            d->lines.typed = d->lines.asked_anew = true;
        }
    }
}

// ---- the loop ---------------------------------------------------------------------------------------

static void say_outcome(sm_rehearsal_view *seen, const sm_outcome_note *note) {
    driver *d = (driver *)seen;
    sm_lines_out_say(&d->lines.out, note->text);
    seen->ui.has_message = false;
}

static void wait_for_anything(driver *d) {
    int64_t look = d->looked_us + (sm_rehearsal_moves(d->lines.seen.ui.view.snapshot) ? LOOK_US : IDLE_US);
    int64_t until = d->waits ? d->acted_us + ANSWER_US : look, left = until - sm_monotonic_us();
    struct pollfd waited[] = {{d->waits ? -1 : STDIN_FILENO, POLLIN, 0},
                              {d->signals.descriptor, POLLIN, 0},
                              {sm_session_descriptor(d->lines.seen.session), POLLIN, 0},
                              {d->stray_output.descriptor, POLLIN, 0}};
    poll(waited, sizeof waited / sizeof waited[0], left > 0 ? (int)(left / 1000 + 1) : 0);
    if (sm_monotonic_us() >= until)
        d->waits = false;
    if (sm_monotonic_us() >= look)
        sm_session_want(d->lines.seen.session);
}

static void look(driver *d) {
    sm_ui *ui = &d->lines.seen.ui;
    sm_ui_mode before = ui->mode;
    bool was_over = d->lines.told_over, was_known = ui->view.tuning_words != NULL;
    d->looked_us = sm_monotonic_us();
    sm_rehearsal_view_look(&d->lines.seen);
    const bool behind = sm_session_is_behind(d->lines.seen.session);
    if (d->waits && behind)
        sm_session_want(d->lines.seen.session);
    d->waits = d->waits && behind;
    sm_lines_tell(&d->lines);
    if (d->lines.told_over && !was_over && ui->chosen == SM_BOARD_DEBRIEF && ui->mode == SM_UI_BOARD)
        sm_ui_press(ui, SM_KEY_ENTER); // its questions come before what there is to read
    if (ui->mode == SM_UI_APPLY && !was_known && ui->view.tuning_words)
        d->lines.asked_anew = true; // what is asked about is there now
    if (ui->mode != before) {
        d->lines.asked_anew = true;
        if (sm_mode_of(before)->asks)
            sm_lines_out_say(&d->lines.out, "What was asked is no longer asked: the state has changed.");
    }
}

static void go_round(driver *d) {
    wait_for_anything(d);
    take_signals(d);
    if (!d->waits && !d->over && !d->lines.typed) // one at a time, each told with what came of it
        take_line(d);
    (void)sm_stray_output_read(&d->stray_output);
    if (sm_ui_work(&d->lines.seen.ui))
        return; // a search is under way
    look(d);
    d->over |= sm_session_has_quit(d->lines.seen.session) || sm_lines_out_error(&d->lines.out) != 0;
    if (!d->waits && !d->over)
        sm_lines_prompt(&d->lines);
}

// ---- beginning and ending ------------------------------------------------------------------------------

static bool begin(driver *d, const sm_console_options *options, char problem[SM_CONSOLE_PROBLEM]) {
    d->lines.seen.to_hand_over = options->show;
    d->terminal = isatty(STDIN_FILENO) != 0;
    if (sm_signals_open(&d->signals) != SM_OK || sm_stray_output_catch(&d->stray_output) != SM_OK) {
        snprintf(problem, SM_CONSOLE_PROBLEM, "signals or messages cannot be caught: %s", strerror(errno));
        return false;
    }
    snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
    sm_watchdog watchdog = {0};
    bool begun = sm_lines_out_open(&d->lines.out) == SM_OK && sm_watchdog_start(&watchdog) == SM_OK &&
                 sm_rehearsal_view_begin(&d->lines.seen, options, &d->stray_output.latest, problem);
    sm_watchdog_stop(&watchdog);
    if (!begun)
        return false;
    d->lines.seen.outcome = say_outcome;
    d->lines.seen.ui.view.key_of = sm_lines_word_of;
    d->lines.seen.ui.view.as_lines = true;
    // A drill has its brief once the session has made its first step.
    struct pollfd first = {sm_session_descriptor(d->lines.seen.session), POLLIN, 0};
    sm_session_want(d->lines.seen.session);
    poll(&first, 1, (int)(ANSWER_US / 1000));
    sm_lines_told_begin(&d->lines);
    sm_rehearsal_view_look(&d->lines.seen);
    sm_lines_tell(&d->lines);
    sm_lines_prompt(&d->lines);
    return true;
}

// Returns errno of what could not be told, 0.
static int end(driver *d) {
    sm_session *session = d->lines.seen.session;
    if (session && !sm_session_has_quit(session))
        sm_session_make_safe(session, SAFE_PATIENCE_US);
    int error = sm_lines_out_close(&d->lines.out, OUT_PATIENCE_US);
    sm_rehearsal_view_end(&d->lines.seen);
    sm_stray_output_release(&d->stray_output);
    sm_signals_close(&d->signals);
    return error;
}

int sm_console_run_lines(const sm_console_options *options, char problem[SM_CONSOLE_PROBLEM]) {
    setlocale(LC_CTYPE, "");
    driver *d = calloc(1, sizeof *d);
    if (!d) {
        sm_show_destroy(options->show);
        snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
        return 2;
    }
    d->signals.descriptor = d->stray_output.saved = d->stray_output.descriptor = -1;
    bool begun = begin(d, options, problem);
    if (begun)
        problem[0] = '\0';
    while (begun && !d->over)
        go_round(d);
    int signal = d->signal, error = end(d);
    if (begun && error)
        snprintf(problem, SM_CONSOLE_PROBLEM, "the lines could not be written: %s", strerror(error));
    else if (begun && d->lines.seen.unkept[0])
        snprintf(problem, SM_CONSOLE_PROBLEM, "not kept in the logbook: %.270s", d->lines.seen.unkept);
    free(d);
    if (signal)
        sm_signals_die(signal);
    return begun && error == 0 ? 0 : 2;
}

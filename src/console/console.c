// SPDX-License-Identifier: GPL-3.0-or-later
// The screen's thread: waits for keys, signals and news, draws when something has changed.
#include "slowmatch/console.h"

#include "console/follow_view.h"
#include "console/frame.h"
#include "console/modes/second_key.h"
#include "console/pace.h"
#include "console/placement.h"
#include "console/rehearsal_view.h"
#include "console/signals.h"
#include "console/tell.h"
#include "console/watchdog.h"
#include "screen/stray_output.h"
#include "screen/terminal.h"

#include "slowmatch/clock.h"

#include <errno.h>
#include <locale.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

// What the engine says within this time after a key is taken for its answer to that key.
#define ANSWER_US (SM_US_PER_S / 10)
// A redraw asks the session for a snapshot, and waits for it no longer than this.
#define ASK_PATIENCE_US (SM_US_PER_S / 20)
// On leaving, the program waits no longer than this until the module is made safe.
#define SAFE_PATIENCE_US (SM_US_PER_S / 2)

// Before there is anything to show, a follower looks for it this often.
#define FOLLOW_LOOK_MS 100

typedef struct console {
    sm_rehearsal_view seen; // used where the rehearsal is our own
    sm_follow_seen told;    // used where another console tells it through a broker
    sm_ui *ui;              // of `seen`, in both cases
    sm_session *session;    // NULL: another console tells the rehearsal, and nothing here acts on it
    sm_terminal *terminal;
    sm_cells *cells;
    sm_stray_output stray_output;
    sm_signals signals;
    sm_watchdog watchdog;
    sm_choices_keeper *keeper; // NULL: choices are kept nowhere
    sm_palette painted;        // the palette that the terminal has now
    sm_pace pace;
    int64_t keyed_us; // moment of the latest key that changed something
    bool keyed;       // what that key changed has not been drawn yet
    bool asked;       // the next redraw has asked for its snapshot
    int64_t asked_us; // when it asked
    bool answered;    // news came in this round
    bool dirty;       // something on screen has changed
    bool unseen;      // a question stands that has not been drawn yet
    bool works;       // a board has more to do beside drawing
    bool over;
    int signal;         // the signal that ends the program; 0: none came
    int unkept_choices; // why choices could not be kept: the errno that was told last
} console;

const char *sm_console_missing(void) {
    return sm_terminal_missing();
}

const char *sm_console_board(size_t index) {
    for (size_t i = 0; i < SM_BOARDS; i++)
        if (!sm_board_at(i)->drill_only && index-- == 0)
            return sm_board_at(i)->name;
    return NULL;
}

// ---- what was chosen ---------------------------------------------------------------------------------

static void note(console *c, const char *line) {
    if (line[0])
        sm_text_printf(&c->stray_output.latest, "%s\n", line);
}

static void read_choices(console *c) {
    char *path = sm_choices_path(), problem[SM_CHOICES_PROBLEM] = "";
    if (path) {
        sm_choices_read(path, &c->ui->choices, problem);
        note(c, problem);
        sm_ui_begin_as_chosen(c->ui);
        if (sm_choices_keeper_start(path, &c->keeper) != SM_OK)
            note(c, "memory ran out: what is chosen is not kept");
    }
    free(path);
}

static void take_choices(console *c) {
    sm_palette wanted = sm_palette_on(c->ui->choices.colours, sm_terminal_ground(c->terminal));
    if (c->painted != wanted) {
        c->painted = wanted;
        sm_terminal_colours(c->terminal, c->painted);
    }
    if (c->ui->chose) {
        c->ui->chose = false;
        sm_choices_keeper_put(c->keeper, &c->ui->choices);
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

// Makes the grid as large as the terminal. False: memory ran out, and the old grid stays.
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
    sm_frame_draw(c->ui, c->cells);
    if (sm_terminal_is_ascii(c->terminal))
        sm_cells_to_ascii(c->cells);
    if (c->ui->repaint) {
        sm_terminal_forget(c->terminal);
        c->ui->repaint = false;
    }
    sm_watchdog_writes(&c->watchdog, true);
    size_t bytes = sm_terminal_paint(c->terminal, c->cells, c->ui->cursor_x, c->ui->cursor_y);
    sm_pace_count(&c->pace, bytes);
    c->unseen = false;
    if (c->ui->bell) {
        sm_terminal_bell(c->terminal);
        c->ui->bell = false;
    }
    sm_watchdog_writes(&c->watchdog, false);
}

// ---- keys and signals ----------------------------------------------------------------------------------

static void suspend(console *c) {
    if (c->session)
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

// What leads to a firing counts only once its question has been drawn: keys that come in one go, as pasted text does where the terminal
// does not mark it, have not been read by anybody in between.
static void take_key(console *c, int key) {
    sm_ui *ui = c->ui;
    if (key == SM_KEY_ENTER && sm_ui_asks_to_fire(ui) && c->unseen)
        return;
    bool asked = ui->mode == SM_UI_CONFIRM;
    changed_by_hand(c, sm_ui_press(ui, key));
    c->unseen |= !asked && ui->mode == SM_UI_CONFIRM;
}

static void take_keys(console *c) {
    for (int key = sm_terminal_key(c->terminal); key != SM_KEY_NONE; key = sm_terminal_key(c->terminal)) {
        if (key == SM_KEY_QUIT || (key == SM_KEY_INTERRUPT && !sm_ui_interrupt(c->ui))) {
            c->signal = key == SM_KEY_INTERRUPT ? SIGINT : SIGQUIT;
            c->over = true;
        } else if (key == SM_KEY_INTERRUPT) {
            changed_by_hand(c, true);
        } else if (key == SM_KEY_SUSPEND) {
            suspend(c);
        } else if (key == SM_KEY_GROUND) {
            c->dirty = true; // it may be painted otherwise
        } else if (key == SM_KEY_PASTED) {
            sm_ui_paste(c->ui, sm_terminal_pasted(c->terminal));
            changed_by_hand(c, true);
        } else if (key == SM_KEY_PASTING) {
            note(c, "text is being pasted and does not end: SPACE makes safe, Esc twice gives it up");
            c->dirty = true;
        } else if (key == SM_KEY_MOUSE) {
            changed_by_hand(c, sm_ui_point(c->ui, sm_terminal_mouse(c->terminal)));
        } else {
            take_key(c, key);
        }
    }
}

// ---- the loop ---------------------------------------------------------------------------------------------

// When the next redraw is due, by what is on screen now.
static int64_t due_us(const console *c) {
    if (c->asked)
        return c->asked_us + ASK_PATIENCE_US;
    bool changes = c->dirty || !c->session || sm_rehearsal_moves(c->ui->view.snapshot);
    return sm_pace_due_us(&c->pace, !changes ? SM_PACE_IDLE : c->keyed ? SM_PACE_KEYED : SM_PACE_MOVING);
}

static void wait_for_anything(console *c) {
    // News that are known of already would only wake it again and again until the redraw.
    int news = c->dirty && !c->asked ? -1
                                     : (c->session ? sm_session_descriptor(c->session)
                                                   : sm_follower_descriptor(c->told.follower));
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
        c->keyed |= c->seen.acted && sm_monotonic_us() - c->keyed_us < ANSWER_US;
        c->seen.acted = false;
    }
}

static void redraw(console *c) {
    c->asked = false;
    if (c->session)
        sm_rehearsal_view_look(&c->seen);
    else
        sm_follow_seen_look(&c->told);
    draw(c);
    c->over |= c->session ? sm_session_has_quit(c->session) : c->told.has_quit;
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
    c->works = sm_ui_work(c->ui);
    c->dirty |= worked; // how far it has come, and that it is done
    bool due = sm_monotonic_us() >= due_us(c);
    if (c->asked && (c->answered || due || !c->session)) {
        redraw(c);
    } else if (!c->asked && due) {
        c->asked = true;
        c->asked_us = sm_monotonic_us();
        if (c->session)
            sm_session_want(c->session);
    }
}

// ---- beginning and ending -----------------------------------------------------------------------------------

static console *create(void) {
    console *c = calloc(1, sizeof *c);
    if (c) {
        c->signals.descriptor = c->stray_output.saved = c->stray_output.descriptor = -1;
        c->ui = &c->seen.ui;
    }
    return c;
}

static bool catch_all(console *c, char problem[SM_CONSOLE_PROBLEM]) {
    snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
    bool caught = sm_signals_open(&c->signals) == SM_OK && sm_stray_output_catch(&c->stray_output) == SM_OK;
    if (!caught)
        snprintf(problem, SM_CONSOLE_PROBLEM, "signals or messages cannot be caught: %s", strerror(errno));
    return caught && sm_watchdog_start(&c->watchdog) == SM_OK;
}

// What is shown is there: the terminal is taken.
static bool open_terminal(console *c, char problem[SM_CONSOLE_PROBLEM]) {
    read_choices(c);
    sm_watchdog_launched(&c->watchdog, c->session);
    sm_watchdog_writes(&c->watchdog, true);
    sm_result result = sm_terminal_open(&c->terminal);
    sm_watchdog_writes(&c->watchdog, false);
    if (result != SM_OK) {
        snprintf(problem, SM_CONSOLE_PROBLEM, "this terminal (TERM) cannot be used: %s",
                 sm_result_text(result));
        return false;
    }
    sm_terminal_listen(c->terminal, c->ui->choices.mouse);
    c->dirty = true;
    return fit_cells(c);
}

static bool begin(console *c, const sm_console_options *options, char problem[SM_CONSOLE_PROBLEM]) {
    if (!catch_all(c, problem) ||
        !sm_rehearsal_view_begin(&c->seen, options, &c->stray_output.latest, problem))
        return false;
    c->session = c->seen.session;
    if (!open_terminal(c, problem))
        return false;
    if (options->board)
        sm_ui_go_to(c->ui, sm_board_named(options->board));
    return true;
}

static void end(console *c) {
    if (c->seen.session && !sm_session_has_quit(c->seen.session))
        sm_session_make_safe(c->seen.session, SAFE_PATIENCE_US);
    atomic_store(&c->watchdog.signal, c->signal);
    sm_watchdog_writes(&c->watchdog, true);
    sm_terminal_close(c->terminal);
    sm_watchdog_writes(&c->watchdog, false);
    sm_watchdog_stop(&c->watchdog);
    if (c->told.follower)
        sm_follow_seen_end(&c->told);
    else
        sm_rehearsal_view_end(&c->seen);
    sm_choices_keeper_stop(c->keeper);
    sm_stray_output_release(&c->stray_output);
    sm_cells_destroy(c->cells);
    sm_signals_close(&c->signals);
}

int sm_console_run(const sm_console_options *options, char problem[SM_CONSOLE_PROBLEM]) {
    setlocale(LC_CTYPE, "");
    console *c = create();
    if (!c) {
        sm_show_destroy(options->show);
        snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
        return 2;
    }
    c->seen.to_hand_over = options->show;
    bool begun = begin(c, options, problem);
    if (begun)
        problem[0] = '\0';
    while (begun && !c->over)
        go_round(c);
    int signal = c->signal;
    end(c);
    if (begun) {
        snprintf(problem, SM_CONSOLE_PROBLEM, "%s%.270s",
                 c->seen.unkept[0] ? "not kept in the logbook: " : "", c->seen.unkept);
    }
    free(c);
    if (signal)
        sm_signals_die(signal);
    return begun ? 0 : 2;
}

// ---- a rehearsal that is told elsewhere ------------------------------------------------------------------

// Until there is something to show, without the terminal. False: a signal came, or PROBLEM says why.
static bool wait_for_show(console *c, sm_follower *follower, char problem[SM_CONSOLE_PROBLEM]) {
    while (!sm_follower_look(follower)->now && !c->signal) {
        struct pollfd waited[] = {{sm_follower_descriptor(follower), POLLIN, 0},
                                  {c->signals.descriptor, POLLIN, 0}};
        poll(waited, sizeof waited / sizeof waited[0], FOLLOW_LOOK_MS);
        int signal = sm_signals_next(&c->signals);
        c->signal = sm_signal_ends(signal) || signal == SIGINT ? signal : 0;
    }
    char names[256];
    bool several = !c->signal && sm_follower_runs(follower, names) > 1;
    if (several)
        snprintf(problem, SM_CONSOLE_PROBLEM, "several rehearsals are told there; name one:%s", names);
    return !c->signal && !several;
}

static bool begin_following(console *c, sm_follower *follower, char problem[SM_CONSOLE_PROBLEM]) {
    if (!wait_for_show(c, follower, problem))
        return false;
    return sm_follow_seen_begin(&c->told, follower, c->ui, &c->stray_output.latest) == SM_OK &&
           open_terminal(c, problem);
}

// IS_NEXT: this run follows one that was shown before. Returns the exit status; -1: another run follows.
static int follow_one(const sm_broker *broker, const sm_follow_options *options, bool is_next,
                      char problem[SM_CONSOLE_PROBLEM]) {
    console *c = create();
    sm_follower *follower = NULL;
    bool begun = c && catch_all(c, problem); // before the network has its thread
    if (!c)
        snprintf(problem, SM_CONSOLE_PROBLEM, "memory ran out");
    if (begun && sm_follower_create(broker, options, problem, &follower) != SM_OK)
        begun = false;
    begun = begun && begin_following(c, follower, problem);
    if (begun)
        problem[0] = '\0';
    if (begun && is_next)
        sm_ui_say(c->ui, SM_OUTCOME_WRONG,
                  "the rehearsal that was followed is left: this is another one, begun since");
    while (begun && !c->over && !sm_follower_has_next(follower))
        go_round(c);
    int signal = c ? c->signal : 0;
    bool goes_on = begun && !c->over && !signal;
    if (c)
        end(c);
    sm_follower_destroy(follower);
    free(c);
    if (signal)
        sm_signals_die(signal);
    return goes_on ? -1 : begun ? 0 : 2;
}

int sm_console_follow(const sm_broker *broker, const sm_follow_options *options,
                      char problem[SM_CONSOLE_PROBLEM]) {
    setlocale(LC_CTYPE, "");
    int status = follow_one(broker, options, false, problem);
    while (status < 0)
        status = follow_one(broker, options, true, problem);
    return status;
}

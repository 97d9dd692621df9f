// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch timecode [SHOW] --listen SIDE[:DEVICE]: what comes in, for setting up a cable: a meter in the terminal, or lines where there
// is none.
#include "cmd/timecode_listen.h"

#include "cmd/cmd.h"
#include "cmd/timecode_words.h"
#include "screen/big_figures.h"
#include "screen/terminal.h"

#include "slowmatch/audio.h"
#include "slowmatch/clock.h"

#include <locale.h>
#include <math.h>
#include <poll.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define LOOK_MS 100
#define LINE_US SM_US_PER_S // without a terminal: a line so often, and one when the state changes
#define LEAST_DBFS (-72.0)  // the left end of the meter
#define NOTHING_DBFS (-119.0)
#define LIST_TICKS                                                                                           \
    80 // of LOOK_MS: a sound system that keeps the list back for longer is listened to all the same

typedef struct meter {
    sm_listener *listener;
    const char *device; // as asked for; NULL: the system's default
    sm_audio_device inputs[SM_AUDIO_DEVICES_MAX];
    int input_count;
    const sm_moment_base *show; // NULL: none
    int channel;
    sm_timecode_heard heard;
} meter;

// ---- words ------------------------------------------------------------------------------------

static bool is_followed(const sm_timecode_heard *h) {
    return h->state == SM_TIMECODE_LOCKED || h->state == SM_TIMECODE_FREE_RUNNING;
}

static void put_input(const meter *m, sm_text *out) {
    const sm_timecode_heard *h = &m->heard;
    sm_text_printf(out, "%s of %s", sm_audio_side_text(m->channel), h->device[0] ? h->device : "the input");
}

static void put_rate(const meter *m, sm_text *out) {
    const sm_timecode_heard *h = &m->heard;
    cmd_timecode_rate(h->rate, h->drop, out);
    if (!h->differs || !m->show)
        return;
    sm_text_printf(out, "%s; THE SHOW HAS ", h->sure ? "" : ", it seems");
    cmd_timecode_rate(m->show->rate, m->show->drop, out);
}

static void put_drift(const sm_timecode_heard *h, sm_text *out) {
    sm_text_printf(out, "%+.1f ms in %.0f s", h->drift_us / 1e3, (double)(h->mono_ns - h->locked_ns) / 1e9);
}

static void put_why(const sm_timecode_heard *h, sm_text *out) {
    const bool told = h->trouble == SM_TIMECODE_NO_INPUT && h->reason[0];
    sm_text_printf(out, "%s", told ? h->reason : sm_timecode_trouble_text(h->trouble));
}

static void put_counts(const sm_timecode_heard *h, sm_text *out) {
    sm_text_printf(out, "%llu, %llu passed over, %llu jump%s", (unsigned long long)h->read,
                   (unsigned long long)h->strays, (unsigned long long)h->jumps, h->jumps == 1 ? "" : "s");
}

// For an example.
static const char *an_input(const meter *m) {
    for (int i = 0; i < m->input_count; i++)
        if (m->inputs[i].is_default)
            return m->inputs[i].name;
    return m->inputs[0].name;
}

// The inputs that there are, a line each, and how one is named.
static void put_inputs(const meter *m, sm_text *out) {
    sm_text_printf(out, "inputs (name one, or a part of its name, after a colon: --listen %s:%.40s):\n",
                   sm_audio_side_text(m->channel), an_input(m));
    for (int i = 0; i < m->input_count; i++) {
        sm_text_printf(out, "  ");
        cmd_put_device(&m->inputs[i], out);
        sm_text_printf(out, "\n");
    }
}

// ---- which inputs there are -----------------------------------------------------------------------

static bool is_meant(const meter *m, const sm_audio_device *input) {
    return m->device ? strcasestr(input->name, m->device) != NULL : input->is_default;
}

// Waits until the sound system has told its inputs. False: none of them can be listened to, and it was said.
static bool find_input(meter *m) {
    m->input_count = sm_listener_devices(m->listener, m->inputs, SM_AUDIO_DEVICES_MAX);
    for (int i = 0; i < LIST_TICKS && m->input_count < 0 && cmd_stop_signal() == 0; i++) {
        poll(NULL, 0, LOOK_MS);
        m->input_count = sm_listener_devices(m->listener, m->inputs, SM_AUDIO_DEVICES_MAX);
    }
    for (int i = 0; i < m->input_count; i++)
        if (is_meant(m, &m->inputs[i]))
            return true;
    if (m->input_count < 0)
        return true; // it may yet come, and the meter says what keeps it
    sm_text list = {0};
    if (m->input_count > 0)
        put_inputs(m, &list);
    if (m->input_count == 0)
        cmd_complain("there is no sound input here: connect one, or let the sound system show it");
    else if (m->device)
        cmd_complain("no input is called %s; %s", m->device, sm_text_get(&list));
    else
        cmd_complain("there is no default input; %s", sm_text_get(&list));
    sm_text_deinit(&list);
    return false;
}

// ---- lines ------------------------------------------------------------------------------------

static void put_line(const meter *m, sm_text *out) {
    const sm_timecode_heard *h = &m->heard;
    char number[16], moment[24];
    sm_text_printf(out, "%s", sm_timecode_state_text(h->state));
    if (h->level_dbfs > NOTHING_DBFS)
        sm_text_printf(out, ", %.1f dBFS", h->level_dbfs);
    if (is_followed(h)) {
        sm_text_printf(out, ", %s", cmd_timecode_number(h, number));
        if (m->show)
            sm_text_printf(out, ", show %s", sm_clock_format(moment, llround(h->show_us)));
        sm_text_printf(out, ", ");
        put_rate(m, out);
        sm_text_printf(out, ", speed %.4f, drift ", h->speed);
        put_drift(h, out);
        sm_text_printf(out, ", frames ");
        put_counts(h, out);
    } else {
        sm_text_printf(out, ", ");
        put_why(h, out);
    }
    sm_text_printf(out, "\n");
}

static int run_lines(meter *m) {
    if (!m->device && m->input_count > 0) {
        sm_text list = {0};
        put_inputs(m, &list);
        cmd_put(stderr, sm_text_get(&list), list.length);
        sm_text_deinit(&list);
    }
    sm_timecode_state before = SM_TIMECODE_STATE_COUNT;
    sm_timecode_trouble reason = SM_TIMECODE_TROUBLE_COUNT;
    int64_t said_us = 0;
    while (cmd_stop_signal() == 0) {
        sm_listener_look(m->listener, &m->heard);
        const int64_t now_us = sm_monotonic_us();
        if (m->heard.state != before || m->heard.trouble != reason || now_us - said_us >= LINE_US) {
            sm_text line = {0};
            put_line(m, &line);
            const int status = cmd_print(&line, CMD_GOOD);
            if (status != CMD_GOOD)
                return status;
            before = m->heard.state;
            reason = m->heard.trouble;
            said_us = now_us;
        }
        struct pollfd out = {STDOUT_FILENO, 0, 0}; // whoever reads it may go away
        if (poll(&out, 1, LOOK_MS) > 0 && (out.revents & POLLERR))
            return CMD_GOOD;
    }
    return CMD_GOOD;
}

// ---- the meter in the terminal --------------------------------------------------------------------

static void draw_level(sm_area area, int y, double dbfs) {
    const int columns = area.columns > 72 ? 48 : area.columns - 24;
    const int filled = (int)lround((dbfs - LEAST_DBFS) / -LEAST_DBFS * columns);
    sm_area_text(area, 0, y, SM_LOOK_HEADING, "level");
    for (int i = 0; i < columns; i++)
        sm_area_text(area, 8 + i, y, i < filled ? SM_LOOK_SHAPE : SM_LOOK_DIM, i < filled ? "█" : "·");
    const char *word = dbfs > -1 ? "TOO LOUD" : dbfs < LEAST_DBFS ? "nothing" : "";
    const int x = 9 + (columns > 0 ? columns : 0);
    if (dbfs > NOTHING_DBFS)
        sm_area_printf(area, x, y, SM_LOOK_PLAIN, "%.1f dBFS %s", dbfs, word);
    else
        sm_area_text(area, x, y, SM_LOOK_PLAIN, "nothing");
}

static void draw_row(sm_area area, int y, const char *name, sm_look look, sm_text *text) {
    sm_area_text(area, 0, y, SM_LOOK_HEADING, name);
    sm_area_text(area, 8, y, look, sm_text_get(text));
    sm_text_clear(text);
}

static void draw_followed(const meter *m, sm_area area, int y) {
    const sm_timecode_heard *h = &m->heard;
    char moment[24];
    sm_text text = {0};
    put_rate(m, &text);
    draw_row(area, y, "rate", h->differs ? SM_LOOK_WARN : SM_LOOK_PLAIN, &text);
    sm_text_printf(&text, "%.4f", h->speed);
    draw_row(area, y + 1, "speed", SM_LOOK_PLAIN, &text);
    put_drift(h, &text);
    draw_row(area, y + 2, "drift", SM_LOOK_PLAIN, &text);
    put_counts(h, &text);
    draw_row(area, y + 3, "frames", SM_LOOK_PLAIN, &text);
    if (m->show)
        sm_text_printf(&text, "%s", sm_clock_format(moment, llround(h->show_us)));
    draw_row(area, y + 4, m->show ? "show" : "", SM_LOOK_PLAIN, &text);
    sm_text_deinit(&text);
}

static void draw_inputs(const meter *m, sm_area area, int y) {
    sm_text row = {0};
    sm_area_printf(area, 0, y, SM_LOOK_DIM, "Inputs; a part of a name will do: --listen %s:%.32s",
                   sm_audio_side_text(m->channel), an_input(m));
    for (int i = 0; i < m->input_count && y + 2 + i < area.rows; i++) {
        cmd_put_device(&m->inputs[i], &row);
        sm_area_text(area, 2, y + 1 + i, is_meant(m, &m->inputs[i]) ? SM_LOOK_PLAIN : SM_LOOK_DIM,
                     sm_text_get(&row));
        sm_text_clear(&row);
    }
    sm_text_deinit(&row);
}

static void draw(const meter *m, sm_cells *cells) {
    const sm_timecode_heard *h = &m->heard;
    const sm_area all = sm_area_of(cells);
    const bool followed = is_followed(h);
    char number[16];
    sm_text text = {0};
    sm_cells_clear(cells);
    put_input(m, &text);
    sm_area_text(all, 0, 0, SM_LOOK_TITLE, "slowmatch timecode in");
    sm_area_text(all, 23, 0, SM_LOOK_DIM, sm_text_get(&text));
    sm_text_clear(&text);
    sm_area_printf(all, 0, 2, h->state == SM_TIMECODE_LOCKED ? SM_LOOK_BADGE : SM_LOOK_BADGE_ALERT, " %s ",
                   sm_timecode_state_text(h->state));
    if (h->trouble != SM_TIMECODE_FINE) {
        put_why(h, &text);
        sm_area_text(all, 16, 2, SM_LOOK_WARN, sm_text_get(&text));
    }
    draw_level(all, 4, h->level_dbfs);
    if (followed) {
        sm_figures_draw(sm_area_part(all, 0, 6, all.columns, SM_FIGURE_ROWS), 1, SM_LOOK_NOW,
                        cmd_timecode_number(h, number));
        draw_followed(m, all, 12);
    } else if (m->input_count > 0) {
        draw_inputs(m, all, 6);
    }
    sm_area_text(all, 0, all.rows - 1, SM_LOOK_KEY, "q");
    sm_area_text(all, 2, all.rows - 1, SM_LOOK_PLAIN, "ends");
    sm_text_deinit(&text);
}

static sm_cells *fit(sm_terminal *terminal, sm_cells *cells) {
    int columns, rows;
    sm_terminal_measure(terminal, &columns, &rows);
    if (cells && sm_cells_columns(cells) == columns && sm_cells_rows(cells) == rows)
        return cells;
    sm_cells_destroy(cells);
    sm_terminal_forget(terminal);
    return sm_cells_create(columns, rows);
}

static bool is_ended(sm_terminal *terminal) {
    for (int key = sm_terminal_key(terminal); key != SM_KEY_NONE; key = sm_terminal_key(terminal)) {
        if (key == 'q' || key == 'Q' || key == SM_KEY_INTERRUPT || key == SM_KEY_QUIT || key == SM_KEY_ESCAPE)
            return true;
        if (key == SM_KEY_REDRAW)
            sm_terminal_forget(terminal);
    }
    return cmd_stop_signal() != 0;
}

static int run_meter(meter *m) {
    sm_terminal *terminal;
    sm_cells *cells = NULL;
    sm_result result = sm_terminal_open(&terminal);
    if (result != SM_OK)
        return cmd_failed("this terminal (TERM)", result);
    bool over = false;
    while (!over) {
        sm_listener_look(m->listener, &m->heard);
        cells = fit(terminal, cells);
        over = !cells || is_ended(terminal);
        if (!over && sm_terminal_takes(terminal)) {
            draw(m, cells);
            if (sm_terminal_is_ascii(terminal))
                sm_cells_to_ascii(cells);
            sm_terminal_paint(terminal, cells, -1, -1);
        }
        struct pollfd typed = {STDIN_FILENO, POLLIN, 0};
        over |= poll(&typed, 1, LOOK_MS) > 0 && (typed.revents & (POLLHUP | POLLERR));
    }
    sm_terminal_close(terminal);
    sm_cells_destroy(cells);
    return CMD_GOOD;
}

int cmd_timecode_listen(const sm_moment_base *show, sm_us gap_us, const char *input) {
    meter m = {.show = show};
    if (!cmd_timecode_input_read("listen", input, &m.channel, &m.device))
        return CMD_UNUSABLE;
    const sm_listener_options options = {
        .channel = m.channel, .device = m.device, .show = show, .free_run_us = gap_us};
    cmd_catch_signals();
    sm_result result = sm_listener_open(&options, &m.listener);
    if (result != SM_OK)
        return cmd_failed("timecode in", result);
    setlocale(LC_CTYPE, "");
    int status = CMD_UNUSABLE;
    if (find_input(&m))
        status = sm_terminal_missing() ? run_lines(&m) : run_meter(&m);
    sm_listener_close(m.listener);
    cmd_die_of_signal();
    return status;
}

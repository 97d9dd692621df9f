// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch [rehearse] SHOW: the console, or the log's lines where they are asked for.
#include "cmd/cmd.h"
#include "cmd/headless.h"
#include "cmd/outlets.h"
#include "cmd/timecode_words.h"

#include "slowmatch/audio.h"
#include "slowmatch/console.h"
#include "slowmatch/files.h"
#include "slowmatch/show.h"
#include "slowmatch/tables.h"

#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <unistd.h>

static bool read_offset(const char *text, sm_us *out) {
    if (!text)
        return true;
    bool negative = text[0] == '-';
    const char *span = text + (negative || text[0] == '+');
    if (sm_span_read(span, strlen(span), SM_US_PER_S, out) != SM_OK) {
        cmd_complain("--sound-offset %s is no time; write 20 ms or 0.02", text);
        return false;
    }
    if (negative)
        *out = -*out;
    return true;
}

static bool read_side(const char *text, int *channel) {
    if (!text || sm_audio_side_read(text, channel) == SM_OK)
        return true;
    cmd_complain("--timecode-out %s is no side; write left or right (1 or 2)", text);
    return false;
}

int headless_run_console(const headless_options *h, bool lines, sm_drill_taken *drill) {
    char *logbook = cmd_logbook_path(h->logbook_path);
    if (!logbook) {
        sm_show_destroy(h->show);
        return CMD_UNUSABLE;
    }
    cmd_outlet_call outlets = {.options = h};
    if (drill)
        drill->piped = lines && !isatty(STDIN_FILENO);
    sm_console_options options = {.show = h->show,
                                  .drill = drill,
                                  .readings_file = h->readings_file,
                                  .log_path = h->log_path,
                                  .logbook_path = logbook,
                                  .device = h->device,
                                  .sound_offset_us = h->sound_offset_us,
                                  .timecode_channel = h->timecode_channel,
                                  .board = h->board,
                                  .silent = h->silent,
                                  .bare = h->bare,
                                  .outlet_context = &outlets};
    options.outlets = cmd_outlets(&options.outlet_count);
    char problem[SM_CONSOLE_PROBLEM] = "";
    int status = lines ? sm_console_run_lines(&options, problem) : sm_console_run(&options, problem);
    free(logbook);
    if (problem[0])
        cmd_complain("%s", problem);
    return status;
}

void headless_option_rows(headless_call *call, cmd_option out[HEADLESS_OPTIONS]) {
    headless_options *h = &call->run;
    const cmd_option rows[HEADLESS_OPTIONS] = {
        {"headless", NULL, "no screen: the built-in sequence acts, the log's lines are printed",
         &call->headless, NULL},
        {"lines", NULL, "the console as lines: for a dumb terminal, a slow line, a screen reader, a pipe",
         &call->lines, NULL},
        {"script", "FILE", "headless: act the lines of FILE in place of the built-in sequence", NULL,
         &h->script_path},
        {"silent", NULL, "open no sound device", &h->silent, NULL},
        {"fast", NULL, "headless: a virtual clock, as fast as it can", &h->fast, NULL},
        {"log", "FILE", "write the log to FILE too", NULL, &h->log_path},
        {"logbook", "FILE", "keep the rehearsal in the logbook FILE; headless only with this", NULL,
         &h->logbook_path},
        {"readings", "FILE", "readings from FILE in place of readings.csv", NULL, &h->readings_file},
        {"bare", NULL, "every rail starts unplugged", &h->bare, NULL},
        {"board", "BOARD",
         "the board that the console begins with: score, rails, fixtures, guards, after, notes, log, "
         "ground, walk",
         NULL, &h->board},
        {"device", "NAME", "the sound device whose name has NAME in it", NULL, &h->device},
        {"sound-offset", "TIME", "how much later than it says the device is heard (20 ms)", NULL,
         &call->offset},
        {"timecode-out", "SIDE", "send linear timecode out on the left or right channel", NULL,
         &call->timecode},
        {"tell", "BROKER", "tell followers the rehearsal through the MQTT broker at HOST or HOST:PORT", NULL,
         &h->tell},
        {"broker-keys", "FILE", "how the broker lets us in: user, password, certificates or PSK", NULL,
         &h->broker_keys},
        {"seats", "NAMES",
         "with --tell: who follows at one of these seats may call hold, in a drill more "
         "(spotter,K,instructor)",
         NULL, &h->seats},
    };
    memcpy(out, rows, sizeof rows);
}

// Readings out of a pipe, `--readings <(PROGRAM)`, can be read once; they are read for the rehearsal, for what is kept of it and by each
// reload.
static bool hold_what_passes(headless_call *call) {
    const char *path = call->run.readings_file;
    struct stat found;
    char *bytes;
    size_t length;
    if (!path || stat(path, &found) != 0 || !S_ISFIFO(found.st_mode) ||
        sm_file_read(path, &bytes, &length) != SM_OK)
        return true; // loading says what is wrong with it
    const int held = memfd_create("readings", MFD_CLOEXEC);
    const bool written = held >= 0 && sm_write_all(held, bytes, length);
    free(bytes);
    if (!written) {
        cmd_failed(path, SM_UNREADABLE);
        return false;
    }
    snprintf(call->readings, sizeof call->readings, "/proc/self/fd/%d", held);
    call->run.readings_file = call->readings;
    return true;
}

bool headless_call_read(headless_call *call, const char *folder) {
    return cmd_readings_find(folder, &call->run.readings_file, call->readings) && hold_what_passes(call) &&
           read_offset(call->offset, &call->run.sound_offset_us) &&
           read_side(call->timecode, &call->run.timecode_channel);
}

static bool board_fits(const char *board, bool console) {
    sm_text known = {0};
    if (!console) {
        cmd_complain("--board is for the console; leave out --headless, --script, --lines and --fast");
        return false;
    }
    for (size_t i = 0; sm_console_board(i); i++) {
        if (strcmp(sm_console_board(i), board) == 0) {
            sm_text_deinit(&known);
            return true;
        }
        sm_text_printf(&known, "%s%s",
                       i == 0                    ? ""
                       : sm_console_board(i + 1) ? ", "
                                                 : " or ",
                       sm_console_board(i));
    }
    cmd_complain("--board %s is no board; write %s", board, sm_text_get(&known));
    sm_text_deinit(&known);
    return false;
}

headless_how headless_choose(const headless_call *call) {
    bool acts = call->headless || call->run.script_path;
    if (call->run.tell && call->run.fast) {
        cmd_complain("--tell is for a rehearsal that people can follow; leave out --fast");
        return HEADLESS_REFUSED;
    }
    if (call->run.seats && !call->run.tell) {
        cmd_complain("--seats is heard through a broker; write --tell BROKER too");
        return HEADLESS_REFUSED;
    }
    if (call->lines && (acts || call->run.fast)) {
        cmd_complain("--lines is for people who act; leave out --headless, --script and --fast");
        return HEADLESS_REFUSED;
    }
    if (call->run.board && !board_fits(call->run.board, !acts && !call->lines && !call->run.fast))
        return HEADLESS_REFUSED;
    if (acts || call->lines)
        return acts ? HEADLESS_LOG : HEADLESS_LINES;
    if (call->run.fast) {
        cmd_complain(
            "--fast has no console; write --headless too (the built-in sequence acts), or --script FILE");
        return HEADLESS_REFUSED;
    }
    const char *missing = sm_console_missing();
    if (missing)
        cmd_complain(
            "no console: %s; --lines is the console as lines, --headless has the built-in sequence act",
            missing);
    return missing ? HEADLESS_REFUSED : HEADLESS_CONSOLE;
}

// Beside those that drills have too.
enum { OWN_OPTIONS = 4 };

// Lights on a wire: for people at the console alone. A drill never sends, and a script states nothing.
static bool lights_fit(const headless_call *call) {
    const headless_options *h = &call->run;
    if (h->lights && (call->headless || h->script_path || h->fast)) {
        cmd_complain("--lights is for people who act: a script states nothing; leave out --headless, "
                     "--script and --fast");
        return false;
    }
    return cmd_lights_options_fit(h->lights, h->lights_to, h->lights_priority);
}

// What cannot go with timecode in.
static bool timecode_in_fits(const headless_call *call) {
    const headless_options *h = &call->run;
    int channel;
    const char *device;
    if (!h->timecode_in)
        return true;
    if (h->fast || call->timecode) {
        cmd_complain(h->fast ? "--timecode-in needs real time: leave out --fast"
                             : "--timecode-in and --timecode-out: leave one out, nothing is passed on");
        return false;
    }
    return cmd_timecode_input_read("timecode-in", h->timecode_in, &channel, &device);
}

int cmd_rehearse(const cmd_command *self, int argc, char **argv) {
    headless_call call = {0};
    cmd_option options[OWN_OPTIONS + HEADLESS_OPTIONS] = {
        {"lights", "INTERFACE",
         "lights on a wire, once a person has stated what is connected: by this interface", NULL,
         &call.run.lights},
        {"lights-to", "TO", "where they go: 10.9.0.2, or 1=10.9.0.2,3=10.9.0.4, or multicast", NULL,
         &call.run.lights_to},
        {"lights-priority", "N", "their sACN priority, 1 to 99 (10; a desk has 100)", NULL,
         &call.run.lights_priority},
        {"timecode-in", "SIDE[:DEVICE]",
         "the place follows linear timecode that comes in on the left or right channel of an input", NULL,
         &call.run.timecode_in},
    };
    const char *words[1];
    int count;
    headless_option_rows(&call, options + OWN_OPTIONS);
    int status =
        cmd_options_read(self, options, OWN_OPTIONS + HEADLESS_OPTIONS, argc, argv, 1, 1, words, &count);
    if (status >= 0)
        return status;
    if (!headless_call_read(&call, words[0]) || !lights_fit(&call) || !timecode_in_fits(&call))
        return CMD_UNUSABLE;
    headless_options *h = &call.run;
    headless_how how = headless_choose(&call);
    if (how == HEADLESS_REFUSED)
        return CMD_UNUSABLE;
    bool console = how != HEADLESS_LOG;
    h->show = console ? cmd_show_open_for_console(words[0], h->readings_file)
                      : cmd_show_open(words[0], h->readings_file);
    if (!h->show)
        return CMD_UNUSABLE;
    sm_tables_sweep(words[0]);
    return console ? headless_run_console(h, how == HEADLESS_LINES, NULL)
                   : headless_run(h); // either takes the show over
}

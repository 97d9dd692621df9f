// SPDX-License-Identifier: GPL-3.0-or-later
// What is named before a rehearsal begins: `slowmatch devices`, and the board of --board.
#include "boards/boards.h"
#include "support/folder.h"
#include "support/pty.h"
#include "support/ran.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

typedef struct desk {
    char folder[64];
    sm_text said;
} desk;

static int setup(void **state) {
    static desk d;
    d = (desk){0};
    folder_make(d.folder);
    *state = &d;
    return 0;
}

static int teardown(void **state) {
    desk *d = *state;
    sm_text_deinit(&d->said);
    folder_remove(d->folder);
    return 0;
}

// ALSA, which PortAudio asks here, knows what a file names: so no card and no server are needed. ALONE: the system's own file is not read.
static void devices_are(desk *d, const char *configuration, bool alone, int status, const char *said) {
    char path[96];
    snprintf(path, sizeof path, "%s/.asoundrc", d->folder);
    FILE *file = fopen(path, "w");
    assert_non_null(file);
    fputs(configuration, file);
    assert_int_equal(fclose(file), 0);
    const int ended = ran_line(
        d->folder, alone ? "ALSA_CONFIG_PATH=$PWD/.asoundrc $S devices" : "HOME=$PWD $S devices", &d->said);
    assert_string_equal(sm_text_get(&d->said), said);
    assert_int_equal(ended, status);
}

static void devices_are_listed_by_name(void **state) {
    // Channels and rate are those of ALSA's null device, as PortAudio tells them.
    devices_are(*state,
                "pcm.\"quay left (1)\" { type null hint { show on description quay } }\n"
                "pcm.\"weir\\033]0;x\\007\" { type null hint { show on description weir } }\n",
                false, 0,
                "output  quay left (1) (ALSA, 128 channels, 44100 Hz, the default)\n"
                "output  weir\\x1b]0;x\\x07 (ALSA, 128 channels, 44100 Hz)\n"
                "input   quay left (1) (ALSA, 128 channels, 44100 Hz, the default)\n"
                "input   weir\\x1b]0;x\\x07 (ALSA, 128 channels, 44100 Hz)\n");
}

static void no_device_is_told(void **state) {
    devices_are(
        *state,
        "pcm.!default { type pulse server \"unix:/nonexistent\" hint { show on description none } }\n", true,
        0,
        "slowmatch: there is no output: connect one, or let the sound system show it\n"
        "slowmatch: there is no input: connect one, or let the sound system show it\n");
}

// PortAudio ends its process by a failed assertion where ALSA's configuration names no device at all.
static void a_sound_system_that_dies_is_told(void **state) {
    devices_are(*state, "", true, 2, "slowmatch: no outputs are known: the sound process ended\n");
}

static void board_is(desk *d, const char *words, const char *said) {
    char line[200];
    snprintf(line, sizeof line, "$S $DEMOS/first-light %s", words);
    assert_int_equal(ran_line(d->folder, line, &d->said), 2);
    assert_string_equal(sm_text_get(&d->said), said);
}

static void a_board_that_is_not_there_is_refused(void **state) {
    board_is(*state, "--headless --board rails",
             "slowmatch: --board is for the console; leave out --headless, --script, --lines and --fast\n");
    board_is(*state, "--board moat",
             "slowmatch: --board moat is no board; write score, rails, fixtures, guards, after, notes, log, "
             "ground or walk\n");
    board_is(*state, "--board debrief",
             "slowmatch: --board debrief is no board; write score, rails, fixtures, guards, after, notes, "
             "log, ground or walk\n");
}

// The help, which completions read, names those of the table that every rehearsal has.
static void the_help_names_the_boards(void **state) {
    desk *d = *state;
    char wanted[256] = "";
    for (size_t i = 0; i < SM_BOARDS; i++)
        if (!sm_board_at(i)->drill_only)
            snprintf(wanted + strlen(wanted), sizeof wanted - strlen(wanted), "%s %s", wanted[0] ? "," : ":",
                     sm_board_at(i)->name);
    strcat(wanted, "\n");
    for (int drill = 0; drill < 2; drill++) {
        assert_int_equal(ran_line(d->folder, drill ? "$S drill --help" : "$S rehearse --help", &d->said), 0);
        const char *option = strstr(sm_text_get(&d->said), "  --board BOARD");
        assert_non_null(option);
        assert_int_equal(strncmp(strchr(option, ':'), wanted, strlen(wanted)), 0);
    }
}

static void the_console_begins_with_it(void **state) {
    desk *d = *state;
    const char *build = getenv("SLOWMATCH_BUILD");
    char program[512], home[80], data[96], configuration[96];
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    snprintf(home, sizeof home, "HOME=%s", d->folder);
    snprintf(data, sizeof data, "XDG_DATA_HOME=%s", d->folder);
    snprintf(configuration, sizeof configuration, "XDG_CONFIG_HOME=%s", d->folder);
    const char *const environment[] = {home, data, configuration, NULL};
    pty *p = pty_start(
        80, 24,
        (const char *const[]){program, "demo-shows/first-light", "--silent", "--board", "guards", NULL},
        environment);
    pty_expect_row(p, 23, "MAKE SAFE");
    pty_type(p, "n"); // nothing live is near
    pty_expect(p, " of 5 MET");
    pty_destroy(p);
    p = pty_start(80, 24, (const char *const[]){program, "demo-shows/first-light", "--silent", NULL},
                  environment);
    pty_expect_row(p, 23, "MAKE SAFE");
    pty_type(p, "n");
    pty_expect(p, "nothing burns"); // the score: it was not kept
    pty_destroy(p);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(devices_are_listed_by_name, setup, teardown),
        cmocka_unit_test_setup_teardown(no_device_is_told, setup, teardown),
        cmocka_unit_test_setup_teardown(a_sound_system_that_dies_is_told, setup, teardown),
        cmocka_unit_test_setup_teardown(a_board_that_is_not_there_is_refused, setup, teardown),
        cmocka_unit_test_setup_teardown(the_help_names_the_boards, setup, teardown),
        cmocka_unit_test_setup_teardown(the_console_begins_with_it, setup, teardown),
    };
    return cmocka_run_group_tests_name("cmd_devices", tests, NULL, NULL);
}

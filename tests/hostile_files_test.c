// SPDX-License-Identifier: GPL-3.0-or-later
// What stands where a file should be: pipes nobody writes, devices that never end, folders, links to them. Nothing waits for them, nothing
// is overwritten that is another's, and what could not be written is told.
#include "support/folder.h"
#include "support/kept.h"
#include "support/pty.h"
#include "support/ran.h"

#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))

typedef struct scene {
    char folder[64], show[256], logbook[256];
} scene;

static int set_up(void **state) {
    scene *s = calloc(1, sizeof *s);
    char path[256];
    assert_non_null(s);
    kept_begin(s->folder);
    setenv("HOME", s->folder, 1);
    setenv("XDG_DATA_HOME", folder_path(path, s->folder, "data"), 1);
    setenv("XDG_CACHE_HOME", folder_path(path, s->folder, "cache"), 1);
    setenv("XDG_RUNTIME_DIR", s->folder, 1);
    folder_path(s->show, s->folder, "show");
    folder_path(s->logbook, s->folder, "logbook.db");
    *state = s;
    return 0;
}

static int tear_down(void **state) {
    scene *s = *state;
    kept_end(s->folder);
    free(s);
    return 0;
}

static void expect_status(const char *const words[], int status, const char *says) {
    ran r = ran_slowmatch(words, NULL);
    const bool said = !says || strstr(sm_text_get(&r.err), says) || strstr(sm_text_get(&r.out), says);
    if ((status >= 0 && r.status != status) || r.status < 0 || !said)
        fail_msg("%s %s %s: status %d, not %d, or not said: %s\n%s%s", words[0], words[1],
                 words[2] ? words[2] : "", r.status, status, says ? says : "", sm_text_get(&r.out),
                 sm_text_get(&r.err));
    ran_free(&r);
}

// ---- what never ends -------------------------------------------------------------------------------

typedef enum planted { FIFO, ENDLESS, FOLDER, PLANTED_COUNT } planted;

static void plant(const char *path, planted what) {
    unlink(path);
    assert_int_equal(what == FIFO     ? mkfifo(path, 0600)
                     : what == FOLDER ? mkdir(path, 0700)
                                      : symlink("/dev/zero", path),
                     0);
}

static void take_away(const char *path) {
    assert_true(unlink(path) == 0 || rmdir(path) == 0);
}

// In place of each file that a show has, tables and music and drills.
static void no_file_of_a_show_is_waited_for(void **state) {
    const scene *s = *state;
    static const char *const files[] = {"show.ini", "rails.csv",    "cues.csv",  "readings.csv",
                                        "walk.csv", "fixtures.csv", "music.ogg", "drills/one.ini"};
    char shown[256], path[256], kept[256], music[256];
    folder_path(shown, s->folder, "bad");
    assert_int_equal(mkdir(shown, 0700), 0);
    folder_small_show(shown);
    folder_edit(shown, "show.ini", "[show]\n", "[show]\naudio = music.ogg\n");
    assert_int_equal(mkdir(folder_path(path, shown, "drills"), 0700), 0);
    folder_path(kept, s->folder, "kept-file");
    folder_path(music, shown, "music.ogg");
    for (size_t f = 0; f < COUNT(files); f++) {
        folder_path(path, shown, files[f]);
        const bool was = rename(path, kept) == 0;
        for (int what = 0; what < PLANTED_COUNT; what++) {
            plant(path, (planted)what);
            const char *const check[] = {"check", shown, NULL};
            const char *const run[] = {"rehearse",  shown,      "--headless", "--fast",
                                       "--logbook", s->logbook, NULL};
            const char *const lists[] = {"drill", shown, NULL};
            expect_status(check, -1, NULL);
            expect_status(run, -1, NULL);
            if (strchr(files[f], '/'))
                expect_status(lists, 2, NULL);
            take_away(path);
        }
        if (was)
            assert_int_equal(rename(kept, path), 0);
    }
}

static void no_file_that_is_named_is_waited_for(void **state) {
    const scene *s = *state;
    char bad[256], made[256];
    folder_path(bad, s->folder, "bad.db");
    folder_path(made, s->folder, "made");
    const char *const words[][10] = {
        {"rehearse", s->show, "--headless", "--fast", "--script", bad},
        {"rehearse", s->show, "--headless", "--fast", "--readings", bad},
        {"rehearse", s->show, "--headless", "--fast", "--log", bad},
        {"readings", s->show, bad},
        {"walk", s->show, "--from", bad, "--logbook", s->logbook},
        {"tune", s->show, "--try", bad},
        {"import", bad, made},
        {"import", s->logbook, made, "--map", bad},
        {"drill", s->show, "--check", bad},
        {"new", made, "--music", bad},
        {"logbook", "import", bad, "--logbook", s->logbook},
        {"logbook", "--logbook", bad},
        {"logbook", "export", bad, "--logbook", s->logbook},
        {"paper", s->show, "--out", bad},
        {"timecode", s->show, bad},
        {"follow", "localhost:1", "--json", "--broker-keys", bad},
    };
    kept_rehearse(s->folder, s->logbook, NULL, NULL);
    for (int what = 0; what < PLANTED_COUNT; what++) {
        plant(bad, (planted)what);
        for (size_t i = 0; i < COUNT(words); i++)
            // rows go into a device that takes them
            expect_status(words[i], strcmp(words[i][4] ? words[i][4] : "", "--log") == 0 ? -1 : 2, NULL);
        struct stat found;
        assert_int_equal(lstat(bad, &found), 0); // and it stands as it was
        assert_true(what == FIFO     ? S_ISFIFO(found.st_mode)
                    : what == FOLDER ? S_ISDIR(found.st_mode)
                                     : S_ISLNK(found.st_mode));
        take_away(bad);
    }
}

// ---- what is very long -----------------------------------------------------------------------------

// All holes, so that it costs nothing but time to read: minutes.
static void make_endless_music(const char *show) {
    char path[256];
    FILE *file = fopen(folder_path(path, show, "music.ogg"), "w");
    assert_non_null(file);
    assert_int_equal(ftruncate(fileno(file), (off_t)64 << 30), 0);
    assert_int_equal(fclose(file), 0);
}

static const char *program(void) {
    static char path[512];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(path, sizeof path, "%s/slowmatch", build ? build : "build");
    return path;
}

static void make_show(const scene *s, const char *name, char path[256]) {
    assert_int_equal(mkdir(folder_path(path, s->folder, name), 0700), 0);
    folder_small_show(path);
    folder_edit(path, "show.ini", "[show]\n", "[show]\naudio = music.ogg\n");
}

static void a_launch_that_reads_for_long_can_be_left(void **state) {
    char shown[256];
    make_show(*state, "long", shown);
    make_endless_music(shown);
    const char *const argv[] = {program(), shown, "--silent", NULL};
    const char *const lines[] = {program(), shown, "--silent", "--lines", NULL};
    pty *p = pty_start(100, 30, argv, NULL), *q = pty_start(100, 30, lines, NULL);
    pty_expect(p, "reading ");
    pty_type(p, "\003"); // the terminal makes it SIGINT: it was not taken over yet
    pty_expect(q, "reading ");
    pty_signal(q, SIGTERM);
    int status = pty_expect_end(p);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGINT);
    status = pty_expect_end(q);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGTERM);
    pty_destroy(p);
    pty_destroy(q);
}

static void who_quits_waits_for_no_reload(void **state) {
    char shown[256];
    make_show(*state, "later-long", shown);
    const char *const argv[] = {program(), shown, "--silent", NULL};
    pty *p = pty_start(100, 30, argv, NULL);
    pty_expect(p, "live product");
    pty_type(p, "n");
    pty_expect(p, "REHEARSAL SAFE");
    make_endless_music(shown);
    pty_type(p, "L");
    pty_listen(p, 300); // it reads; where it has not begun yet, there is nothing to leave
    pty_type(p, ":quit\r");
    assert_int_equal(pty_expect_end(p), 0);
    assert_false(pty_is_alternate(p));
    pty_destroy(p);
}

// ---- what is another's ------------------------------------------------------------------------------

static char *read_all(const char *path) {
    char *bytes;
    size_t length;
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    return bytes;
}

// An earlier one of its own is taken again.
static void nothing_of_others_is_overwritten(void **state) {
    const scene *s = *state;
    char table[256], log[256], empty[256], wave[256], music[256];
    folder_path(table, s->show, "cues.csv");
    folder_path(log, s->folder, "run.csv");
    folder_path(empty, s->folder, "empty.csv");
    folder_path(wave, s->folder, "code.wav");
    folder_path(music, s->folder, "music.wav");
    folder_write(s->folder, "music.wav", "RIFF of somebody's");
    folder_write(s->folder, "empty.csv", "");
    char *const before = read_all(table);
    for (int twice = 0; twice < 2; twice++) {
        const char *const over[] = {"rehearse", s->show, "--headless", "--fast", "--log", table, NULL};
        const char *const into[] = {"rehearse", s->show, "--headless", "--fast", "--log", log, NULL};
        const char *const fresh[] = {"rehearse", s->show, "--headless", "--fast", "--log", empty, NULL};
        const char *const code[] = {"timecode", s->show, wave, NULL};
        const char *const song[] = {"timecode", s->show, music, NULL};
        expect_status(over, 2, "it is there and no log");
        expect_status(into, 0, NULL);
        expect_status(fresh, 0, NULL);
        expect_status(code, 0, NULL);
        expect_status(song, 2, "it is there and no timecode");
    }
    char *after = read_all(table), *first = read_all(log), *second = read_all(empty), *song = read_all(music);
    assert_string_equal(after, before);
    assert_string_equal(first, second);
    assert_string_equal(song, "RIFF of somebody's");
    free(after);
    free(first);
    free(second);
    free(song);
    free(before);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_launch_that_reads_for_long_can_be_left),
        cmocka_unit_test(who_quits_waits_for_no_reload),
        cmocka_unit_test(nothing_of_others_is_overwritten),
        cmocka_unit_test(no_file_of_a_show_is_waited_for),
        cmocka_unit_test(no_file_that_is_named_is_waited_for),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// What stands where a file should be: pipes nobody writes, devices that never end, folders, links to them. Nothing waits for them, nothing
// is overwritten that is another's, and what could not be written is told.
#include "support/folder.h"
#include "support/kept.h"
#include "support/pty.h"
#include "support/ran.h"

#include <errno.h>
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
    assert_non_null(s);
    kept_begin_at_home(s->folder);
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
    const bool riddles =
        strstr(sm_text_get(&r.err), strerror(EMEDIUMTYPE)); // "Wrong medium type" helps nobody
    const bool said = !says || strstr(sm_text_get(&r.err), says) || strstr(sm_text_get(&r.out), says);
    if ((status >= 0 && r.status != status) || r.status < 0 || !said || riddles)
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

// The screen is there long before the music has been read, and who quits waits for nothing: the rehearsal is kept, with the music marked as
// not read.
static void music_that_is_read_for_long_keeps_nobody_waiting(void **state) {
    const scene *s = *state;
    char shown[256], book[256], with_book[300];
    make_show(s, "long", shown);
    make_endless_music(shown);
    folder_path(book, s->folder, "long.db");
    snprintf(with_book, sizeof with_book, "--logbook=%s", book);
    const char *const argv[] = {program(), shown, "--silent", with_book, NULL};
    const char *const lines[] = {program(), shown, "--silent", "--lines", NULL};
    pty *p = pty_start(100, 30, argv, NULL), *q = pty_start(100, 30, lines, NULL);
    pty_expect(p, "NOT BEING KEPT: not before all of the music has been read");
    pty_type(p, "n");
    pty_expect(p, "REHEARSAL SAFE");
    pty_type(p, ":quit\r");
    pty_expect(q, "live product");
    pty_signal(q, SIGTERM);
    assert_int_equal(pty_expect_end(p), 0);
    const int status = pty_expect_end(q);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGTERM);
    pty_destroy(p);
    pty_destroy(q);
    assert_int_equal(kept_number(book, "SELECT count(*) FROM rehearsal r JOIN member m ON m.load = r.load "
                                       "WHERE m.name = 'music.ogg' AND m.file = 'not read'"),
                     1);
    kept_assert_replays(book, 1);
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

// ---- signals ------------------------------------------------------------------------------------------

static void every_signal_gives_the_terminal_back(void **state) {
    const scene *s = *state;
    const int deadly[] = {SIGALRM, SIGUSR1,  SIGUSR2,  SIGPROF, SIGVTALRM, SIGXCPU,
                          SIGPOLL, SIGRTMIN, SIGRTMAX, SIGABRT, SIGSYS};
    const char *const argv[] = {program(), s->show, "--silent", NULL};
    for (size_t i = 0; i < COUNT(deadly); i++) {
        pty *p = pty_start(100, 30, argv, NULL);
        pty_expect(p, "live product");
        pty_signal(p, SIGXFSZ); // no reason to die
        pty_type(p, "n");
        pty_expect(p, "REHEARSAL SAFE");
        pty_signal(p, deadly[i]);
        const int status = pty_expect_end(p);
        if (!WIFSIGNALED(status) || WTERMSIG(status) != deadly[i])
            fail_msg("signal %d: status %x", deadly[i], status);
        assert_false(pty_is_alternate(p));
        assert_false(pty_tells_mouse(p));
        assert_true(pty_cursor_is_visible(p));
        pty_destroy(p);
    }
}

// ---- what else was let through ---------------------------------------------------------------------------

static void what_cannot_be_said_is_no_success(void **state) {
    const scene *s = *state;
    setenv("SHOW", s->show, 1);
    static const char *const forms[] = {"--help",      "--version",   "check --help",
                                        "drill $SHOW", "check $SHOW", "walk --help"};
    for (size_t i = 0; i < COUNT(forms); i++) {
        char command[700];
        snprintf(command, sizeof command, "%s %s >/dev/full 2>/dev/null", program(), forms[i]);
        const int status = system(command);
        if (!WIFEXITED(status) || WEXITSTATUS(status) != 2)
            fail_msg("%s: status %x", command, status);
        snprintf(command, sizeof command, "%s %s >&- 2>/dev/null", program(), forms[i]);
        assert_true(WEXITSTATUS(system(command)) == 2);
    }
}

static void a_show_keeps_to_its_folder(void **state) {
    const scene *s = *state;
    static const char *const outside[] = {"../music.ogg", "/etc/hostname", "a/../../b.ogg", ".."};
    for (size_t i = 0; i < COUNT(outside); i++) {
        char shown[256], name[16], line[80];
        snprintf(name, sizeof name, "out-%zu", i);
        make_show(s, name, shown);
        snprintf(line, sizeof line, "audio = %s\n", outside[i]);
        folder_edit(shown, "show.ini", "audio = music.ogg\n", line);
        const char *const words[] = {"check", shown, NULL};
        expect_status(words, 1, "lies outside the show's folder");
    }
}

static void nothing_is_kept_below_the_root(void **state) {
    (void)state;
    char command[700];
    snprintf(command, sizeof command,
             "env -u HOME -u XDG_DATA_HOME %s logbook 2>&1 | grep -q 'neither HOME nor'", program());
    assert_int_equal(system(command), 0);
}

// Each key is looked for among all of its section.
static void a_file_of_many_keys_is_judged_soon(void **state) {
    const scene *s = *state;
    char shown[256];
    sm_text text = {0};
    make_show(s, "many-keys", shown);
    sm_text_printf(&text, "[show]\ntitle = Many\n");
    for (int i = 0; i < 200000; i++)
        sm_text_printf(&text, "k%d = 1\n", i);
    folder_write(shown, "show.ini", sm_text_get(&text));
    sm_text_deinit(&text);
    const char *const words[] = {"check", shown, NULL};
    expect_status(words, 1, "more than 10000 keys");
}

// ---- what is kept is what was rehearsed ------------------------------------------------------------------

static void readings_out_of_a_pipe_are_kept(void **state) {
    const scene *s = *state;
    char command[1200], book[256];
    folder_path(book, s->folder, "pipe.db");
    folder_write(s->show, "given.csv", "rail,slot,reading\nA,1,1.9\nA,2,2.0\n");
    snprintf(command, sizeof command,
             "bash -c '%s rehearse %s --headless --fast --logbook %s --readings <(cat %s/given.csv)' "
             ">/dev/null",
             program(), s->show, book, s->show);
    assert_int_equal(system(command), 0);
    assert_true(kept_number(book, "SELECT count(*) FROM reading") > 0);
    assert_int_equal(kept_number(book, "SELECT count(*) FROM member WHERE name = 'readings.csv'"), 1);
    kept_assert_replays(book, 1);
}

static void a_table_that_was_replaced_is_not_kept(void **state) {
    const scene *s = *state;
    char shown[256], path[256];
    sm_logbook_load *load = NULL;
    make_show(s, "replaced", shown);
    sm_show *show = folder_load(shown);
    assert_int_equal(sm_logbook_load_create(show, NULL, &(sm_walk_hash){""}, &load), SM_OK);
    sm_logbook_load_destroy(load);
    folder_edit(shown, "cues.csv", "comet", "fountain");
    assert_int_equal(sm_logbook_load_create(show, NULL, &(sm_walk_hash){""}, &load), SM_REFUSED);
    sm_show_destroy(show);
    show = folder_load(shown);
    assert_int_equal(unlink(folder_path(path, shown, "walk.csv")), 0);
    assert_int_equal(sm_logbook_load_create(show, NULL, &(sm_walk_hash){""}, &load), SM_REFUSED);
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_signal_gives_the_terminal_back),
        cmocka_unit_test(what_cannot_be_said_is_no_success),
        cmocka_unit_test(readings_out_of_a_pipe_are_kept),
        cmocka_unit_test(a_table_that_was_replaced_is_not_kept),
        cmocka_unit_test(a_show_keeps_to_its_folder),
        cmocka_unit_test(nothing_is_kept_below_the_root),
        cmocka_unit_test(a_file_of_many_keys_is_judged_soon),
        cmocka_unit_test(music_that_is_read_for_long_keeps_nobody_waiting),
        cmocka_unit_test(who_quits_waits_for_no_reload),
        cmocka_unit_test(nothing_of_others_is_overwritten),
        cmocka_unit_test(no_file_of_a_show_is_waited_for),
        cmocka_unit_test(no_file_that_is_named_is_waited_for),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}

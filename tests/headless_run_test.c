// SPDX-License-Identifier: GPL-3.0-or-later
// The headless rehearsal as it is run: log, options, scripts, exit status.
#include "audio/decoder.h"
#include "support/engine_run.h"
#include "support/folder.h"
#include "support/pty.h"
#include "support/sounds.h"

#include <setjmp.h>
#include <sndfile.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define DEMO "demo-shows/lantern-quay"
#define COUNT(array) (sizeof(array) / sizeof *(array))

typedef struct ran {
    int status;
    sm_text out, err;
} ran;

static char folder[64]; // a new one for each test

static int begin(void **state) {
    (void)state;
    snprintf(folder, sizeof folder, "/tmp/slowmatch-headless-XXXXXX");
    return mkdtemp(folder) ? 0 : -1;
}

static int end(void **state) {
    (void)state;
    engine_folder_remove(folder);
    return 0;
}

static void read_all(const char *path, sm_text *out) {
    char *bytes = NULL;
    size_t length;
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    sm_text_append(out, bytes, length);
    free(bytes);
    unlink(path);
}

// Runs the program; FOLDER in ARGUMENTS is the test's own folder, and the current one is the source's.
static ran run(const char *arguments) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char command[1024], err[96];
    snprintf(err, sizeof err, "%s/log", folder); // `log` is one of the names that the folder is rid of
    snprintf(command, sizeof command, "FOLDER=%s; %s/slowmatch %s 2>%s.err </dev/null", folder,
             build ? build : "build", arguments, err);
    ran r = {0};
    FILE *pipe = popen(command, "r");
    assert_non_null(pipe);
    char bytes[4096];
    for (size_t got; (got = fread(bytes, 1, sizeof bytes, pipe)) > 0;)
        sm_text_append(&r.out, bytes, got);
    int ended = pclose(pipe);
    assert_true(WIFEXITED(ended));
    r.status = WEXITSTATUS(ended);
    snprintf(err, sizeof err, "%s/log.err", folder);
    read_all(err, &r.err);
    return r;
}

static void forget(ran *r) {
    sm_text_deinit(&r->out);
    sm_text_deinit(&r->err);
}

static unsigned count_of(const char *text, const char *part) {
    unsigned count = 0;
    for (const char *at = strstr(text, part); at; at = strstr(at + 1, part))
        count++;
    return count;
}

#define HEADER "wall,show,source,what,cue,target,detail,late_us\n"
#define NOT_JUDGED                                                                                           \
    "0.000000,,engine,guard,,readings,\"NOT CHECKED, not judged in the built-in sequence: bad slots "        \
    "misfire\",0\n"
#define SILENT "0.000000,,engine,sound,,silent,a virtual clock has no sound,0\n"

static void the_log_of_a_small_show(void **state) {
    (void)state;
    engine_folder_write(folder, "1,A-01,comet,,\n2,L1,dim=50%,,1\n", NULL);
    folder_write(folder, "readings.csv", "rail,slot,reading\nA,1,1.93\n");
    static const char log[] =
        HEADER NOT_JUDGED SILENT "0.000000,,script,call-clear,,,,0\n"
                                 "0.000000,,script,key,,on,,0\n"
                                 "0.000000,,script,arm,,,,0\n"
                                 "0.000000,,engine,state,,arming,safe,0\n"
                                 "1.000000,,engine,state,,armed,arming,0\n"
                                 "1.000000,,script,start,,,,0\n"
                                 "1.000000,-2.000000,engine,state,,running,armed,0\n"
                                 "3.500000,0.500000,engine,fire,1,A-01,comet,0\n"
                                 "5.000000,2.000000,engine,set,2,L1,dim=128,0\n"
                                 "6.000000,3.000000,engine,out,1,A-01,comet,0\n"
                                 "6.000000,3.000000,engine,home,2,L1,dim,0\n"
                                 "63.000000,60.000000,engine,state,,ended,running,0\n"
                                 "63.000000,60.000000,engine,alert,,wait,\"begins, "
                                 "CAUTION: wait not begun, NO LIMIT SET (reentry-wait)\",0\n";
    ran r = run("$FOLDER --headless --fast --log $FOLDER/log");
    assert_int_equal(r.status, 0);
    assert_string_equal(sm_text_get(&r.out), log);
    assert_string_equal(sm_text_get(&r.err), "");
    sm_text file = {0};
    char path[96];
    snprintf(path, sizeof path, "%s/log", folder);
    read_all(path, &file);
    assert_string_equal(sm_text_get(&file), log);
    sm_text_deinit(&file);
    forget(&r);
    r = run("rehearse --fast --headless $FOLDER");
    assert_string_equal(sm_text_get(&r.out), log);
    forget(&r);
}

// Rows that stand are kept to the byte; each new one is of its own moment; what was measured or kept before adds nothing.
static void readings_by_hand_are_kept_and_nothing_else(void **state) {
    (void)state;
    static const char before[] =
        "# first measuring\nrail,slot,reading,when,by\nA,1,1.93,2026-06-18T21:14:00Z,K\n";
    static const char script[] = "0 measure\n1 read A-01 1.83\n2 keep-readings Anna Berg\n3 read B-02 short\n"
                                 "4 measure A\n5 keep-readings =1+K\n6 keep-readings K\n";
    char data[96], command[128], path[96];
    engine_folder_write(folder, "1,A-01,comet,,\n", NULL);
    folder_write(folder, "readings.csv", before);
    folder_write(folder, "script", script);
    snprintf(data, sizeof data, "%s.data", folder);
    setenv("XDG_DATA_HOME", data, 1);
    ran r = run("rehearse $FOLDER --headless --fast --script $FOLDER/script");
    assert_int_equal(r.status, 0);
    sm_text table = {0};
    snprintf(path, sizeof path, "%s/readings.csv", folder);
    read_all(path, &table);
    const char *added = sm_text_get(&table) + strlen(before);
    assert_memory_equal(sm_text_get(&table), before, strlen(before));
    assert_memory_equal(added, "A,1,1.83,20", 11);
    assert_non_null(strstr(added, "Z,Anna Berg\nB,2,short,20"));
    assert_string_equal(added + strlen(added) - 8, "Z,'=1+K\n"); // text also where a spreadsheet opens it
    assert_int_equal(count_of(added, "\n"), 2);
    sm_text_deinit(&table);
    forget(&r);
    unsetenv("XDG_DATA_HOME");
    snprintf(command, sizeof command, "rm -r %s", data); // the copies of the file before
    assert_int_equal(system(command), 0);
}

// The demo's [expect]: 43 pyro and 390 fixture events; countdown 5 s, arm-time 3 s.
static void the_demo_is_whole_and_the_same_every_time(void **state) {
    (void)state;
    ran first = run(DEMO " --headless --fast"), second = run(DEMO " --headless --fast");
    const char *log = sm_text_get(&first.out);
    assert_int_equal(first.status, 0);
    assert_string_equal(log, sm_text_get(&second.out));
    assert_int_equal(count_of(log, ",engine,fire,"), 43);
    assert_int_equal(count_of(log, ",engine,set,"), 390);
    assert_int_equal(count_of(log, ",misfire,") + count_of(log, ",passed,") + count_of(log, ",spent,"), 0);
    assert_non_null(strstr(log, "\n8.000000,0.000000,engine,set,"));
    assert_non_null(strstr(log, "\n100.000000,92.000000,engine,state,,ended,running,0\n"));
    assert_int_equal(count_of(log, ",0\n"), count_of(log, "\n") - 1); // nothing is late
    forget(&first);
    forget(&second);
}

static void readings_misfire_and_that_is_good(void **state) {
    (void)state;
    ran r = run(DEMO " --headless --fast --readings " DEMO "/readings-first.csv");
    const char *log = sm_text_get(&r.out);
    assert_int_equal(r.status, 0);
    assert_int_equal(count_of(log, ",engine,fire,"), 41);
    assert_int_equal(count_of(log, ",engine,misfire,"), 2);
    assert_non_null(strstr(log, ",A-05,"));
    assert_int_equal(count_of(log, " open,0\n"), 1);
    assert_int_equal(count_of(log, " short,0\n"), 1);
    ran beside = run(DEMO " --headless --fast --readings readings-first.csv");
    assert_string_equal(sm_text_get(&beside.out), log);
    forget(&r);
    forget(&beside);
    ran nowhere = run(DEMO " --headless --fast --readings readings-none.csv");
    assert_int_equal(nowhere.status, 2);
    assert_string_equal(sm_text_get(&nowhere.out), "");
    forget(&nowhere);
}

static const struct {
    const char *says, *arguments, *script;
    int status;
    const char *err; // begins so, after the script's path where it begins with ':'
} exits[] = {
    {"bare rails refuse arming without a script", "$FOLDER --headless --fast --bare", NULL, 1,
     "slowmatch: arming was refused: not plugged: A\n"},
    {"with a script a refusal is the script's affair",
     "$FOLDER --headless --fast --bare --script $FOLDER/script", "0 key on\n0 call-clear\n0 arm\n", 0, ""},
    {"a moment never reached", "$FOLDER --headless --fast --script $FOLDER/script", "0 key on\n@5 note x\n",
     2, ":2:1: error: its moment never came: the show did not reach it [script]\n"},
    {"a script that cannot be read", "$FOLDER --headless --fast --script $FOLDER/script",
     "0 key on\n0 amr\n0 plug X\n", 2, ":2:3: error: no action 'amr'; did you mean arm? [script]\n"},
    {"no script", "$FOLDER --headless --fast --script $FOLDER/nothing", NULL, 2, "slowmatch: "},
    {"quit", "$FOLDER --headless --fast --script $FOLDER/script", "0 quit\n@5 note x\n", 0, ""},
    {"an empty script", "$FOLDER --headless --fast --script $FOLDER/script", "# nothing\n", 0, ""},
    {"no show", "$FOLDER/none --headless --fast", NULL, 2, ""},
    {"a command misspelt", "dril --headless", NULL, 2,
     "slowmatch: there is no command and no folder 'dril'; did you mean drill? --help lists the commands\n"},
    {"an unknown option", "$FOLDER --headless --fats", NULL, 2,
     "slowmatch: no option --fats; did you mean --fast?\n"},
    {"a log that cannot be opened", "$FOLDER --headless --fast --log $FOLDER/none/log", NULL, 2,
     "slowmatch: "},
    {"a log that cannot be written", "$FOLDER --headless --fast --log /dev/full", NULL, 2,
     "slowmatch: the log could not be written"},
};

static void exit_status(void **state) {
    (void)state;
    engine_folder_write(folder, "1,A-01,comet,,\n", NULL);
    char path[96];
    snprintf(path, sizeof path, "%s/script", folder);
    for (size_t i = 0; i < COUNT(exits); i++) {
        if (exits[i].script)
            folder_write(folder, "script", exits[i].script);
        ran r = run(exits[i].arguments);
        const char *err = sm_text_get(&r.err);
        if (r.status != exits[i].status)
            fail_msg("%s: exit %d, not %d, %s", exits[i].says, r.status, exits[i].status, err);
        if (exits[i].err[0] == ':') {
            assert_int_equal(strncmp(err, path, strlen(path)), 0);
            err += strlen(path);
        }
        if (exits[i].err[0] == '\0' && exits[i].status == 0)
            assert_string_equal(err, "");
        if (strncmp(err, exits[i].err, strlen(exits[i].err)) != 0)
            fail_msg("%s: %s", exits[i].says, err);
        assert_true(r.status != 2 || sm_text_get(&r.err)[0] != '\0');
        forget(&r);
    }
}

// The folder has not changed: the same show, and what was known is kept.
static void a_script_reads_the_show_again(void **state) {
    (void)state;
    engine_folder_write(folder, "1,A-01,mine,,\n", NULL);
    folder_write(folder, "script", "0 read A-01 open\n0 reload\n0 plug A\n0 unplug A\n@5 note x\n");
    ran r = run("$FOLDER --headless --fast --script $FOLDER/script");
    assert_int_equal(r.status, 2); // its last line
    assert_string_equal(sm_text_get(&r.out),
                        HEADER SILENT "0.000000,,script,read,,A-01,open,0\n"
                                      "0.000000,,script,reload,,,,0\n"
                                      "0.000000,,script,refused,,plug,rail A is plugged already,0\n"
                                      "0.000000,,script,unplug,,A,,0\n");
    assert_non_null(strstr(sm_text_get(&r.err), "script:5:1: error: "));
    forget(&r);
}

// On the real clock: show time follows it, and late_us says by how much a row was late. A second's show, all of it in order.
static void on_the_real_clock_rows_come_in_order_and_not_before_they_are_due(void **state) {
    (void)state;
    static const engine_file changes[] = {
        {"show.ini", "[show]\ntitle = Short\nlength = 0.3\ncountdown = 0.1 s\n[limits]\narm-time = 0.1 s\n"},
        {NULL, NULL}};
    engine_folder_write(folder, "0.1,L1,dim=1,,0.1\n0.25,A-01,mine,,\n", changes);
    ran r = run("$FOLDER --headless --silent");
    assert_int_equal(r.status, 0);
    double before = 0;
    unsigned rows = 0, due = 0;
    for (char *line = strtok(r.out.bytes, "\n"); line; line = strtok(NULL, "\n"), rows++) {
        if (rows == 0)
            continue;
        double wall = strtod(line, NULL), show = strtod(strchr(line, ',') + 1, NULL);
        long late = strtol(strrchr(line, ',') + 1, NULL, 10);
        assert_true(wall >= before && late >= 0);
        before = wall;
        if (strstr(line, ",engine,set,") || strstr(line, ",engine,fire,") || strstr(line, ",home,")) {
            // Armed at 0.1 s, or later by what `start` was late: what is due is show time + 0.2 s + that.
            assert_true(wall - (double)late / 1e6 >= show + 0.2 - 1e-9);
            due++;
        }
    }
    assert_int_equal(due, 3);
    forget(&r);
}

// What the decoder's library prints about such a file goes nowhere; the program says it once, in its own words.
static void a_cut_file_is_told_in_one_line(void **state) {
    (void)state;
    enum { RATE = 44100, FRAMES = 20 * RATE };
    static int16_t samples[2 * FRAMES];
    char path[128];
    for (uint32_t i = 0; i < 2 * FRAMES; i++)
        samples[i] = (int16_t)(sounds_noise(i) / 8);
    snprintf(path, sizeof path, "%s/music.mp3", folder);
    if (!sounds_write(path, SM_SNDFILE_MPEG | SM_SNDFILE_MPEG_LAYER_III, RATE, 2, samples, FRAMES))
        skip(); // this libsndfile writes none
    assert_true(sounds_cut(path, sounds_size(path) * 2 / 5));
    static const engine_file changes[] = {
        {"show.ini", "[show]\ntitle = Short\naudio = music.mp3\nlength = 0.3\ncountdown = 0.1 s\n"
                     "[limits]\narm-time = 0.1 s\n"},
        {NULL, NULL}};
    engine_folder_write(folder, "0.25,A-01,mine,,\n", changes);
    static const char *const how[] = {"--fast", "--silent"}; // decoded at the start; and meanwhile
    for (size_t i = 0; i < COUNT(how); i++) {
        char arguments[64];
        snprintf(arguments, sizeof arguments, "$FOLDER --headless %s", how[i]);
        ran r = run(arguments);
        assert_int_equal(r.status, 0);
        assert_int_equal(count_of(sm_text_get(&r.err), "\n"), 1);
        assert_non_null(strstr(sm_text_get(&r.err), "music.mp3: is cut off or broken: "));
        forget(&r);
    }
    unlink(path);
}

// Nothing acts that nobody asked for: without a terminal, or on one that no cursor moves on, the program says what to write.
static void without_a_terminal_nothing_acts_by_itself(void **state) {
    (void)state;
    engine_folder_write(folder, "1,A-01,comet,,\n", NULL);
    static const struct {
        const char *arguments, *says;
    } calls[] = {
        {"rehearse $FOLDER", "no console: standard input and output are no terminal; --lines"},
        {"$FOLDER --fast", "--fast has no console; write --headless too"},
        {"$FOLDER --headless --seats spotter", "--seats is heard through a broker; write --tell BROKER too"},
        {"drill " DEMO " 1", "no console: standard input and output are no terminal; --lines"},
        {"drill " DEMO " 1 --json", "--json has no console; write --headless too"},
    };
    for (size_t i = 0; i < COUNT(calls); i++) {
        ran r = run(calls[i].arguments);
        assert_int_equal(r.status, 2);
        assert_string_equal(sm_text_get(&r.out), "");
        assert_non_null(strstr(sm_text_get(&r.err), calls[i].says));
        forget(&r);
    }
}

static void on_a_terminal_that_cannot_show_it_nothing_acts_either(void **state) {
    (void)state;
    engine_folder_write(folder, "1,A-01,comet,,\n", NULL);
    static const struct {
        const char *term, *says;
    } terms[] = {{"TERM=dumb", "cannot move its cursor"},
                 {"TERM=no-such-terminal", "is not known here"},
                 {"TERM=", "does not say which terminal"}};
    const char *build = getenv("SLOWMATCH_BUILD");
    char program[512];
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    for (size_t i = 0; i < COUNT(terms); i++) {
        pty *p = pty_start(200, 24, (const char *[]){program, folder, NULL},
                           (const char *[]){terms[i].term, NULL});
        int status = pty_expect_end(p);
        assert_true(WIFEXITED(status));
        assert_int_equal(WEXITSTATUS(status), 2);
        assert_true(pty_shows(p, terms[i].says));
        assert_true(pty_shows(p, "--headless"));
        assert_false(pty_shows(p, "call-clear"));
        pty_destroy(p);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_log_of_a_small_show, begin, end),
        cmocka_unit_test_setup_teardown(readings_by_hand_are_kept_and_nothing_else, begin, end),
        cmocka_unit_test_setup_teardown(the_demo_is_whole_and_the_same_every_time, begin, end),
        cmocka_unit_test_setup_teardown(readings_misfire_and_that_is_good, begin, end),
        cmocka_unit_test_setup_teardown(exit_status, begin, end),
        cmocka_unit_test_setup_teardown(a_script_reads_the_show_again, begin, end),
        cmocka_unit_test_setup_teardown(a_cut_file_is_told_in_one_line, begin, end),
        cmocka_unit_test_setup_teardown(without_a_terminal_nothing_acts_by_itself, begin, end),
        cmocka_unit_test_setup_teardown(on_a_terminal_that_cannot_show_it_nothing_acts_either, begin, end),
        cmocka_unit_test_setup_teardown(on_the_real_clock_rows_come_in_order_and_not_before_they_are_due,
                                        begin, end),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

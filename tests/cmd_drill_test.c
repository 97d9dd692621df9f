// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch drill as people run it: the list, a script as the trainee, exit status, whose results.
#include "support/folder.h"
#include "support/kept.h"
#include "support/ran.h"

#include "slowmatch/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define DEMO "demo-shows/lantern-quay"
static char folder[] = "/tmp/slowmatch-drill-XXXXXX";

// In time with seed 1: hasty at 12 s, M answers at 32 s, a person in the field between 8 s and 12 s after the start.
static const char spotter[] = "15 safe\n37 call-clear S\n65 safe\n85 answer a child, outside; clear again\n";

#define run(...) run_as("drill", __VA_ARGS__)

static const char perfect[] = "12 call-clear J\n13 key on\n14 arm\n19 start\n46 safe\n50 key off\n";
static const char lazy[] = "12 call-clear J\n13 key on\n14 arm\n19 start\n";

static char *run_as(const char *command_name, int expected, const char *format, ...) SM_PRINTF(3, 4);
static char *run_as(const char *command_name, int expected, const char *format, ...) {
    char arguments[512], line[1024];
    va_list args;
    va_start(args, format);
    vsnprintf(arguments, sizeof arguments, format, args);
    va_end(args);
    sm_text text = {0};
    snprintf(line, sizeof line, "XDG_DATA_HOME=%s/data XDG_CACHE_HOME=%s/cache $S %s %s", folder, folder,
             command_name, arguments);
    const int status = ran_line(".", line, &text);
    if (status != expected)
        fail_msg("%s: status %d, not %d\n%s", arguments, status, expected, sm_text_get(&text));
    return text.bytes ? text.bytes : strdup("");
}

static void expect_says(char *text, const char *word) {
    if (!strstr(text, word))
        fail_msg("not said: %s\n%s", word, text);
}

static void the_list_has_every_drill(void **state) {
    (void)state;
    char *text = run(0, DEMO);
    expect_says(text, "01-first-arming          First arming\n");
    expect_says(text, "10-the-spotters-seat     The spotter's seat\n");
    expect_says(text, "With --crew NAME: the best results of NAME, and which to take next.\n");
    expect_says(text, "not a licence, qualification or permission");
    free(text);
    text = run(0, DEMO " --crew K --logbook %s/empty.db", folder);
    assert_null(strstr(text, "With --crew NAME"));
    free(text);
}

static void a_script_is_the_trainee(void **state) {
    (void)state;
    char *text = run(0, DEMO " 01-first-arming --fast --script %s/perfect --json", folder);
    expect_says(text, "{\"score\": 100, \"passed\": true}\n");
    free(text);
    text = run(1, DEMO " first-arming --fast --script %s/lazy", folder);
    expect_says(text, "Score 60 of 100; from 90 on it has reached the drill's mark: not reached");
    free(text);
}

// A file of the whole name goes before one that has a number in front of it.
static void the_whole_name_goes_first(void **state) {
    (void)state;
    char command[400];
    snprintf(command, sizeof command,
             "cp -r " DEMO " %s/named && echo '[drill]' >%s/named/drills/first-arming.ini", folder, folder);
    assert_int_equal(system(command), 0);
    char *text = run(2, "%s/named first-arming --fast --script %s/lazy", folder, folder);
    expect_says(text, "drills/first-arming.ini:");
    free(text);
    text = run(1, "%s/named 01-first-arming --fast --script %s/lazy", folder, folder);
    free(text);
}

static void the_same_seed_gives_the_same_debrief(void **state) {
    (void)state;
    char *a = run(1, DEMO " 8 --fast --seed 5 --script %s/lazy", folder);
    char *b = run(1, DEMO " 8 --fast --seed 5 --script %s/lazy", folder);
    char *c = run(1, DEMO " 8 --fast --seed 6 --script %s/lazy", folder);
    assert_string_equal(a, b);
    assert_string_not_equal(a, c);
    free(a);
    free(b);
    free(c);
}

// The scripts of these tests stand for people from now on.
static void let_scripts_be_people(void) {
    char path[128];
    snprintf(path, sizeof path, "%s/book.db", folder);
    kept_exec(path, "UPDATE attempt SET taken_by = '';"
                    "UPDATE attempt_score SET passed = 1 WHERE how = 'over' AND score = 100");
}

static void results_are_kept_by_name(void **state) {
    (void)state;
    free(run(1, DEMO " 1 --fast --script %s/lazy --crew K --logbook %s/book.db", folder, folder));
    free(run(0, DEMO " 1 --fast --script %s/perfect --crew K --logbook %s/book.db", folder, folder));
    char *text = run(0, DEMO " --crew K --logbook %s/book.db", folder);
    expect_says(text, "as lead: not taken yet   <- next\n"); // scripts are nobody
    free(text);
    let_scripts_be_people();
    text = run(0, DEMO " --crew K --logbook %s/book.db", folder);
    expect_says(text, "the drill's mark: 90, hints: full\n    as lead: best of 2: 100, mark reached\n"
                      "    as spotter: not taken yet   <- next\n");
    free(text);
    text = run(0, DEMO " --seat lead --crew K --logbook %s/book.db", folder);
    expect_says(text, "One bad igniter\n");
    expect_says(text, "as lead: not taken yet   <- next\n");
    free(text);
    free(run(1, DEMO " 1 --seat spotter --fast --script %s/lazy --crew K --logbook %s/book.db", folder,
             folder));
    free(run(0, DEMO " 1 --seat spotter --fast --script %s/spotter --crew K --logbook %s/book.db", folder,
             folder));
    let_scripts_be_people();
    text = run(0, DEMO " --crew K --logbook %s/book.db", folder);
    expect_says(text, "as spotter: best of 2: 100, mark reached\n02-one-bad-igniter       One bad igniter\n");
    expect_says(text, "as lead: not taken yet   <- next\n    as spotter: not taken yet\n");
    free(text);
    text = run(0, DEMO " --crew K --json --logbook %s/book.db", folder);
    expect_says(text,
                "{\"drill\": \"01-first-arming\", \"seat\": \"spotter\", \"title\": \"First arming\", ");
    expect_says(text, "\"pass\": 90, \"hints\": \"full\", \"taken\": 2, \"best\": 100, \"reached\": true, "
                      "\"next\": false}\n{\"drill\": \"02-one-bad-igniter\", \"seat\": \"lead\"");
    free(text);
    text = run(0, DEMO " --crew M --logbook %s/book.db", folder);
    expect_says(text, "as lead: not taken yet   <- next\n    as spotter: not taken yet\n02-");
    free(text);
}

// Lines that come out of a pipe are a script's: a perfect one would else be somebody's 100.
static void lines_out_of_a_pipe_are_nobodys(void **state) {
    (void)state;
    char command[600], path[128];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(command, sizeof command,
             "printf 'n\\nkey on\\nquit\\n\\n\\n\\n\\n\\n' | XDG_DATA_HOME=%s/piped XDG_CACHE_HOME=%s/cache "
             "%s/slowmatch "
             "drill " DEMO " 1 --lines --silent --crew K >%s/said 2>&1",
             folder, folder, build ? build : "build", folder);
    assert_int_equal(WEXITSTATUS(system(command)), 1);
    snprintf(path, sizeof path, "%s/piped/slowmatch/logbook.db", folder);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM attempt WHERE taken_by = 'script'"), 1);
}

// The debrief that was read after the drill is the one that is kept, nobody named; it goes along into another logbook.
static void the_debrief_is_kept_as_it_was_read(void **state) {
    (void)state;
    char *read = run(1, DEMO " 1 --fast --script %s/lazy --logbook %s/read.db", folder, folder);
    char *kept = run_as("logbook", 0, "debrief 1 --logbook %s/read.db", folder);
    assert_string_equal(kept, read);
    free(run_as("logbook", 0, "export %s/export --logbook %s/read.db", folder, folder));
    free(run_as("logbook", 0, "import %s/export --logbook %s/other.db", folder, folder));
    free(kept);
    kept = run_as("logbook", 0, "debrief 1 --logbook %s/other.db", folder);
    assert_string_equal(kept, read);
    free(kept);
    free(read);
    free(run(1, DEMO " 1 --fast --script %s/lazy --json --logbook %s/read.db", folder, folder));
    kept = run_as("logbook", 0, "debrief 2 --json --logbook %s/read.db", folder);
    expect_says(kept, "{\"number\": 2, \"head\": \"REHEARSAL drill ");
    expect_says(kept, "not a licence, qualification or permission to handle product");
    free(kept);
}

// What happened beside what was done; of a drill of which no debrief was kept, from its rows, and without what was asked.
static void a_drill_is_replayed_step_by_step(void **state) {
    (void)state;
    char path[128];
    snprintf(path, sizeof path, "%s/steps.db", folder);
    free(run(0, DEMO " 1 --fast --script %s/perfect --logbook %s", folder, path));
    char *text = run_as("logbook", 0, "list --logbook %s", path);
    expect_says(text, "01-first-arming as lead: 100 of 100, with hints, by a script");
    free(text);
    text = run_as("logbook", 0, "replay 1 --logbook %s", path);
    expect_says(text, "none differs\n");
    expect_says(text, "   0:09.000 asked: call-clear within 3 min,");
    expect_says(text, "   0:13.000                                  | key on\n");
    expect_says(text, "   0:14.000 module arming\n");
    free(text);
    text = run_as("logbook", 0, "replay 1 --json --logbook %s", path);
    expect_says(
        text,
        "{\"at\": 13.000000, \"kind\": \"action\", \"name\": \"key\", \"text\": \"key on\", \"within\": "
        "null, \"took\": null, \"late\": null, \"state\": \"safe\", \"key\": true}\n");
    expect_says(
        text,
        "\"kind\": \"mark\", \"name\": \"clear\", \"text\": \"clear: 20 of 20, after 3.0 s\", \"within\": "
        "180.000000, \"took\": 3.000000, \"late\": 0.000000");
    free(text);
    kept_exec(path, "DELETE FROM drill_step");
    kept_exec(path, "DELETE FROM debrief");
    text = run_as("logbook", 0, "replay 1 --logbook %s", path);
    expect_says(text, "   0:13.000                                  | key on\n");
    assert_null(strstr(text, "asked:"));
    assert_null(strstr(text, "score"));
    free(text);
    text = run_as("logbook", 2, "debrief 1 --logbook %s", path);
    expect_says(text, "rehearsal 1 has no debrief");
    free(text);
}

// From the spotter's seat the lead acts by the drill: the engine gives the same again, and the steps travel to the byte.
static void a_spotters_drill_is_kept_whole(void **state) {
    (void)state;
    free(run(0, DEMO " 1 --seat spotter --fast --script %s/spotter --logbook %s/seat.db", folder, folder));
    char *text = run_as("logbook", 0, "replay 1 --logbook %s/seat.db", folder);
    expect_says(text, "none differs\n");
    expect_says(text, "M: \"Steps here, I am outside.\"");
    expect_says(text, "call-clear S");
    free(text);
    text = run_as("logbook", 0, "show 1 --logbook %s/seat.db", folder);
    expect_says(text, "m-answers");
    free(text);
    free(run_as("logbook", 0, "export %s/seat --logbook %s/seat.db", folder, folder));
    free(run_as("logbook", 0, "import %s/seat --logbook %s/seat-2.db", folder, folder));
    static const char *const verbs[] = {"replay 1", "replay 1 --json", "debrief 1", "debrief 1 --json",
                                        "show 1"};
    for (size_t i = 0; i < sizeof verbs / sizeof verbs[0]; i++) {
        char *kept = run_as("logbook", 0, "%s --logbook %s/seat.db", verbs[i], folder);
        text = run_as("logbook", 0, "%s --logbook %s/seat-2.db", verbs[i], folder);
        assert_true(strlen(kept) > 200);
        assert_string_equal(text, kept);
        free(text);
        free(kept);
    }
}

static void wrong_calls_are_told(void **state) {
    (void)state;
    char *text = run(2, DEMO " no-such --fast");
    expect_says(text,
                "drills/no-such.ini: No such file or directory; slowmatch drill " DEMO " lists the drills");
    free(text);
    free(run(2, DEMO " 1 --seed many --fast"));
    free(run(2, "/no/such/show"));
    text = run(2, DEMO " 1 --timecode-in left");
    expect_says(text, "--timecode-in: not in a drill");
    free(text);
    text = run(2, DEMO " 1 --lights=eth0");
    expect_says(text, "--lights: not in a drill");
    free(text);
    text = run(0, "--help"); // and is not offered
    assert_null(strstr(text, "timecode-in"));
    free(text);
    text = run(2, DEMO " --instructor");
    free(text);
}

static void a_drill_with_an_error_gets_findings(void **state) {
    (void)state;
    char command[256];
    snprintf(command, sizeof command, "cp -r " DEMO " %s/show", folder);
    assert_int_equal(system(command), 0);
    folder_write(folder, "show/drills/11-broken.ini",
                 "[drill]\ntitle = Broken\n[event e]\nwhen = begin\ndo = open A-99\n");
    char *text = run(2, "%s/show 11 --fast", folder);
    expect_says(
        text,
        "/show/drills/11-broken.ini:5:11: error: no slot 'A-99'; write RAIL-NN as in rails.csv [drill-do]\n");
    free(text);
    text = run(2, "%s/show", folder); // the others are listed all the same
    expect_says(text, "10-the-spotters-seat");
    expect_says(text, "[drill-do]");
    free(text);
    text = run_as("check", 1, "%s/show", folder); // and the check of the show says it too
    expect_says(text, "/show/drills/11-broken.ini:5:11: error: no slot 'A-99'");
    free(text);
}

static int begin(void **state) {
    (void)state;
    assert_non_null(mkdtemp(folder));
    folder_write(folder, "perfect", perfect);
    folder_write(folder, "lazy", lazy);
    folder_write(folder, "spotter", spotter);
    unsetenv("XDG_RUNTIME_DIR");
    return 0;
}

static int end(void **state) {
    (void)state;
    char command[128];
    snprintf(command, sizeof command, "rm -rf %s", folder);
    return system(command);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_list_has_every_drill),
        cmocka_unit_test(a_script_is_the_trainee),
        cmocka_unit_test(the_whole_name_goes_first),
        cmocka_unit_test(the_same_seed_gives_the_same_debrief),
        cmocka_unit_test(results_are_kept_by_name),
        cmocka_unit_test(lines_out_of_a_pipe_are_nobodys),
        cmocka_unit_test(the_debrief_is_kept_as_it_was_read),
        cmocka_unit_test(a_drill_is_replayed_step_by_step),
        cmocka_unit_test(a_spotters_drill_is_kept_whole),
        cmocka_unit_test(wrong_calls_are_told),
        cmocka_unit_test(a_drill_with_an_error_gets_findings),
    };
    return cmocka_run_group_tests_name("the drill command", tests, begin, end);
}

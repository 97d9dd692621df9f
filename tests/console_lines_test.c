// SPDX-License-Identifier: GPL-3.0-or-later
// The console as lines: through pipes, and on a terminal on which no cursor moves.
#include "console/keymap.h"
#include "support/at_once.h"
#include "support/console_rig.h"
#include "support/piped.h"

#include <errno.h>
#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <signal.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

// ---- a rehearsal ------------------------------------------------------------------------------------

static void a_whole_rehearsal_goes_by_lines(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_arm(&p);
    piped_expect(&p, "NEXT: [start]");
    piped_type(&p, "start\n");
    piped_expect(&p, "START counts down");
    piped_type(&p, "\n");
    piped_expect(&p, "REHEARSAL RUNNING");
    piped_expect(&p, "fire A-01 fountain");
    piped_expect(&p, "fire B-01 long");
    piped_expect(&p, "state ended");
    piped_expect(&p, "REHEARSAL ENDED STILL ARMED");
    assert_non_null(strstr(p.text, "CAUTION STILL BURNING"));
    piped_type(&p, "safe\n");
    piped_expect(&p, "state safe");
    piped_type(&p, "quit\n");
    piped_expect(&p, "quit: makes safe, and leaves");
    piped_type(&p, "\n");
    piped_expect_ended(&p, 0);
    assert_null(strchr(p.text, '\033'));      // nothing that moves a cursor
    assert_null(strstr(p.text, "set par-1")); // rows of fixtures are not told unless they are asked for
    piped_expect_log(&p, (const char *const[]){"console,call-clear", "console,key,,on", "console,arm",
                                               "console,start", "fire,3,A-01", "state,,ended", "console,safe",
                                               "console,quit", NULL});
    piped_finish(&p);
}

// The step named after a line is the one after what it did.
static void the_next_step_is_never_of_before(void **state) {
    (void)state;
    static const struct {
        const char *line, *next;
    } steps[] = {
        {"enter K\n", "[safe] make safe, then key off"},
        {"leave K\n", "[safe] make safe, then key off"},
        {"safe\n", "[key off] key off and out"},
        {"key off\n", "[call-clear]"},
        {"call-clear J\n", "[key on]"},
        {"key on\n", "[arm]"},
        {"hold M why\n", "[lift] ask M why"},
        {"lift M J\n", "[arm]"},
        {"enter K\n", "[key off]"},
        {"key off\n", "[leave]"},
    };
    static piped p;
    piped_begin(&p);
    piped_type(&p, "measure\n");
    piped_expect_next(&p, "[call-clear]");
    piped_arm(&p);
    piped_expect_next(&p, "[start]");
    for (size_t i = 0; i < sizeof steps / sizeof steps[0]; i++) {
        piped_type(&p, steps[i].line);
        piped_expect_next(&p, steps[i].next);
    }
    close(p.in);
    p.in = -1;
    piped_expect_ended(&p, 0);
    piped_finish(&p);
}

// What is no answer leaves the question open (no tones), and is done.
static void the_first_line_is_done_also_where_it_is_no_answer(void **state) {
    (void)state;
    static piped p;
    piped_start(&p);
    piped_expect(&p, "Is live product rigged within earshot?");
    piped_type(&p, "wind 3\n");
    piped_expect(&p, "tones off: the question was not answered");
    piped_expect(&p, "wind 3");
    piped_type(&p, "j 0.5\n"); // a key that asks, and what it asks for
    piped_expect(&p, "seek 0.5");
    piped_type(&p, "j\n");
    piped_expect(&p, "seek MOMENT:");
    piped_type(&p, "0.2\n");
    piped_expect(&p, "seek 0.2");
    close(p.in);
    p.in = -1;
    piped_expect_ended(&p, 0);
    piped_finish(&p);
}

// What is asked is answered by Enter alone, and nothing that is typed there is done instead; but a stop is.
static void a_question_takes_no_other_line_but_a_stop(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_arm(&p);
    piped_type(&p, "start\n");
    piped_expect(&p, "Enter does it, any other line leaves it.");
    piped_type(&p, "seek 0.5\n");
    piped_expect(&p, "left: start was not done");
    piped_expect(&p, "> ");
    piped_type(&p, "start\n");
    piped_expect(&p, "START counts down");
    piped_type(&p, "safe\n");
    piped_expect(&p, "REHEARSAL SAFE key ON");
    piped_type(&p, "note\n");
    piped_expect(&p, "note TEXT:");
    piped_type(&p, "key off\n");
    piped_expect(&p, "REHEARSAL SAFE key OFF");
    piped_type(&p, "arm\n");
    piped_expect(&p, "guards looks. Any line leaves it.");
    piped_type(&p, ".\n");
    piped_type(&p, "enter\n"); // what is refused is asked for again, with nothing typed
    piped_expect(&p, "enter WHO:");
    piped_type(&p, "K\n");
    piped_expect(&p, "IN FIELD 1");
    piped_type(&p, "enter\n");
    piped_expect(&p, "enter WHO:");
    piped_type(&p, "K\n");
    piped_expect(&p, "K is reported in the field already");
    piped_expect(&p, "enter WHO:");
    piped_type(&p, "M\n");
    piped_expect(&p, "IN FIELD 2");
    piped_type(&p, "quit\n");
    piped_expect(&p, "quit:");
    piped_type(&p, "\n");
    piped_expect_ended(&p, 0);
    char *log = short_show_read(&p.show, "log.out");
    assert_null(strstr(log, "seek"));
    assert_null(strstr(log, ",start,"));
    assert_null(strstr(log, "note"));
    free(log);
    piped_finish(&p);
}

static void what_is_wrong_is_said_and_asked_again(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_type(&p, "bogus\n");
    piped_expect(&p, "no action 'bogus'");
    piped_type(&p, "tick nothing yes\n"); // no item of the walk: nothing is kept
    piped_expect(&p, "no item 'nothing' on this walk; `tick ?` lists them");
    piped_type(&p, "tick breifing yes\n");
    piped_expect(&p, "no item 'breifing' on this walk; did you mean briefing");
    piped_type(&p, "tick briefing yes\n");
    piped_expect(&p, "tick briefing yes");
    piped_type(&p, "wind\n");
    piped_expect(&p, "wind SPEED: (. leaves it)");
    piped_type(&p, "strong\n");
    piped_expect(&p, "strong");
    piped_expect(&p, "wind SPEED:");
    piped_type(&p, ".\n");
    piped_expect(&p, "REHEARSAL SAFE");
    piped_type(&p, "rails\nread\n");
    piped_expect(&p, "(Enter takes A-01 )");
    piped_type(&p, "\n"); // taken, to be gone on from
    piped_expect(&p, "read SLOT VALUE: A-01");
    piped_type(&p, "1.9\n");
    piped_expect(&p, "read A-01 1.9 ohm");
    piped_type(&p, "report ?\n"); // nothing has misfired
    piped_expect(&p, "nothing that is known goes on from there");
    piped_type(&p, "plug ?\nunplug ?\n");
    piped_expect(&p, "A B");
    piped_type(&p, "start\n");
    piped_expect(&p, "start refused: not while safe");
    char line[400];
    memset(line, 'x', sizeof line);
    line[sizeof line - 2] = '\n';
    line[sizeof line - 1] = '\0';
    piped_type(&p, line);
    piped_expect(&p, "the line is too long");
    piped_type(&p, "note \033[2Jx\n");
    piped_expect(&p, "note ?[2Jx");
    close(p.in); // the end of the input leaves
    p.in = -1;
    piped_expect_ended(&p, 0);
    assert_null(strchr(p.text, '\033'));
    piped_finish(&p);
}

// ---- what is told ---------------------------------------------------------------------------------------

// One line each: what was read, and what a jump passed over.
static void what_was_read_and_passed_over_is_one_line(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_type(&p, "measure\n");
    piped_expect(&p, "readings MET: 3 of 3 slots as predicted (continuity only)");
    piped_type(&p, "read A-01 open\n");
    piped_expect(&p, "readings NOT MET: A-01 open");
    piped_type(&p, "seek 1\n");
    piped_expect(&p, "passed over, LIVE: A-01, A-02, B-01");
    piped_type(&p, "rows all\nseek 0\nseek 1\n");
    piped_expect(&p, "passed B-01");
    close(p.in);
    p.in = -1;
    piped_expect_ended(&p, 0);
    piped_finish(&p);
}

// What burned while the show stood burns on while it runs.
static void what_burns_on_is_not_over(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_arm(&p);
    piped_type(&p, "start\n");
    piped_expect(&p, "START counts down");
    piped_type(&p, "\n");
    piped_expect(&p, "fire B-01 long");
    piped_type(&p, "pause\n");
    piped_expect(&p, "CAUTION STILL BURNING");
    piped_type(&p, "resume\n");
    piped_expect(&p, "RESUME");
    piped_type(&p, "\n");
    piped_expect(&p, "REHEARSAL RUNNING");
    assert_null(strstr(p.text, "no longer: CAUTION STILL BURNING"));
    piped_type(&p, "quit\n");
    piped_expect(&p, "quit: makes safe, and leaves");
    piped_type(&p, "\n");
    piped_expect_ended(&p, 0);
    piped_finish(&p);
}

static void alerts_are_told_when_they_begin_and_end(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_type(&p, "key on\n");
    piped_expect(&p, "key ON");
    piped_type(&p, "call-clear J\n");
    piped_expect(&p, "call-clear J");
    piped_type(&p, "arm\n");
    piped_expect(&p, "ARM the rehearsed module");
    piped_type(&p, "\n");
    piped_expect(&p, "REHEARSAL ARMED");
    piped_type(&p, "enter K\n");
    piped_expect(&p, "WARNING IN FIELD 1: K");
    piped_expect(&p, "REHEARSAL ARMED IN FIELD 1");
    piped_type(&p, "enter M\n");
    piped_expect(&p, "now WARNING IN FIELD 2: K");
    piped_type(&p, "alerts\n");
    piped_expect(&p, "for 0 s; lead: ");
    piped_type(&p, " \n"); // one blank makes safe
    piped_expect(&p, "now WARNING KEY ON, IN FIELD 2");
    piped_expect(&p, "REHEARSAL SAFE");
    piped_type(&p, "key off\n");
    piped_expect(&p, "no longer: WARNING KEY ON, IN FIELD 2");
    close(p.in);
    p.in = -1;
    piped_expect_ended(&p, 0);
    piped_finish(&p);
}

static void boards_and_keys_are_lines(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_type(&p, "rails\n");
    piped_expect(&p, "B plugged  1 unread");
    piped_type(&p, "guards\n");
    piped_expect(&p, "of 5 MET. NEXT:");
    piped_type(&p, "score\n");
    piped_expect(&p, "now 0:00.0");
    assert_null(strstr(p.text, "> \n\n")); // what is past has no rows yet
    piped_type(&p, "F7\n");
    piped_expect(&p, "> ");
    piped_type(&p, "rows all\nhelp\n");
    piped_expect(&p, "A line is an action");
    piped_expect(&p, "everywhere; arm, start");
    piped_expect(&p, "call-clear [WHO]");
    piped_type(&p, "k\n");
    piped_expect(&p, "key on");
    piped_type(&p, "help misfire by\n");
    piped_expect(&p, "help on “misfire by”");
    piped_expect(&p, "report SLOT: report a misfire by slot");
    piped_type(&p, "F7\nPageDown\n");
    piped_expect(&p, "> ");
    piped_type(&p, "F2\n/\n");
    piped_expect(&p, "(. leaves it)");
    piped_type(&p, "first bell\n");
    piped_expect(&p, "A-01");
    assert_null(strstr(p.text, "\n\n\n")); // nor is there more than one blank row anywhere
    piped_type(&p, "\\ flame\n");
    piped_expect(&p, "FILTER flame only");
    piped_type(&p, "\\\n\n"); // all again
    piped_type(&p, "/ burns on\n");
    piped_expect(&p, "B-01");
    piped_type(&p, "guards\n/ x\n");
    piped_expect(&p, "no key / on this board");
    piped_type(&p, "I\n");
    piped_expect(&p, "HOLD BACK which?");
    piped_type(&p, "a\n");
    piped_expect(&p, "inhibit aerial");
    piped_type(&p, "allow aerial\n");
    piped_expect(&p, "FIRE AGAIN");
    piped_type(&p, "\n");
    piped_expect(&p, "allow aerial");
    close(p.in);
    p.in = -1;
    piped_expect_ended(&p, 0);
    piped_finish(&p);
}

// Every action is understood by its bare name: done, asked for what it needs, or refused by the state, never unknown.
static void every_action_is_a_line(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    for (int act = 0; act < SM_ACT_COUNT; act++) {
        const sm_action_row *row = sm_action_row_of((sm_act)act);
        char text[96];
        if (act == SM_ACT_QUIT || row->drill_only)
            continue;
        snprintf(text, sizeof text, "%s\n.\n", row->name); // what is asked is left
        piped_type(&p, text);
        snprintf(text, sizeof text, "note seen-%d\n", act);
        piped_type(&p, text);
        snprintf(text, sizeof text, "note seen-%d", act);
        piped_expect(&p, text);
    }
    assert_null(strstr(p.text, "no action"));
    size_t count;
    const sm_key_row *keys = sm_keymap(&count);
    for (size_t i = 0; i < count; i++) {
        char name[16], text[96];
        if (keys[i].key == 'q' || keys[i].key == '.' || keys[i].key == SM_KEY_REDRAW)
            continue;
        snprintf(text, sizeof text, "%s\n.\n.\n",
                 keys[i].key == SM_KEY_STOP ? " " : sm_key_name(keys[i].key, name));
        if (keys[i].act == SM_ACT_PROPOSE) // there a full stop is a step of time
            snprintf(text, sizeof text, "*\nEsc\n");
        piped_type(&p, text);
        snprintf(text, sizeof text, "note key-%zu\n", i);
        piped_type(&p, text);
        snprintf(text, sizeof text, "note key-%zu", i);
        piped_expect(&p, text);
    }
    assert_null(strstr(p.text, "no key "));
    close(p.in);
    p.in = -1;
    piped_expect_ended(&p, 0);
    piped_finish(&p);
}

// ---- never hanging, never going on by itself -----------------------------------------------------------------

static void the_end_of_the_input_makes_safe_and_leaves(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_arm(&p);
    close(p.in);
    p.in = -1;
    piped_expect_ended(&p, 0);
    piped_expect_log(&p, (const char *const[]){"state,,armed", "state,,safe", NULL});
    piped_finish(&p);
}

static void closed_descriptors_end_it(void **state) {
    (void)state;
    static piped p;
    piped_start_with(&p, STDIN_CLOSED);
    piped_expect_ended(&p, 0);
    piped_finish(&p);
    piped_start_with(&p, STDOUT_CLOSED);
    piped_expect_ended(&p, 2);
    piped_finish(&p);
}

// A reader that goes away ends it, safe; one that only stops reading holds no stop.
static void a_reader_that_goes_away_ends_it(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_arm(&p);
    close(p.out);
    p.out = open("/dev/null", O_RDONLY);
    piped_type(&p, "note x\n");
    piped_expect_ended(&p, 2);
    piped_expect_log(&p, (const char *const[]){"state,,armed", "state,,safe", NULL});
    piped_finish(&p);
}

static void a_stop_is_done_where_nobody_reads(void **state) {
    (void)state;
    static piped p;
    piped_begin(&p);
    piped_arm(&p);
    for (int i = 0; i < 60; i++) // far more than a pipe holds
        piped_type(&p, "help\n");
    piped_type(&p, "safe\n");
    for (int i = 0; i < PATIENCE_MS / 20; i++) {
        char *log = short_show_read(&p.show, "log.out");
        bool safe = strstr(log, "console,safe") != NULL;
        free(log);
        if (safe)
            break;
        usleep(20000);
    }
    piped_expect_log(&p, (const char *const[]){"state,,armed", "console,safe", "state,,safe", NULL});
    close(p.in);
    p.in = -1;
    (void)piped_ended(&p, false);
    piped_finish(&p);
}

// ---- on a terminal ---------------------------------------------------------------------------------------

static void begin_on_terminal(console_rig *r) {
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(r->program, sizeof r->program, "%s/slowmatch", build ? build : "build");
    short_show_make(&r->show, "12 s");
    snprintf(r->log, sizeof r->log, "%s", short_show_path(&r->show, "log.out"));
    const char *argv[] = {r->program, r->show.folder, "--lines", "--silent", "--log", r->log, NULL};
    r->p = pty_start(80, 24, argv, (const char *const[]){"TERM=dumb", NULL});
    pty_expect(r->p, "Is live product rigged within earshot?");
    pty_type(r->p, "y\n");
    pty_expect(r->p, "tones off");
}

static void ctrl_c_makes_safe_and_asks(void **state) {
    (void)state;
    console_rig r;
    begin_on_terminal(&r);
    pty_type(r.p, "call-clear J\nkey on\narm\n");
    pty_expect(r.p, "ARM the rehearsed module");
    pty_type(r.p, "\n");
    pty_expect(r.p, "REHEARSAL ARMED");
    pty_type(r.p, "note half a li\003");
    pty_expect(r.p, "quit: makes safe, and leaves");
    char *screen = pty_text(r.p);
    assert_non_null(strstr(screen, "\nquit: makes safe")); // in a line of its own,
    assert_non_null(strstr(screen, "state safe"));
    assert_true(strstr(screen, "state safe") < strstr(screen, "\nquit: makes safe")); // behind what was done
    free(screen);
    pty_type(r.p, ".\n");
    pty_expect(r.p, "left: quit was not done");
    pty_type(r.p, "\003");
    pty_expect(r.p, "REHEARSAL SAFE key ON");
    pty_type(r.p, "\n");
    int status = pty_expect_end(r.p);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) == 0);
    console_expect_log(&r, (const char *const[]){"state,,armed", "console,safe", "state,,safe", NULL});
    char *log = short_show_read(&r.show, "log.out");
    assert_null(strstr(log, "half a li"));
    free(log);
    console_end(&r);
}

static void a_second_ctrl_c_leaves(void **state) {
    (void)state;
    console_rig r;
    begin_on_terminal(&r);
    pty_type(r.p, "\003");
    pty_expect(r.p, "quit: makes safe, and leaves");
    pty_type(r.p, "\003");
    int status = pty_expect_end(r.p);
    assert_true(WIFSIGNALED(status) && WTERMSIG(status) == SIGINT);
    console_end(&r);
}

static void a_terminal_that_is_closed_ends_it(void **state) {
    (void)state;
    console_rig r;
    begin_on_terminal(&r);
    pty_type(r.p, "call-clear J\nkey on\narm\n");
    pty_expect(r.p, "ARM the rehearsed module");
    pty_type(r.p, "\n");
    pty_expect(r.p, "REHEARSAL ARMED");
    (void)pty_hang_up(r.p);
    console_expect_log(&r, (const char *const[]){"state,,armed", "state,,safe", NULL});
    console_end(&r);
}

// ---- a drill ----------------------------------------------------------------------------------------------

static void a_drill_is_taken_to_its_debrief(void **state) {
    (void)state;
    const char *build = getenv("SLOWMATCH_BUILD");
    char program[512];
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    pty *p = pty_start(
        120, 60,
        (const char *[]){program, "drill", "demo-shows/lantern-quay", "1", "--lines", "--silent", NULL},
        (const char *const[]){"TERM=dumb", NULL});
    pty_expect(p, "First arming, as lead");
    pty_type(p, "y\n");
    pty_expect(p, "DRILL hint: ");
    pty_expect(p, "Barge here, I am off it");
    pty_type(p, "quit\n");
    pty_expect(p, "END THE DRILL");
    pty_type(p, "\n");
    pty_expect(p, "1. What was meant to happen?");
    pty_type(p, "arming\n");
    pty_expect(p, "answer 2 of 4:");
    pty_type(p, "calls\n");
    pty_expect(p, "answer 3 of 4:");
    pty_type(p, "\n");
    pty_expect(p, "answer 4 of 4:");
    pty_type(p, "wait\n");
    pty_expect(p, "Practice on a simulator");
    pty_type(p, "quit\n");
    pty_expect(p, "quit: makes safe");
    pty_type(p, "\n");
    int status = pty_expect_end(p);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), 1); // the mark was not reached
    pty_destroy(p);
}

int main(int argc, char **argv) {
    (void)argc;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_whole_rehearsal_goes_by_lines),
        cmocka_unit_test(the_next_step_is_never_of_before),
        cmocka_unit_test(the_first_line_is_done_also_where_it_is_no_answer),
        cmocka_unit_test(a_question_takes_no_other_line_but_a_stop),
        cmocka_unit_test(what_is_wrong_is_said_and_asked_again),
        cmocka_unit_test(alerts_are_told_when_they_begin_and_end),
        cmocka_unit_test(what_was_read_and_passed_over_is_one_line),
        cmocka_unit_test(what_burns_on_is_not_over),
        cmocka_unit_test(boards_and_keys_are_lines),
        cmocka_unit_test(every_action_is_a_line),
        cmocka_unit_test(the_end_of_the_input_makes_safe_and_leaves),
        cmocka_unit_test(closed_descriptors_end_it),
        cmocka_unit_test(a_reader_that_goes_away_ends_it),
        cmocka_unit_test(a_stop_is_done_where_nobody_reads),
        cmocka_unit_test(ctrl_c_makes_safe_and_asks),
        cmocka_unit_test(a_second_ctrl_c_leaves),
        cmocka_unit_test(a_terminal_that_is_closed_ends_it),
        cmocka_unit_test(a_drill_is_taken_to_its_debrief),
    };
    return at_once_run("the console as lines", tests, sizeof tests / sizeof tests[0], 6, argv);
}

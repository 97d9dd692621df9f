// SPDX-License-Identifier: GPL-3.0-or-later
// The console as lines: through pipes, and on a terminal on which no cursor moves.
#include "console/keymap.h"
#include "support/console_rig.h"

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

#define PATIENCE_MS 20000 // that only a hanging program meets

// The program between two pipes.
typedef struct piped {
    short_show show;
    char program[512], log[384];
    pid_t pid;
    int in, out; // -1: closed
    char text[256 * 1024];
    size_t length, read_to; // what was expected stands before it
} piped;

typedef enum closed { NOTHING_CLOSED, STDIN_CLOSED, STDOUT_CLOSED } closed;

static void start_with(piped *p, closed which) {
    const char *build = getenv("SLOWMATCH_BUILD");
    int in[2], out[2];
    memset(p, 0, sizeof *p);
    snprintf(p->program, sizeof p->program, "%s/slowmatch", build ? build : "build");
    short_show_make(&p->show, "12 s");
    snprintf(p->log, sizeof p->log, "%s", short_show_path(&p->show, "log.out"));
    char book[384];
    snprintf(book, sizeof book, "%s", short_show_path(&p->show, "book.db"));
    char rehearse[] = "rehearse", lines[] = "--lines", silent[] = "--silent", log[] = "--log",
         logbook[] = "--logbook";
    char *argv[] = {p->program, rehearse, p->show.folder, lines, silent, log, p->log, logbook, book, NULL};
    assert_int_equal(pipe2(in, O_CLOEXEC), 0);
    assert_int_equal(pipe2(out, O_CLOEXEC), 0);
    p->pid = fork();
    assert_true(p->pid >= 0);
    if (p->pid == 0) {
        dup2(in[0], STDIN_FILENO);
        dup2(out[1], STDOUT_FILENO);
        if (which == STDIN_CLOSED)
            close(STDIN_FILENO);
        if (which == STDOUT_CLOSED)
            close(STDOUT_FILENO);
        setenv("TZ", "UTC", 1);
        execv(p->program, argv);
        _exit(127);
    }
    close(in[0]);
    close(out[1]);
    p->in = in[1];
    p->out = out[0];
    signal(SIGPIPE, SIG_IGN);
}

static void start(piped *p) {
    start_with(p, NOTHING_CLOSED);
}

// Reads what comes within MS. False: nothing did, or no more will.
static bool hear(piped *p, int ms) {
    struct pollfd out = {p->out, POLLIN, 0};
    if (poll(&out, 1, ms) <= 0 || p->length + 1 >= sizeof p->text)
        return false;
    ssize_t count = read(p->out, p->text + p->length, sizeof p->text - 1 - p->length);
    if (count > 0)
        p->length += (size_t)count;
    p->text[p->length] = '\0';
    return count > 0;
}

// TEXT comes, behind what was expected before.
static void expect_at(piped *p, const char *text, int line) {
    for (;;) {
        char *found = strstr(p->text + p->read_to, text);
        if (found) {
            p->read_to = (size_t)(found - p->text) + strlen(text);
            return;
        }
        if (!hear(p, PATIENCE_MS)) {
            fprintf(stderr, "line %d: never came: %s\n%s\n", line, text, p->text);
            fail();
        }
    }
}
#define expect(p, text) expect_at(p, text, __LINE__)

static void type(piped *p, const char *text) {
    assert_int_equal(write(p->in, text, strlen(text)), (ssize_t)strlen(text));
}

// The end of the program, within patience; its output is read meanwhile if READS.
static int ended(piped *p, bool reads) {
    int status;
    for (int i = 0; i < PATIENCE_MS / 20; i++) {
        if (waitpid(p->pid, &status, WNOHANG) == p->pid) {
            while (reads && hear(p, 0))
                ;
            return status;
        }
        if (!reads || !hear(p, 20))
            usleep(20000);
    }
    kill(p->pid, SIGKILL);
    waitpid(p->pid, &status, 0);
    fail_msg("the program hangs; it said:\n%s", p->text);
    return -1;
}

static void finish(piped *p) {
    if (p->in >= 0)
        close(p->in);
    close(p->out);
    short_show_remove(&p->show);
}

static void expect_ended(piped *p, int with) {
    int status = ended(p, true);
    assert_true(WIFEXITED(status));
    assert_int_equal(WEXITSTATUS(status), with);
}

// TEXTS stand in the log in this order; NULL at the end.
static void expect_log(piped *p, const char *const *texts) {
    char *log = short_show_read(&p->show, "log.out");
    const char *at = log;
    for (; *texts; texts++) {
        const char *found = strstr(at, *texts);
        if (!found)
            fail_msg("not in the log, or not there: %s\n%s", *texts, log);
        at = found + strlen(*texts);
    }
    free(log);
}

// Up to the answer of the first question.
static void begin(piped *p) {
    start(p);
    expect(p, "REHEARSAL of Short Evening, as lines");
    expect(p, "It has no way to fire anything");
    expect(p, "> ");
    type(p, "n\n");
    expect(p, "tones on");
    expect(p, "REHEARSAL SAFE key OFF");
    expect(p, "NEXT: ");
    expect(p, "> ");
}

static void arm(piped *p) {
    type(p, "call-clear J\n");
    expect(p, "call-clear J");
    type(p, "key on\n");
    expect(p, "REHEARSAL SAFE key ON");
    type(p, "arm\n");
    expect(p, "ARM the rehearsed module");
    expect(p, "> ");
    type(p, "\n");
    expect(p, "state arming");
    expect(p, "state armed");
    expect(p, "REHEARSAL ARMED");
}

// ---- a rehearsal ------------------------------------------------------------------------------------

static void a_whole_rehearsal_goes_by_lines(void **state) {
    (void)state;
    static piped p;
    begin(&p);
    arm(&p);
    expect(&p, "NEXT: [start]");
    type(&p, "start\n");
    expect(&p, "START counts down");
    type(&p, "\n");
    expect(&p, "REHEARSAL RUNNING");
    expect(&p, "fire A-01 fountain");
    expect(&p, "fire B-01 long");
    expect(&p, "state ended");
    expect(&p, "REHEARSAL ENDED STILL ARMED");
    assert_non_null(strstr(p.text, "CAUTION STILL BURNING"));
    type(&p, "safe\n");
    expect(&p, "state safe");
    type(&p, "quit\n");
    expect(&p, "quit: makes safe, and leaves");
    type(&p, "\n");
    expect_ended(&p, 0);
    assert_null(strchr(p.text, '\033'));      // nothing that moves a cursor
    assert_null(strstr(p.text, "set par-1")); // rows of fixtures are not told unless they are asked for
    expect_log(&p,
               (const char *const[]){"console,call-clear", "console,key,,on", "console,arm", "console,start",
                                     "fire,3,A-01", "state,,ended", "console,safe", "console,quit", NULL});
    finish(&p);
}

// What is asked is answered by Enter alone, and nothing that is typed there is done instead; but a stop is.
static void a_question_takes_no_other_line_but_a_stop(void **state) {
    (void)state;
    static piped p;
    begin(&p);
    arm(&p);
    type(&p, "start\n");
    expect(&p, "Enter does it, any other line leaves it.");
    type(&p, "seek 0.5\n");
    expect(&p, "left: start was not done");
    expect(&p, "> ");
    type(&p, "start\n");
    expect(&p, "START counts down");
    type(&p, "safe\n");
    expect(&p, "REHEARSAL SAFE key ON");
    type(&p, "note\n");
    expect(&p, "note TEXT:");
    type(&p, "key off\n");
    expect(&p, "REHEARSAL SAFE key OFF");
    type(&p, "arm\n");
    expect(&p, "guards looks. Any line leaves it.");
    type(&p, ".\n");
    type(&p, "enter\n"); // what is refused is asked for again, with nothing typed
    expect(&p, "enter WHO:");
    type(&p, "K\n");
    expect(&p, "IN FIELD 1");
    type(&p, "enter\n");
    expect(&p, "enter WHO:");
    type(&p, "K\n");
    expect(&p, "K is reported in the field already");
    expect(&p, "enter WHO:");
    type(&p, "M\n");
    expect(&p, "IN FIELD 2");
    type(&p, "quit\n");
    expect(&p, "quit:");
    type(&p, "\n");
    expect_ended(&p, 0);
    char *log = short_show_read(&p.show, "log.out");
    assert_null(strstr(log, "seek"));
    assert_null(strstr(log, "start"));
    assert_null(strstr(log, "note"));
    free(log);
    finish(&p);
}

static void what_is_wrong_is_said_and_asked_again(void **state) {
    (void)state;
    static piped p;
    begin(&p);
    type(&p, "bogus\n");
    expect(&p, "no action 'bogus'");
    type(&p, "wind\n");
    expect(&p, "wind SPEED: (. leaves it)");
    type(&p, "strong\n");
    expect(&p, "strong");
    expect(&p, "wind SPEED:");
    type(&p, ".\n");
    expect(&p, "REHEARSAL SAFE");
    type(&p, "rails\nread\n");
    expect(&p, "(Enter takes A-01 )");
    type(&p, "\n"); // taken, to be gone on from
    expect(&p, "read SLOT VALUE: A-01");
    type(&p, "1.9\n");
    expect(&p, "read A-01 1.9 ohm");
    type(&p, "report ?\n"); // nothing has misfired
    expect(&p, "nothing that is known goes on from there");
    type(&p, "plug ?\nunplug ?\n");
    expect(&p, "A B");
    type(&p, "start\n");
    expect(&p, "start refused: not while safe");
    char line[400];
    memset(line, 'x', sizeof line);
    line[sizeof line - 2] = '\n';
    line[sizeof line - 1] = '\0';
    type(&p, line);
    expect(&p, "the line is too long");
    type(&p, "note \033[2Jx\n");
    expect(&p, "note ?[2Jx");
    close(p.in); // the end of the input leaves
    p.in = -1;
    expect_ended(&p, 0);
    assert_null(strchr(p.text, '\033'));
    finish(&p);
}

// ---- what is told ---------------------------------------------------------------------------------------

static void alerts_are_told_when_they_begin_and_end(void **state) {
    (void)state;
    static piped p;
    begin(&p);
    type(&p, "key on\n");
    expect(&p, "key ON");
    type(&p, "call-clear J\n");
    expect(&p, "call-clear J");
    type(&p, "arm\n");
    expect(&p, "ARM the rehearsed module");
    type(&p, "\n");
    expect(&p, "REHEARSAL ARMED");
    type(&p, "enter K\n");
    expect(&p, "WARNING IN FIELD 1: K");
    expect(&p, "REHEARSAL ARMED IN FIELD 1");
    type(&p, "enter M\n");
    expect(&p, "WARNING IN FIELD 2: K");
    type(&p, "alerts\n");
    expect(&p, "for 0 s; lead: ");
    type(&p, " \n"); // one blank makes safe
    expect(&p, "no longer a WARNING: IN FIELD 2");
    expect(&p, "REHEARSAL SAFE");
    close(p.in);
    p.in = -1;
    expect_ended(&p, 0);
    finish(&p);
}

static void boards_and_keys_are_lines(void **state) {
    (void)state;
    static piped p;
    begin(&p);
    type(&p, "rails\n");
    expect(&p, "B plugged  1 unread");
    type(&p, "guards\n");
    expect(&p, "of 5 MET. NEXT:");
    type(&p, "score\n");
    expect(&p, "now 0:00.0");
    assert_null(strstr(p.text, "> \n\n")); // what is past has no rows yet
    type(&p, "F7\n");
    expect(&p, "> ");
    type(&p, "rows all\nhelp\n");
    expect(&p, "A line is an action");
    expect(&p, "everywhere; arm, start");
    expect(&p, "call-clear [WHO]");
    type(&p, "k\n");
    expect(&p, "key on");
    type(&p, "help misfire by\n");
    expect(&p, "help on “misfire by”");
    expect(&p, "report SLOT: report a misfire by slot");
    type(&p, "F7\nPageDown\n");
    expect(&p, "> ");
    type(&p, "F2\n/\n");
    expect(&p, "(. leaves it)");
    type(&p, "first bell\n");
    expect(&p, "A-01");
    type(&p, "I\n");
    expect(&p, "HOLD BACK which?");
    type(&p, "a\n");
    expect(&p, "inhibit aerial");
    type(&p, "allow aerial\n");
    expect(&p, "FIRE AGAIN");
    type(&p, "\n");
    expect(&p, "allow aerial");
    close(p.in);
    p.in = -1;
    expect_ended(&p, 0);
    finish(&p);
}

// Every action is understood by its bare name: done, asked for what it needs, or refused by the state, never unknown.
static void every_action_is_a_line(void **state) {
    (void)state;
    static piped p;
    begin(&p);
    for (int act = 0; act < SM_ACT_COUNT; act++) {
        const sm_action_row *row = sm_action_row_of((sm_act)act);
        char text[96];
        if (act == SM_ACT_QUIT || row->drill_only)
            continue;
        snprintf(text, sizeof text, "%s\n.\n", row->name); // what is asked is left
        type(&p, text);
        snprintf(text, sizeof text, "note seen-%d\n", act);
        type(&p, text);
        snprintf(text, sizeof text, "note seen-%d", act);
        expect(&p, text);
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
        type(&p, text);
        snprintf(text, sizeof text, "note key-%zu\n", i);
        type(&p, text);
        snprintf(text, sizeof text, "note key-%zu", i);
        expect(&p, text);
    }
    assert_null(strstr(p.text, "no key "));
    close(p.in);
    p.in = -1;
    expect_ended(&p, 0);
    finish(&p);
}

// ---- never hanging, never going on by itself -----------------------------------------------------------------

static void the_end_of_the_input_makes_safe_and_leaves(void **state) {
    (void)state;
    static piped p;
    begin(&p);
    arm(&p);
    close(p.in);
    p.in = -1;
    expect_ended(&p, 0);
    expect_log(&p, (const char *const[]){"state,,armed", "state,,safe", NULL});
    finish(&p);
}

static void closed_descriptors_end_it(void **state) {
    (void)state;
    static piped p;
    start_with(&p, STDIN_CLOSED);
    expect_ended(&p, 0);
    finish(&p);
    start_with(&p, STDOUT_CLOSED);
    expect_ended(&p, 2);
    finish(&p);
}

// A reader that goes away ends it, safe; one that only stops reading holds no stop.
static void a_reader_that_goes_away_ends_it(void **state) {
    (void)state;
    static piped p;
    begin(&p);
    arm(&p);
    close(p.out);
    p.out = open("/dev/null", O_RDONLY);
    type(&p, "note x\n");
    expect_ended(&p, 2);
    expect_log(&p, (const char *const[]){"state,,armed", "state,,safe", NULL});
    finish(&p);
}

static void a_stop_is_done_where_nobody_reads(void **state) {
    (void)state;
    static piped p;
    begin(&p);
    arm(&p);
    for (int i = 0; i < 60; i++) // far more than a pipe holds
        type(&p, "help\n");
    type(&p, "safe\n");
    for (int i = 0; i < PATIENCE_MS / 20; i++) {
        char *log = short_show_read(&p.show, "log.out");
        bool safe = strstr(log, "console,safe") != NULL;
        free(log);
        if (safe)
            break;
        usleep(20000);
    }
    expect_log(&p, (const char *const[]){"state,,armed", "console,safe", "state,,safe", NULL});
    close(p.in);
    p.in = -1;
    (void)ended(&p, false);
    finish(&p);
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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_whole_rehearsal_goes_by_lines),
        cmocka_unit_test(a_question_takes_no_other_line_but_a_stop),
        cmocka_unit_test(what_is_wrong_is_said_and_asked_again),
        cmocka_unit_test(alerts_are_told_when_they_begin_and_end),
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
    return cmocka_run_group_tests(tests, NULL, NULL);
}

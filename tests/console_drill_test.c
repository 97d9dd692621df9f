// SPDX-License-Identifier: GPL-3.0-or-later
// A drill in a real terminal: taken by a newcomer who presses the keys that the line names; and with an instructor in a second one.
#include "support/at_once.h"
#include "support/pty.h"

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

typedef struct room {
    char folder[64], program[256], data[128], cache[128], runtime[128];
    const char *environment[4];
} room;

static int enter(void **state) {
    room *r = calloc(1, sizeof *r);
    assert_non_null(r);
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(r->folder, sizeof r->folder, "/tmp/slowmatch-room-XXXXXX");
    assert_non_null(mkdtemp(r->folder));
    snprintf(r->program, sizeof r->program, "%s/slowmatch", build ? build : "build");
    snprintf(r->data, sizeof r->data, "XDG_DATA_HOME=%s", r->folder);
    snprintf(r->cache, sizeof r->cache, "XDG_CACHE_HOME=%s", r->folder);
    snprintf(r->runtime, sizeof r->runtime, "XDG_RUNTIME_DIR=%s", r->folder);
    r->environment[0] = r->data;
    r->environment[1] = r->cache;
    r->environment[2] = r->runtime;
    *state = r;
    return 0;
}

static int leave(void **state) {
    room *r = *state;
    char command[128];
    snprintf(command, sizeof command, "rm -rf %s", r->folder);
    int status = system(command);
    free(r);
    return status;
}

static pty *take(const room *r, const char *drill, const char *crew) {
    const char *argv[] = {r->program, "drill", DEMO, drill, "--silent", crew ? "--crew" : NULL, crew, NULL};
    return pty_start(100, 30, argv, r->environment);
}

// `q` ends the drill; nothing is shown before the four questions were put, the first answered with SAID, the others left empty.
static void end_and_answer(pty *p, const char *said) {
    pty_type(p, "q");
    pty_expect(p, "END THE DRILL: makes safe");
    pty_type(p, "\r");
    pty_expect(p, "1. What was meant to happen?");
    assert_true(pty_is_alternate(p));
    assert_false(pty_shows(p, "of 100"));
    pty_type(p, "\r");
    pty_expect(p, "answer 1 of 4:");
    pty_type(p, said);
    pty_expect(p, said);
    for (int question = 0; question < 4; question++) {
        assert_false(pty_shows(p, "of 100"));
        pty_type(p, "\r");
    }
    pty_expect(p, "Asked before the debrief showed anything:");
}

// Leaves; the same stands on the plain terminal.
static void leave_and_read(pty *p, const char *score, int status) {
    pty_type(p, "q\r");
    assert_int_equal(WEXITSTATUS(pty_expect_end(p)), status);
    assert_false(pty_is_alternate(p));
    assert_true(pty_shows(p, score));
}

// `slowmatch logbook WHAT`, over what was just kept, must say WORD.
static void logbook_says(const room *r, const char *what, const char *word) {
    const char *argv[] = {r->program, "logbook", what, "1", NULL};
    pty *p = pty_start(100, 90, argv, r->environment);
    int status = pty_expect_end(p);
    assert_int_equal(WEXITSTATUS(status), 0);
    pty_expect(p, word);
    pty_destroy(p);
}

static void a_newcomer_follows_the_line(void **state) {
    pty *p = take(*state, "2", "K");
    pty_expect(p, "One bad igniter");
    pty_expect(p, "the audience is early, and someone says"); // the brief
    pty_expect(p, "The drill begins when the question is answered.");
    pty_type(p, "y"); // live product is near: no tones
    pty_expect(p, "[M] Measure all rails");
    pty_type(p, "M\r");
    pty_expect(p, "[U] A-05 reads open. Unplug rail A");
    pty_type(p, "U\025A\r");
    pty_expect(p, "[e] One named person goes in");
    pty_type(p, "eK\r");
    pty_expect(p, "[F] Put A-05 right");
    pty_type(p, "F\025A-05\r");
    pty_expect(p, "[l] Everybody out");
    end_and_answer(p, "mend A-05 from outside first"); // enough for a test
    pty_expect(p, "mend A-05 from outside first");
    pty_type(p, "\033[C"); // step by step: Right
    pty_expect(p, "step 1 of ");
    pty_expect(p, "what happened");
    for (int step = 1; step < 4; step++)
        pty_type(p, "\r");
    pty_expect(p, "step 4 of ");
    pty_type(p, "\033[D");
    pty_expect(p, "step 3 of ");
    pty_type(p, "\033[F");
    pty_expect(p, "Score 40 of 100");
    leave_and_read(p, "Score 40 of 100", 1);
    pty_destroy(p);
    logbook_says(*state, "debrief", "mend A-05 from outside first"); // the answer is in the record
    logbook_says(*state, "debrief", "Score 40 of 100");
    logbook_says(*state, "replay", "none differs");
    logbook_says(*state, "replay", "unplug A");
}

// On the smallest screen, where the first screen has only the brief's beginning: all of it is in the help, row by row.
static void the_brief_can_be_read_on_the_smallest_screen(void **state) {
    const room *r = *state;
    const char *argv[] = {r->program, "drill", DEMO, "6", "--silent", NULL};
    pty *p = pty_start(40, 12, argv, r->environment);
    pty_expect(p, "Live product in earshot?");
    pty_type(p, "n");
    pty_expect(p, "? has the brief");
    pty_type(p, "?");
    pty_expect(p, "Stays lit, as lead");
    pty_expect(p, "the other. One of them matters.");
    pty_type(p, "\033[B\033[B"); // Down
    pty_expect(p, "was called and when.");
    pty_type(p, "qc\025J\r"); // any key leaves; then the clear
    pty_expect(p, "call-clear J");
    pty_type(p, "H"); // the hint stands where it wraps; in the row of the latest action it was cut
    pty_expect(p, "hint: ");
    pty_destroy(p);
}

static void nobody_need_be_named(void **state) {
    pty *p = take(*state, "1", NULL);
    pty_expect(p, "First arming");
    pty_type(p, "n");
    pty_expect(p, "Not answered yet: K, M. Ask each by name");
    pty_type(p, "?"); // the brief again, before the help
    pty_expect(p, "You are the lead: you have the key.");
    pty_type(p, "q\033[17~"); // any key leaves; F6
    pty_expect(p, "nothing has fired yet");
    assert_false(pty_shows(p, "To rehearse again")); // a drill has its own order
    pty_expect(p, "[c] Everyone has answered");
    pty_type(p, "cK\r");
    pty_expect(p, "[k] Key on.");
    pty_type(p, "k");
    pty_expect(p, "[a] Arm, and wait out the tone.");
    // Whoever leaves without answering is asked on the plain terminal.
    pty_type(p, "q\r");
    pty_expect(p, "1. What was meant to happen?");
    pty_type(p, "\rin order\r");
    pty_expect(p, "answer 2 of 4:");
    pty_type(p, "\033[19~"); // F8 makes safe while text is typed, and leaves it
    pty_expect_gone(p, "answer 2 of 4:");
    pty_type(p, "q\r");
    pty_expect(p, "What did you see, and when?");
    pty_expect(p, "what you type here is not kept");
    assert_false(pty_is_alternate(p));
    assert_false(pty_shows(p, "of 100") || pty_shows(p, "meant to happen"));
    pty_type(p, "\r\r\r");
    pty_expect(p, "Score 40 of 100");
    assert_int_equal(WEXITSTATUS(pty_expect_end(p)), 1);
    pty_destroy(p);
}

static void an_instructor_joins_from_a_second_terminal(void **state) {
    const room *r = *state;
    pty *p = take(r, "4", NULL);
    pty_expect(p, "Hold means hold");
    pty_type(p, "y");
    pty_expect(p, "H asks what is next");
    const char *argv[] = {r->program, "drill", DEMO, "--instructor", NULL};
    pty *i = pty_start(100, 30, argv, r->environment);
    pty_expect(i, "REHEARSAL drill \"Hold means hold\"");
    pty_expect(p, "Steps here, I am outside."); // the drill's own last call: the next is the instructor's
    pty_type(i, "call J Look left\r");
    pty_expect(p, "ago: Look left");
    pty_type(p, "k");
    pty_expect(i, "console: key on");
    pty_type(i, "arm\r");
    pty_expect(i, "not yours to do");
    pty_type(i, "NO DRILL\r");
    pty_expect(p, "NO DRILL: a real emergency");
    pty_expect(i, "broken off, without a score");
    assert_false(pty_shows(p, "meant to happen")); // nobody is asked anything now
    leave_and_read(p, "NO DRILL: a real emergency ended it. No score.", 1);
    pty_expect(i, "The trainee's program has ended.");
    assert_int_equal(WEXITSTATUS(pty_expect_end(i)), 0);
    pty_destroy(i);
    pty_destroy(p);
}

// Overruled once the score stands: the debrief on the trainee's screen is drawn anew, with both.
static void a_mark_overruled_after_the_score_redraws_the_debrief(void **state) {
    const room *r = *state;
    pty *p = take(r, "4", "K");
    pty_expect(p, "Hold means hold");
    pty_type(p, "y");
    pty_expect(p, "H asks what is next");
    const char *argv[] = {r->program, "drill", DEMO, "--instructor", NULL};
    pty *i = pty_start(100, 40, argv, r->environment);
    pty_expect(i, "REHEARSAL drill \"Hold means hold\" as lead, taken by K");
    pty_expect(i, "expect hold: pause, waits for gust");
    end_and_answer(p, "hold");
    pty_expect(i, "the drill is over: 0 of 100");
    pty_type(p, "\033[F"); // End: to the score
    pty_expect(p, "Score 0 of 100;");
    pty_type(i, "judge hold yes I saw the hand\r");
    pty_expect(p, "yes, by the instructor: I saw the hand (computed: 0)");
    pty_type(p, "\033[F");
    pty_expect(p, "Score 25 of 100 with the instructor's word (computed: 0)");
    leave_and_read(p, "Score 25 of 100 with the instructor's word (computed: 0)", 1);
    logbook_says(r, "debrief", "yes, by the instructor: I saw the hand (computed: 0)");
    pty_expect_end(i);
    pty_destroy(i);
    pty_destroy(p);
}

int main(int argc, char **argv) {
    (void)argc;
#define IN_ROOM(test) cmocka_unit_test_setup_teardown(test, enter, leave)
    const struct CMUnitTest tests[] = {IN_ROOM(a_newcomer_follows_the_line), IN_ROOM(nobody_need_be_named),
                                       IN_ROOM(the_brief_can_be_read_on_the_smallest_screen),
                                       IN_ROOM(an_instructor_joins_from_a_second_terminal),
                                       IN_ROOM(a_mark_overruled_after_the_score_redraws_the_debrief)};
    return at_once_run("drills on the console", tests, sizeof tests / sizeof tests[0], 5, argv);
}

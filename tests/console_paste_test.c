// SPDX-License-Identifier: GPL-3.0-or-later
// Pasted text is text: no key, no answer, and nothing at all where no line is asked for. The marks around it are those of xterm's
// control sequences, mode 2004, as libvterm sends them.
#include "screen/keys.h"
#include "screen/paste.h"
#include "support/console_rig.h"

#include "slowmatch/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>

#include <cmocka.h>

// What leads from safe to running where it is typed, each answered at once.
#define TO_RUNNING "cK\rka\rb\r"

static void begin(console_rig *r) {
    static const char at_once[] = "[show]\ntitle = Short Evening\nlength = 30\n[limits]\narm-time = 0 s\n";
    console_begin(r);
    console_quit(r);
    pty_destroy(r->p);
    short_show_write(&r->show, "show.ini", at_once);
    const char *argv[] = {r->program, "rehearse", r->show.folder, "--silent", "--log", r->log, NULL};
    r->p = pty_start(80, 24, argv, NULL);
    pty_expect(r->p, "It has no way to fire anything");
}

// Nothing was done but WHAT: rows of the log from the console.
static void expect_done(console_rig *r, const char *what) {
    char *log = short_show_read(&r->show, "log.out");
    sm_text done = {0};
    for (const char *at = strstr(log, ",console,"); at; at = strstr(at + 1, ",console,")) {
        const char *word = at + strlen(",console,");
        sm_text_printf(&done, "%.*s ", (int)strcspn(word, ","), word);
    }
    assert_string_equal(sm_text_get(&done), what);
    sm_text_deinit(&done);
    free(log);
}

static void no_paste_is_a_key(void **state) {
    (void)state;
    console_rig r;
    begin(&r);
    assert_true(pty_marks_pastes(r.p));
    pty_paste(r.p, "y\r" TO_RUNNING); // the first screen asks: it is not answered
    pty_listen(r.p, 200);
    assert_true(pty_shows(r.p, "It has no way to fire anything"));
    pty_type(r.p, "n");
    pty_expect(r.p, "tones on");
    pty_paste(r.p, TO_RUNNING);
    pty_expect(r.p, "pasted text does nothing here");
    pty_paste(r.p, "cK\nka\nb\n\t\033[19~ q\ny\003\032\034"); // nor any that stops or leaves
    pty_type(r.p, "k");
    pty_expect(r.p, "SAFE key ON");
    pty_type(r.p, "cK\r");
    pty_expect(r.p, "clear called by K");
    pty_type(r.p, "a");
    pty_expect(r.p, "ARM the rehearsed module");
    pty_paste(r.p, "\r\n\r"); // no answer to a question
    pty_listen(r.p, 200);
    assert_true(pty_shows(r.p, "ARM the rehearsed module"));
    pty_type(r.p, "\033");
    pty_expect_gone(r.p, "ARM the rehearsed module");
    console_quit(&r);
    expect_done(&r, "key call-clear quit ");
    assert_false(pty_marks_pastes(r.p));
    console_end(&r);
}

static void a_paste_into_a_line_is_its_text(void **state) {
    (void)state;
    console_rig r;
    begin(&r);
    pty_type(r.p, "n");
    pty_expect(r.p, "tones on");
    pty_type(r.p, ":");
    pty_paste(r.p, "\n\001call-clear K\r\nkey\ton\007\rarm\r\r");
    pty_expect(r.p, "call-clear K key on arm");
    pty_listen(r.p, 200);
    pty_type(r.p, "\025note ");
    pty_paste(r.p, "caf\xC3\xA9  \xE2\x80\x93 closed\n");
    pty_expect(r.p, "note caf\xC3\xA9  \xE2\x80\x93 closed");
    pty_type(r.p, "!\r");
    pty_expect_gone(r.p, "Enter do it");
    pty_type(r.p, ":note ");
    char much[400];
    memset(much, 'x', sizeof much - 1);
    much[sizeof much - 1] = '\0';
    pty_paste(r.p, much);
    pty_expect(r.p, "too long, or broken off: nothing of it");
    pty_type(r.p, "\033");
    console_arm(&r);
    pty_type(r.p, ":note two ");
    pty_paste(r.p, "  words"); // typed, a blank more makes safe
    pty_expect(r.p, "note two   words");
    assert_true(pty_shows(r.p, "ARMED START"));
    pty_type(r.p, F8);
    pty_expect(r.p, "REHEARSAL SAFE");
    console_quit(&r);
    console_expect_log(&r, (const char *const[]){"caf\xC3\xA9  \xE2\x80\x93 closed!", NULL});
    expect_done(&r, "note call-clear key arm safe quit ");
    console_end(&r);
}

// A terminal that puts no marks: the keys come in one go, before anybody can have read the question.
static void an_answer_that_came_before_its_question_is_none(void **state) {
    (void)state;
    console_rig r;
    begin(&r);
    pty_type(r.p, "n");
    pty_expect(r.p, "tones on");
    pty_type(r.p, TO_RUNNING);
    pty_expect(r.p, "SAFE key ON");
    pty_listen(r.p, 500);
    console_quit(&r);
    expect_done(&r, "call-clear key quit ");
    console_end(&r);
}

// A paste is as many lines as it has: it cannot lead from safe to running, and what stops in it stops.
static void lines_that_came_before_a_question_answer_nothing(void **state) {
    (void)state;
    console_rig r;
    begin(&r);
    pty_destroy(r.p);
    const char *argv[] = {r.program, r.show.folder, "--lines", "--silent", "--log", r.log, NULL};
    r.p = pty_start(80, 24, argv, (const char *const[]){"TERM=dumb", NULL});
    pty_expect(r.p, "Is live product rigged within earshot?");
    pty_type(r.p, "y\n");
    pty_expect(r.p, "tones off");
    pty_type(r.p, "call-clear J\nkey on\narm\n\nstart\n\n");
    pty_expect(r.p, "ARM the rehearsed module");
    assert_true(pty_shows(r.p, "not taken, it came before the question: start"));
    pty_type(r.p, "\n");
    pty_expect(r.p, "REHEARSAL ARMED");
    pty_type(r.p, "start\nkey off\n\n");
    pty_expect(r.p, "REHEARSAL SAFE key OFF");
    pty_type(r.p, "quit\n");
    pty_expect(r.p, "quit: makes safe, and leaves");
    pty_type(r.p, "\n");
    assert_int_equal(WEXITSTATUS(pty_expect_end(r.p)), 0);
    console_expect_log(&r, (const char *const[]){"console,arm", "state,,armed", "console,key,,off",
                                                 "state,,safe,armed", "console,quit", NULL});
    console_end(&r);
}

// ---- the paste itself ------------------------------------------------------------------------------------

static int take(sm_paste *paste, const char *bytes, int64_t at_us) {
    int key = SM_KEY_NONE;
    for (; *bytes; bytes++)
        key = sm_paste_take(paste, (unsigned char)*bytes, at_us);
    return key;
}

static void the_mark_at_the_end_ends_it_and_nothing_like_it(void **state) {
    (void)state;
    sm_paste paste;
    sm_paste_begin(&paste, 0);
    assert_int_equal(take(&paste, "a\033[20\033[A b", 0), SM_KEY_NONE);
    assert_int_equal(take(&paste, "\033[201~", 0), SM_KEY_PASTED);
    assert_false(paste.under_way || paste.spoilt);
    char text[32] = "";
    for (size_t i = 0; i < paste.count; i++)
        text[i] = (char)paste.text[i];
    assert_string_equal(text, "a[20[A b");
}

// The stop keys must not be lost in a paste whose end was lost.
static void a_paste_without_an_end_lets_stops_through(void **state) {
    (void)state;
    sm_paste paste;
    sm_paste_begin(&paste, 0);
    assert_int_equal(take(&paste, "some text", 0), SM_KEY_NONE);
    assert_int_equal(sm_paste_take(&paste, ' ', SM_US_PER_S / 2), SM_KEY_NONE);
    assert_int_equal(sm_paste_take(&paste, 'x', 2 * SM_US_PER_S), SM_KEY_PASTING);
    assert_int_equal(sm_paste_take(&paste, ' ', 2 * SM_US_PER_S), ' ');
    assert_int_equal(sm_paste_take(&paste, SM_KEY_STOP_TYPING, 2 * SM_US_PER_S), SM_KEY_STOP_TYPING);
    assert_int_equal(sm_paste_take(&paste, SM_KEY_INTERRUPT, 2 * SM_US_PER_S), SM_KEY_INTERRUPT);
    assert_int_equal(sm_paste_take(&paste, SM_KEY_ENTER, 2 * SM_US_PER_S), SM_KEY_PASTING);
    assert_true(paste.under_way);
    assert_int_equal(sm_paste_take(&paste, SM_KEY_ESCAPE, 3 * SM_US_PER_S), SM_KEY_NONE);
    assert_int_equal(sm_paste_take(&paste, SM_KEY_ESCAPE, 3 * SM_US_PER_S), SM_KEY_PASTING);
    assert_false(paste.under_way);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_paste_is_a_key),
        cmocka_unit_test(a_paste_into_a_line_is_its_text),
        cmocka_unit_test(an_answer_that_came_before_its_question_is_none),
        cmocka_unit_test(lines_that_came_before_a_question_answer_nothing),
        cmocka_unit_test(the_mark_at_the_end_ends_it_and_nothing_like_it),
        cmocka_unit_test(a_paste_without_an_end_lets_stops_through),
    };
    return cmocka_run_group_tests_name("console_paste", tests, NULL, NULL);
}

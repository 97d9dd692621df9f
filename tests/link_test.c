// SPDX-License-Identifier: GPL-3.0-or-later
// The instructor's socket: for the user alone, one instructor, garbage changes nothing, either end may die.
#include "support/drill_play.h"

#include "slowmatch/link.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <sys/un.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

typedef struct table {
    sm_show *show;
    sm_drill *drill;
    sm_drill_run *run;
    sm_link *link;
    sm_wall_time now;
    char folder[64], heard[32768];
} table;

static const char drill_text[] =
    "[drill]\ntitle = Test\n[event gust]\nwhen = running + 60 s\ndo = wind 14 m/s\n"
    "[spoken said]\nafter = armed\nwords = Armed.\nmarks = 10\n"
    "[before order]\naction = arm\nneeds = call-clear\nmarks = 10\n";

static void serve(table *t) {
    bool did;
    t->now.us += SM_US_PER_S / 10;
    assert_int_equal(sm_link_serve(t->link, t->run, t->now, &did), SM_OK);
}

static sm_link_guest *join(table *t) {
    char why[SM_LINK_WHY];
    sm_link_guest *guest = NULL;
    assert_int_equal(sm_link_join(1, why, &guest), SM_OK);
    serve(t);
    return guest;
}

// All that GUEST has heard up to now, line by line, in t->heard. False: the other end is gone.
static bool hear(table *t, sm_link_guest *guest) {
    char line[SM_LINK_LINE];
    t->heard[0] = '\0';
    for (;;) {
        sm_link_word word = sm_link_hear(guest, line);
        if (word == SM_LINK_NOTHING || word == SM_LINK_GONE)
            return word == SM_LINK_NOTHING;
        size_t used = strlen(t->heard);
        snprintf(t->heard + used, sizeof t->heard - used, "%s\n", line);
    }
}

static void ask(table *t, sm_link_guest *guest, const char *line) {
    assert_true(sm_link_ask(guest, line));
    serve(t);
    assert_true(hear(t, guest));
}

static int sit_down(void **state) {
    table *t = calloc(1, sizeof *t);
    char why[SM_LINK_WHY];
    assert_non_null(t);
    snprintf(t->folder, sizeof t->folder, "/tmp/slowmatch-link-XXXXXX");
    assert_non_null(mkdtemp(t->folder));
    setenv("XDG_RUNTIME_DIR", t->folder, 1);
    t->show = drill_play_show("demo-shows/lantern-quay");
    t->drill = drill_play_read(t->show, drill_text);
    const sm_drill_options options = {0};
    assert_int_equal(sm_drill_run_create(t->drill, &options, &t->run), SM_OK);
    assert_int_equal(sm_link_listen(why, &t->link), SM_OK);
    *state = t;
    return 0;
}

static int get_up(void **state) {
    table *t = *state;
    char path[128];
    sm_link_close(t->link);
    sm_drill_run_destroy(t->run);
    sm_drill_destroy(t->drill);
    sm_show_destroy(t->show);
    snprintf(path, sizeof path, "%s/slowmatch", t->folder);
    assert_int_equal(rmdir(path), 0); // the socket is gone
    rmdir(t->folder);
    free(t);
    return 0;
}

static void socket_and_folder_are_the_user_s_alone(void **state) {
    const table *t = *state;
    char path[128];
    struct stat found;
    snprintf(path, sizeof path, "%s/slowmatch", t->folder);
    assert_int_equal(stat(path, &found), 0);
    assert_int_equal(found.st_mode & 0777, 0700);
    assert_int_equal(found.st_uid, geteuid());
    snprintf(path, sizeof path, "%s/slowmatch/drill-1.sock", t->folder);
    assert_int_equal(stat(path, &found), 0);
    assert_true(S_ISSOCK(found.st_mode));
    assert_int_equal(found.st_mode & 0777, 0600);
}

static void a_folder_open_to_others_is_refused(void **state) {
    table *t = *state;
    char path[128], why[SM_LINK_WHY];
    snprintf(path, sizeof path, "%s/slowmatch", t->folder);
    assert_int_equal(chmod(path, 0755), 0);
    sm_link *other = NULL;
    assert_int_equal(sm_link_listen(why, &other), SM_UNREADABLE);
    assert_non_null(strstr(why, "must be the user's alone"));
    assert_int_equal(chmod(path, 0700), 0);
    assert_null(other);
}

static void the_instructor_sees_and_acts(void **state) {
    table *t = *state;
    sm_link_guest *guest = join(t);
    assert_true(hear(t, guest));
    assert_non_null(strstr(t->heard, "drill \"Test\""));
    assert_non_null(strstr(t->heard, "REHEARSAL safe, key OFF, clear not called, 0 in the field"));
    ask(t, guest, "state");
    // Whoever signs the record can see that somebody was there who may see what is to come, and judge.
    bool noted = false;
    for (uint32_t i = 0; i < sm_drill_entry_count(t->run); i++)
        noted = noted || strstr(sm_drill_entry_at(t->run, i).target, "an instructor joined");
    assert_true(noted);
    assert_non_null(strstr(t->heard, "event gust: waits for running + 60 s"));
    assert_non_null(strstr(t->heard, "spoken said, after armed: \"Armed.\""));
    ask(t, guest, "trigger gust");
    assert_non_null(strstr(t->heard, "instructor: trigger gust"));
    assert_non_null(strstr(t->heard, "drill: event gust wind 14 m/s"));
    ask(t, guest, "call K Hold, hold, hold.");
    assert_non_null(strstr(t->heard, "instructor: call K Hold, hold, hold."));
    ask(t, guest, "tick said yes");
    assert_non_null(strstr(t->heard, "mark said 10 of 10: said"));
    ask(t, guest, "trigger gust");
    assert_non_null(strstr(t->heard, "refused: it has come already"));
    // What the trainee does.
    const sm_action key = {.act = SM_ACT_KEY_ON, .index = SM_NONE, .target = "on"};
    assert_int_equal(sm_drill_act(t->run, &key, SM_SOURCE_CONSOLE, t->now), SM_OK);
    serve(t);
    assert_true(hear(t, guest));
    assert_non_null(strstr(t->heard, "console: key on"));
    assert_non_null(strstr(t->heard, "key ON"));
    sm_link_leave(guest);
}

static void garbage_changes_nothing(void **state) {
    table *t = *state;
    sm_link_guest *guest = join(t);
    static const char *const lines[] = {"arm",
                                        "key on",
                                        "safe",
                                        "remote 1 arm",
                                        "quit",
                                        "reload",
                                        "",
                                        "\001\002\377",
                                        "trigger",
                                        "trigger nothing",
                                        "call K",
                                        "no drill",
                                        "tick said perhaps"};
    ask(t, guest, "state"); // the first line notes that they joined
    uint32_t before = sm_drill_entry_count(t->run);
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++)
        ask(t, guest, lines[i]);
    for (uint32_t i = before; i < sm_drill_entry_count(t->run); i++)
        assert_int_equal(sm_drill_entry_at(t->run, i).kind.what, SM_LOG_REFUSED);
    assert_false(sm_drill_is_over(t->run));
    sm_facts facts = sm_rehearsal_facts(sm_drill_rehearsal(t->run));
    assert_false(facts.key);
    // Bytes at random, with and without ends of lines, and a line without end.
    uint64_t random = 11;
    char bytes[512];
    int descriptor = sm_link_guest_descriptor(guest);
    for (int round = 0; round < 400; round++) {
        for (size_t i = 0; i < sizeof bytes; i++) {
            bytes[i] = (char)sm_drill_random(&random);
            if (round % 3 == 0 && bytes[i] == '\n')
                bytes[i] = 'x';
        }
        assert_true(send(descriptor, bytes, sizeof bytes, MSG_NOSIGNAL | MSG_DONTWAIT) > 0);
        serve(t);
        assert_true(hear(t, guest));
    }
    assert_true(sm_link_ask(guest, ""));
    serve(t);
    ask(t, guest, "remark still here");
    assert_non_null(strstr(t->heard, "remark still here"));
    sm_link_leave(guest);
}

static void a_second_instructor_is_turned_away(void **state) {
    table *t = *state;
    sm_link_guest *first = join(t), *second = join(t);
    assert_false(hear(t, second));
    assert_string_equal(
        t->heard, "REHEARSAL drill \"Test\" as lead, seed 0. NO DRILL ends it at once; help says what you "
                  "can do.\nrefused: an instructor is there already\n");
    ask(t, first, "remark I stay");
    assert_non_null(strstr(t->heard, "remark I stay"));
    sm_link_leave(second);
    sm_link_leave(first);
    serve(t);
    sm_link_guest *next = join(t); // the seat is free again
    assert_true(hear(t, next));
    assert_non_null(strstr(t->heard, "drill \"Test\""));
    sm_link_leave(next);
}

// Each drill has a socket of its own; who joins one is told which it is.
static void a_second_drill_has_a_socket_of_its_own(void **state) {
    table *t = *state;
    char why[SM_LINK_WHY];
    unsigned numbers[SM_LINK_DRILLS];
    bool did;
    table other = {.drill = t->drill};
    const sm_drill_options options = {.crew = "Kim"};
    assert_int_equal(sm_drill_run_create(other.drill, &options, &other.run), SM_OK);
    assert_int_equal(sm_link_find(numbers), 1);
    assert_int_equal(numbers[0], 1);
    assert_int_equal(sm_link_listen(why, &other.link), SM_OK);
    assert_int_equal(sm_link_number(other.link), 2);
    assert_int_equal(sm_link_find(numbers), 2);
    assert_int_equal(numbers[1], 2);
    for (int i = 0; i < 4; i++) { // who only looked is gone again
        serve(t);
        serve(&other);
    }
    sm_link_guest *guest = NULL;
    assert_int_equal(sm_link_join(2, why, &guest), SM_OK);
    assert_int_equal(sm_link_serve(other.link, other.run, other.now, &did), SM_OK);
    assert_true(hear(&other, guest));
    assert_non_null(strstr(other.heard, "drill \"Test\" as lead, taken by Kim, seed 0"));
    // Without being asked: what is to come, and what is to be said.
    assert_non_null(strstr(other.heard, "\nevent gust: waits for running + 60 s: wind 14 m/s\n"));
    assert_non_null(strstr(other.heard, "\nspoken said, after armed: \"Armed.\" (tick said yes or no)\n"));
    ask(&other, guest, "tick said yes");
    ask(&other, guest, "state");
    assert_non_null(strstr(other.heard, "\nspoken said, after armed: \"Armed.\" (ticked yes)\n"));
    sm_link_leave(guest);
    sm_link_close(t->link); // the first number is free again
    assert_int_equal(sm_link_find(numbers), 1);
    assert_int_equal(numbers[0], 2);
    assert_int_equal(sm_link_listen(why, &t->link), SM_OK);
    assert_int_equal(sm_link_number(t->link), 1);
    sm_link *more[SM_LINK_DRILLS - 2], *too_many = NULL;
    for (size_t i = 0; i < SM_LINK_DRILLS - 2; i++)
        assert_int_equal(sm_link_listen(why, &more[i]), SM_OK);
    assert_int_equal(sm_link_listen(why, &too_many), SM_REFUSED);
    assert_non_null(strstr(why, "16 other drills are being taken"));
    for (size_t i = 0; i < SM_LINK_DRILLS - 2; i++)
        sm_link_close(more[i]);
    sm_link_close(other.link);
    sm_drill_run_destroy(other.run);
}

static void no_drill_ends_it_at_once(void **state) {
    table *t = *state;
    sm_link_guest *guest = join(t);
    ask(t, guest, "NO DRILL");
    assert_true(sm_drill_was_broken_off(t->run));
    assert_non_null(strstr(t->heard, "broken off, without a score"));
    sm_link_leave(guest);
}

static void signs_of_life_come_by_themselves(void **state) {
    table *t = *state;
    sm_link_guest *guest = join(t);
    assert_true(hear(t, guest));
    char line[SM_LINK_LINE];
    for (int i = 0; i < 9; i++)
        serve(t);
    assert_int_equal(sm_link_hear(guest, line), SM_LINK_NOTHING);
    serve(t);
    serve(t);
    assert_int_equal(sm_link_hear(guest, line), SM_LINK_ALIVE);
    sm_link_leave(guest);
}

// A trainee's program that dies is noticed, and its socket does not keep the next one out.
static void a_dead_trainee_is_noticed(void **state) {
    table *t = *state;
    char why[SM_LINK_WHY], line[SM_LINK_LINE];
    sm_link_close(t->link);
    int ready[2];
    assert_int_equal(pipe(ready), 0);
    pid_t child = fork();
    if (child == 0) {
        sm_link *link = NULL;
        bool did;
        sm_result result = sm_link_listen(why, &link);
        if (result != SM_OK || write(ready[1], "", 1) != 1)
            _exit(1);
        while (sm_link_serve(link, t->run, t->now, &did) == SM_OK)
            usleep(1000);
        _exit(1);
    }
    char byte;
    assert_int_equal(read(ready[0], &byte, 1), 1);
    sm_link_guest *guest = NULL;
    assert_int_equal(sm_link_join(1, why, &guest), SM_OK);
    while (sm_link_hear(guest, line) != SM_LINK_SAID)
        usleep(1000);
    int status;
    assert_int_equal(kill(child, SIGKILL), 0);
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFSIGNALED(status));
    sm_link_word word = sm_link_hear(guest, line);
    while (word == SM_LINK_SAID || word == SM_LINK_ALIVE)
        word = sm_link_hear(guest, line);
    assert_int_equal(word, SM_LINK_GONE);
    sm_link_leave(guest);
    assert_int_equal(sm_link_join(1, why, &guest), SM_NOT_FOUND);
    assert_int_equal(sm_link_listen(why, &t->link), SM_OK); // the dead one's socket is taken over
    close(ready[0]);
    close(ready[1]);
}

static void without_a_runtime_folder_there_is_no_link(void **state) {
    table *t = *state;
    char why[SM_LINK_WHY];
    sm_link *link = NULL;
    sm_link_guest *guest = NULL;
    unsetenv("XDG_RUNTIME_DIR");
    assert_int_equal(sm_link_listen(why, &link), SM_NOT_FOUND);
    assert_int_equal(sm_link_join(1, why, &guest), SM_NOT_FOUND);
    setenv("XDG_RUNTIME_DIR", t->folder, 1);
}

int main(void) {
#define AT_TABLE(test) cmocka_unit_test_setup_teardown(test, sit_down, get_up)
    const struct CMUnitTest tests[] = {
        AT_TABLE(socket_and_folder_are_the_user_s_alone),
        AT_TABLE(a_folder_open_to_others_is_refused),
        AT_TABLE(the_instructor_sees_and_acts),
        AT_TABLE(garbage_changes_nothing),
        AT_TABLE(a_second_instructor_is_turned_away),
        AT_TABLE(a_second_drill_has_a_socket_of_its_own),
        AT_TABLE(no_drill_ends_it_at_once),
        AT_TABLE(signs_of_life_come_by_themselves),
        AT_TABLE(a_dead_trainee_is_noticed),
        AT_TABLE(without_a_runtime_folder_there_is_no_link),
    };
    return cmocka_run_group_tests_name("instructor's socket", tests, NULL, NULL);
}

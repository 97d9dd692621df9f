// SPDX-License-Identifier: GPL-3.0-or-later
// A show day with the commands as they are run: rehearse twice, take readings, walk, sign, change a cue, see the names void and only
// the changed item asked again, play again and compare.
#include "support/folder.h"
#include "support/kept.h"
#include "support/ran.h"

#include "slowmatch/walk.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

typedef struct day {
    char folder[64], show[256], book[256];
    sm_text said; // standard output and error of the last command
} day;

static void day_begin(day *d) {
    *d = (day){0};
    kept_begin(d->folder);
    folder_path(d->show, d->folder, "show");
    folder_path(d->book, d->folder, "logbook.db");
}

static void day_end(day *d) {
    sm_text_deinit(&d->said);
    kept_end(d->folder);
}

// slowmatch with ARGUMENTS, in which $SHOW and $BOOK are the day's.
static int run(day *d, const char *arguments) {
    sm_text line = {0};
    sm_text_printf(&line, "SHOW='%s' BOOK='%s'; $S %s", d->show, d->book, arguments);
    const int status = ran_line(".", sm_text_get(&line), &d->said);
    sm_text_deinit(&line);
    return status;
}

static void assert_says(const day *d, const char *part) {
    ran_expect(&d->said, part);
}

// A table of answers that leaves nothing open, as a phone would bring it back.
static void write_answers(const day *d) {
    sm_show *show = folder_load(d->show);
    sm_walk_list *list = NULL;
    sm_text table = {0};
    assert_int_equal(sm_walk_list_create(show, &(sm_walk_hash){""}, &list), SM_OK);
    sm_text_printf(&table, "item,answer,value,note,by\n");
    for (uint32_t i = 0; i < list->count; i++)
        sm_text_printf(&table, "%s,%s,%s,%s,K\n", list->items[i].id, list->items[i].expect,
                       list->items[i].measured ? "900" : "",
                       list->items[i].kind == SM_WALK_READINGS ? "read on paper" : "");
    folder_write(d->folder, "back.csv", table.bytes);
    sm_text_deinit(&table);
    sm_walk_list_destroy(list);
    sm_show_destroy(show);
}

static void a_show_day(void **state) {
    (void)state;
    day d;
    day_begin(&d);
    assert_int_equal(run(&d, "$SHOW --headless --fast --logbook $BOOK"), 0);
    assert_int_equal(run(&d, "$SHOW --headless --fast --logbook $BOOK"), 0);
    assert_int_equal(run(&d, "logbook compare 1 2 --logbook $BOOK"), 0);
    assert_says(&d, "nothing differs but lateness");
    folder_write(d.show, "readings.csv", "rail,slot,reading,when,by\nA,1,2.90,2026-07-04T18:00Z,K\n");

    assert_int_equal(run(&d, "walk $SHOW --logbook $BOOK"), 1);
    assert_says(&d, "REHEARSAL  NO-GO, ");
    assert_int_equal(run(&d, "walk $SHOW --logbook $BOOK --sign K"), 1);
    assert_says(&d, "not signed by K: NO-GO stands");
    write_answers(&d);
    assert_int_equal(run(&d, "walk $SHOW --logbook $BOOK --from $(dirname $SHOW)/back.csv"), 0);
    assert_says(&d,
                "No open hold is recorded. The decision belongs to the crew lead and the licensed operator.");
    assert_int_equal(run(&d, "walk $SHOW --logbook $BOOK --sign K"), 0);
    assert_says(&d, "1 of 2 names stand");
    assert_int_equal(run(&d, "walk $SHOW --logbook $BOOK --sign M"), 0);
    assert_says(&d, "2 of 2 names stand");

    folder_edit(d.show, "cues.csv", "8,A-04,comet", "8,A-04,fountain");
    assert_int_equal(run(&d, "walk $SHOW --logbook $BOOK"), 1);
    assert_says(&d, "NO-GO, 1 reason:\n   1. slots:A: changed since it was answered\n");
    assert_says(&d, "VOID: the show changed");
    assert_says(&d, "0 of 2 names stand");
    folder_edit(d.show, "cues.csv", "8,A-04,fountain", "8,A-04,comet"); // put back: void names stay so
    assert_int_equal(run(&d, "walk $SHOW --logbook $BOOK"), 0);
    assert_says(&d, "VOID: the show changed");
    assert_says(&d, "0 of 2 names stand");
    folder_edit(d.show, "cues.csv", "8,A-04,comet", "8,A-04,fountain");

    assert_int_equal(run(&d, "$SHOW --headless --fast --logbook $BOOK"), 0);
    assert_int_equal(run(&d, "logbook replay 2 --logbook $BOOK"), 0);
    assert_says(&d, "none differs");
    assert_int_equal(run(&d, "logbook compare 2 3 --logbook $BOOK"), 0);
    assert_says(&d, "cues.csv");
    assert_int_equal(run(&d, "logbook readings $SHOW --logbook $BOOK"), 0);
    assert_says(&d, "2026-07-04T18:00Z");
    assert_int_equal(run(&d, "logbook check --logbook $BOOK"), 0);
    kept_exec(d.book, "UPDATE row SET detail = 'another' WHERE what = 'fire' AND rehearsal = 1");
    assert_int_equal(run(&d, "logbook replay 1 --logbook $BOOK"), 1);
    assert_says(&d, "then it differs");
    day_end(&d);
}

static void what_is_wrong_is_said_in_a_line(void **state) {
    (void)state;
    day d;
    day_begin(&d);
    assert_int_equal(run(&d, "logbook --logbook $BOOK"), 2);
    assert_says(&d, "no logbook there: No such file or directory\n");
    assert_int_equal(run(&d, "logbook replay --logbook $BOOK"), 2);
    assert_says(&d, "write slowmatch logbook replay N\n");
    assert_int_equal(run(&d, "logbook lst --logbook $BOOK"), 2);
    assert_says(&d, "no logbook lst; did you mean list\n");
    folder_write(d.folder, "back.csv", "item,answer\ntold,perhaps\nnobody,yes\n");
    assert_int_equal(run(&d, "walk $SHOW --logbook $BOOK --from $(dirname $SHOW)/back.csv"), 2);
    assert_says(&d, "back.csv:2:6: error: \"perhaps\" is no answer; write yes, no, na or later [answers]\n");
    assert_says(&d, "back.csv:3:1: error: no item \"nobody\" on this walk");
    folder_write(d.folder, "file", "");
    assert_int_equal(run(&d, "$SHOW --headless --fast --logbook $(dirname $BOOK)/file/logbook.db"), 0);
    assert_says(&d, "not being kept in the logbook: ");
    assert_says(&d, "kept aside in ");
    day_end(&d);
}

static void the_paper_has_every_item_and_no_promise(void **state) {
    (void)state;
    day d;
    day_begin(&d);
    assert_int_equal(run(&d, "walk $SHOW --print --logbook $BOOK"), 2); // named, and not there
    assert_int_equal(run(&d, "logbook import /dev/null --logbook $BOOK"), 2);
    assert_int_equal(run(&d, "walk $SHOW --print --logbook $BOOK"), 1);
    assert_says(&d, "REHEARSAL  walk of Small Show");
    assert_says(&d, "Place 2 of 4: wall (x 4 m, y 20 m), 11 m from hut");
    assert_says(&d, "[ ] unit:jet-1  HOLD");
    assert_says(&d, "switches 1 to 9 101000000");
    assert_says(&d, "Two different people. A name is a record, not a permission.");
    assert_null(strstr(d.said.bytes, "OK to"));
    assert_int_equal(run(&d, "walk $SHOW --json --logbook $BOOK"), 1);
    assert_says(&d, "{\"item\": \"told\", ");
    assert_says(&d, "\"nogo\": true, \"names\": 0}\n");
    day_end(&d);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_show_day),
        cmocka_unit_test(what_is_wrong_is_said_in_a_line),
        cmocka_unit_test(the_paper_has_every_item_and_no_promise),
    };
    return cmocka_run_group_tests_name("commands walk and logbook", tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// slowmatch paper as it is called: which file it writes and which it leaves alone, the words, single sheets, and what a rehearsal left.
#include "support/folder.h"
#include "support/paper_text.h"
#include "support/ran.h"

#include "slowmatch/paper.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

typedef struct desk {
    char folder[64];
    sm_text said;
} desk;

static void desk_begin(desk *d) {
    *d = (desk){0};
    folder_make(d->folder);
}

static void desk_end(desk *d) {
    sm_text_deinit(&d->said);
    folder_remove(d->folder);
}

// slowmatch with ARGUMENTS in the desk's folder; $DEMO is the demo show.
static int run(desk *d, const char *arguments) {
    char line[512];
    snprintf(line, sizeof line, "DEMO=$DEMOS/lantern-quay; $S %s", arguments);
    return ran_line(d->folder, line, &d->said);
}

static char *read_file(const desk *d, const char *name) {
    char path[256], *bytes = NULL;
    size_t length;
    assert_int_equal(sm_file_read(folder_path(path, d->folder, name), &bytes, &length), SM_OK);
    return bytes;
}

static bool says(const desk *d, const char *part) {
    return strstr(sm_text_get(&d->said), part) != NULL;
}

static void only_paper_is_written_over(void **state) {
    (void)state;
    desk d;
    desk_begin(&d);
    assert_int_equal(run(&d, "paper $DEMO"), 0);
    assert_int_equal(run(&d, "paper $DEMO"), 0); // its own file
    char *html = read_file(&d, "lantern-quay.html");
    assert_true(sm_paper_is_own(html, 400));
    free(html);
    folder_write(d.folder, "mine.html", "<!DOCTYPE html><p>mine");
    folder_write(d.folder, "empty.html", "");
    assert_int_equal(run(&d, "paper $DEMO --out mine.html"), 2);
    assert_true(says(&d, "mine.html was not written by slowmatch"));
    assert_int_equal(run(&d, "paper $DEMO --out empty.html"), 2);
    assert_int_equal(run(&d, "paper $DEMO --out no-such-folder/x.html"), 2);
    assert_int_equal(run(&d, "paper $DEMO --out ."), 2);
    char *mine = read_file(&d, "mine.html");
    assert_string_equal(mine, "<!DOCTYPE html><p>mine");
    free(mine);
    assert_int_equal(run(&d, "paper $DEMO --out -"), 0);
    assert_true(strncmp(d.said.bytes, "<!DOCTYPE html>", 15) == 0);
    desk_end(&d);
}

static void sheets_can_be_chosen(void **state) {
    (void)state;
    desk d;
    desk_begin(&d);
    assert_int_equal(run(&d, "paper $DEMO --sheets LOAD,line-line-jets --out -"), 0);
    size_t sections = 0;
    for (const char *at = paper_text_tag(d.said.bytes, "section"); at; at = paper_text_tag(at, "section"))
        sections++;
    assert_int_equal(sections, 6); // LOAD A, B, C on one page, D on two, one LINE
    assert_int_equal(run(&d, "paper $DEMO --sheets AFTER,CARD --out part.html"), 0);
    assert_true(says(&d, "the words of CARD: ")); // of a sheet that is in the file
    assert_int_equal(run(&d, "paper $DEMO --sheets LAOD"), 2);
    assert_true(says(&d, "no sheet 'LAOD'"));
    assert_int_equal(run(&d, "paper $DEMO --sheets LOAD-E"), 2);
    assert_int_equal(run(&d, "paper"), 2);
    desk_end(&d);
}

// What the console warns of stands on CARD as slowmatch(1) has it ("Warning: WHEN. To do (WHO): DO.").
static void the_card_has_every_warning(void **state) {
    (void)state;
    desk d;
    desk_begin(&d);
    assert_int_equal(run(&d, "paper $DEMO --sheets CARD --out -"), 0);
    sm_text card = paper_text_of(d.said.bytes, d.said.length), flat = {0};
    for (const char *at = sm_text_get(&card); *at; at++)
        if (!strchr(" \n", *at) || !strchr(" \n", at[1]))
            sm_text_append(&flat, *at == '\n' ? " " : at, 1);
    char *page = NULL;
    size_t length, count = 0;
    assert_int_equal(sm_file_read("man/slowmatch.1", &page, &length), SM_OK);
    for (char *at = strstr(page, "\nWarning: "); at; at = strstr(at, "\nWarning: "), count++) {
        char *when = at + strlen("\nWarning: "), *to_do = strstr(when, ". To do ("),
             *rest = strstr(to_do, "): ");
        at = strchr(when, '\n');
        *to_do = at[-1] = '\0';
        if (!strstr(sm_text_get(&flat), when) || !strstr(sm_text_get(&flat), rest + strlen("): ")))
            fail_msg("CARD does not say: %s: %s", when, rest);
    }
    assert_true(count > 10);
    sm_text_deinit(&flat);
    sm_text_deinit(&card);
    free(page);
    desk_end(&d);
}

// The words that are told are those on the sheets, and those on LIST.
static void words_are_told_as_they_are_printed(void **state) {
    (void)state;
    desk d;
    desk_begin(&d);
    assert_int_equal(run(&d, "paper $DEMO"), 0);
    char *html = read_file(&d, "lantern-quay.html");
    assert_int_equal(run(&d, "paper $DEMO --json"), 0);
    unsigned sheets = 0;
    for (const char *at = d.said.bytes; at && *at == '{'; at = strchr(at, '\n') + 1, sheets++) {
        char name[64], words[64], wanted[128];
        const char *told = strstr(at, "\"words\": \"");
        assert_int_equal(sscanf(at, "{\"sheet\": \"%63[^\"]", name), 1);
        assert_int_equal(sscanf(told, "\"words\": \"%63[^\"]", words), 1);
        snprintf(wanted, sizeof wanted, "<p class=w>%s<", words);
        assert_non_null(strstr(html, wanted));
        snprintf(wanted, sizeof wanted, "<p class=b>%s<", words);
        assert_true((strstr(html, wanted) != NULL) == (strcmp(name, "LIST") != 0));
    }
    assert_true(sheets == 18);
    assert_int_equal(run(&d, "paper $DEMO --words --sheets ARM"), 0);
    assert_true(strncmp(d.said.bytes, "ARM ", 4) == 0);
    free(html);
    desk_end(&d);
}

// ---- after a rehearsal --------------------------------------------------------------------

// Which of the three columns of AFTER has the mark in SLOT's row: 0 fired, 1 misfired, 2 not fired. The row's last cell goes to LAST.
static int fate_of(const char *html, const char *slot, sm_text *last) {
    char wanted[64];
    snprintf(wanted, sizeof wanted, "<th scope=row><p class=n>%s<td>", slot);
    const char *row = strstr(html, wanted);
    if (!row)
        fail_msg("%s stands nowhere", slot);
    const char *cell = paper_text_tag(row, "td"), *end = paper_text_tag(row, "tr");
    int fate = -1;
    for (int i = 0; i < 3; i++) {
        cell = paper_text_tag(cell, "td");
        const char *mark = strstr(cell, "<p class=b>X");
        if (mark && mark < paper_text_tag(cell, "td"))
            fate = fate < 0 ? i : 9;
    }
    cell = paper_text_tag(cell, "td");
    *last = paper_text_of(cell, end ? (size_t)(end - cell) : strcspn(cell, "/"));
    return fate;
}

static const char script[] = "0.2 inhibit B-03\n"
                             "0.3 call-clear J\n"
                             "0.4 key on\n"
                             "0.6 arm\n"
                             "5 start\n"
                             "@0:01 read A-05 open\n"
                             "@0:01 read A-07 open\n"
                             "@0:40 report A-05\n"
                             "@1:00 safe\n";

static void a_rehearsal_fills_after(void **state) {
    (void)state;
    desk d;
    sm_text last = {0};
    desk_begin(&d);
    folder_write(d.folder, "script", script);
    assert_int_equal(run(&d, "paper $DEMO --after --logbook book.db --out after.html"), 2); // no logbook yet
    assert_int_equal(run(&d, "$DEMO --headless --fast --script script --logbook book.db"), 0);
    assert_int_equal(run(&d, "$DEMO --headless --fast --logbook book.db"), 0);
    assert_int_equal(run(&d, "paper $DEMO --after 7 --logbook book.db"), 2);
    assert_true(says(&d, "rehearsal 7"));
    assert_int_equal(run(&d, "paper $DEMO --after 1 --logbook book.db --sheets AFTER --out after.html"), 0);
    char *html = read_file(&d, "after.html");
    assert_int_equal(fate_of(html, "A-01", &last), 0);
    sm_text_deinit(&last);
    assert_int_equal(fate_of(html, "A-05", &last), 1);
    assert_non_null(strstr(last.bytes, "LIVE, reported"));
    sm_text_deinit(&last);
    assert_int_equal(fate_of(html, "A-07", &last), 1);
    assert_non_null(strstr(last.bytes, "LIVE, NOT REPORTED"));
    sm_text_deinit(&last);
    assert_int_equal(fate_of(html, "B-03", &last), 2);
    assert_non_null(strstr(last.bytes, "held back"));
    sm_text_deinit(&last);
    assert_int_equal(fate_of(html, "A-11", &last), 2); // due at 1:28, made safe before
    sm_text_deinit(&last);
    free(html);
    assert_int_equal(run(&d, "$DEMO --headless --fast --logbook unread.db"), 0);
    assert_int_equal(run(&d, "paper $DEMO --after --logbook unread.db --sheets OHMS --out unread.html"), 0);
    html = read_file(&d, "unread.html");
    assert_non_null(strstr(html, "The logbook has no reading of this module"));
    free(html);
    // Without a number the newest, in which all fired.
    assert_int_equal(run(&d, "paper $DEMO --after --logbook book.db --out after.html"), 0);
    html = read_file(&d, "after.html");
    assert_int_equal(fate_of(html, "A-11", &last), 0);
    sm_text_deinit(&last);
    assert_non_null(strstr(html, "A-05<td class=c><p>5<td class=c><p>4.54 to 5.81<td><p>open")); // OHMS
    free(html);
    desk_end(&d);
}

// The words of SHEET as they are told.
static void words_of(desk *d, const char *sheet, char words[64]) {
    char call[96];
    snprintf(call, sizeof call, "paper $DEMO --json --sheets %s", sheet);
    assert_int_equal(run(d, call), 0);
    assert_int_equal(sscanf(strstr(d->said.bytes, "\"words\": "), "\"words\": \"%63[^\"]", words), 1);
}

static void a_tick_asks_for_the_words_and_refuses_others(void **state) {
    (void)state;
    desk d;
    char words[64], others[64];
    sm_text lines = {0};
    desk_begin(&d);
    words_of(&d, "LOAD-A", words);
    words_of(&d, "LOAD-B", others);
    sm_text_printf(&lines,
                   "0 tick paper LOAD-A %s\n0.1 tick paper LOAD-A %s\n0.2 tick paper:LOAD-A yes %s\n0.3 tick "
                   "paper NONE a b c\n",
                   others, words, others);
    folder_write(d.folder, "script", lines.bytes);
    assert_int_equal(run(&d, "$DEMO --headless --fast --script script --logbook book.db"), 0);
    const char *at =
        strstr(d.said.bytes, "0.000000,,script,refused,,tick,\"these are not the words of LOAD-A");
    assert_non_null(at);
    sm_text_clear(&lines);
    sm_text_printf(&lines, "0.100000,,script,tick,,paper:LOAD-A,yes %s,0\n", words);
    assert_non_null(strstr(at, lines.bytes));
    assert_non_null(strstr(at, "0.200000,,script,refused,,tick,"));
    assert_non_null(strstr(at, "0.300000,,script,refused,,tick,no sheet NONE"));
    assert_int_equal(run(&d, "logbook replay 1 --logbook book.db"), 0);
    folder_write(d.folder, "script", "0 tick paper LOAD-A\n");
    assert_int_equal(run(&d, "$DEMO --headless --fast --script script"), 2);
    assert_true(says(&d, "script:1:20: error: have its three words read aloud"));
    sm_text_deinit(&lines);
    desk_end(&d);
}

static void a_rehearsal_writes_paper_when_told(void **state) {
    (void)state;
    desk d;
    desk_begin(&d);
    folder_write(d.folder, "mine.html", "mine");
    folder_write(d.folder, "script", "0 paper crew.html\n1 paper mine.html\n2 note done\n");
    assert_int_equal(run(&d, "$DEMO --headless --fast --script script"), 0);
    assert_non_null(strstr(d.said.bytes, "0.000000,,script,paper,,crew.html,,0"));
    char *html = read_file(&d, "crew.html"), *mine = read_file(&d, "mine.html");
    assert_true(sm_paper_is_own(html, 400));
    assert_non_null(strstr(html, "end of AFTER 3/3"));
    assert_string_equal(mine, "mine");
    free(html);
    free(mine);
    desk_end(&d);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(only_paper_is_written_over),
        cmocka_unit_test(sheets_can_be_chosen),
        cmocka_unit_test(the_card_has_every_warning),
        cmocka_unit_test(words_are_told_as_they_are_printed),
        cmocka_unit_test(a_rehearsal_fills_after),
        cmocka_unit_test(a_rehearsal_writes_paper_when_told),
        cmocka_unit_test(a_tick_asks_for_the_words_and_refuses_others),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

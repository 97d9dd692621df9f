// SPDX-License-Identifier: GPL-3.0-or-later
// What paper is told of a rehearsal: what became of each slot, and every reading of the show.
#include "support/folder.h"
#include "support/kept.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))

typedef struct book {
    char folder[64], path[256];
} book;

static void book_begin(book *b) {
    kept_begin(b->folder);
    folder_path(b->path, b->folder, "logbook.db");
    (void)kept_rehearse(b->folder, b->path, "0 note first\n", NULL);
    (void)kept_rehearse(b->folder, b->path, "0 note second\n", NULL);
}

static sm_logbook_fates fates_of(const book *b, int64_t number, sm_arena *arena) {
    sm_logbook_fates fates = {0};
    sm_logbook *logbook = kept_open(b->path);
    if (sm_logbook_fates_of(logbook, "Small Show", number, arena, &fates) != SM_OK)
        fail_msg("%s", sm_logbook_problem(logbook));
    sm_logbook_close(logbook);
    return fates;
}

// "+ WHAT TARGET DETAIL" behind the rows that there are.
static void add_row(const book *b, int64_t number, const char *what, const char *target, const char *detail) {
    char sql[400];
    snprintf(sql, sizeof sql,
             "INSERT INTO row(rehearsal, n, wall_us, source, what, cue, target, detail, late_us) SELECT "
             "rehearsal, "
             "max(n) + 1, max(wall_us), 'engine', '%s', '', '%s', '%s', 0 FROM row WHERE rehearsal = %lld",
             what, target, detail, (long long)number);
    kept_exec(b->path, sql);
}

// A log's rows of each kind in turn, from the format's page: fire, misfire, passed and inhibited tell of a slot, the last of them counts;
// a spent slot that is due again stays what it was; a report is of what misfired; a re-rig makes all as new.
static void each_slot_is_what_was_told_of_it_last(void **state) {
    (void)state;
    static const struct {
        const char *what, *target, *detail;
    } rows[] = {{"fire", "A-01", "mine"},   {"misfire", "A-02", "mine open"},
                {"passed", "A-03", "mine"}, {"inhibited", "A-04", "mine"},
                {"fire", "B-01", "comet"},  {"spent", "B-01", "comet"},
                {"report", "A-02", ""},     {"report", "B-04", ""},
                {"passed", "A-01", "mine"}, {"fire", "A-03", "comet"},
                {"state", "A-04", "x"}};
    static const sm_logbook_slot expected[] = {{"A-01", SM_FATE_PASSED, "mine", false},
                                               {"A-02", SM_FATE_MISFIRED, "mine open", true},
                                               {"A-03", SM_FATE_FIRED, "comet", false},
                                               {"A-04", SM_FATE_HELD, "mine", false},
                                               {"B-01", SM_FATE_FIRED, "comet", false}};
    book b;
    book_begin(&b);
    sm_arena *arena = sm_arena_create();
    assert_non_null(arena);
    assert_int_equal(fates_of(&b, 2, arena).slot_count, 0);
    for (size_t i = 0; i < COUNT(rows); i++)
        add_row(&b, 2, rows[i].what, rows[i].target, rows[i].detail);
    const sm_logbook_fates fates = fates_of(&b, 0, arena); // the newest
    assert_int_equal(fates.number, 2);
    assert_int_equal(fates.slot_count, COUNT(expected));
    for (size_t i = 0; i < COUNT(expected); i++) {
        assert_string_equal(fates.slots[i].slot, expected[i].slot);
        assert_string_equal(sm_fate_text(fates.slots[i].fate), sm_fate_text(expected[i].fate));
        assert_string_equal(fates.slots[i].detail, expected[i].detail);
        assert_int_equal(fates.slots[i].is_reported, expected[i].is_reported);
    }
    assert_int_equal(fates_of(&b, 1, arena).slot_count, 0); // another rehearsal's rows are its own
    add_row(&b, 2, "rerig", "", "");
    add_row(&b, 2, "fire", "B-02", "comet");
    const sm_logbook_fates after = fates_of(&b, 2, arena);
    assert_int_equal(after.slot_count, 1);
    assert_string_equal(after.slots[0].slot, "B-02");
    sm_arena_destroy(arena);
    kept_end(b.folder);
}

static void a_rehearsal_of_another_show_is_none(void **state) {
    (void)state;
    book b;
    book_begin(&b);
    sm_arena *arena = sm_arena_create();
    assert_non_null(arena);
    sm_logbook_fates fates = {.number = 77};
    sm_logbook *logbook = kept_open(b.path);
    assert_int_equal(sm_logbook_fates_of(logbook, "Small Show", 3, arena, &fates), SM_NOT_FOUND);
    assert_string_equal(sm_logbook_problem(logbook), "rehearsal 3 is none of this show");
    assert_int_equal(sm_logbook_fates_of(logbook, "Another", 2, arena, &fates), SM_NOT_FOUND);
    assert_int_equal(sm_logbook_fates_of(logbook, "Another", 0, arena, &fates), SM_NOT_FOUND);
    assert_string_equal(sm_logbook_problem(logbook), "no rehearsal of this show is kept");
    assert_int_equal(fates.number, 77);
    sm_logbook_close(logbook);
    sm_arena_destroy(arena);
    kept_end(b.folder);
}

// However many readings there are, all come, the oldest first.
static void all_readings_come_in_order(void **state) {
    (void)state;
    static const unsigned counts[] = {0, 1, 63, 64, 65, 128, 129, 300};
    book b;
    char sql[400];
    book_begin(&b);
    for (size_t i = 0; i < COUNT(counts); i++) {
        kept_exec(b.path, "DELETE FROM reading");
        snprintf(sql, sizeof sql,
                 "WITH RECURSIVE c(n) AS (SELECT 0 UNION ALL SELECT n + 1 FROM c WHERE n + 1 < %u) INSERT "
                 "INTO reading(title, slot, "
                 "value, ohms, taken, taken_us, person, origin) SELECT 'Small Show', 'S-' || n, n, n, '', "
                 "1000 - n, 'K', 'o' FROM "
                 "c WHERE n < %u",
                 counts[i], counts[i]);
        kept_exec(b.path, sql);
        sm_arena *arena = sm_arena_create();
        assert_non_null(arena);
        const sm_logbook_fates fates = fates_of(&b, 0, arena);
        assert_int_equal(fates.reading_count, counts[i]);
        for (unsigned n = 0; n < counts[i]; n++) {
            char slot[16];
            snprintf(slot, sizeof slot, "S-%u", counts[i] - 1 - n);
            assert_string_equal(fates.readings[n].slot, slot);
            assert_string_equal(fates.readings[n].value, slot + 2);
            assert_string_equal(fates.readings[n].person, "K");
        }
        sm_arena_destroy(arena);
    }
    kept_end(b.folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_slot_is_what_was_told_of_it_last),
        cmocka_unit_test(a_rehearsal_of_another_show_is_none),
        cmocka_unit_test(all_readings_come_in_order),
    };
    return cmocka_run_group_tests_name("logbook fates", tests, NULL, NULL);
}

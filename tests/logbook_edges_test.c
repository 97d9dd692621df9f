// SPDX-License-Identifier: GPL-3.0-or-later
// What `make mutants` showed that no other test of the logbook held. What SQLite says is held against its own documentation of result
// codes (sqlite.org/rescode.html, from memory).
#include "logbook/store.h"
#include "support/folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

typedef struct place {
    char folder[64], path[96];
    sm_store store;
} place;

static int place_open(void **state) {
    static place p;
    p = (place){0};
    folder_make(p.folder);
    snprintf(p.path, sizeof p.path, "%s/logbook.db", p.folder);
    assert_int_equal(sm_store_open(&p.store, p.path, true), SM_OK);
    *state = &p;
    return 0;
}

static int place_close(void **state) {
    place *p = *state;
    sm_store_close(&p->store);
    folder_remove(p->folder);
    return 0;
}

// The system's own reason is told behind SQLite's where it is a matter of the system, and not after that.
static void a_reason_of_the_system_is_told_with_its_own_failure_alone(void **state) {
    place *p = *state;
    assert_int_equal(sm_store_exec(&p->store, "ATTACH '/nowhere/at/all.db' AS other"), SM_UNREADABLE);
    assert_non_null(strstr(p->store.why, "unable to open database"));
    assert_non_null(strstr(p->store.why, ": No such file or directory"));
    assert_int_equal(sm_store_exec(&p->store, "SELECT nonsense"), SM_UNREADABLE);
    assert_string_equal(p->store.why, "no such column: nonsense");
    assert_null(sm_store_prepare(&p->store, "SELEC 1"));
    assert_string_equal(p->store.why, "near \"SELEC\": syntax error");
    assert_int_equal(sm_store_failed(&(sm_store){0}), SM_NO_MEMORY); // nothing was opened: no memory for it
}

static void a_number_that_is_not_there_is_none(void **state) {
    place *p = *state;
    int64_t number = 7;
    assert_int_equal(sm_store_number(&p->store, "SELECT 41 + 1", &number), SM_OK);
    assert_int_equal(number, 42);
    assert_int_equal(sm_store_number(&p->store, "SELECT 5 WHERE 0", &number), SM_OK);
    assert_int_equal(number, 0);
    assert_int_equal(sm_store_number(&p->store, "SELECT abs(-9223372036854775808)", &number), SM_UNREADABLE);
    assert_string_equal(p->store.why, "integer overflow");
}

// The newest schema is opened, one beyond it and one below none are not, and stay as they are.
static void a_schema_that_nobody_knows_is_refused(void **state) {
    place *p = *state;
    const int64_t newest = (int64_t)sm_store_version();
    static const int64_t beyond[] = {1, 100};
    for (size_t i = 0; i < sizeof beyond / sizeof beyond[0] + 1; i++) {
        char sql[64];
        const int64_t version = i < 2 ? newest + beyond[i] : -1;
        snprintf(sql, sizeof sql, "PRAGMA user_version = %lld", (long long)version);
        assert_int_equal(sm_store_exec(&p->store, sql), SM_OK);
        sm_store other;
        assert_int_equal(sm_store_open(&other, p->path, false), SM_UNREADABLE);
        assert_non_null(strstr(other.why, "made by a newer slowmatch"));
        int64_t kept;
        assert_int_equal(sm_store_number(&p->store, "PRAGMA user_version", &kept), SM_OK);
        assert_int_equal(kept, version);
    }
    sm_store missing;
    assert_int_equal(sm_store_open(&missing, "/nowhere/at/all.db", false), SM_NOT_FOUND);
    assert_string_equal(missing.why, "no logbook there: No such file or directory");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_reason_of_the_system_is_told_with_its_own_failure_alone, place_open,
                                        place_close),
        cmocka_unit_test_setup_teardown(a_number_that_is_not_there_is_none, place_open, place_close),
        cmocka_unit_test_setup_teardown(a_schema_that_nobody_knows_is_refused, place_open, place_close),
    };
    return cmocka_run_group_tests_name("edges of the logbook", tests, NULL, NULL);
}

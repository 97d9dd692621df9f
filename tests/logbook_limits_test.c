// SPDX-License-Identifier: GPL-3.0-or-later
// What the logbook promises at its edges: a change of state is on the disk at once, a loss stays said, what others refused replays.
#include "logbook/keeper.h"
#include "support/batches.h"
#include "support/fault_vfs.h"
#include "support/folder.h"
#include "support/kept.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include <cmocka.h>

static void on_row(void *context, const sm_log_row *row) {
    sm_logbook_writer_row(context, row);
}

static void act(const sm_show *show, sm_rehearsal *rehearsal, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(show, line, strlen(line), &action, why, &at), SM_OK);
    assert_int_equal(sm_rehearsal_act(rehearsal, &action, SM_SOURCE_CONSOLE, (sm_wall_time){0}), SM_OK);
}

// Waits for a row of WHAT to be in the logbook, a minute at most.
static void wait_for_row(const char *path, const char *what) {
    char sql[100];
    snprintf(sql, sizeof sql, "SELECT count(*) FROM row WHERE what = '%s'", what);
    for (int i = 0; i < 6000 && kept_number(path, sql) == 0; i++)
        nanosleep(&(struct timespec){.tv_nsec = 10000000}, NULL);
    assert_int_equal(kept_number(path, sql), 1);
}

// SQLite's page on PRAGMA synchronous (from memory): with a write-ahead log, FULL flushes the log after each transaction, NORMAL at
// checkpoints alone. A state that is in the file has been flushed; a note by itself has not, it would cost a flush each.
static void a_change_of_state_is_flushed_before_it_can_be_read(void **state) {
    (void)state;
    char folder[64], path[256], show_folder[256];
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    sm_show *show = folder_load(folder_path(show_folder, folder, "show"));
    sm_logbook_load *load = NULL;
    sm_logbook_writer *writer = NULL;
    sm_rehearsal *rehearsal = NULL;
    assert_int_equal(sm_logbook_load_create(show, NULL, &(sm_walk_hash){""}, &load), SM_OK);
    const sm_logbook_start start = {
        .path = path, .mode = "headless", .launch_us = INT64_C(1780000000) * SM_US_PER_S};
    assert_int_equal(sm_logbook_writer_create(&start, load, &writer), SM_OK);
    const sm_rehearsal_options options = {.sink = on_row, .sink_context = writer};
    assert_int_equal(sm_rehearsal_create(show, &options, &rehearsal), SM_OK);
    act(show, rehearsal, "call-clear K");
    act(show, rehearsal, "key on");
    wait_for_row(path, "key");
    unsigned before = fault_vfs_flushed();
    act(show, rehearsal, "note x");
    wait_for_row(path, "note");
    assert_int_equal(fault_vfs_flushed(), before);
    act(show, rehearsal, "arm");
    wait_for_row(path, "state");
    assert_true(fault_vfs_flushed() > before);
    sm_rehearsal_destroy(rehearsal);
    assert_true(sm_logbook_writer_close(writer, -1, NULL));
    sm_show_destroy(show);
    kept_end(folder);
}

static void on_action(void *context, const sm_action *action, sm_source source, sm_wall_time at) {
    sm_logbook_writer_action(context, action, source, at);
}

// Refusals that come from outside the engine are told to the replay, each of its own action.
static void refusals_from_outside_replay(void **state) {
    (void)state;
    char folder[64], path[256], show_folder[256], why[200];
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    sm_show *show = folder_load(folder_path(show_folder, folder, "show"));
    sm_logbook_load *load = NULL;
    sm_logbook_writer *writer = NULL;
    sm_rehearsal *rehearsal = NULL;
    assert_int_equal(sm_logbook_load_create(show, NULL, &(sm_walk_hash){""}, &load), SM_OK);
    const sm_logbook_start start = {.path = path, .mode = "headless", .fast = true};
    assert_int_equal(sm_logbook_writer_create(&start, load, &writer), SM_OK);
    const sm_rehearsal_options options = {.sink = on_row, .acted = on_action, .sink_context = writer};
    assert_int_equal(sm_rehearsal_create(show, &options, &rehearsal), SM_OK);
    act(show, rehearsal, "call-clear K");
    static const char *const lines[] = {"key on", "arm", "wind 3 m/s"};
    for (size_t i = 0; i < sizeof lines / sizeof lines[0]; i++) {
        sm_action action;
        size_t at;
        assert_int_equal(sm_action_read(show, lines[i], strlen(lines[i]), &action, why, &at), SM_OK);
        assert_int_equal(sm_rehearsal_refuse(rehearsal, &action, SM_SOURCE_INSTRUCTOR, "not yours",
                                             (sm_wall_time){(sm_us)i * SM_US_PER_S}),
                         SM_REFUSED);
    }
    sm_rehearsal_destroy(rehearsal);
    assert_true(sm_logbook_writer_close(writer, -1, NULL));
    assert_int_equal(kept_number(path, "SELECT count(*) FROM input WHERE kind = 'refuse'"), 3);
    kept_assert_replays(path, 1);
    sm_show_destroy(show);
    kept_end(folder);
}

// More than memory may hold, with nowhere to put it: it is said, and goes on being said when the disk is there again.
static void what_was_lost_goes_on_being_said(void **state) {
    (void)state;
    char folder[64], path[256];
    batches b = {0};
    sm_keeper keeper;
    sm_text much = {0};
    char *bytes = calloc(1, SM_KEEPER_MEMORY);
    assert_non_null(bytes);
    SM_ENTRY_PUT(&much, SM_ENTRY_FILE, sm_value_text("hash"), sm_value_number((int64_t)SM_KEEPER_MEMORY),
                 sm_value_bytes(bytes, SM_KEEPER_MEMORY));
    free(bytes);
    assert_false(much.failed);
    kept_begin(folder);
    batches_record(folder, &b);
    folder_path(path, folder, "logbook.db");
    assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
    fault_vfs_arm(FAULT_FULL, 1, true);
    sm_keeper_take(&keeper, b.entries.bytes, b.begin[b.count - 1], false, 0);
    assert_non_null(strstr(keeper.problem, "held in memory"));
    assert_non_null(strstr(keeper.problem, "full"));
    sm_keeper_take(&keeper, much.bytes, much.length, false, 1);
    assert_non_null(strstr(keeper.problem, "is lost"));
    fault_vfs_arm(FAULT_FULL, 0, false);
    sm_keeper_take(&keeper, b.entries.bytes + b.begin[b.count - 1], b.entries.length - b.begin[b.count - 1],
                   false, SM_KEEPER_RETRY_US + 1);
    assert_non_null(strstr(keeper.problem, "is lost")); // for good
    assert_false(sm_keeper_finish(&keeper));
    assert_non_null(strstr(keeper.problem, "is lost"));
    sm_keeper_deinit(&keeper);
    assert_int_equal(kept_number(path, "SELECT count(*) FROM row"), b.rows); // all else is there
    sm_text_deinit(&much);
    sm_text_deinit(&b.entries);
    kept_end(folder);
}

// Memory takes as much as it says, to the byte; one byte more is lost, and said to be.
static void as_much_is_held_as_may_be(void **state) {
    (void)state;
    for (size_t over = 0; over < 2; over++) {
        char folder[64], path[256];
        sm_keeper keeper;
        sm_text entry = {0};
        char *bytes = calloc(1, SM_KEEPER_MEMORY);
        assert_non_null(bytes);
        SM_ENTRY_PUT(&entry, SM_ENTRY_FILE, sm_value_text("hash"), sm_value_number(1),
                     sm_value_bytes(bytes, 1));
        const size_t rest = SM_KEEPER_MEMORY - entry.length + 1 + over;
        sm_text_clear(&entry);
        SM_ENTRY_PUT(&entry, SM_ENTRY_FILE, sm_value_text("hash"), sm_value_number(1),
                     sm_value_bytes(bytes, rest));
        free(bytes);
        assert_int_equal(entry.length, SM_KEEPER_MEMORY + over);
        kept_begin(folder);
        folder_path(path, folder, "logbook.db");
        assert_int_equal(sm_keeper_init(&keeper, path, 0), SM_OK);
        fault_vfs_arm(FAULT_FULL, 1, true);
        sm_keeper_take(&keeper, entry.bytes, entry.length, false, 0);
        assert_non_null(strstr(keeper.problem, over == 0 ? "held in memory" : "is lost"));
        fault_vfs_arm(FAULT_FULL, 0, false);
        assert_int_equal(sm_keeper_finish(&keeper), over == 0);
        sm_keeper_deinit(&keeper);
        assert_int_equal(kept_number(path, "SELECT count(*) FROM file"), over == 0);
        sm_text_deinit(&entry);
        kept_end(folder);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_change_of_state_is_flushed_before_it_can_be_read),
        cmocka_unit_test(what_was_lost_goes_on_being_said),
        cmocka_unit_test(as_much_is_held_as_may_be),
        cmocka_unit_test(refusals_from_outside_replay),
    };
    fault_vfs_install(NULL);
    return cmocka_run_group_tests_name("logbook limits", tests, NULL, NULL);
}

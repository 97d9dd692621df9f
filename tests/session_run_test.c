// SPDX-License-Identifier: GPL-3.0-or-later
// The session: the engine in a thread of its own on the silent clock; the log's thread; what libraries print.
#include "screen/stray_output.h"
#include "session/log_file.h"
#include "support/drill_play.h"
#include "support/log_text.h"
#include "support/short_show.h"

#include "slowmatch/clock.h"
#include "slowmatch/session.h"

#include <fcntl.h>
#include <poll.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

typedef struct rig {
    short_show files;
    sm_session *session;
} rig;

static void begin_with_log(rig *r, const char *log_path) {
    sm_findings *findings = sm_findings_create();
    sm_session_options options = {.silent = true, .checks = true, .log_path = log_path};
    assert_int_equal(sm_show_load(r->files.folder, &(sm_show_load_options){0}, findings, &options.show),
                     SM_OK);
    sm_findings_destroy(findings);
    char problem[320];
    assert_int_equal(sm_session_create(&options, problem, &r->session), SM_OK);
    assert_int_equal(sm_session_start(r->session), SM_OK);
}

static int begin(void **state) {
    rig *r = calloc(1, sizeof *r);
    assert_non_null(r);
    short_show_make(&r->files, "12 s");
    begin_with_log(r, NULL);
    *state = r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    sm_session_destroy(r->session);
    short_show_remove(&r->files);
    free(r);
    return 0;
}

typedef bool (*snapshot_test)(const sm_snapshot *snapshot);

// The deadline is only for what hangs.
static void wait_for_news(rig *r, int64_t *deadline_us) {
    if (*deadline_us == 0)
        *deadline_us = sm_monotonic_us() + 60 * SM_US_PER_S;
    if (sm_monotonic_us() > *deadline_us)
        fail_msg("what was waited for never came");
    struct pollfd news = {sm_session_descriptor(r->session), POLLIN, 0};
    poll(&news, 1, 50);
}

// Waits for a snapshot that passes TEST.
static const sm_snapshot *wait_until(rig *r, snapshot_test test) {
    int64_t deadline_us = 0;
    for (;;) {
        sm_session_want(r->session);
        wait_for_news(r, &deadline_us);
        const sm_snapshot *snapshot = sm_session_take(r->session);
        if (test(snapshot))
            return snapshot;
    }
}

// Waits for an outcome with TEXT in it.
static void expect_outcome(rig *r, sm_outcome_kind kind, const char *text) {
    int64_t deadline_us = 0;
    for (;;) {
        sm_outcome_note note;
        while (sm_session_outcome(r->session, &note)) {
            if (strstr(note.text, text)) {
                assert_int_equal(note.kind, kind);
                return;
            }
        }
        wait_for_news(r, &deadline_us);
        sm_session_take(r->session);
    }
}

static void act(rig *r, const char *line) {
    assert_true(sm_session_act(r->session, line));
}

static bool is_armed(const sm_snapshot *s) {
    return s->state == SM_STATE_ARMED;
}

static bool is_safe(const sm_snapshot *s) {
    return s->state == SM_STATE_SAFE;
}

static bool is_ended(const sm_snapshot *s) {
    return s->state == SM_STATE_ENDED;
}

static void the_show_runs_by_itself(void **state) {
    rig *r = *state;
    act(r, "call-clear K");
    act(r, "key on");
    act(r, "arm");
    wait_until(r, is_armed);
    act(r, "start");
    const sm_snapshot *snapshot = wait_until(r, is_ended);
    assert_int_equal(snapshot->at.us, SM_US_PER_S);
    sm_recent *recent = calloc(1, sizeof *recent);
    assert_non_null(recent);
    sm_session_recent(r->session, recent);
    // format.md: late is what was issued less what was due; nothing is issued before it is due.
    int fired = 0;
    for (uint64_t age = 0; sm_recent_at(recent, age); age++)
        fired += sm_recent_at(recent, age)->kind.what == SM_LOG_FIRE;
    assert_int_equal(fired, 3);
    free(recent);
    assert_true(sm_session_make_safe(r->session, 60 * SM_US_PER_S));
    wait_until(r, is_safe);
}

static void the_show_is_checked_meanwhile(void **state) {
    rig *r = *state;
    int64_t deadline_us = 0;
    sm_findings *findings = sm_session_findings(r->session);
    while (!findings) {
        wait_for_news(r, &deadline_us);
        sm_session_take(r->session);
        findings = sm_session_findings(r->session);
    }
    size_t too_near = 0; // both positions stand 20 m from the front
    for (size_t i = 0; i < sm_findings_count(findings); i++)
        too_near += strcmp(sm_findings_at(findings, i)->rule, "distance-short") == 0;
    assert_int_equal(too_near, 2);
    sm_findings_destroy(findings);
}

static void what_is_refused_or_wrong_is_told(void **state) {
    rig *r = *state;
    act(r, "start");
    expect_outcome(r, SM_OUTCOME_REFUSED, "start refused");
    act(r, "go");
    expect_outcome(r, SM_OUTCOME_WRONG, "go");
    act(r, "read Z-01 2");
    expect_outcome(r, SM_OUTCOME_WRONG, "Z-01");
    act(r, "quit");
    for (int i = 0; i < 600 && !sm_session_has_quit(r->session); i++)
        poll(NULL, 0, 10);
    assert_true(sm_session_has_quit(r->session));
}

static bool reads_last(const sm_snapshot *s) {
    return s->slots[0].reading.kind == SM_READ_OHMS && s->slots[0].reading.ohms > 1999.5;
}

static void lines_are_done_in_order(void **state) {
    rig *r = *state;
    for (int i = 1; i <= 2000; i++) {
        char line[32];
        snprintf(line, sizeof line, "read A-01 %d", i);
        act(r, line);
    }
    wait_until(r, reads_last);
    sm_recent *recent = calloc(1, sizeof *recent);
    assert_non_null(recent);
    sm_session_recent(r->session, recent);
    int number = 2000;
    for (uint64_t age = 0; age < SM_RECENT_ROWS; age++) {
        const sm_recent_row *row = sm_recent_at(recent, age);
        if (sm_log_is_act(row->kind, SM_ACT_READ)) // there may be one about the sound between them
            assert_int_equal(atoi(row->detail), number--);
    }
    assert_true(number <= 2000 - SM_RECENT_ROWS + 1);
    assert_null(sm_recent_at(recent, SM_RECENT_ROWS));
    free(recent);
}

static bool has_two_events(const sm_snapshot *s) {
    return s->show->event_count == 2;
}

static bool reads_open(const sm_snapshot *s) {
    return s->slots[1].reading.kind == SM_READ_OPEN;
}

static void a_show_read_again_takes_the_olds_place(void **state) {
    rig *r = *state;
    act(r, "read A-01 2.05");
    for (int i = 0; i < 5; i++) {
        char cues[256];
        snprintf(cues, sizeof cues, "time,target,do\n0.2,A-01,fountain\n0.%d,A-02,comet\n", 3 + i);
        short_show_write(&r->files, "cues.csv", cues);
        act(r, "reload");
        expect_outcome(r, SM_OUTCOME_WRONG,
                       "read again"); // the rules find errors in this small show, and it says so
        const sm_snapshot *snapshot = wait_until(r, has_two_events);
        assert_int_equal(sm_event_due_us(snapshot->show, 1), (3 + i) * SM_US_PER_S / 10 - SM_US_PER_S / 10);
        assert_string_equal(snapshot->show->settings.title, "Short Evening");
        assert_int_equal(snapshot->slots[0].reading.kind, SM_READ_OHMS);
    }
    short_show_write(&r->files, "cues.csv", "time,target,do\n0.2,A-01,nothing\n");
    act(r, "reload");
    expect_outcome(r, SM_OUTCOME_REFUSED, "1 error in the folder");
    sm_findings *findings = sm_session_findings(r->session);
    assert_non_null(findings);
    assert_int_equal(sm_findings_count_of(findings, SM_ERROR), 1);
    sm_findings_destroy(findings);
    assert_null(sm_session_findings(r->session));
    assert_int_equal(sm_session_take(r->session)->show->event_count, 2);
}

static void a_readings_file_is_taken_or_left_whole(void **state) {
    rig *r = *state;
    short_show_write(&r->files, "night.csv", "rail,slot,reading\nA,1,2.0512\nA,2,open\n");
    sm_session_read_file(r->session, short_show_path(&r->files, "night.csv"));
    expect_outcome(r, SM_OUTCOME_TOLD, "2 readings taken");
    const sm_snapshot *snapshot = wait_until(r, reads_open);
    assert_true(snapshot->slots[0].reading.ohms > 2.05119 && snapshot->slots[0].reading.ohms < 2.05121);
    short_show_write(&r->files, "night.csv", "rail,slot,reading\nA,1,short\nA,99,open\n");
    sm_session_read_file(r->session, short_show_path(&r->files, "night.csv"));
    expect_outcome(r, SM_OUTCOME_WRONG, "nothing was taken");
    assert_int_equal(sm_session_take(r->session)->slots[0].reading.kind, SM_READ_OHMS);
    sm_session_read_file(r->session, "/no/such/file.csv");
    expect_outcome(r, SM_OUTCOME_WRONG, SM_SESSION_NO_FILE ": /no/such/file.csv cannot be opened");
}

static bool reads_nothing(const sm_snapshot *snapshot) {
    return snapshot->slots[0].reading.kind == SM_READ_NOTHING &&
           snapshot->slots[1].reading.kind == SM_READ_NOTHING;
}

static bool reads_one(const sm_snapshot *snapshot) {
    return snapshot->slots[0].reading.kind == SM_READ_OHMS &&
           snapshot->slots[1].reading.kind == SM_READ_NOTHING;
}

// A whole file goes with one undo; one that came after it goes alone.
static void a_readings_file_is_taken_back_as_one(void **state) {
    rig *r = *state;
    short_show_write(&r->files, "night.csv", "rail,slot,reading\nA,1,2.0512\nA,2,open\n");
    sm_session_read_file(r->session, short_show_path(&r->files, "night.csv"));
    expect_outcome(r, SM_OUTCOME_TOLD, "2 readings taken");
    wait_until(r, reads_open);
    act(r, "undo");
    wait_until(r, reads_nothing);
    act(r, "undo");
    expect_outcome(r, SM_OUTCOME_REFUSED, "no reading, mark, tick, note or proposal to take back");
    sm_session_read_file(r->session, short_show_path(&r->files, "night.csv"));
    expect_outcome(r, SM_OUTCOME_TOLD, "2 readings taken");
    act(r, "note between");
    act(r, "undo");
    act(r, "undo");
    wait_until(r, reads_one);
}

static void a_log_that_does_not_flow_holds_nothing(void **state) {
    rig *r = *state;
    sm_session_destroy(r->session);
    // A pipe that nobody reads is a disk that never answers.
    char path[400];
    snprintf(path, sizeof path, "%s", short_show_path(&r->files, "log.fifo"));
    assert_int_equal(mkfifo(path, 0600), 0);
    int reader = open(path, O_RDWR);
    assert_true(reader >= 0);
    begin_with_log(r, path);
    for (int i = 1; i <= 2000; i++) { // about 80 kB: more than the pipe takes
        char line[32];
        snprintf(line, sizeof line, "read A-01 %d", i);
        act(r, line);
    }
    wait_until(r, reads_last);
    assert_int_equal(sm_session_log_error(r->session), 0);
    sm_session_destroy(r->session); // gives up waiting for the disk
    r->session = NULL;
    char bytes[65536];
    ssize_t count = read(reader, bytes, sizeof bytes - 1);
    assert_true(count > 0);
    bytes[count] = '\0';
    assert_ptr_equal(strstr(bytes, SM_LOG_HEADER "\n"), bytes);
    // Read on until the writer, left alone, has written the rest and gone.
    while (!strstr(bytes, ",A-01,2000,")) {
        size_t kept = strlen(bytes) < 64 ? strlen(bytes) : 64;
        memmove(bytes, bytes + strlen(bytes) - kept, kept);
        count = read(reader, bytes + kept, sizeof bytes - 1 - kept);
        assert_true(count > 0);
        bytes[kept + (size_t)count] = '\0';
    }
    close(reader);
}

static void a_log_that_fails_is_told(void **state) {
    (void)state;
    sm_log_writer *writer;
    assert_int_equal(sm_log_writer_open("/dev/full", &writer), SM_OK);
    sm_log_row row = {.kind = {.act = SM_ACT_NOTE}, .cue = "", .target = "text", .detail = ""};
    for (int i = 0; i < 100000 && sm_log_writer_error(writer) == 0; i++)
        sm_log_writer_put(writer, &row);
    assert_true(sm_log_writer_close(writer, 60 * SM_US_PER_S));
    assert_int_equal(sm_log_writer_open("/no/such/folder/log", &writer), SM_UNREADABLE);
    assert_true(sm_log_writer_close(NULL, 0));
}

static void what_libraries_print_is_caught_and_never_blocks(void **state) {
    (void)state;
    sm_stray_output stray;
    assert_int_equal(sm_stray_output_catch(&stray), SM_OK);
    fprintf(stderr, "cannot open device\n");
    for (int i = 0; i < 100000; i++) // far more than a pipe holds, with no reader
        if (write(STDERR_FILENO, "underrun!\n", 10) < 0)
            continue;
    int rounds = 0;
    while (sm_stray_output_read(&stray))
        rounds++;
    assert_true(rounds > 0);
    size_t length = stray.latest.length;
    bool whole = strncmp(sm_text_get(&stray.latest), "underrun!\n", 10) == 0;
    sm_stray_output_release(&stray);
    assert_true(length > 0 && length <= 4096);
    assert_true(whole);
}

// Whoever answers the first question at once, before the driver's first round, is in a drill: what they press must begin it.
static void a_drill_is_seen_from_the_first_look_on(void **state) {
    (void)state;
    sm_show *show = drill_play_show("demo-shows/lantern-quay");
    sm_drill *drill = drill_play_load(show, "01-first-arming");
    sm_drill_taken taken = {.drill = drill, .seed = 1};
    const sm_session_options options = {.show = show, .drill = &taken, .virtual_clock = true, .silent = true};
    char problem[SM_SESSION_PROBLEM];
    sm_session *session = NULL;
    assert_int_equal(sm_session_create(&options, problem, &session), SM_OK);
    sm_drill_view view;
    sm_session_drill(session, &view);
    assert_ptr_equal(view.drill, drill);
    assert_true(view.held); // it waits for the answer
    sm_session_end(session, -1);
    sm_session_destroy(session);
    sm_debrief_destroy(taken.debrief);
    sm_text_deinit(&taken.json);
    sm_drill_destroy(drill);
}

// Whoever takes a drill may read its log beside it: what was judged comes at the end, with its moment.
static void a_drills_log_tells_no_mark_before_its_end(void **state) {
    (void)state;
    char folder[64] = "/tmp/slowmatch-test-XXXXXX", path[96];
    assert_non_null(mkdtemp(folder));
    snprintf(path, sizeof path, "%s/log", folder);
    sm_show *show = drill_play_show("demo-shows/lantern-quay");
    sm_drill *drill = drill_play_load(show, "02-one-bad-igniter");
    sm_drill_taken taken = {.drill = drill, .seed = 1};
    const sm_session_options options = {
        .show = show, .drill = &taken, .virtual_clock = true, .silent = true, .log_path = path};
    char problem[SM_SESSION_PROBLEM];
    sm_session *session = NULL;
    assert_int_equal(sm_session_create(&options, problem, &session), SM_OK);
    assert_true(sm_session_act(session, "go-drill"));
    sm_session_step(session, (sm_wall_time){0});
    assert_true(sm_session_act(session, "call-clear J"));
    sm_session_step(session, (sm_wall_time){SM_US_PER_S});
    assert_true(sm_session_flush_log(session, 60 * SM_US_PER_S));
    char *log = log_text_read(path);
    assert_non_null(strstr(log, ",call-clear,"));
    assert_null(strstr(log, ",mark,"));
    assert_null(strstr(log, "A-05"));
    free(log);
    sm_session_end(session, -1);
    log = log_text_read(path);
    assert_non_null(strstr(log, ",mark,,clear-over-silence,\"judged at 1.000000: -100: "));
    assert_non_null(strstr(log, "open A-05"));
    free(log);
    sm_session_destroy(session);
    sm_debrief_destroy(taken.debrief);
    sm_text_deinit(&taken.json);
    sm_drill_destroy(drill);
    unlink(path);
    rmdir(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(the_show_runs_by_itself, begin, end),
        cmocka_unit_test_setup_teardown(the_show_is_checked_meanwhile, begin, end),
        cmocka_unit_test_setup_teardown(what_is_refused_or_wrong_is_told, begin, end),
        cmocka_unit_test_setup_teardown(lines_are_done_in_order, begin, end),
        cmocka_unit_test_setup_teardown(a_show_read_again_takes_the_olds_place, begin, end),
        cmocka_unit_test_setup_teardown(a_readings_file_is_taken_or_left_whole, begin, end),
        cmocka_unit_test_setup_teardown(a_log_that_does_not_flow_holds_nothing, begin, end),
        cmocka_unit_test_setup_teardown(a_readings_file_is_taken_back_as_one, begin, end),
        cmocka_unit_test(a_log_that_fails_is_told),
        cmocka_unit_test(a_drill_is_seen_from_the_first_look_on),
        cmocka_unit_test(a_drills_log_tells_no_mark_before_its_end),
        cmocka_unit_test(what_libraries_print_is_caught_and_never_blocks),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

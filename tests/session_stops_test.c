// SPDX-License-Identifier: GPL-3.0-or-later
// A stop comes first: before what a session is behind with, in front of no line given before it, and with no memory left. And what a step
// catches up with is bounded. An outlet made here sees all that goes out.
#include "support/desk.h"
#include "support/folder.h"
#include "support/log_text.h"

#include "slowmatch/clock.h"
#include "slowmatch/session.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define S SM_US_PER_S

// ---- allocations that fail ---------------------------------------------------------------------

// Where a sanitizer brings its own allocator, nothing is made to fail.
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define OWN_ALLOCATOR false
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define OWN_ALLOCATOR false
#endif
#endif
#ifndef OWN_ALLOCATOR
#define OWN_ALLOCATOR true

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);

static volatile bool no_memory; // for all threads

void *malloc(size_t size) {
    return no_memory ? NULL : __libc_malloc(size);
}

void *calloc(size_t nmemb, size_t size) {
    return no_memory ? NULL : __libc_calloc(nmemb, size);
}

void *realloc(void *ptr, size_t size) {
    return no_memory ? NULL : __libc_realloc(ptr, size);
}
#else
static volatile bool no_memory;
#endif

// ---- an outlet ------------------------------------------------------------------------------------

typedef struct seen {
    char calls[32]; // the callbacks in order, one letter each, runs as one
    uint32_t fired, rows, steps, snapshots, ended;
    sm_wall_time wants;
} seen;

static void note(seen *all, char letter) {
    size_t length = strlen(all->calls);
    if (length + 1 < sizeof all->calls && (length == 0 || all->calls[length - 1] != letter))
        all->calls[length] = letter;
}

static sm_result outlet_create(sm_session *session, void *context, char problem[SM_SESSION_PROBLEM],
                               void **self) {
    assert_non_null(session);
    if (!context)
        return SM_OK; // nobody asked for it
    note(context, 'c');
    if (((seen *)context)->ended > 0) {
        snprintf(problem, SM_SESSION_PROBLEM, "the outlet has no cable");
        return SM_UNREADABLE;
    }
    *self = context;
    return SM_OK;
}

static void outlet_row(void *self, const sm_log_row *row) {
    seen *all = self;
    note(all, 'r');
    all->rows++;
    all->fired += row->kind.what == SM_LOG_FIRE;
}

static void outlet_snapshot(void *self, const sm_snapshot *snapshot) {
    assert_non_null(snapshot->show);
    ((seen *)self)->snapshots++;
}

static sm_wall_time outlet_step(void *self, sm_wall_time now) {
    seen *all = self;
    all->steps++;
    all->wants.us = now.us + S / 20;
    return all->wants;
}

static void outlet_destroy(void *self) {
    note(self, 'd');
    ((seen *)self)->ended++;
}

static const sm_outlet outlet = {.name = "seen",
                                 .create = outlet_create,
                                 .row = outlet_row,
                                 .snapshot = outlet_snapshot,
                                 .step = outlet_step,
                                 .destroy = outlet_destroy};
static const sm_outlet *const outlets[] = {&outlet};

// ---- a session on a virtual clock --------------------------------------------------------------------

typedef struct rig {
    char folder[64], log[256];
    seen seen;
    sm_session *session;
} rig;

static sm_session *open_session(rig *r, bool virtual_clock, char problem[SM_SESSION_PROBLEM]) {
    const sm_session_options options = {.show = folder_load(r->folder),
                                        .log_path = r->log,
                                        .virtual_clock = virtual_clock,
                                        .silent = true,
                                        .outlets = outlets,
                                        .outlet_count = 1,
                                        .outlet_context = &r->seen};
    sm_session *session = NULL;
    return sm_session_create(&options, problem, &session) == SM_OK ? session : NULL;
}

static int begin(void **state) {
    static rig one;
    rig *r = &one;
    char problem[SM_SESSION_PROBLEM];
    one = (rig){0};
    folder_make(r->folder);
    folder_small_show(r->folder);
    folder_path(r->log, r->folder, "log.csv");
    r->session = open_session(r, true, problem);
    assert_non_null(r->session);
    *state = r;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    sm_session_destroy(r->session);
    folder_remove(r->folder);
    return 0;
}

static void act(rig *r, const char *line) {
    assert_true(sm_session_act(r->session, line));
}

static const sm_snapshot *step(rig *r, sm_us now_us) {
    sm_session_want(r->session);
    sm_session_step(r->session, (sm_wall_time){now_us});
    return sm_session_take(r->session);
}

// Running from wall 2 s on; show 0 is at wall 3 s, the first firing at 3.8 s.
static void start(rig *r) {
    act(r, "call-clear K");
    act(r, "key on");
    act(r, "arm");
    step(r, 0);
    step(r, 1 * S);
    act(r, "start");
    assert_int_equal(step(r, 2 * S)->state, SM_STATE_RUNNING);
}

static void assert_stopped(rig *r, sm_state state, const char *last_line) {
    char expected[96];
    sm_session_end(r->session, -1);
    char *log = log_text_read(r->log);
    snprintf(expected, sizeof expected, ",console,%s", last_line);
    assert_non_null(strstr(log, expected));
    assert_int_equal(r->seen.fired, 0); // a firing that was due before the stop was given, and not done yet
    assert_null(strstr(log, ",fire,"));
    assert_int_equal(sm_session_take(r->session)->state, state);
    free(log);
}

// The session stood for 100 s, in which the whole show was due: a process that was stopped, a machine that was asleep.
static void a_stop_comes_before_what_is_late(void **state) {
    static const struct {
        const char *line, *row;
        sm_state state;
    } stops[] = {{"safe", "safe,", SM_STATE_SAFE},
                 {" key  off", "key,,off", SM_STATE_SAFE},
                 {"pause", "pause,", SM_STATE_PAUSED},
                 {"quit", "quit,", SM_STATE_SAFE}};
    for (size_t i = 0; i < sizeof stops / sizeof stops[0]; i++) {
        rig *r = *state;
        start(r);
        act(r, "note before");
        act(r, stops[i].line);
        act(r, "note after");
        step(r, 100 * S);
        assert_stopped(r, stops[i].state, stops[i].row);
        char *log = log_text_read(r->log), expected[96];
        snprintf(expected, sizeof expected, ",console,%s", stops[i].row);
        const char *before = strstr(log, "note,,before"), *stop = strstr(log, expected),
                   *after = strstr(log, "note,,after");
        assert_true(before && before < stop && stop < after);
        free(log);
        end(state);
        begin(state);
    }
}

static void the_lines_before_a_stop_are_done_before_it(void **state) {
    rig *r = *state;
    act(r, "call-clear K");
    act(r, "key on");
    act(r, "arm");
    act(r, "safe");
    assert_int_equal(step(r, 1)->state, SM_STATE_SAFE);
    act(r, "call-clear K");
    act(r, "safe");
    act(r, "arm"); // refused, since making safe takes the clear: it stays safe
    assert_int_equal(step(r, 10 * S)->state, SM_STATE_SAFE);
}

// The shortest repeat for ten minutes of sleep is 6,000 jumps and more.
static void catching_up_is_bounded_in_a_step(void **state) {
    rig *r = *state;
    start(r);
    act(r, "repeat 0.5 0.6 rerig");
    step(r, 2 * S + 1);
    uint32_t before = r->seen.rows;
    step(r, 600 * S);
    assert_in_range(r->seen.rows - before, 1, 1000);
    sm_wall_time due;
    assert_true(sm_session_next_due(r->session, &due));
    assert_true(due.us < 600 * S); // and so the next step is due at once
    act(r, "safe");
    before = r->seen.rows;
    assert_int_equal(step(r, 600 * S)->state, SM_STATE_SAFE);
    assert_in_range(r->seen.rows - before, 1, 20);
}

static void a_stop_finds_room_behind_any_number_of_lines(void **state) {
    rig *r = *state;
    start(r);
    no_memory = OWN_ALLOCATOR;
    int taken = 0;
    for (int i = 0; i < 1000; i++)
        taken += sm_session_act(r->session, "note one of many");
    bool stops[100];
    for (int i = 0; i < 100; i++)
        stops[i] = sm_session_act(r->session, i % 2 ? "pause" : "key off");
    no_memory = false;
    for (int i = 0; i < 100; i++)
        assert_true(stops[i]);
    assert_true(taken > 40 && (!OWN_ALLOCATOR || taken < 100));
    assert_int_equal(step(r, 100 * S)->state, SM_STATE_SAFE);
    assert_int_equal(r->seen.fired, 0);
}

// ---- without memory -----------------------------------------------------------------------------------

static void a_stop_needs_no_memory(void **state) {
    rig *r = *state;
    start(r);
    step(r, 4 * S);
    assert_int_equal(r->seen.fired, 1);
    no_memory = OWN_ALLOCATOR;
    bool given = sm_session_act(r->session, "safe");
    const sm_snapshot *snapshot = step(r, 4 * S + 1);
    no_memory = false;
    assert_true(given);
    assert_int_equal(snapshot->state, SM_STATE_SAFE);
    sm_session_end(r->session, -1);
    char *log = log_text_read(r->log);
    assert_non_null(strstr(log, "console,safe,,,"));
    assert_non_null(strstr(log, "engine,state,,safe,running"));
    assert_int_equal(sm_session_log_error(r->session), 0);
    free(log);
}

// The same by the session's thread, as SPACE on the console does it.
static void a_stop_in_the_thread_needs_no_memory(void **state) {
    rig *r = *state;
    char problem[SM_SESSION_PROBLEM];
    sm_session_destroy(r->session);
    r->seen = (seen){0};
    r->session = open_session(r, false, problem);
    assert_non_null(r->session);
    assert_int_equal(sm_session_start(r->session), SM_OK);
    act(r, "call-clear");
    act(r, "key on");
    act(r, "arm");
    usleep(1200000);
    act(r, "start");
    usleep(200000);
    sm_session_take(r->session);
    no_memory = OWN_ALLOCATOR;
    bool done = sm_session_make_safe(r->session, 20 * S);
    sm_session_want(r->session);
    usleep(300000);
    sm_state after = sm_session_take(r->session)->state;
    bool written = sm_session_flush_log(r->session, 20 * S);
    no_memory = false;
    assert_true(done && written);
    assert_int_equal(after, SM_STATE_SAFE);
    char *log = log_text_read(r->log);
    assert_non_null(strstr(log, "console,safe,,,"));
    free(log);
}

// The screen then: the state, and the key that stops; and that key works.
static void the_state_line_needs_no_memory(void **state) {
    (void)state;
    desk *d = desk_create_short(false);
    desk_press(d, 'n');
    desk_arm(d);
    desk_do(d, "start");
    desk_advance(d, S / 2);
    assert_true(desk_shows(d, "REHEARSAL RUNNING"));
    no_memory = OWN_ALLOCATOR;
    sm_ui_look(&d->ui);
    sm_frame_draw(&d->ui, d->cells);
    d->acted[0] = '\0';
    sm_ui_press(&d->ui, ' ');
    no_memory = false;
    sm_text shown = {0};
    for (int y = 0; y < sm_cells_rows(d->cells); y++)
        sm_cells_row_text(d->cells, y, &shown);
    assert_non_null(strstr(sm_text_get(&shown), "REHEARSAL RUNNING next"));
    assert_non_null(strstr(sm_text_get(&shown), "SPACE MAKE SAFE"));
    assert_string_equal(d->acted, "safe");
    sm_text_deinit(&shown);
    desk_destroy(d);
}

// ---- outlets ---------------------------------------------------------------------------------------------

static void an_outlet_sees_all_and_is_stepped_when_it_wants(void **state) {
    rig *r = *state;
    sm_wall_time due = {0};
    start(r);
    while (sm_session_next_due(r->session, &due) && due.us < 20 * S)
        step(r, due.us);
    assert_int_equal(due.us - r->seen.wants.us, 0); // nothing else is due any more
    assert_int_equal(r->seen.fired, 8);
    assert_true(r->seen.steps > 18 * 20 && r->seen.snapshots > 8);
    sm_session_end(r->session, -1);
    assert_string_equal(r->seen.calls, "crd");
    char *log = log_text_read(r->log);
    uint32_t lines = 0;
    for (const char *at = log; (at = strchr(at, '\n')); at++)
        lines++;
    assert_int_equal(r->seen.rows, lines - 1);
    free(log);
}

static void an_outlet_that_cannot_begin_says_why(void **state) {
    rig *r = *state;
    char problem[SM_SESSION_PROBLEM];
    r->seen.ended = 1;
    assert_null(open_session(r, true, problem));
    assert_string_equal(problem, "the outlet has no cable");
    r->seen.ended = 0;
}

static void a_line_by_another_source_is_logged_so(void **state) {
    rig *r = *state;
    assert_true(sm_session_act_from(r->session, "left", "hold left smoke"));
    step(r, 1);
    sm_session_end(r->session, -1);
    char *log = log_text_read(r->log);
    assert_non_null(strstr(log, ",seat left,hold,,left,smoke"));
    free(log);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(a_stop_comes_before_what_is_late, begin, end),
        cmocka_unit_test_setup_teardown(the_lines_before_a_stop_are_done_before_it, begin, end),
        cmocka_unit_test_setup_teardown(catching_up_is_bounded_in_a_step, begin, end),
        cmocka_unit_test_setup_teardown(a_stop_finds_room_behind_any_number_of_lines, begin, end),
        cmocka_unit_test_setup_teardown(a_stop_needs_no_memory, begin, end),
        cmocka_unit_test_setup_teardown(a_stop_in_the_thread_needs_no_memory, begin, end),
        cmocka_unit_test(the_state_line_needs_no_memory),
        cmocka_unit_test_setup_teardown(an_outlet_sees_all_and_is_stepped_when_it_wants, begin, end),
        cmocka_unit_test_setup_teardown(an_outlet_that_cannot_begin_says_why, begin, end),
        cmocka_unit_test_setup_teardown(a_line_by_another_source_is_logged_so, begin, end),
    };
    setlocale(LC_ALL, "C.UTF-8");
    return cmocka_run_group_tests(tests, NULL, NULL);
}

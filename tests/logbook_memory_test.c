// SPDX-License-Identifier: GPL-3.0-or-later
// Memory that runs out while something is handed to the logbook: what is lost is not said to be kept.
#include "support/folder.h"
#include "support/kept.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// ---- allocations that fail --------------------------------------------------------

// malloc and its kin of this program go through here; the sanitizer brings its own.
#if defined(__SANITIZE_ADDRESS__)
#define ALLOCATIONS_FAIL false
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define ALLOCATIONS_FAIL false
#endif
#endif
static _Thread_local size_t fail_in; // allocations of this thread until all fail; 0: none does
static _Thread_local bool fail_once; // then it fails alone
#ifndef ALLOCATIONS_FAIL
#define ALLOCATIONS_FAIL true

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);

static bool may_allocate(void) {
    bool fails = fail_in == 1;
    fail_in -= fail_in > 1 || (fails && fail_once);
    return !fails;
}

void *malloc(size_t size) {
    return may_allocate() ? __libc_malloc(size) : NULL;
}

void *calloc(size_t nmemb, size_t size) {
    return may_allocate() ? __libc_calloc(nmemb, size) : NULL;
}

void *realloc(void *ptr, size_t size) {
    return may_allocate() ? __libc_realloc(ptr, size) : NULL;
}
#endif

// ---- what is told to the writer --------------------------------------------------------

static void tell_drill(sm_logbook_writer *writer) {
    const sm_logbook_drill drill = {.person = "Mo", .drill = "first", .title = "Small Show", .marks = ""};
    sm_logbook_writer_drill(writer, &drill);
}

static void tell_debrief(sm_logbook_writer *writer) {
    const sm_drill_step steps[] = {{.name = "key", .text = "key on"}, {.name = "arm", .text = "arm"}};
    sm_logbook_writer_debrief(writer,
                              &(sm_debrief){.head = "head", .tail = "tail", .steps = steps, .step_count = 2});
}

static void tell_row(sm_logbook_writer *writer) {
    sm_logbook_writer_row(
        writer, &(sm_log_row){.kind = {.what = SM_LOG_GUARD}, .cue = "", .target = "", .detail = "text"});
}

static void tell_action(sm_logbook_writer *writer) {
    sm_logbook_writer_action(writer, &(sm_action){.act = SM_ACT_ARM}, SM_SOURCE_SCRIPT, (sm_wall_time){0});
}

static const struct {
    void (*tell)(sm_logbook_writer *writer);
    const char *count;
} told[] = {
    {tell_drill, "SELECT count(*) FROM drill"},
    {tell_debrief, "SELECT count(*) FROM debrief JOIN drill_step USING (rehearsal)"},
    {tell_row, "SELECT count(*) FROM row"},
    {tell_action, "SELECT count(*) FROM input WHERE line = 'arm'"},
};

// Tells it with memory running out at the Nth allocation. Returns whether the writer says that all is kept.
static bool keep(const char *folder, const char *path, void (*tell)(sm_logbook_writer *), size_t n) {
    char show_folder[256], problem[400];
    sm_logbook_load *load = NULL;
    sm_logbook_writer *writer = NULL;
    sm_show *show = folder_load(folder_path(show_folder, folder, "show"));
    assert_int_equal(sm_logbook_load_create(show, NULL, &(sm_walk_hash){""}, &load), SM_OK);
    const sm_logbook_start start = {.path = path, .mode = "drill", .drill = true, .fast = true};
    assert_int_equal(sm_logbook_writer_create(&start, load, &writer), SM_OK);
    fail_in = n;
    tell(writer);
    fail_in = 0;
    bool kept = sm_logbook_writer_close(writer, -1, problem);
    if (kept)
        assert_string_equal(problem, "");
    else
        assert_non_null(strstr(problem, "memory ran out"));
    sm_show_destroy(show);
    return kept;
}

static void what_is_lost_is_not_said_to_be_kept(void **state) {
    (void)state;
    if (!ALLOCATIONS_FAIL)
        skip();
    for (size_t i = 0; i < sizeof told / sizeof told[0]; i++) {
        size_t lost = 0;
        for (bool kept = false; !kept; lost += !kept) {
            char folder[64], path[256];
            kept_begin(folder);
            folder_path(path, folder, "logbook.db");
            kept = keep(folder, path, told[i].tell, lost + 1);
            bool there = kept_number(path, told[i].count) > 0;
            if (there != kept)
                fail_msg("%zu, allocation %zu: %s, and is %s", i, lost + 1, kept ? "kept" : "lost",
                         there ? "there" : "not there");
            kept_end(folder);
        }
        assert_true(lost > 0);
    }
}

// Returns whether the check came to its end, with memory running out at the Nth allocation.
static bool check_whole(const char *path, size_t n) {
    bool whole = true;
    sm_text out = {0};
    sm_logbook *logbook = kept_open(path);
    fail_in = n;
    sm_result result = sm_logbook_check(logbook, false, &out, &whole);
    bool failed = fail_in <= 1;
    fail_in = 0;
    bool why = strstr(sm_logbook_problem(logbook), "memory") ||
               strstr(sm_logbook_problem(logbook), "unable to open a temporary");
    if (result == SM_OK ? !whole : !why)
        fail_msg("allocation %zu: %d, %s%s", n, (int)result, sm_logbook_problem(logbook), sm_text_get(&out));
    sm_logbook_close(logbook);
    sm_text_deinit(&out);
    return !failed;
}

// A whole logbook is never called damaged for want of memory.
static void a_check_without_memory_says_so(void **state) {
    (void)state;
    char folder[64], path[256];
    if (!ALLOCATIONS_FAIL)
        skip();
    kept_begin(folder);
    folder_path(path, folder, "logbook.db");
    kept_rehearse(folder, path, NULL, NULL);
    for (int once = 0; once < 2; once++) {
        size_t n = 1;
        fail_once = once != 0;
        while (!check_whole(path, n))
            n++;
        assert_true(n > 100);
    }
    fail_once = false;
    kept_end(folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_lost_is_not_said_to_be_kept),
        cmocka_unit_test(a_check_without_memory_says_so),
    };
    return cmocka_run_group_tests_name("logbook without memory", tests, NULL, NULL);
}

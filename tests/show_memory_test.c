// SPDX-License-Identifier: GPL-3.0-or-later
// How much a long show takes, and what happens when there is no more.
#include "show/load.h"
#include "support/show_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <errno.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// ---- allocations that fail --------------------------------------------------------

// malloc and its kin of this program, libcsv included, go through here; the sanitizer brings its own.
#if defined(__SANITIZE_ADDRESS__)
#define COUNTS_ALLOCATIONS false
#elif defined(__has_feature)
#if __has_feature(address_sanitizer)
#define COUNTS_ALLOCATIONS false
#endif
#endif
#ifndef COUNTS_ALLOCATIONS
#define COUNTS_ALLOCATIONS true

void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *old, size_t size);

static size_t fail_in; // allocations until all fail; 0: none does

static bool may_allocate(void) {
    if (fail_in > 1)
        fail_in--;
    return fail_in != 1;
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
#else
static size_t fail_in;
#endif

static void says_so_when_an_allocation_fails(void **state) {
    (void)state;
    sm_result result = SM_NO_MEMORY;
    size_t n = 0;
    if (!COUNTS_ALLOCATIONS)
        skip();
    while (result == SM_NO_MEMORY && n < 100000) {
        sm_show *show = NULL;
        sm_findings *const findings = sm_findings_create();
        assert_non_null(findings);
        n++;
        fail_in = n + 1;
        result = sm_show_load("tests/data/show/every-table", NULL, findings, &show);
        fail_in = 0;
        assert_true((show != NULL) == (result == SM_OK));
        sm_show_destroy(show);
        sm_findings_destroy(findings);
    }
    assert_int_equal(result, SM_OK);
    assert_true(n > 20);
}

// A show with errors, so that the memory of findings counts too.
static void says_so_among_findings_as_well(void **state) {
    (void)state;
    sm_result result = SM_NO_MEMORY;
    size_t n = 0;
    if (!COUNTS_ALLOCATIONS)
        skip();
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "cues.csv", "time,target,do\nx,par-1,dim=1\n1,par-9,dim=x\n1,A-01,\"com\n");
    while (result == SM_NO_MEMORY && n < 100000) {
        sm_show *show = NULL;
        n++;
        fail_in = n + 1;
        sm_findings *const findings = sm_findings_create();
        if (findings)
            result = sm_show_load(folder.path, NULL, findings, &show);
        fail_in = 0;
        assert_null(show);
        sm_findings_destroy(findings);
    }
    assert_int_equal(result, SM_INVALID);
    show_folder_remove(&folder);
}

// Each allocation of the show's own arena, or of the one for what does not stay, in turn. The failing arena is WHICH.
static size_t fail_each(const char *folder, int which) {
    sm_result result = SM_NO_MEMORY;
    size_t n = 0;
    while (result == SM_NO_MEMORY && n < 100000) {
        sm_arena *const arenas[] = {sm_arena_create(), sm_arena_create()};
        sm_findings *const findings = sm_findings_create();
        sm_show *const show = sm_arena_alloc(arenas[0], sizeof *show);
        assert_non_null(show);
        show->arena = arenas[0];
        show->folder = sm_arena_text(arenas[0], folder, strlen(folder));
        sm_arena_fail_at(arenas[which], ++n);
        result = sm_load_show(show, arenas[1], NULL, findings);
        sm_arena_destroy(arenas[0]);
        sm_arena_destroy(arenas[1]);
        sm_findings_destroy(findings);
    }
    assert_int_equal(result, SM_OK);
    return n;
}

static void gives_up_at_each_allocation_of_an_arena(void **state) {
    (void)state;
    assert_true(fail_each("tests/data/show/every-table", 0) > 50);
    assert_true(fail_each("tests/data/show/every-table", 1) > 20);
}

// ---- a million events ---------------------------------------------------------------

static uint32_t next_random(uint32_t *seed) {
    *seed = *seed * 1664525 + 1013904223; // a linear congruential generator
    return *seed >> 16;
}

// COUNT rows for one fixture, three or four channels each, hardly two alike; every hundredth has a note.
static void write_cues(const show_folder *folder, uint32_t count) {
    char path[128];
    uint32_t seed = 1;
    snprintf(path, sizeof path, "%s/cues.csv", folder->path);
    FILE *const out = fopen(path, "w");
    assert_non_null(out);
    fputs("time,target,do,fade,lasts,note\n", out);
    for (uint32_t i = 0; i < count; i++) {
        const uint32_t ms = i * 40;
        fprintf(out, "%u:%02u.%03u,par-1,dim=%u red=%u green=%u", ms / 60000, ms / 1000 % 60, ms % 1000,
                next_random(&seed) % 256, next_random(&seed) % 256, next_random(&seed) % 256);
        if (i % 2 == 0)
            fprintf(out, " blue=%u", next_random(&seed) % 256);
        fprintf(out, ",%s,,%s\n", i % 3 == 0 ? "0.5" : "", i % 100 == 0 ? "bar line" : "");
    }
    assert_int_equal(fclose(out), 0);
}

static void keeps_a_million_events_in_64_bytes_each(void **state) {
    (void)state;
    enum { EVENTS = 1000000 };
    uint32_t count;
    const show_folder folder = show_folder_make_small();
    write_cues(&folder, EVENTS);
    sm_show *const show = show_folder_load(&folder, SM_OK);
    assert_int_equal(show->event_count, EVENTS);
    assert_int_equal(show->cues[EVENTS - 1].time_us, (sm_us)(EVENTS - 1) * 40000);
    assert_int_equal(show->order[EVENTS - 1], EVENTS - 1);
    sm_event_levels(show, EVENTS - 1, &count);
    assert_int_equal(count, 3);
    assert_string_equal(sm_show_text(show, show->cues[EVENTS - 100].note), "bar line");
    const size_t bytes = sm_arena_bytes(show->arena);
    print_message("%.2f bytes an event\n", (double)bytes / EVENTS);
    assert_true(bytes <= (size_t)64 * EVENTS);
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

// A file whose rows grow longer or shorter on the way leaves no more unused than one that does not by much.
static void foresees_rows_of_any_length(void **state) {
    (void)state;
    enum { EVENTS = 200000 };
    for (int is_long_first = 0; is_long_first < 2; is_long_first++) {
        char path[128];
        const show_folder folder = show_folder_make_small();
        snprintf(path, sizeof path, "%s/cues.csv", folder.path);
        FILE *const out = fopen(path, "w");
        assert_non_null(out);
        fputs("time,target,do,note\n", out);
        for (uint32_t i = 0; i < EVENTS; i++)
            fprintf(out, "%u,par-1,dim=1,%s\n", i / 1000,
                    (i < EVENTS / 2) == (is_long_first == 1) ? "a note that says a good deal" : "");
        assert_int_equal(fclose(out), 0);
        sm_show *const show = show_folder_load(&folder, SM_OK);
        assert_int_equal(show->event_count, EVENTS);
        // A row is 40 bytes, its event 8, its place in the order 4; beyond that whole pages of 2 MB.
        assert_true(sm_arena_bytes(show->arena) <= (size_t)52 * EVENTS + ((size_t)4 << 21));
        sm_show_destroy(show);
        show_folder_remove(&folder);
    }
}

// ---- more than a show can hold --------------------------------------------------------

// The only finding of FOLDER, which asks for too much of WHAT in line LINE of FILE.
static void assert_too_many(const show_folder *folder, const char *file, uint32_t line, const char *what) {
    sm_show *show = NULL;
    const sm_show_load_options options = {.keep_invalid = true};
    sm_findings *const findings = sm_findings_create();
    assert_int_equal(sm_show_load(folder->path, &options, findings, &show), SM_INVALID);
    assert_int_equal(sm_findings_count(findings), 1);
    const sm_finding *const only = sm_findings_at(findings, 0);
    assert_string_equal(only->file, file);
    assert_string_equal(only->rule, "range");
    assert_int_equal(only->line, line);
    assert_non_null(strstr(only->message, what));
    assert_non_null(show);
    sm_show_destroy(show);
    sm_findings_destroy(findings);
}

// HEADER and COUNT rows.
static void put_rows(const show_folder *folder, const char *file, const char *header, uint32_t count,
                     void (*write_row)(FILE *out, uint32_t number)) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder->path, file);
    FILE *const out = fopen(path, "w");
    assert_non_null(out);
    fprintf(out, "%s\n", header);
    for (uint32_t i = 0; i < count; i++)
        write_row(out, i);
    assert_int_equal(fclose(out), 0);
}

static void write_rail(FILE *out, uint32_t number) {
    fprintf(out, "%c%u,M1,1,1000\n", number == 0 ? 'A' : 'R', (unsigned)number);
}

static void write_fixture(FILE *out, uint32_t number) {
    fprintf(out, "par-%u,par,1\n", (unsigned)number);
}

static void write_group(FILE *out, uint32_t number) {
    if (number > 0) {
        fprintf(out, "g%u,all\n", (unsigned)number);
        return;
    }
    fputs("all,", out);
    for (uint32_t i = 0; i < 10000; i++)
        fprintf(out, "par-%u ", (unsigned)i);
    fputc('\n', out);
}

static void write_cue(FILE *out, uint32_t number) {
    fprintf(out, "%u,all,dim=1\n", (unsigned)number);
}

static void refuses_what_a_few_rows_could_ask_for(void **state) {
    (void)state;
    const show_folder rails = show_folder_make_small();
    put_rows(&rails, "rails.csv", "name,module,first,slots", 1003, write_rail);
    show_folder_put(&rails, "cues.csv", "time,target,do\n1,A0-1000,comet\n2,R1002-1,comet\n");
    assert_too_many(&rails, "rails.csv", 1002, "more than 1000000 slots of all rails");
    show_folder_remove(&rails);

    const show_folder lights = show_folder_make_small();
    show_folder_put(&lights, "lines.csv", NULL);
    put_rows(&lights, "fixtures.csv", "name,profile,address", 10000, write_fixture);
    put_rows(&lights, "groups.csv", "name,members", 1005, write_group);
    show_folder_put(&lights, "cues.csv", "time,target,do\n1,all,dim=1\n2,g1004,dim=1\n");
    assert_too_many(&lights, "groups.csv", 1002, "more than 10000000 members of all groups");

    put_rows(&lights, "groups.csv", "name,members", 1, write_group);
    put_rows(&lights, "cues.csv", "time,target,do", 1005, write_cue);
    assert_too_many(&lights, "cues.csv", 1002, "more than 10000000 events");
    show_folder_remove(&lights);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(says_so_when_an_allocation_fails),
        cmocka_unit_test(says_so_among_findings_as_well),
        cmocka_unit_test(gives_up_at_each_allocation_of_an_arena),
        cmocka_unit_test(keeps_a_million_events_in_64_bytes_each),
        cmocka_unit_test(foresees_rows_of_any_length),
        cmocka_unit_test(refuses_what_a_few_rows_could_ask_for),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// What must not break a check: files changed at random, and memory that runs out at any allocation.
#include "support/check_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define BASE "tests/data/check/base"
#define COUNT(array) (sizeof(array) / sizeof *(array))

static uint64_t next_random(uint64_t *seed) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed;
}

static size_t below(uint64_t *seed, size_t bound) {
    return (size_t)(next_random(seed) >> 16) % bound;
}

static void format_all(const sm_check_report *report, bool *failed) {
    sm_text text = {0}, json = {0}, sarif = {0};
    sm_check_format_text(&text, report, true);
    sm_check_format_json(&json, report);
    sm_check_format_sarif(&sarif, report, "0");
    *failed = text.failed || json.failed || sarif.failed;
    sm_text_deinit(&text);
    sm_text_deinit(&json);
    sm_text_deinit(&sarif);
}

// ---- files changed at random ------------------------------------------------------------------

static const char *const files[] = {"show.ini",     "modules.csv", "positions.csv", "rails.csv",
                                    "igniters.csv", "effects.csv", "profiles.csv",  "feeds.csv",
                                    "fixtures.csv", "lines.csv",   "groups.csv",    "cues.csv"};
static const char *const pieces[] = {"",      ",",         "\"",       "\n",        "0",
                                     "-1",    "999999999", "1e9",      "par-1",     "A-01",
                                     "jet",   "main",      "rear",     "0.5 s",     "1000 h",
                                     "4 AWG", "0.001 mm2", "255",      "flame=255", "# allow too-brief: x\n",
                                     "\xC3",  "512",       "65536 ft", "2s",        "00:00:00:24"};

// Puts a piece in place of a cell, or of nothing, somewhere in TEXT.
static void mutate(const char *text, uint64_t *seed, sm_text *out) {
    const size_t length = strlen(text);
    size_t from = below(seed, length + 1);
    while (from > 0 && text[from - 1] != ',' && text[from - 1] != '\n')
        from--;
    const size_t cut = below(seed, 4) > 0 ? strcspn(text + from, ",\n") : below(seed, 3);
    const char *piece = pieces[below(seed, COUNT(pieces))];
    sm_text_printf(out, "%.*s%s%s", (int)from, text, piece,
                   text + (from + cut < length ? from + cut : length));
}

static void changed_files_are_judged_without_harm(void **state) {
    (void)state;
    uint64_t seed = 0xBADF11E5u;
    const int rounds = getenv("SLOWMATCH_SOAK") ? 100000 : 1500;
    check_folder folder;
    size_t found = 0;
    check_folder_init(&folder, BASE);
    for (int i = 0; i < rounds; i++) {
        const char *file = files[below(&seed, COUNT(files))];
        char path[512], *text;
        size_t length;
        check_case test;
        bool failed;
        snprintf(path, sizeof path, BASE "/%s", file);
        assert_int_equal(sm_file_read(path, &text, &length), SM_OK);
        sm_text changed = {0}, twice = {0};
        mutate(text, &seed, &changed);
        mutate(sm_text_get(&changed), &seed, &twice);
        check_folder_write(&folder, file, sm_text_get(&twice));
        check_case_init(&test, &folder, NULL);
        format_all(test.report, &failed);
        assert_false(failed);
        found += sm_findings_count(test.report->findings) > 0;
        for (size_t n = 0; n < sm_findings_count(test.report->findings); n++)
            if (!sm_check_rule_find(sm_findings_at(test.report->findings, n)->rule))
                fail_msg("%s is in no table", sm_findings_at(test.report->findings, n)->rule);
        check_case_deinit(&test);
        check_folder_write(&folder, file, text);
        sm_text_deinit(&changed);
        sm_text_deinit(&twice);
        free(text);
    }
    assert_true(found > (size_t)rounds / 2);
    check_folder_deinit(&folder);
}

// ---- memory ------------------------------------------------------------------------------------

#if defined(__has_feature)
#if __has_feature(address_sanitizer)
#define __SANITIZE_ADDRESS__ 1
#endif
#endif

#ifdef __SANITIZE_ADDRESS__
static void memory_may_run_out_anywhere(void **state) {
    (void)state;
    skip(); // the C library's allocator is not ours to stand in for there
}
#else
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t count, size_t size);
void *__libc_realloc(void *block, size_t size);

// Allocations to go until one fails; 0: none will.
static size_t countdown;

static bool fails(void) {
    return countdown > 0 && --countdown == 0;
}

void *malloc(size_t size) {
    return fails() ? NULL : __libc_malloc(size);
}

void *calloc(size_t count, size_t size) {
    return fails() ? NULL : __libc_calloc(count, size);
}

void *realloc(void *block, size_t size) {
    return fails() ? NULL : __libc_realloc(block, size);
}

static void memory_may_run_out_anywhere(void **state) {
    (void)state;
    check_folder folder;
    check_case test;
    check_folder_init(&folder, BASE);
    check_folder_edit(&folder, "cues.csv", "0:08.000,A-02", "0:05.203,A-01");
    check_folder_edit(&folder, "lines.csv", "60ft 3m", "10ft 3m");
    check_folder_edit(&folder, "show.ini", "pyro = 6", "; allow expect-differs: yes\npyro = 7");
    check_case_init(&test, &folder, NULL);
    const size_t expected = sm_findings_count(test.report->findings);
    assert_true(expected >= 2 && sm_findings_count(test.report->allowed) == 1);
    size_t refused = 0;
    for (size_t n = 1;; n++) {
        sm_check_report *report = NULL;
        bool failed = false;
        countdown = n;
        const sm_result result = sm_check_report_create(test.show, folder.path, NULL, NULL, &report);
        if (result == SM_OK)
            format_all(report, &failed);
        const bool reached = countdown == 0;
        countdown = 0;
        assert_true(result == SM_OK || (result == SM_NO_MEMORY && !report));
        if (result == SM_OK)
            assert_int_equal(sm_findings_count(report->findings), expected);
        sm_check_report_destroy(report);
        if (!reached)
            break;
        refused += result != SM_OK || failed;
    }
    assert_true(refused > 20);
    check_case_deinit(&test);
    check_folder_deinit(&folder);
}
#endif

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(changed_files_are_judged_without_harm),
        cmocka_unit_test(memory_may_run_out_anywhere),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

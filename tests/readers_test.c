// SPDX-License-Identifier: GPL-3.0-or-later
// Every reader of what comes from outside takes its sound seeds, and what `make fuzz` once found (tests/data/fuzz), without a crash, a hang
// or a broken promise; the sanitizers watch.
#include "support/readers.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// From memory of its own size, so that the sanitizers see what lies behind it.
static void take(size_t reader, const char *bytes, size_t length) {
    char *copy = malloc(length + !length);
    assert_non_null(copy);
    if (length)
        memcpy(copy, bytes, length);
    readers_take(reader, copy, length);
    free(copy);
}

static unsigned take_corpus(size_t reader) {
    char folder[128];
    unsigned count = 0;
    snprintf(folder, sizeof folder, "tests/data/fuzz/%s", readers_name(reader));
    DIR *listing = opendir(folder);
    for (const struct dirent *entry; listing && (entry = readdir(listing));) {
        char path[512], *bytes;
        size_t length;
        if (entry->d_name[0] == '.')
            continue;
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
        take(reader, bytes, length);
        free(bytes);
        count++;
    }
    if (listing)
        closedir(listing);
    return count;
}

// What makes seeds may leave a text behind with its last no.
static unsigned take_seeds(size_t reader) {
    for (unsigned count = 0;; count++) {
        sm_text text = {0};
        const bool there = readers_seed(reader, count, &text);
        assert_false(text.failed);
        if (there && text.length)
            take(reader, text.bytes, text.length);
        sm_text_deinit(&text);
        if (!there)
            return count;
    }
}

static void each_takes_seeds_and_what_was_found(void **state) {
    (void)state;
    unsigned seeds = 0, found = 0;
    readers_begin();
    for (size_t i = 0; readers_name(i); i++) {
        const unsigned here = take_seeds(i);
        assert_true(here > 0);
        take(i, "", 0);
        seeds += here;
        found += take_corpus(i);
    }
    readers_end();
    print_message("readers_test: %u seeds, %u inputs that were found\n", seeds, found);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_takes_seeds_and_what_was_found),
    };
    return cmocka_run_group_tests_name("readers", tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
#include "manual_page.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

void manual_page_expect_fresh(const char *path, void (*make)(sm_text *out)) {
    char *page;
    size_t length;
    sm_text made = {0};
    make(&made);
    assert_false(made.failed);
    if (getenv("SLOWMATCH_WRITE_MANUAL")) {
        FILE *const out = fopen(path, "w");
        assert_non_null(out);
        assert_int_equal(fwrite(made.bytes, 1, made.length, out), made.length);
        assert_int_equal(fclose(out), 0);
    }
    assert_int_equal(sm_file_read(path, &page, &length), SM_OK);
    if (strcmp(page, sm_text_get(&made)) != 0)
        fail_msg("%s is stale; run this test with SLOWMATCH_WRITE_MANUAL=1", path);
    free(page);
    sm_text_deinit(&made);
}

// SPDX-License-Identifier: GPL-3.0-or-later
#include "log_text.h"

#include "slowmatch/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

char *log_text_read(const char *path) {
    char *text = NULL;
    size_t length;
    assert_int_equal(sm_file_read(path, &text, &length), SM_OK);
    return text;
}

char *log_text_without_lateness(char *log) {
    char *out = log, *next;
    for (char *line = log; *line; line = next) {
        next = strchr(line, '\n');
        assert_non_null(next);
        *next++ = '\0';
        char *rest = strchr(line, ','), *last = strrchr(line, ',');
        assert_true(rest && last > rest);
        *last = '\0';
        if (strstr(rest, ",engine,sound,"))
            continue;
        size_t length = strlen(rest);
        memmove(out, rest, length);
        out[length] = '\n';
        out += length + 1;
    }
    *out = '\0';
    return log;
}

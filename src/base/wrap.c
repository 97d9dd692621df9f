// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/base.h"

#include <string.h>

size_t sm_text_break(const char *text, size_t length, size_t columns, size_t *next) {
    size_t at = 0, used = 0, blank = 0;
    while (at < length) {
        size_t step = sm_utf8_length(text + at, length - at);
        step = step > 0 ? step : 1;
        if (text[at] == ' ')
            blank = at;
        if (used == columns) {
            size_t end = blank > 0 ? blank : at > 0 ? at : step;
            for (*next = end; *next < length && text[*next] == ' ';)
                (*next)++;
            return end;
        }
        at += step;
        used++;
    }
    *next = length;
    return length;
}

static void append_line(sm_text *out, const char *line, size_t length, size_t columns) {
    size_t indent = 0;
    while (indent < length && line[indent] == ' ')
        indent++;
    indent = indent < columns / 2 ? indent : columns / 2;
    size_t hang = indent + 4 < columns / 2 ? indent + 4 : 0, left = columns - indent;
    sm_text_append(out, line, indent);
    line += indent;
    length -= indent;
    do {
        size_t next, bytes = sm_text_break(line, length, left, &next);
        sm_text_append(out, line, bytes);
        sm_text_append(out, "\n", 1);
        line += next;
        length -= next;
        left = columns - hang;
        if (length > 0)
            sm_text_printf(out, "%*s", (int)hang, "");
    } while (length > 0);
}

void sm_text_append_wrapped(sm_text *out, const char *lines, size_t columns) {
    columns = columns < 20 ? 20 : columns;
    while (*lines != '\0') {
        size_t length = strcspn(lines, "\n");
        append_line(out, lines, length, columns);
        lines += length + (lines[length] == '\n');
    }
}

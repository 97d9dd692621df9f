// SPDX-License-Identifier: GPL-3.0-or-later
// Writes JSON (RFC 8259) into a text, value after value. Commas and the escaping of texts are the writer's.
#ifndef SLOWMATCH_JSON_H
#define SLOWMATCH_JSON_H

#include "slowmatch/base.h"

// Begin with {.out = text}. Any thread; what a text that ran out of memory does, the writer does.
typedef struct sm_json {
    sm_text *out;
    bool tight;    // without blanks behind commas and colons
    bool new_line; // the next value begins a line
    bool more;     // a value stands before in the object or array that is open
} sm_json;

// In each, NAME is the member's name, written as it is; NULL within an array, and for the outermost value.

// BRACKET is '{' or '['; each is closed by its own '}' or ']'.
void sm_json_open(sm_json *json, const char *name, char bracket);
void sm_json_close(sm_json *json, char bracket);
// An object on a line of its own in OUT, its brackets and the newline behind it.
sm_json sm_json_line_open(sm_text *out);
void sm_json_line_close(sm_json *json);
// VALUE NULL is null.
void sm_json_text(sm_json *json, const char *name, const char *value);
void sm_json_integer(sm_json *json, const char *name, int64_t value);
void sm_json_bool(sm_json *json, const char *name, bool value);
// With ten digits that count, whatever decimal mark the locale has. What is not finite is null.
void sm_json_number(sm_json *json, const char *name, double value);
// The same with DECIMALS behind the point.
void sm_json_fixed(sm_json *json, const char *name, int decimals, double value);
// US in seconds with six decimals; SM_UNSET_US is null.
void sm_json_seconds(sm_json *json, const char *name, sm_us us);
// VALUE is JSON already: a number that has a notation of its own. NULL is null.
void sm_json_plain(sm_json *json, const char *name, const char *value);

#endif

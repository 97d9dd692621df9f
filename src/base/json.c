// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/json.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void begin(sm_json *json, const char *name) {
    if (json->more)
        sm_text_printf(json->out, "%s", json->tight ? "," : ", ");
    if (json->new_line)
        sm_text_append(json->out, "\n", 1);
    if (name)
        sm_text_printf(json->out, "\"%s\"%s", name, json->tight ? ":" : ": ");
    json->new_line = false;
    json->more = true;
}

void sm_json_open(sm_json *json, const char *name, char bracket) {
    begin(json, name);
    sm_text_append(json->out, &bracket, 1);
    json->more = false;
}

void sm_json_close(sm_json *json, char bracket) {
    sm_text_append(json->out, &bracket, 1);
    json->more = true;
}

sm_json sm_json_line_open(sm_text *out) {
    sm_json json = {.out = out};
    sm_json_open(&json, NULL, '{');
    return json;
}

void sm_json_line_close(sm_json *json) {
    sm_json_close(json, '}');
    sm_text_append(json->out, "\n", 1);
}

void sm_json_plain(sm_json *json, const char *name, const char *value) {
    begin(json, name);
    sm_text_printf(json->out, "%s", value ? value : "null");
}

void sm_json_text(sm_json *json, const char *name, const char *value) {
    if (!value) {
        sm_json_plain(json, name, NULL);
        return;
    }
    begin(json, name);
    sm_text_append_json(json->out, value);
}

void sm_json_integer(sm_json *json, const char *name, int64_t value) {
    begin(json, name);
    sm_text_printf(json->out, "%lld", (long long)value);
}

void sm_json_seconds(sm_json *json, const char *name, sm_us us) {
    char seconds[24];
    sm_json_plain(json, name, us == SM_UNSET_US ? NULL : sm_us_format(seconds, us));
}

void sm_json_bool(sm_json *json, const char *name, bool value) {
    sm_json_plain(json, name, value ? "true" : "false");
}

static void put_digits(sm_json *json, const char *name, double value, char *digits) {
    char *const mark = strchr(digits, ',');
    if (mark)
        *mark = '.';
    sm_json_plain(json, name, isfinite(value) ? digits : NULL);
}

void sm_json_number(sm_json *json, const char *name, double value) {
    char digits[40];
    snprintf(digits, sizeof digits, "%.10g", value);
    put_digits(json, name, value, digits);
}

void sm_json_fixed(sm_json *json, const char *name, int decimals, double value) {
    char digits[340]; // the largest number has 309 before its point
    snprintf(digits, sizeof digits, "%.*f", decimals, value);
    put_digits(json, name, value, digits);
}

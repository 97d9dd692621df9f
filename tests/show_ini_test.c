// SPDX-License-Identifier: GPL-3.0-or-later
// The lines of INI files: what inih would bend is refused, the rest is read by it.
#include "slowmatch/ini.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <string.h>

#include <cmocka.h>

// Entries as "LINE:COLUMN[section];" and "LINE:COLUMN key=VALUE@VALUE COLUMN;", findings as "LINE:COLUMN text".
static void read_text(const char *text, sm_text *entries, sm_text *told) {
    sm_ini ini = {0};
    sm_arena *const arena = sm_arena_create();
    sm_findings *const findings = sm_findings_create();
    assert_int_equal(sm_ini_read("a.ini", text, strlen(text), arena, findings, &ini), SM_OK);
    for (size_t i = 0; i < ini.count; i++) {
        const sm_ini_entry *const each = &ini.entries[i];
        if (!each->key)
            sm_text_printf(entries, "%u:%u[%s];", (unsigned)each->line, (unsigned)each->column,
                           each->section);
        else
            sm_text_printf(entries, "%u:%u %s=%s@%u;", (unsigned)each->line, (unsigned)each->column,
                           each->key, each->value, (unsigned)each->value_column);
    }
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        const sm_finding *const each = sm_findings_at(findings, i);
        assert_string_equal(each->rule, "ini");
        sm_text_printf(told, "%u:%u %s;", (unsigned)each->line, (unsigned)each->column, each->message);
    }
    assert_int_equal(ini.dropped, sm_findings_count(findings));
    sm_findings_destroy(findings);
    sm_arena_destroy(arena);
}

typedef struct sample {
    const char *text, *entries, *told; // told: a part of the one finding, "" for none
} sample;

static const sample good[] = {
    {"[a]\nk = v\n", "1:2[a];2:1 k=v@5;", ""},
    {"\xEF\xBB\xBF[a]\r\nk=v w\r\n", "1:2[a];2:1 k=v w@3;", ""},
    {"; c\n# c\n  ; indented\n\t\n\n[a]\nk=v", "6:2[a];7:1 k=v@3;", ""},
    {"[a]\nk =  two  words  \n", "1:2[a];2:1 k=two  words@6;", ""},
    {"[a]\nt = 01:00:00;00\n", "1:2[a];2:1 t=01:00:00;00@5;", ""},
    {"[a]\nk = a=b\n", "1:2[a];2:1 k=a=b@5;", ""},
    {"[a]\nk =\n[b]\nk=1\n", "1:2[a];2:1 k=@4;3:2[b];4:1 k=1@3;", ""},
    {"[a]\nk = \xC3\xA4\xE2\x82\xAC\n", "1:2[a];2:1 k=\xC3\xA4\xE2\x82\xAC@5;", ""},
    {"", "", ""},
};

static const sample bad[] = {
    {"[a]\nk=v\n  more\nj=w\n", "1:2[a];2:1 k=v@3;4:1 j=w@3;", "3:1 a line may not begin with a blank"},
    {"[a]\n\tk=v\n", "1:2[a];", "2:1 a line may not begin with a blank"},
    {"[a]\nk = v ; why\n", "1:2[a];", "2:7 \" ;\" within a line"},
    {"[a]\nk = ;v\n", "1:2[a];", "2:5 \" ;\" within a line"},
    {"[a]\nk: v\n", "1:2[a];", "2:2 write \"=\""},
    {"[a]\nk:x = v\n", "1:2[a];", "2:2 write \"=\""},
    {"[a]\nk=1\nj=2\nk=3\n", "1:2[a];2:1 k=1@3;3:1 j=2@3;",
     "4:1 k is given a second time in [a]; it is in line 2"},
    {"[a]\nk=1\n[b]\n[a]\nj=2\n[c]\n", "1:2[a];2:1 k=1@3;3:2[b];6:2[c];",
     "4:2 section [a] is here a second time"},
    {"k=v\n[a]\n", "2:2[a];", "1:1 a key stands under a [section]"},
    {"[a]\nwords\n", "1:2[a];", "2:1 this is neither"},
    {"[a]\n= v\n", "1:2[a];", "2:1 a key has 1 to 49"},
    {"[a\nk=v\n", "", "1:3 a section's name ends"},
    {"[a] b\n", "", "1:5 nothing may follow"},
    {"[]\n", "", "1:2 a section's name has"},
    {"[a]\nk=a\rb\n", "1:2[a];", "2:4 a carriage return"},
};

static void judge(const sample *samples, size_t count) {
    for (size_t i = 0; i < count; i++) {
        sm_text entries = {0}, told = {0};
        read_text(samples[i].text, &entries, &told);
        const char *const found = sm_text_get(&told);
        const bool is_told =
            samples[i].told[0] == '\0'
                ? found[0] == '\0'
                : strncmp(found, samples[i].told, strlen(samples[i].told)) == 0 && strchr(found, ';');
        if (strcmp(sm_text_get(&entries), samples[i].entries) != 0 || !is_told)
            fail_msg("%s: \"%s\", \"%s\"", samples[i].text, sm_text_get(&entries), found);
        sm_text_deinit(&entries);
        sm_text_deinit(&told);
    }
}

static void reads_plain_lines(void **state) {
    (void)state;
    judge(good, sizeof good / sizeof good[0]);
}

static void refuses_what_would_be_bent(void **state) {
    (void)state;
    judge(bad, sizeof bad / sizeof bad[0]);
}

// A line of LENGTH bytes "k=xxx..." under [a]; whether it was read whole.
static bool is_read(size_t length) {
    char text[512] = "[a]\n";
    sm_text entries = {0}, told = {0};
    memset(text + 4, 'x', length);
    memcpy(text + 4, "k=", 2);
    memcpy(text + 4 + length, "\nend=1\n", sizeof "\nend=1\n");
    read_text(text, &entries, &told);
    const char *const value = strstr(sm_text_get(&entries), "k=");
    const bool is_whole = value && strspn(value + 2, "x") == length - 2 && told.length == 0;
    const bool is_refused = !value && strstr(sm_text_get(&told), "2:1 a line has at most 199 bytes");
    assert_true(is_whole != is_refused);
    assert_non_null(strstr(sm_text_get(&entries), "3:1 end=1"));
    sm_text_deinit(&entries);
    sm_text_deinit(&told);
    return is_whole;
}

static void takes_lines_of_199_bytes(void **state) {
    (void)state;
    assert_true(is_read(198));
    assert_true(is_read(199));
    assert_false(is_read(200));
    assert_false(is_read(400));
}

static void finds_entries(void **state) {
    (void)state;
    static const char text[] = "[a]\nk=1\n[b]\nk=2\n";
    sm_ini ini = {0};
    sm_arena *const arena = sm_arena_create();
    sm_findings *const findings = sm_findings_create();
    assert_int_equal(sm_ini_read("a.ini", text, sizeof text - 1, arena, findings, &ini), SM_OK);
    assert_string_equal(sm_ini_find(&ini, "b", "k")->value, "2");
    assert_null(sm_ini_find(&ini, "b", "j"));
    assert_int_equal(sm_ini_next_line(&ini, 2), 3);
    assert_int_equal(sm_ini_next_line(&ini, 4), 0);
    sm_findings_destroy(findings);
    sm_arena_destroy(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(reads_plain_lines),
        cmocka_unit_test(refuses_what_would_be_bent),
        cmocka_unit_test(takes_lines_of_199_bytes),
        cmocka_unit_test(finds_entries),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

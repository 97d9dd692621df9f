// SPDX-License-Identifier: GPL-3.0-or-later
// Names, notes and cells that would steer a terminal or turn a line round are fed to every command; none of it comes out. What is
// forbidden is told by the C library's own reading of UTF-8, control characters after ECMA-48, directions after Unicode Standard Annex #9.
#include "support/folder.h"
#include "support/kept.h"
#include "support/pty.h"
#include "support/ran.h"

#include <dirent.h>
#include <jansson.h>
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <wchar.h>

#include <cmocka.h>

// A clipboard being written, a screen being cleared, the same by C1, raw C1, DEL, an override, an isolate, no UTF-8, a return.
#define POISON                                                                                               \
    "P\x1b]52;c;QQ==\x07\x1b[2J\xc2\x9d"                                                                     \
    "0;x\xc2\x9c\x9b"                                                                                        \
    "31m\x7f\xe2\x80\xae"                                                                                    \
    "x\xe2\x81\xa6y\xff\xc0\xaf\rQZQ"
#define SEEN "QZQ" // what must come out of it
#define COUNT(array) (sizeof(array) / sizeof *(array))

typedef struct scene {
    char folder[64], show[256], poisoned[256], logbook[256], book_title[64];
} scene;

// ---- what is forbidden --------------------------------------------------------------------------

static bool is_forbidden(wint_t c) {
    return (c < 0x20 && c != L'\n' && c != L'\t') || (c >= 0x7F && c <= 0x9F) || c == 0x2028 || c == 0x2029 ||
           (c >= 0x202A && c <= 0x202E) || (c >= 0x2066 && c <= 0x2069);
}

// The place of the first byte that is forbidden, LENGTH: there is none. ESC is let through where the screen itself steers.
static size_t find_forbidden(const char *bytes, size_t length) {
    mbstate_t state = {0};
    for (size_t at = 0; at < length;) {
        wchar_t c;
        const size_t step = mbrtowc(&c, bytes + at, length - at, &state);
        if (step == (size_t)-1 || step == (size_t)-2 || step == 0 || is_forbidden((wint_t)c))
            return at;
        at += step;
    }
    return length;
}

static void expect_harmless(const char *what, const char *bytes, size_t length) {
    const size_t at = find_forbidden(bytes, length);
    if (at == length)
        return;
    fprintf(stderr, "in: %.*s\n", (int)(length - at < 60 ? length - at : 60), bytes + at);
    fail_msg("%s: byte %02x at %zu of %zu", what, (unsigned char)bytes[at], at, length);
}

static void expect_json(const char *what, const char *lines) {
    for (const char *line = lines, *end; (end = strchr(line, '\n')); line = end + 1) {
        json_error_t error;
        json_t *value = json_loadb(line, (size_t)(end - line), 0, &error);
        if (!value)
            fail_msg("%s: no JSON: %s: %.*s", what, error.text, (int)(end - line), line);
        json_decref(value);
    }
}

// ---- feeding ------------------------------------------------------------------------------------

typedef struct feed {
    const char *words[RAN_WORDS];
    bool seen; // the poison's end must be in what it says
} feed;

static void feed_it(const feed *each) {
    char what[200] = "";
    bool json = false;
    for (size_t i = 0; i < RAN_WORDS && each->words[i]; i++) {
        json |= strcmp(each->words[i], "--json") == 0;
        snprintf(what + strlen(what), sizeof what - strlen(what), "%.30s ", each->words[i]);
    }
    ran r = ran_slowmatch(each->words, POISON "\nnote " POISON "\n" POISON "\n");
    expect_harmless(what, sm_text_get(&r.out), r.out.length);
    expect_harmless(what, sm_text_get(&r.err), r.err.length);
    if (json)
        expect_json(what, sm_text_get(&r.out));
    if (r.status < 0 || r.status > 2)
        fail_msg("%s: status %d", what, r.status);
    if (each->seen && !strstr(sm_text_get(&r.out), SEEN) && !strstr(sm_text_get(&r.err), SEEN))
        fail_msg("%s: the poison was not in it: %s%s", what, sm_text_get(&r.out), sm_text_get(&r.err));
    ran_free(&r);
}

static void feed_all(const feed *feeds, size_t count) {
    for (size_t i = 0; i < count; i++)
        feed_it(&feeds[i]);
}

// ---- the scene ----------------------------------------------------------------------------------

static const char drill[] =
    "[drill]\ntitle = A drill\nbrief = Do nothing.\npass = 100\n\n"
    "[expect stop]\nafter = begin + 1 s\naction = safe\nwithin = 5 s\nmarks = 100\nhint = Make safe.\n"
    "say = Safe.\n";

// Every text that a person or a file gave, in every table of the logbook.
static void poison_logbook(const scene *s) {
    static const char *const columns[][2] = {
        {"rehearsal", "mode"},      {"rehearsal", "flags"},  {"row", "cue"},        {"row", "detail"},
        {"input", "detail"},        {"reading", "taken"},    {"reading", "person"}, {"reading", "origin"},
        {"walk_tick", "note"},      {"walk_tick", "person"}, {"walk_sign", "who"},  {"drill", "person"},
        {"drill", "title"},         {"debrief", "head"},     {"debrief", "tail"},   {"drill_step", "name"},
        {"drill_step", "words"},    {"attempt", "person"},   {"attempt", "title"},  {"attempt_mark", "name"},
        {"attempt_mark", "reason"}, {"load", "title"},
    };
    for (size_t i = 0; i < COUNT(columns); i++) {
        char *sql = NULL;
        const int length =
            asprintf(&sql, "UPDATE %s SET %s = %s || CAST(X'", columns[i][0], columns[i][1], columns[i][1]);
        sm_text text = {0};
        sm_text_append(&text, sql, (size_t)length);
        for (const char *at = POISON; *at; at++)
            sm_text_printf(&text, "%02X", (unsigned char)*at);
        sm_text_printf(&text, "' AS TEXT)");
        kept_exec(s->logbook, sm_text_get(&text));
        sm_text_deinit(&text);
        free(sql);
    }
}

static void fill_logbook(scene *s) {
    kept_rehearse(s->folder, s->logbook, NULL, NULL);
    kept_rehearse(s->folder, s->logbook, "0 note here\n0 read A-01 2.0\n1 quit\n", NULL);
    const char *const drilled[] = {"drill",  s->show, "one",       "--headless", "--fast",
                                   "--crew", "K",     "--logbook", s->logbook,   NULL};
    ran r = ran_slowmatch(drilled, NULL);
    if (r.status != 0 && r.status != 1)
        fail_msg("the drill: %d %s", r.status, sm_text_get(&r.err));
    ran_free(&r);
    kept_exec(
        s->logbook,
        "UPDATE attempt SET taken_by = ''"); // as if a person had taken it: what a script took counts for nobody
    poison_logbook(s);
}

static int set_up(void **state) {
    scene *s = calloc(1, sizeof *s);
    char path[256];
    assert_non_null(s);
    kept_begin_at_home(s->folder);
    folder_path(s->show, s->folder, "show");
    folder_path(s->poisoned, s->folder, POISON);
    folder_path(s->logbook, s->folder, "logbook.db");
    assert_int_equal(mkdir(folder_path(path, s->show, "drills"), 0700), 0);
    folder_write(path, "one.ini", drill);
    fill_logbook(s);
    assert_int_equal(mkdir(s->poisoned, 0700), 0);
    folder_small_show(s->poisoned);
    assert_int_equal(mkdir(folder_path(path, s->poisoned, "drills"), 0700), 0);
    folder_write(path, POISON ".ini", drill);
    folder_write(s->folder, POISON ".csv", "time,name\n0:01,a " POISON "\n0:02,b\xe2\x80\xae" SEEN "\n");
    folder_write(s->folder, "list.csv",
                 "time,what,where,note\n0:01,fountain,A-01,a\xe2\x80\xae" SEEN "\n0:02,comet,A-02,=b\x7f\n");
    folder_write(s->folder, "map.ini",
                 "[time]\nis = seen\nformat = m:s.f\n[effects]\nfountain = fountain\ncomet = comet\n");
    folder_write(s->folder, "answers.csv", "item,answer,note\nno-" SEEN ",yes,a\xe2\x80\xae" SEEN "\n");
    folder_write(s->folder, "script", "0 note " POISON "\n1 quit\n");
    *state = s;
    return 0;
}

static int tear_down(void **state) {
    scene *s = *state;
    kept_end(s->folder);
    free(s);
    return 0;
}

// ---- the commands -------------------------------------------------------------------------------

static void what_is_read_and_named(void **state) {
    const scene *s = *state;
    char answers[256], script[256], list[256], csv[256], made[256];
    folder_path(answers, s->folder, "answers.csv");
    folder_path(script, s->folder, "script");
    folder_path(list, s->folder, "list.csv");
    folder_path(csv, s->folder, POISON ".csv");
    folder_path(made, s->folder, POISON "-made");
    const feed feeds[] = {
        {{POISON}, true},
        {{"check", "--" POISON}, false},
        {{"check", "-" POISON}, true},
        {{"check", s->poisoned, POISON}, true},
        {{"check", s->poisoned}, false},
        {{"check", csv}, true},
        {{"check", "--json", s->poisoned}, false},
        {{"check", "--sarif", s->poisoned}, false},
        {{"check", "--explain", POISON}, true},
        {{"readings", s->show, csv}, true},
        {{"compare", s->poisoned, csv}, true},
        {{"compare", "--json", s->poisoned, s->show}, false},
        {{"drill", s->poisoned}, true},
        {{"drill", s->poisoned, "--json"}, true},
        {{"drill", s->poisoned, POISON, "--headless", "--fast", "--json"}, false},
        {{"drill", s->show, POISON, "--headless", "--fast"}, true},
        {{"drill", s->show, "--check", csv}, true},
        {{"drill", s->show, "--seat", POISON}, true},
        {{"drill", s->show, "--seed", POISON, "one", "--headless", "--fast"}, true},
        {{"tune", s->poisoned, "--try", csv}, true},
        {{"walk", s->show, "--from", answers, "--logbook", s->logbook}, true},
        {{"walk", s->show, "--sign", POISON, "--logbook", s->logbook}, true},
        {{"paper", s->poisoned, "--out", "-"}, false},
        {{"paper", s->poisoned, "--sheets", POISON}, true},
        {{"paper", s->show, "--out", made}, true},
        {{"lights", s->poisoned, "--lights", POISON, "--lights-to", POISON}, false},
        {{"follow", "localhost:1", "--json", "--broker-keys", csv}, true},
        {{"import", list, made, "--preview"}, false},
        {{"import", csv, made}, true},
        {{"timecode", s->poisoned, csv}, true},
        {{"new", s->poisoned}, false},
        {{"new", made, "--title", POISON}, false},
        {{"rehearse", s->poisoned, "--headless", "--fast", "--script", script}, false},
        {{"rehearse", s->show, "--headless", "--fast", "--script", csv}, true},
        {{"rehearse", s->show, "--headless", "--fast", "--readings", csv}, true},
        {{"rehearse", s->poisoned, "--lines", "--silent"}, false},
    };
    feed_all(feeds, COUNT(feeds));
}

static void what_is_kept(void **state) {
    const scene *s = *state;
    char file[256];
    folder_path(file, s->folder, POISON ".db");
    const feed feeds[] = {
        {{"logbook", "--logbook", s->logbook}, true},
        {{"logbook", "--logbook", s->logbook, "--json"}, true},
        {{"logbook", "--logbook", s->logbook, "show", "1"}, true},
        {{"logbook", "--logbook", s->logbook, "show", "2", "--json"}, true},
        {{"logbook", "--logbook", s->logbook, "replay", "2"}, true},
        {{"logbook", "--logbook", s->logbook, "replay", "3", "--json"}, true},
        {{"logbook", "--logbook", s->logbook, "debrief", "3"}, true},
        {{"logbook", "--logbook", s->logbook, "debrief", "3", "--json"}, true},
        {{"logbook", "--logbook", s->logbook, "compare", "1", "2"}, true},
        {{"logbook", "--logbook", s->logbook, "compare", "1", "2", "--json"}, true},
        {{"logbook", "--logbook", s->logbook, "readings", POISON}, false},
        {{"logbook", "--logbook", s->logbook, "crew"}, true},
        {{"logbook", "--logbook", s->logbook, "crew", "--json"}, true},
        {{"logbook", "--logbook", s->logbook, "progress", "K" POISON}, true},
        {{"logbook", "--logbook", s->logbook, "check"}, false},
        {{"logbook", "--logbook", s->logbook, POISON}, true},
        {{"logbook", "--logbook", s->logbook, "show", POISON}, true},
        {{"logbook", "--logbook", s->logbook, "import", file}, true},
        {{"logbook", "--logbook", file}, true},
        {{"drill", s->show, "--crew", "K" POISON, "--logbook", s->logbook}, false},
        {{"paper", s->show, "--out", "-", "--after", "--logbook", s->logbook}, false},
    };
    feed_all(feeds, COUNT(feeds));
}

// ---- files for people ---------------------------------------------------------------------------

static void expect_file_harmless(const char *folder, const char *name, bool seen) {
    char path[256], *bytes;
    size_t length;
    assert_int_equal(sm_file_read(folder_path(path, folder, name), &bytes, &length), SM_OK);
    expect_harmless(path, bytes, length);
    if (seen && !strstr(bytes, SEEN))
        fail_msg("%s holds nothing of the poison", path);
    free(bytes);
}

// A row is harmless whoever made it; a line of a script that is not is refused.
static void the_log_in_csv(void **state) {
    (void)state;
    sm_text row = {0};
    const sm_log_row poisoned = {
        .kind = {.what = SM_LOG_SOUND}, .cue = POISON, .target = POISON, .detail = POISON};
    sm_log_row_format(&row, &poisoned);
    expect_harmless("a row", sm_text_get(&row), row.length - 1);
    sm_text_deinit(&row);
}

static void an_imported_list(void **state) {
    const scene *s = *state;
    char list[256], made[256], map[256];
    folder_path(map, s->folder, "map.ini");
    folder_path(list, s->folder, "list.csv");
    folder_path(made, s->folder, "made");
    const char *const words[] = {"import", list, made, "--map", map, NULL};
    ran r = ran_slowmatch(words, NULL);
    assert_int_equal(r.status, 0);
    ran_free(&r);
    DIR *files = opendir(made);
    bool any = false;
    assert_non_null(files);
    for (struct dirent *each; (each = readdir(files));)
        if (each->d_name[0] != '.') {
            expect_file_harmless(made, each->d_name, false);
            any = true;
        }
    closedir(files);
    assert_true(any);
    expect_file_harmless(made, "cues.csv", true);
}

// ---- lines that act -----------------------------------------------------------------------------

static void no_line_that_acts_holds_any(void **state) {
    const scene *s = *state;
    static const char *const pieces[] = {"\x1b",         "\x07",         "\x7f",         "\x9b",
                                         "\xff",         "\xc2\x9b",     "\xe2\x80\xae", "\xe2\x81\xa6",
                                         "\xe2\x80\xa8", "\xed\xa0\x80", "\xc0\xaf"};
    sm_show *show = folder_load(s->show);
    for (size_t i = 0; i < COUNT(pieces); i++) {
        char line[40], why[200];
        sm_action action;
        size_t at;
        snprintf(line, sizeof line, "note a%sb", pieces[i]);
        assert_int_equal(sm_action_read(show, line, strlen(line), &action, why, &at), SM_INVALID);
        assert_non_null(strstr(why, "control character"));
    }
    sm_show_destroy(show);
}

// ---- the screen ---------------------------------------------------------------------------------

static void the_screen_steers_alone(void **state) {
    const scene *s = *state;
    char program[256];
    const char *build = getenv("SLOWMATCH_BUILD");
    snprintf(program, sizeof program, "%s/slowmatch", build ? build : "build");
    const char *const argv[] = {program, s->poisoned, "--silent", NULL};
    pty *p = pty_start(100, 30, argv, NULL);
    pty_expect(p, "REHEARSAL SAFE");
    pty_type(p, ":note a\xc2\x9b"
                "31m\xe2\x80\xae"
                "b" SEEN "\r");
    pty_expect(p, SEEN);
    size_t length;
    const char *sent = pty_sent(p, &length);
    static const char *const never[] = {"]52;",         "\xc2\x9b",     "\xc2\x9d",
                                        "\xe2\x80\xae", "\xe2\x81\xa6", "\xff"};
    for (size_t i = 0; i < COUNT(never); i++)
        assert_null(memmem(sent, length, never[i], strlen(never[i])));
    pty_destroy(p);
}

int main(void) {
    if (!setlocale(LC_ALL, "C.UTF-8"))
        return 2;
    setenv("LC_ALL", "C.UTF-8", 1);
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_read_and_named),
        cmocka_unit_test(what_is_kept),
        cmocka_unit_test(the_log_in_csv),
        cmocka_unit_test(an_imported_list),
        cmocka_unit_test(no_line_that_acts_holds_any),
        cmocka_unit_test(the_screen_steers_alone),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}

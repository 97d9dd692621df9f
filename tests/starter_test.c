// SPDX-License-Identifier: GPL-3.0-or-later
// What `slowmatch new` makes: for any numbers and any title a show in which no rule finds anything, whose totals are those it
// expects; what it refuses; the demo show that is its output.
#include "support/check_folder.h"
#include "support/drill_play.h"
#include "support/folder.h"
#include "support/ran.h"

#include "slowmatch/starter.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <sys/wait.h>
#include <unistd.h>

#include <cmocka.h>

#define FIRST_LIGHT "demo-shows/first-light"
#define COUNT(array) (sizeof(array) / sizeof *(array))

static const sm_starter_options plain = {
    .title = "t", .rails = 2, .slots = 8, .lights = 4, .flames = 2, .length_us = 60 * SM_US_PER_S};

// A sm_starter_put into the folder that CONTEXT names. The click track and the drill are left out: 3,600 s of it are 29 MB.
static sm_result put_table(void *context, const char *name, const char *bytes, size_t length) {
    if (!strchr(name, '/') && strcmp(name, "clicks.wav") != 0) {
        assert_int_equal(strlen(bytes), length);
        folder_write(context, name, bytes);
    }
    return SM_OK;
}

static size_t expect_clean(const sm_starter_options *options) {
    const sm_check_options audio = {
        .audio_looked_for = true, .audio_exists = true, .audio_end_us = options->length_us};
    check_folder folder;
    check_case test;
    assert_null(sm_starter_problem(options));
    check_folder_init(&folder, NULL);
    assert_int_equal(sm_starter_make(options, put_table, folder.path), SM_OK);
    check_case_init(&test, &folder, &audio);
    const size_t found = sm_findings_count(test.report->findings);
    if (found != 0) {
        print_error("\"%s\": %u rails of %u slots, %u lights, %u flames, %g s:\n", options->title,
                    options->rails, options->slots, options->lights, options->flames,
                    (double)options->length_us / 1e6);
        check_case_print(&test);
    } else {
        assert_int_equal(test.show->rail_count, options->rails);
        assert_int_equal(test.show->slot_count, options->rails * options->slots);
        assert_int_equal(test.show->fixture_count, options->lights + options->flames);
        assert_int_equal(test.show->length_us, options->length_us / 1000 * 1000);
        assert_true(test.show->event_count > 0);
    }
    check_case_deinit(&test);
    check_folder_deinit(&folder);
    return found != 0;
}

static bool is_end(size_t at, size_t count) {
    return at == 0 || at + 1 == count;
}

static void any_numbers_make_a_show_without_a_finding(void **state) {
    (void)state;
    static const uint32_t rails[] = {0, 1, 2, 3, 5, 27, SM_STARTER_RAILS_MOST},
                          slots[] = {1, 2, 3, 4, 8, SM_STARTER_SLOTS_MOST},
                          lights[] = {0, 1, 2, 4, 17, SM_STARTER_LIGHTS_MOST},
                          flames[] = {0, 1, 2, 17, SM_STARTER_FLAMES_MOST};
    static const sm_us lengths_us[] = {SM_STARTER_LENGTH_LEAST_US, 60 * SM_US_PER_S, 200123456,
                                       SM_STARTER_LENGTH_MOST_US};
    size_t wrong = 0, tried = 0;
    for (size_t r = 0; r < COUNT(rails); r++)
        for (size_t s = 0; s < (rails[r] == 0 ? 1 : COUNT(slots)); s++)
            for (size_t l = 0; l < COUNT(lights); l++)
                for (size_t f = 0; f < COUNT(flames); f++) {
                    sm_starter_options o = plain;
                    o.rails = rails[r];
                    o.slots = slots[s];
                    o.lights = lights[l];
                    o.flames = flames[f];
                    o.length_us = lengths_us[tried++ % COUNT(lengths_us)];
                    const bool is_nothing = o.rails + o.lights + o.flames == 0;
                    assert_int_equal(sm_starter_problem(&o) != NULL, is_nothing);
                    // All corners and one in 61 of the others; every one of them in the long run.
                    const bool is_corner = is_end(r, COUNT(rails)) && is_end(s, COUNT(slots)) &&
                                           is_end(l, COUNT(lights)) && is_end(f, COUNT(flames));
                    if (!is_nothing && (is_corner || tried % 61 == 0 || getenv("SLOWMATCH_SOAK")))
                        wrong += expect_clean(&o);
                }
    assert_int_equal(wrong, 0);
}

static void any_title_is_kept(void **state) {
    (void)state;
    static const char *const titles[] = {
        "Été à l'eau",  "סוף הקיץ",   "ليلة النهر 12",   "川の夜",
        "Ночь на реке", "नदी की रात", "👩‍🚒🎆", "\"quoted\" & <b>bold</b>",
        "a;b; c",       "# nor this", "[limits]",        "a = b = c",
        "100 %s %n",    "x"};
    for (size_t i = 0; i < COUNT(titles); i++) {
        sm_starter_options o = plain;
        char folder[64];
        o.title = titles[i];
        assert_int_equal(expect_clean(&o), 0);
        folder_make(folder);
        assert_int_equal(sm_starter_make(&o, put_table, folder), SM_OK);
        sm_show *show = folder_load(folder);
        assert_string_equal(show->settings.title, titles[i]);
        sm_show_destroy(show);
        folder_remove(folder);
    }
}

static void what_cannot_be_is_refused(void **state) {
    (void)state;
    char long_title[SM_STARTER_TITLE_MOST + 2];
    memset(long_title, 'x', sizeof long_title - 1);
    long_title[sizeof long_title - 1] = '\0';
    const struct {
        const char *title;
        uint32_t rails, slots, lights, flames;
        sm_us length_us;
    } rows[] = {{"", 2, 8, 4, 2, 60000000},         {"  ", 2, 8, 4, 2, 60000000},
                {"a\nb", 2, 8, 4, 2, 60000000},     {"\xFF", 2, 8, 4, 2, 60000000},
                {"\xC2\x85", 2, 8, 4, 2, 60000000}, {long_title, 2, 8, 4, 2, 60000000},
                {"t", 101, 8, 4, 2, 60000000},      {"t", 2, 0, 4, 2, 60000000},
                {"t", 2, 201, 4, 2, 60000000},      {"t", 2, 8, 401, 2, 60000000},
                {"t", 2, 8, 4, 101, 60000000},      {"t", 0, 8, 0, 0, 60000000},
                {"a ; b", 2, 8, 4, 2, 60000000},    {";a", 2, 8, 4, 2, 60000000},
                {"t", 2, 8, 4, 2, 19999999},        {"t", 2, 8, 4, 2, 3600000001}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        const sm_starter_options o = {rows[i].title,  NULL,           rows[i].rails,    rows[i].slots,
                                      rows[i].lights, rows[i].flames, rows[i].length_us};
        assert_non_null(sm_starter_problem(&o));
    }
    long_title[SM_STARTER_TITLE_MOST] = '\0';
    const sm_starter_options o = {long_title, NULL, 2, 8, 4, 2, 60000000};
    assert_int_equal(expect_clean(&o), 0);
}

// ---- the command -----------------------------------------------------------------------------------

typedef struct desk {
    char folder[64];
    sm_text said;
} desk;

static void desk_begin(desk *d) {
    *d = (desk){0};
    folder_make(d->folder);
}

static void desk_end(desk *d) {
    char command[96];
    snprintf(command, sizeof command, "rm -rf '%s'", d->folder);
    assert_int_equal(system(command), 0); // NOLINT(cert-env33-c): folders below folders
    sm_text_deinit(&d->said);
}

// Runs what follows "slowmatch" in LINE; "$D" is the desk's folder.
static int run(desk *d, const char *line) {
    sm_text command = {0};
    sm_text_printf(&command, "D=%s; $S %s", d->folder, line);
    const int status = ran_line(".", sm_text_get(&command), &d->said);
    sm_text_deinit(&command);
    return status;
}

static void expect_said(const desk *d, const char *part) {
    ran_expect(&d->said, part);
}

// Each of the five commands that it prints, in a folder whose name needs quotes.
static void what_it_prints_next_can_be_done(void **state) {
    (void)state;
    desk d;
    desk_begin(&d);
    assert_int_equal(run(&d, "new \"$D/it's new\""), 0);
    char quoted[128];
    snprintf(quoted, sizeof quoted, "slowmatch check '%s/it'\\''s new'", d.folder);
    expect_said(&d, quoted);
    assert_int_equal(run(&d, "check \"$D/it's new\""), 0);
    expect_said(&d, "\nno rule found anything;");
    assert_int_equal(run(&d, "readings \"$D/it's new\" \"$D/it's new/readings-first.csv\""), 1);
    expect_said(&d, "2 readings are off");
    expect_said(&d, "B-01   open");
    expect_said(&d, "B-07   short");
    assert_int_equal(run(&d, "drill \"$D/it's new\""), 0);
    expect_said(&d, "First evening");
    assert_int_equal(run(&d, "paper \"$D/it's new\" --words"), 0);
    expect_said(&d, "LOAD-B");
    assert_int_equal(run(&d, "\"$D/it's new\" --headless --fast"), 0);
    expect_said(&d, ",state,,ended,running");
    desk_end(&d);
}

// The drill can be passed by who does what it asks for.
static void its_drill_can_be_passed(void **state) {
    (void)state;
    desk d;
    desk_begin(&d);
    assert_int_equal(run(&d, "new $D/show"), 0);
    folder_write(d.folder, "script", "9 call-clear J\n12 key on\n13 arm\n18 start\n35 safe\n36 key off\n");
    assert_int_equal(run(&d, "drill $D/show first-evening --headless --fast --script $D/script --json"), 0);
    expect_said(&d, "{\"score\": 100, \"passed\": true}");
    desk_end(&d);
}

static void a_folder_that_holds_something_is_left_alone(void **state) {
    (void)state;
    desk d;
    desk_begin(&d);
    folder_write(d.folder, "mine", "x");
    assert_int_equal(run(&d, "new $D"), 2);
    expect_said(&d, "is not empty");
    assert_int_equal(run(&d, "new $D/mine"), 2);
    assert_int_equal(run(&d, "new $D/a/b"), 0); // folders above it are made
    assert_int_equal(run(&d, "new $D/a/b"), 2);
    static const char *const wrong[] = {"--rails x",     "--rails -1",          "--slots 0",
                                        "--lights 9999", "--length no",         "--length 5",
                                        "--title ' '",   "--music $D/none.ogg", "--flames 1e3",
                                        "--rail 2",      "--music $D/mine",     "--rails ''"};
    for (size_t i = 0; i < COUNT(wrong); i++) {
        char line[96];
        snprintf(line, sizeof line, "new $D/c %s", wrong[i]);
        assert_int_equal(run(&d, line), 2);
        assert_int_equal(run(&d, "check $D/c"), 2); // nothing is there
    }
    desk_end(&d);
}

// Music is copied under a name that show.ini can hold, and the show is as long as it.
static void music_gives_the_length(void **state) {
    (void)state;
    desk d;
    char path[256], *settings;
    size_t length;
    desk_begin(&d);
    assert_int_equal(run(&d, "new $D/show --music demo-shows/lantern-quay/music.ogg --title Quay"), 0);
    assert_int_equal(sm_file_read(folder_path(path, d.folder, "show/show.ini"), &settings, &length), SM_OK);
    assert_non_null(strstr(settings, "\ntitle = Quay\naudio = music.ogg\nlength = 1:32.000\n"));
    free(settings);
    assert_int_equal(run(&d, "check $D/show"), 0);
    expect_said(&d, "\nno rule found anything;");
    assert_int_equal(run(&d, "new $D/longer --music demo-shows/lantern-quay/music.ogg --length 2:00"), 2);
    expect_said(&d, "ends at 1:32.000; leave --length out");
    assert_int_equal(run(&d, "new $D/shorter --music demo-shows/lantern-quay/music.ogg --length 1:00"), 0);
    assert_int_equal(run(&d, "check $D/shorter"), 0);
    expect_said(&d, "\nno rule found anything;");
    assert_int_equal(run(&d, "new $D/title --title 'a ; b'"), 2);
    expect_said(&d, "write the semicolon right behind the word before it");
    desk_end(&d);
}

// A disk on which 100 kB is the most that a file may hold: the click track is larger. Nothing of the show is left, so that the
// same call works when there is room.
static void half_a_show_is_taken_back(void **state) {
    (void)state;
    const char *build = getenv("SLOWMATCH_BUILD");
    desk d;
    char command[256];
    desk_begin(&d);
    snprintf(command, sizeof command, "trap '' XFSZ; ulimit -f 200; %s/slowmatch new %s/show 2>/dev/null",
             build ? build : "build", d.folder);
    const int ended = system(command); // NOLINT(cert-env33-c): the shell's limits
    assert_true(WIFEXITED(ended));
    assert_int_equal(WEXITSTATUS(ended), 2);
    assert_int_equal(run(&d, "new $D/show"), 0);
    desk_end(&d);
}

// Also what a README's reader has before building anything.
static void the_first_demo_show_is_what_it_writes(void **state) {
    (void)state;
    desk d;
    char command[160];
    desk_begin(&d);
    assert_int_equal(run(&d, "new $D/show --title 'First light'"), 0);
    snprintf(command, sizeof command, "diff -r '%s/show' " FIRST_LIGHT, d.folder);
    assert_int_equal(system(command), 0); // NOLINT(cert-env33-c): two trees
    desk_end(&d);
}

// Its drill is a template: every key in it explained, and a run that earns all of it.
static void its_drill_can_be_earned(void **state) {
    (void)state;
    sm_show *show = folder_load(FIRST_LIGHT);
    sm_drill *made = drill_play_load(show, "first-evening");
    sm_findings *findings = sm_findings_create();
    sm_text script = {0};
    int best = 0;
    assert_int_equal(sm_drill_check(made, "first-evening.ini", findings, &best, &script), SM_OK);
    assert_int_equal(best, 100);
    assert_int_equal(sm_findings_count(findings), 0);
    sm_text_deinit(&script);
    sm_findings_destroy(findings);
    sm_drill_destroy(made);
    sm_show_destroy(show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_numbers_make_a_show_without_a_finding),
        cmocka_unit_test(any_title_is_kept),
        cmocka_unit_test(what_cannot_be_is_refused),
        cmocka_unit_test(what_it_prints_next_can_be_done),
        cmocka_unit_test(its_drill_can_be_passed),
        cmocka_unit_test(a_folder_that_holds_something_is_left_alone),
        cmocka_unit_test(music_gives_the_length),
        cmocka_unit_test(half_a_show_is_taken_back),
        cmocka_unit_test(the_first_demo_show_is_what_it_writes),
        cmocka_unit_test(its_drill_can_be_earned),
    };
    return cmocka_run_group_tests_name("starter", tests, NULL, NULL);
}

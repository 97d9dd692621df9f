// SPDX-License-Identifier: GPL-3.0-or-later
// The pictures in the README are what the console draws of the demo show. SLOWMATCH_WRITE_README=1 writes them anew.
#include "support/desk.h"
#include "support/drill_play.h"

#include "slowmatch/check.h"

#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define README "README.md"
#define DEMO "demo-shows/lantern-quay"
#define FIXED DEMO "/readings-fixed.csv"
#define S SM_US_PER_S

// To the boards, armed, and running for so long.
static void run_to(desk *d, sm_us show) {
    desk_type(d, "ncJ\nka\n");
    desk_advance(d, d->show->settings.arm_time_us);
    desk_type(d, "b\n");
    desk_advance(d, d->show->settings.countdown_us + show);
}

static void in_mid_show(desk *d) {
    run_to(d, 22200000);
}

// To the boards, and to the board of function key F.
static void open_board(desk *d, int f) {
    desk_type(d, "n");
    desk_press(d, SM_KEY_F0 + f);
}

static void with_a_fault(desk *d) {
    open_board(d, 3);
    desk_type(d, "/A-05\n");
}

static void with_a_flame(desk *d) {
    run_to(d, 22200000);
    desk_press(d, SM_KEY_F0 + 4);
    desk_type(d, "/jet-2\n");
}

static void before_arming(desk *d) {
    open_board(d, 5);
    desk_advance(d, 40 * S);
    desk_type(d, "cJ\n");
    desk_advance(d, 75 * S);
    desk_type(d, "eK\n");
    desk_advance(d, 10 * S);
}

static void after_the_show(desk *d) {
    desk_type(d, "nWreadings A-05 C-08 left out\n");
    desk_type(d, "cJ\nka\n");
    desk_advance(d, d->show->settings.arm_time_us);
    desk_type(d, "b\n");
    desk_advance(d, 120 * S);
    desk_type(d, " k");
    desk_advance(d, 130 * S);
    desk_press(d, SM_KEY_F0 + 6);
}

// The rules really are run over it: that they find nothing is what the picture says.
static void what_was_found(desk *d) {
    const sm_check_options audio = {.audio_looked_for = true,
                                    .audio_exists = true,
                                    .audio_end_us = d->show->settings.audio_start_us + d->sound.length_us};
    sm_check_report *report = NULL;
    assert_int_equal(sm_check_report_create(d->show, DEMO, d->findings, &audio, &report), SM_OK);
    assert_int_equal(sm_findings_count(report->findings), 0);
    sm_check_report_destroy(report);
    open_board(d, 7);
}

static void what_was_done(desk *d) {
    run_to(d, 22200000);
    desk_press(d, SM_KEY_F0 + 9);
}

static void on_the_ground(desk *d) {
    run_to(d, 16100000);
    desk_press(d, SM_KEY_F0 + 10);
}

static void at_a_walk_item(desk *d) {
    open_board(d, 12);
    desk_type(d, "1by J and K\n");
}

static void figures_for_a_wall(desk *d) {
    run_to(d, 22200000);
    desk_type(d, "D");
}

static void somebody_in_the_field(desk *d) {
    run_to(d, 22200000);
    desk_press(d, SM_KEY_F0 + 5);
    desk_type(d, "eK\n");
    desk_advance(d, 2 * S);
}

static const struct picture {
    const char *name, *readings;
    void (*play)(desk *d);
} pictures[] = {
    {"score", FIXED, in_mid_show},
    {"rails", DEMO "/readings-first.csv", with_a_fault},
    {"fixtures", FIXED, with_a_flame},
    {"guards", FIXED, before_arming},
    {"after", DEMO "/readings-first.csv", after_the_show},
    {"notes", FIXED, what_was_found},
    {"log", FIXED, what_was_done},
    {"ground", FIXED, on_the_ground},
    {"walk", FIXED, at_a_walk_item},
    {"figures", FIXED, figures_for_a_wall},
    {"alert", FIXED, somebody_in_the_field},
};

#define COUNT (sizeof pictures / sizeof pictures[0])

// As a code block of Markdown: four blanks before each row.
static void put_block(desk *d, sm_text *out) {
    sm_text text = {0};
    desk_picture(d, &text);
    for (const char *at = sm_text_get(&text); *at; at += strcspn(at, "\n") + 1) {
        int length = (int)strcspn(at, "\n");
        sm_text_printf(out, "%s%.*s\n", length > 0 ? "    " : "", length, at);
    }
    sm_text_deinit(&text);
}

static void take(const struct picture *picture, sm_text *out) {
    desk d;
    desk_begin(&d, &(desk_options){.folder = DEMO, .readings = picture->readings, .music = true});
    picture->play(&d);
    put_block(&d, out);
    desk_end(&d);
}

static bool take_answer(void *owner, unsigned question, const char *text) {
    (void)owner;
    (void)question;
    assert_string_equal(text, "");
    return true;
}

// The debrief of a first arming in which the trainee turned the key before the clear, and answered the four questions with nothing.
static void take_debrief(sm_text *out) {
    desk d;
    desk_begin(&d, &(desk_options){.folder = DEMO, .readings = FIXED, .music = true});
    sm_drill *drill = drill_play_load(d.show, "01-first-arming");
    sm_drill_run *run =
        drill_play_plain(drill, "m-last 5 key on\nm-last 9 call-clear J\nm-last 12 arm\narmed 2 start\n"
                                "enough 38 safe\nenough 41 key off\n");
    sm_debrief *debrief = NULL;
    assert_int_equal(sm_debrief_create(run, &debrief), SM_OK);
    sm_drill_run_destroy(run);
    sm_drill_view over = {.drill = drill, .over = true};
    d.ui.view.drill = &over;
    d.ui.view.debrief = debrief;
    d.ui.answer = take_answer;
    desk_type(&d, "n");
    desk_press(&d, SM_KEY_F0 + 11);
    desk_type(&d, "\n\n\n\n\n");
    put_block(&d, out);
    desk_end(&d);
    sm_debrief_destroy(debrief);
    sm_drill_destroy(drill);
}

// What stands in README between the picture's two marks; NULL where they are not.
static const char *place(const char *readme, const char *name, size_t *length) {
    char mark[64];
    snprintf(mark, sizeof mark, "<!-- picture: %s -->\n\n", name);
    const char *from = strstr(readme, mark);
    const char *to = from ? strstr(from, "\n<!-- end -->") : NULL;
    if (!to)
        return NULL;
    from += strlen(mark);
    *length = (size_t)(to - from);
    return from;
}

static char *read_readme(void) {
    char *readme = NULL;
    size_t length;
    assert_int_equal(sm_file_read(README, &readme, &length), SM_OK);
    return readme;
}

static void write_picture(const char *name, const sm_text *picture) {
    char *readme = read_readme();
    size_t length;
    const char *from = place(readme, name, &length);
    assert_non_null(from);
    FILE *file = fopen(README, "w");
    assert_non_null(file);
    fprintf(file, "%.*s%s%s", (int)(from - readme), readme, sm_text_get(picture), from + length);
    assert_int_equal(fclose(file), 0);
    free(readme);
}

// PICTURE of NAME stands in the README; it is written there where that was asked for.
static bool stands(const char *name, const sm_text *picture) {
    if (getenv("SLOWMATCH_WRITE_README"))
        write_picture(name, picture);
    char *readme = read_readme();
    size_t length = 0;
    const char *there = place(readme, name, &length);
    bool same = there && length == picture->length && memcmp(there, sm_text_get(picture), length) == 0;
    if (!same)
        fprintf(stderr, "README's picture of %s is not what is drawn now:\n%s", name, sm_text_get(picture));
    free(readme);
    return same;
}

static void the_readme_shows_what_the_console_draws(void **state) {
    (void)state;
    bool same = true;
    sm_text picture = {0};
    for (size_t i = 0; i < COUNT; i++) {
        sm_text_clear(&picture);
        take(&pictures[i], &picture);
        same = stands(pictures[i].name, &picture) && same;
    }
    sm_text_clear(&picture);
    take_debrief(&picture);
    same = stands("debrief", &picture) && same;
    sm_text_deinit(&picture);
    assert_true(same);
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_readme_shows_what_the_console_draws),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

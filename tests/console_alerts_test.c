// SPDX-License-Identifier: GPL-3.0-or-later
// What a crew must not miss, on the screen: each alert and each pair of them is brought about in the engine, and the frame is read at
// every size, on the boards and in the big figures; then one in a real terminal, with colours and without; then anything at all.
#include "screen/theme.h"
#include "support/alert_cases.h"
#include "support/console_rig.h"
#include "support/desk.h"
#include "support/engine_random.h"

#include "slowmatch/inject.h"

#include <ctype.h>
#include <locale.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static const int sizes[][2] = {{40, 12}, {60, 16}, {80, 24}, {200, 60}};

#define COUNT(array) (sizeof(array) / sizeof *(array))

static char folder[] = "/tmp/slowmatch-alerts-XXXXXX";

static int make_folder(void **state) {
    (void)state;
    assert_non_null(mkdtemp(folder));
    engine_folder_write(folder, ALERT_CUES, alert_files);
    return 0;
}

static int remove_folder(void **state) {
    (void)state;
    engine_folder_remove(folder);
    return 0;
}

// Past the first screen; live product is within earshot.
static void begin(desk *d) {
    desk_begin(d, &(desk_options){.folder = folder, .drill = true});
    d->takes_files = true;
    desk_press(d, 'y');
}

// ---- lines of a case, and of two at once -------------------------------------------------------------

// The first line of *LINES, which goes on behind it. False: there is none.
static bool take_line(const char **lines, char line[160]) {
    size_t length = strcspn(*lines, "\n");
    if (length == 0)
        return false;
    snprintf(line, 160, "%.*s", (int)length, *lines);
    *lines += length + 1;
    return true;
}

static double at_of(const char *line) {
    return strtod(line + (line[0] == '!' || line[0] == '~'), NULL);
}

static void do_line(desk *d, const char *line) {
    const char *what = strchr(line, ' ') + 1;
    sm_us at = (sm_us)(at_of(line) * 1e6);
    if (at > d->wall.us)
        desk_advance(d, at - d->wall.us);
    if (alert_case_timecode(d->rehearsal, line))
        desk_look(d);
    else if (line[0] == '!')
        desk_inject(d, what);
    else
        (void)desk_act(d, what, SM_SOURCE_CONSOLE); // the other of a pair may stand against it
}

// The lines of both, by their moments; what both begin with is done once.
static void do_both(desk *d, const char *a, const char *b) {
    char one[160] = "", other[160] = "", done[160] = "";
    bool has_one = take_line(&a, one), has_other = take_line(&b, other);
    while (has_one || has_other) {
        bool first = has_one && (!has_other || at_of(one) <= at_of(other));
        if (has_one && has_other && strcmp(one, other) == 0)
            has_other = take_line(&b, other);
        snprintf(done, sizeof done, "%s", first ? one : other);
        do_line(d, done);
        if (first)
            has_one = take_line(&a, one);
        else
            has_other = take_line(&b, other);
    }
}

// ---- reading the frame -------------------------------------------------------------------------------

// Where TEXT (of ASCII) begins as drawn last; false: nowhere.
static bool find(const desk *d, const char *text, int *x, int *y) {
    int length = (int)strlen(text);
    for (*y = 0; *y < sm_cells_rows(d->cells); ++*y)
        for (*x = 0; *x + length <= sm_cells_columns(d->cells); ++*x) {
            int same = 0;
            while (same < length && sm_cells_at(d->cells, *x + same, *y)->text[0] == text[same])
                same++;
            if (same == length)
                return true;
        }
    return false;
}

static void fail_with_picture(desk *d, const char *what) {
    sm_text picture = {0};
    desk_picture(d, &picture);
    fprintf(stderr, "%s at %dx%d, not in\n%s", what, sm_cells_columns(d->cells), sm_cells_rows(d->cells),
            sm_text_get(&picture));
    fail();
}

// The essential words of the most pressing alert stand in the frame, after the word of their rank, and look other than plain text.
static void expect_alert(desk *d) {
    static const char *const ranks[] = {"", "WARNING ", "CAUTION ", "ADVISORY "}; // as slowmatch(1) has them
    const sm_alert *first = &d->ui.alerts.at[0];
    char words[SM_ALERT_WORDS];
    int x, y;
    snprintf(words, sizeof words, "%s%.*s", ranks[sm_alert_row_of(first->id)->rank], (int)first->essential,
             first->words);
    sm_frame_draw(&d->ui, d->cells);
    if (!find(d, words, &x, &y))
        fail_with_picture(d, words);
    for (int i = 0; i < (int)strlen(words); i++)
        if (sm_cells_at(d->cells, x + i, y)->look == SM_LOOK_PLAIN)
            fail_with_picture(d, "words that look plain");
}

// What is to be done first is there as well, however long the list of names: of what cannot wait.
static void expect_to_do(desk *d) {
    const sm_alert *first = &d->ui.alerts.at[0];
    const char *to_do = sm_alert_to_do(first->id, d->now->state, d->now->key);
    char words[SM_ALERT_WORDS];
    snprintf(words, sizeof words, "%c%.*s", toupper((unsigned char)to_do[0]), (int)strcspn(to_do + 1, ",;:"),
             to_do + 1);
    if (sm_alert_row_of(first->id)->rank < SM_ALERT_ADVISORY && !desk_says(d, words))
        fail_with_picture(d, words);
}

static void expect_alert_everywhere(desk *d) {
    for (size_t i = 0; i < COUNT(sizes); i++) {
        desk_size(d, sizes[i][0], sizes[i][1]);
        for (int big = 0; big <= 1; big++) {
            d->ui.choices.big = big;
            expect_alert(d);
            expect_to_do(d);
        }
    }
}

// Whoever has never seen it finds the key to the list in the foot, while there is something in it.
static void the_foot_has_the_key_to_the_list(void **state) {
    (void)state;
    desk d;
    int x, y;
    begin(&d);
    desk_size(&d, 80, 24);
    sm_frame_draw(&d.ui, d.cells);
    assert_false(find(&d, "! alerts", &x, &y));
    do_both(&d, ALERT_RUNNING "!2 misfire A-02\n6 enter K\n", "");
    sm_frame_draw(&d.ui, d.cells);
    if (!find(&d, "! alerts", &x, &y) || y != 23)
        fail_with_picture(&d, "! alerts");
    desk_press(&d, '!');
    sm_frame_draw(&d.ui, d.cells);
    assert_true(find(&d, "call them out by name", &x, &y));
    desk_end(&d);
}

static void expect_look(sm_palette palette, sm_look look) {
    const sm_ink *ink = sm_theme_ink(palette, look), *plain = sm_theme_ink(palette, SM_LOOK_PLAIN);
    bool told = ink->attributes != plain->attributes;
    assert_true(told || (ink->rgb != plain->rgb && ink->of256 != plain->of256 && ink->of16 != plain->of16));
}

// Reverse video for a warning, bold for a caution, without colours as well.
static void ranks_look_other_than_plain_in_every_palette(void **state) {
    (void)state;
    for (int palette = 0; palette < SM_PALETTE_COUNT; palette++) {
        expect_look((sm_palette)palette, SM_LOOK_BADGE_ALERT);
        expect_look((sm_palette)palette, SM_LOOK_WARN);
        assert_true(sm_theme_ink((sm_palette)palette, SM_LOOK_BADGE_ALERT)->attributes & SM_REVERSE);
    }
    assert_true(sm_theme_plain_attributes(SM_LOOK_BADGE_ALERT) & SM_REVERSE);
    assert_true(sm_theme_plain_attributes(SM_LOOK_WARN) & SM_BOLD);
    assert_int_not_equal(sm_theme_plain_attributes(SM_LOOK_DIM), sm_theme_plain_attributes(SM_LOOK_PLAIN));
}

static void each_alone(void **state) {
    (void)state;
    for (size_t i = 0; i < ALERT_CASES; i++) {
        const alert_case *c = &alert_cases[i];
        desk d;
        begin(&d);
        do_both(&d, c->lines, "");
        desk_advance(&d, (sm_us)(c->at_s * 1e6) - d.wall.us);
        assert_non_null(sm_alerts_find(&d.ui.alerts, c->id));
        expect_alert_everywhere(&d);
        desk_end(&d);
    }
}

// "call; nobody" would say the wrong thing: half a clause is never shown.
static void what_to_do_is_cut_behind_a_clause(void **state) {
    (void)state;
    static const struct {
        int columns;
        const char *shown, *cut;
    } rows[] = {{80, "everybody back, call", "nobody"},
                {62, "everybody back", ", call"},
                {200, "call; nobody fights it", "nobody fights it +"}};
    desk d;
    int x, y;
    begin(&d);
    do_both(&d, ALERT_RUNNING "!6 fire left\n", "");
    for (size_t i = 0; i < COUNT(rows); i++) {
        desk_size(&d, rows[i].columns, 24);
        sm_frame_draw(&d.ui, d.cells);
        if (!find(&d, rows[i].shown, &x, &y) || find(&d, rows[i].cut, &x, &y))
            fail_with_picture(&d, rows[i].shown);
    }
    desk_end(&d);
}

// An advisory has one row: it is cut behind a word, and how many more there are still stands.
static void an_advisory_that_is_cut_says_so(void **state) {
    (void)state;
    desk d;
    int x, y;
    begin(&d);
    do_both(&d, "1 inhibit aerial\n1 inhibit A-01\n1 inhibit B\n1 speed 0.5\n", "");
    desk_size(&d, 40, 12);
    sm_frame_draw(&d.ui, d.cells);
    if (!find(&d, "ADVISORY HELD BACK 5 slots ", &x, &y) || !find(&d, "+1 more", &x, &y))
        fail_with_picture(&d, "HELD BACK, cut, +1 more");
    assert_string_equal(sm_cells_at(d.cells, 28, 2)->text, "\u2026");
    desk_end(&d);
}

static void what_to_do_is_there_however_long_the_list(void **state) {
    (void)state;
    static const char *const people[] = {"enter Konstantin", "enter Magdalena", "enter Bartholomew",
                                         "enter Wilhelmine"};
    desk d;
    int x, y;
    begin(&d);
    do_both(&d, ALERT_RUNNING, "");
    for (size_t i = 0; i < COUNT(people); i++)
        (void)desk_act(&d, people[i], SM_SOURCE_CONSOLE);
    desk_size(&d, 80, 24);
    sm_frame_draw(&d.ui, d.cells);
    if (!find(&d, "WARNING IN FIELD 4: Konstantin", &x, &y) || !find(&d, "Make safe, key off +", &x, &y))
        fail_with_picture(&d, "names, and what to do");
    expect_alert_everywhere(&d);
    desk_end(&d);
}

static void those_that_hang_on_the_day_the_logbook_or_the_device(void **state) {
    (void)state;
    desk d;
    begin(&d);
    d.sound.state = SM_AUDIO_SOUNDING;
    desk_look(&d);
    assert_int_equal(d.ui.alerts.at[0].id, SM_ALERT_OFFSET);
    expect_alert_everywhere(&d);
    d.ui.view.not_kept = "no space left on device";
    desk_look(&d);
    assert_int_equal(d.ui.alerts.at[0].id, SM_ALERT_NOT_KEPT);
    expect_alert_everywhere(&d);
    d.time_of_day.launch_us += INT64_C(400) * 24 * 3600 * SM_US_PER_S;
    desk_look(&d);
    assert_int_equal(d.ui.alerts.at[0].id, SM_ALERT_READINGS_OLD);
    expect_alert_everywhere(&d);
    desk_end(&d);
}

// State row, alert and guards (F5) say why a timecode lets nothing start, each in its room.
static void a_timecode_that_waits_says_why(void **state) {
    (void)state;
    static const struct {
        const char *news, *row, *alert, *fact;
    } cases[] = {
        {"~1 waiting no sound", "timecode WAITING: no sound", "TIMECODE WAITING: no sound",
         "WAITING for 1 s: no sound"},
        {"~1 waiting level too low, or nothing is sent, at -80 dBFS", "timecode WAITING: level too low",
         "TIMECODE WAITING: level too low, or nothing is sent, at -80 dBFS",
         "WAITING for 1 s: level too low, or nothing is sent, at -80 dBFS"},
        {"~1 lost it runs backward: not followed", "timecode LOST: it runs backward",
         "TIMECODE LOST: it runs backward: not followed", "LOST for 1 s: it runs backward: not followed"},
        {"~1 locked 75.000000 at 1.000000, speed 1.000000, rate 25",
         "timecode LOCKED past the end of the show", "TIMECODE OUTSIDE: past the end of the show",
         "LOCKED for 1 s, past the end of the show; show 1:16.000, 25"},
        {"~1 locked 5.000000 at 1.000000, speed 1.000000, rate 29.97 drop", "timecode LOCKED",
         "TIMECODE 29.97 drop, the show has 25", "LOCKED for 1 s; show 0:06.000, 29.97 drop frames"},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        desk d;
        begin(&d);
        assert_false(desk_says(&d, "timecode"));
        assert_true(alert_case_timecode(d.rehearsal, cases[i].news));
        desk_advance(&d, 2 * SM_US_PER_S);
        desk_size(&d, 100, 40);
        desk_press(&d, SM_KEY_F0 + 5);
        if (!desk_says(&d, cases[i].row) || !desk_says(&d, cases[i].alert) || !desk_says(&d, cases[i].fact))
            fail_with_picture(&d, cases[i].fact);
        desk_end(&d);
    }
}

static void every_pair(void **state) {
    (void)state;
    unsigned both = 0;
    for (size_t i = 0; i < ALERT_CASES; i++)
        for (size_t k = i + 1; k < ALERT_CASES; k++) {
            const alert_case *a = &alert_cases[i], *b = &alert_cases[k];
            double at_s = a->at_s > b->at_s ? a->at_s : b->at_s;
            desk d;
            begin(&d);
            do_both(&d, a->lines, b->lines);
            desk_advance(&d, (sm_us)(at_s * 1e6) - d.wall.us);
            both += sm_alerts_find(&d.ui.alerts, a->id) && sm_alerts_find(&d.ui.alerts, b->id);
            if (d.ui.alerts.count > 0)
                expect_alert_everywhere(&d);
            desk_end(&d);
        }
    assert_true(both > 120); // of 300: some exclude each other, some are over by the other's moment
}

// ---- in a terminal -------------------------------------------------------------------------------------

static void in_a_terminal(const char *const *environment, bool colours) {
    console_rig r;
    console_begin_at(&r, "1 s", 80, 24, environment);
    pty_expect(r.p, "It has no way to fire anything");
    pty_type(r.p, "y");
    console_arm(&r);
    pty_type(r.p, "eK\r");
    for (size_t i = 0; i < COUNT(sizes); i++) {
        const int row = 2;
        pty_resize(r.p, sizes[i][0], sizes[i][1]);
        pty_expect_row(r.p, row, "WARNING IN FIELD 1");
        assert_true(pty_is_reversed(r.p, 1, row) && pty_is_reversed(r.p, 18, row));
        assert_true((pty_ink(r.p, 1, row) >= 0) == colours);
    }
    pty_type(r.p, "D");
    pty_resize(r.p, 80, 24);
    pty_expect_row(r.p, 2, "WARNING IN FIELD 1");
    pty_type(r.p, " ");
    console_quit(&r);
    console_end(&r);
}

static void one_in_a_terminal_with_colours_and_without(void **state) {
    (void)state;
    in_a_terminal((const char *const[]){"TERM=screen-256color", NULL}, true);
    in_a_terminal((const char *const[]){"TERM=vt220", NULL}, false);
}

// ---- what is heard ---------------------------------------------------------------------------------------

// What is due is taken as the console takes it.
static unsigned taken_tones(desk *r) {
    unsigned tones = r->ui.tones;
    r->ui.tones = 0;
    return tones;
}

static bool taken_bell(desk *r) {
    bool bell = r->ui.bell;
    r->ui.bell = false;
    return bell;
}

static void alerts_are_heard_until_they_are_acknowledged(void **state) {
    desk *r = *state;
    r->sound.state = SM_AUDIO_SOUNDING;
    desk_arm(r);
    (void)taken_tones(r);
    (void)taken_bell(r);
    desk_do(r, "enter K");
    desk_look(r);
    assert_int_equal(taken_tones(r), 1u << SM_TONE_WARNING);
    desk_advance(r, 3 * SM_US_PER_S);
    assert_int_equal(taken_tones(r), 0);
    desk_advance(r, SM_US_PER_S);
    assert_int_equal(taken_tones(r), 1u << SM_TONE_WARNING); // nobody has looked yet
    desk_type(r, "!");
    desk_advance(r, 60 * SM_US_PER_S);
    assert_int_equal(taken_tones(r), 0);
    assert_true(desk_shows(r, "WARNING IN FIELD 1")); // acknowledged is not over
    desk_type(r, "q");
    desk_do(r, "read A-04 1.7"); // a stray: a caution
    desk_look(r);
    assert_int_equal(taken_tones(r), 1u << SM_TONE_CAUTION);
    assert_false(taken_bell(r));
}

static void where_no_sound_plays_the_bell_rings_once_for_a_new_alert(void **state) {
    desk *r = *state;
    desk_arm(r);
    (void)taken_bell(r);
    desk_do(r, "enter K");
    desk_look(r);
    assert_true(taken_bell(r));
    desk_advance(r, 30 * SM_US_PER_S);
    assert_false(taken_bell(r));
    desk_type(r, "Ty"); // live product within earshot
    desk_do(r, "leave K");
    desk_do(r, "enter M");
    desk_look(r);
    assert_false(taken_bell(r));
    assert_int_equal(taken_tones(r), 0);
}

// ---- anything at all -------------------------------------------------------------------------------------

static const char *const acts[] = {"enter K",
                                   "enter M",
                                   "leave K",
                                   "leave M",
                                   "call-clear J",
                                   "call-clear J",
                                   "call-clear J",
                                   "key on",
                                   "key on",
                                   "key off",
                                   "arm",
                                   "arm",
                                   "arm",
                                   "start",
                                   "start",
                                   "start",
                                   "pause",
                                   "resume",
                                   "safe",
                                   "seek 20",
                                   "measure",
                                   "rerig",
                                   "inhibit aerial",
                                   "allow aerial",
                                   "unplug B",
                                   "plug B",
                                   "wind 12",
                                   "wind 3",
                                   "read A-01 1.8",
                                   "repair A-01",
                                   "report A-02",
                                   "answer heard"};
static const char *const events[] = {"misfire A-02",    "storm",          "fire left",        "link lost",
                                     "link back",       "flame-stuck F1", "fires-alone A-03", "tip A-01",
                                     "person in-field", "person out",     "no-answer M",      "sound lost",
                                     "sound back"};
static const int odd_keys[] = {SM_KEY_ENTER, SM_KEY_ESCAPE, SM_KEY_TAB,  SM_KEY_BACKSPACE,
                               SM_KEY_UP,    SM_KEY_DOWN,   SM_KEY_HOME, SM_KEY_STOP_TYPING};

// As far as it goes: what happened before may stand against it.
static void arm_and_start(desk *d) {
    static const char *const lines[] = {"leave K",      "leave M",      "plug B", "measure", "repair A-01",
                                        "answer heard", "call-clear J", "key on", "arm"};
    for (size_t i = 0; i < COUNT(lines); i++)
        (void)desk_act(d, lines[i], SM_SOURCE_CONSOLE);
    desk_advance(d, SM_US_PER_S);
    (void)desk_act(d, "start", SM_SOURCE_CONSOLE);
}

static void do_anything(desk *d, engine_dice *dice) {
    switch (engine_roll(dice, 9)) {
    case 0:
        if (engine_roll(dice, 4) == 0)
            arm_and_start(d);
        break;
    case 1:
    case 2:
        (void)desk_act(d, acts[engine_roll(dice, COUNT(acts))], SM_SOURCE_CONSOLE);
        break;
    case 3:
        if (engine_roll(dice, 40) == 0)
            desk_inject(d, events[engine_roll(dice, COUNT(events))]);
        break;
    case 4:
        desk_press(d, odd_keys[engine_roll(dice, COUNT(odd_keys))]);
        break;
    case 5:
        desk_press(d, SM_KEY_F0 + 1 + (int)engine_roll(dice, 12));
        break;
    case 6:
        desk_press(d, ' ' + (int)engine_roll(dice, '~' - ' ' + 1));
        break;
    default:
        desk_advance(d, (sm_us)engine_roll(dice, 1500) * 1000);
        break;
    }
    desk_look(d);
}

static void expect_state_and_people(desk *d) {
    char word[24] = "REHEARSAL ";
    const char *state = d->now->incidents.link_lost ? "link lost" : sm_state_text(d->now->state);
    size_t length = strlen(word);
    int x, y;
    for (; *state; state++)
        word[length++] = (char)toupper((unsigned char)*state);
    word[length] = '\0';
    sm_frame_draw(&d->ui, d->cells);
    if (!find(d, word, &x, &y))
        fail_with_picture(d, word);
    bool further = d->now->state >= SM_STATE_ARMED;
    if (further && d->now->people_count > 0 && !find(d, "IN FIELD", &x, &y))
        fail_with_picture(d, "IN FIELD");
}

static void no_frame_lacks_the_state_or_who_is_in_the_field(void **state) {
    (void)state;
    unsigned steps = engine_soaks() ? 1000000 : 20000, in_field = 0;
    engine_dice dice = {7};
    desk d;
    begin(&d);
    for (unsigned step = 0; step < steps; step++) {
        if (step % 500 == 499) { // a storm or a fire never ends: begin anew
            desk_end(&d);
            begin(&d);
        }
        if (engine_roll(&dice, 50) == 0)
            desk_size(&d, 40 + (int)engine_roll(&dice, 120), 12 + (int)engine_roll(&dice, 40));
        do_anything(&d, &dice);
        in_field += d.now->people_count > 0 && d.now->state >= SM_STATE_ARMED;
        expect_state_and_people(&d);
    }
    assert_true(in_field > steps / 100);
    desk_end(&d);
}

int main(void) {
    setenv("TZ", "UTC", 1);
    if (!setlocale(LC_CTYPE, "C.UTF-8"))
        return 1;
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(ranks_look_other_than_plain_in_every_palette),
        cmocka_unit_test(the_foot_has_the_key_to_the_list),
        cmocka_unit_test(each_alone),
        cmocka_unit_test(what_to_do_is_cut_behind_a_clause),
        cmocka_unit_test(an_advisory_that_is_cut_says_so),
        cmocka_unit_test(what_to_do_is_there_however_long_the_list),
        cmocka_unit_test(those_that_hang_on_the_day_the_logbook_or_the_device),
        cmocka_unit_test(a_timecode_that_waits_says_why),
        cmocka_unit_test(every_pair),
        cmocka_unit_test(one_in_a_terminal_with_colours_and_without),
        cmocka_unit_test_setup_teardown(alerts_are_heard_until_they_are_acknowledged, desk_setup_short,
                                        desk_teardown),
        cmocka_unit_test_setup_teardown(where_no_sound_plays_the_bell_rings_once_for_a_new_alert,
                                        desk_setup_short, desk_teardown),
        cmocka_unit_test(no_frame_lacks_the_state_or_who_is_in_the_field),
    };
    return cmocka_run_group_tests_name("console_alerts", tests, make_folder, remove_folder);
}

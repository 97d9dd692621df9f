// SPDX-License-Identifier: GPL-3.0-or-later
// One planted fault a rule: the clean base show with one thing changed gives that rule's finding and no other, with its
// severity, at the cell that one would edit.
#include "support/check_folder.h"

#include "slowmatch/drill.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <string.h>

#include <cmocka.h>

#define BASE "tests/data/check/base"
#define COUNT(array) (sizeof(array) / sizeof *(array))

typedef struct edit {
    const char *file, *from, *to;
} edit;

// What is planted, and where the one finding must stand: the line of FILE that begins with ROW, the cell COLUMN. In
// show.ini the row is the key, and the cell its value. ROW NULL: at the file as a whole.
typedef struct fault {
    const char *rule;
    sm_severity severity;
    edit edits[3];
    const char *file, *row, *column;
} fault;

static const sm_check_options whole_audio = {
    .audio_looked_for = true, .audio_exists = true, .audio_end_us = 3600 * SM_US_PER_S};

static const fault faults[] = {
    // ---- time
    {"before-start", SM_ERROR, {{"cues.csv", "0:01.000,pars", "-6,pars"}}, "cues.csv", "-6,pars", "time"},
    {"before-start",
     SM_ERROR,
     {{"effects.csv", "comet,match,0.2 s", "comet,match,12 s"}},
     "cues.csv",
     "0:05.000,A-01",
     "time"},
    {"past-end",
     SM_ERROR,
     {{"cues.csv", "0:40.000,C-02", "1:40.000,C-02"}},
     "cues.csv",
     "1:40.000,C-02",
     "time"},
    {"out-of-order",
     SM_NOTE,
     {{"cues.csv", "0:08.000,A-02", "0:04.000,A-02"}},
     "cues.csv",
     "0:04.000,A-02",
     "time"},
    {"lead-unknown",
     SM_WARNING,
     {{"effects.csv", "comet,match,0.2 s", "comet,match,"}},
     "effects.csv",
     "comet",
     "lead"},
    {"expect-differs", SM_WARNING, {{"show.ini", "events = 15", "events = 16"}}, "show.ini", "events", NULL},
    {"expect-differs", SM_WARNING, {{"show.ini", "pyro = 6", "pyro = 7"}}, "show.ini", "pyro", NULL},
    {"expect-differs", SM_WARNING, {{"show.ini", "fixture = 9", "fixture = 8"}}, "show.ini", "fixture", NULL},
    // ---- slots
    {"slot-unknown",
     SM_ERROR,
     {{"cues.csv", "0:05.000,B-01", "0:05.000,B-09"}},
     "cues.csv",
     "0:05.000,B-09",
     "target"},
    {"slot-reused",
     SM_ERROR,
     {{"cues.csv", "0:08.000,A-02", "0:08.000,A-01"}},
     "cues.csv",
     "0:08.000,A-01",
     "target"},
    {"rail-overlap", SM_ERROR, {{"rails.csv", "B,north,9", "B,north,8"}}, "rails.csv", "B", "first"},
    {"rail-past-module", SM_ERROR, {{"rails.csv", "C,south,1,8", "C,south,1,13"}}, "rails.csv", "C", "slots"},
    {"gap-short",
     SM_ERROR,
     {{"cues.csv", "0:08.000,A-02", "0:05.205,A-02"}},
     "cues.csv",
     "0:05.205,A-02",
     "time"},
    {"too-many-at-once",
     SM_ERROR,
     {{"cues.csv", "0:08.000,A-02", "0:05.200,A-02"}, {"modules.csv", "10 ms,3,10 mA", "10 ms,1,10 mA"}},
     "cues.csv",
     "0:05.200,A-02",
     "time"},
    {"effect-unknown",
     SM_ERROR,
     {{"cues.csv", "B-01,fountain", "B-01,fountian"}},
     "cues.csv",
     "0:05.000,B-01",
     "do"},
    // ---- firing line. 400 m of 24 AWG out and back is 67 ohm at 20 C: 15 V give 0.2 A. 115 m: 0.6 A, 1.2 times 0.5 A.
    {"current-low",
     SM_ERROR,
     {{"cues.csv", "A-01,comet,,,,,,", "A-01,comet,,,,400 m 24 AWG,,"}},
     "cues.csv",
     "0:05.000,A-01",
     "target"},
    {"current-low",
     SM_WARNING,
     {{"cues.csv", "A-01,comet,,,,,,", "A-01,comet,,,,115 m 24 AWG,,"}},
     "cues.csv",
     "0:05.000,A-01",
     "target"},
    // 50 m of 24 AWG out and back are 9.3 ohm when hot: about 1.1 A, and 2 ms of it about 2.5 mJ/ohm; 5 are asked for.
    {"pulse-short",
     SM_WARNING,
     {{"modules.csv", "north,24,18 V,15 V,0.5 ohm,40 ms", "north,24,18 V,15 V,0.5 ohm,2 ms"},
      {"cues.csv", "A-01,comet,,,,,,", "A-01,comet,,,,50 m 24 AWG,,"}},
     "cues.csv",
     "0:05.000,A-01",
     "target"},
    {"charge-unknown",
     SM_WARNING,
     {{"modules.csv", "at_once,test_current", "at_once,test_current,capacitance,charge_ohms"},
      {"modules.csv", "10 ms,3,10 mA", "10 ms,3,10 mA,,10 ohm"},
      {"modules.csv", "10 ms,8,10 mA", "10 ms,8,10 mA,,"}},
     "modules.csv",
     "north",
     "capacitance"},
    {"test-current-high",
     SM_ERROR,
     {{"modules.csv", "10 ms,3,10 mA", "10 ms,3,21 mA"}},
     "modules.csv",
     "north",
     "test_current"},
    {"test-current-high",
     SM_ERROR,
     {{"modules.csv", "10 ms,3,10 mA", "10 ms,3,51 mA"}, {"igniters.csv", ",0.2 A,", ",1 A,"}},
     "modules.csv",
     "north",
     "test_current"},
    {"igniter-unknown",
     SM_ERROR,
     {{"effects.csv", "bang,match", "bang,mach"}},
     "effects.csv",
     "bang",
     "igniter"},
    {"cable-unknown", SM_WARNING, {{"rails.csv", "8,60 ft", "8,0 ft"}}, "rails.csv", "C", "cable_length"},
    // ---- DMX
    {"address-overlap",
     SM_ERROR,
     {{"fixtures.csv", "par-2,par,1,11", "par-2,par,1,3"}},
     "fixtures.csv",
     "par-2",
     "address"},
    {"address-range",
     SM_ERROR,
     {{"fixtures.csv", "par-2,par,1,11", "par-2,par,1,511"}, {"cues.csv", "0.5 s", "5 s"}},
     "fixtures.csv",
     "par-2",
     "address"},
    {"address-range",
     SM_ERROR,
     {{"fixtures.csv", "par-2,par,1,11", "par-2,par,1,-5"}},
     "fixtures.csv",
     "par-2",
     "address"},
    {"channel-unknown", SM_ERROR, {{"cues.csv", "dim=50", "dimm=50"}}, "cues.csv", "00:00:25.000", "do"},
    {"level-range", SM_ERROR, {{"cues.csv", "dim=50", "dim=256"}}, "cues.csv", "00:00:25.000", "do"},
    {"too-brief",
     SM_WARNING,
     {{"cues.csv", "dim=50,,0.5 s", "dim=50,,0.002 s"}},
     "cues.csv",
     "00:00:25.000",
     "time"},
    {"too-brief",
     SM_WARNING,
     {{"cues.csv", "flame=255,,1.5 s", "flame=255,,2 ms"}},
     "cues.csv",
     "0:16.000,jet-1",
     "time"},
    {"two-at-once",
     SM_WARNING,
     {{"cues.csv", "red=255,2 s", "red=255,27 s"}},
     "cues.csv",
     "00:00:25.000",
     "do"},
    {"two-at-once",
     SM_WARNING,
     {{"cues.csv", "0:40.000,C-02", "0:30.000,par-1,red=0,,,,,,\n0:40.000,C-02"},
      {"show.ini", "events = 15", "events = 16"},
      {"show.ini", "fixture = 9", "fixture = 10"}},
     "cues.csv",
     "0:30.000,par-1,red=0,,,,,,\n0:40",
     "do"},
    {"line-length", SM_WARNING, {{"lines.csv", "60ft 3m", "298m 3m"}}, "lines.csv", "line-1", "cables"},
    {"line-length", SM_ERROR, {{"lines.csv", "60ft 3m", "1640ft 3m"}}, "lines.csv", "line-1", "cables"},
    {"line-cable-short", SM_WARNING, {{"lines.csv", "60ft 3m", "50ft 3m"}}, "lines.csv", "line-1", "cables"},
    {"line-missing",
     SM_WARNING,
     {{"lines.csv", "par-1 par-2,60ft 3m", "par-1,60ft"}},
     "fixtures.csv",
     "par-2",
     "name"},
    {"universe-mixed", SM_WARNING, {{"lines.csv", "line-2,2", "line-2,3"}}, "lines.csv", "line-2", "chain"},
    {"line-twice",
     SM_NOTE,
     {{"lines.csv", "line-2,2", "line-3,1,desk,par-1,60ft,1 m\nline-2,2"}},
     "lines.csv",
     "line-3",
     "chain"},
    // ---- flame
    {"flame-not-enabled",
     SM_ERROR,
     {{"cues.csv", "permit=255,,12 s", "permit=255,,5.5 s"}},
     "cues.csv",
     "0:16.000",
     "do"},
    {"flame-not-enabled",
     SM_ERROR,
     {{"cues.csv", "permit=255,,12 s", "permit=255,,7 s"}},
     "cues.csv",
     "0:16.000",
     "do"},
    {"flame-not-enabled",
     SM_ERROR,
     {{"cues.csv", "0:10.000,jet-1,permit=255,,12 s", "0:11.500,jet-1,permit=255,,10 s"},
      {"cues.csv", "0:11.000,jet-1,flame=255,,1 s", "0:11.500,jet-1,flame=255,1 s,1 s"},
      {"cues.csv", "jet-1,permit=255,,10 s", "jet-1,permit=255,1 s,10 s"}},
     "cues.csv",
     "0:11.500,jet-1,flame",
     "do"},
    {"enable-left-open",
     SM_WARNING,
     {{"cues.csv", "permit=255,,12 s", "permit=255,,18 s"}},
     "cues.csv",
     "0:10.000",
     "do"},
    {"enable-left-open",
     SM_WARNING,
     {{"cues.csv", "0:01.000,pars", "0:00.900,jet-1,permit=255,,11 s,,,,\n0:01.000,pars"},
      {"show.ini", "events = 15", "events = 16"},
      {"show.ini", "fixture = 9", "fixture = 10"}},
     "cues.csv",
     "0:00.900",
     "do"},
    {"flame-too-long",
     SM_ERROR,
     {{"cues.csv", "flame=255,,1.5 s", "flame=255,,2.5 s"}},
     "cues.csv",
     "0:16.000",
     "lasts"},
    {"recover-short", SM_ERROR, {{"cues.csv", "0:13.500", "0:12.500"}}, "cues.csv", "0:12.500", "time"},
    {"fuel-short", SM_ERROR, {{"fixtures.csv", "60 ml", "34 ml"}}, "fixtures.csv", "jet-1", "fuel"},
    {"clear-short",
     SM_ERROR,
     {{"positions.csv", "wall,-5 m,15 m", "wall,-30 m,9.9 m"}, {"lines.csv", "12m", "40m"}},
     "positions.csv",
     "wall",
     "y"},
    {"wire-withheld",
     SM_NOTE,
     {{"profiles.csv", "120 W,,never", "120 W,,light\nlamp,dim red green,0 0 0,none,,,,,,120 W,,never"},
      {"fixtures.csv", "par-2,par", "par-2,lamp"}},
     "fixtures.csv",
     "par-2",
     "universe"},
    {"wire-withheld",
     SM_NOTE,
     {{"profiles.csv", "120 W,,never", "120 W,,light"},
      {"fixtures.csv", "jet-1,jet,2,1", "jet-1,jet,1,101"},
      {"lines.csv", "line-2,2", "line-2,1"}},
     "fixtures.csv",
     "jet-1",
     "universe"},
    // ---- mains. left carries 240 W at 230 V: 1.0 A, main 320 W: 1.4 A.
    {"feed-loop", SM_ERROR, {{"feeds.csv", "main,,230", "main,left,230"}}, "feeds.csv", "left", "from"},
    {"breaker-over", SM_ERROR, {{"feeds.csv", "10 A,10 m", "1.3 A,10 m"}}, "feeds.csv", "left", "breaker"},
    {"breaker-over", SM_WARNING, {{"feeds.csv", "10 A,10 m", "1.7 A,10 m"}}, "feeds.csv", "left", "breaker"},
    {"cord-drop", SM_WARNING, {{"feeds.csv", "10 A,10 m", "10 A,170 m"}}, "feeds.csv", "left", "cord_length"},
    {"cord-drop", SM_ERROR, {{"feeds.csv", "10 A,10 m", "10 A,300 m"}}, "feeds.csv", "left", "cord_length"},
    {"cord-hot",
     SM_ERROR,
     {{"feeds.csv", "16 A,20 m", ",20 m"},
      {"feeds.csv", "10 A,10 m,1.5 mm2", ",10 m,0.5 mm2"},
      {"profiles.csv", "120 W", "400 W"}},
     "feeds.csv",
     "left",
     "cord_gauge"},
    {"cord-hot", SM_ERROR, {{"feeds.csv", "10 m,1.5 mm2", "10 m,22 AWG"}}, "feeds.csv", "left", "cord_gauge"},
    {"feed-missing",
     SM_ERROR,
     {{"fixtures.csv", "1,11,pole,left", "1,11,pole,lefd"}},
     "fixtures.csv",
     "par-2",
     "feed"},
    {"feed-missing",
     SM_WARNING,
     {{"fixtures.csv", "1,11,pole,left", "1,11,pole,"}},
     "fixtures.csv",
     "par-2",
     "feed"},
    // ---- ground
    {"fallout-unknown",
     SM_WARNING,
     {{"effects.csv", "near,,2 m", "near,,"}},
     "effects.csv",
     "pot",
     "fallout"},
    {"calibre-unknown",
     SM_WARNING,
     {{"effects.csv", "aerial,50 mm", "aerial,"}},
     "effects.csv",
     "comet",
     "calibre"},
    {"distance-short",
     SM_ERROR,
     {{"positions.csv", "rear,0 m,50 m", "rear,0 m,140 ft"},
      {"show.ini", "audience = 0 m", "audience = 0.1 ft"}},
     "positions.csv",
     "rear",
     "y"},
    {"distance-short",
     SM_ERROR,
     {{"positions.csv", "mid,10 m,25 m", "mid,10 m,22.8 m"}},
     "positions.csv",
     "mid",
     "y"},
    {"distance-short",
     SM_ERROR,
     {{"effects.csv", "near,,2 m", "near,,2.8 m"}},
     "positions.csv",
     "front",
     "y"},
    {"position-unknown", SM_WARNING, {{"rails.csv", "20 AWG,rear", "20 AWG,"}}, "rails.csv", "A", "position"},
    {"position-unknown",
     SM_WARNING,
     {{"fixtures.csv", "2,1,wall", "2,1,"}},
     "fixtures.csv",
     "jet-1",
     "position"},
    {"position-unknown",
     SM_ERROR,
     {{"rails.csv", "20 AWG,rear", "20 AWG,raer"}},
     "rails.csv",
     "A",
     "position"},
    {"hold-off",
     SM_WARNING,
     {{"walk.csv", "service open,yes,,yes", "service open,yes,,no"}},
     "walk.csv",
     "way in",
     "hold"},
};

static void expected_place(const check_folder *folder, const fault *f, uint32_t *line, uint32_t *column) {
    *line = *column = 0;
    if (!f->row)
        return;
    const bool ini = strcmp(f->file, "show.ini") == 0;
    *line = check_folder_line(folder, f->file, f->row,
                              f->column ? check_folder_field(folder, f->file, f->column) : 0, column);
    if (ini)
        *column = (uint32_t)strlen(f->row) + 4; // KEY = VALUE
    assert_int_not_equal(*line, 0);
}

static bool is_as_planted(const check_case *test, const check_folder *folder, const fault *f) {
    if (sm_findings_count(test->report->findings) != 1)
        return false;
    const sm_finding *finding = sm_findings_at(test->report->findings, 0);
    uint32_t line, column;
    expected_place(folder, f, &line, &column);
    return strcmp(finding->rule, f->rule) == 0 && finding->severity == f->severity &&
           strcmp(finding->file, f->file) == 0 && finding->line == line && finding->column == column &&
           finding->message[0] != '\0' && !strpbrk(finding->message, "\001\002");
}

static void each_fault_is_found_where_it_was_planted(void **state) {
    (void)state;
    size_t wrong = 0;
    for (size_t i = 0; i < COUNT(faults); i++) {
        const fault *f = &faults[i];
        check_folder folder;
        check_case test;
        check_folder_init(&folder, BASE);
        for (size_t e = 0; e < COUNT(f->edits) && f->edits[e].file; e++)
            check_folder_edit(&folder, f->edits[e].file, f->edits[e].from, f->edits[e].to);
        check_case_init(&test, &folder, &whole_audio);
        if (!is_as_planted(&test, &folder, f)) {
            print_error("fault %zu, %s %s at %s %s:\n", i, sm_severity_text(f->severity), f->rule, f->row,
                        f->column);
            check_case_print(&test);
            wrong++;
        }
        check_case_deinit(&test);
        check_folder_deinit(&folder);
    }
    assert_int_equal(wrong, 0);
}

// A rule of the table that no test plants has no test: so each that is judged here must stand in FAULTS or be named.
static void every_rule_is_planted(void **state) {
    (void)state;
    static const char *const elsewhere[] = {
        "audio-missing", "audio-short", "audio-damaged", "line-loads", "allow-unused",
        // check_worst_test
        "misfire-wait-short", "inrush-over", "cord-breaker", "hazard-unmarked", "fuel-mixed",
        "addresses-exchanged", "particles-near", "product-near-flame", "crew-inside"};
    const sm_check_rule *rule;
    for (size_t i = 0; (rule = sm_check_rule_at(i)); i++) {
        bool planted = !rule->run && strcmp(rule->id, "allow-unused") != 0; // by the tests of the reader
        for (size_t f = 0; f < COUNT(faults); f++)
            planted = planted || strcmp(faults[f].rule, rule->id) == 0;
        for (size_t e = 0; e < COUNT(elsewhere); e++)
            planted = planted || strcmp(elsewhere[e], rule->id) == 0;
        if (!planted)
            fail_msg("no test plants %s", rule->id);
        assert_ptr_equal(sm_check_rule_find(rule->id), rule);
        assert_true(rule->meaning[0] != '\0' && rule->source[0] != '\0' && rule->explain[0] != '\0');
    }
    assert_null(sm_check_rule_find("no-such-rule"));
}

// Every id that the reading of the files gives is listed, and nothing is listed that nobody gives.
static void the_rules_of_reading_are_listed(void **state) {
    (void)state;
    size_t count;
    const sm_show_rule *read = sm_show_rules(&count);
    const sm_check_rule *rule;
    for (size_t i = 0; i < count; i++)
        if (!sm_check_rule_find(read[i].id))
            fail_msg("%s is not listed", read[i].id);
    size_t drill_count;
    const char *const *drill = sm_drill_finding_rules(&drill_count);
    for (size_t i = 0; i < drill_count; i++)
        if (!sm_check_rule_find(drill[i]))
            fail_msg("%s is not listed", drill[i]);
    for (size_t r = 0; (rule = sm_check_rule_at(r)); r++) {
        bool given = rule->run || strcmp(rule->id, "allow-unused") == 0;
        for (size_t i = 0; i < count; i++)
            given = given || strcmp(read[i].id, rule->id) == 0;
        for (size_t i = 0; i < drill_count; i++)
            given = given || strcmp(drill[i], rule->id) == 0;
        if (!given)
            fail_msg("nothing gives %s", rule->id);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_fault_is_found_where_it_was_planted),
        cmocka_unit_test(every_rule_is_planted),
        cmocka_unit_test(the_rules_of_reading_are_listed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

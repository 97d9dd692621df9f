// SPDX-License-Identifier: GPL-3.0-or-later
// Where several things are told in one line, the first few by name and the rest by number; what an inhibit would hold is what it then
// holds; what is dangerous is dangerous wherever it stands.
#include "support/engine_run.h"

#include "slowmatch/alerts.h"
#include "slowmatch/conditions.h"
#include "slowmatch/inject.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define SHELLS                                                                                               \
    "20,A-01,shell,,\n21,A-02,shell,,\n22,A-03,shell,,\n23,A-04,shell,,\n24,A-05,shell,,\n25,A-06,shell,,\n"

static const engine_file wind[] = {
    {"show.ini", "[show]\ntitle = Trial\ncountdown = 2 s\nlength = 60\n[limits]\narm-time = 1 s\nwind = 8\n"},
    {0}};

typedef struct bench {
    sm_show *show;
    engine_run run;
} bench;

static void begin(bench *b) {
    static const sm_rehearsal_options options = {.drill = true};
    b->show = engine_show(SHELLS, wind);
    engine_run_init(&b->run, b->show, &options);
}

static void end(bench *b) {
    engine_run_deinit(&b->run);
    sm_show_destroy(b->show);
}

// "!" injects.
static void act(bench *b, double at_s, const char *line) {
    sm_injection injection;
    char why[200];
    size_t at;
    if (line[0] != '!') {
        if (engine_act(&b->run, at_s, line) != SM_OK)
            fail_msg("%s: %s", line, sm_rehearsal_refusal(b->run.rehearsal));
        return;
    }
    if (sm_injection_read(b->show, line + 1, strlen(line + 1), &injection, why, &at) != SM_OK)
        fail_msg("%s: %s", line, why);
    assert_int_equal(
        sm_rehearsal_inject(b->run.rehearsal, "e", &injection, (sm_wall_time){(sm_us)(at_s * 1e6)}), SM_OK);
}

static unsigned occurrences(const char *text, const char *part) {
    unsigned count = 0;
    for (const char *at = text; (at = strstr(at, part)); at++)
        count++;
    return count;
}

// The words of the alert or the condition that begins with BEGINS, into OUT.
static void find_words(bench *b, const char *begins, sm_text *out) {
    static const sm_alert_facts facts = {0};
    const sm_snapshot *now = engine_look(&b->run);
    sm_alerts alerts = {0};
    sm_alerts_look(&alerts, now, &facts, NULL, NULL);
    for (uint32_t i = 0; i < alerts.count; i++)
        if (strncmp(alerts.at[i].words, begins, strlen(begins)) == 0)
            sm_text_printf(out, "%s", alerts.at[i].words);
    if (out->length == 0 && begins[0] == 'H')
        (void)sm_condition_held(now, out);
}

static void the_first_few_are_named_and_the_rest_counted(void **state) {
    (void)state;
    static const struct {
        const char *begins, *first, *line, *name; // a number follows LINE; FIRST comes before all
        unsigned named, most;
    } rows[] = {
        {"IN FIELD", "call-clear J\nkey on\narm", "enter K", "K", 3, 6},
        {"TIPPED OVER", "", "!tip A-0", "A-0", 3, 6},
        {"FIRED BY ITSELF", "key on", "!fires-alone A-0", "A-0", 3, 6},
        {"WIND", "wind 8.1\ninhibit A", "allow A-0", "A-0", 3, 0},
        {"STRAY", "", "!stray B-0", "B-0", 4, 4},
        {"HELD BACK", "", "inhibit A-0", "A-0", 4, 6},
        {"STILL BURNING", "", "!fires-alone A-0", "A-0", 3, 6},
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        bench b;
        begin(&b);
        char lines[100];
        snprintf(lines, sizeof lines, "%s", rows[i].first);
        for (char *line = strtok(lines, "\n"); line; line = strtok(NULL, "\n"))
            act(&b, 0, line);
        for (unsigned n = 1; n <= rows[i].most; n++) {
            char line[40], more[24];
            sm_text words = {0};
            snprintf(line, sizeof line, "%s%u", rows[i].line, n);
            act(&b, 1 + 0.01 * n, line);
            if (rows[i].begins[2] == 'R' && rows[i].begins[0] == 'S')
                act(&b, 1 + 0.01 * n, "measure");
            engine_to(&b.run, 1.5 + 4.0 * (rows[i].begins[2] == 'I'));
            find_words(&b, rows[i].begins, &words);
            const unsigned named = n < rows[i].named ? n : rows[i].named;
            const bool counts = n > named && rows[i].begins[2] != 'I'; // what burns is counted in front
            snprintf(more, sizeof more, " and %u more", n - named);
            if (occurrences(sm_text_get(&words), rows[i].name) != named ||
                occurrences(sm_text_get(&words), more) != counts ||
                occurrences(sm_text_get(&words), " more") != counts)
                fail_msg("%s, %u of them: %s", rows[i].begins, n, sm_text_get(&words));
            sm_text_deinit(&words);
        }
        end(&b);
    }
}

// Aerials that would go in wind over the limit: held back one by one until none is left.
static void aerials_in_wind_are_named(void **state) {
    (void)state;
    bench b;
    begin(&b);
    act(&b, 0, "wind 8.1");
    for (unsigned n = 6;; n--) {
        char expected[120];
        sm_text words = {0};
        find_words(&b, "WIND", &words);
        if (n == 0)
            snprintf(expected, sizeof expected, "WIND 8.1 OVER 8.0 m/s, no aerials to come");
        else {
            int used = snprintf(expected, sizeof expected, "WIND 8.1 OVER 8.0 m/s: A-0%u", 7 - n);
            for (unsigned i = 1; i < n && i < 3; i++)
                used += snprintf(expected + used, sizeof expected - (size_t)used, ", A-0%u", 7 - n + i);
            if (n > 3)
                used += snprintf(expected + used, sizeof expected - (size_t)used, " and %u more", n - 3);
            snprintf(expected + used, sizeof expected - (size_t)used, " fly");
        }
        assert_string_equal(sm_text_get(&words), expected);
        sm_text_deinit(&words);
        if (n == 0)
            break;
        char line[24];
        snprintf(line, sizeof line, "inhibit A-0%u", 7 - n);
        act(&b, 0, line);
    }
    end(&b);
}

static void what_an_inhibit_would_hold_it_holds(void **state) {
    (void)state;
    static const char *const names[] = {"A-01",  "A",    "B",  "shell", "aerial", "near",   "left",
                                        "right", "rack", "L1", "F2",    "lamps",  "flames", "C-02"};
    for (size_t i = 0; i < COUNT(names); i++) {
        bench b;
        char line[24];
        bool slots[14] = {false}, fixtures[4] = {false}, any = false;
        begin(&b);
        assert_true(b.show->slot_count == 14 && b.show->fixture_count == 4);
        sm_inhibit_mark(b.show, names[i], slots, fixtures);
        snprintf(line, sizeof line, "inhibit %s", names[i]);
        act(&b, 0, line);
        const sm_snapshot *now = engine_look(&b.run);
        for (uint32_t slot = 0; slot < 14; slot++) {
            if (slots[slot] != now->slots[slot].inhibited)
                fail_msg("%s: slot %u", names[i], (unsigned)slot);
            any = any || slots[slot];
        }
        for (uint32_t f = 0; f < 4; f++) {
            assert_int_equal(fixtures[f], now->fixture_inhibited[f]);
            any = any || fixtures[f];
        }
        assert_int_equal(any, strcmp(names[i], "near") != 0); // nothing near is fired
        sm_inhibit_mark(b.show, "A-02", slots, fixtures);     // marks add up
        sm_inhibit_mark(b.show, "L2", slots, fixtures);
        for (uint32_t slot = 0; slot < 14; slot++)
            assert_int_equal(slots[slot], now->slots[slot].inhibited || slot == engine_slot(b.show, "A-02"));
        for (uint32_t f = 0; f < 4; f++)
            assert_int_equal(fixtures[f], now->fixture_inhibited[f] || f == 1);
        end(&b);
    }
}

static void danger_is_danger_wherever_it_stands(void **state) {
    (void)state;
    static const struct {
        const char *line;
        bool danger, fire;
    } rows[] = {{"note x", false, false},           {"enter K", false, false},
                {"!wind 20", false, false},         {"!storm", true, false},
                {"!fire left", true, true},         {"!fire right", true, true},
                {"!flame-stuck F1", true, false},   {"!flame-stuck F2", true, false},
                {"!flame-out F1", false, false},    {"!tip A-01", true, false},
                {"!tip A-06", true, false},         {"!fires-alone A-01", true, false},
                {"!fires-alone A-06", true, false}, {"!open A-01", false, false},
                {"!link lost", false, false}};
    for (size_t i = 0; i < COUNT(rows); i++) {
        bench b;
        begin(&b);
        act(&b, 0, rows[i].line);
        const sm_snapshot *now = engine_look(&b.run);
        if (sm_snapshot_danger(now) != rows[i].danger || sm_snapshot_fire(now) != rows[i].fire)
            fail_msg("%s: danger %d, fire %d", rows[i].line, sm_snapshot_danger(now), sm_snapshot_fire(now));
        end(&b);
    }
}

// A word of the log is read back as what it was written for, by whatever it is told of.
static void words_of_the_log_are_read_back(void **state) {
    (void)state;
    for (int i = 0; i < SM_ACT_COUNT; i++) {
        const sm_act act = (sm_act)i;
        const char *const second = strchr(sm_action_row_of(act)->name, ' ');
        const char *const word = sm_act_word(act), *const target = second ? second + 1 : "anything";
        const sm_log_kind kind = sm_log_kind_read(SM_SOURCE_SCRIPT, word, target);
        assert_int_equal(kind.what, SM_LOG_ACTION);
        if (kind.act != act)
            fail_msg("%s %s is read as %s", word, target, sm_action_row_of(kind.act)->name);
        assert_string_equal(sm_log_word(kind), word);
        static const char *const untold[] = {"refused", "unpaired"}; // of which the first word alone is told
        for (size_t u = 0; u < COUNT(untold); u++) {
            const sm_log_kind of = sm_log_kind_read(SM_SOURCE_REMOTE, untold[u], word);
            assert_string_equal(sm_log_word(of), untold[u]);
            assert_true(of.act < SM_ACT_COUNT && strcmp(sm_act_word(of.act), word) == 0);
        }
    }
    for (int i = 0; i < SM_STATE_COUNT; i++) {
        const sm_log_kind kind = sm_log_kind_read(SM_SOURCE_ENGINE, "state", sm_state_text((sm_state)i));
        assert_int_equal(kind.what, SM_LOG_STATE);
        assert_int_equal(kind.state, i);
    }
    assert_int_equal(sm_log_kind_read(SM_SOURCE_ENGINE, "state", "asleep").what, SM_LOG_UNKNOWN);
    assert_int_equal(sm_log_kind_read(SM_SOURCE_ENGINE, "dance", "").what, SM_LOG_UNKNOWN);
    assert_int_equal(sm_log_kind_read(SM_SOURCE_DRILL, "mark", "x").what, SM_LOG_MARK); // earned or lost
    assert_int_equal(sm_log_kind_read(SM_SOURCE_CONSOLE, "mark", "x").what, SM_LOG_ACTION);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_first_few_are_named_and_the_rest_counted),
        cmocka_unit_test(aerials_in_wind_are_named),
        cmocka_unit_test(what_an_inhibit_would_hold_it_holds),
        cmocka_unit_test(danger_is_danger_wherever_it_stands),
        cmocka_unit_test(words_of_the_log_are_read_back),
    };
    return cmocka_run_group_tests_name("engine words", tests, NULL, NULL);
}

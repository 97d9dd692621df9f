// SPDX-License-Identifier: GPL-3.0-or-later
// Lines of actions, injections and proposals, word by word: each kind of argument with what it takes and what it does not. The forms are
// the manual's; no outside source.
#include "support/engine_run.h"

#include "slowmatch/inject.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof *(array))
#define LONG "a-very-long-word-that-nobody-would-ever-write-by-hand-into-a-line"
#define CUT "a-very-long-word-that-nobody-would-ever-"

static const engine_file feeds[] = {{"feeds.csv", "name,from,breaker\nmain,,16 A\nside,main,10 A\n"},
                                    {NULL, NULL}};

typedef struct field {
    sm_show *show;
} field;

static int begin(void **state) {
    static field f;
    f.show = engine_show("time,id,target,do\n1,opening,A-01,mine\n2,,A-02,mine\n3,late,L1,dim=5\n", feeds);
    *state = &f;
    return 0;
}

static int end(void **state) {
    sm_show_destroy(((field *)*state)->show);
    return 0;
}

// WHY NULL: it is read.
typedef struct line {
    const char *text, *why;
} line;

static const line actions[] = {
    {"wind 5 m/s", NULL},
    {"wind 12kn", NULL},
    {"wind 5 then", "'then' is too much: write wind SPEED"},
    {"wind -5 m/s", "'-5' is no wind speed"},
    {"wind -5", "'-5' is no wind speed"},
    {"wind " LONG, "'" CUT "' is no wind speed"},
    {"volume 30 %", NULL},
    {"volume -3", "'-3' is no volume"},
    {"volume loud", "'loud' is no volume"},
    {"speed 0.5", NULL},
    {"speed -2000", "'-2000' is no speed"},
    {"speed 2000", "'2000' is no speed"},
    {"speed -1", NULL}, // a number; refused when it is done
    {"speed " LONG, "'" CUT "' is no speed"},
    {"start-in 90 s", NULL},
    {"start-in 90s", NULL},
    {"start-in 1:30:00", NULL},
    {"start-in 5 min", NULL},
    {"start-in -0:05", "'-0:05' is no time"},
    {"start-in soon", "'soon' is no time"},
    {"start-in 5 apples", "'apples' is too much: write start-in TIME"},
    {"undo 3", NULL},
    {"undo 0", "'0' is no count"},
    {"undo -1", "'-1' is no count"},
    {"undo all", "'all' is no count"},
    {"listen opening", NULL},
    {"listen 2", NULL},
    {"listen close", "no cue 'close'"},
    {"listen openinG", "no cue 'openinG'"},
    {"listen " LONG, "no cue '" CUT "'"},
    {"propose opening 0:24.050", NULL},
    {"propose opening +0.05 s", NULL},
    {"propose opening -1 f", NULL},
    {"propose opening -1f on", NULL},
    {"propose opening +2   f   on", NULL},
    {"propose opening beat", NULL},
    {"propose opening beat on", NULL},
    {"propose opening +", "'+' is no moment and no step"},
    {"propose opening -", "'-' is no moment and no step"},
    {"propose opening f", "'f' is no moment and no step"},
    {"propose opening +f", "'+f' is no moment and no step"},
    {"propose opening + f", "'+ f' is no moment and no step"},
    {"propose opening +-1 f", "'+-1 f' is no moment and no step"},
    {"propose opening +x f", "'+x f' is no moment and no step"},
    {"propose opening + much", "'+ much' is no moment and no step"},
    {"propose opening on", "'on' is no moment and no step"},
    {"propose opening later on", "'later on' is no moment and no step"},
    {"propose nothing 3", "no cue 'nothing'"},
    {"propose opening", "'propose' needs more"},
    {"tick paper LOAD-A one two three", NULL},
    {"tick paper", "which sheet?"},
    {"tick paper LOAD-A", "have its three words read aloud: tick paper LOAD-A WORD WORD WORD"},
    {"tick paper " LONG " one two three", NULL},
    {"tick paper " LONG LONG " one two three", "which sheet?"},
    {"tick fence yes", NULL},
    {"tick fence na", NULL},
    {"tick fence " LONG, "'" CUT "' is no answer"},
    {"repeat 1 2", NULL},
    {"repeat 1 2 rerig", NULL},
    {"repeat 1 2 " LONG, "'" CUT "': only the word rerig may follow"},
    {"repeat 1 two!", "'two!' is no moment"},
    {"seek @" LONG, "'@a-very-long-word-that-nobody-would-ever' is no moment"},
    {"exchange A B", NULL},
    {"exchange A X", "no rail 'X'"},
    {"exchange A", "'exchange' needs more"},
    {"plug " LONG, "no rail '" CUT "'"},
    {"read " LONG " 1", "no slot '" CUT "'"},
    {"read A-01 " LONG, "'" CUT "' is no reading"},
    {"waive " LONG " K", "no guard '" CUT "'"},
    {"inhibit " LONG, "no slot, rail, effect, fixture, group, position or zone '" CUT "'"},
    {"inhibit " LONG LONG, "no slot, rail, effect, fixture, group, position or zone '" CUT "'"},
    {"inhibit L1", NULL},
    {"arm " LONG, "'" CUT "' is too much"},
    {"remote " LONG " arm", "'" CUT "' is no remote's number"},
    {"remote 0 arm", "'0' is no remote's number"},
    {"remote", "'' is no remote's number"},
    {LONG, "no action '" CUT "'"},
    {"clear J", "no action 'clear'; did you mean call-clear?"},
    {"resme", "no action 'resme'; did you mean resume?"},
    {"key sideways", "write key on or key off"},
    {"judge right yes it was " LONG LONG LONG LONG, "too long: at most"},
};

static const line injections[] = {
    {"open A-01", NULL},
    {"open C-01", "no cue fires C-01; name a slot that one fires"},
    {"open " LONG, "no slot '" CUT "'; write RAIL-NN as in rails.csv"},
    {"stray C-01", NULL},
    {"stray A-01", "a cue fires A-01; name a spare slot"},
    {"unplug A", NULL},
    {"unplug Z", "no rail 'Z'"},
    {"unplug nowhere-near", "no rail 'nowhere-near' in the show"},
    {"refuse-arm M", NULL},
    {"refuse-arm " LONG, "no module '" CUT "' in the show"},
    {"flame-stuck F1", NULL},
    {"flame-stuck L1", "L1 is no flame unit"},
    {"flame-stuck F9", "no fixture 'F9'; did you mean F1?"},
    {"feed-lost main", NULL},
    {"feed-lost mian", "no feed 'mian'; did you mean main?"},
    {"fire left", NULL},
    {"fire lefd", "no position 'lefd'; did you mean left?"},
    {"late A-01 400 ms", NULL},
    {"late A-01 0.1 ms", "'0.1 ms' is no time from 1 ms to 60 s"},
    {"late A-01 61 s", "'61 s' is no time from 1 ms to 60 s"},
    {"late A-01 soon", "'soon' is no time from 1 ms to 60 s"},
    {"late A-01", "'late' needs more: write late SLOT TIME"},
    {"music-off 1 s", NULL},
    {"music-off -0.5 s", NULL},
    {"music-off 700 s", "'700 s' is no time of at most 10 min"},
    {"music-off -700 s", "'-700 s' is no time of at most 10 min"},
    {"music-off -", "'-' is no time of at most 10 min"},
    {"music-off " LONG, "'" CUT "' is no time of at most 10 min"},
    {"wind 9 m/s", NULL},
    {"wind -1", "'-1' is no wind speed"},
    {"wind 101", "'101' is no wind speed"},
    {"wind " LONG, "'" CUT "' is no wind speed"},
    {"remote-unpaired 3", NULL},
    {"remote-weak 0", "'0' is no remote's number; write 1 to 99"},
    {"remote-weak 100", "'100' is no remote's number; write 1 to 99"},
    {"remote-good two", "'two' is no remote's number; write 1 to 99"},
    {"call K all well", NULL},
    {"call", "'call' needs more"},
    {"no-answer " LONG LONG, "too long: at most 95 bytes"},
    {"storm", NULL},
    {"storm now", "'now' is too much: write storm"},
    {"link lost", NULL},
    {"link  back", "nothing that can happen is called 'link'"},
    {"link", "nothing that can happen is called 'link'"},
    {"strom", "nothing that can happen is called 'strom'; did you mean storm?"},
    {LONG, "nothing that can happen is called '" CUT "'"},
    {"", "what happens is missing"},
};

// Says what does not hold.
static unsigned hold(const line *one, sm_result result, const char *why) {
    const bool holds = one->why ? result == SM_INVALID && strstr(why, one->why) : result == SM_OK;
    if (!holds)
        print_error("%s: %s, not %s\n", one->text, result == SM_OK ? "read" : why,
                    one->why ? one->why : "read");
    return !holds;
}

static void actions_are_read_or_refused_by_the_word(void **state) {
    const field *f = *state;
    unsigned wrong = 0;
    for (size_t i = 0; i < COUNT(actions); i++) {
        char why[200] = "";
        size_t at = 0;
        sm_action action;
        const size_t length = strlen(actions[i].text);
        wrong += hold(&actions[i], sm_action_read(f->show, actions[i].text, length, &action, why, &at), why);
        assert_true(at <= length);
        // In part: the same or less is asked for.
        if (!actions[i].why)
            assert_int_equal(sm_action_read_partly(f->show, actions[i].text, length, &action, why, &at),
                             SM_OK);
    }
    assert_int_equal(wrong, 0);
    static const char *const parts[] = {"tick paper", "tick paper LOAD-A", "exchange", "exchange A",
                                        "propose"};
    for (size_t i = 0; i < COUNT(parts); i++) {
        char why[200];
        size_t at;
        sm_action action;
        assert_int_equal(sm_action_read_partly(f->show, parts[i], strlen(parts[i]), &action, why, &at),
                         SM_OK);
    }
}

static void injections_are_read_or_refused_by_the_word(void **state) {
    const field *f = *state;
    unsigned wrong = 0;
    for (size_t i = 0; i < COUNT(injections); i++) {
        char why[200] = "";
        size_t at = 0;
        sm_injection injection;
        const size_t length = strlen(injections[i].text);
        wrong += hold(&injections[i],
                      sm_injection_read(f->show, injections[i].text, length, &injection, why, &at), why);
        assert_true(at <= length);
    }
    assert_int_equal(wrong, 0);
}

static sm_action action_of(const field *f, const char *text) {
    char why[200];
    size_t at;
    sm_action action;
    if (sm_action_read_partly(f->show, text, strlen(text), &action, why, &at) != SM_OK)
        fail_msg("%s: %s", text, why);
    return action;
}

// Two plugs change places whichever is named first; one alone is met by either that begins with it.
static void an_exchange_has_no_order(void **state) {
    const field *f = *state;
    const sm_action ab = action_of(f, "exchange A B"), ba = action_of(f, "exchange B A"),
                    ac = action_of(f, "exchange A C"), cb = action_of(f, "exchange C B"),
                    a = action_of(f, "exchange A");
    assert_true(sm_action_matches(&ab, &ab));
    assert_true(sm_action_matches(&ab, &ba));
    assert_false(sm_action_matches(&ab, &ac));
    assert_false(sm_action_matches(&ab, &cb));
    assert_false(sm_action_matches(&ac, &cb));
    assert_true(sm_action_matches(&a, &ac));
    assert_false(sm_action_matches(&a, &ba));
}

// "Who sits where": what stands in the log reads back as what it was.
static void sources_read_back(void **state) {
    (void)state;
    char text[SM_SEAT_NAME + 8];
    for (int source = 0; source < SM_SOURCE_COUNT; source++) {
        sm_source_put(text, (sm_source)source, "left");
        assert_int_equal(sm_source_named(text), source);
        assert_string_equal(sm_source_seat(text), source == SM_SOURCE_SEAT ? "left" : "");
    }
    assert_string_equal(sm_source_put(text, SM_SOURCE_SEAT, ""), "seat");
    assert_string_equal(sm_source_put(text, SM_SOURCE_SEAT, NULL), "seat");
    assert_int_equal(sm_source_named("nobody"), SM_SOURCE_ENGINE);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(actions_are_read_or_refused_by_the_word),
        cmocka_unit_test(injections_are_read_or_refused_by_the_word),
        cmocka_unit_test(an_exchange_has_no_order),
        cmocka_unit_test(sources_read_back),
    };
    return cmocka_run_group_tests_name("engine: lines", tests, begin, end);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// A search round the perfect run of every drill and seat: lines of it are left out, exchanged, put off, brought forward, and others put in
// between. A good share of these runs passes or nearly does, so a hole beside the right way would be found. None of them passes in which
// somebody could have been hurt, as judged from the rows of the log alone (drill_judge), or in which a built-in rule was broken.
#include "support/drill_judge.h"
#include "support/drill_play.h"
#include "support/drill_scripts.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

// What is put in between: all that breaks a rule, that stops, that says something, and a cheat's tries.
static const char *const others[] = {"call-clear J",
                                     "key on",
                                     "key off",
                                     "arm",
                                     "start",
                                     "start-in 2 s",
                                     "pause",
                                     "resume",
                                     "safe",
                                     "measure",
                                     "enter K",
                                     "enter Z",
                                     "leave K",
                                     "leave Z",
                                     "leave a person",
                                     "unplug A",
                                     "plug A",
                                     "unplug B",
                                     "plug B",
                                     "exchange A B",
                                     "repair A-05",
                                     "repair B-03",
                                     "repair C-02",
                                     "report A-07",
                                     "report A-02",
                                     "wind 2 m/s",
                                     "wind 14 m/s",
                                     "inhibit aerial",
                                     "allow aerial",
                                     "rerig",
                                     "undo",
                                     "seek 1:20",
                                     "speed 2",
                                     "pass-time",
                                     "ask K",
                                     "ask M",
                                     "call K I am outside",
                                     "trigger walker",
                                     "hold-drill",
                                     "go-drill",
                                     "waive readings A-05 B-03 B-06 C-02",
                                     "waive rails A and C stay out",
                                     "waive rails for lack of time",
                                     "answer no, nobody, K stays out, I watch, not clear, clear again",
                                     "note 2 has it, link lost, fire cover called, thunder, all out"};
#define OTHERS (sizeof others / sizeof others[0])

typedef struct seat {
    sm_drill *drill;
    drill_play_line perfect[DRILL_PLAY_LINES];
    size_t count;
    uint64_t passed, nearly, unsafe, broke;
} seat;

typedef struct field {
    sm_show *show;
    sm_action others[OTHERS];
    seat seats[64];
    size_t count;
} field;

static void put_in(const field *f, drill_play_line *lines, size_t *count, size_t at, uint64_t drawn) {
    drill_play_line line = lines[at]; // about when its neighbour is done
    if (*count == DRILL_PLAY_LINES)
        return;
    line.action = f->others[drawn % OTHERS];
    line.seconds += (double)((drawn >> 16) % 80) / 10 - 4;
    line.seconds = line.seconds < 0 ? 0 : line.seconds;
    memmove(&lines[at + 1], &lines[at], (*count - at) * sizeof *lines);
    lines[at] = line;
    ++*count;
}

static void mutate_once(const field *f, drill_play_line *lines, size_t *count, uint64_t *random) {
    const uint64_t kind = sm_drill_random(random), drawn = sm_drill_random(random);
    const size_t at = (size_t)(drawn >> 40) % *count, other = (size_t)(kind >> 40) % *count;
    const double seconds = (double)(drawn % 200) / 10;
    sm_action action = lines[at].action;
    switch (kind % 6) {
    case 0: // left out
        if (*count > 1)
            memmove(&lines[at], &lines[at + 1], (--*count - at) * sizeof *lines);
        break;
    case 1: // one in the place of the other
        lines[at].action = lines[other].action;
        lines[other].action = action;
        break;
    case 2: // put off
        lines[at].seconds += seconds;
        break;
    case 3: // brought forward
        lines[at].seconds = lines[at].seconds < seconds ? 0 : lines[at].seconds - seconds;
        break;
    default:
        put_in(f, lines, count, at, drawn);
        break;
    }
}

static void search_once(const field *f, seat *s, uint64_t round) {
    drill_play_line lines[DRILL_PLAY_LINES];
    uint64_t random = round;
    size_t count = s->count;
    memcpy(lines, s->perfect, sizeof lines);
    for (uint64_t changes = 1 + sm_drill_random(&random) % 3; changes > 0; changes--)
        mutate_once(f, lines, &count, &random);
    drill_judge judge = {.spotter = s->drill->seat == SM_SEAT_SPOTTER, .show = f->show};
    const drill_play_options options = {.seed = sm_drill_random(&random),
                                        .no_alerts = true,
                                        .sink = drill_judge_watch,
                                        .sink_context = &judge};
    sm_drill_run *run = drill_play_lines(s->drill, lines, count, &options);
    bool passed = sm_drill_passed(run), broke = sm_drill_rules_broken(run) > 0;
    if (passed && (judge.broken || broke))
        fail_msg("%s as %s, round %llu: passed with %s", s->drill->name, sm_drill_seat_text(s->drill->seat),
                 (unsigned long long)round, judge.broken ? judge.broken : "a rule broken");
    s->passed += passed;
    s->nearly += !passed && sm_drill_score(run) >= s->drill->pass - 25;
    s->unsafe += judge.broken != NULL;
    s->broke += broke;
    sm_drill_run_destroy(run);
}

static void no_mutant_that_breaks_a_rule_passes(void **state) {
    field *f = *state;
    const char *given = getenv("SLOWMATCH_MUTANTS");
    const uint64_t rounds = given ? strtoull(given, NULL, 10) : getenv("SLOWMATCH_SOAK") ? 100000 : 150;
    uint64_t unsafe = 0, broke = 0;
    for (size_t i = 0; i < f->count; i++) {
        seat *s = &f->seats[i];
        for (uint64_t round = 0; round < rounds; round++)
            search_once(f, s, round * 64 + i);
        print_message("%s as %s: of %llu, %llu passed, %llu nearly; unsafe %llu, rules broken in %llu\n",
                      s->drill->name, sm_drill_seat_text(s->drill->seat), (unsigned long long)rounds,
                      (unsigned long long)s->passed, (unsigned long long)s->nearly,
                      (unsigned long long)s->unsafe, (unsigned long long)s->broke);
        assert_true(s->passed + s->nearly >= rounds / 8 && s->passed >= rounds / 30); // else it shows little
        unsafe += s->unsafe;
        broke += s->broke;
    }
    assert_true(unsafe > rounds && broke > rounds); // of all seats: a spotter's mutants break few
}

static int set_up(void **state) {
    static field f;
    sm_arena *arena = sm_arena_create();
    const char *const *names;
    char why[200];
    size_t at, count;
    f.show = drill_play_show("demo-shows/lantern-quay");
    assert_int_equal(sm_drill_names(f.show, arena, &names, &count), SM_OK);
    f.count = count * SM_SEAT_COUNT;
    assert_in_range(f.count, 2, sizeof f.seats / sizeof f.seats[0]);
    for (size_t i = 0; i < f.count; i++) {
        seat *s = &f.seats[i];
        s->drill = drill_play_load(f.show, names[i / SM_SEAT_COUNT]);
        assert_int_equal(sm_drill_sit(s->drill, (sm_drill_seat)(i % SM_SEAT_COUNT)), SM_OK);
        s->count =
            drill_play_read_lines(s->drill, drill_script_perfect(s->drill->name, s->drill->seat), s->perfect);
    }
    for (size_t i = 0; i < OTHERS; i++)
        if (sm_action_read(f.show, others[i], strlen(others[i]), &f.others[i], why, &at) != SM_OK)
            fail_msg("%s: %s", others[i], why);
    sm_arena_destroy(arena);
    *state = &f;
    return 0;
}

static int tear_down(void **state) {
    field *f = *state;
    for (size_t i = 0; i < f->count; i++)
        sm_drill_destroy(f->seats[i].drill);
    sm_show_destroy(f->show);
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {cmocka_unit_test(no_mutant_that_breaks_a_rule_passes)};
    return cmocka_run_group_tests_name("mutants of the perfect runs", tests, set_up, tear_down);
}

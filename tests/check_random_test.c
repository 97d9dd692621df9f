// SPDX-License-Identifier: GPL-3.0-or-later
// Random shows from a seeded generator against judges that know only the rule's words and try every pair. Each show is
// written as files and loaded, so that the whole way is under test. 10,000 shows (SLOWMATCH_SOAK: ten times as many).
#include "support/check_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { SHOWS = 10000, MODULES = 3, RAILS = 5, MAX_SLOTS = 6, CUES = 14, FIXTURES = 8, EFFECTS = 3 };

typedef struct shot {
    unsigned module, rail, slot, row;
    long fire_ms;
} shot;

typedef struct patch {
    int universe, address, channels;
} patch;

// A show as numbers. A row of cues fires one or two slots.
typedef struct plan {
    long gap_ms[MODULES], pulse_ms[MODULES];
    unsigned at_once[MODULES];
    unsigned rail_module[RAILS], rail_slots[RAILS];
    long lead_ms[EFFECTS];
    shot shots[CUES * 2];
    unsigned shot_count, row_count;
    patch fixtures[FIXTURES];
    unsigned fixture_count;
} plan;

static uint64_t next_random(uint64_t *seed) {
    *seed ^= *seed << 13;
    *seed ^= *seed >> 7;
    *seed ^= *seed << 17;
    return *seed;
}

static unsigned below(uint64_t *seed, unsigned bound) {
    return (unsigned)(next_random(seed) >> 16) % bound;
}

static void write_modules(const check_folder *folder, plan *p, uint64_t *seed, sm_text *text) {
    sm_text_clear(text);
    sm_text_printf(text, "name,slots,gap,pulse,at_once\n");
    for (unsigned m = 0; m < MODULES; m++) {
        p->gap_ms[m] = (long)below(seed, 40);
        p->pulse_ms[m] = 1 + (long)below(seed, 60);
        p->at_once[m] = 1 + below(seed, 3);
        sm_text_printf(text, "m%u,100,%ld ms,%ld ms,%u\n", m, p->gap_ms[m], p->pulse_ms[m], p->at_once[m]);
    }
    check_folder_write(folder, "modules.csv", sm_text_get(text));
    unsigned first[MODULES] = {1, 1, 1};
    sm_text_clear(text);
    sm_text_printf(text, "name,module,first,slots,cable_length\n");
    for (unsigned r = 0; r < RAILS; r++) {
        p->rail_module[r] = below(seed, MODULES);
        p->rail_slots[r] = 2 + below(seed, MAX_SLOTS - 1);
        sm_text_printf(text, "%c,m%u,%u,%u,3 m\n", (char)('A' + r), p->rail_module[r],
                       first[p->rail_module[r]], p->rail_slots[r]);
        first[p->rail_module[r]] += p->rail_slots[r];
    }
    check_folder_write(folder, "rails.csv", sm_text_get(text));
    sm_text_clear(text);
    sm_text_printf(text, "name,lead\n");
    for (unsigned e = 0; e < EFFECTS; e++) {
        p->lead_ms[e] = (long)below(seed, 4) * 50;
        sm_text_printf(text, "e%u,%ld ms\n", e, p->lead_ms[e]);
    }
    check_folder_write(folder, "effects.csv", sm_text_get(text));
}

static shot draw_shot(const plan *p, uint64_t *seed, unsigned row, long fire_ms) {
    const unsigned rail = below(seed, RAILS);
    return (shot){.module = p->rail_module[rail],
                  .rail = rail,
                  .slot = 1 + below(seed, p->rail_slots[rail]),
                  .row = row,
                  .fire_ms = fire_ms};
}

// Times crowd together, so that gaps are met, missed and just met.
static void write_cues(const check_folder *folder, plan *p, uint64_t *seed, sm_text *text) {
    sm_text_clear(text);
    sm_text_printf(text, "time,target,do\n");
    p->row_count = 1 + below(seed, CUES);
    p->shot_count = 0;
    for (unsigned row = 0; row < p->row_count; row++) {
        const unsigned effect = below(seed, EFFECTS);
        const long time_ms = 1000 + (long)below(seed, 400);
        const shot one = draw_shot(p, seed, row, time_ms - p->lead_ms[effect]);
        const shot two = draw_shot(p, seed, row, one.fire_ms);
        const bool both = below(seed, 4) == 0 && (one.rail != two.rail || one.slot != two.slot);
        p->shots[p->shot_count++] = one;
        if (both)
            p->shots[p->shot_count++] = two;
        sm_text_printf(text, "%ld.%03ld,%c-%u", time_ms / 1000, time_ms % 1000, (char)('A' + one.rail),
                       one.slot);
        if (both)
            sm_text_printf(text, " %c-%02u", (char)('A' + two.rail), two.slot);
        sm_text_printf(text, ",e%u\n", effect);
    }
    check_folder_write(folder, "cues.csv", sm_text_get(text));
}

static void write_fixtures(const check_folder *folder, plan *p, uint64_t *seed, sm_text *text) {
    sm_text_clear(text);
    sm_text_printf(text, "name,profile,universe,address\n");
    p->fixture_count = below(seed, FIXTURES + 1);
    for (unsigned f = 0; f < p->fixture_count; f++) {
        const patch made = {1 + (int)below(seed, 2), 1 + (int)below(seed, 50), 1 + (int)below(seed, 8)};
        p->fixtures[f] = made;
        sm_text_printf(text, "f%u,p%d,%d,%d\n", f, made.channels, made.universe, made.address);
    }
    check_folder_write(folder, "fixtures.csv", sm_text_get(text));
}

// ---- the judges ---------------------------------------------------------------------------------

static bool slot_was_fired(const plan *p, unsigned at) {
    for (unsigned i = 0; i < at; i++)
        if (p->shots[i].rail == p->shots[at].rail && p->shots[i].slot == p->shots[at].slot)
            return true;
    return false;
}

static bool gap_is_short(const plan *p, unsigned at) {
    for (unsigned i = 0; i < at; i++) {
        const long apart = labs(p->shots[i].fire_ms - p->shots[at].fire_ms);
        if (p->shots[i].module == p->shots[at].module && apart != 0 && apart < p->gap_ms[p->shots[at].module])
            return true;
    }
    return false;
}

// Most firings of a module in any window of one pulse, the window's end left out; 0 where that is within what it can do.
static unsigned crowd_of(const plan *p, unsigned module) {
    unsigned most = 0;
    for (unsigned i = 0; i < p->shot_count; i++) {
        unsigned count = 0;
        for (unsigned j = 0; j < p->shot_count; j++) {
            const long after_ms = p->shots[j].fire_ms - p->shots[i].fire_ms;
            count += p->shots[j].module == module && after_ms >= 0 && after_ms < p->pulse_ms[module];
        }
        if (p->shots[i].module == module && count > most)
            most = count;
    }
    return most > p->at_once[module] ? most : 0;
}

// The fullest window that is told of MODULE, 0 where it tells of none.
static unsigned crowd_told(const check_case *test, unsigned module) {
    double most = 0;
    char name[32];
    snprintf(name, sizeof name, "module m%u ", module);
    for (size_t i = 0; i < sm_findings_count(test->report->findings); i++) {
        const sm_finding *finding = sm_findings_at(test->report->findings, i);
        if (strcmp(finding->rule, "too-many-at-once") == 0 &&
            strncmp(finding->message, name, strlen(name)) == 0 && finding->value > most)
            most = finding->value;
    }
    return (unsigned)most;
}

static bool address_is_taken(const plan *p, unsigned at) {
    const patch *b = &p->fixtures[at];
    for (unsigned i = 0; i < at; i++) {
        const patch *a = &p->fixtures[i];
        if (a->universe == b->universe && a->address < b->address + b->channels &&
            b->address < a->address + a->channels)
            return true;
    }
    return false;
}

static void judge(const plan *p, const check_case *test, uint64_t found[3]) {
    uint64_t reused = 0, gaps = 0, taken = 0;
    for (unsigned i = 0; i < p->shot_count; i++) {
        reused |= (uint64_t)slot_was_fired(p, i) << p->shots[i].row;
        gaps |= (uint64_t)gap_is_short(p, i) << p->shots[i].row;
    }
    for (unsigned f = 0; f < p->fixture_count; f++)
        taken |= (uint64_t)address_is_taken(p, f) << f;
    const uint64_t told[3] = {check_case_rows(test, "slot-reused"), check_case_rows(test, "gap-short"),
                              check_case_rows(test, "address-overlap")};
    if (told[0] != reused || told[1] != gaps || told[2] != taken)
        check_case_print(test);
    assert_int_equal(told[0], reused);
    assert_int_equal(told[1], gaps);
    assert_int_equal(told[2], taken);
    for (int i = 0; i < 3; i++)
        found[i] += told[i] != 0;
    for (unsigned m = 0; m < MODULES; m++) {
        if (crowd_told(test, m) != crowd_of(p, m))
            check_case_print(test);
        assert_int_equal(crowd_told(test, m), crowd_of(p, m));
    }
}

static void rules_agree_with_trying_every_pair(void **state) {
    (void)state;
    uint64_t seed = 0x51A7E5EEDu, found[3] = {0};
    const int shows = getenv("SLOWMATCH_SOAK") ? SHOWS * 10 : SHOWS;
    check_folder folder;
    sm_text text = {0};
    check_folder_init(&folder, NULL);
    check_folder_write(&folder, "show.ini", "[show]\ntitle = Random\n");
    check_folder_write(&folder, "profiles.csv",
                       "name,channels\np1,a\np2,a b\np3,a b c\np4,a b c d\np5,a b c d e\n"
                       "p6,a b c d e f\np7,a b c d e f g\np8,a b c d e f g h\n");
    for (int i = 0; i < shows; i++) {
        plan p;
        check_case test;
        write_modules(&folder, &p, &seed, &text);
        write_cues(&folder, &p, &seed, &text);
        write_fixtures(&folder, &p, &seed, &text);
        check_case_init(&test, &folder, NULL);
        judge(&p, &test, found);
        check_case_deinit(&test);
    }
    // The generator makes enough of each, and enough without.
    for (int i = 0; i < 3; i++)
        assert_true(found[i] > (uint64_t)shows / 10 && found[i] < (uint64_t)shows / 100 * 95);
    sm_text_deinit(&text);
    check_folder_deinit(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rules_agree_with_trying_every_pair),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

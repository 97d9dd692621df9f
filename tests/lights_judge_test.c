// SPDX-License-Identifier: GPL-3.0-or-later
// Frame, judge and mask over random shows, against what the test itself has patched: they agree on every slot, nothing but a named
// channel of a light is ever let pass, and none of them alone could open the way.
#include "lights/frame.h"
#include "lights/judge.h"
#include "lights/mask.h"
#include "lights/statement.h"
#include "support/lights_random.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

typedef struct trial {
    lights_random truth;
    sm_show *show;
    lights_judge *judge;
    lights_frame *frame;
    lights_masks masks;
    uint8_t *levels;
} trial;

static void make(trial *t, const show_folder *folder, uint64_t seed, bool cues) {
    const sm_lights_options options = {.interface = "none", .to = {{0}}, .to_count = 1, .priority = 10};
    lights_random_put(folder, seed, cues, &t->truth);
    t->show = show_folder_load(folder, SM_OK);
    assert_int_equal(lights_judge_create(t->show, &t->judge), SM_OK);
    assert_int_equal(lights_frame_create(t->show, &options, &t->frame), SM_OK);
    assert_int_equal(lights_masks_make(t->show, &t->masks), SM_OK);
    t->levels = malloc(t->show->channel_count + 1);
    assert_non_null(t->levels);
    for (uint32_t c = 0; c < t->show->channel_count; c++)
        t->levels[c] = (uint8_t)(1 + (c * 7 + seed) % 255); // none is 0
}

static void drop(trial *t) {
    lights_judge_destroy(t->judge);
    lights_frame_destroy(t->frame);
    free(t->masks.masks);
    free(t->levels);
    sm_show_destroy(t->show);
}

static size_t frame_of(const trial *t, int32_t universe) {
    size_t i = 0;
    while (i < lights_frame_count(t->frame) && lights_frame_universe(t->frame, i) != universe)
        i++;
    return i;
}

// Each slot, and every EACH of them also with another level than it should have.
static void hold_slots(const trial *t, int32_t universe, size_t each) {
    uint8_t slots[SM_SACN_SLOTS];
    char why[SM_LIGHTS_WHY];
    lights_verdict verdict;
    const lights_mask *mask = lights_mask_find(&t->masks, universe);
    lights_frame_fill(t->frame, frame_of(t, universe), t->levels, slots);
    assert_non_null(mask);
    assert_true(lights_judge_pass(t->judge, universe, slots, t->levels, &verdict, why));
    assert_true(lights_verdict_holds(&verdict));
    for (size_t s = 0; s < SM_SACN_SLOTS; s++) {
        const bool owned = t->truth.owned[universe][s + 1];
        assert_int_equal(slots[s] != 0, owned);
        assert_int_equal(mask->bits[s], owned ? 0xFF : 0);
        assert_int_equal(verdict.owned[s / 8] >> s % 8 & 1, owned);
        if (s % each != (size_t)t->levels[0] % each)
            continue;
        const uint8_t kept = slots[s];
        slots[s] = (uint8_t)(kept + 1 ? kept + 1 : 1); // one slot that is other than it should be
        assert_false(lights_judge_pass(t->judge, universe, slots, t->levels, &verdict, why));
        assert_int_equal(lights_judge_pass(t->judge, universe, slots, NULL, &verdict, why), owned);
        slots[s] = kept;
    }
    assert_true(lights_judge_pass(t->judge, universe, slots, NULL, &verdict, why));
    verdict.slots[universe] ^= 1; // a verdict that somebody has touched
    assert_false(lights_verdict_holds(&verdict));
}

static void nothing_but_lights_passes(void **state) {
    (void)state;
    const char *soak = getenv("SLOWMATCH_SOAK");
    const uint64_t count = soak && *soak ? 100000 : 200;
    size_t sent = 0, withheld = 0;
    const show_folder folder = show_folder_make_small();
    const uint8_t zeros[SM_SACN_SLOTS] = {0};
    for (uint64_t seed = 1; seed <= count; seed++) {
        trial t;
        make(&t, &folder, seed, false);
        for (int32_t u = 0; u <= LIGHTS_RANDOM_UNIVERSES + 1; u++) {
            lights_verdict verdict;
            char why[SM_LIGHTS_WHY];
            const bool may = u >= 1 && u <= LIGHTS_RANDOM_UNIVERSES && t.truth.may[u];
            const bool passes = lights_judge_pass(t.judge, u, zeros, NULL, &verdict, why);
            const bool framed = frame_of(&t, u) < lights_frame_count(t.frame);
            if (passes != may || framed != may)
                print_error("seed %llu universe %d: %d, judge %d, frame %d\n", (unsigned long long)seed,
                            (int)u, may, passes, framed);
            assert_int_equal(passes, may);
            assert_int_equal(framed, may);
            sent += may;
            withheld += !may;
            if (may)
                hold_slots(&t, u, seed <= 200 ? 1 : 37);
        }
        drop(&t);
    }
    print_message("%zu universes of lights, %zu withheld\n", sent, withheld);
    assert_true(sent > count && withheld > count); // the draw is worth its name
    show_folder_remove(&folder);
}

// ---- the same while a rehearsal runs -----------------------------------------------------------------

static void act(const trial *t, sm_rehearsal *rehearsal, const char *line, sm_us now_us) {
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(t->show, line, strlen(line), &action, why, &at), SM_OK);
    const sm_result result = sm_rehearsal_act(rehearsal, &action, SM_SOURCE_CONSOLE, (sm_wall_time){now_us});
    assert_true(result == SM_OK || result == SM_REFUSED);
}

// Every frame of this moment passes, and has nothing but 0 where the test has patched no light. Returns how many slots are lit.
static size_t hold_moment(const trial *t, const sm_rehearsal *rehearsal, sm_us now_us) {
    uint8_t slots[SM_SACN_SLOTS];
    char why[SM_LIGHTS_WHY];
    lights_verdict verdict;
    size_t lit = 0;
    sm_rehearsal_levels(rehearsal, (sm_wall_time){now_us}, t->levels);
    for (size_t i = 0; i < lights_frame_count(t->frame); i++) {
        const int32_t universe = lights_frame_universe(t->frame, i);
        lights_frame_fill(t->frame, i, t->levels, slots);
        assert_true(t->truth.may[universe]);
        assert_true(lights_judge_pass(t->judge, universe, slots, t->levels, &verdict, why));
        for (size_t s = 0; s < SM_SACN_SLOTS; s++) {
            assert_true(slots[s] == 0 || t->truth.owned[universe][s + 1]);
            lit += slots[s] != 0;
        }
    }
    return lit;
}

static size_t rehearse_some(const trial *t, sm_rehearsal *rehearsal, unsigned *dice, sm_us *now_us) {
    static const char *const begin[] = {"measure", "call-clear J", "key on", "arm"};
    static const char *const lines[] = {"seek 2",    "seek 0",       "pause",   "resume",     "safe",
                                        "speed 0.5", "speed 2",      "arm",     "inhibit f0", "start",
                                        "key on",    "call-clear K", "allow f0"};
    size_t lit = 0;
    for (size_t i = 0; i < sizeof begin / sizeof begin[0]; i++)
        act(t, rehearsal, begin[i], *now_us);
    *now_us += SM_US_PER_S;
    act(t, rehearsal, "start", *now_us);
    for (int i = 0; i < 12; i++) {
        *now_us += (sm_us)((unsigned)rand_r(dice) % 700000);
        assert_int_equal(sm_rehearsal_run(rehearsal, (sm_wall_time){*now_us}), SM_OK);
        lit += hold_moment(t, rehearsal, *now_us);
        act(t, rehearsal, lines[(unsigned)rand_r(dice) % (sizeof lines / sizeof lines[0])], *now_us);
        lit += hold_moment(t, rehearsal, *now_us);
    }
    return lit;
}

// Random shows through random jumps, pauses, stops, and a reload of other tables in between.
static void nothing_but_lights_is_lit_in_any_rehearsal(void **state) {
    (void)state;
    const char *soak = getenv("SLOWMATCH_SOAK");
    const uint64_t count = soak && *soak ? 100000 : 80;
    const sm_rehearsal_options options = {.no_alerts = true, .readings_not_judged = true};
    const show_folder folder = show_folder_make_small();
    size_t lit = 0;
    for (uint64_t seed = 1; seed <= count; seed++) {
        unsigned dice = (unsigned)(seed * 2654435761U);
        sm_rehearsal *rehearsal;
        sm_us now_us = 0;
        trial before, after;
        make(&before, &folder, seed, true);
        assert_int_equal(sm_rehearsal_create(before.show, &options, &rehearsal), SM_OK);
        lit += rehearse_some(&before, rehearsal, &dice, &now_us);
        act(&before, rehearsal, "safe", now_us);
        now_us += 60 * SM_US_PER_S; // what burns is out
        act(&before, rehearsal, "reload", now_us);
        assert_true(sm_rehearsal_reload_asked(rehearsal));
        make(&after, &folder, seed + 1000003, true);
        assert_int_equal(sm_rehearsal_replace_show(rehearsal, after.show), SM_OK);
        lit += rehearse_some(&after, rehearsal, &dice, &now_us);
        sm_rehearsal_destroy(rehearsal);
        drop(&before);
        drop(&after);
    }
    print_message("%zu shows and as many reloads, %zu slots lit\n", (size_t)count, lit);
    assert_true(lit > 20 * count); // they are worth their name
    show_folder_remove(&folder);
}

// ---- what people state --------------------------------------------------------------------------------

typedef struct asked {
    show_folder folder;
    sm_show *show;
    sm_lights_options options;
    lights_frame *frame;
    sm_person people[2];
    lights_matter matter;
    lights_statement statement;
    sm_text question;
} asked;

static const sm_lights_options to_3_and_12 = {
    .interface = "desk", .to = {{3, 0x0A090004}, {12, 0}}, .to_count = 2};

static int begin_asking(void **state) {
    static asked a;
    a = (asked){.folder = show_folder_make_small(), .options = to_3_and_12};
    show_folder_put(&a.folder, "profiles.csv", "name,channels,wire\npar,dim red,light\n");
    show_folder_put(&a.folder, "fixtures.csv",
                    "name,profile,universe,address\npar-1,par,3,5\npar-2,par,3,9\nwash,par,12,1\n");
    show_folder_put(&a.folder, "groups.csv", NULL);
    show_folder_put(&a.folder, "lines.csv", NULL);
    show_folder_put(&a.folder, "cues.csv", "time,target,do\n1,A-01,comet\n");
    a.show = show_folder_load(&a.folder, SM_OK);
    assert_int_equal(lights_frame_create(a.show, &a.options, &a.frame), SM_OK);
    assert_int_equal(lights_frame_count(a.frame), 2);
    a.matter = (lights_matter){.show = a.show, .options = &a.options, .frame = a.frame, .people = a.people};
    *state = &a;
    return 0;
}

static int end_asking(void **state) {
    asked *a = *state;
    sm_text_deinit(&a->question);
    lights_frame_destroy(a->frame);
    sm_show_destroy(a->show);
    show_folder_remove(&a->folder);
    return 0;
}

static const char *question_of(asked *a) {
    sm_text_clear(&a->question);
    return lights_statement_asks(&a->statement, &a->matter, &a->question) ? sm_text_get(&a->question) : "";
}

static bool takes(asked *a, const char *answer) {
    char why[SM_LIGHTS_WHY] = "";
    const bool taken = lights_statement_take(&a->statement, &a->matter, answer, why);
    assert_true(taken || why[0] != '\0');
    return taken;
}

static void each_universe_is_stated_by_its_own_number(void **state) {
    asked *a = *state;
    static const char *const wrong[] = {"",    "J",   "3",     "3 ",   "12 J",     "3J",  "03x J",
                                        "yes", "3 y", "3 yes", "3 OK", "3 nobody", "3 12"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_false(takes(a, wrong[i]));
    // What will be lit, by its name, universe, address and way.
    assert_non_null(strstr(question_of(a),
                           "Universe 3 to 10.9.0.4 lights par-1 (5 to 6), par-2 (9 to 10). \"No flame "
                           "unit is connected to any node or line of universe 3: fuel shut, power off at "
                           "the unit.\""));
    assert_true(takes(a, "3 J"));
    assert_non_null(strstr(question_of(a), "Universe 12 to 239.255.0.12 (multicast) lights wash (1 to 2)"));
    assert_false(takes(a, "3 J"));
    assert_true(takes(a, "12 K Miller"));
    assert_string_equal(a->statement.by, "J, K Miller");
}

// What is typed by habit, or was meant for another question, is no answer.
static void each_answer_reads_its_own_question_back(void **state) {
    asked *a = *state;
    static const char *const habits[] = {"",  "  ", "none", "nobody", "no", "yes",
                                         "x", "ok", "told", "par-1",  "all"};
    static const struct {
        const char *asks, *good, *also, *bad[4];
    } rows[] = {
        {"FIELD",
         "nobody in the field",
         "K and L told",
         {"no strobes", "nothing moves", "nobody in the dark"}},
        {"STROBES",
         "no strobes",
         "Par 1 strobes, crew told",
         {"nothing moves", "nobody in the field", "strobes", "jet-1 strobes, crew told"}},
        {"MOVING",
         "nothing moves",
         "wash is moving, K clear",
         {"no strobes", "nobody in the field", "wash moves", "K clear"}},
        {"DARK",
         "nobody in the dark",
         "K in the dark, has a torch",
         {"no strobes", "nothing moves", "nobody in the field", "dark"}},
    };
    for (int way = 0; way < 2; way++) {
        a->statement = (lights_statement){0};
        assert_true(takes(a, "3 J") && takes(a, "12 J"));
        for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
            assert_memory_equal(question_of(a), rows[i].asks, strlen(rows[i].asks));
            for (size_t b = 0; b < sizeof habits / sizeof habits[0]; b++)
                assert_false(takes(a, habits[b]));
            for (size_t b = 0; b < 4 && rows[i].bad[b]; b++)
                assert_false(takes(a, rows[i].bad[b]));
            assert_true(takes(a, way == 0 ? rows[i].good : rows[i].also));
        }
        assert_string_equal(question_of(a), "");
        assert_false(takes(a, "no strobes"));
        assert_non_null(
            strstr(a->statement.said, way == 0 ? "moving: nothing moves" : "moving: wash is moving"));
    }
}

// Lamps of which a cue moves the strobe are named, and cannot be denied; one at rest is none of them.
static void what_the_cues_do_is_not_denied(void **state) {
    asked *a = *state;
    sm_show_destroy(a->show);
    lights_frame_destroy(a->frame);
    show_folder_put(&a->folder, "profiles.csv",
                    "name,channels,home,wire\npar,dim strobe,0 7,light\nspot,dim pan-fine,0 0,light\n");
    show_folder_put(&a->folder, "fixtures.csv",
                    "name,profile,universe,address\npar-1,par,3,5\npar-2,par,3,9\nspot-1,spot,12,1\n");
    show_folder_put(&a->folder, "cues.csv",
                    "time,target,do\n1,par-1,dim=255 strobe=7\n2,par-2,strobe=200\n3,spot-1,pan-fine=1\n");
    a->show = show_folder_load(&a->folder, SM_OK);
    assert_int_equal(lights_frame_create(a->show, &a->options, &a->frame), SM_OK);
    a->matter.show = a->show;
    a->matter.frame = a->frame;
    assert_true(takes(a, "3 J") && takes(a, "12 J") && takes(a, "nobody in the field"));
    assert_non_null(
        strstr(question_of(a), "who was told? By the cues: par-2. Read back by name, and who was told"));
    assert_false(takes(a, "no strobes"));
    assert_false(takes(a, "par-1 strobes, crew told"));
    assert_true(takes(a, "par-2 strobes, crew told"));
    assert_non_null(strstr(question_of(a), "By the cues: spot-1. Read back by name, and who stands clear"));
    assert_false(takes(a, "nothing moves"));
    assert_true(takes(a, "all move, crew clear"));
    assert_true(takes(a, "nobody in the dark"));
}

// Those whom the console has in the field are named, and read back.
static void people_in_the_field_are_read_back(void **state) {
    asked *a = *state;
    a->people[0] = (sm_person){.name = "Kim"};
    a->people[1] = (sm_person){.name = "L, of the crew!"};
    a->matter.people_count = 2;
    assert_true(takes(a, "3 J") && takes(a, "12 J"));
    assert_non_null(strstr(question_of(a), "In the field by this console: Kim, L, of the crew!."));
    static const char *const wrong[] = {"nobody in the field", "Kim told", "both told",
                                        "Kim and L, of the crew! in the field"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_false(takes(a, wrong[i]));
    assert_true(takes(a, "kim and L, of the crew! were told"));
    assert_non_null(strstr(question_of(a), "STROBES"));
}

static void destinations_are_one_machine_each(void **state) {
    (void)state;
    static const char *const wrong[] = {"255.255.255.255",
                                        "239.255.0.1",
                                        "0.0.0.0",
                                        "10.9.0",
                                        "1=",
                                        "0=10.9.0.2",
                                        "64000=10.9.0.2",
                                        "10.9.0.2,10.9.0.3",
                                        "3=10.9.0.2,3=multicast",
                                        "node"};
    sm_lights_options options = {.priority = 77};
    char why[SM_LIGHTS_WHY];
    uint32_t address;
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_int_equal(sm_lights_options_read("eth0", wrong[i], NULL, &options, why), SM_INVALID);
    assert_int_equal(sm_lights_options_read("", "10.9.0.2", NULL, &options, why), SM_INVALID);
    assert_int_equal(sm_lights_options_read("eth0", "10.9.0.2", "100", &options, why), SM_INVALID);
    assert_int_equal(sm_lights_options_read("eth0", "10.9.0.2", "0", &options, why), SM_INVALID);
    assert_int_equal(options.priority, 77); // unchanged
    assert_int_equal(sm_lights_options_read("eth0", "3=10.9.0.4,multicast", "99", &options, why), SM_OK);
    assert_true(sm_lights_to_of(&options, 3, &address));
    assert_int_equal(address, 0x0A090004);
    assert_true(sm_lights_to_of(&options, 4, &address));
    assert_int_equal(address, 0);
    assert_int_equal(sm_lights_options_read("eth0", "3=10.9.0.4", NULL, &options, why), SM_OK);
    assert_int_equal(options.priority, 10);
    assert_false(sm_lights_to_of(&options, 4, &address));
}

// ---- the judge alone, over tables made here -----------------------------------------------------------------

// A lamp of two channels at address 5 of universe 1, on a line of its own.
typedef struct lamp {
    const char *channels[2];
    uint32_t chain[1];
    sm_profile profile;
    sm_fixture fixture;
    sm_line line;
    sm_show show;
} lamp;

static void make_lamp(lamp *l) {
    *l = (lamp){.channels = {"dim", "red"}};
    l->profile = (sm_profile){.name = "par",
                              .channels = l->channels,
                              .channel_count = 2,
                              .light = true,
                              .enable = SM_NONE,
                              .fire = SM_NONE,
                              .longest_us = SM_UNSET_US,
                              .recover_us = SM_UNSET_US,
                              .burn_ml_s = NAN,
                              .burn_g_s = NAN};
    l->fixture = (sm_fixture){.name = "p1", .universe = 1, .address = 5, .fuel_ml = NAN, .fuel_g = NAN};
    l->line = (sm_line){.name = "left", .universe = 1, .chain = l->chain, .chain_count = 1};
    l->show = (sm_show){.profiles = &l->profile,
                        .profile_count = 1,
                        .fixtures = &l->fixture,
                        .fixture_count = 1,
                        .lines = &l->line,
                        .line_count = 1,
                        .channel_count = 2};
}

static bool lamp_passes(const lamp *l, int32_t universe) {
    static const uint8_t dark[SM_SACN_SLOTS];
    lights_judge *judge = NULL;
    lights_verdict verdict;
    char why[SM_LIGHTS_WHY];
    assert_int_equal(lights_judge_create(&l->show, &judge), SM_OK);
    const bool passes = lights_judge_pass(judge, universe, dark, NULL, &verdict, why);
    lights_judge_destroy(judge);
    return passes;
}

// Each alone makes a universe of one lamp a universe of more than lamps. From the product's own rule; no outside source.
static void one_sign_of_flame_condemns_a_universe(void **state) {
    (void)state;
    lamp l;
    make_lamp(&l);
    assert_true(lamp_passes(&l, 1));
#define CONDEMNED(field, value)                                                                              \
    do {                                                                                                     \
        make_lamp(&l);                                                                                       \
        l.field = (value);                                                                                   \
        if (lamp_passes(&l, 1))                                                                              \
            fail_msg("passed with %s = %s", #field, #value);                                                 \
    } while (0)
    CONDEMNED(profile.light, false);
    CONDEMNED(profile.flame, true);
    CONDEMNED(profile.enable, 0);
    CONDEMNED(profile.fire, 1);
    CONDEMNED(profile.burn_ml_s, 0.0);
    CONDEMNED(profile.burn_g_s, 3.0);
    CONDEMNED(profile.longest_us, 1000000);
    CONDEMNED(profile.recover_us, 0);
    CONDEMNED(profile.name, "jet");
    CONDEMNED(fixture.name, "torch-2");
    CONDEMNED(fixture.fuel_ml, 0.0);
    CONDEMNED(fixture.fuel_g, 500.0);
    CONDEMNED(fixture.profile, SM_NONE);
    CONDEMNED(fixture.address, 0);
    CONDEMNED(fixture.address, -3);
    CONDEMNED(fixture.address, 512);
    CONDEMNED(line.name, "jets");
    CONDEMNED(line.universe, 2);
    CONDEMNED(line.universe, 0);
    CONDEMNED(line.universe, SM_SACN_UNIVERSE_MAX + 1);
    CONDEMNED(fixture.universe, 2); // the line says universe 1
    CONDEMNED(chain[0], SM_NONE);
    CONDEMNED(channels[1], "gas");
#undef CONDEMNED
    make_lamp(&l); // a fixture of no universe, nor its line, condemns no other
    l.fixture.universe = l.line.universe = 0;
    assert_false(lamp_passes(&l, 1));
    l.fixture.universe = l.line.universe = SM_SACN_UNIVERSE_MAX + 1;
    assert_false(lamp_passes(&l, SM_SACN_UNIVERSE_MAX + 1));
    assert_false(lamp_passes(&l, 0));
}

// A word of danger stands by itself where no letter of a to z stands beside it, in its plural too. A word of the second list, which names
// no thing that burns, inside another word is that other word.
static void words_of_danger_are_words(void **state) {
    (void)state;
    static const struct {
        const char *name;
        bool passes;
    } rows[] = {{"jet", false},   {"JET", false},         {"jets", false},        {"Jets", false},
                {"jet1", false},  {"1jet", false},        {"jet-a", false},       {"~jet", false},
                {"jet~", false},  {"\xC3\xA9jet", false}, {"jet\xC3\xA9", false}, {"jets2", false},
                {"xjet", true},   {"jetty", true},        {"zjet-2", true},       {"ajet", true},
                {"jeta", true},   {"jetz", true},         {"jetsam", true},       {"jetski jet", false},
                {"flame", false}, {"inflames", false},    {"par", true}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        lamp l;
        make_lamp(&l);
        l.fixture.name = rows[i].name;
        if (lamp_passes(&l, 1) != rows[i].passes)
            fail_msg("%s", rows[i].name);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_but_lights_passes),
        cmocka_unit_test(nothing_but_lights_is_lit_in_any_rehearsal),
        cmocka_unit_test_setup_teardown(each_universe_is_stated_by_its_own_number, begin_asking, end_asking),
        cmocka_unit_test_setup_teardown(each_answer_reads_its_own_question_back, begin_asking, end_asking),
        cmocka_unit_test_setup_teardown(what_the_cues_do_is_not_denied, begin_asking, end_asking),
        cmocka_unit_test_setup_teardown(people_in_the_field_are_read_back, begin_asking, end_asking),
        cmocka_unit_test(destinations_are_one_machine_each),
        cmocka_unit_test(one_sign_of_flame_condemns_a_universe),
        cmocka_unit_test(words_of_danger_are_words),
    };
    return cmocka_run_group_tests_name("lights: frame, judge, mask, statement", tests, NULL, NULL);
}

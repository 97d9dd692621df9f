// SPDX-License-Identifier: GPL-3.0-or-later
// Frame, judge and mask over random shows, against what the test itself has patched: they agree on every slot, nothing but a named
// channel of a light is ever let pass, and none of them alone could open the way.
#include "lights/frame.h"
#include "lights/judge.h"
#include "lights/mask.h"
#include "lights/statement.h"
#include "support/lights_random.h"

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

static void make(trial *t, const show_folder *folder, uint64_t seed) {
    const sm_lights_options options = {.interface = "none", .to = {{0}}, .to_count = 1, .priority = 10};
    lights_random_put(folder, seed, false, &t->truth);
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

static void hold_slots(const trial *t, int32_t universe) {
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
    const uint64_t count = soak && *soak ? 100000 : 400;
    size_t sent = 0, withheld = 0;
    const show_folder folder = show_folder_make_small();
    const uint8_t zeros[SM_SACN_SLOTS] = {0};
    for (uint64_t seed = 1; seed <= count; seed++) {
        trial t;
        make(&t, &folder, seed);
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
                hold_slots(&t, u);
        }
        drop(&t);
    }
    print_message("%zu universes of lights, %zu withheld\n", sent, withheld);
    assert_true(sent > count && withheld > count); // the draw is worth its name
    show_folder_remove(&folder);
}

// ---- what people state --------------------------------------------------------------------------------

static void each_universe_is_stated_by_its_own_number(void **state) {
    (void)state;
    const sm_lights_options options = {.to = {{0}}, .to_count = 1};
    const show_folder folder = show_folder_make_small();
    lights_statement statement = {0};
    char why[SM_LIGHTS_WHY];
    sm_text asks = {0};
    lights_frame *frame;
    show_folder_put(&folder, "profiles.csv", "name,channels,wire\npar,dim,light\n");
    show_folder_put(&folder, "fixtures.csv", "name,profile,universe,address\na,par,3,1\nb,par,12,1\n");
    show_folder_put(&folder, "groups.csv", NULL);
    show_folder_put(&folder, "lines.csv", NULL);
    show_folder_put(&folder, "cues.csv", "time,target,do\n1,A-01,comet\n");
    sm_show *show = show_folder_load(&folder, SM_OK);
    assert_int_equal(lights_frame_create(show, &options, &frame), SM_OK);
    assert_int_equal(lights_frame_count(frame), 2);
    static const char *const wrong[] = {"", "J", "3", "3 ", "12 J", "3J", "03x J", "yes"};
    for (size_t i = 0; i < sizeof wrong / sizeof wrong[0]; i++)
        assert_false(lights_statement_take(&statement, frame, wrong[i], why));
    assert_true(lights_statement_asks(&statement, frame, &asks));
    assert_non_null(
        strstr(sm_text_get(&asks),
               "\"No flame unit is connected to any node or line of universe 3: fuel shut, power off at "
               "the unit.\""));
    assert_true(lights_statement_take(&statement, frame, "3 J", why));
    assert_false(lights_statement_take(&statement, frame, "3 J", why));
    assert_true(lights_statement_take(&statement, frame, "12 K Miller", why));
    static const char *const asked[] = {"STROBES", "MOVING", "DARK"};
    for (size_t i = 0; i < 3; i++) {
        sm_text_clear(&asks);
        assert_true(lights_statement_asks(&statement, frame, &asks));
        assert_non_null(strstr(sm_text_get(&asks), asked[i]));
        assert_false(lights_statement_take(&statement, frame, "  ", why));
        assert_true(lights_statement_take(&statement, frame, "none", why));
    }
    assert_false(lights_statement_asks(&statement, frame, &asks));
    assert_string_equal(statement.by, "J, K Miller");
    sm_text_deinit(&asks);
    lights_frame_destroy(frame);
    sm_show_destroy(show);
    show_folder_remove(&folder);
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

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_but_lights_passes),
        cmocka_unit_test(each_universe_is_stated_by_its_own_number),
        cmocka_unit_test(destinations_are_one_machine_each),
    };
    return cmocka_run_group_tests_name("lights: frame, judge, mask, statement", tests, NULL, NULL);
}

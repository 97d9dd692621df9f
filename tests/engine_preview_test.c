// SPDX-License-Identifier: GPL-3.0-or-later
// Listening to a proposal: when it is allowed, what it changes (nothing but what is heard), what ends it.
#include "support/engine_run.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

static const char cues[] = "5,A-01,fountain,,\n10,L1,dim=255,,\n10.5,A-02,comet,,\n59.5,A-03,mine,,\n";
static const engine_file music[] = {
    {"show.ini", "[show]\ntitle = Listen\naudio = music.wav\nlength = 60\ncountdown = 2 s\n[limits]\n"
                 "arm-time = 1 s\n"},
    {NULL, NULL}};

static void begin(engine_run *run, sm_show **show, const engine_file *changes) {
    *show = engine_show(cues, changes);
    engine_run_init(run, *show, NULL);
}

static void end(engine_run *run, sm_show *show) {
    engine_run_deinit(run);
    sm_show_destroy(show);
}

static void must(sm_result result) {
    assert_int_equal(result, SM_OK);
}

static void sound(engine_run *run, sm_sound_change change, const char *detail) {
    must(sm_rehearsal_sound(run->rehearsal, change, detail, run->now));
}

static void assert_refused(engine_run *run, double at_s, const char *why) {
    assert_int_equal(engine_act(run, at_s, "listen 1"), SM_REFUSED);
    assert_non_null(strstr(sm_rehearsal_refusal(run->rehearsal), why));
    assert_false(engine_look(run)->preview.on);
}

static void it_is_refused_where_it_cannot_be(void **state) {
    (void)state;
    engine_run run;
    sm_show *show;
    begin(&run, &show, NULL);
    assert_refused(&run, 0, "this show has no music");
    end(&run, show);
    begin(&run, &show, music);
    assert_refused(&run, 0, "nothing can be heard: no sound device is open yet");
    sound(&run, SM_SOUND_SILENT, "no output device");
    assert_refused(&run, 0, "nothing can be heard: no output device");
    sound(&run, SM_SOUND_DEVICE, "a card");
    must(engine_act(&run, 0, "key on"));
    assert_refused(&run, 0, "the key is on");
    must(engine_act(&run, 0, "call-clear J"));
    must(engine_act(&run, 0, "arm"));
    assert_refused(&run, 0, "not while arming; allowed in: safe");
    must(engine_act(&run, 1, "start"));
    engine_to(&run, 9);
    must(engine_act(&run, 9, "key off"));
    assert_refused(&run, 9, "A-01 still burns");
    must(engine_act(&run, 30, "reload"));
    assert_refused(&run, 30, "the folder is being read");
    end(&run, show);
}

// Cue 3 stands at 10.5 s, two beats of 1 s before it begin at 8.5 s.
static void it_goes_round_and_nothing_else_moves(void **state) {
    (void)state;
    engine_run run;
    sm_show *show;
    sm_text before = {0}, after = {0};
    begin(&run, &show, music);
    sound(&run, SM_SOUND_DEVICE, "a card");
    sm_text_clear(&run.rows);
    engine_snapshot_text(&before, engine_look(&run));
    must(engine_act(&run, 1, "listen 3"));
    const sm_snapshot *now = engine_look(&run);
    assert_int_equal(now->preview.from.us, 8500000);
    assert_int_equal(now->preview.tick.us, 10500000);
    assert_int_equal(now->preview.to.us, 12500000);
    static const struct {
        sm_us wall_us, place_us;
    } places[] = {{1000000, 8500000}, {1000001, 8500001},  {4999999, 12499999},
                  {5000000, 8500000}, {13250000, 8750000}, {1000000 + 4000000 * INT64_C(1000000), 8500000}};
    for (size_t i = 0; i < sizeof places / sizeof places[0]; i++)
        assert_int_equal(sm_preview_place(&now->preview, (sm_wall_time){places[i].wall_us}).us,
                         places[i].place_us);
    engine_to(&run, 100);
    now = engine_look(&run);
    assert_true(now->preview.on);
    assert_int_equal(now->state, SM_STATE_SAFE);
    assert_int_equal(now->at.us, 0);
    assert_int_equal(sm_rehearsal_show_clock(run.rehearsal).playing, false);
    must(engine_act(&run, 100, "listen off"));
    engine_snapshot_text(&after, engine_look(&run));
    assert_string_equal(sm_text_get(&run.rows),
                        "1,,console,listen,,3,PREVIEW 0:08.500 to 0:12.500\n100,,console,listen,,off,\n");
    // All but the wall time is as it was.
    const char *a = strchr(sm_text_get(&before), '\n'), *b = strchr(sm_text_get(&after), '\n');
    assert_string_equal(a, b);
    sm_text_deinit(&before);
    sm_text_deinit(&after);
    end(&run, show);
}

static void what_is_proposed_is_heard(void **state) {
    (void)state;
    engine_run run;
    sm_show *show;
    begin(&run, &show, music);
    sound(&run, SM_SOUND_DEVICE, "a card");
    must(engine_act(&run, 0, "propose 1 0:06"));
    must(engine_act(&run, 0, "listen 1"));
    assert_int_equal(engine_look(&run)->preview.tick.us, 6000000);
    must(engine_act(&run, 3, "propose 2 +1 s")); // another cue: it goes on
    assert_int_equal(engine_look(&run)->preview.since.us, 0);
    must(engine_act(&run, 3, "propose 1 -0.5 s"));
    assert_int_equal(engine_look(&run)->preview.tick.us, 5500000);
    assert_int_equal(engine_look(&run)->preview.since.us, 3000000);
    must(engine_act(&run, 4, "undo 3"));
    assert_int_equal(engine_look(&run)->preview.tick.us, 5000000);
    must(engine_act(&run, 5, "speed 0.5"));
    assert_int_equal(sm_preview_place(&engine_look(&run)->preview, (sm_wall_time){7000000}).us, 4000000);
    must(engine_act(&run, 5, "speed 1"));
    // Beats tapped half a second apart: two of them before the cue. A mark is of the music that is heard.
    must(engine_act(&run, 6, "mark beat-1"));
    must(engine_act(&run, 6.5, "mark beat-2"));
    assert_int_equal(engine_look(&run)->marks[0].at.us, 4000000);
    assert_int_equal(engine_look(&run)->marks[1].at.us, 4500000);
    must(engine_act(&run, 7, "listen 1"));
    assert_int_equal(engine_look(&run)->preview.from.us, 4000000);
    assert_int_equal(engine_look(&run)->preview.to.us, 6000000);
    must(engine_act(&run, 8, "propose 1 0:00.2")); // not before the show
    assert_int_equal(engine_look(&run)->preview.from.us, 0);
    assert_int_equal(engine_look(&run)->preview.to.us, 1200000);
    end(&run, show);
}

// A beat is a quarter of a second to two seconds long; what was tapped faster or slower is none, and a second stands for it.
static void a_beat_is_as_long_as_one_can_be(void **state) {
    (void)state;
    static const struct {
        const char *apart;
        sm_us beat_us;
    } taps[] = {{"0:10.249", 1000000}, {"0:10.250", 250000}, {"0:12.000", 2000000}, {"0:12.001", 1000000}};
    for (size_t i = 0; i < sizeof taps / sizeof taps[0]; i++) {
        engine_run run;
        sm_show *show;
        char line[64];
        begin(&run, &show, music);
        sound(&run, SM_SOUND_DEVICE, "a card");
        must(engine_act(&run, 0, "seek 0:10"));
        must(engine_act(&run, 0, "mark beat-1"));
        snprintf(line, sizeof line, "seek %s", taps[i].apart);
        must(engine_act(&run, 0, line));
        must(engine_act(&run, 0, "mark beat-2"));
        must(engine_act(&run, 1, "listen 3")); // at 10.5 s
        assert_int_equal(engine_look(&run)->preview.from.us, 10500000 - 2 * taps[i].beat_us);
        end(&run, show);
    }
}

static void any_stop_and_anything_else_ends_it(void **state) {
    (void)state;
    static const char *const acts[] = {"safe", "key off",      "key on", "pause",
                                       "quit", "hold M smoke", "seek 4", "call-clear J",
                                       "arm",  "enter K",      "reload", "repeat 1 3"};
    for (size_t i = 0; i < sizeof acts / sizeof acts[0]; i++) {
        engine_run run;
        sm_show *show;
        begin(&run, &show, music);
        sound(&run, SM_SOUND_DEVICE, "a card");
        must(engine_act(&run, 0, "listen 2"));
        must(engine_act(&run, 1, "volume 50")); // goes on
        assert_true(engine_look(&run)->preview.on);
        (void)engine_act(&run, 2, acts[i]); // pause and arm are refused, and end it all the same
        assert_false(engine_look(&run)->preview.on);
        assert_non_null(strstr(sm_text_get(&run.rows), ",engine,listen,,2,ended: "));
        end(&run, show);
    }
}

static void it_ends_with_the_sound(void **state) {
    (void)state;
    engine_run run;
    sm_show *show;
    begin(&run, &show, music);
    sound(&run, SM_SOUND_DEVICE, "a card");
    must(engine_act(&run, 0, "listen 2"));
    sound(&run, SM_SOUND_LOST, "unplugged");
    assert_false(engine_look(&run)->preview.on);
    assert_refused(&run, 1, "nothing can be heard: unplugged");
    sound(&run, SM_SOUND_BACK, "a card");
    must(engine_act(&run, 2, "listen 2"));
    end(&run, show);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(it_is_refused_where_it_cannot_be),
        cmocka_unit_test(it_goes_round_and_nothing_else_moves),
        cmocka_unit_test(what_is_proposed_is_heard),
        cmocka_unit_test(a_beat_is_as_long_as_one_can_be),
        cmocka_unit_test(any_stop_and_anything_else_ends_it),
        cmocka_unit_test(it_ends_with_the_sound),
    };
    return cmocka_run_group_tests_name("engine preview", tests, NULL, NULL);
}

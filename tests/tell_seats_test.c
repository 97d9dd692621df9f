// SPDX-License-Identifier: GPL-3.0-or-later
// Seats without a network: who may say what there, and 10^4 messages (10^6 in a soak) that are malformed, forged, replayed, too long or
// out of order, to the console and to whoever sits there: nothing crashes (ASan), and nothing of the rehearsal changes but by a hold.
#include "support/engine_random.h"
#include "support/folder.h"
#include "tell/seats.h"
#include "tell/sitter.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define S SM_US_PER_S

typedef struct rig {
    char folder[64];
    sm_session *session;
    seat_table seats;
    sm_us now_us;
} rig;

static int begin(void **state) {
    static rig one;
    char problem[SM_SESSION_PROBLEM];
    one = (rig){0};
    folder_make(one.folder);
    folder_small_show(one.folder);
    const sm_session_options options = {
        .show = folder_load(one.folder), .virtual_clock = true, .silent = true};
    assert_int_equal(sm_session_create(&options, problem, &one.session), SM_OK);
    seats_grant(&one.seats, "spotter,left");
    *state = &one;
    return 0;
}

static int end(void **state) {
    rig *r = *state;
    seats_deinit(&r->seats);
    sm_session_destroy(r->session);
    folder_remove(r->folder);
    return 0;
}

static const sm_snapshot *step(rig *r) {
    sm_session_want(r->session);
    sm_session_step(r->session, (sm_wall_time){r->now_us += 1000});
    return sm_session_take(r->session);
}

static tell_seat_message from(const char *id) {
    tell_seat_message message = {.sent_us = 1, .beat_us = 100 * S};
    snprintf(message.id, sizeof message.id, "%s", id);
    snprintf(message.who, sizeof message.who, "who %s", id);
    return message;
}

static bool take(rig *r, const char *seat, const tell_seat_message *message, sm_us now_us) {
    return seats_take(&r->seats, seat, message, r->session, now_us);
}

static const tell_seat *spotter(rig *r, sm_us now_us) {
    seats_look(&r->seats, now_us);
    return &r->seats.at[0].seat;
}

// ---- who sits there ---------------------------------------------------------------------------------

static void one_person_and_the_leads_word(void **state) {
    rig *r = *state;
    tell_seat_message a = from("a"), b = from("b"), nobody = from("");
    assert_false(take(r, "stage", &a, 100 * S)); // not granted
    assert_false(take(r, "spotter", &nobody, 100 * S));
    assert_true(take(r, "spotter", &a, 100 * S));
    assert_false(take(r, "spotter", &b, 101 * S));
    assert_int_equal(spotter(r, 101 * S)->sits, SM_SITS_THERE);
    assert_true(spotter(r, 101 * S)->asked);
    // Not heard for 3 s: lost, and kept.
    assert_int_equal(spotter(r, 104 * S)->sits, SM_SITS_LOST);
    assert_false(take(r, "spotter", &b, 104 * S));
    assert_true(take(r, "spotter", &a, 105 * S)); // back
    assert_int_equal(spotter(r, 105 * S)->sits, SM_SITS_THERE);
    seats_free(&r->seats, "spotter");
    assert_int_equal(spotter(r, 105 * S)->sits, SM_SITS_NOBODY);
    assert_false(take(r, "spotter", &a, 106 * S)); // sent away
    assert_true(take(r, "spotter", &b, 106 * S));
    b.leaves = true;
    assert_true(take(r, "spotter", &b, 107 * S));
    assert_int_equal(spotter(r, 107 * S)->sits, SM_SITS_NOBODY);
    assert_false(take(r, "spotter", &a, 107 * S));
    seats_free(&r->seats, "spotter"); // nobody sits there: now anybody may
    assert_true(take(r, "spotter", &a, 108 * S));
}

static void a_hold_is_called_once_and_a_late_one_says_so(void **state) {
    rig *r = *state;
    tell_seat_message a = from("a");
    a.holds = 1;
    a.held_mono_us = 94 * S;
    snprintf(a.why, sizeof a.why, "smoke");
    assert_true(take(r, "left", &a, 100 * S));
    assert_true(take(r, "left", &a, 100 * S));
    const sm_snapshot *now = step(r);
    assert_int_equal(now->hold_count, 1);
    assert_string_equal(now->hold_who, "left");
    assert_string_equal(now->hold_why, "called 6 s ago: smoke");
}

// In time or not at all; a stop whenever it comes. Outside a drill none of them but a hold does anything.
static void a_line_that_comes_late_is_not_done(void **state) {
    rig *r = *state;
    tell_seat_message a = from("a");
    a.line_count = 2;
    a.lines[0] = (tell_line){1, "call-clear Kim"};
    a.lines[1] = (tell_line){2, "hold left smoke"};
    assert_true(take(r, "left", &a, 103 * S)); // its latest beat is 3 s old
    const seat_row *row = &r->seats.at[1];
    assert_int_equal(row->seat.lines, 2);
    assert_non_null(row->first);
    assert_string_equal(row->first->text, "TOO LATE, not done: call-clear Kim");
    const sm_snapshot *now = step(r);
    assert_false(now->clear_called);
    assert_int_equal(now->hold_count, 1);
    a.beat_us = 103 * S;
    a.lines[0].n = 3;
    a.line_count = 1;
    assert_true(take(r, "left", &a, 103 * S));
    assert_false(step(r)->clear_called); // there is no drill
}

// ---- what nobody should have sent ---------------------------------------------------------------------

static void random_message(engine_dice *dice, tell_seat_message *out) {
    static const char *const lines[] = {"arm",       "start",          "key on",        "call-clear K",
                                        "safe",      "hold left why",  "enter K",       "reload",
                                        "NO DRILL",  "paper /etc/x",   "remote 1 arm",  "\x1b]0;x\a",
                                        "quit",      "seat left free", "lights on",     "note \xff\xfe",
                                        "volume 10", "measure",        "waive rails A", ""};
    static const char *const ids[] = {"a", "b", "c", "", "a very long name indeed"};
    *out = (tell_seat_message){.sent_us = engine_roll(dice, 1000),
                               .beat_us = engine_roll(dice, 4) * 50 * S,
                               .holds = engine_roll(dice, 3),
                               .held_mono_us = engine_roll(dice, 2) * 99 * S,
                               .heard = engine_roll(dice, 50),
                               .line_count = engine_roll(dice, TELL_LINES_MAX + 1)};
    snprintf(out->id, sizeof out->id, "%s", ids[engine_roll(dice, 5)]);
    snprintf(out->why, sizeof out->why, "%s", lines[engine_roll(dice, 20)]);
    for (uint32_t i = 0; i < out->line_count; i++) {
        out->lines[i].n = engine_roll(dice, 1000);
        snprintf(out->lines[i].line, sizeof out->lines[i].line, "%s", lines[engine_roll(dice, 20)]);
    }
}

// As bytes, whole or broken, through the strict reader, as from the network.
static bool hand_over(rig *r, engine_dice *dice, const tell_seat_message *message, const char *seat) {
    static const tell_sizes none = {0};
    sm_text text = {0};
    tell_seat_message read = {0};
    tell_write(&text, TELL_SEAT, message, NULL, NULL);
    for (uint32_t i = engine_roll(dice, 3); i > 0 && text.length > 0; i--)
        text.bytes[engine_roll(dice, (uint32_t)text.length)] = (char)engine_roll(dice, 256);
    tell_document *document = tell_read(TELL_SEAT, text.bytes, text.length, &none, &read);
    bool taken = document && take(r, seat, &read, 101 * S);
    tell_document_free(document);
    sm_text_deinit(&text);
    return taken;
}

static void nothing_changes_by_what_nobody_should_have_sent(void **state) {
    rig *r = *state;
    static const char *const seats[] = {"spotter", "left", "stage", "..", ""};
    engine_dice dice = {7};
    tell_seat_message a = from("sits");
    assert_true(take(r, "spotter", &a, 100 * S));
    long count = engine_soaks() ? 1000000 : 10000, taken = 0;
    for (long i = 0; i < count; i++) {
        tell_seat_message message;
        random_message(&dice, &message);
        taken += hand_over(r, &dice, &message, seats[engine_roll(&dice, 5)]);
        if (i % 16 != 15)
            continue;
        const sm_snapshot *now = step(r);
        assert_int_equal(now->state, SM_STATE_SAFE);
        assert_false(now->key || now->clear_called);
        assert_int_equal(now->people_count, 0);
        assert_string_equal(spotter(r, 101 * S)->id, "sits");
        assert_false(sm_session_has_quit(r->session));
    }
    assert_true(taken > 0 && taken < count); // at the other seat, which is free
}

static void whoever_sits_there_takes_no_nonsense(void **state) {
    (void)state;
    engine_dice dice = {11};
    sitter *own = calloc(1, sizeof *own);
    tell_told_message message = {.mono_us = 1, .id = "me"};
    sitter_init(own, "spotter", "Kim", "me");
    int64_t heard = 0;
    long count = engine_soaks() ? 1000000 : 10000;
    for (long i = 0; i < count; i++) {
        sm_text text = {0};
        sm_seat_word word;
        message.said_count = engine_roll(&dice, 4);
        for (uint32_t k = 0; k < message.said_count; k++)
            message.said[k] = (tell_said){engine_roll(&dice, 1000), (int32_t)engine_roll(&dice, 3), "words"};
        tell_write(&text, TELL_TOLD, &message, NULL, NULL);
        for (uint32_t k = engine_roll(&dice, 3); k > 0; k--)
            text.bytes[engine_roll(&dice, (uint32_t)text.length)] = (char)engine_roll(&dice, 256);
        (void)sitter_take_told(own, text.bytes, text.length);
        assert_true(own->said.heard >= heard); // what came before never comes again
        heard = own->said.heard;
        while (sitter_told(own, &word)) {
        }
        sm_text_deinit(&text);
    }
    assert_true(heard > 0);
    sitter_deinit(own);
    free(own);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(one_person_and_the_leads_word, begin, end),
        cmocka_unit_test_setup_teardown(a_hold_is_called_once_and_a_late_one_says_so, begin, end),
        cmocka_unit_test_setup_teardown(a_line_that_comes_late_is_not_done, begin, end),
        cmocka_unit_test_setup_teardown(nothing_changes_by_what_nobody_should_have_sent, begin, end),
        cmocka_unit_test(whoever_sits_there_takes_no_nonsense),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

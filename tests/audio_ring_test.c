// SPDX-License-Identifier: GPL-3.0-or-later
// The ring between the program and its sound process.
#include "audio/ring.h"

#include <pthread.h>
#include <sched.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static int setup(void **state) {
    *state = aligned_alloc(64, sizeof(sm_ring));
    if (*state)
        memset(*state, 0, sizeof(sm_ring));
    return *state ? 0 : -1;
}

static int teardown(void **state) {
    free(*state);
    return 0;
}

// A frame that names its number: 24 bits are exact in a float.
static void name_frame(float frame[2], uint64_t number) {
    frame[0] = (float)(number & 0xffffff);
    frame[1] = -frame[0];
}

static void put_named(sm_ring *ring, uint64_t from, size_t count) {
    float frame[1][2];
    for (size_t i = 0; i < count; i++) {
        name_frame(frame[0], from + i);
        sm_ring_put(ring, from + i, (const float(*)[2])frame, 1);
    }
}

static void frames_are_for_their_own_place(void **state) {
    sm_ring *ring = *state;
    float out[100][2];
    put_named(ring, 30, 40);
    sm_ring_publish(ring, 70);
    assert_int_equal(sm_ring_take(ring, out[0], 100, 2), 0);
    for (uint64_t i = 0; i < 100; i++)
        assert_float_equal(out[i][0], i >= 30 && i < 70 ? (float)i : 0, 0);
    assert_int_equal(atomic_load(&ring->starved), 30); // 70 to 99: nothing was written for them
    // Written after its place has been passed: never heard.
    put_named(ring, 70, 60);
    sm_ring_publish(ring, 130);
    assert_int_equal(sm_ring_take(ring, out[0], 100, 2), 100);
    assert_float_equal(out[0][0], 100, 0);
    assert_float_equal(out[29][0], 129, 0);
    assert_float_equal(out[30][0], 0, 0);
}

static void nothing_written_is_no_gap(void **state) {
    sm_ring *ring = *state;
    float out[64][2];
    sm_ring_take(ring, out[0], 64, 2);
    assert_int_equal(atomic_load(&ring->starved), 0);
    assert_float_equal(out[63][1], 0, 0);
}

static void one_channel_is_the_mean_and_more_are_silent(void **state) {
    sm_ring *ring = *state;
    const float frames[2][2] = {{0.5f, 0.25f}, {-1, 0}};
    float mono[2], four[2][4] = {{9, 9, 9, 9}, {9, 9, 9, 9}};
    sm_ring_put(ring, 0, frames, 2);
    sm_ring_put(ring, 2, frames, 2);
    sm_ring_publish(ring, 4);
    sm_ring_take(ring, mono, 2, 1);
    assert_float_equal(mono[0], 0.375f, 0);
    assert_float_equal(mono[1], -0.5f, 0);
    sm_ring_take(ring, four[0], 2, 4);
    const float wanted[2][4] = {{0.5f, 0.25f, 0, 0}, {-1, 0, 0, 0}};
    assert_memory_equal(four, wanted, sizeof wanted);
}

static void a_place_can_be_written_again(void **state) {
    sm_ring *ring = *state;
    float out[10][2];
    put_named(ring, 0, 10);
    sm_ring_publish(ring, 10);
    put_named(ring, 1000, 1);
    const float again[1][2] = {{0.125f, 0.0625f}};
    sm_ring_put(ring, 5, again, 1);
    sm_ring_take(ring, out[0], 10, 2);
    assert_float_equal(out[4][0], 4, 0);
    assert_float_equal(out[5][0], 0.125f, 0);
    assert_float_equal(out[5][1], 0.0625f, 0);
}

#define RACE_FRAMES 3000000u

typedef struct race {
    sm_ring *ring;
    uint64_t wrong, silent;
    atomic_bool done;
} race;

static void *race_reader(void *context) {
    race *run = context;
    float out[480][2];
    for (uint64_t at = 0; at < RACE_FRAMES; at += 480) {
        // One take in eight does not wait for the writer, as a card does not.
        while (at / 480 % 8 != 0 &&
               atomic_load_explicit(&run->ring->written, memory_order_relaxed) < at + 480)
            sched_yield();
        sm_ring_take(run->ring, out[0], 480, 2);
        for (uint64_t i = 0; i < 480; i++) {
            float named[2];
            name_frame(named, at + i);
            if (out[i][0] == 0 && out[i][1] == 0)
                run->silent++;
            else
                run->wrong += memcmp(named, out[i], sizeof named) != 0;
        }
    }
    atomic_store(&run->done, true);
    return NULL;
}

// Every frame is the one for its place or, where the writer was too late, silence, and the silence is counted.
static void two_threads_race(void **state) {
    race run = {.ring = *state};
    pthread_t reader;
    assert_int_equal(pthread_create(&reader, NULL, race_reader, &run), 0);
    uint64_t written = 0;
    while (!atomic_load(&run.done)) {
        uint64_t taken = atomic_load_explicit(&run.ring->taken, memory_order_acquire);
        if (written < taken)
            written = taken;
        if (written + 333 - taken > SM_RING_FRAMES)
            continue;
        put_named(run.ring, written, 333);
        written += 333;
        sm_ring_publish(run.ring, written);
    }
    pthread_join(reader, NULL);
    assert_int_equal(run.wrong, 0);
    assert_true(run.silent <= RACE_FRAMES / 8 + 480);
    // Frame 0 names itself as silence; frames before the first were published are not counted as gaps.
    assert_true(run.silent >= atomic_load(&run.ring->starved));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(frames_are_for_their_own_place, setup, teardown),
        cmocka_unit_test_setup_teardown(nothing_written_is_no_gap, setup, teardown),
        cmocka_unit_test_setup_teardown(one_channel_is_the_mean_and_more_are_silent, setup, teardown),
        cmocka_unit_test_setup_teardown(a_place_can_be_written_again, setup, teardown),
        cmocka_unit_test_setup_teardown(two_threads_race, setup, teardown),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

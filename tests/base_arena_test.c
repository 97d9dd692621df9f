// SPDX-License-Identifier: GPL-3.0-or-later
#include "slowmatch/base.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <stdalign.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static int make(void **state) {
    *state = sm_arena_create();
    return !*state;
}

static int destroy(void **state) {
    sm_arena_destroy(*state);
    return 0;
}

static bool is_zero(const unsigned char *bytes, size_t length) {
    for (size_t i = 0; i < length; i++)
        if (bytes[i] != 0)
            return false;
    return true;
}

// Sizes on both sides of every change of ways: in a chunk, a block of its own, mapped pages.
static void gives_zeroed_aligned_memory(void **state) {
    sm_arena *const arena = *state;
    static const size_t sizes[] = {
        0, 1, 3, 16, 100, 16383, 16384, 16385, 65536, 1 << 20, (2 << 20) - 16, 2 << 20, 5 << 20};
    for (int round = 0; round < 3; round++) {
        for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
            unsigned char *const made = sm_arena_alloc(arena, sizes[i]);
            const size_t size = sizes[i] > 0 ? sizes[i] : 1;
            assert_non_null(made);
            assert_int_equal((uintptr_t)made % alignof(max_align_t), 0);
            assert_true(is_zero(made, size));
            memset(made, 0xA5, size);
            assert_non_null(sm_arena_text(arena, "odd", round == 0 ? 3 : 2)); // the next one must align again
        }
    }
}

static void objects_do_not_overlap(void **state) {
    sm_arena *const arena = *state;
    enum { MANY = 20000 };
    static unsigned char *objects[MANY];
    for (size_t i = 0; i < MANY; i++) {
        objects[i] = sm_arena_alloc(arena, i % 97 + 1);
        assert_non_null(objects[i]);
        memset(objects[i], (int)(i % 251), i % 97 + 1);
    }
    for (size_t i = 0; i < MANY; i++) {
        for (size_t j = 0; j < i % 97 + 1; j++)
            if (objects[i][j] != i % 251)
                fail_msg("object %zu was overwritten", i);
    }
    assert_true(sm_arena_bytes(arena) < 4 << 20); // 20000 objects of 49 bytes in the mean, and chunks
}

static void copies_texts(void **state) {
    sm_arena *const arena = *state;
    const char source[] = "one,two";
    assert_string_equal(sm_arena_text(arena, source, 3), "one");
    assert_string_equal(sm_arena_text(arena, source, 0), "");
    assert_string_equal(sm_arena_text(arena, NULL, 0), "");
    assert_string_equal(sm_arena_text(arena, source, 7), source);
}

// Three arrays that grow by turns through small blocks, the change to mapped pages, and moves of these.
static void arrays_keep_their_bytes_while_they_grow(void **state) {
    sm_arena *const arena = *state;
    uint32_t *arrays[3] = {NULL};
    size_t counts[3] = {0};
    for (size_t round = 0; round < 45; round++) {
        const size_t which = round % 3;
        const size_t count = counts[which] + counts[which] / 2 + 100 + 10000 * which;
        uint32_t *const grown = sm_arena_resize(arena, arrays[which], count * sizeof *grown);
        assert_non_null(grown);
        assert_int_equal((uintptr_t)grown % alignof(max_align_t), 0);
        for (size_t i = 0; i < counts[which]; i++)
            if (grown[i] != i * 3 + which)
                fail_msg("element %zu of array %zu", i, which);
        for (size_t i = counts[which]; i < count; i++)
            grown[i] = (uint32_t)(i * 3 + which);
        arrays[which] = grown;
        counts[which] = count;
        memset(sm_arena_alloc(arena, 1000), 0xFF, 1000);
    }
    assert_true(counts[2] * sizeof(uint32_t) > 16 << 20);
    assert_true(sm_arena_bytes(arena) >= (counts[0] + counts[1] + counts[2]) * sizeof(uint32_t));
}

static void a_block_large_enough_stays(void **state) {
    sm_arena *const arena = *state;
    char *const small = sm_arena_resize(arena, NULL, 1000);
    assert_ptr_equal(sm_arena_resize(arena, small, 10), small);
    assert_ptr_equal(sm_arena_resize(arena, small, 1000), small);
    char *const large = sm_arena_resize(arena, NULL, 3 << 20);
    assert_ptr_equal(sm_arena_resize(arena, large, (3 << 20) + 1), large); // still within its last page
}

static void gives_back_what_is_not_used(void **state) {
    sm_arena *const arena = *state;
    unsigned char *array = sm_arena_resize(arena, NULL, 21 << 20);
    assert_non_null(array);
    memset(array, 7, 21 << 20);
    sm_arena_trim(arena, array, 5 << 20);
    assert_in_range(sm_arena_bytes(arena), 5 << 20, 8 << 20);
    assert_int_equal(array[(5 << 20) - 1], 7);
    sm_arena_trim(arena, array, 30 << 20); // larger than it is: nothing to give back
    array = sm_arena_resize(arena, array, 30 << 20);
    assert_non_null(array);
    assert_int_equal(array[(5 << 20) - 1], 7);
    array[(30 << 20) - 1] = 7;
    char *const small = sm_arena_resize(arena, NULL, 1000);
    assert_non_null(small);
    sm_arena_trim(arena, small, 10); // not pages of its own
    small[999] = 7;
    sm_arena_trim(arena, NULL, 0);
}

static void counts_its_bytes(void **state) {
    sm_arena *const arena = *state;
    assert_int_equal(sm_arena_bytes(arena), 0);
    assert_non_null(sm_arena_alloc(arena, 1));
    assert_in_range(sm_arena_bytes(arena), 1, 64 * 1024);
    void *const array = sm_arena_resize(arena, NULL, 10 << 20);
    assert_in_range(sm_arena_bytes(arena), 10 << 20, (12 << 20) + 64 * 1024);
    assert_non_null(sm_arena_resize(arena, array, 30 << 20));
    assert_in_range(sm_arena_bytes(arena), 30 << 20, (32 << 20) + 64 * 1024);
}

static void fails_where_a_test_wants(void **state) {
    sm_arena *const arena = *state;
    sm_arena_fail_at(arena, 3);
    char *const array = sm_arena_resize(arena, NULL, 8);
    assert_non_null(array);
    memcpy(array, "12345678", 8);
    assert_non_null(sm_arena_text(arena, "a", 1));
    assert_null(sm_arena_alloc(arena, 1));
    assert_null(sm_arena_text(arena, "a", 1));
    assert_null(sm_arena_resize(arena, array, 100));
    assert_null(sm_arena_resize(arena, NULL, 100));
    assert_memory_equal(array, "12345678", 8);
    sm_arena_fail_at(arena, 0);
    assert_non_null(sm_arena_alloc(arena, 1));
    sm_arena_fail_at(arena, 1);
    assert_null(sm_arena_alloc(arena, 1));
}

static void refuses_impossible_sizes(void **state) {
    sm_arena *const arena = *state;
    char *array = sm_arena_resize(arena, NULL, 3 << 20);
    assert_non_null(array);
    array[0] = 'k';
    static const size_t sizes[] = {SIZE_MAX, SIZE_MAX - 100, PTRDIFF_MAX, (size_t)1 << 62, (size_t)1 << 48};
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        assert_null(sm_arena_alloc(arena, sizes[i]));
        assert_null(sm_arena_resize(arena, NULL, sizes[i]));
        assert_null(sm_arena_resize(arena, array, sizes[i]));
    }
    assert_null(sm_arena_text(arena, NULL, SIZE_MAX));
    assert_int_equal(array[0], 'k');
    array = sm_arena_resize(arena, array, 5 << 20);
    assert_non_null(array);
    assert_int_equal(array[0], 'k');
    sm_arena_destroy(NULL);
}

static void lists_grow_row_by_row(void **state) {
    sm_arena *const arena = *state;
    uint32_t *own = NULL, *arenas = NULL;
    for (uint32_t i = 0; i < 5000; i++) {
        own = sm_array_grow(own, i, sizeof *own);
        arenas = sm_arena_grow(arena, arenas, i, sizeof *arenas);
        assert_true(own && arenas);
        own[i] = arenas[i] = i * 7;
    }
    for (uint32_t i = 0; i < 5000; i++)
        assert_true(own[i] == i * 7 && arenas[i] == i * 7);
    // Fewer rows, then more again.
    for (uint32_t i = 20; i < 100; i++) {
        own = sm_array_grow(own, i, sizeof *own);
        assert_non_null(own);
        own[i] = i;
    }
    assert_true(own[19] == 19 * 7 && own[99] == 99);
    sm_arena_fail_at(arena, 1);
    assert_ptr_equal(sm_arena_grow(arena, arenas, 5000, sizeof *arenas), arenas); // there is room
    assert_null(sm_arena_grow(arena, arenas, 8192, sizeof *arenas));
    assert_int_equal(arenas[4999], 4999 * 7);
    free(own);
}

// Without AddressSanitizer there is no such function.
int __asan_address_is_poisoned(const volatile void *address) __attribute__((weak));

static void the_sanitizer_sees_the_end_of_objects(void **state) {
    static const size_t sizes[] = {1, 7, 8, 100, 5000, 3 << 20};
    if (!__asan_address_is_poisoned)
        skip();
    for (size_t i = 0; i < sizeof sizes / sizeof sizes[0]; i++) {
        const char *object = sm_arena_alloc(*state, sizes[i]);
        assert_false(__asan_address_is_poisoned(object));
        assert_false(__asan_address_is_poisoned(object + sizes[i] - 1));
        assert_true(__asan_address_is_poisoned(object + sizes[i]));
        char *array = sm_arena_resize(*state, NULL, sizes[i]);
        array = sm_arena_resize(*state, array, sizes[i] + 3);
        assert_false(__asan_address_is_poisoned(array + sizes[i] + 2));
        assert_true(__asan_address_is_poisoned(array + sizes[i] + 3));
    }
    const char *text = sm_arena_text(*state, "cord", 4);
    assert_false(__asan_address_is_poisoned(text + 4));
    assert_true(__asan_address_is_poisoned(text + 5));
}

#define WITH_ARENA(test) cmocka_unit_test_setup_teardown(test, make, destroy)

int main(void) {
    const struct CMUnitTest tests[] = {
        WITH_ARENA(gives_zeroed_aligned_memory),
        WITH_ARENA(objects_do_not_overlap),
        WITH_ARENA(copies_texts),
        WITH_ARENA(arrays_keep_their_bytes_while_they_grow),
        WITH_ARENA(a_block_large_enough_stays),
        WITH_ARENA(gives_back_what_is_not_used),
        WITH_ARENA(lists_grow_row_by_row),
        WITH_ARENA(counts_its_bytes),
        WITH_ARENA(fails_where_a_test_wants),
        WITH_ARENA(refuses_impossible_sizes),
        WITH_ARENA(the_sanitizer_sees_the_end_of_objects),
    };
    return cmocka_run_group_tests_name("base arena", tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The background writer: nobody waits for it, nothing is lost, and a disk that hangs for good keeps nobody.
#include "slowmatch/background.h"
#include "slowmatch/clock.h"

#include <errno.h>
#include <poll.h>
#include <semaphore.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define LONG_US (60 * SM_US_PER_S)

// A disk of the test's own. Only the writer's thread touches `text` while it runs.
typedef struct disk {
    sm_text text;
    unsigned writes, durable, finished;
    int error;
    bool hangs;
    sem_t entered, answers, abandoned;
} disk;

static int write_to(void *context, const char *bytes, size_t length, bool durable) {
    disk *d = context;
    sem_post(&d->entered);
    while (d->hangs && sem_wait(&d->answers) != 0)
        continue;
    d->writes++;
    d->durable += durable;
    sm_text_append(&d->text, bytes, length);
    return d->error;
}

static void finish(void *context) {
    ((disk *)context)->finished = ((disk *)context)->writes;
}

static void abandon(void *context) {
    sem_post(&((disk *)context)->abandoned);
}

static const sm_background_work prompt = {.write = write_to, .finish = finish, .abandon = abandon};
static const sm_background_work patient = {
    .write = write_to, .finish = finish, .abandon = abandon, .gather_us = 3600 * SM_US_PER_S};

static void disk_init(disk *d) {
    *d = (disk){0};
    assert_int_equal(sem_init(&d->entered, 0, 0), 0);
    assert_int_equal(sem_init(&d->answers, 0, 0), 0);
    assert_int_equal(sem_init(&d->abandoned, 0, 0), 0);
}

static sm_background *start(const sm_background_work *work, disk *d) {
    sm_background *background = NULL;
    disk_init(d);
    assert_int_equal(sm_background_start(work, d, &background), SM_OK);
    return background;
}

static void *put_many(void *context) {
    for (int i = 0; i < 1000; i++)
        assert_true(sm_background_put(context, "piece\n", 6, i % 100 == 0));
    return NULL;
}

static void pieces_of_several_threads_come_whole(void **state) {
    (void)state;
    disk d;
    sm_background *b = start(&prompt, &d);
    pthread_t threads[4];
    for (size_t i = 0; i < 4; i++)
        assert_int_equal(pthread_create(&threads[i], NULL, put_many, b), 0);
    for (size_t i = 0; i < 4; i++)
        pthread_join(threads[i], NULL);
    assert_true(sm_background_close(b, -1));
    assert_int_equal(d.text.length, 4 * 1000 * 6);
    for (size_t at = 0; at < d.text.length; at += 6)
        assert_memory_equal(d.text.bytes + at, "piece\n", 6);
    assert_int_equal(d.finished, d.writes); // after the last one
    sm_text_deinit(&d.text);
}

static void pieces_gather_until_one_is_urgent(void **state) {
    (void)state;
    disk d;
    sm_background *b = start(&patient, &d);
    sm_background_put(b, "a", 1, false);
    poll(NULL, 0, 50);
    assert_int_equal(sem_trywait(&d.entered), -1); // it would wait for an hour
    sm_background_put(b, "b", 1, true);
    assert_true(sm_background_flush(b, LONG_US));
    assert_string_equal(d.text.bytes, "ab");
    assert_int_equal(d.durable, 1);
    sm_background_put(b, "c", 1, false);
    assert_true(sm_background_flush(b, LONG_US)); // waits for no hour either
    assert_string_equal(d.text.bytes, "abc");
    sm_background_put(b, "d", 1, false);
    assert_true(sm_background_close(b, LONG_US));
    assert_string_equal(d.text.bytes, "abcd");
    sm_text_deinit(&d.text);
}

static void an_error_and_a_loss_are_told(void **state) {
    (void)state;
    disk d;
    sm_background *b = start(&prompt, &d);
    assert_int_equal(sm_background_error(b), 0);
    d.error = ENOSPC;
    sm_background_put(b, "a", 1, true);
    assert_true(sm_background_flush(b, LONG_US));
    assert_int_equal(sm_background_error(b), ENOSPC);
    assert_false(sm_background_lost(b));
    assert_false(sm_background_put(b, "a", SIZE_MAX / 2, true)); // as if memory ran out
    assert_true(sm_background_lost(b));
    assert_int_equal(sm_background_error(b), ENOMEM);
    assert_true(sm_background_close(b, LONG_US));
    assert_string_equal(d.text.bytes, "a");
    sm_text_deinit(&d.text);
    b = start(&prompt, &d);
    sm_background_lose(b);
    assert_true(sm_background_lost(b));
    assert_true(sm_background_close(b, LONG_US));
    assert_true(sm_background_close(NULL, 0));
}

// What hangs is left to its thread, which frees what it holds when the disk answers after all.
static void a_disk_that_hangs_keeps_nobody(void **state) {
    (void)state;
    disk d;
    sm_background *b = start(&prompt, &d);
    d.hangs = true;
    sm_background_put(b, "a", 1, true);
    assert_int_equal(sem_wait(&d.entered), 0);
    int64_t before_us = sm_monotonic_us();
    for (int i = 0; i < 10000; i++)
        sm_background_put(b, "b", 1, true);
    assert_false(sm_background_flush(b, 1000));
    assert_false(sm_background_close(b, 1000));
    assert_true(sm_monotonic_us() - before_us < LONG_US); // for ever, if it waited
    assert_int_equal(sem_trywait(&d.abandoned), -1);
    sem_post(&d.answers);
    sem_post(&d.answers); // the rest comes in one piece
    while (sem_wait(&d.abandoned) != 0)
        continue;
    assert_int_equal(d.text.length, 1 + 10000);
    sm_text_deinit(&d.text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(pieces_of_several_threads_come_whole),
        cmocka_unit_test(pieces_gather_until_one_is_urgent),
        cmocka_unit_test(an_error_and_a_loss_are_told),
        cmocka_unit_test(a_disk_that_hangs_keeps_nobody),
    };
    return cmocka_run_group_tests_name("background writer", tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The walk as it is ticked in a rehearsal: what was answered stays when the folder is read again.
#include "support/folder.h"

#include "slowmatch/logbook.h"
#include "slowmatch/walk_answers.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define LAUNCH_US (INT64_C(1780000000) * SM_US_PER_S)

typedef struct rig {
    char folder[64];
    sm_show *show;
    sm_rehearsal *rehearsal;
    sm_snapshot *now;
    sm_recent recent;
    sm_walkthrough *walk;
    sm_session *session; // NULL: nothing is kept
} rig;

static void keep_row(void *context, const sm_log_row *row) {
    sm_recent_put(context, row);
}

// As a reload: the old show and all that was made of it are gone.
static void load(rig *r) {
    const sm_rehearsal_options options = {.sink = keep_row, .sink_context = &r->recent};
    sm_show *old = r->show;
    r->show = folder_load(r->folder);
    if (old)
        assert_int_equal(sm_rehearsal_replace_show(r->rehearsal, r->show), SM_OK);
    else
        assert_int_equal(sm_rehearsal_create(r->show, &options, &r->rehearsal), SM_OK);
    sm_snapshot_destroy(r->now);
    sm_show_destroy(old);
    assert_int_equal(sm_snapshot_create(r->show, &r->now), SM_OK);
    sm_rehearsal_snapshot(r->rehearsal, (sm_wall_time){SM_US_PER_S}, r->now);
}

static void act(rig *r, const char *line) {
    sm_action action;
    char why[200];
    size_t at;
    assert_int_equal(sm_action_read(r->show, line, strlen(line), &action, why, &at), SM_OK);
    assert_int_equal(sm_rehearsal_act(r->rehearsal, &action, SM_SOURCE_CONSOLE, (sm_wall_time){SM_US_PER_S}),
                     SM_OK);
    sm_rehearsal_snapshot(r->rehearsal, (sm_wall_time){SM_US_PER_S}, r->now);
}

static const sm_walk *look(rig *r) {
    sm_walk_seen seen = {r->now, &r->recent, NULL, LAUNCH_US, r->session, {""}};
    assert_int_equal(sm_walk_content(r->show, &(sm_walk_hash){""}, &seen.content), SM_OK);
    const sm_walk *walk = sm_walkthrough_look(r->walk, &seen);
    assert_non_null(walk);
    return walk;
}

static uint32_t open_holds(rig *r) {
    const sm_walk *walk = look(r);
    uint32_t open = 0;
    for (uint32_t i = 0; i < walk->list->count; i++)
        open += walk->standings[i].open && walk->list->items[i].hold;
    return open;
}

static void begin(rig *r) {
    folder_make(r->folder);
    folder_small_show(r->folder);
    load(r);
    assert_int_equal(sm_walkthrough_create(NULL, &r->walk), SM_OK);
}

static void end(rig *r) {
    sm_walkthrough_destroy(r->walk);
    sm_snapshot_destroy(r->now);
    sm_rehearsal_destroy(r->rehearsal);
    sm_show_destroy(r->show);
    folder_remove(r->folder);
}

static void answers_outlive_a_reload(void **state) {
    (void)state;
    static rig r;
    begin(&r);
    uint32_t before = open_holds(&r);
    act(&r, "tick briefing yes by K");
    act(&r, "tick boats no by K");
    assert_int_equal(open_holds(&r), before - 2);
    load(&r);
    assert_int_equal(open_holds(&r), before - 2);
    act(&r, "tick boats yes by K"); // not as expected
    assert_int_equal(open_holds(&r), before - 1);
    load(&r);
    assert_int_equal(open_holds(&r), before - 1);
    end(&r);
}

// Nobody looked between the answer and the reload: it was given to the question as it was before.
static void an_answer_belongs_to_the_show_it_was_given_to(void **state) {
    (void)state;
    static rig r;
    begin(&r);
    const uint32_t before = open_holds(&r);
    act(&r, "tick slots:A yes by K");
    act(&r, "tick told yes by K");
    folder_edit(r.folder, "cues.csv", "8,A-04,comet", "8,A-04,fountain");
    const sm_action asked = {.act = SM_ACT_RELOAD, .index = SM_NONE};
    assert_int_equal(sm_rehearsal_act(r.rehearsal, &asked, SM_SOURCE_CONSOLE, (sm_wall_time){SM_US_PER_S}),
                     SM_OK);
    load(&r);
    assert_int_equal(open_holds(&r), before - 1);
    const sm_walk *walk = look(&r);
    assert_true(walk->standings[sm_walk_item_find(walk->list, "slots:A")].changed);
    end(&r);
}

static void answer_all(rig *r) {
    const sm_walk *walk = look(r);
    const uint32_t count = walk->list->count;
    for (uint32_t i = 0; i < count; i++) {
        char line[200];
        const sm_walk_item *item = &look(r)->list->items[i];
        snprintf(line, sizeof line, "tick %s %s 900 seen by K", item->id, item->expect);
        act(r, line);
    }
    assert_int_equal(look(r)->reason_count, 0);
}

static void a_name_once_void_stays_void(void **state) {
    (void)state;
    static rig r;
    begin(&r);
    act(&r, "sign K");
    assert_string_equal(look(&r)->names[0].void_by, "a reason for NO-GO stands");
    answer_all(&r);
    assert_string_equal(look(&r)->names[0].void_by, "a reason for NO-GO stands");
    act(&r, "sign M");
    assert_int_equal(look(&r)->signed_by, 1);
    folder_edit(r.folder, "cues.csv", "1.5,lamp-1", "1.6,lamp-1");
    load(&r);
    assert_string_equal(look(&r)->names[1].void_by, "the show changed");
    folder_edit(r.folder, "cues.csv", "1.6,lamp-1", "1.5,lamp-1");
    load(&r);
    assert_int_equal(look(&r)->reason_count, 0);
    assert_string_equal(look(&r)->names[1].void_by, "the show changed");
    act(&r, "sign M"); // anew
    assert_int_equal(look(&r)->signed_by, 1);
    end(&r);
}

static bool is_open(rig *r, const char *item) {
    const sm_walk *walk = look(r);
    return walk->standings[sm_walk_item_find(walk->list, item)].open;
}

// The question says what the file says of each slot: where that is another than when it was answered, somebody looks at it again.
static void readings_kept_and_read_again_are_asked_for_again(void **state) {
    (void)state;
    static rig r;
    begin(&r);
    act(&r, "read A-01 2.90");
    act(&r, "tick readings:A yes read on paper by K");
    act(&r, "tick readings:B yes read on paper by K");
    assert_false(is_open(&r, "readings:A"));
    load(&r); // nothing was kept
    assert_false(is_open(&r, "readings:A"));
    folder_write(r.folder, "readings.csv", "rail,slot,reading,when,by\nA,1,2.90,,\n");
    load(&r);
    assert_true(is_open(&r, "readings:A"));
    assert_false(is_open(&r, "readings:B"));
    act(&r, "tick readings:A yes read on paper by K");
    assert_false(is_open(&r, "readings:A"));
    end(&r);
}

// A name of 31 letters in a script of three bytes a letter is kept whole: cut, two people might be one.
static void long_names_are_two_people(void **state) {
    (void)state;
    static rig r;
    char who[2][96] = {"", ""}, line[200];
    begin(&r);
    answer_all(&r);
    for (int i = 0; i < 2; i++) {
        for (int letter = 0; letter < 30; letter++)
            strcat(who[i], "क");
        strcat(who[i], i == 0 ? "क" : "ख");
        snprintf(line, sizeof line, "sign %s", who[i]);
        act(&r, line);
    }
    const sm_walk *walk = look(&r);
    assert_int_equal(walk->signed_by, 2);
    assert_string_equal(walk->names[1].sign.who, who[1]);
    end(&r);
}

// While the music is being read nobody knows whether a name of before was put to this show: it neither counts nor is void for good.
static void a_name_waits_for_the_content(void **state) {
    (void)state;
    static rig r;
    begin(&r);
    answer_all(&r);
    act(&r, "sign M");
    load(&r); // makes a new list
    const sm_walk_seen early = {r.now, &r.recent, NULL, LAUNCH_US, NULL, {""}};
    const sm_walk *walk = sm_walkthrough_look(r.walk, &early);
    sm_text told = {0};
    assert_int_equal(walk->name_count, 1);
    assert_true(walk->names[0].waits);
    assert_null(walk->names[0].void_by);
    assert_int_equal(walk->signed_by, 0);
    sm_walk_print_state(&told, walk);
    assert_non_null(strstr(sm_text_get(&told), "WAITS: the music is still being read"));
    sm_text_deinit(&told);
    end(&r);
}

// All holes, so that it costs nothing but time to read.
static void plant_endless_music(const rig *r) {
    char path[256];
    folder_edit(r->folder, "show.ini", "[show]\n", "[show]\naudio = music.ogg\n");
    FILE *file = fopen(folder_path(path, r->folder, "music.ogg"), "w");
    assert_non_null(file);
    assert_int_equal(ftruncate(fileno(file), (off_t)64 << 30), 0);
    assert_int_equal(fclose(file), 0);
}

static void nobody_signs_what_is_still_being_read(void **state) {
    (void)state;
    static rig r;
    char problem[SM_SESSION_PROBLEM];
    sm_outcome_note note = {.text = ""};
    begin(&r);
    plant_endless_music(&r);
    const sm_session_options options = {.show = folder_load(r.folder), .silent = true};
    assert_int_equal(sm_session_create(&options, problem, &r.session), SM_OK);
    assert_int_equal(sm_session_start(r.session), SM_OK);
    assert_true(sm_session_act(r.session, "sign M"));
    while (!sm_session_outcome(r.session, &note))
        sm_session_want(r.session); // the driver runs until the test's own end
    assert_non_null(strstr(note.text, "sign refused: the music is still being read"));
    assert_string_equal(sm_session_content(r.session, sm_session_take(r.session)->show).hex, "");
    sm_session_destroy(r.session);
    r.session = NULL;
    end(&r);
}

// What was found void in one rehearsal is void in the next: the logbook knows it, by the show, the name and its moment.
static void a_void_name_is_kept_so(void **state) {
    (void)state;
    static rig r;
    char path[256], problem[SM_SESSION_PROBLEM], why[400];
    const sm_walk_sign kept = {"M", LAUNCH_US + SM_US_PER_S, {""}, {""}, NULL};
    const sm_walk_past past = {.signs = &kept, .sign_count = 1};
    sm_logbook *logbook = NULL;
    sm_walk_past read;
    sm_arena *texts = sm_arena_create();
    begin(&r);
    folder_path(path, r.folder, "logbook.db");
    const sm_session_options options = {
        .show = folder_load(r.folder), .logbook_path = path, .virtual_clock = true, .silent = true};
    assert_int_equal(sm_session_create(&options, problem, &r.session), SM_OK);
    act(&r, "sign M");
    assert_non_null(look(&r)->names[0].void_by);
    sm_session_end(r.session, -1);
    sm_session_destroy(r.session);
    r.session = NULL;
    assert_int_equal(sm_logbook_open(path, false, why, &logbook), SM_OK);
    assert_int_equal(sm_logbook_keep_walk(logbook, "Small Show", &past), SM_OK);
    assert_int_equal(sm_logbook_walk_past(logbook, "Small Show", texts, &read), SM_OK);
    assert_int_equal(read.sign_count, 1);
    assert_string_equal(read.signs[0].void_by, "a reason for NO-GO stands");
    sm_logbook_close(logbook);
    sm_arena_destroy(texts);
    end(&r);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(answers_outlive_a_reload),
        cmocka_unit_test(an_answer_belongs_to_the_show_it_was_given_to),
        cmocka_unit_test(a_name_once_void_stays_void),
        cmocka_unit_test(readings_kept_and_read_again_are_asked_for_again),
        cmocka_unit_test(long_names_are_two_people),
        cmocka_unit_test(a_name_waits_for_the_content),
        cmocka_unit_test(nobody_signs_what_is_still_being_read),
        cmocka_unit_test(a_void_name_is_kept_so),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

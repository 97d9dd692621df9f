// SPDX-License-Identifier: GPL-3.0-or-later
#include "readers.h"

#include "console/choices.h"
#include "drill_play.h"
#include "folder.h"
#include "kept.h"
#include "readers_own.h"
#include "show_folder.h"

#include "slowmatch/audio.h"
#include "slowmatch/check.h"
#include "slowmatch/ini.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define TABLES "tests/data/show/every-table"

static struct stand {
    show_folder folder; // of a show, one file of which is replaced
    char kept[64];      // of logbooks
    sm_show *show;
    sm_drill *drill;
} stand;

static void seed_file(const char *path, sm_text *out) {
    char *bytes;
    size_t length;
    assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
    sm_text_append(out, bytes, length);
    free(bytes);
}

const sm_show *readers_show(void) {
    return stand.show;
}

const sm_drill *readers_drill(void) {
    return stand.drill;
}

char *readers_copy(const char *bytes, size_t length) {
    char *copy = malloc(length + !length);
    assert_non_null(copy);
    if (length)
        memcpy(copy, bytes, length);
    return copy;
}

static char *put(const char *file, const char *bytes, size_t length, char path[256]) {
    show_folder_put_bytes(&stand.folder, file, bytes, length);
    return folder_path(path, stand.folder.path, file);
}

// ---- tables, and the rules over them ------------------------------------------------------------

static void take_table(const char *file, const char *bytes, size_t length) {
    const sm_show_load_options options = {.keep_invalid = true};
    char path[256], whole[128];
    sm_show *show = NULL;
    sm_findings *findings = sm_findings_create();
    put(file, bytes, length, path);
    sm_result result = sm_show_load(stand.folder.path, &options, findings, &show);
    assert_true(result == SM_OK || result == SM_INVALID || result == SM_UNREADABLE);
    if (show) {
        sm_check_summary *summary = NULL;
        assert_int_equal(sm_check_run(show, NULL, findings), SM_OK);
        assert_int_equal(sm_check_summary_create(show, &summary), SM_OK);
        sm_check_summary_destroy(summary);
    }
    sm_show_destroy(show);
    sm_findings_destroy(findings);
    snprintf(whole, sizeof whole, "%s/%s", TABLES, file);
    sm_text text = {0};
    seed_file(whole, &text);
    put(file, text.bytes, text.length, path);
    sm_text_deinit(&text);
}

static bool seed_table(const char *file, size_t i, sm_text *out) {
    static const char *const folders[] = {TABLES, READERS_SHOW};
    char path[128];
    if (i >= sizeof folders / sizeof *folders)
        return false;
    snprintf(path, sizeof path, "%s/%s", folders[i], file);
    if (access(path, R_OK) == 0)
        seed_file(path, out);
    return true;
}

// ---- what is written beside a show --------------------------------------------------------------

static void take_ini(const char *name, const char *bytes, size_t length) {
    char *copy = readers_copy(bytes, length);
    sm_arena *arena = sm_arena_create();
    sm_findings *findings = sm_findings_create();
    sm_ini ini;
    assert_true(arena && findings);
    sm_text_clean(name, copy, length, findings);
    assert_int_equal(sm_ini_read(name, copy, length, arena, findings, &ini), SM_OK);
    for (size_t i = 0; i < ini.count; i++)
        assert_true(ini.entries[i].section && ini.entries[i].line > 0);
    sm_findings_destroy(findings);
    sm_arena_destroy(arena);
    free(copy);
}

static void take_drill(const char *name, const char *bytes, size_t length) {
    char *copy = readers_copy(bytes, length);
    sm_findings *findings = sm_findings_create();
    sm_drill *drill = NULL;
    sm_result result = sm_drill_read(stand.show, name, copy, length, findings, &drill);
    assert_true(result == SM_OK || (result == SM_INVALID && sm_findings_count_of(findings, SM_ERROR) > 0));
    if (drill && sm_drill_has_seat(drill, SM_SEAT_SPOTTER))
        assert_int_equal(sm_drill_sit(drill, SM_SEAT_SPOTTER), SM_OK);
    sm_drill_destroy(drill);
    sm_findings_destroy(findings);
    free(copy);
}

static bool seed_drill(const char *name, size_t i, sm_text *out) {
    (void)name;
    static const char *const files[] = {READERS_SHOW "/drills/first-evening.ini",
                                        "demo-shows/lantern-quay/drills/06-stays-lit.ini",
                                        "demo-shows/lantern-quay/drills/10-the-spotters-seat.ini"};
    if (i >= sizeof files / sizeof *files)
        return false;
    seed_file(files[i], out);
    return true;
}

static void take_script(const char *name, const char *bytes, size_t length) {
    sm_findings *findings = sm_findings_create();
    sm_operator *operator_ = NULL;
    sm_result result = sm_operator_read(stand.show, name, bytes, length, findings, &operator_);
    assert_true(result == SM_OK || (result == SM_INVALID && sm_findings_count_of(findings, SM_ERROR) > 0));
    sm_operator_destroy(operator_);
    sm_findings_destroy(findings);
}

static bool seed_script(const char *name, size_t i, sm_text *out) {
    (void)name;
    sm_text_printf(out, "0 call-clear J\n0 key on\n0 arm\n1 start\n+0.5 pause\n2.25 wind 4.5 m/s\n"
                        "# a note\n+1 read A-01 1.83\n3 misfire A-01\n5 instructor rail A out\n9 safe\n");
    return i == 0;
}

static void take_choices(const char *name, const char *bytes, size_t length) {
    char path[256], problem[SM_CHOICES_PROBLEM];
    sm_choices choices;
    sm_choices_init(&choices);
    sm_choices_read(put(name, bytes, length, path), &choices, problem);
    assert_true(choices.beside_count <= SM_BESIDE && strlen(choices.board) < SM_BOARD_NAME);
    assert_int_equal(sm_choices_write(path, &choices), SM_OK);
    sm_choices_read(path, &choices, problem);
    assert_string_equal(problem, "");
    unlink(path);
}

static bool seed_choices(const char *name, size_t i, sm_text *out) {
    char path[256];
    sm_choices choices;
    if (i > 0)
        return false;
    sm_choices_init(&choices);
    snprintf(choices.beside[choices.beside_count++], SM_BOARD_NAME, "rails");
    folder_path(path, stand.folder.path, name);
    assert_int_equal(sm_choices_write(path, &choices), SM_OK);
    seed_file(path, out);
    unlink(path);
    return true;
}

// ---- files in forms of other people -------------------------------------------------------------

static void take_music(const char *name, const char *bytes, size_t length) {
    char path[256];
    sm_audio_info info = {0};
    if (sm_audio_probe(put(name, bytes, length, path), NULL, &info) == SM_OK)
        assert_true(info.frames >= 0 && info.rate_hz > 0);
    unlink(path);
}

static bool seed_music(const char *name, size_t i, sm_text *out) {
    (void)name;
    seed_file(READERS_SHOW "/clicks.wav", out);
    out->length = 2048;
    return i == 0;
}

static void look_through(sm_logbook *book) {
    sm_text out = {0};
    bool good;
    (void)!sm_logbook_list(book, false, &out);
    (void)!sm_logbook_list(book, true, &out);
    for (int64_t number = 1; number <= 2; number++) {
        (void)!sm_logbook_show(book, number, false, &out);
        (void)!sm_logbook_replay(book, number, false, &out, &good);
        (void)!sm_logbook_debrief(book, number, 80, false, &out);
        (void)!sm_logbook_steps(book, number, 80, true, &out);
    }
    (void)!sm_logbook_compare(book, 1, 2, false, &out, &good);
    (void)!sm_logbook_readings(book, "Small", NULL, false, &out);
    (void)!sm_logbook_crew(book, -1, 0, true, &out);
    (void)!sm_logbook_progress(book, "J", false, &out);
    (void)!sm_logbook_check(book, false, &out, &good);
    sm_text_deinit(&out);
}

static void drop_logbook(const char *path) {
    static const char *const ends[] = {"", "-wal", "-shm", "-journal"};
    for (size_t i = 0; i < sizeof ends / sizeof *ends; i++) {
        char beside[300];
        snprintf(beside, sizeof beside, "%s%s", path, ends[i]);
        unlink(beside);
    }
}

static void take_logbook(const char *name, const char *bytes, size_t length) {
    char path[256], why[400];
    sm_logbook *book = NULL;
    if (sm_logbook_open(put(name, bytes, length, path), false, why, &book) == SM_OK)
        look_through(book);
    sm_logbook_close(book);
    drop_logbook(path);
}

// What is taken in from another machine.
static void take_export(const char *name, const char *bytes, size_t length) {
    char path[256], into[256], why[400];
    sm_logbook *book = NULL;
    int64_t count;
    put(name, bytes, length, path);
    assert_int_equal(sm_logbook_open(folder_path(into, stand.folder.path, "into.db"), true, why, &book),
                     SM_OK);
    if (sm_logbook_import(book, path, &count) == SM_OK)
        look_through(book);
    sm_logbook_close(book);
    drop_logbook(into);
    drop_logbook(path);
}

static bool seed_logbook(const char *name, size_t i, sm_text *out) {
    (void)name;
    char path[256];
    if (i == 1)
        seed_file("tests/data/logbook/export-5", out);
    if (i == 0)
        seed_file(folder_path(path, stand.kept, "kept.db"), out);
    return i < 2;
}

// ---- all of them --------------------------------------------------------------------------------

typedef struct reader {
    const char *name;
    void (*take)(const char *name, const char *bytes, size_t length);
    bool (*seed)(const char *name, size_t i, sm_text *out);
} reader;

static const reader readers[] = {
    {"ini", take_ini, seed_drill},
    {"drill", take_drill, seed_drill},
    {"script", take_script, seed_script},
    {"console.ini", take_choices, seed_choices},
    {"list", readers_take_list, readers_seed_list},
    {"map", readers_take_map, readers_seed_map},
    {"archive", readers_take_list, readers_seed_archive},
    {"xlsx", readers_take_xlsx, readers_seed_xlsx},
    {"ods", readers_take_ods, readers_seed_ods},
    {"messages", readers_take_messages, readers_seed_messages},
    {"sacn", readers_take_sacn, readers_seed_sacn},
    {"ltc", readers_take_ltc, readers_seed_ltc},
    {"instructor", readers_take_instructor, readers_seed_instructor},
    {"music", take_music, seed_music},
    {"logbook", take_logbook, seed_logbook},
    {"export", take_export, seed_logbook},
};
#define READERS (sizeof readers / sizeof *readers)

static reader reader_at(size_t i) {
    size_t count;
    if (i < READERS)
        return readers[i];
    const sm_table_schema *tables = sm_show_schema(&count);
    return (reader){i - READERS < count ? tables[i - READERS].file : NULL, take_table, seed_table};
}

const char *readers_name(size_t i) {
    return reader_at(i).name;
}

bool readers_seed(size_t i, size_t seed, sm_text *out) {
    const reader own = reader_at(i);
    return own.seed(own.name, seed, out);
}

void readers_take(size_t i, const char *bytes, size_t length) {
    const reader own = reader_at(i);
    own.take(own.name, bytes, length);
}

void readers_begin(void) {
    size_t count;
    char path[256];
    const sm_table_schema *tables = sm_show_schema(&count);
    kept_begin_at_home(stand.kept);
    stand.folder = show_folder_make();
    for (size_t i = 0; i < count; i++) {
        sm_text text = {0};
        seed_table(tables[i].file, 0, &text);
        put(tables[i].file, text.bytes, text.length, path);
        sm_text_deinit(&text);
    }
    stand.show = drill_play_show(READERS_SHOW);
    stand.drill = drill_play_load(stand.show, "first-evening");
    kept_rehearse(stand.kept, folder_path(path, stand.kept, "kept.db"), NULL, NULL);
    kept_exec(path, "PRAGMA journal_mode = delete");
}

void readers_end(void) {
    sm_drill_destroy(stand.drill);
    sm_show_destroy(stand.show);
    show_folder_remove(&stand.folder);
    kept_end(stand.kept);
}

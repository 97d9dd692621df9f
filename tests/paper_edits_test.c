// SPDX-License-Identifier: GPL-3.0-or-later
// What voids which sheet. Tables of the demo show are edited, by a list and at random; what each sheet shows is read out of its
// HTML (support/paper_text.c), and its words must be others exactly where that is another text.
#include "support/paper_text.h"
#include "support/show_folder.h"

#include "slowmatch/paper.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define DEMO "demo-shows/lantern-quay"

static const char *const files[] = {
    "show.ini",     "modules.csv",  "rails.csv",  "igniters.csv", "effects.csv", "feeds.csv", "positions.csv",
    "profiles.csv", "fixtures.csv", "groups.csv", "lines.csv",    "cues.csv",    "walk.csv"};
enum { FILES = sizeof files / sizeof files[0] };

typedef struct tables {
    char *bytes[FILES];
} tables;

static tables read_tables(void) {
    tables t;
    for (int i = 0; i < FILES; i++) {
        char path[128];
        size_t length;
        snprintf(path, sizeof path, DEMO "/%s", files[i]);
        assert_int_equal(sm_file_read(path, &t.bytes[i], &length), SM_OK);
    }
    return t;
}

static void free_tables(tables *t) {
    for (int i = 0; i < FILES; i++)
        free(t->bytes[i]);
}

static void put_tables(const show_folder *folder, const tables *t) {
    for (int i = 0; i < FILES; i++)
        show_folder_put(folder, files[i], t->bytes[i]);
}

// ---- what sheets show ---------------------------------------------------------------------

typedef struct sheets {
    uint32_t count;
    char names[64][48], words[64][SM_PAPER_WORDS_SIZE];
    sm_text shown[64];
} sheets;

// Without the words, which stand on the sheet itself in its head.
static sm_text shown_of(const sm_paper *paper, uint32_t index) {
    bool chosen[64] = {false};
    sm_text html = {0};
    chosen[index] = true;
    sm_paper_html(paper, chosen, "NOW", &html);
    assert_false(html.failed);
    const char *begin = strstr(html.bytes, "<main>"), *end = strstr(html.bytes, "</main>");
    assert_true(begin && end);
    sm_text shown = {0};
    while (begin < end) {
        const char *words = strstr(begin, "<p class=w>");
        const char *stop = words && words < end ? words : end;
        sm_text part = paper_text_of(begin, (size_t)(stop - begin));
        sm_text_append(&shown, sm_text_get(&part), part.length);
        sm_text_deinit(&part);
        begin = stop < end ? strchr(stop + 1, '<') : end;
    }
    sm_text_deinit(&html);
    return shown;
}

// False: the show cannot be loaded.
static bool read_sheets(const show_folder *folder, sheets *out) {
    sm_findings *findings = sm_findings_create();
    sm_show *show = NULL;
    const sm_result loaded = sm_show_load(folder->path, NULL, findings, &show);
    sm_findings_destroy(findings);
    *out = (sheets){0};
    if (loaded != SM_OK)
        return false;
    sm_paper *paper = NULL;
    assert_int_equal(sm_paper_create(show, NULL, &paper), SM_OK);
    assert_true(paper->count <= 64);
    out->count = paper->count;
    for (uint32_t i = 0; i < paper->count; i++) {
        snprintf(out->names[i], sizeof out->names[i], "%s", paper->sheets[i].name);
        snprintf(out->words[i], sizeof out->words[i], "%s", paper->sheets[i].words);
        out->shown[i] = shown_of(paper, i);
    }
    sm_paper_destroy(paper);
    sm_show_destroy(show);
    return true;
}

static void free_sheets(sheets *s) {
    for (uint32_t i = 0; i < s->count; i++)
        sm_text_deinit(&s->shown[i]);
}

// Names of the sheets whose words are others, with a blank after each; fails where words and texts disagree.
static void compare(const sheets *before, const sheets *after, const char *edit, sm_text *changed) {
    for (uint32_t i = 0; i < after->count; i++)
        for (uint32_t k = 0; k < before->count; k++) {
            if (strcmp(after->names[i], before->names[k]) != 0)
                continue;
            const bool text = strcmp(sm_text_get(&before->shown[k]), sm_text_get(&after->shown[i])) != 0;
            const bool words = strcmp(before->words[k], after->words[i]) != 0;
            if (text != words)
                fail_msg("%s: %s shows %s, and its words are %s", edit, after->names[i],
                         text ? "another text" : "the same", words ? "others" : "the same");
            if (words)
                sm_text_printf(changed, "%s ", after->names[i]);
        }
}

// ---- edits of which it is known what they void ------------------------------------------------

typedef struct edit {
    const char *file, *from, *to, *voids;
} edit;

static const edit edits[] = {
    {"cues.csv", "0:04.000,A-01 B-01", "0:04.500,A-01 B-01", "LIST TIME CALLS "},
    {"cues.csv", "# intro", "# another comment", ""},
    {"cues.csv", "\"chase out, a lamp a bell\"", " \"chase out, a lamp a bell\" ", ""},
    {"cues.csv", "harbour blue comes up", "\"harbour blue comes up\"", ""},
    {"cues.csv", "harbour blue comes up", "harbour blue goes up", "LIST CALLS "},
    {"fixtures.csv", "par-2,par,1,9,", "par-2,par,1,10,", "LIST LINE-line-pars "},
    {"fixtures.csv", "the net shed", "the shed", "LIST LINE-line-pars "},
    {"rails.csv", "A,north,1,12,30 m", "A,north,1,12,31 m", "LIST LOAD-A OHMS-north STOCK "},
    {"rails.csv", "A,north,1,12,30 m", "A,north,1,12,30.0 m", ""},
    {"effects.csv", "one red star with a tail", "one red star", "LIST LOAD-A LOAD-B STOCK "},
    {"feeds.csv", "feed-left,feed-main,230 V,10 A", "feed-left,feed-main,230 V,16 A", "LIST FEEDS "},
    {"walk.csv", "Fire cover in place and told", "Fire cover there and told", "LIST WALK "},
    {"show.ini", "wind =", "; a comment\nwind =", ""},
};

static int file_named(const char *name) {
    for (int i = 0; i < FILES; i++)
        if (strcmp(files[i], name) == 0)
            return i;
    fail_msg("no file %s", name);
    return 0;
}

static char *replaced(const char *text, const char *from, const char *to) {
    const char *at = strstr(text, from);
    if (!at)
        fail_msg("\"%s\" is not there", from);
    sm_text out = {0};
    sm_text_append(&out, text, (size_t)(at - text));
    sm_text_printf(&out, "%s%s", to, at + strlen(from));
    return out.bytes;
}

static void an_edit_voids_what_it_changes_and_nothing_else(void **state) {
    (void)state;
    tables t = read_tables();
    const show_folder folder = show_folder_make();
    sheets before, after;
    put_tables(&folder, &t);
    assert_true(read_sheets(&folder, &before));
    for (size_t i = 0; i < sizeof edits / sizeof edits[0]; i++) {
        const edit *e = &edits[i];
        const char *old = t.bytes[file_named(e->file)];
        char *new_text = replaced(old, e->from, e->to);
        sm_text changed = {0};
        show_folder_put(&folder, e->file, new_text);
        assert_true(read_sheets(&folder, &after));
        compare(&before, &after, e->to, &changed);
        if (strcmp(sm_text_get(&changed), e->voids) != 0)
            fail_msg("%s: %s voids %s, not %s", e->file, e->to, sm_text_get(&changed), e->voids);
        show_folder_put(&folder, e->file, old);
        sm_text_deinit(&changed);
        free_sheets(&after);
        free(new_text);
    }
    free_sheets(&before);
    free_tables(&t);
    show_folder_remove(&folder);
}

static void readings_void_nothing(void **state) {
    (void)state;
    tables t = read_tables();
    const show_folder folder = show_folder_make();
    sheets before, after;
    sm_text changed = {0};
    put_tables(&folder, &t);
    assert_true(read_sheets(&folder, &before));
    show_folder_put(&folder, "readings.csv", "rail,slot,reading\nA,1,4.98\nA,2,open\n");
    assert_true(read_sheets(&folder, &after));
    compare(&before, &after, "readings", &changed);
    assert_string_equal(sm_text_get(&changed), "");
    free_sheets(&before);
    free_sheets(&after);
    free_tables(&t);
    show_folder_remove(&folder);
}

// ---- edits at random -------------------------------------------------------------------------------

static unsigned draw(uint64_t *seed, unsigned below) {
    *seed = *seed * 6364136223846793005U + 1442695040888963407U;
    return (unsigned)(*seed >> 33) % below;
}

// A copy of TEXT with one byte of one record (not the header, not the licence) put in, left out or exchanged.
static char *edited(const char *text, uint64_t *seed) {
    static const char bytes[] = "0123456789 ,-abcxyz\"#\n";
    const size_t length = strlen(text), at = draw(seed, (unsigned)length);
    const char byte[] = {bytes[draw(seed, sizeof bytes - 1)], '\0'};
    const unsigned kind = draw(seed, 3);
    sm_text out = {0};
    sm_text_append(&out, text, at);
    if (kind != 1)
        sm_text_append(&out, byte, 1);
    sm_text_printf(&out, "%s", text + at + (kind != 0));
    return out.bytes;
}

static void random_edits_change_words_where_they_change_text(void **state) {
    (void)state;
    const unsigned runs = getenv("SLOWMATCH_SOAK") ? 20000 : 400;
    uint64_t seed = 20260704;
    unsigned loaded = 0, voiding = 0;
    tables t = read_tables();
    const show_folder folder = show_folder_make();
    sheets before, after;
    put_tables(&folder, &t);
    assert_true(read_sheets(&folder, &before));
    for (unsigned i = 0; i < runs; i++) {
        const unsigned file = draw(&seed, FILES);
        char *new_text = edited(t.bytes[file], &seed), what[64];
        sm_text changed = {0};
        snprintf(what, sizeof what, "edit %u, of %s", i, files[file]);
        show_folder_put(&folder, files[file], new_text);
        if (read_sheets(&folder, &after)) {
            loaded++;
            compare(&before, &after, what, &changed);
            voiding += changed.length > 0;
        }
        show_folder_put(&folder, files[file], t.bytes[file]);
        sm_text_deinit(&changed);
        free_sheets(&after);
        free(new_text);
    }
    print_message("edits: %u, of these %u loaded, %u voided a sheet\n", runs, loaded, voiding);
    assert_true(loaded > runs / 4 && voiding > runs / 20 && voiding < loaded);
    free_sheets(&before);
    free_tables(&t);
    show_folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_edit_voids_what_it_changes_and_nothing_else),
        cmocka_unit_test(readings_void_nothing),
        cmocka_unit_test(random_edits_change_words_where_they_change_text),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

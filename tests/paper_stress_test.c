// SPDX-License-Identifier: GPL-3.0-or-later
// Paper of a show that strains it: 6 rails of 32 slots with the longest names there are, notes in several scripts, from right to left,
// long, without blanks, and full of markup.
#include "support/paper_pdf.h"
#include "support/paper_text.h"
#include "support/show_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { RAILS = 6, SLOTS = 32, LAMPS = 40, ON_LINE = 32 };

#define MARKUP "<script>alert(1)</script><b title='x' onclick=\"x\">&amp;</b><!-- ]]> &#60;"

// As cells of a CSV file, in quotes there.
static const char *const notes[] = {
    MARKUP,
    "הערה ארוכה מאוד בעברית 123 שנמשכת ונמשכת עוד ועוד",
    "ملاحظة طويلة جدا باللغة العربية (12 m)",
    "花火の長い説明がここにあります、とても長いので折り返します",
    "WWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWWW"
    "WWWWWWWWWWWWWWW",
    "iiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiiii"
    "iiiiiiiiiiiiiiiiiiiii",
    "👩‍🚒🔥🎆👩‍🚒🔥🎆👩‍🚒🔥🎆👩‍🚒🔥🎆",
    "a long note that says where it stands and how it is aimed and what must be looked at before anyone goes "
    "near it again, and "
    "then says all that again for good measure, because whoever wrote it was paid by the word and knew no "
    "better than this",
    "one line\nand another",
    "Ключ на старт, держать провод подальше от края и не трогать",
    "Ωμέγα; e\u0301a\u0308 \u202Eturned round\u202C",
};
enum { NOTES = sizeof notes / sizeof notes[0] };

static void append_quoted(sm_text *out, const char *text) {
    sm_text_printf(out, "\"");
    for (; *text != '\0'; text++)
        sm_text_printf(out, *text == '"' ? "\"\"" : "%c", *text);
    sm_text_printf(out, "\"");
}

static void put(const show_folder *folder, const char *file, sm_text *text) {
    assert_false(text->failed);
    show_folder_put(folder, file, text->bytes);
    sm_text_deinit(text);
}

static void put_ground(const show_folder *folder) {
    sm_text ini = {0}, modules = {0}, positions = {0}, rails = {0};
    sm_text_printf(&ini, "[show]\ntitle = <b>Über</b> & \"Schau\" מופע 花火 a title that goes on and on and "
                         "on\nlength = 6:40\n");
    sm_text_printf(&modules, "name,slots\n");
    sm_text_printf(&positions, "name,x,y\n");
    sm_text_printf(&rails, "name,module,first,slots,cable_length,cable_gauge,position\n");
    for (int r = 0; r < RAILS; r++) {
        if (r % 2 == 0)
            sm_text_printf(&modules, "MODULE-WWWWWWWWWWWWWWWWWWWWWW-%d,64\n", r / 2);
        sm_text_printf(&positions, "position-with-a-very-long-nam-%d,%d m,50 m\n", r, 10 * r);
        sm_text_printf(
            &rails,
            "RAIL-WWWWWWWWWWWWWWWWWWWWWWWW-%d,MODULE-WWWWWWWWWWWWWWWWWWWWWW-%d,%d,%d,123.45 m,22 AWG "
            "ccs21,position-with-a-very-long-nam-%d\n",
            r, r / 2, 1 + SLOTS * (r % 2), SLOTS, r);
    }
    put(folder, "show.ini", &ini);
    put(folder, "modules.csv", &modules);
    put(folder, "positions.csv", &positions);
    put(folder, "rails.csv", &rails);
}

static void put_effects(const show_folder *folder) {
    sm_text effects = {0};
    sm_text_printf(&effects, "name,lasts,zone,calibre,note\n");
    for (int e = 0; e < NOTES; e++) {
        sm_text_printf(&effects, "effect-with-a-very-long-name-%02d,2 s,%s,30 mm,", e,
                       e % 2 == 0 ? "aerial" : "ground");
        append_quoted(&effects, notes[e]);
        sm_text_printf(&effects, "\n");
    }
    put(folder, "effects.csv", &effects);
}

static void put_lamps(const show_folder *folder) {
    sm_text fixtures = {0}, lines = {0};
    sm_text_printf(&fixtures, "name,profile,universe,address,position,aim\n");
    sm_text_printf(&lines, "name,universe,chain,cables\nLINE-WWWWWWWWWWWWWWWWWWWWWWWWWW,1,");
    for (int f = 0; f < LAMPS; f++) {
        sm_text_printf(&fixtures,
                       "fixture-with-a-long-name-of-%03d,lamp,1,%d,position-with-a-very-long-nam-%d,", f,
                       1 + 13 * f, f % RAILS);
        append_quoted(&fixtures, notes[f % NOTES]);
        sm_text_printf(&fixtures, "\n");
        if (f < ON_LINE)
            sm_text_printf(&lines, "%sfixture-with-a-long-name-of-%03d", f > 0 ? " " : "", f);
    }
    sm_text_printf(&lines, ",");
    for (int f = 0; f < ON_LINE; f++)
        sm_text_printf(&lines, "%s100.25m", f > 0 ? " " : "");
    sm_text_printf(&lines, "\n");
    show_folder_put(folder, "profiles.csv", "name,channels\nlamp,dim red green blue\n");
    put(folder, "fixtures.csv", &fixtures);
    put(folder, "lines.csv", &lines);
}

static void put_cues(const show_folder *folder) {
    static const char *const loads[] = {"", "2s", "3p"}, *const wires[] = {"", "12.5 m 22 AWG ccs21"};
    sm_text cues = {0};
    sm_text_printf(&cues, "time,target,do,igniters,wire,aim,note\n");
    for (int i = 0; i < RAILS * SLOTS; i++) {
        if (i % 37 == 5)
            continue; // spares
        sm_text_printf(&cues,
                       "%d.25,RAIL-WWWWWWWWWWWWWWWWWWWWWWWW-%d-%02d,effect-with-a-very-long-name-%02d,%s,%s,",
                       2 * i, i / SLOTS, i % SLOTS + 1, i % NOTES, loads[i % 3], wires[i % 2]);
        append_quoted(&cues, i % 4 == 0 ? notes[(i + 5) % NOTES] : "");
        sm_text_printf(&cues, ",");
        append_quoted(&cues, notes[(i + 3) % NOTES]);
        sm_text_printf(&cues, "\n");
    }
    put(folder, "cues.csv", &cues);
}

static show_folder make_show(void) {
    const show_folder folder = show_folder_make();
    put_ground(&folder);
    put_effects(&folder);
    put_lamps(&folder);
    put_cues(&folder);
    return folder;
}

static void everything_stands_on_one_sheet(void **state) {
    (void)state;
    const show_folder folder = make_show();
    sm_show *show = show_folder_load(&folder, SM_OK);
    char *html = paper_pdf_html(folder.path, NULL);
    paper_html_check(html, show);
    free(html);
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

// Every tag is one that the program writes, and what the tables hold comes back as text.
static void nothing_in_a_table_becomes_markup(void **state) {
    static const char known[] = " html head meta title style body h1 main section header h2 div p b br u i "
                                "span footer table colgroup col "
                                "thead tr th td svg rect path text ";
    (void)state;
    const show_folder folder = make_show();
    char *html = paper_pdf_html(folder.path, NULL);
    size_t tags = 0;
    for (const char *at = strchr(html + 1, '<'); at; at = strchr(at + 1, '<'), tags++) {
        char name[24];
        const char *begin = at + 1 + (at[1] == '/');
        snprintf(name, sizeof name, " %.*s ", (int)strcspn(begin, " />\n"), begin);
        if (!strstr(known, name))
            fail_msg("a tag that nobody wrote: %.60s", at);
    }
    assert_true(tags > 1000);
    assert_null(strstr(html, "\u202E"));
    sm_text text = paper_text_of(html, strlen(html));
    assert_non_null(strstr(text.bytes, "<script>alert(1)"));
    assert_non_null(strstr(text.bytes, "&#60;"));
    sm_text_deinit(&text);
    free(html);
    show_folder_remove(&folder);
}

// One rail, the line, and what is wide here; all of it, on both papers, in the long run.
static void pages_are_whole(void **state) {
    (void)state;
    const bool is_long = getenv("SLOWMATCH_SOAK") != NULL;
    const show_folder folder = make_show();
    char *html = paper_pdf_html(
        folder.path, is_long ? NULL : "LIST,LOAD-RAIL-WWWWWWWWWWWWWWWWWWWWWWWW-3,LINE,TIME,STOCK,FEEDS");
    paper_pdf_check(html, PAPER_A4);
    if (is_long)
        paper_pdf_check(html, PAPER_LETTER);
    free(html);
    show_folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everything_stands_on_one_sheet),
        cmocka_unit_test(nothing_in_a_table_becomes_markup),
        cmocka_unit_test(pages_are_whole),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

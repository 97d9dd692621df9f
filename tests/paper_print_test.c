// SPDX-License-Identifier: GPL-3.0-or-later
// The paper of every demo show, as it is printed on A4 and on Letter by a program that is none of ours (WeasyPrint, read back by
// pdftotext of Poppler).
#include "support/paper_pdf.h"
#include "support/show_folder.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void each_demo(void (*check)(const char *html, const sm_show *show)) {
    unsigned shows = 0;
    DIR *demos = opendir("demo-shows");
    assert_non_null(demos);
    for (const struct dirent *entry; (entry = readdir(demos));) {
        show_folder folder;
        if (entry->d_name[0] == '.')
            continue;
        snprintf(folder.path, sizeof folder.path, "demo-shows/%.40s", entry->d_name);
        sm_show *show = show_folder_load(&folder, SM_OK);
        char *html = paper_pdf_html(folder.path, NULL);
        check(html, show);
        free(html);
        sm_show_destroy(show);
        shows++;
    }
    closedir(demos);
    assert_true(shows > 0);
}

// Of a show with more than this many firings SOME sheets stand for all: other programs take minutes for hundreds of pages. The
// long run (SLOWMATCH_SOAK) lays all of them out.
enum { FIRINGS_WHOLE = 200 };

static void lay_out(const char *html, const sm_show *show, const char *some, paper_size size) {
    if (show->firing_count <= FIRINGS_WHOLE || getenv("SLOWMATCH_SOAK")) {
        paper_pdf_check(html, size);
        return;
    }
    char *part = paper_pdf_html(show->folder, some);
    paper_pdf_check(part, size);
    free(part);
}

static void on_a4(const char *html, const sm_show *show) {
    lay_out(html, show, "LIST,LINE-line-1,FEEDS,STOCK", PAPER_A4);
}

static void on_letter(const char *html, const sm_show *show) {
    lay_out(html, show, "LOAD-X", PAPER_LETTER);
}

// 200 kB, and for each firing beyond a small show's the rows that it has on LOAD, OHMS, TIME, CALLS and AFTER.
static void size(const char *html, const sm_show *show) {
    const size_t most = 200000,
                 more = show->firing_count > FIRINGS_WHOLE ? show->firing_count - FIRINGS_WHOLE : 0;
    assert_true(strlen(html) < most + more * 1600);
}

static void everything_stands_on_one_sheet(void **state) {
    (void)state;
    each_demo(paper_html_check);
}

static void pages_are_whole_on_a4(void **state) {
    (void)state;
    each_demo(on_a4);
}

static void pages_are_whole_on_letter(void **state) {
    (void)state;
    each_demo(on_letter);
}

static void the_file_is_small(void **state) {
    (void)state;
    each_demo(size);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(everything_stands_on_one_sheet),
        cmocka_unit_test(pages_are_whole_on_a4),
        cmocka_unit_test(pages_are_whole_on_letter),
        cmocka_unit_test(the_file_is_small),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}

// SPDX-License-Identifier: GPL-3.0-or-later
#include "paper_demos.h"

#include "show_folder.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

void paper_demos_each(void (*check)(const char *html, const sm_show *show)) {
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

void paper_demos_lay_out(const char *html, const sm_show *show, const char *some, paper_size size) {
    if (show->firing_count <= PAPER_DEMOS_WHOLE || getenv("SLOWMATCH_SOAK")) {
        paper_pdf_check(html, size);
        return;
    }
    char *part = paper_pdf_html(show->folder, some);
    paper_pdf_check(part, size);
    free(part);
}

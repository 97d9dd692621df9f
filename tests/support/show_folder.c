// SPDX-License-Identifier: GPL-3.0-or-later
#include "show_folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <dirent.h>
#include <errno.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

static const struct {
    const char *file, *text;
} small_show[] = {
    {"show.ini", "[show]\ntitle = Small\n"},
    {"modules.csv", "name,slots\nM1,16\n"},
    {"positions.csv", "name,x,y\nleft,0,10\n"},
    {"rails.csv", "name,module,first,slots\nA,M1,1,8\n"},
    {"igniters.csv", "name\nstandard\n"},
    {"effects.csv", "name,lasts\nfountain,5\ncomet,2\n"},
    {"profiles.csv", "name,channels,home,hazard,enable,fire\n"
                     "par,dim red green blue,,,,\n"
                     "jet,permit flame,,flame,permit 128-255,flame 1-255\n"},
    {"feeds.csv", "name,from\nmain,\n"},
    {"fixtures.csv", "name,profile,address\npar-1,par,1\npar-2,par,5\njet-1,jet,20\n"},
    {"groups.csv", "name,members\npars,par-1 par-2\n"},
    {"lines.csv", "name,universe,chain\ndata-1,1,par-1 par-2\n"},
    {"cues.csv", "time,target,do\n1,A-01,comet\n2,pars,red=10\n"},
};

show_folder show_folder_make(void) {
    show_folder folder = {.path = "/tmp/slowmatch-show-XXXXXX"};
    assert_non_null(mkdtemp(folder.path));
    return folder;
}

show_folder show_folder_make_small(void) {
    const show_folder folder = show_folder_make();
    for (size_t i = 0; i < sizeof small_show / sizeof small_show[0]; i++)
        show_folder_put(&folder, small_show[i].file, small_show[i].text);
    return folder;
}

static void path_of(const show_folder *folder, const char *file, char path[PATH_MAX]) {
    const int length = snprintf(path, PATH_MAX, "%s/%s", folder->path, file);
    assert_in_range(length, 1, PATH_MAX - 1);
}

void show_folder_remove(const show_folder *folder) {
    char path[PATH_MAX];
    DIR *const listing = opendir(folder->path);
    assert_non_null(listing);
    for (const struct dirent *entry; (entry = readdir(listing));) {
        if (strcmp(entry->d_name, ".") == 0 || strcmp(entry->d_name, "..") == 0)
            continue;
        path_of(folder, entry->d_name, path);
        assert_int_equal(remove(path), 0);
    }
    closedir(listing);
    assert_int_equal(rmdir(folder->path), 0);
}

void show_folder_put_bytes(const show_folder *folder, const char *file, const char *bytes, size_t length) {
    char path[PATH_MAX];
    path_of(folder, file, path);
    FILE *const out = fopen(path, "wb");
    assert_non_null(out);
    assert_int_equal(fwrite(bytes, 1, length, out), length);
    assert_int_equal(fclose(out), 0);
}

void show_folder_put(const show_folder *folder, const char *file, const char *text) {
    char path[PATH_MAX];
    path_of(folder, file, path);
    if (text)
        show_folder_put_bytes(folder, file, text, strlen(text));
    else
        assert_true(unlink(path) == 0 || errno == ENOENT);
}

sm_show *show_folder_load(const show_folder *folder, sm_result expected) {
    sm_show *show = NULL;
    sm_findings *const findings = sm_findings_create();
    assert_non_null(findings);
    const sm_result result = sm_show_load(folder->path, NULL, findings, &show);
    if (result != expected) {
        sm_text text = {0};
        if (sm_findings_count(findings) > 0)
            sm_finding_format(&text, NULL, sm_findings_at(findings, 0));
        print_error("%s, first finding: %s\n", sm_result_text(result), sm_text_get(&text));
        sm_text_deinit(&text);
    }
    sm_findings_destroy(findings);
    assert_int_equal(result, expected);
    return show;
}

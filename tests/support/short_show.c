// SPDX-License-Identifier: GPL-3.0-or-later
#include "short_show.h"

#include "slowmatch/base.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

const char *short_show_path(short_show *show, const char *name) {
    snprintf(show->path, sizeof show->path, "%s/%s", show->folder, name);
    return show->path;
}

void short_show_write(short_show *show, const char *name, const char *text) {
    FILE *file = fopen(short_show_path(show, name), "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

char *short_show_read(short_show *show, const char *name) {
    char *bytes;
    size_t length;
    assert_int_equal(sm_file_read(short_show_path(show, name), &bytes, &length), SM_OK);
    return bytes;
}

void short_show_make(short_show *show, const char *lasts) {
    snprintf(show->folder, sizeof show->folder, "/tmp/slowmatch-test-XXXXXX");
    assert_non_null(mkdtemp(show->folder));
    short_show_write(show, "show.ini",
                     "[show]\ntitle = Short Evening\nlength = 1\ncountdown = 300 ms\n"
                     "[limits]\narm-time = 200 ms\nreentry-wait = 5 min\nmisfire-wait = 30 min\n");
    short_show_write(show, "modules.csv", "name,slots\nM1,16\n");
    short_show_write(show, "rails.csv", "name,module,first,slots,position\nA,M1,1,4,left\nB,M1,5,4,right\n");
    short_show_write(show, "positions.csv", "name,x,y\nleft,-5,20\nright,5,20\n");
    char effects[160];
    snprintf(effects, sizeof effects,
             "name,lead,lasts,zone\nfountain,0,1 s,ground\ncomet,0.1,0.2 s,aerial\nlong,0,%s,ground\n",
             lasts);
    short_show_write(show, "effects.csv", effects);
    short_show_write(show, "profiles.csv",
                     "name,channels,home,hazard,enable,fire\npar,dimmer red,0 0,none,,\n"
                     "jet,permit flame,0 0,flame,permit 128-255,flame 1-255\n");
    short_show_write(show, "fixtures.csv", "name,profile,universe,address\npar-1,par,1,1\njet-1,jet,2,1\n");
    short_show_write(
        show, "cues.csv",
        "time,target,do,fade,lasts,id,note\n0,par-1,dimmer=100% red=255,,,1,red comes up\n"
        "0.1,jet-1,permit=255,,,2,\n0.2,A-01,fountain,,,3,first bell\n0.3,jet-1,flame=255,,0.5,4,\n"
        "0.6,A-02,comet,,,5,\n0.6,B-01,long,,,6,burns on\n");
}

void short_show_remove(short_show *show) {
    DIR *folder = opendir(show->folder);
    assert_non_null(folder);
    for (struct dirent *entry = readdir(folder); entry; entry = readdir(folder))
        if (entry->d_name[0] != '.')
            unlink(short_show_path(show, entry->d_name));
    closedir(folder);
    rmdir(show->folder);
}

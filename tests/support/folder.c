// SPDX-License-Identifier: GPL-3.0-or-later
#include "folder.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

void folder_make(char path[64]) {
    // In memory where that can be had: nothing here is about a slow disk.
    bool memory = access("/dev/shm", W_OK | X_OK) == 0;
    snprintf(path, 64, "%s/slowmatch-test-XXXXXX", memory ? "/dev/shm" : "/tmp");
    assert_non_null(mkdtemp(path));
}

void folder_remove(const char *path) {
    char command[128];
    assert_non_null(strstr(path, "/slowmatch-test-"));
    snprintf(command, sizeof command, "rm -rf '%s'", path);
    assert_int_equal(system(command), 0);
}

char *folder_path(char buffer[256], const char *folder, const char *name) {
    snprintf(buffer, 256, "%s/%s", folder, name);
    return buffer;
}

void folder_write(const char *folder, const char *name, const char *text) {
    char path[256];
    FILE *file = fopen(folder_path(path, folder, name), "w");
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0);
    assert_int_equal(fclose(file), 0);
}

void folder_edit(const char *folder, const char *name, const char *old, const char *new_text) {
    char path[256], *text;
    size_t length;
    assert_int_equal(sm_file_read(folder_path(path, folder, name), &text, &length), SM_OK);
    char *at = strstr(text, old);
    assert_non_null(at);
    sm_text edited = {0};
    sm_text_append(&edited, text, (size_t)(at - text));
    sm_text_printf(&edited, "%s%s", new_text, at + strlen(old));
    assert_false(edited.failed);
    folder_write(folder, name, edited.bytes);
    sm_text_deinit(&edited);
    free(text);
}

sm_show *folder_load(const char *folder) {
    sm_findings *findings = sm_findings_create();
    sm_show *show = NULL;
    assert_non_null(findings);
    if (sm_show_load(folder, NULL, findings, &show) != SM_OK) {
        sm_text text = {0};
        for (size_t i = 0; i < sm_findings_count(findings); i++) {
            sm_finding_format(&text, folder, sm_findings_at(findings, i));
            sm_text_append(&text, "\n", 1);
        }
        fail_msg("%s", sm_text_get(&text));
    }
    sm_findings_destroy(findings);
    return show;
}

void folder_small_show(const char *folder) {
    folder_write(
        folder, "show.ini",
        "[show]\ntitle = Small Show\nlength = 12\ncountdown = 1 s\n[limits]\narm-time = 1 s\nwind = 8 m/s\n");
    folder_write(folder, "modules.csv", "name,slots\nnorth,16\n");
    folder_write(folder, "positions.csv", "name,x,y\nhut,0,10\nleft,-20,40\nright,20,40\nwall,4,20\n");
    folder_write(
        folder, "rails.csv",
        "name,module,first,slots,cable_length,position\nA,north,1,4,10 m,left\nB,north,5,4,20 m,right\n");
    folder_write(folder, "effects.csv",
                 "name,lead,lasts,zone,calibre\ncomet,0.2 s,1 s,aerial,30 mm\nfountain,0 s,3 s,ground,\n");
    folder_write(folder, "profiles.csv",
                 "name,channels,home,hazard,enable,fire,burn,clear\nlamp,dim,0,none,,,,\n"
                 "jet,permit flame,0 0,flame,permit 128-255,flame 1-255,8 ml/s,10 m\n");
    folder_write(folder, "fixtures.csv",
                 "name,profile,universe,address,position,fuel,aim\nlamp-1,lamp,1,1,wall,,the water\n"
                 "lamp-2,lamp,1,2,wall,,the trees\njet-1,jet,2,5,wall,200 ml,straight up\n");
    folder_write(folder, "lines.csv",
                 "name,universe,source,chain,cables\none,1,hut,lamp-1 lamp-2,15m 3m\ntwo,2,hut,jet-1,20m\n");
    folder_write(folder, "cues.csv",
                 "time,target,do,lasts\n1,A-01,comet,\n1.5,lamp-1 lamp-2,dim=200,2 s\n2,A-02,fountain,\n"
                 "3,jet-1,permit=255 flame=0,\n4,jet-1,flame=255,1 s\n5,A-03 B-01,comet,\n6,lamp-1,dim=80,\n"
                 "7,B-02 B-03,fountain,\n8,A-04,comet,\n9,B-04,comet,\n9.5,jet-1,permit=0,\n");
    folder_write(folder, "walk.csv",
                 "item,ask,expect,where,hold\nbriefing,Briefing held in the hut,yes,hut,yes\n"
                 "boats,Is any boat inside the buoys,no,left,yes\nflowers,Flowers watered,yes,,no\n");
}

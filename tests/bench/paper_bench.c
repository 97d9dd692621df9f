// SPDX-License-Identifier: GPL-3.0-or-later
// What paper costs beside loading the show that it is of: the demo, and 64 rails of 32 slots.
#include "slowmatch/paper.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

enum { RAILS = 64, SLOTS = 32 };

static double now_ms(void) {
    struct timespec now;
    clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &now);
    return 1e3 * (double)now.tv_sec + 1e-6 * (double)now.tv_nsec;
}

static FILE *table(const char *folder, const char *name) {
    char path[128];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *file = fopen(path, "w");
    if (!file)
        exit(2);
    return file;
}

static void write_show(const char *folder) {
    FILE *ini = table(folder, "show.ini"), *modules = table(folder, "modules.csv"),
         *rails = table(folder, "rails.csv"), *effects = table(folder, "effects.csv"),
         *cues = table(folder, "cues.csv");
    fputs("[show]\ntitle = Bench\n", ini);
    fputs("name,slots\n", modules);
    fputs("name,module,first,slots,cable_length\n", rails);
    fputs("name,lasts,zone,note\ncomet,2 s,ground,one star with a tail\n", effects);
    fputs("time,target,do\n", cues);
    for (int r = 0; r < RAILS; r++) {
        fprintf(modules, "m%d,%d\n", r, SLOTS);
        fprintf(rails, "r%d,m%d,1,%d,30 m\n", r, r, SLOTS);
        for (int s = 1; s <= SLOTS; s++)
            fprintf(cues, "%d.5,r%d-%02d,comet\n", r + s * RAILS, r, s);
    }
    fclose(ini);
    fclose(modules);
    fclose(rails);
    fclose(effects);
    fclose(cues);
}

static void measure(const char *folder) {
    sm_findings *findings = sm_findings_create();
    sm_show *show;
    sm_paper *paper;
    sm_text html = {0};
    const double begun = now_ms();
    if (!findings || sm_show_load(folder, NULL, findings, &show) != SM_OK)
        exit(2);
    const double loaded = now_ms();
    if (sm_paper_create(show, NULL, &paper) != SM_OK)
        exit(2);
    sm_paper_html(paper, NULL, "2026-06-20 16:40", &html);
    const double made = now_ms();
    printf("%u slots, %u sheets, %zu kB: %.1f ms, %.1f times loading it\n", show->slot_count, paper->count,
           html.length / 1000, made - loaded, (made - loaded) / (loaded - begun));
    sm_text_deinit(&html);
    sm_paper_destroy(paper);
    sm_show_destroy(show);
    sm_findings_destroy(findings);
}

int main(void) {
    static const char *const files[] = {"show.ini", "modules.csv", "rails.csv", "effects.csv", "cues.csv"};
    char folder[] = "/tmp/slowmatch-bench-XXXXXX";
    if (!mkdtemp(folder))
        return 2;
    measure("demo-shows/lantern-quay");
    measure("demo-shows/tallow-weir");
    write_show(folder);
    measure(folder);
    for (size_t i = 0; i < sizeof files / sizeof files[0]; i++) {
        char path[128];
        snprintf(path, sizeof path, "%s/%s", folder, files[i]);
        unlink(path);
    }
    rmdir(folder);
    return 0;
}

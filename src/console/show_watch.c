// SPDX-License-Identifier: GPL-3.0-or-later
// The thread is a background writer whose pieces say nothing but "look".
#include "console/show_watch.h"

#include "slowmatch/background.h"
#include "slowmatch/clock.h"

#include <dirent.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#define LOOK_US SM_US_PER_S
// Of the tables and drills of a show; what is beyond is not looked at.
#define FILES 256
#define PATH 1024

typedef struct seen_file {
    char name[SM_SHOW_WATCH_NAME];
    int64_t size, changed_ns;
} seen_file;

// `looker` is shared with the thread. The lock guards all of it but `before` and `now`, which only the thread uses.
struct sm_show_watch {
    sm_background *background; // used by the owner alone
    int64_t looked_us;         // used by the owner alone
    struct looker {
        pthread_mutex_t lock;
        char own[PATH]; // --readings FILE, into which readings are kept; "": none
        char folder[PATH];
        unsigned asked_for,
            looked_for; // number of the reading that is watched; a look of an earlier number is of another show
        bool looks;     // the thread is looking
        char changed[SM_SHOW_WATCH_NAME]; // "": nothing
        seen_file before[FILES], now[FILES];
        size_t before_count, now_count;
    } * looker;
};

// ---- looking ------------------------------------------------------------------------------------

// Tables and settings. What the rehearsal itself writes there (its log, readings that are kept) is no news.
static bool is_of_the_show(const char *name) {
    size_t length = strlen(name);
    return name[0] != '.' && length > 4 && length < SM_SHOW_WATCH_NAME &&
           (strcmp(name + length - 4, ".csv") == 0 || strcmp(name + length - 4, ".ini") == 0) &&
           strcmp(name, "readings.csv") != 0;
}

static void look_into(struct looker *looker, const char *folder, const char *below) {
    char path[PATH + 512];
    struct stat own;
    const bool has_own = looker->own[0] && stat(looker->own, &own) == 0;
    snprintf(path, sizeof path, "%s%s", folder, below);
    DIR *opened = opendir(path);
    for (struct dirent *entry = opened ? readdir(opened) : NULL; entry; entry = readdir(opened)) {
        struct stat file;
        if (!is_of_the_show(entry->d_name) || looker->now_count == FILES)
            continue;
        snprintf(path, sizeof path, "%s%s/%s", folder, below, entry->d_name);
        if (stat(path, &file) != 0 || !S_ISREG(file.st_mode) ||
            (has_own && file.st_dev == own.st_dev && file.st_ino == own.st_ino))
            continue;
        seen_file *seen = &looker->now[looker->now_count++];
        memcpy(seen->name, entry->d_name, strlen(entry->d_name) + 1); // it fits: is_of_the_show
        seen->size = file.st_size;
        seen->changed_ns = (int64_t)file.st_mtim.tv_sec * 1000000000 + file.st_mtim.tv_nsec;
    }
    if (opened)
        closedir(opened);
}

static const seen_file *find(const seen_file *files, size_t count, const char *name) {
    for (size_t i = 0; i < count; i++)
        if (strcmp(files[i].name, name) == 0)
            return &files[i];
    return NULL;
}

// The first file that is other than it was, has come or is gone; "": none. A folder that cannot be read says nothing.
static const char *first_change(const struct looker *looker) {
    for (size_t i = 0; i < looker->now_count; i++) {
        const seen_file *now = &looker->now[i], *was = find(looker->before, looker->before_count, now->name);
        if (!was || was->size != now->size || was->changed_ns != now->changed_ns)
            return now->name;
    }
    for (size_t i = 0; i < looker->before_count && looker->now_count > 0; i++)
        if (!find(looker->now, looker->now_count, looker->before[i].name))
            return looker->before[i].name;
    return "";
}

static int look(void *context, const char *bytes, size_t length, bool durable) {
    struct looker *looker = context;
    char folder[PATH];
    (void)bytes;
    (void)length;
    (void)durable;
    pthread_mutex_lock(&looker->lock);
    snprintf(folder, sizeof folder, "%s", looker->folder);
    unsigned asked_for = looker->asked_for;
    bool first = asked_for != looker->looked_for;
    pthread_mutex_unlock(&looker->lock);
    looker->now_count = 0;
    look_into(looker, folder, "");
    look_into(looker, folder, "/drills");
    if (first) {
        memcpy(looker->before, looker->now, sizeof looker->before);
        looker->before_count = looker->now_count;
    }
    pthread_mutex_lock(&looker->lock);
    looker->looks = false;
    looker->looked_for = asked_for;
    if (asked_for == looker->asked_for && !looker->changed[0])
        snprintf(looker->changed, sizeof looker->changed, "%s", first_change(looker));
    pthread_mutex_unlock(&looker->lock);
    return 0;
}

// ---- the owner's side -----------------------------------------------------------------------------

static void looker_free(void *context) {
    struct looker *looker = context;
    pthread_mutex_destroy(&looker->lock);
    free(looker);
}

static const sm_background_work work = {.write = look, .abandon = looker_free};

sm_result sm_show_watch_start(const char *readings_file, sm_show_watch **out) {
    sm_show_watch *watch = calloc(1, sizeof *watch);
    struct looker *looker = calloc(1, sizeof *looker);
    if (!watch || !looker || sm_background_start(&work, looker, &watch->background) != SM_OK) {
        free(watch);
        free(looker);
        return SM_NO_MEMORY;
    }
    pthread_mutex_init(&looker->lock, NULL);
    snprintf(looker->own, sizeof looker->own, "%s", readings_file ? readings_file : "");
    watch->looker = looker;
    *out = watch;
    return SM_OK;
}

void sm_show_watch_stop(sm_show_watch *watch) {
    if (!watch)
        return;
    if (sm_background_close(watch->background, SM_US_PER_S / 10))
        looker_free(watch->looker);
    free(watch);
}

static void ask(sm_show_watch *watch) {
    watch->looked_us = sm_monotonic_us();
    (void)sm_background_put(watch->background, "", 1, true);
}

void sm_show_watch_begin(sm_show_watch *watch, const sm_show *show) {
    struct looker *looker = watch->looker;
    pthread_mutex_lock(&looker->lock);
    snprintf(looker->folder, sizeof looker->folder, "%s", show->folder);
    looker->asked_for++;
    looker->changed[0] = '\0';
    bool looks = looker->looks;
    looker->looks = true;
    pthread_mutex_unlock(&looker->lock);
    if (!looks)
        ask(watch);
}

bool sm_show_watch_look(sm_show_watch *watch, char name[SM_SHOW_WATCH_NAME]) {
    struct looker *looker = watch->looker;
    pthread_mutex_lock(&looker->lock);
    snprintf(name, SM_SHOW_WATCH_NAME, "%s", looker->changed);
    bool asks = !looker->looks && sm_monotonic_us() - watch->looked_us >= LOOK_US;
    looker->looks = looker->looks || asks;
    pthread_mutex_unlock(&looker->lock);
    if (asks)
        ask(watch);
    return name[0] != '\0';
}

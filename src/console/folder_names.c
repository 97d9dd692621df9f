// SPDX-License-Identifier: GPL-3.0-or-later
// The thread is a background writer; what is put to it is the name of the folder to read.
#include "console/folder_names.h"

#include "slowmatch/background.h"

#include <dirent.h>
#include <pthread.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PATH SM_PROMPT_BYTES

// What the thread has; the lock guards it, but for `reading`.
typedef struct shelf {
    pthread_mutex_t lock;
    char folder[PATH]; // whose names they are
    sm_folder_names names, reading;
} shelf;

struct sm_folder_reader {
    sm_background *background;
    shelf *shelf;
    char wanted[PATH]; // asked for last, "": nothing yet
    sm_folder_names names;
};

static int by_name(const void *a, const void *b) {
    return strcmp(a, b);
}

static void read_folder(const char *folder, sm_folder_names *out) {
    DIR *opened = opendir(folder);
    out->count = 0;
    for (struct dirent *entry = opened ? readdir(opened) : NULL; entry; entry = readdir(opened)) {
        size_t length = strlen(entry->d_name);
        if (entry->d_name[0] != '.' && length + 1 < SM_CANDIDATE_BYTES && out->count < SM_FOLDER_NAMES) {
            char *name = out->names[out->count++];
            snprintf(name, SM_CANDIDATE_BYTES, "%.*s%s", (int)length, entry->d_name,
                     entry->d_type == DT_DIR ? "/" : "");
        }
    }
    if (opened)
        closedir(opened);
    qsort(out->names, out->count, sizeof out->names[0], by_name);
}

// The latest of the names that were put, each with its NUL.
static int read_latest(void *context, const char *bytes, size_t length, bool durable) {
    shelf *s = context;
    char folder[PATH];
    size_t from = length - 1;
    (void)durable;
    while (from > 0 && bytes[from - 1] != '\0')
        from--;
    snprintf(folder, sizeof folder, "%s", bytes + from);
    read_folder(folder, &s->reading);
    pthread_mutex_lock(&s->lock);
    snprintf(s->folder, sizeof s->folder, "%s", folder);
    s->names = s->reading;
    pthread_mutex_unlock(&s->lock);
    return 0;
}

static void shelf_free(void *context) {
    shelf *s = context;
    pthread_mutex_destroy(&s->lock);
    free(s);
}

static const sm_background_work work = {.write = read_latest, .abandon = shelf_free};

sm_result sm_folder_reader_start(sm_folder_reader **out) {
    sm_folder_reader *reader = calloc(1, sizeof *reader);
    shelf *s = calloc(1, sizeof *s);
    if (!reader || !s || sm_background_start(&work, s, &reader->background) != SM_OK) {
        free(reader);
        free(s);
        return SM_NO_MEMORY;
    }
    pthread_mutex_init(&s->lock, NULL);
    reader->shelf = s;
    *out = reader;
    return SM_OK;
}

void sm_folder_reader_stop(sm_folder_reader *reader) {
    if (!reader)
        return;
    if (sm_background_close(reader->background, SM_US_PER_S / 10))
        shelf_free(reader->shelf);
    free(reader);
}

const sm_folder_names *sm_folder_reader_names(sm_folder_reader *reader, const char *folder) {
    if (strcmp(reader->wanted, folder) != 0) {
        snprintf(reader->wanted, sizeof reader->wanted, "%s", folder);
        (void)sm_background_put(reader->background, reader->wanted, strlen(reader->wanted) + 1, true);
    }
    pthread_mutex_lock(&reader->shelf->lock);
    bool there = strcmp(reader->shelf->folder, reader->wanted) == 0;
    if (there)
        reader->names = reader->shelf->names;
    pthread_mutex_unlock(&reader->shelf->lock);
    return there ? &reader->names : NULL;
}

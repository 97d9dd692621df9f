// SPDX-License-Identifier: GPL-3.0-or-later
#include "audio/cache.h"

#include "slowmatch/files.h"

#include <dirent.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#define SUFFIX ".wave"
#define FRAMES_MAX INT64_C(0x100000000) // a day at 48 kHz: no file of ours has more

// The file is this and then the bins, as this machine keeps them: a cache does not travel.
typedef struct header {
    char magic[8];
    sm_cache_key key;
    int64_t frames;
    uint64_t bin_count;
    uint32_t bin_frames, bin_bytes;
} header;

static const char MAGIC[8] = "SMWAVE1";

bool sm_cache_key_of(const char *path, const atomic_bool *stop, sm_cache_key *out) {
    const int file = sm_file_open(path);
    if (file < 0)
        return false;
    sm_cache_key key = {.hash = UINT64_C(14695981039346656037)};
    unsigned char bytes[65536];
    ssize_t got = 0;
    while (!(stop && atomic_load(stop)) && (got = read(file, bytes, sizeof bytes)) > 0) {
        for (ssize_t i = 0; i < got; i++)
            key.hash = (key.hash ^ bytes[i]) * UINT64_C(1099511628211);
        key.bytes += (size_t)got;
    }
    close(file);
    if (got == 0)
        *out = key;
    return got == 0;
}

static bool name_of(const char *folder, const sm_cache_key *key, char path[PATH_MAX]) {
    int length = snprintf(path, PATH_MAX, "%s/%016llx-%llx" SUFFIX, folder, (unsigned long long)key->hash,
                          (unsigned long long)key->bytes);
    return length > 0 && length < PATH_MAX;
}

static bool header_fits(const header *head, const sm_cache_key *key, int bin_frames) {
    return memcmp(head->magic, MAGIC, sizeof MAGIC) == 0 && head->key.hash == key->hash &&
           head->key.bytes == key->bytes && head->bin_frames == (uint32_t)bin_frames &&
           head->bin_bytes == sizeof(sm_audio_peak) && head->frames > 0 && head->frames < FRAMES_MAX &&
           head->bin_count == ((uint64_t)head->frames + (uint64_t)bin_frames - 1) / (uint64_t)bin_frames;
}

bool sm_cache_load(const char *folder, const sm_cache_key *key, int bin_frames, sm_cache_shape *out) {
    char path[PATH_MAX];
    const int descriptor = name_of(folder, key, path) ? sm_file_open(path) : -1;
    FILE *file = descriptor >= 0 ? fdopen(descriptor, "rb") : NULL;
    if (!file) {
        if (descriptor >= 0)
            close(descriptor);
        return false;
    }
    header head;
    sm_audio_peak *bins = NULL;
    bool good = fread(&head, sizeof head, 1, file) == 1 && header_fits(&head, key, bin_frames);
    if (good)
        bins = malloc(head.bin_count * sizeof *bins);
    good = bins && fread(bins, sizeof *bins, head.bin_count, file) == head.bin_count && fgetc(file) == EOF;
    fclose(file);
    if (!good) {
        free(bins);
        return false;
    }
    *out = (sm_cache_shape){.bins = bins, .bin_count = head.bin_count, .frames = head.frames};
    return true;
}

// Removes the oldest file of this cache if there are too many.
static void prune(const char *folder) {
    DIR *list = opendir(folder);
    if (!list)
        return;
    int count = 0;
    struct stat status;
    struct timespec oldest = {0};
    char name[NAME_MAX + 1] = "";
    for (const struct dirent *entry; (entry = readdir(list));) {
        size_t length = strlen(entry->d_name), tail = strlen(SUFFIX);
        if (length < tail || strcmp(entry->d_name + length - tail, SUFFIX) != 0 ||
            fstatat(dirfd(list), entry->d_name, &status, AT_SYMLINK_NOFOLLOW) != 0)
            continue;
        bool older = status.st_mtim.tv_sec < oldest.tv_sec ||
                     (status.st_mtim.tv_sec == oldest.tv_sec && status.st_mtim.tv_nsec < oldest.tv_nsec);
        if (count++ == 0 || older) {
            oldest = status.st_mtim;
            snprintf(name, sizeof name, "%s", entry->d_name);
        }
    }
    if (count > SM_CACHE_FILES_MAX)
        unlinkat(dirfd(list), name, 0);
    closedir(list);
}

void sm_cache_store(const char *folder, const sm_cache_key *key, int bin_frames,
                    const sm_cache_shape *shape) {
    char path[PATH_MAX];
    sm_text bytes = {0};
    header head = {.key = *key,
                   .frames = shape->frames,
                   .bin_count = shape->bin_count,
                   .bin_frames = (uint32_t)bin_frames,
                   .bin_bytes = sizeof(sm_audio_peak)};
    memcpy(head.magic, MAGIC, sizeof MAGIC);
    sm_text_append(&bytes, (const char *)&head, sizeof head);
    sm_text_append(&bytes, (const char *)shape->bins, shape->bin_count * sizeof *shape->bins);
    const sm_file_new file = {.bytes = bytes.bytes, .length = bytes.length, .mode = 0600};
    if (!bytes.failed && name_of(folder, key, path) && sm_folder_make(folder, 0700) == SM_OK &&
        sm_file_replace(path, &file) == SM_OK)
        prune(folder);
    sm_text_deinit(&bytes);
}

sm_result sm_audio_cache_folder(sm_text *out) {
    // The XDG base directory specification: a relative path there is to be ignored.
    const char *cache = getenv("XDG_CACHE_HOME"), *home = getenv("HOME");
    if (cache && cache[0] == '/')
        sm_text_printf(out, "%s/slowmatch", cache);
    else if (home && home[0] == '/')
        sm_text_printf(out, "%s/.cache/slowmatch", home);
    else
        return SM_NOT_FOUND;
    return out->failed ? SM_NO_MEMORY : SM_OK;
}

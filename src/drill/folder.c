// SPDX-License-Identifier: GPL-3.0-or-later
// The drills of a show: the files of its folder `drills`.
#include "slowmatch/drill.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

sm_result sm_drill_load(const sm_show *show, const char *name, sm_findings *findings, sm_drill **out) {
    sm_text path = {0}, file = {0};
    sm_text_printf(&file, "drills/%s.ini", name);
    sm_text_printf(&path, "%s/%s", show->folder, sm_text_get(&file));
    char *bytes = NULL;
    size_t length;
    sm_result result = path.failed || file.failed ? SM_NO_MEMORY : SM_OK;
    if (result == SM_OK)
        result = strchr(name, '/') ? SM_UNREADABLE : sm_file_read(sm_text_get(&path), &bytes, &length);
    if (result == SM_OK)
        result = sm_drill_read(show, sm_text_get(&file), bytes, length, findings, out);
    free(bytes);
    sm_text_deinit(&path);
    sm_text_deinit(&file);
    return result;
}

static int by_name(const void *a, const void *b) {
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

static sm_result read_names(DIR *folder, sm_arena *arena, const char ***names, size_t *count) {
    size_t capacity = 0;
    for (const struct dirent *entry; (entry = readdir(folder));) {
        size_t length = strlen(entry->d_name);
        if (length <= 4 || strcmp(entry->d_name + length - 4, ".ini") != 0 || entry->d_name[0] == '.')
            continue;
        if (*count == capacity) {
            capacity = capacity == 0 ? 32 : capacity * 2;
            const char **grown = sm_arena_resize(arena, *names, capacity * sizeof *grown);
            if (!grown)
                return SM_NO_MEMORY;
            *names = grown;
        }
        const char *name = sm_arena_text(arena, entry->d_name, length - 4);
        if (!name)
            return SM_NO_MEMORY;
        (*names)[(*count)++] = name;
    }
    return SM_OK;
}

sm_result sm_drill_names(const sm_show *show, sm_arena *arena, const char *const **out, size_t *count) {
    sm_text path = {0};
    sm_text_printf(&path, "%s/drills", show->folder);
    DIR *folder = path.failed ? NULL : opendir(sm_text_get(&path));
    sm_result failed = path.failed ? SM_NO_MEMORY : errno == ENOENT ? SM_OK : SM_UNREADABLE;
    sm_text_deinit(&path);
    const char **names = NULL;
    size_t found = 0;
    if (!folder && failed != SM_OK)
        return failed;
    sm_result result = folder ? read_names(folder, arena, &names, &found) : SM_OK;
    if (folder)
        closedir(folder);
    if (result != SM_OK)
        return result;
    if (found > 1)
        qsort(names, found, sizeof *names, by_name);
    *out = names;
    *count = found;
    return SM_OK;
}

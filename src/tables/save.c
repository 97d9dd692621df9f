// SPDX-License-Identifier: GPL-3.0-or-later
// The one way in which slowmatch changes a table of a show.
#include "slowmatch/files.h"
#include "slowmatch/show.h"
#include "slowmatch/tables.h"
#include "slowmatch/walk.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { MODE = 0644, FOLDER_MODE = 0700, HASH_DIGITS = 8 };

char *sm_table_backups_path(void) {
    return sm_user_data_path("tables");
}

// ---- the copy of what was ------------------------------------------------------------

// "SHOW-HASH/FILE.TIME-HASH" of the table REAL, a whole path.
static void append_backup_name(const char *real, const char *was, size_t was_length, sm_text *out) {
    char at[32] = "";
    struct tm local;
    const time_t now = time(NULL);
    const char *const file = strrchr(real, '/');
    const size_t folder_length = (size_t)(file - real);
    const char *const above = memrchr(real, '/', folder_length);
    const char *const show = above ? above + 1 : real;
    const sm_walk_hash folder = sm_walk_hash_bytes(real, folder_length);
    const sm_walk_hash bytes = sm_walk_hash_bytes(was, was_length);
    if (localtime_r(&now, &local))
        strftime(at, sizeof at, "%Y%m%dT%H%M%S", &local);
    sm_text_printf(out, "%.*s-%.*s%s.%s-%.*s", (int)(file - show), show, HASH_DIGITS, folder.hex, file, at,
                   HASH_DIGITS, bytes.hex);
}

static sm_result keep(const char *path, const char *was, size_t was_length, const char *backups,
                      sm_text *why) {
    sm_text copy = {0};
    char *const real = realpath(path, NULL);
    const sm_file_new file = {.bytes = was, .length = was_length, .mode = 0600};
    sm_result result = real ? SM_OK : SM_UNREADABLE;
    if (result == SM_OK) {
        sm_text_printf(&copy, "%s/", backups);
        append_backup_name(real, was, was_length, &copy);
        result = copy.failed ? SM_NO_MEMORY : sm_folder_make_above(copy.bytes, FOLDER_MODE);
    }
    if (result == SM_OK)
        result = sm_file_replace(copy.bytes, &file);
    if (result != SM_OK)
        sm_text_printf(why, "no copy of it could be kept in %s: %s", backups, strerror(errno));
    free(real);
    sm_text_deinit(&copy);
    return result;
}

// ---- in its place ----------------------------------------------------------------------

static void append_why(sm_result result, int reason, sm_text *why) {
    if (result == SM_NO_MEMORY)
        sm_text_printf(why, "memory ran out");
    else if (result == SM_REFUSED && reason == EBUSY)
        sm_text_printf(why, "somebody else saved it meanwhile; load the show again");
    else if (result == SM_REFUSED && reason == EMLINK)
        sm_text_printf(why, "it has a second name (a hard link), which would keep the old table");
    else if (result == SM_REFUSED)
        sm_text_printf(why, "it is no plain file");
    else
        sm_text_printf(why, "it cannot be written: %s", strerror(reason));
}

static sm_result put(const char *path, const char *was, size_t was_length, const sm_text *made,
                     sm_text *why) {
    const sm_file_new file = {.bytes = sm_text_get(made),
                              .length = made->length,
                              .mode = MODE,
                              .if_same = true,
                              .old = was,
                              .old_length = was_length,
                              .refuse_hard_links = true};
    const sm_result result = sm_file_replace(path, &file);
    if (result != SM_OK)
        append_why(result, errno, why);
    return result;
}

sm_result sm_table_save(const char *path, const char *was, size_t was_length, const sm_table_edit *edit,
                        const char *backups, sm_text *why) {
    sm_text made = {0};
    sm_result result = sm_table_edit_bytes(was ? was : "", was_length, edit, &made, why);
    if (result == SM_NO_MEMORY)
        append_why(result, 0, why);
    if (result == SM_OK && was)
        result = keep(path, was, was_length, backups, why);
    if (result == SM_OK)
        result = put(path, was, was_length, &made, why);
    sm_text_deinit(&made);
    return result;
}

sm_result sm_table_change(const char *path, const sm_table_edit *edit, const char *backups, sm_text *why) {
    char *was = NULL;
    size_t length = 0;
    sm_result result = sm_file_read(path, &was, &length);
    if (result == SM_UNREADABLE && errno == ENOENT)
        result = SM_OK;
    if (result == SM_OK)
        result = sm_table_save(path, was, length, edit, backups, why);
    else
        append_why(result, errno, why);
    free(was);
    return result;
}

void sm_tables_sweep(const char *folder) {
    size_t count;
    const sm_table_schema *const schema = sm_show_schema(&count);
    for (size_t i = 0; i < count; i++) {
        sm_text path = {0};
        sm_text_printf(&path, "%s/%s", folder, schema[i].file);
        if (!path.failed)
            sm_file_sweep(path.bytes);
        sm_text_deinit(&path);
    }
}

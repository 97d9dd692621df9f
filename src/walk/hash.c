// SPDX-License-Identifier: GPL-3.0-or-later
// What a show consists of, in one number.
#include "slowmatch/walk.h"

#include <errno.h>
#include <nettle/sha2.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static sm_walk_hash finish(struct sha256_ctx *context) {
    static const char digits[] = "0123456789abcdef";
    uint8_t digest[SHA256_DIGEST_SIZE];
    sm_walk_hash hash;
    sha256_digest(context, sizeof digest, digest);
    for (size_t i = 0; i < sizeof digest; i++) {
        hash.hex[2 * i] = digits[digest[i] >> 4];
        hash.hex[2 * i + 1] = digits[digest[i] & 15];
    }
    hash.hex[64] = '\0';
    return hash;
}

sm_walk_hash sm_walk_hash_bytes(const void *bytes, size_t length) {
    struct sha256_ctx context;
    sha256_init(&context);
    sha256_update(&context, length, bytes);
    return finish(&context);
}

static uint64_t bytes_of(int file) {
    struct stat status;
    return fstat(file, &status) == 0 && status.st_size > 0 ? (uint64_t)status.st_size : 0;
}

sm_result sm_walk_hash_file(const char *path, sm_progress *progress, sm_walk_hash *out) {
    struct sha256_ctx context;
    uint8_t piece[65536];
    const int file = sm_file_open(path);
    if (file < 0)
        return SM_UNREADABLE;
    sm_progress_expect(progress, bytes_of(file));
    sha256_init(&context);
    ssize_t got;
    bool goes_on = true;
    while (goes_on && (got = read(file, piece, sizeof piece)) > 0) {
        sha256_update(&context, (size_t)got, piece);
        goes_on = sm_progress_count(progress, (uint64_t)got);
    }
    int why = errno;
    close(file);
    errno = why;
    if (!goes_on)
        return SM_REFUSED;
    if (got == 0)
        *out = finish(&context);
    return got < 0 ? SM_UNREADABLE : SM_OK;
}

sm_result sm_walk_hash_music(const char *path, sm_progress *progress, sm_walk_hash *out) {
    sm_walk_hash none = {""};
    sm_result result = path ? sm_walk_hash_file(path, progress, &none) : SM_OK;
    if (result == SM_UNREADABLE && sm_file_is_none(errno))
        result = SM_OK;
    if (result == SM_OK)
        *out = none;
    return result;
}

bool sm_walk_hash_equal(const sm_walk_hash *a, const sm_walk_hash *b) {
    return strcmp(a->hex, b->hex) == 0;
}

bool sm_walk_file_counts(const char *name) {
    return strcmp(name, "readings.csv") != 0 && strcmp(name, "walk.csv") != 0;
}

void sm_walk_put_content(sm_text *lines, const char *name, const sm_walk_hash *hash) {
    sm_text_printf(lines, "%s %s\n", name, hash->hex[0] != '\0' ? hash->hex : "-");
}

static sm_result add_table(sm_text *lines, const sm_show *show, const char *name) {
    sm_text path = {0};
    sm_walk_hash hash = {""};
    sm_text_printf(&path, "%s/%s", show->folder, name);
    sm_result result = path.failed ? SM_NO_MEMORY : sm_walk_hash_file(path.bytes, NULL, &hash);
    int why = errno;
    sm_text_deinit(&path);
    errno = why;
    if (result != SM_OK && (result != SM_UNREADABLE || !sm_file_is_none(why)))
        return result;
    sm_walk_put_content(lines, name, &hash);
    return SM_OK;
}

sm_result sm_walk_content(const sm_show *show, const sm_walk_hash *music, sm_walk_hash *out) {
    size_t count;
    const sm_table_schema *schema = sm_show_schema(&count);
    sm_text lines = {0};
    sm_result result = SM_OK;
    for (size_t i = 0; i < count && result == SM_OK; i++)
        if (sm_walk_file_counts(schema[i].file))
            result = add_table(&lines, show, schema[i].file);
    if (show->settings.audio[0] != '\0')
        sm_walk_put_content(&lines, show->settings.audio, music);
    if (result == SM_OK && lines.failed)
        result = SM_NO_MEMORY;
    if (result == SM_OK)
        *out = sm_walk_hash_bytes(lines.bytes, lines.length);
    sm_text_deinit(&lines);
    return result;
}

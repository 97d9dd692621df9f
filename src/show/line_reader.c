// SPDX-License-Identifier: GPL-3.0-or-later
#include "show/line_reader.h"

#include "show/text_file.h"

#include <errno.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { CHUNK_BYTES = 256 * 1024 };

void sm_lines_of_bytes(sm_lines *lines, char *bytes, size_t length) {
    *lines = (sm_lines){
        .descriptor = -1,
        .bytes = bytes,
        .capacity = length,
        .end = length,
        .at = sm_text_bom(bytes, length),
        .is_at_end = true,
        .has_quotes = true,
        .has_returns = true,
        .size = length,
        .stop_at = UINT64_MAX,
    };
    lines->kept = lines->at;
}

sm_result sm_lines_open(sm_lines *lines, const char *path, sm_arena *arena) {
    struct stat status;
    const int descriptor = sm_file_open(path);
    if (descriptor < 0)
        return SM_UNREADABLE;
    *lines = (sm_lines){.arena = arena, .descriptor = descriptor, .stop_at = UINT64_MAX, .is_plain = true};
    if (fstat(descriptor, &status) == 0 && S_ISREG(status.st_mode))
        lines->size = (uint64_t)status.st_size;
    return SM_OK;
}

void sm_lines_part(sm_lines *lines, const sm_lines *whole, sm_arena *arena, uint64_t begin, uint32_t line) {
    *lines = (sm_lines){
        .arena = arena,
        .bytes = lines->bytes,
        .capacity = lines->capacity,
        .descriptor = whole->descriptor,
        .is_lent = true,
        .passed = begin,
        .stop_at = UINT64_MAX,
        .line = line,
        .is_plain = true,
        .size = whole->size,
    };
}

uint64_t sm_lines_place(const sm_lines *lines) {
    return lines->passed + lines->kept;
}

void sm_lines_deinit(sm_lines *lines) {
    if (lines->descriptor >= 0 && !lines->is_lent)
        close(lines->descriptor);
    lines->descriptor = -1;
}

void sm_lines_forget(sm_lines *lines) {
    lines->kept = lines->at;
}

// Makes room at the end by moving what is kept to the front, or else by growing.
static sm_result make_room(sm_lines *lines) {
    if (lines->kept > 0) {
        memmove(lines->bytes, lines->bytes + lines->kept, lines->end - lines->kept);
        lines->passed += lines->kept;
        lines->end -= lines->kept;
        lines->at -= lines->kept;
        lines->kept = 0;
    }
    if (lines->capacity - lines->end >= CHUNK_BYTES / 2)
        return SM_OK;
    if (lines->capacity >= SM_LINES_KEPT_MAX)
        return SM_OUT_OF_RANGE;
    const size_t capacity = lines->capacity > 0 ? lines->capacity * 2 : CHUNK_BYTES;
    char *const grown = sm_arena_resize(lines->arena, lines->bytes, capacity);
    if (!grown)
        return SM_NO_MEMORY;
    lines->bytes = grown;
    lines->capacity = capacity;
    return SM_OK;
}

static sm_result read_more(sm_lines *lines) {
    const sm_result result = make_room(lines);
    if (result != SM_OK)
        return result;
    char *const into = lines->bytes + lines->end;
    const size_t room = lines->capacity - lines->end;
    ssize_t got;
    do
        got = lines->is_lent ? pread(lines->descriptor, into, room, (off_t)(lines->passed + lines->end))
                             : read(lines->descriptor, into, room);
    while (got < 0 && errno == EINTR);
    if (got < 0)
        return SM_UNREADABLE;
    if (lines->passed + lines->end == 0)
        lines->kept = lines->at = sm_text_bom(lines->bytes, (size_t)got);
    lines->is_plain = lines->is_plain && sm_text_is_plain(into, (size_t)got);
    lines->has_quotes = lines->has_quotes || memchr(into, '"', (size_t)got);
    lines->has_returns = lines->has_returns || memchr(into, '\r', (size_t)got);
    lines->is_at_end = got == 0;
    lines->end += (size_t)got;
    (void)sm_progress_count(lines->progress, (uint64_t)got);
    return SM_OK;
}

sm_result sm_lines_look(sm_lines *lines, const char **bytes, size_t *length) {
    const sm_result result = lines->end == 0 && !lines->is_at_end ? read_more(lines) : SM_OK;
    *bytes = lines->bytes ? lines->bytes + lines->at : "";
    *length = lines->end - lines->at;
    return result;
}

// Between two records, and where reading should stop.
static bool is_past(const sm_lines *lines) {
    return lines->kept == lines->at && sm_lines_place(lines) >= lines->stop_at;
}

sm_result sm_lines_next(sm_lines *lines, char **line, size_t *length) {
    size_t looked_through = 0; // bytes of the line that hold no end
    for (;;) {
        char *const begin = lines->bytes ? lines->bytes + lines->at : NULL;
        const size_t left = lines->end - lines->at;
        char *const stop =
            left > looked_through ? memchr(begin + looked_through, '\n', left - looked_through) : NULL;
        if (!stop && !lines->is_at_end) {
            looked_through = left;
            const sm_result result = read_more(lines);
            if (result != SM_OK)
                return result;
            continue;
        }
        if (left == 0 || is_past(lines))
            return SM_NOT_FOUND;
        *line = begin;
        *length = stop ? (size_t)(stop - begin) + 1 : left;
        lines->at += *length;
        lines->line++;
        return SM_OK;
    }
}

// SPDX-License-Identifier: GPL-3.0-or-later
// Readings go back into a file that a crew keeps by hand: their rows, comments, column order and line ends stay as they
// are, new rows come behind. The whole file is written beside the old one and renamed over it, so that at any moment
// either the old or the new one is there; a lock on the old one keeps two programs from losing each other's rows.
#include "slowmatch/rig.h"

#include <csv.h>
#include <errno.h>
#include <fcntl.h>
#include <stdlib.h>
#include <string.h>
#include <sys/file.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#define LOCK_TRIES 100
#define LOCK_WAIT_NS 10000000
#define BYTE_ORDER_MARK "\xEF\xBB\xBF"
#define OTHER_COLUMN SM_RIG_COLUMN_COUNT

enum { COLUMN_RAIL, COLUMN_SLOT, COLUMN_READING, COLUMN_WHEN, COLUMN_BY, SM_RIG_COLUMN_COUNT };
static const char *const column_names[SM_RIG_COLUMN_COUNT] = {"rail", "slot", "reading", "when", "by"};

typedef struct header {
    int *columns; // which of column_names each is, or OTHER_COLUMN
    size_t count, field;
    bool comment, done, no_memory;
} header;

static int column_of(const char *name, size_t length) {
    for (int i = 0; i < SM_RIG_COLUMN_COUNT; i++)
        if (strlen(column_names[i]) == length && memcmp(column_names[i], name, length) == 0)
            return i;
    return OTHER_COLUMN;
}

static void on_field(void *bytes, size_t length, void *context) {
    header *h = context;
    const char *name = bytes;
    if (h->field++ == 0)
        h->comment = length > 0 && name[0] == '#';
    if (h->done || h->comment || h->no_memory)
        return;
    int *grown = realloc(h->columns, (h->count + 1) * sizeof *grown);
    if (!grown) {
        h->no_memory = true;
        return;
    }
    h->columns = grown;
    h->columns[h->count++] = column_of(name, length);
}

static void on_record(int end, void *context) {
    header *h = context;
    (void)end;
    h->done = h->done || h->count > 0;
    h->field = 0;
}

// The whole text is parsed as strictly as a show is loaded, so that rows are never added behind a quote that was left open.
static sm_result header_read(header *h, const char *bytes, size_t length) {
    struct csv_parser parser;
    if (csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI) != 0)
        return SM_NO_MEMORY;
    size_t mark = strlen(BYTE_ORDER_MARK);
    size_t skip = length >= mark && memcmp(bytes, BYTE_ORDER_MARK, mark) == 0 ? mark : 0;
    bool whole = csv_parse(&parser, bytes + skip, length - skip, on_field, on_record, h) == length - skip &&
                 csv_fini(&parser, on_field, on_record, h) == 0;
    bool out_of_memory = h->no_memory || csv_error(&parser) == CSV_ENOMEM;
    csv_free(&parser);
    if (out_of_memory)
        return SM_NO_MEMORY;
    return whole ? SM_OK : SM_INVALID;
}

static bool header_has(const header *h, int column) {
    for (size_t i = 0; i < h->count; i++)
        if (h->columns[i] == column)
            return true;
    return false;
}

static void put_cell(const sm_show *show, const sm_reading *row, int column, sm_text *out) {
    char value[24];
    const sm_rail *rail = &show->rails[show->slot_rails[row->slot]];
    switch (column) {
    case COLUMN_RAIL:
        sm_text_append_csv(out, rail->name);
        break;
    case COLUMN_SLOT:
        sm_text_printf(out, "%u", row->slot - rail->slot_base + 1);
        break;
    case COLUMN_READING:
        sm_text_append_csv(out, sm_read_value_format(value, row->value));
        break;
    case COLUMN_WHEN:
        sm_text_append_csv(out, row->when);
        break;
    case COLUMN_BY:
        sm_text_append_csv(out, row->by);
        break;
    default:
        break;
    }
}

static sm_result text_with_rows(const sm_show *show, const char *old, size_t length, const sm_reading *rows,
                                size_t count, sm_text *out) {
    static int new_columns[] = {COLUMN_RAIL, COLUMN_SLOT, COLUMN_READING, COLUMN_WHEN, COLUMN_BY};
    header h = {0};
    sm_result result = header_read(&h, old, length);
    bool fresh = h.count == 0;
    if (result == SM_OK && !fresh &&
        !(header_has(&h, COLUMN_RAIL) && header_has(&h, COLUMN_SLOT) && header_has(&h, COLUMN_READING)))
        result = SM_INVALID;
    const char *line_end = memmem(old, length, "\r\n", 2) ? "\r\n" : "\n";
    const int *columns = fresh ? new_columns : h.columns;
    size_t column_count = fresh ? SM_RIG_COLUMN_COUNT : h.count;
    sm_text_append(out, old, length);
    if (length > 0 && old[length - 1] != '\n')
        sm_text_printf(out, "%s", line_end);
    if (fresh)
        sm_text_printf(out, "rail,slot,reading,when,by%s", line_end);
    for (size_t i = 0; i < count && result == SM_OK; i++) {
        for (size_t c = 0; c < column_count && rows[i].value.kind != SM_READ_NOTHING; c++) {
            sm_text_printf(out, "%s", c > 0 ? "," : "");
            put_cell(show, &rows[i], columns[c], out);
        }
        sm_text_printf(out, "%s", rows[i].value.kind != SM_READ_NOTHING ? line_end : "");
    }
    free(h.columns);
    return result == SM_OK && out->failed ? SM_NO_MEMORY : result;
}

// Opens PATH and locks it; -1 with errno. A file that was renamed over while waiting is opened anew.
static int open_locked(const char *path) {
    for (int i = 0; i < LOCK_TRIES; i++) {
        int file = open(path, O_RDONLY | O_CLOEXEC);
        if (file < 0)
            return -1;
        struct stat held, there;
        if (flock(file, LOCK_EX | LOCK_NB) == 0 && fstat(file, &held) == 0 && stat(path, &there) == 0 &&
            held.st_ino == there.st_ino && held.st_dev == there.st_dev)
            return file;
        close(file);
        nanosleep(&(struct timespec){.tv_nsec = LOCK_WAIT_NS}, NULL);
    }
    errno = EAGAIN;
    return -1;
}

static bool write_all(int file, const char *bytes, size_t length) {
    while (length > 0) {
        ssize_t wrote = write(file, bytes, length);
        if (wrote < 0 && errno != EINTR)
            return false;
        if (wrote > 0) {
            bytes += wrote;
            length -= (size_t)wrote;
        }
    }
    return true;
}

static void flush_folder(const char *path) {
    char *folder = strdup(path);
    if (!folder)
        return;
    char *slash = strrchr(folder, '/');
    if (slash)
        slash[slash == folder ? 1 : 0] = '\0';
    int file = open(slash ? folder : ".", O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (file >= 0) {
        fsync(file);
        close(file);
    }
    free(folder);
}

// A new file beside PATH, its name in BESIDE; -1 with errno. One of that name is left from a program that died.
static int open_beside(const char *path, sm_text *beside) {
    sm_text_printf(beside, "%s.%ld.new", path, (long)getpid());
    if (beside->failed) {
        errno = ENOMEM;
        return -1;
    }
    int flags = O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC;
    int file = open(beside->bytes, flags, 0666);
    if (file < 0 && errno == EEXIST && unlink(beside->bytes) == 0)
        file = open(beside->bytes, flags, 0666);
    return file;
}

// Puts TEXT in place of PATH, with the mode of OLD (-1: there is none).
static sm_result replace(const char *path, int old, const sm_text *text) {
    sm_text beside = {0};
    int file = open_beside(path, &beside);
    if (file < 0) {
        sm_text_deinit(&beside);
        return errno == ENOMEM ? SM_NO_MEMORY : SM_UNREADABLE;
    }
    struct stat held;
    bool written = write_all(file, sm_text_get(text), text->length);
    written = written && (old < 0 || (fstat(old, &held) == 0 && fchmod(file, held.st_mode & 07777) == 0));
    written = written && fsync(file) == 0;
    written = close(file) == 0 && written;
    written = written && rename(beside.bytes, path) == 0;
    int why = errno;
    if (written)
        flush_folder(path);
    else
        unlink(beside.bytes);
    sm_text_deinit(&beside);
    errno = why;
    return written ? SM_OK : SM_UNREADABLE;
}

sm_result sm_rig_readings_add(const sm_show *show, const char *path, const sm_reading *rows, size_t count) {
    char *real = realpath(path, NULL); // a link stays a link
    const char *target = real ? real : path;
    int file = open_locked(target);
    if (file < 0 && errno != ENOENT) {
        free(real);
        return SM_UNREADABLE;
    }
    char *old = NULL;
    size_t length = 0;
    sm_result result = file >= 0 ? sm_file_read(target, &old, &length) : SM_OK;
    sm_text text = {0};
    if (result == SM_OK)
        result = text_with_rows(show, old ? old : "", length, rows, count, &text);
    if (result == SM_OK)
        result = replace(target, file, &text);
    int why = errno;
    if (file >= 0)
        close(file);
    sm_text_deinit(&text);
    free(old);
    free(real);
    errno = why;
    return result;
}

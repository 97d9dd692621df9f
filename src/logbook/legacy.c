// SPDX-License-Identifier: GPL-3.0-or-later
// A file of records begins with a line that says so; in a spill file the second line is the full path of its logbook. A record is a letter,
// the number of its fields and a newline, then each field as its length, a colon, its bytes and a newline. All fields are texts.
#include "logbook/legacy.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#define HEADER "slowmatch records 1\n"
static_assert(sizeof HEADER - 1 == SM_LEGACY_HEAD, "all of it");
// No table of a show comes near this; a damaged size might.
#define FILE_BYTES_MAX ((int64_t)1 << 31)

// ---- deflated files ----------------------------------------------------------------------

// The SIZE bytes that LENGTH bytes at PACKED were; NULL where they are damaged, or memory runs out. The caller frees them.
static char *inflate_bytes(const void *packed, size_t length, int64_t size) {
    uLongf room = (uLongf)size;
    char *bytes = size >= 0 && size <= FILE_BYTES_MAX ? malloc((size_t)size + 1) : NULL;
    if (bytes && uncompress((Bytef *)bytes, &room, packed, (uLong)length) == Z_OK && room == (uLongf)size)
        return bytes;
    free(bytes);
    return NULL;
}

static void unpack(sqlite3_context *context, int count, sqlite3_value **values) {
    (void)count;
    const void *packed = sqlite3_value_blob(values[0]);
    char *bytes =
        inflate_bytes(packed, (size_t)sqlite3_value_bytes(values[0]), sqlite3_value_int64(values[1]));
    if (bytes)
        sqlite3_result_blob64(context, bytes, (sqlite3_uint64)sqlite3_value_int64(values[1]), free);
    else
        sqlite3_result_value(context, values[0]);
}

bool sm_legacy_unpack_files(sqlite3 *db) {
    return sqlite3_create_function(db, "unpack", 2, SQLITE_UTF8 | SQLITE_DIRECTONLY, NULL, unpack, NULL,
                                   NULL) == SQLITE_OK &&
           sqlite3_exec(db, "UPDATE file SET bytes = unpack(bytes, size)", NULL, NULL, NULL) == SQLITE_OK &&
           sqlite3_create_function(db, "unpack", 2, SQLITE_UTF8, NULL, NULL, NULL, NULL) == SQLITE_OK;
}

// ---- records -----------------------------------------------------------------------------

typedef struct field {
    const char *bytes;
    size_t length;
} field;

// EMPTY: a bit for each field that is no value where it is empty.
static const struct {
    char letter;
    sm_entry_kind kind;
    unsigned empty;
} kinds[] = {
    {'F', SM_ENTRY_FILE, 0},      {'L', SM_ENTRY_LOAD, 0},
    {'M', SM_ENTRY_MEMBER, 0},    {'g', SM_ENTRY_READING, 1 << 3 | 1 << 5},
    {'R', SM_ENTRY_REHEARSAL, 0}, {'r', SM_ENTRY_ROW, 1 << 3},
    {'i', SM_ENTRY_INPUT, 0},     {'E', SM_ENTRY_END, 0},
    {'t', SM_ENTRY_TICK, 1 << 8}, {'u', SM_ENTRY_UNTICK, 0},
    {'s', SM_ENTRY_SIGN, 0},      {'c', SM_ENTRY_CHANGE, 0},
    {'b', SM_ENTRY_DEBRIEF, 0},   {'p', SM_ENTRY_STEP, 1 << 6 | 1 << 7},
    {'d', SM_ENTRY_DRILL, 0}, // before there were seats: one field less
    {'D', SM_ENTRY_DRILL, 0},
};

// Digits up to STOP; *at behind it. False where there are none, too many, or none such.
static bool read_count(const char **at, const char *end, char stop, size_t *out) {
    size_t value = 0;
    const char *begin = *at;
    for (; *at < end && **at >= '0' && **at <= '9' && *at - begin < 12; (*at)++)
        value = value * 10 + (size_t)(**at - '0');
    bool whole = *at > begin && *at < end && **at == stop;
    *out = value;
    (*at)++;
    return whole;
}

static bool read_fields(const char **at, const char *end, field *fields, size_t count) {
    for (size_t i = 0; i < count; i++) {
        size_t length;
        if (!read_count(at, end, ':', &length) || length >= (size_t)(end - *at) || (*at)[length] != '\n')
            return false;
        fields[i] = (field){*at, length};
        *at += length + 1;
    }
    return true;
}

// One that is damaged stays as it is.
static void put_file(sm_text *out, sm_value values[SM_ENTRY_VALUES], const field *packed) {
    assert(values[1].bytes);                           // a file's size is no field that may be empty
    int64_t size = strtoll(values[1].bytes, NULL, 10); // the newline behind it ends it
    char *bytes = inflate_bytes(packed->bytes, packed->length, size);
    values[2] = bytes ? sm_value_bytes(bytes, (size_t)size) : sm_value_bytes(packed->bytes, packed->length);
    sm_entry_put(out, SM_ENTRY_FILE, values, 3);
    free(bytes);
}

// One record at *AT, as an entry; false where there is no whole one.
static bool read_record(const char **at, const char *end, sm_text *out) {
    const char *p = *at;
    size_t kind = 0, count;
    while (kind < sizeof kinds / sizeof kinds[0] && kinds[kind].letter != *p)
        kind++;
    p++;
    if (kind == sizeof kinds / sizeof kinds[0] || !read_count(&p, end, '\n', &count))
        return false;
    bool seatless = kinds[kind].letter == 'd';
    field fields[SM_ENTRY_VALUES] = {{NULL, 0}};
    if (count != sm_entry_values(kinds[kind].kind) - seatless || !read_fields(&p, end, fields, count))
        return false;
    sm_value values[SM_ENTRY_VALUES] = {{.kind = SM_VALUE_NOTHING}};
    for (size_t i = 0; i < count; i++) {
        bool nothing = fields[i].length == 0 && (kinds[kind].empty >> i & 1) != 0;
        values[i] = (sm_value){nothing ? SM_VALUE_NOTHING : SM_VALUE_TEXT, (int64_t)fields[i].length,
                               nothing ? NULL : fields[i].bytes};
    }
    if (seatless)
        values[count++] = sm_value_text("lead");
    *at = p;
    if (kinds[kind].kind == SM_ENTRY_FILE)
        put_file(out, values, &fields[2]);
    else
        sm_entry_put(out, kinds[kind].kind, values, count);
    return true;
}

sm_result sm_legacy_read(const char *bytes, size_t length, sm_text *out) {
    const char *at = bytes, *end = bytes + length;
    while (at < end && read_record(&at, end, out))
        continue;
    if (out->failed)
        return SM_NO_MEMORY;
    return at == end ? SM_OK : SM_INVALID;
}

bool sm_legacy_is_records(const char *bytes, size_t length) {
    return length >= strlen(HEADER) && memcmp(bytes, HEADER, strlen(HEADER)) == 0;
}

const char *sm_legacy_export_records(const char *bytes) {
    return bytes + strlen(HEADER);
}

const char *sm_legacy_spill_records(const char *bytes, size_t length, const char *logbook) {
    const char *line = bytes + strlen(HEADER);
    const char *end = memchr(line, '\n', length - strlen(HEADER));
    bool same =
        end && strlen(logbook) == (size_t)(end - line) && memcmp(line, logbook, (size_t)(end - line)) == 0;
    return same ? end + 1 : NULL;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// inih reads a line that begins with a blank as more of the value before, ends a value at " ;", takes ':' for
// '=', cuts long lines and joins repeated sections, all without a word. So each line is judged here first,
// and inih is handed only lines that it reads as they stand; the others it sees as empty lines.
#include "slowmatch/ini.h"

#include "show/text_file.h"

#include <ini.h>
#include <string.h>

enum { ENTRIES_MOST = 10000 };                      // each is looked for among all of its section
enum { LINE_MAX_BYTES = 199, NAME_MAX_BYTES = 49 }; // what inih's buffers hold of a line and of a name

typedef struct reader {
    sm_ini ini;
    sm_arena *arena;
    sm_findings *findings;
    const char *at, *end;   // what is left of the file
    const char *line_bytes; // the line being read, without its end
    size_t line_length;
    uint32_t line;
    const char *section; // the last one begun, NULL before any
    bool is_skipping;    // a section that was refused
    bool no_memory;
} reader;

static bool is_blank(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\v' || c == '\f';
}

static size_t skip_blanks(const char *line, size_t length, size_t at) {
    while (at < length && is_blank(line[at]))
        at++;
    return at;
}

static uint32_t column_of(const reader *r, size_t at) {
    return (uint32_t)sm_utf8_count(r->line_bytes, at) + 1;
}

static bool refuse(reader *r, size_t at, const char *what) {
    sm_findings_add(r->findings, r->ini.file, r->line, column_of(r, at), SM_ERROR, "ini", "%s", what);
    r->ini.dropped++;
    return false;
}

// Place of a ';' that has a blank before it, which inih takes for a comment; the line's length where there is
// none.
static size_t find_inline_comment(const char *line, size_t length) {
    for (size_t at = 1; at < length; at++)
        if (line[at] == ';' && is_blank(line[at - 1]))
            return at;
    return length;
}

static const sm_ini_entry *find_section(const sm_ini *ini, const char *name, size_t length) {
    for (size_t i = 0; i < ini->count; i++) {
        const sm_ini_entry *const entry = &ini->entries[i];
        if (!entry->key && strlen(entry->section) == length && memcmp(entry->section, name, length) == 0)
            return entry;
    }
    return NULL;
}

static bool add_entry(reader *r, sm_ini_entry entry) {
    sm_ini_entry *const grown = sm_arena_grow(r->arena, r->ini.entries, r->ini.count, sizeof *grown);
    if (!grown) {
        r->no_memory = true;
        return false;
    }
    r->ini.entries = grown;
    r->ini.entries[r->ini.count++] = entry;
    return true;
}

static const char *keep(reader *r, const char *text, size_t length) {
    const char *const kept = sm_arena_text(r->arena, text, length);
    if (!kept)
        r->no_memory = true;
    return kept;
}

// "[section]": true where inih may see it.
static bool judge_section(reader *r, const char *line, size_t length) {
    const char *const close = memchr(line, ']', length);
    r->is_skipping = true;
    if (!close)
        return refuse(r, length, "a section's name ends with \"]\"");
    const size_t after = (size_t)(close - line) + 1;
    if (skip_blanks(line, length, after) < length)
        return refuse(r, skip_blanks(line, length, after), "nothing may follow the \"]\" of a section");
    if (after - 2 == 0 || after - 2 > NAME_MAX_BYTES)
        return refuse(r, 1, "a section's name has 1 to 49 characters");
    const sm_ini_entry *const before = find_section(&r->ini, line + 1, after - 2);
    if (before) {
        sm_findings_add(r->findings, r->ini.file, r->line, 2, SM_ERROR, "ini",
                        "section [%s] is here a second time; put its keys under line %u", before->section,
                        (unsigned)before->line);
        r->ini.dropped++;
        return false;
    }
    r->section = keep(r, line + 1, after - 2);
    r->is_skipping = false;
    return r->section && add_entry(r, (sm_ini_entry){.section = r->section, .line = r->line, .column = 2});
}

static size_t trimmed_end(const char *line, size_t begin, size_t end) {
    while (end > begin && is_blank(line[end - 1]))
        end--;
    return end;
}

// "key = value": true where inih may see it.
static bool judge_key(reader *r, const char *line, size_t length) {
    size_t split = 0;
    while (split < length && line[split] != '=' && line[split] != ':')
        split++;
    if (split == length)
        return refuse(r, 0, "this is neither [section], nor key = value, nor a comment");
    if (line[split] == ':')
        return refuse(r, split, "write \"=\" between key and value, not \":\"");
    const size_t key_length = trimmed_end(line, 0, split);
    if (key_length == 0 || key_length > NAME_MAX_BYTES)
        return refuse(r, 0, "a key has 1 to 49 characters before its \"=\"");
    if (r->is_skipping)
        return false;
    if (!r->section)
        return refuse(r, 0, "a key stands under a [section]; this one stands before any");
    for (size_t i = r->ini.count; i-- > 0 && r->ini.entries[i].key;) {
        const sm_ini_entry *const entry = &r->ini.entries[i];
        if (strlen(entry->key) != key_length || memcmp(entry->key, line, key_length) != 0)
            continue;
        sm_findings_add(r->findings, r->ini.file, r->line, 1, SM_ERROR, "ini",
                        "%s is given a second time in [%s]; it is in line %u already", entry->key, r->section,
                        (unsigned)entry->line);
        r->ini.dropped++;
        return false;
    }
    return true;
}

// True where inih may see the line.
static bool judge_line(reader *r) {
    const char *const line = r->line_bytes;
    const size_t length = r->line_length;
    const size_t begin = skip_blanks(line, length, 0);
    if (begin == length || line[begin] == ';' || line[begin] == '#')
        return false;
    if (begin > 0)
        return refuse(r, 0, "a line may not begin with a blank; there are no continuation lines");
    if (length > LINE_MAX_BYTES)
        return refuse(r, 0, "a line has at most 199 bytes");
    if (memchr(line, '\r', length))
        return refuse(r, (size_t)((const char *)memchr(line, '\r', length) - line),
                      "a carriage return that is not followed by a line feed; end lines with LF or CRLF");
    const size_t comment = find_inline_comment(line, length);
    if (comment < length)
        return refuse(r, comment, "\" ;\" within a line; a comment stands on a line of its own");
    return line[0] == '[' ? judge_section(r, line, length) : judge_key(r, line, length);
}

// Takes the next line off the file; false at its end.
static bool next_line(reader *r) {
    if (r->at >= r->end)
        return false;
    if (r->ini.count >= ENTRIES_MOST) {
        r->line++;
        refuse(r, 0, "more than 10000 keys and sections; what follows is not read");
        r->at = r->end;
        return false;
    }
    const char *const stop = memchr(r->at, '\n', (size_t)(r->end - r->at));
    const char *const line_end = stop ? stop : r->end;
    r->line_bytes = r->at;
    r->line_length = (size_t)(line_end - r->at);
    if (stop && r->line_length > 0 && line_end[-1] == '\r')
        r->line_length--;
    r->at = stop ? stop + 1 : r->end;
    r->line++;
    return true;
}

// inih's reader: the next line, or an empty one in its place.
static char *give_line(char *buffer, int size, void *context) {
    reader *const r = context;
    if (size < LINE_MAX_BYTES + 1 || r->no_memory || !next_line(r))
        return NULL;
    const size_t length = judge_line(r) ? r->line_length : 0;
    memcpy(buffer, r->line_bytes, length);
    buffer[length] = '\0';
    return buffer;
}

static int take_entry(void *context, const char *section, const char *key, const char *value) {
    (void)section; // r->section is the same, kept
    reader *const r = context;
    const char *const equals = memchr(r->line_bytes, '=', r->line_length);
    const size_t value_at = skip_blanks(r->line_bytes, r->line_length, (size_t)(equals - r->line_bytes) + 1);
    const sm_ini_entry entry = {
        .section = r->section,
        .key = keep(r, key, strlen(key)),
        .value = keep(r, value, strlen(value)),
        .line = r->line,
        .column = 1,
        .value_column = column_of(r, value_at),
    };
    return !r->no_memory && add_entry(r, entry);
}

sm_result sm_ini_read(const char *file, const char *bytes, size_t length, sm_arena *arena,
                      sm_findings *findings, sm_ini *out) {
    const size_t bom = sm_text_bom(bytes, length);
    reader r = {.ini = {.file = file},
                .arena = arena,
                .findings = findings,
                .at = bytes + bom,
                .end = bytes + length};
    const int result = ini_parse_stream(give_line, &r, take_entry, &r);
    if (r.no_memory || result == -2)
        return SM_NO_MEMORY;
    *out = r.ini;
    return SM_OK;
}

const sm_ini_entry *sm_ini_find(const sm_ini *ini, const char *section, const char *key) {
    for (size_t i = 0; i < ini->count; i++) {
        const sm_ini_entry *const entry = &ini->entries[i];
        if (entry->key && strcmp(entry->key, key) == 0 && strcmp(entry->section, section) == 0)
            return entry;
    }
    return NULL;
}

uint32_t sm_ini_next_line(const sm_ini *ini, uint32_t line) {
    for (size_t i = 0; i < ini->count; i++)
        if (ini->entries[i].line > line)
            return ini->entries[i].line;
    return 0;
}

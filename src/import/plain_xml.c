// SPDX-License-Identifier: GPL-3.0-or-later
// Extensible Markup Language (XML) 1.0, fifth edition.
#include "import/plain_xml.h"

#include <stdlib.h>
#include <string.h>
#include <strings.h>

// What a byte may be. Plain ones stand for themselves in texts and values.
enum { NAME_START = 1, NAME = 2, BLANK = 4, PLAIN = 8 };
enum { P = PLAIN, L = PLAIN | NAME | NAME_START, D = PLAIN | NAME, B = BLANK, W = BLANK | PLAIN };

static const unsigned char kinds[256] = {
    0, 0, 0, 0, 0, 0, 0, 0, 0, B, B, 0, 0, B, 0, 0, // controls: tab, line feed and return
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, //
    W, P, P, P, P, P, 0, P, P, P, P, P, P, D, D, P, // & is not plain
    D, D, D, D, D, D, D, D, D, D, L, P, 0, P, P, P, // digits, : and <
    P, L, L, L, L, L, L, L, L, L, L, L, L, L, L, L, // capitals
    L, L, L, L, L, L, L, L, L, L, L, P, P, 0, P, L, // ] and _
    P, L, L, L, L, L, L, L, L, L, L, L, L, L, L, L, // small letters
    L, L, L, L, L, L, L, L, L, L, L, P, P, P, P, P,
};

static bool is_of(char c, unsigned kind) {
    return (kinds[(unsigned char)c] & kind) != 0;
}

static bool damaged(plain_xml *xml) {
    return import_refuse(xml->book, "its XML is damaged");
}

static bool is_stopped(const plain_xml *xml) {
    return xml->book->why || xml->book->no_memory;
}

// ---- characters --------------------------------------------------------------------------

// "#65;" or "#x41;" behind an ampersand, as UTF-8 at *TO. Returns what follows, NULL where it is none.
static const char *take_number(const char *from, char **to) {
    const bool is_hex = from[1] == 'x';
    const char *const digits = from + 1 + is_hex;
    char *end;
    if (digits[strspn(digits, is_hex ? "0123456789abcdefABCDEF" : "0123456789")] != ';' || *digits == ';')
        return NULL;
    const unsigned long code = strtoul(digits, &end, is_hex ? 16 : 10);
    if ((code < 0x20 && code != '\t' && code != '\n' && code != '\r') || (code >= 0xD800 && code < 0xE000) ||
        code == 0xFFFE || code == 0xFFFF || code > 0x10FFFF)
        return NULL;
    const unsigned more = code < 0x80 ? 0 : code < 0x800 ? 1 : code < 0x10000 ? 2 : 3;
    static const unsigned char firsts[] = {0, 0xC0, 0xE0, 0xF0};
    *(*to)++ = (char)(firsts[more] | (code >> (6 * more)));
    for (unsigned i = more; i-- > 0;)
        *(*to)++ = (char)(0x80 | ((code >> (6 * i)) & 0x3F));
    return end + 1;
}

// What an ampersand at FROM stands for.
static const char *take_entity(const char *from, char **to) {
    static const struct {
        const char *name;
        char is;
    } entities[] = {{"lt;", '<'}, {"gt;", '>'}, {"amp;", '&'}, {"quot;", '"'}, {"apos;", '\''}};
    if (from[1] == '#')
        return take_number(from + 1, to);
    for (size_t i = 0; i < sizeof entities / sizeof entities[0]; i++)
        if (strncmp(from + 1, entities[i].name, strlen(entities[i].name)) == 0) {
            *(*to)++ = entities[i].is;
            return from + 1 + strlen(entities[i].name);
        }
    return NULL;
}

typedef enum text_is { IS_TEXT, IS_VALUE, IS_RAW } text_is;

// Copies what is no plain character from FROM to *TO. Returns what follows, NULL where it is not allowed.
static const char *take_special(const char *from, const char *end, text_is is, char **to) {
    if (is_of(*from, BLANK)) { // line ends are one character, and in a value blanks: 2.11, 3.3.3
        const bool is_both = from[0] == '\r' && from[1] == '\n';
        *(*to)++ = is == IS_VALUE ? ' ' : *from == '\r' ? '\n' : *from;
        return from + 1 + is_both;
    }
    if (*from == '&' && is != IS_RAW)
        return take_entity(from, to);
    if (*from == ']' ? is == IS_TEXT && end - from > 2 && memcmp(from, "]]>", 3) == 0
                     : (unsigned char)*from < 0x80 && (is != IS_RAW || !strchr("&<", *from) || *from == '\0'))
        return NULL;
    const size_t length = sm_utf8_length(from, (size_t)(end - from));
    if (length == 0 || (length == 3 && memcmp(from, "\xEF\xBF", 2) == 0 && (unsigned char)from[2] > 0xBD))
        return NULL; // 2.2: U+FFFE and U+FFFF are none
    for (size_t i = 0; i < length; i++)
        *(*to)++ = *from++;
    return from;
}

// What LENGTH bytes at TEXT stand for, in their place. False: something in them is not allowed.
static bool decode(char *text, size_t *length, text_is is) {
    const char *from = text, *const end = text + *length;
    while (from < end && is_of(*from, PLAIN))
        from++;
    char *to = text + (from - text);
    while (from < end)
        if (is_of(*from, PLAIN))
            *to++ = *from++;
        else if (!(from = take_special(from, end, is, &to)) || from > end)
            return false;
    *length = (size_t)(to - text);
    return true;
}

static bool is_blank(const char *text, size_t length) {
    while (length > 0 && is_of(*text, BLANK)) {
        text++;
        length--;
    }
    return length == 0;
}

static char *skip(char *at, unsigned kind) {
    while (is_of(*at, kind))
        at++;
    return at;
}

// ---- tags ------------------------------------------------------------------------------------

// The attributes from AT on, to the NUL at END, into LIST with a NULL behind them.
static bool read_attributes(char *at, const char *end, const char *list[2 * PLAIN_ATTRIBUTES_MAX + 1]) {
    size_t count = 0;
    for (char *next = skip(at, BLANK); next < end; next = skip(at, BLANK)) {
        char *const name_end = skip(next, NAME), *const sign = skip(name_end, BLANK);
        if (next == at || !is_of(*next, NAME_START) || *sign != '=' || count == PLAIN_ATTRIBUTES_MAX)
            return false;
        char *const quote = skip(sign + 1, BLANK);
        char *const close = *quote == '"' || *quote == '\'' ? strchr(quote + 1, *quote) : NULL;
        size_t length = close ? (size_t)(close - quote) - 1 : 0;
        *name_end = '\0';
        for (size_t i = 0; i < count; i++) // 3.1: none twice
            if (list[2 * i][0] == next[0] && strcmp(list[2 * i], next) == 0)
                return false;
        if (!close)
            return false;
        *close = '\0';
        if (!decode(quote + 1, &length, IS_VALUE))
            return false;
        quote[1 + length] = '\0';
        list[2 * count] = next;
        list[2 * count++ + 1] = quote + 1;
        at = close + 1;
    }
    list[2 * count] = NULL;
    return true;
}

static bool close_element(plain_xml *xml, const char *name) {
    if (xml->depth == 0 || strcmp(xml->names[xml->depth - 1], name) != 0)
        return damaged(xml);
    xml->depth--;
    xml->end(xml->context, name);
    return true;
}

// The tag from AT (behind its '<') to the NUL at END.
static bool take_end_tag(plain_xml *xml, char *at, const char *end) {
    char *const name_end = skip(at, NAME);
    if (skip(name_end, BLANK) != end)
        return damaged(xml);
    *name_end = '\0';
    return close_element(xml, at);
}

static bool take_start_tag(plain_xml *xml, char *at, char *end) {
    const char *attributes[2 * PLAIN_ATTRIBUTES_MAX + 1];
    const bool is_empty = end > at && end[-1] == '/';
    char *const name_end = skip(at, NAME);
    const size_t length = (size_t)(name_end - at);
    end -= is_empty;
    *end = '\0';
    if (!is_of(*at, NAME_START) || length >= PLAIN_NAME_BYTES || (xml->depth == 0 && xml->has_root))
        return damaged(xml);
    const char kept = *name_end;
    if ((kept != '\0' && !is_of(kept, BLANK)) || !read_attributes(name_end, end, attributes))
        return damaged(xml);
    *name_end = '\0';
    xml->has_root = true;
    xml->begin(xml->context, at, attributes);
    if (is_stopped(xml))
        return false;
    if (xml->depth == IMPORT_DEPTH_MAX)
        return damaged(xml);
    memcpy(xml->names[xml->depth++], at, length + 1);
    return !is_empty || close_element(xml, at);
}

// The '>' of the tag at AT, none in a value; NULL: not among what is here.
static char *tag_end(char *at, const char *end) {
    for (char quote = '\0'; at < end; at++) {
        if (quote == '\0' && *at == '>')
            return at;
        if (quote == '\0' && (*at == '"' || *at == '\''))
            quote = *at;
        else if (*at == quote)
            quote = '\0';
    }
    return NULL;
}

// ---- pieces ---------------------------------------------------------------------------------

static bool give_text(plain_xml *xml, char *text, size_t length, text_is is) {
    if (!decode(text, &length, is) || (xml->depth == 0 && !is_blank(text, length)))
        return damaged(xml);
    if (xml->depth > 0)
        xml->text(xml->context, text, (int)length);
    return true;
}

// Behind "<?": a name other than xml, a blank, anything.
static bool take_instruction(plain_xml *xml, char *text, size_t length) {
    const char *const name_end = skip(text, NAME);
    const size_t name = (size_t)(name_end - text);
    const bool is_good = is_of(*text, NAME_START) && (name == length || is_of(*name_end, BLANK)) &&
                         (name != 3 || strncasecmp(text, "xml", 3) != 0);
    return (is_good && decode(text, &length, IS_RAW)) || damaged(xml);
}

static bool take_comment(plain_xml *xml, char *text, size_t length) {
    const char *const dashes = memmem(text, length, "--", 2);
    const bool is_good = !dashes && (length == 0 || text[length - 1] != '-');
    return (is_good && decode(text, &length, IS_RAW)) || damaged(xml);
}

static bool take_raw(plain_xml *xml, char *text, size_t length) {
    return xml->depth > 0 ? give_text(xml, text, length, IS_RAW) : damaged(xml);
}

// What is no tag: how it begins and ends.
static const struct {
    const char *begin, *end;
    bool (*take)(plain_xml *xml, char *text, size_t length);
} forms[] = {{"<?", "?>", take_instruction}, {"<!--", "-->", take_comment}, {"<![CDATA[", "]]>", take_raw}};

// The tag at AT. Returns its end; NULL where it is not whole.
static char *take_tag(plain_xml *xml, char *at, const char *end) {
    char *const close = tag_end(at, end);
    if (!close)
        return NULL;
    *close = '\0';
    if (at[1] == '/')
        take_end_tag(xml, at + 2, close);
    else
        take_start_tag(xml, at + 1, close);
    return close + 1;
}

static char *take_markup(plain_xml *xml, char *at, const char *end) {
    const size_t left = (size_t)(end - at);
    if (left > 1 && at[1] != '?' && at[1] != '!')
        return take_tag(xml, at, end);
    for (size_t i = 0; i < sizeof forms / sizeof forms[0]; i++) {
        const size_t begin = strlen(forms[i].begin), stop = strlen(forms[i].end);
        if (left < begin || memcmp(at, forms[i].begin, begin) != 0)
            continue;
        char *const close = memmem(at + begin, left - begin, forms[i].end, stop);
        if (close)
            forms[i].take(xml, at + begin, (size_t)(close - at) - begin);
        return close ? close + stop : NULL;
    }
    if (left >= strlen("<!DOCTYPE"))
        import_refuse(xml->book, memcmp(at, "<!DOCTYPE", 9) == 0
                                     ? "its XML declares a document type, which no spreadsheet does"
                                     : "its XML is damaged");
    return NULL;
}

static char *take_piece(plain_xml *xml, char *at, char *end, bool is_last) {
    if (*at == '<')
        return take_markup(xml, at, end);
    char *const next = memchr(at, '<', (size_t)(end - at));
    char *const stop = next ? next : is_last ? end : NULL;
    if (!stop || !give_text(xml, at, (size_t)(stop - at), IS_TEXT))
        return NULL;
    return stop;
}

size_t plain_xml_take(plain_xml *xml, char *bytes, size_t length, bool is_last) {
    char *at = bytes, *const end = bytes + length;
    *end = '\0';
    while (at < end && !is_stopped(xml)) {
        char *const next = take_piece(xml, at, end, is_last);
        if (!next)
            break;
        at = next;
    }
    if (is_last && !is_stopped(xml) && (at < end || xml->depth > 0 || !xml->has_root))
        damaged(xml);
    return (size_t)(at - bytes);
}

// ---- the beginning ------------------------------------------------------------------------------

// Version 1.0, UTF-8 where an encoding is told, and whether it stands alone: 2.8.
static bool is_plain_declaration(const char *const *list) {
    static const char *const forms_of[][2] = {
        {"version", "1.0"}, {"encoding", "UTF-8"}, {"standalone", "yes"}, {"standalone", "no"}};
    size_t at = 0;
    for (size_t i = 0; i < sizeof forms_of / sizeof forms_of[0] && list[at]; i++)
        if (strcmp(list[at], forms_of[i][0]) == 0 &&
            (i == 1 ? strcasecmp : strcmp)(list[at + 1], forms_of[i][1]) == 0)
            at += 2;
    return at > 0 && !list[at] && strcmp(list[0], "version") == 0;
}

size_t plain_xml_start(const char *bytes, size_t length) {
    static const char mark[] = "\xEF\xBB\xBF", open[] = "<?xml";
    const char *list[2 * PLAIN_ATTRIBUTES_MAX + 1];
    char inside[160];
    const size_t start = length >= 3 && memcmp(bytes, mark, 3) == 0 ? 3 : 0;
    bytes += start;
    length -= start;
    if (length < 8 || bytes[0] != '<' || bytes[1] == '\0')
        return SIZE_MAX;
    if (memcmp(bytes, open, 5) != 0)
        return start;
    const char *const close = memmem(bytes, length, "?>", 2);
    const size_t bytes_inside = close ? (size_t)(close - bytes) - 5 : sizeof inside;
    if (bytes_inside >= sizeof inside || memchr(bytes, '&', bytes_inside))
        return SIZE_MAX;
    memcpy(inside, bytes + 5, bytes_inside);
    inside[bytes_inside] = '\0';
    if (strlen(inside) != bytes_inside || !read_attributes(inside, inside + bytes_inside, list) ||
        !is_plain_declaration(list))
        return SIZE_MAX;
    return start + bytes_inside + 7;
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The parts of a spreadsheet's archive, unpacked piece by piece into the XML reader, so that no part is in memory whole and one that
// unpacks without end is left where the limit is.
#include "import/zip.h"

#include "import/plain_xml.h"

#include "slowmatch/import.h"

#include <expat.h>
#include <stdlib.h>
#include <string.h>
#include <zip.h>

typedef struct reading {
    XML_Parser parser; // NULL: plain
    plain_xml plain;
    const import_xml *xml;
    import_zip *zip;
    import_book *book;
    unsigned depth;
} reading;

static const char *local_name(const char *name) {
    const char *local = name;
    for (const char *at = name; *at != '\0'; at++)
        if (*at == ':')
            local = at + 1;
    return local;
}

const char *import_attribute(const char **attributes, const char *name) {
    for (size_t i = 0; attributes[i]; i += 2)
        if (strcmp(attributes[i], name) == 0)
            return attributes[i + 1];
    for (size_t i = 0; attributes[i]; i += 2)
        if (strcmp(local_name(attributes[i]), name) == 0)
            return attributes[i + 1];
    return NULL;
}

static void stop_where_refused(const reading *r) {
    if (r->parser && (r->book->why || r->book->no_memory))
        XML_StopParser(r->parser, XML_FALSE);
}

static void XMLCALL begin_element(void *context, const char *name, const char **attributes) {
    reading *const r = context;
    if (++r->depth > IMPORT_DEPTH_MAX)
        import_refuse(r->book, "its XML is nested deeper than any spreadsheet's");
    else
        r->xml->begin(r->xml->context, local_name(name), attributes);
    stop_where_refused(r);
}

static void XMLCALL end_element(void *context, const char *name) {
    reading *const r = context;
    r->depth--;
    r->xml->end(r->xml->context, local_name(name));
    stop_where_refused(r);
}

static void XMLCALL take_text(void *context, const char *text, int length) {
    const reading *const r = context;
    r->xml->text(r->xml->context, text, (size_t)length);
    stop_where_refused(r);
}

// No spreadsheet declares entities; a bomb of them does.
static void XMLCALL refuse_doctype(void *context, const char *name, const char *system, const char *public,
                                   int has_subset) {
    reading *const r = context;
    (void)name, (void)system, (void)public, (void)has_subset;
    import_refuse(r->book, "its XML declares a document type, which no spreadsheet does");
    stop_where_refused(r);
}

static bool make_parser(reading *r) {
    r->parser = XML_ParserCreate(NULL);
    if (!r->parser) {
        r->book->no_memory = true;
        return false;
    }
    XML_SetUserData(r->parser, r);
    XML_SetElementHandler(r->parser, begin_element, end_element);
    XML_SetCharacterDataHandler(r->parser, take_text);
    XML_SetStartDoctypeDeclHandler(r->parser, refuse_doctype);
    return true;
}

// Takes what is whole of LENGTH bytes. Returns how many it took.
static size_t take(reading *r, char *bytes, size_t length, bool is_first, bool is_last) {
    const size_t start = is_first ? plain_xml_start(bytes, length) : 0;
    if (start == SIZE_MAX && !make_parser(r))
        return 0;
    if (!r->parser)
        return start + plain_xml_take(&r->plain, bytes + start, length - start, is_last);
    if (XML_Parse(r->parser, bytes, (int)length, is_last) != XML_STATUS_OK)
        import_refuse(r->book, "its XML is damaged");
    return length;
}

// Only a tag or a text that is not whole yet is kept for the next round.
static void feed(reading *r, zip_file_t *part) {
    enum { FIRST = 64 * 1024, MOST = 1024 * 1024 };
    size_t capacity = FIRST, kept = 0;
    char *bytes = malloc(capacity + 1);
    for (bool is_first = true, is_last = false; bytes && !is_last && !r->book->why && !r->book->no_memory;
         is_first = false) {
        const zip_int64_t got = zip_fread(part, bytes + kept, capacity - kept);
        r->zip->unpacked += got > 0 ? (uint64_t)got : 0;
        if (got < 0 || r->zip->unpacked > IMPORT_UNPACKED_MAX) {
            import_refuse(r->book, got < 0 ? "its archive is damaged" : "it unpacks to more than 256 MB");
            break;
        }
        is_last = got == 0;
        kept += (size_t)got;
        const size_t taken = take(r, bytes, kept, is_first, is_last);
        kept -= taken;
        memmove(bytes, bytes + taken, kept);
        if (kept == MOST)
            import_refuse(r->book, "its XML has a tag or a text of more than 1 MB, which no spreadsheet has");
        if (kept == capacity && kept < MOST) {
            capacity *= 2;
            char *const wider = realloc(bytes, capacity + 1);
            r->book->no_memory = !wider;
            bytes = wider ? wider : bytes;
        }
    }
    r->book->no_memory = r->book->no_memory || !bytes;
    free(bytes);
}

bool import_part_read(import_zip *zip, const char *name, const import_xml *xml) {
    zip_file_t *const part = zip_fopen(zip->archive, name, ZIP_FL_NOCASE);
    if (!part)
        return false;
    reading r = {.xml = xml, .zip = zip, .book = zip->book};
    r.plain = (plain_xml){
        .book = zip->book, .context = &r, .begin = begin_element, .end = end_element, .text = take_text};
    feed(&r, part);
    if (r.parser)
        XML_ParserFree(r.parser);
    zip_fclose(part);
    return true;
}

void sm_import_libraries(sm_text *out) {
    sm_text_printf(out, "libzip %s, %s", zip_libzip_version(), XML_ExpatVersion());
}

// SPDX-License-Identifier: GPL-3.0-or-later
// The parts of a spreadsheet's archive, unpacked piece by piece into the XML reader, so that no part is in memory whole and one that
// unpacks without end is left where the limit is.
#include "import/zip.h"

#include <expat.h>
#include <string.h>
#include <zip.h>

typedef struct reading {
    XML_Parser parser;
    const import_xml *xml;
    import_zip *zip;
    import_book *book;
    unsigned depth;
} reading;

static const char *local_name(const char *name) {
    const char *const colon = strrchr(name, ':');
    return colon ? colon + 1 : name;
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
    if (r->book->why || r->book->no_memory)
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

static bool feed(reading *r, zip_file_t *part) {
    enum { CHUNK = 64 * 1024 };
    for (;;) {
        void *const room = XML_GetBuffer(r->parser, CHUNK);
        const zip_int64_t got = room ? zip_fread(part, room, CHUNK) : 0;
        if (!room)
            r->book->no_memory = true;
        if (!room || got < 0)
            return import_refuse(r->book, "its archive is damaged");
        r->zip->unpacked += (uint64_t)got;
        if (r->zip->unpacked > IMPORT_UNPACKED_MAX)
            return import_refuse(r->book, "it unpacks to more than 256 MB");
        if (XML_ParseBuffer(r->parser, (int)got, got == 0) != XML_STATUS_OK)
            return import_refuse(r->book, "its XML is damaged");
        if (got == 0)
            return true;
    }
}

bool import_part_read(import_zip *zip, const char *name, const import_xml *xml) {
    zip_file_t *const part = zip_fopen(zip->archive, name, ZIP_FL_NOCASE);
    if (!part)
        return false;
    reading r = {.parser = XML_ParserCreate(NULL), .xml = xml, .zip = zip, .book = zip->book};
    if (!r.parser) {
        zip->book->no_memory = true;
    } else {
        XML_SetUserData(r.parser, &r);
        XML_SetElementHandler(r.parser, begin_element, end_element);
        XML_SetCharacterDataHandler(r.parser, take_text);
        XML_SetStartDoctypeDeclHandler(r.parser, refuse_doctype);
        feed(&r, part);
        XML_ParserFree(r.parser);
    }
    zip_fclose(part);
    return true;
}

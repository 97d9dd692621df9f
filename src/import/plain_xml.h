// SPDX-License-Identifier: GPL-3.0-or-later
// XML as spreadsheets write it: UTF-8, no document type, names in ASCII. Read where it stands in its buffer, without a table of names, with
// a quarter of the instructions that expat needs. It takes nothing that expat would refuse; what it does not take is refused, but for
// other encodings, which are seen at the beginning and left to expat.
#ifndef SM_IMPORT_PLAIN_XML_H
#define SM_IMPORT_PLAIN_XML_H

#include "import/sheet.h"

enum { PLAIN_NAME_BYTES = 64, PLAIN_ATTRIBUTES_MAX = 128 };

typedef struct plain_xml {
    import_book *book; // refused where the XML is damaged; nothing is taken any more once it is refused
    void *context;     // of the three
    void (*begin)(void *context, const char *name,
                  const char **attributes); // as expat's: names and values in turn, then NULL
    void (*end)(void *context, const char *name);
    void (*text)(void *context, const char *text, int length);
    char names[IMPORT_DEPTH_MAX][PLAIN_NAME_BYTES]; // of the elements that are open
    unsigned depth;
    bool has_root;
} plain_xml;

// Where the first element or text begins of a part that begins with LENGTH BYTES: behind the byte order mark and the declaration. SIZE_MAX:
// it is of an encoding, or has a declaration, that only expat reads.
size_t plain_xml_start(const char *bytes, size_t length);

// Takes all that is whole of LENGTH bytes, and changes them; a NUL may be written at BYTES[LENGTH]. Returns how many it took.
size_t plain_xml_take(plain_xml *xml, char *bytes, size_t length, bool is_last);

#endif

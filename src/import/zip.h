// SPDX-License-Identifier: GPL-3.0-or-later
// The XML parts of a spreadsheet's archive.
#ifndef SM_IMPORT_ZIP_H
#define SM_IMPORT_ZIP_H

#include "import/sheet.h"

// Who reads the elements of a part; names come without their prefix.
typedef struct import_xml {
    void *context;
    void (*begin)(void *context, const char *name, const char **attributes);
    void (*end)(void *context, const char *name);
    void (*text)(void *context, const char *text, size_t length);
} import_xml;

typedef struct import_zip {
    struct zip *archive;
    import_book *book;
    uint64_t unpacked; // bytes so far
} import_zip;

// Reads the part NAME; what is wrong goes to the book. False: there is no such part.
bool import_part_read(import_zip *zip, const char *name, const import_xml *xml);
// The value of the attribute NAME, whatever its prefix; NULL where there is none.
const char *import_attribute(const char **attributes, const char *name);

// ECMA-376 (Office Open XML) part 1, and OASIS OpenDocument 1.2: what cells hold, not what they show.
void import_xlsx_read(import_zip *zip);
void import_ods_read(import_zip *zip);

#endif

// SPDX-License-Identifier: GPL-3.0-or-later
#include "import/zip.h"

#include <zip.h>

static void read_archive(import_zip *zip) {
    if (zip_name_locate(zip->archive, "xl/workbook.xml", ZIP_FL_NOCASE) >= 0)
        import_xlsx_read(zip);
    else if (zip_name_locate(zip->archive, "content.xml", 0) >= 0)
        import_ods_read(zip);
    else
        import_refuse(zip->book, "it is an archive, and holds neither an .xlsx nor an .ods spreadsheet");
}

void import_zip_read(import_book *book, const char *bytes, size_t length) {
    zip_error_t error;
    zip_error_init(&error);
    zip_source_t *const source = zip_source_buffer_create(bytes, length, 0, &error);
    zip_t *const archive = source ? zip_open_from_source(source, ZIP_RDONLY, &error) : NULL;
    if (archive) {
        import_zip zip = {.archive = archive, .book = book};
        read_archive(&zip);
        zip_discard(archive);
    } else {
        zip_source_free(source);
        import_refuse(book, "its archive is damaged");
    }
    zip_error_fini(&error);
}

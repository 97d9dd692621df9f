// SPDX-License-Identifier: GPL-3.0-or-later
// From the bytes of a file to what is written of it.
#include "slowmatch/import.h"

#include "import/decoded_text.h"
#include "import/work.h"
#include "import/write.h"

#include <stdlib.h>
#include <string.h>

// ---- the file ------------------------------------------------------------------------------

static void refuse_file(import_work *work, const char *why) {
    import_tell(work, SM_ERROR, 0, UINT32_MAX, "import-file", "this cannot be imported: %s", why);
}

// A text file into the book. False: told or asked.
static bool read_text(import_work *work, import_book *book, const sm_import_source *source) {
    import_text text;
    if (import_text_read(source->bytes, source->length, &work->map, work->arena, &text) != SM_OK) {
        work->no_memory = true;
        return false;
    }
    if (text.why) {
        import_refuse(book, text.why);
        return false;
    }
    const import_answer answers[] = {{NULL, "comma"}, {NULL, "semicolon"}, {NULL, "tab"}, {NULL, "bar"}};
    if (text.separator == '\0') {
        import_ask(work, 1, UINT32_MAX, IMPORT_KEY_SEPARATOR, answers, 4, "what stands between the cells?");
        return false;
    }
    const char *const name = text.separator == '\t'  ? "tabs"
                             : text.separator == ';' ? "semicolons"
                             : text.separator == '|' ? "bars"
                                                     : "commas";
    import_separated_read(book, text.bytes, text.length, text.separator);
    if (!book->why)
        import_tell(work, SM_NOTE, 0, UINT32_MAX, "import-guess", "read as %s %s, cells between %s %s",
                    text.encoding, text.encoding_known, name, text.separator_known);
    return true;
}

// The only sheet with headings of a cue list; NULL: there is none, or more.
static const import_sheet *sheet_with_header(import_work *work, const import_book *book) {
    const import_sheet *only = NULL;
    for (uint32_t i = 0; i < book->count; i++) {
        if (book->sheets[i].count < 2 || !import_sheet_has_header(work, &book->sheets[i]))
            continue;
        if (only)
            return NULL;
        only = &book->sheets[i];
    }
    if (only)
        import_tell(work, SM_NOTE, 0, UINT32_MAX, "import-guess",
                    "sheet \"%s\" is taken, the only one with headings of a cue list", only->name);
    return only;
}

// The sheet that is meant. NULL: asked.
static const import_sheet *choose_sheet(import_work *work, const import_book *book) {
    const char *const told = import_map_value(&work->map, IMPORT_KEY_SHEET, NULL);
    const import_sheet *only = NULL;
    import_answer answers[8];
    size_t count = 0;
    for (uint32_t i = 0; i < book->count; i++) {
        const import_sheet *const sheet = &book->sheets[i];
        if (told && strcmp(told, sheet->name) == 0)
            return sheet;
        if (sheet->count < 2)
            continue;
        only = sheet;
        if (count < 8)
            answers[count++] = (import_answer){.value = sheet->name};
    }
    if (told && book->count > 0 && book->sheets[0].name[0] != '\0') {
        import_tell(work, SM_ERROR, 0, UINT32_MAX, "import-map", "there is no sheet \"%s\"", told);
        return NULL;
    }
    if (count > 1) {
        only = sheet_with_header(work, book);
        if (!only)
            import_ask(work, 0, UINT32_MAX, IMPORT_KEY_SHEET, answers, count,
                       "several sheets hold rows: which is the cue list?");
    } else if (count == 0) {
        import_tell(work, SM_ERROR, 0, UINT32_MAX, "import-empty", "there is no table of two rows in it");
    }
    return only;
}

static sm_result read_file(import_work *work, const sm_import_source *source) {
    import_book book = {.arena = work->arena, .progress = source->progress};
    if (source->length > IMPORT_FILE_MAX)
        import_refuse(&book, "it has more than 64 MB");
    else if (source->length >= 2 && memcmp(source->bytes, "PK", 2) == 0)
        import_zip_read(&book, source->bytes, source->length);
    else if (source->length >= 4 && memcmp(source->bytes, "\xD0\xCF\x11\xE0", 4) == 0)
        import_refuse(&book, "it is a spreadsheet of the old kind (.xls); save it as .xlsx, .ods or CSV");
    else
        read_text(work, &book, source);
    if (work->no_memory || book.no_memory)
        return SM_NO_MEMORY;
    if (book.why) {
        refuse_file(work, book.why);
        return SM_UNREADABLE;
    }
    if (work->questions == 0)
        work->sheet = choose_sheet(work, &book);
    return SM_OK;
}

// ---- the import --------------------------------------------------------------------------------

static sm_import *create(void) {
    sm_import *const made = calloc(1, sizeof *made);
    return made;
}

void sm_import_destroy(sm_import *import) {
    if (!import)
        return;
    for (size_t i = 0; i < SM_IMPORT_FILES; i++)
        sm_text_deinit(&import->files[i].text);
    sm_text_deinit(&import->map);
    free(import);
}

static void add_file(sm_import *to, const char *name, const sm_text *text) {
    to->files[to->file_count++] = (sm_import_file){.name = name, .text = *text};
}

static void write_files(const import_work *work, const sm_import_source *source, sm_import *out) {
    sm_text cues = {0}, report = {0};
    import_new made = {0};
    import_write_cues(work, &cues);
    import_write_report(work, &report);
    add_file(out, work->show ? "cues-imported.csv" : "cues.csv", &cues);
    add_file(out, "import-report.csv", &report);
    if (work->show)
        return;
    import_write_new(work, source->title, &made);
    add_file(out, "show.ini", &made.settings);
    add_file(out, "modules.csv", &made.modules);
    add_file(out, "rails.csv", &made.rails);
    add_file(out, "effects.csv", &made.effects);
    if (made.fixtures.length == 0)
        return;
    add_file(out, "profiles.csv", &made.profiles);
    add_file(out, "fixtures.csv", &made.fixtures);
}

static sm_result read_map(import_work *work, const sm_import_source *source) {
    import_map_init(&work->map);
    if (!source->map)
        return SM_OK;
    return import_map_read(source->map, source->map_bytes, source->map_length, work->arena, work->findings,
                           &work->map);
}

static sm_result run(import_work *work, const sm_import_source *source) {
    sm_result result = read_map(work, source);
    if (result == SM_OK)
        result = read_file(work, source);
    if (result != SM_OK || !work->sheet)
        return result;
    work->results = sm_arena_alloc(work->arena, work->sheet->count * sizeof *work->results);
    if (!work->results)
        return SM_NO_MEMORY;
    if (import_headings_read(work)) {
        import_spans_fill(work);
        work->has_times = import_formats_read(work); // what is open of them keeps no other question back
        import_rows_read(work);
    }
    return work->no_memory ? SM_NO_MEMORY : SM_OK;
}

sm_result sm_import_create(const sm_import_source *source, sm_findings *findings, sm_import **out) {
    const size_t errors_before = sm_findings_count_of(findings, SM_ERROR);
    sm_import *const made = create();
    import_work *const work = calloc(1, sizeof *work);
    sm_arena *const arena = sm_arena_create();
    sm_result result = SM_NO_MEMORY;
    if (made && work && arena) {
        *work = (import_work){.file = source->file,
                              .show = source->show,
                              .arena = arena,
                              .findings = findings,
                              .progress = source->progress};
        result = run(work, source);
    }
    if (result == SM_OK) {
        const bool has_errors = sm_findings_count_of(findings, SM_ERROR) > errors_before;
        made->questions = work->questions;
        made->cues = work->cue_count;
        made->rows = work->sheet ? work->sheet->count : 0;
        made->left_out = made->rows - made->cues;
        import_write_map(work, &made->map);
        if (!has_errors)
            write_files(work, source, made);
        result = has_errors ? SM_INVALID : SM_OK;
        for (size_t i = 0; i < made->file_count; i++)
            if (made->files[i].text.failed || made->map.failed)
                result = SM_NO_MEMORY;
    }
    sm_arena_destroy(arena);
    free(work);
    if (result == SM_OK || result == SM_INVALID)
        *out = made;
    else
        sm_import_destroy(made);
    return result;
}

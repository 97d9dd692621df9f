// SPDX-License-Identifier: GPL-3.0-or-later
// Cue lists as crews keep them, drawn from the demo show in every form and notation, are imported by the lines that the import itself
// prints and nothing else. What comes out is loaded, and its events held against the demo's. The lists are written from the loaded demo
// by this file alone; times are computed here.
#include "support/cue_list.h"
#include "support/show_folder.h"

#include "slowmatch/import.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <csv.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])
#define DEMO "demo-shows/lantern-quay"

// ---- events --------------------------------------------------------------------------------

// One line an event; of a fixture one a channel. Sorted, so that the order of a list's rows does not count.
typedef struct events {
    char **lines;
    size_t count, capacity;
} events;

static void add_event(events *to, const sm_text *line) {
    if (to->count == to->capacity) {
        to->capacity = to->capacity > 0 ? to->capacity * 2 : 1024;
        to->lines = realloc(to->lines, to->capacity * sizeof *to->lines);
        assert_non_null(to->lines);
    }
    to->lines[to->count++] = strdup(sm_text_get(line));
}

static int compare_lines(const void *a, const void *b) {
    return strcmp(*(char *const *)a, *(char *const *)b);
}

static void events_deinit(events *these) {
    for (size_t i = 0; i < these->count; i++)
        free(these->lines[i]);
    free(these->lines);
}

// D: what the times have been through; NULL: nothing.
static sm_us seen_us(const sm_show *show, const sm_cue *cue, const drawing *d) {
    const sm_us lead = d && d->is_fire ? list_lead_of(show, cue) : 0;
    return d ? list_written_us(d, cue->time_us - lead) + lead : cue->time_us;
}

static events events_of(const sm_show *show, const drawing *d) {
    events found = {0};
    for (uint32_t i = 0; i < show->cue_count; i++) {
        const sm_cue *const cue = &show->cues[i];
        for (uint32_t k = 0; k < sm_cue_event_count(show, i); k++) {
            const sm_event *const event = &show->events[cue->first_event + k];
            sm_text line = {0};
            char slot[48];
            if (cue->kind == SM_CUE_FIRE) {
                const sm_firing *const firing = &show->firings[event->target];
                sm_text_printf(&line, "%012lld %s %s %lld", (long long)seen_us(show, cue, d),
                               sm_slot_format(show, firing->slot, slot), show->effects[firing->effect].name,
                               (long long)firing->lasts_us);
                add_event(&found, &line);
            }
            uint32_t count;
            const sm_level *const levels = sm_event_levels(show, cue->first_event + k, &count);
            for (uint32_t l = 0; l < count; l++) {
                sm_text_clear(&line);
                sm_text_printf(&line, "%012lld %s %u=%u fade %u lasts %u", (long long)seen_us(show, cue, d),
                               show->fixtures[event->target].name, levels[l].channel, levels[l].level,
                               (unsigned)cue->fade_us, (unsigned)cue->lasts_us);
                add_event(&found, &line);
            }
            sm_text_deinit(&line);
        }
    }
    qsort(found.lines, found.count, sizeof *found.lines, compare_lines);
    return found;
}

// ---- answers ---------------------------------------------------------------------------------------

static const char *const format_words[NOTATIONS] = {"seconds",  "seconds",    "milliseconds", "frames",
                                                    "days",     "units",      "m:s.f",        "h:m:s.f",
                                                    "s:frames", "m:s:frames", "h:m:s:frames", "h:m:s.f"};

// Whether the person who keeps the list would say so.
static bool is_right(const list *l, const char *key, const char *value) {
    char word[64];
    if (strcmp(key, "is") == 0)
        return strcmp(value, l->d.is_fire ? "fire" : "seen") == 0;
    if (strcmp(key, "rate") == 0)
        return strcmp(value, l->d.rate_word) == 0;
    // A program that knows no style for a stored time leaves its share of a day.
    if (strcmp(key, "format") == 0)
        return strcmp(value, format_words[l->d.notation]) == 0 ||
               (l->d.notation == STORED && strcmp(value, "days") == 0);
    if (strcmp(key, "form") == 0)
        return strcmp(value, l->d.form == MODULE_DASH_SLOT ? "module-slot" : "through-numbered") == 0;
    if (strcmp(key, "slots-per-module") == 0)
        return strcmp(value, "24") == 0;
    if (strcmp(key, "offset") == 0)
        return (strcmp(value, "0 s") == 0) != l->d.is_hour_one;
    if (strcmp(key, "separator") == 0)
        return strcmp(value, l->d.separator == ','    ? "comma"
                             : l->d.separator == ';'  ? "semicolon"
                             : l->d.separator == '\t' ? "tab"
                                                      : "bar") == 0;
    if (strcmp(key, "1") == 0 || strcmp(key, "2") == 0)
        return strcmp(value, *key == '1' ? "north" : "south") == 0;
    if (strcmp(key, l->headings[TIME]) == 0)
        return strcmp(value, l->d.is_fire ? "fire" : "seen") == 0;
    // An effect: by the letters and digits of the crew's text.
    for (size_t i = 0; i < LIST_CREW_NAMES; i++) {
        size_t length = 0;
        for (const char *at = list_crew_names[i][1]; *at != '\0'; at++)
            if (!strchr("=:;#[]\" ", *at) || (length > 0 && word[length - 1] != ' '))
                word[length++] = strchr("=:;#[]\"", *at) ? ' ' : *at;
        while (length > 0 && word[length - 1] == ' ')
            length--;
        word[length] = '\0';
        if (strcmp(word, key) == 0)
            return strcmp(value, list_crew_names[i][0]) == 0;
    }
    return false;
}

// The mapping file with the right ones of its open answers. Returns how many.
static unsigned answer(const list *l, const char *map, sm_text *out) {
    unsigned answers = 0;
    for (const char *at = map, *next; *at != '\0'; at = next) {
        next = at + strcspn(at, "\n");
        next += *next == '\n';
        char line[256], *equals;
        snprintf(line, sizeof line, "%.*s", (int)strcspn(at, "\n"), at);
        if (line[0] == ';' && (equals = strstr(line, " = "))) {
            *equals = '\0';
            const bool is = is_right(l, line + 1, equals + 3);
            *equals = ' ';
            answers += is;
            if (!is)
                continue;
        }
        sm_text_printf(out, "%s\n", line + (line[0] == ';'));
    }
    return answers;
}

// ---- held against the demo ----------------------------------------------------------------------------

static void describe(const drawing *d, uint64_t seed) {
    print_error("seed %llu: notation %d (rate %s, hour one %d), form %d, container %d (%s, mark %d, "
                "separator '%c'), fire %d, split %d, "
                "channels %d, title %d, sections %d, total %d, crew names %d, unknown heading %d\n",
                (unsigned long long)seed, d->notation, d->rate_word, d->is_hour_one, d->form, d->container,
                d->encoding, d->has_mark, d->separator, d->is_fire, d->is_split, d->has_channels,
                d->has_title, d->has_sections, d->has_total, d->has_crew_names, d->has_unknown_heading);
}

static void print_findings(const sm_findings *findings) {
    for (size_t i = 0; i < sm_findings_count(findings) && i < 30; i++) {
        sm_text text = {0};
        sm_finding_format(&text, NULL, sm_findings_at(findings, i));
        print_error("  %s\n", sm_text_get(&text));
        sm_text_deinit(&text);
    }
}

// The import with the lines it printed itself; *questions counts them.
static sm_import *import_list(const list *l, uint64_t seed, const char *bytes, size_t length,
                              unsigned *questions) {
    sm_text map = {0};
    for (int round = 0; round < 8; round++) {
        sm_import *made = NULL;
        sm_findings *const findings = sm_findings_create();
        char *const map_bytes = strdup(sm_text_get(&map));
        const sm_import_source source = {.file = "list",
                                         .bytes = bytes,
                                         .length = length,
                                         .map = map.length > 0 ? "map.ini" : NULL,
                                         .map_bytes = map_bytes,
                                         .map_length = map.length,
                                         .show = l->show};
        const sm_result result = sm_import_create(&source, findings, &made);
        free(map_bytes);
        sm_text answered = {0};
        const unsigned answers = result == SM_INVALID ? answer(l, sm_text_get(&made->map), &answered) : 0;
        if (result != SM_OK && answers == 0) {
            describe(&l->d, seed);
            print_findings(findings);
            fail_msg("nothing to answer: %s", sm_result_text(result));
        }
        sm_findings_destroy(findings);
        sm_text_deinit(&map);
        map = answered;
        if (result == SM_OK) {
            sm_text_deinit(&map);
            return made;
        }
        *questions += answers;
        sm_import_destroy(made);
    }
    describe(&l->d, seed);
    fail_msg("still open after eight rounds");
    return NULL;
}

static const show_folder *demo_copy(show_folder *folder) {
    static const char *const tables[] = {"show.ini",    "modules.csv",   "rails.csv",    "igniters.csv",
                                         "effects.csv", "profiles.csv",  "fixtures.csv", "groups.csv",
                                         "feeds.csv",   "positions.csv", "lines.csv"};
    *folder = show_folder_make();
    for (size_t i = 0; i < COUNT(tables); i++) {
        char *bytes, path[96];
        size_t length;
        snprintf(path, sizeof path, DEMO "/%s", tables[i]);
        assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
        show_folder_put(folder, tables[i], bytes);
        free(bytes);
    }
    return folder;
}

static void compare_events(const list *l, uint64_t seed, const show_folder *folder, const sm_import *import) {
    show_folder_put(folder, "cues.csv", sm_text_get(&import->files[0].text));
    sm_show *const got = show_folder_load(folder, SM_OK);
    events wanted = events_of(l->show, &l->d), found = events_of(got, NULL);
    bool is_same = wanted.count == found.count;
    for (size_t i = 0; i < wanted.count && i < found.count; i++) {
        // The stored time of a spreadsheet is a number of 53 bits: a microsecond's rounding may fall either way.
        const bool is_near =
            llabs(strtoll(wanted.lines[i], NULL, 10) - strtoll(found.lines[i], NULL, 10)) <= 1;
        if (is_near && strcmp(strchr(wanted.lines[i], ' '), strchr(found.lines[i], ' ')) == 0)
            continue;
        print_error("wanted %s\ngot    %s\n", wanted.lines[i], found.lines[i]);
        is_same = false;
        break;
    }
    if (!is_same) {
        describe(&l->d, seed);
        fail_msg("other events: %zu in place of %zu", found.count, wanted.count);
    }
    events_deinit(&wanted);
    events_deinit(&found);
    sm_show_destroy(got);
}

// ---- the report ------------------------------------------------------------------------------------------

typedef struct rebuild {
    const list *list;
    size_t record, cell, table_row, rows;
    uint64_t line;
} rebuild;

static void take_cell(void *bytes, size_t length, void *context) {
    rebuild *const r = context;
    const char *const text = bytes ? (const char *)bytes + sm_csv_guard(bytes, length) : "";
    if (r->record > 0 && r->cell == 0)
        r->table_row = strtoul(text, NULL, 10) - 1;
    if (r->record > 0 && r->cell >= 4) {
        const sheet_cell *const cell = &r->list->table.rows[r->table_row][r->cell - 4];
        const bool is_stored = cell->kind == 'd';
        if (!is_stored && strcmp(cell->text, text) != 0)
            fail_msg("row %zu cell %zu: \"%s\" in place of \"%s\"", r->table_row, r->cell - 4, text,
                     cell->text);
    }
    r->cell++;
}

static void end_record(int c, void *context) {
    rebuild *const r = context;
    (void)c;
    r->rows += r->record > 0;
    r->record++;
    r->cell = 0;
}

// From the report every row of the list can be built again.
static void rebuild_rows(const list *l, const sm_import *import) {
    struct csv_parser parser;
    rebuild r = {.list = l};
    const sm_text *const text = &import->files[1].text;
    assert_int_equal(csv_init(&parser, CSV_STRICT | CSV_STRICT_FINI | CSV_APPEND_NULL), 0);
    assert_int_equal(csv_parse(&parser, text->bytes, text->length, take_cell, end_record, &r), text->length);
    assert_int_equal(csv_fini(&parser, take_cell, end_record, &r), 0);
    csv_free(&parser);
    size_t filled = 0;
    for (size_t i = 0; i < l->table.count; i++) {
        bool has_text = false;
        for (size_t k = 0; k < l->table.columns; k++)
            has_text = has_text || l->table.rows[i][k].text[0] != '\0';
        filled += has_text;
    }
    assert_int_equal(r.rows, filled);
}

static void every_list_gives_the_demo_again(void **state) {
    (void)state;
    const char *const only = getenv("SEED");
    const uint64_t first = only ? strtoull(only, NULL, 10) : 1, count = only                       ? 1
                                                                        : getenv("SLOWMATCH_SOAK") ? 3000
                                                                                                   : 300;
    sm_show *show = NULL;
    sm_findings *const findings = sm_findings_create();
    assert_int_equal(sm_show_load(DEMO, NULL, findings, &show), SM_OK);
    show_folder folder;
    demo_copy(&folder);
    unsigned questions = 0;
    for (uint64_t seed = first; seed < first + count; seed++) {
        list l = {.show = show, .d = list_draw(seed)};
        size_t length;
        list_write(&l);
        char *const bytes = list_bytes(&l, &length);
        sm_import *const import = import_list(&l, seed, bytes, length, &questions);
        compare_events(&l, seed, &folder, import);
        // Lines of a text file are no rows where a cell holds several.
        if (l.d.container == XLSX || (l.d.container == CSV && l.d.between[0] != '\n'))
            rebuild_rows(&l, import);
        sm_import_destroy(import);
        free(bytes);
        sheet_table_deinit(&l.table);
    }
    print_message("%llu lists, %.1f answers each\n", (unsigned long long)count,
                  (double)questions / (double)count);
    show_folder_remove(&folder);
    sm_show_destroy(show);
    sm_findings_destroy(findings);
}

// ---- files that nobody here wrote (make soak) ----------------------------------------------------------------

// Two libraries of Python write the table from a CSV whose cells begin with their kind; a spreadsheet program turns each kind of file
// into the other.
static const char writer[] =
    "import csv, sys, xlsxwriter\n"
    "from odf.opendocument import OpenDocumentSpreadsheet\n"
    "from odf.table import Table, TableRow, TableCell\n"
    "from odf.text import P\n"
    "rows = [[(c[:1], c[1:]) for c in row] for row in csv.reader(open('kinds.csv', newline='', "
    "encoding='utf-8'))]\n"
    "def seconds(text):\n"
    "    h, m, s = text.split(':')\n"
    "    return int(h) * 3600 + int(m) * 60 + float(s)\n"
    "book = xlsxwriter.Workbook('python.xlsx', {'strings_to_formulas': False, 'strings_to_urls': False})\n"
    "sheet = book.add_worksheet('Cues')\n"
    "clock = book.add_format({'num_format': '[mm]:ss.0'})\n"
    "document = OpenDocumentSpreadsheet()\n"
    "table = Table(name='Cues')\n"
    "for r, row in enumerate(rows):\n"
    "    line = TableRow()\n"
    "    for c, (kind, text) in enumerate(row):\n"
    "        if not text:\n"
    "            line.addElement(TableCell())\n"
    "        elif kind == 'd':\n"
    "            sheet.write_number(r, c, seconds(text) / 86400, clock)\n"
    "            whole = int(seconds(text))\n"
    "            line.addElement(TableCell(valuetype='time', timevalue='PT%02dH%02dM%.6fS' % (whole // 3600, "
    "whole // 60 % 60, seconds(text) - whole // 60 * 60)))\n"
    "        elif kind == 'n':\n"
    "            sheet.write_number(r, c, float(text))\n"
    "            line.addElement(TableCell(valuetype='float', value=text))\n"
    "        else:\n"
    "            sheet.write_string(r, c, text)\n"
    "            cell = TableCell(valuetype='string')\n"
    "            for part in text.split('\\n'):\n"
    "                cell.addElement(P(text=part))\n"
    "            line.addElement(cell)\n"
    "    table.addElement(line)\n"
    "book.close()\n"
    "document.spreadsheet.addElement(table)\n"
    "document.save('python.ods')\n";

static void write_kinds(const list *l, const show_folder *folder) {
    sheet_table kinds = {.columns = l->table.columns};
    sm_text text = {0};
    for (size_t i = 0; i < l->table.count; i++) {
        sheet_cell *const row = sheet_table_add(&kinds);
        for (size_t k = 0; k < kinds.columns; k++)
            snprintf(row[k].text, SHEET_CELL_BYTES, "%c%.150s",
                     l->table.rows[i][k].kind ? l->table.rows[i][k].kind : 't', l->table.rows[i][k].text);
    }
    sheet_write_csv(&kinds, ',', "\n", &text);
    show_folder_put(folder, "kinds.csv", sm_text_get(&text));
    sm_text_deinit(&text);
    sheet_table_deinit(&kinds);
}

static void run_in(const show_folder *folder, const char *what) {
    char command[512];
    snprintf(command, sizeof command, "cd %s && HOME=%s %s >/dev/null 2>&1", folder->path, folder->path,
             what);
    if (system(command) != 0)
        fail_msg("%s", command);
}

static void files_that_nobody_here_wrote_give_the_demo_again(void **state) {
    (void)state;
    static const char *const files[] = {"python.xlsx", "python.ods", "office/python.ods", "back/python.xlsx"};
    if (!getenv("SLOWMATCH_SOAK"))
        skip();
    sm_show *show = NULL;
    sm_findings *const findings = sm_findings_create();
    assert_int_equal(sm_show_load(DEMO, NULL, findings, &show), SM_OK);
    show_folder folder, work = show_folder_make();
    demo_copy(&folder);
    show_folder_put(&work, "write.py", writer);
    unsigned questions = 0;
    for (uint64_t seed = 1; seed <= 12; seed++) {
        list l = {.show = show, .d = list_draw(seed)};
        l.d.container = seed % 2 ? XLSX : ODS;
        l.d.notation = (notation)(seed % NOTATIONS);
        list_write(&l);
        write_kinds(&l, &work);
        run_in(&work, "/usr/bin/python3 write.py");
        run_in(&work, "soffice --headless --convert-to ods --outdir office python.xlsx");
        run_in(&work, "soffice --headless --convert-to xlsx --outdir back python.ods");
        for (size_t i = 0; i < COUNT(files); i++) {
            char path[160], *bytes;
            size_t length;
            snprintf(path, sizeof path, "%s/%s", work.path, files[i]);
            assert_int_equal(sm_file_read(path, &bytes, &length), SM_OK);
            sm_import *const import = import_list(&l, seed, bytes, length, &questions);
            compare_events(&l, seed, &folder, import);
            sm_import_destroy(import);
            free(bytes);
        }
        sheet_table_deinit(&l.table);
    }
    run_in(&work, "rm -rf office back .config .cache");
    show_folder_remove(&work);
    show_folder_remove(&folder);
    sm_show_destroy(show);
    sm_findings_destroy(findings);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_list_gives_the_demo_again),
        cmocka_unit_test(files_that_nobody_here_wrote_give_the_demo_again),
    };
    return cmocka_run_group_tests_name("import exports", tests, NULL, NULL);
}

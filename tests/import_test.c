// SPDX-License-Identifier: GPL-3.0-or-later
// What the import asks, reports, refuses; its manual page; the command itself.
#include "support/manual_page.h"
#include "support/sheet_file.h"
#include "support/show_folder.h"

#include "slowmatch/import.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
// cmocka.h needs the four above.
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#define COUNT(array) (sizeof(array) / sizeof(array)[0])
#define DEMO "demo-shows/lantern-quay"

typedef struct outcome {
    sm_result result;
    sm_import *import;
    sm_text findings;
} outcome;

static outcome import_bytes(const char *bytes, size_t length, const char *map, const sm_show *show) {
    outcome got = {0};
    char *const map_bytes = map ? strdup(map) : NULL;
    sm_findings *const findings = sm_findings_create();
    const sm_import_source source = {.file = "list",
                                     .bytes = bytes,
                                     .length = length,
                                     .map = map ? "map.ini" : NULL,
                                     .map_bytes = map_bytes,
                                     .map_length = map ? strlen(map) : 0,
                                     .show = show,
                                     .title = "a new show"};
    got.result = sm_import_create(&source, findings, &got.import);
    sm_findings_sort(findings);
    for (size_t i = 0; i < sm_findings_count(findings); i++) {
        sm_finding_format(&got.findings, NULL, sm_findings_at(findings, i));
        sm_text_append(&got.findings, "\n", 1);
    }
    sm_findings_destroy(findings);
    free(map_bytes);
    return got;
}

static void forget(outcome *got) {
    sm_import_destroy(got->import);
    sm_text_deinit(&got->findings);
}

static sm_show *load_demo(void) {
    sm_show *show = NULL;
    sm_findings *const findings = sm_findings_create();
    assert_int_equal(sm_show_load(DEMO, NULL, findings, &show), SM_OK);
    sm_findings_destroy(findings);
    return show;
}

// ---- questions and reports ------------------------------------------------------------

typedef struct expectation {
    const char *list, *map;
    sm_result result;
    const char *says; // a part of the findings
    const char *cues; // a part of the cues
} expectation;

#define SEEN "[time]\nis = seen\n"
#define FIRE "[time]\nis = fire\n"

static const expectation expectations[] = {
    {"time,target,effect\n0:04.5,A-01,comet-red\n", NULL, SM_INVALID,
     "list:1:1: error: is \"time\" when it is seen or when it is fired? Add to MAP under [time]: is = seen "
     "or fire [import-question]",
     NULL},
    {"time,target,effect\n0:04.5,A-01,comet-red\n", SEEN, SM_OK, "", "\n0:04.500,A-01,comet-red,"},
    {"time,target,effect\n0:04.5,A-01,comet-red\n", FIRE, SM_OK, "",
     "\n0:04.700,A-01,comet-red,"}, // lead 0.2 s
    {"Time (ms),target,effect\n4500,A-01,comet-red\n", SEEN, SM_OK, "milliseconds, by the heading",
     "\n0:04.500,"},
    {"time,target,effect\n4,A-01,comet-red\n", SEEN, SM_INVALID, "format = seconds, milliseconds or frames",
     NULL},
    {"time,target,effect\n0:01:12,A-01,comet-red\n", SEEN, SM_INVALID, "format = h:m:s.f or m:s:frames",
     NULL},
    {"time,target,effect\n0:31:12,A-01,comet-red\n0:41:10,A-02,comet-red\n", SEEN, SM_INVALID,
     "read as m:s:frames, by the show's length", NULL},
    {"time,target,effect\n0:31:12,A-01,comet-red\n", SEEN, SM_INVALID,
     "how many make a second? Add to MAP under [time]: rate = 24, 25, 29.97 or 30", NULL},
    {"time,target,effect\n0:31:12,A-01,comet-red\n", SEEN "rate = 24\n", SM_OK, "", "\n0:31.500,"},
    {"time,target,effect\n01:00:31:12,A-01,comet-red\n", SEEN "rate = 25\n", SM_OK, "timecode-start",
     "\n0:31.480,"},
    {"time;target;effect\n4,5;A-01;comet-red\n", SEEN, SM_OK, "commas in times are taken for points",
     "\n0:04.500,"},
    {"time,target,effect\n0:04.5,1-5,comet-red\n", SEEN, SM_INVALID, "form = module-slot or range", NULL},
    {"time,target,effect\n0:04.5,1-5,comet-red\n", SEEN "[address]\nform = module-slot\n", SM_INVALID,
     "which module is \"1\" (1 row)? Add to MAP under [modules]: 1 = north or south", NULL},
    {"time,target,effect\n0:04.5,1-5,comet-red\n",
     SEEN "[address]\nform = module-slot\n[modules]\n1 = south\n", SM_OK, "", ",C-05,"},
    {"time,target,effect\n0:04.5,29,comet-red\n",
     SEEN "[address]\nform = through-numbered\nslots-per-module = 24\n[modules]\n2 = south\n", SM_OK, "",
     ",C-05,"},
    {"time,target,effect\n0:04.5,29,comet-red\n", SEEN, SM_INVALID, "form = through-numbered", NULL},
    {"time,Position,slot,effect\n0:04.5,A,5,comet-red\n", SEEN, SM_INVALID,
     "which column tells its rail or module? Add to MAP under [columns]: Position = rail or module", NULL},
    {"time,Position,slot,effect\n0:04.5,A,5,comet-red\n", SEEN "[columns]\nPosition = rail\n", SM_OK, "",
     ",A-05,"},
    {"time,module,slot,effect\n0:04.5,south,25,comet-red\n", SEEN, SM_INVALID,
     "are slots numbered through all modules?", NULL},
    {"time,module,slot,effect\n0:04.5,south,13-14,comet-red\n", SEEN, SM_OK, "is read as slots 13 to 14",
     ",D-01 D-02,"},
    {"time,rail,slot,effect\n0:04.5,A,\"3, 4\",comet-red\n", SEEN, SM_OK, "", ",A-03 A-04,"},
    {"time,target,effect\n0:04.5,A5,comet-red\n", SEEN, SM_OK, "\"A5\" is read as slot 5 of rail A",
     ",A-05,"},
    {"time,target,effect\n0:04.5,A 5,comet-red\n", SEEN, SM_OK, "", ",A-05,"},
    {"time,target,effect\n0:04.5,Z-05,comet-red\n", SEEN, SM_INVALID,
     "\"Z-05\" is no slot, fixture or group of the show", NULL},
    {"time,target,effect\n0:04.5,A-13,comet-red\n", SEEN, SM_INVALID, "error", NULL},
    {"time,target,effect\n0:04.5,A-01,Red comet\n", SEEN, SM_INVALID,
     "which effect is \"Red comet\" (1 row)? Add to MAP under [effects]: Red comet = comet-red, comet-white",
     NULL},
    {"time,target,effect\n0:04.5,A-01,Red comet\n", SEEN "[effects]\nred comet = comet-red\n", SM_OK, "",
     "A-01,comet-red"},
    {"time,target,effect\n0:04.5,A-01,Red comet\n", SEEN "[effects]\nRed comet = comet-rad\n", SM_INVALID,
     "the show has none of that name", NULL},
    {"time,target,effect\n0:04.5,par-1,\"red = 5, blue=10%\"\n", SEEN, SM_OK, "", ",par-1,red=5 blue=10%,"},
    {"time,target,channel,level,fade\n0:04.5,par-1,red,50%,\"1,5\"\n", SEEN, SM_OK, "",
     ",par-1,red=50%,1.5,"},
    {"time,target,effect,qty\n0:04.5,A-01,comet-red,2\n", SEEN, SM_OK, "2 by the count, and 1 slot is named",
     NULL},
    {"time,target,effect\n1:00,A-01,comet-red\n1:31,A-02,comet-red\n1:02,A-03,comet-red\n1:03,A-04,comet-"
     "red\n1:40,A-05,comet-red\n",
     SEEN, SM_OK, "every time is a whole second", NULL},
    {"When seen,When fired,target,effect\n0:04.5,0:04.0,A-01,comet-red\n",
     "[columns]\nWhen seen = seen\nWhen fired = fire\n", SM_OK,
     "fired 0.500 s before it is seen, and the lead of comet-red is 0.200 s", NULL},
    {"time,target,effect\n0:04.5,A-01,comet-red\n0:05.5,,comet-red\nTotal,2,\n", SEEN, SM_OK,
     "list:3: warning: left out: no target", NULL},
    {"Moment,target,effect\n0:04.5,A-01,comet-red\n", NULL, SM_INVALID,
     "which column holds the time? Add to MAP under [columns]: Moment = seen", NULL},
    {"x,y,z\n0:04.5,A-01,comet-red\n", NULL, SM_INVALID,
     "which row names the columns? Add to MAP under [file]: header-row = 1", NULL},
    {"time,target,effect\n0:04.5,A-01,comet-red\n", SEEN "sure = yes\n", SM_INVALID,
     "map.ini:3:1: error: there is no key sure", NULL},
    {"time,target,effect\n0:04.5,A-01,comet-red\n", "[time]\nis = sene\n", SM_INVALID,
     "\"sene\" is not one of these: seen fire", NULL},
    {"time,target,effect\n0:04.5,A-01,comet-red\n", SEEN "offset = -1.5 s\n", SM_OK, "", "\n0:03.000,"},
};

static void asks_what_can_be_read_in_two_ways(void **state) {
    (void)state;
    unsigned wrong = 0;
    sm_show *const show = load_demo();
    for (size_t i = 0; i < COUNT(expectations); i++) {
        const expectation *const each = &expectations[i];
        outcome got = import_bytes(each->list, strlen(each->list), each->map, show);
        const char *const cues =
            got.import && got.import->file_count > 0 ? sm_text_get(&got.import->files[0].text) : "";
        if (got.result != each->result || !strstr(sm_text_get(&got.findings), each->says) ||
            (each->cues && !strstr(cues, each->cues))) {
            print_error("%s%s\nwanted %s %s\ngot %s %s\n%s", each->list, each->map ? each->map : "",
                        sm_result_text(each->result), each->says, sm_result_text(got.result),
                        sm_text_get(&got.findings), cues);
            wrong++;
        }
        assert_int_equal(got.import->file_count, got.result == SM_OK ? 2 : 0);
        forget(&got);
    }
    assert_int_equal(wrong, 0);
    sm_show_destroy(show);
}

// What has no lead is left out, not taken as lead 0.
static void a_fire_time_without_a_lead_is_left_out(void **state) {
    (void)state;
    static const char list[] = "time,target,effect\n0:04.5,A-01,comet\n0:04.5,par-1,dim=5\n";
    const show_folder folder = show_folder_make_small();
    show_folder_put(&folder, "effects.csv", "name,lead\ncomet,\nfountain,\n");
    sm_show *const show = show_folder_load(&folder, SM_OK);
    outcome got = import_bytes(list, sizeof list - 1, FIRE, show);
    assert_int_equal(got.result, SM_OK);
    assert_int_equal(got.import->cues, 1);
    assert_non_null(strstr(got.findings.bytes, "the lead of its effect is not known"));
    assert_non_null(strstr(got.import->files[1].text.bytes,
                           "\n2,,\"a time of firing, and the lead of its effect is not known\","));
    forget(&got);
    sm_show_destroy(show);
    show_folder_remove(&folder);
}

static void a_new_show_loads(void **state) {
    (void)state;
    static const char list[] = "Cue list\ntime,rail,slot,effect,note\n0:04.5,A,3,Red "
                               "comet,=1+1\n0:06.25,B,12,Red comet,-5\n0:07,par,1,\"red=5, blue = 10%\",\n";
    const show_folder folder = show_folder_make();
    outcome got = import_bytes(list, sizeof list - 1, SEEN, NULL);
    assert_non_null(strstr(got.findings.bytes, "\"Red comet\" is called red-comet in the new show"));
    assert_non_null(
        strstr(got.findings.bytes, "list:5: error: \"par-1\" (red blue) is set by levels: plain lights?"));
    forget(&got);
    got = import_bytes(list, sizeof list - 1 - strlen("0:07,par,1,\"red=5, blue = 10%\",\n"), SEEN, NULL);
    assert_int_equal(got.result, SM_OK);
    assert_int_equal(got.import->file_count, 6);
    for (size_t i = 0; i < got.import->file_count; i++)
        show_folder_put(&folder, got.import->files[i].name, sm_text_get(&got.import->files[i].text));
    sm_show *const show = show_folder_load(&folder, SM_OK);
    assert_int_equal(show->event_count, 2);
    assert_int_equal(show->cues[1].time_us, 6250000);
    assert_string_equal(sm_show_text(show, show->cues[0].note),
                        "=1+1"); // the apostrophe that keeps it text is gone
    assert_string_equal(sm_show_text(show, show->cues[1].note), "-5");
    sm_show_destroy(show);
    forget(&got);
    show_folder_remove(&folder);
}

// A list that counts by modules makes each of them, with one rail of all its slots.
static void modules_of_a_new_show_are_those_of_the_list(void **state) {
    (void)state;
    static const char list[] = "time,module,slot,effect\n0:04.5,1,3,Comet\n0:06,2,12,Comet\n";
    const show_folder folder = show_folder_make();
    outcome got = import_bytes(list, sizeof list - 1, SEEN, NULL);
    assert_int_equal(got.result, SM_OK);
    for (size_t i = 0; i < got.import->file_count; i++)
        show_folder_put(&folder, got.import->files[i].name, sm_text_get(&got.import->files[i].text));
    sm_show *const show = show_folder_load(&folder, SM_OK);
    assert_int_equal(show->module_count, 2);
    assert_string_equal(show->modules[1].name, "module-2");
    assert_int_equal(show->modules[1].slots, 12);
    assert_int_equal(show->rails[1].module, 1);
    sm_show_destroy(show);
    forget(&got);
    show_folder_remove(&folder);
}

// What is set by levels may be a lamp or a flame unit: it is asked, once for all names.
static void lights_of_a_new_show_are_asked_for(void **state) {
    (void)state;
    static const char list[] =
        "time,target,effect\n0:04.5,A-01,comet\n0:05,par-1 par-2,\"red=5, dimmer = 10%\"\n"
        "0:06,par-2,blue=7\n0:07,jet,permit=255\n0:08,par-1,red=0\n";
    const show_folder folder = show_folder_make();
    outcome got = import_bytes(list, sizeof list - 1, SEEN, NULL);
    assert_int_equal(got.result, SM_INVALID);
    assert_int_equal(got.import->questions, 1);
    assert_non_null(strstr(got.findings.bytes, "list:3: error: \"par-1\" (red dimmer), \"par-2\" (red dimmer "
                                               "blue), \"jet\" (permit) are set by levels: plain lights?"));
    assert_non_null(strstr(sm_text_get(&got.import->map), "[lights]\n;* = light\n;* = ignore\n"));
    forget(&got);
    got = import_bytes(list, sizeof list - 1, SEEN "[lights]\n* = light\njet = ignore\n", NULL);
    assert_int_equal(got.result, SM_OK);
    assert_non_null(strstr(got.findings.bytes, "list:5: warning: left out: a light that the map leaves out"));
    for (size_t i = 0; i < got.import->file_count; i++)
        show_folder_put(&folder, got.import->files[i].name, sm_text_get(&got.import->files[i].text));
    sm_show *const show = show_folder_load(&folder, SM_OK);
    assert_int_equal(show->fixture_count, 2);
    assert_int_equal(show->cue_count, 4);
    assert_int_equal(show->fixtures[1].address, 3);
    assert_string_equal(show->profiles[show->fixtures[1].profile].name, "par-2");
    sm_show_destroy(show);
    forget(&got);
    show_folder_remove(&folder);
}

// An effect of the show that is spelled otherwise is told, not asked; one that could be two is asked.
static void another_spelling_of_an_effect_is_no_question(void **state) {
    (void)state;
    static const char list[] = "time,target,effect\n0:04.5,A-01,Comet White\n";
    sm_show *const show = load_demo();
    outcome got = import_bytes(list, sizeof list - 1, SEEN, show);
    assert_int_equal(got.result, SM_OK);
    assert_non_null(strstr(got.findings.bytes,
                           "\"Comet White\" is read as the effect comet-white, which differs in "
                           "capitals or marks alone"));
    assert_non_null(strstr(sm_text_get(&got.import->files[0].text), ",A-01,comet-white,"));
    forget(&got);
    sm_show_destroy(show);
}

#define ODS_TEXT(text)                                                                                       \
    "<table:table-cell office:value-type=\"string\"><text:p>" text "</text:p></table:table-cell>"
#define ODS_DOWN(rows, text)                                                                                 \
    "<table:table-cell table:number-rows-spanned=\"" rows "\" table:number-columns-spanned=\"1\" "           \
    "office:value-type=\"string\"><text:p>" text "</text:p></table:table-cell>"
#define ODS_ROW(cells) "<table:table-row>" cells "</table:table-row>"
#define XLSX_TEXT(text) "<c t=\"inlineStr\"><is><t>" text "</t></is></c>"
#define XLSX_ROW(cells) "<row>" cells "</row>"
#define COVERED "<table:covered-table-cell/>"

// Two rows of rail A at one moment and one of rail B, the rail and the moment merged down; the number stands for the group. How either
// format writes that: ECMA-376 part 1, 18.3.1.55; OpenDocument 1.2 part 1, 19.678 (from memory).
static void what_is_merged_down_goes_for_each_row(void **state) {
    (void)state;
    static const char *const xlsx_names[] = {"xl/workbook.xml", "xl/_rels/workbook.xml.rels",
                                             "xl/worksheets/sheet1.xml"};
    static const char *const xlsx[] = {
        "<workbook><sheets><sheet name=\"a\" r:id=\"r1\"/></sheets></workbook>",
        "<Relationships><Relationship Id=\"r1\" Target=\"worksheets/sheet1.xml\"/></Relationships>",
        "<worksheet><sheetData>" XLSX_ROW(XLSX_TEXT("No") XLSX_TEXT("Slot") XLSX_TEXT("Effect")
                                              XLSX_TEXT("Time") XLSX_TEXT("Rail"))
            XLSX_ROW(XLSX_TEXT("7") XLSX_TEXT("1") XLSX_TEXT("comet") XLSX_TEXT("0:04.5")
                         XLSX_TEXT("A")) XLSX_ROW("<c/>" XLSX_TEXT("2") XLSX_TEXT("comet"))
                XLSX_ROW(XLSX_TEXT("8") XLSX_TEXT("1") XLSX_TEXT("mine") XLSX_TEXT("0:06.5")
                             XLSX_TEXT("B")) "</sheetData><mergeCells><mergeCell ref=\"E2:E3\"/><mergeCell "
                                             "ref=\"D2:D3\"/><mergeCell ref=\"A2:A3\"/>"
                                             "<mergeCell ref=\"A1:E1\"/></mergeCells></worksheet>"};
    static const char
        *const ods_names
            [] = {"content.xml"},
   *const ods[] = {
       "<office:document-content><office:body><office:spreadsheet><table:table table:name=\"a\">" ODS_ROW(
           ODS_TEXT("No") ODS_TEXT("Slot") ODS_TEXT("Effect") ODS_TEXT("Time") ODS_TEXT("Rail"))
           ODS_ROW(ODS_DOWN("2", "7") ODS_TEXT("1") ODS_TEXT("comet") ODS_DOWN("2", "0:04.5")
                       ODS_DOWN("2", "A")) ODS_ROW(COVERED ODS_TEXT("2") ODS_TEXT("comet") COVERED COVERED)
               ODS_ROW(ODS_TEXT("8") ODS_TEXT("1") ODS_TEXT("mine") ODS_TEXT("0:06.5") ODS_TEXT(
                   "B")) "</table:table></office:spreadsheet></office:body></office:document-content>"};
    for (int is_ods = 0; is_ods < 2; is_ods++) {
        size_t length;
        char *const bytes =
            is_ods ? sheet_zip(ods_names, ods, 1, &length) : sheet_zip(xlsx_names, xlsx, 3, &length);
        outcome got = import_bytes(bytes, length, SEEN, NULL);
        if (got.result != SM_OK)
            fail_msg("%s", sm_text_get(&got.findings));
        assert_non_null(
            strstr(sm_text_get(&got.import->files[0].text),
                   "\n0:04.500,A-01,comet,,,7,\n0:04.500,A-02,comet,,,,\n0:06.500,B-01,mine,,,8,\n"));
        assert_non_null(
            strstr(sm_text_get(&got.findings), "list:2:5: note: \"A\" is merged with the cells below it"));
        assert_non_null(strstr(sm_text_get(&got.findings), "list:2:4: note: \"0:04.5\" is merged"));
        assert_null(strstr(sm_text_get(&got.findings), "\"7\" is merged"));
        assert_non_null(strstr(sm_text_get(&got.import->files[1].text), ",,2,comet,,\n")); // as it stood
        forget(&got);
        free(bytes);
    }
}

// "5-3" typed into a cell that is no text; what a spreadsheet makes of it is common practice, no source.
static void a_date_made_of_slots_is_told_as_one(void **state) {
    (void)state;
    static const char
        *const names[] = {"content.xml"},
               *const parts[] = {
                   "<office:document-content><office:body><office:spreadsheet><table:table table:name=\"a\">"
                   "<table:table-row><table:table-cell "
                   "office:value-type=\"string\"><text:p>Time</text:p></table:table-cell>"
                   "<table:table-cell office:value-type=\"string\"><text:p>Rail</text:p></table:table-cell>"
                   "<table:table-cell office:value-type=\"string\"><text:p>Slot</text:p></table:table-cell>"
                   "<table:table-cell "
                   "office:value-type=\"string\"><text:p>Effect</text:p></table:table-cell></table:table-row>"
                   "<table:table-row><table:table-cell office:value-type=\"float\" "
                   "office:value=\"4.5\"><text:p>4.5</text:p></table:table-cell>"
                   "<table:table-cell office:value-type=\"string\"><text:p>A</text:p></table:table-cell>"
                   "<table:table-cell office:value-type=\"date\" "
                   "office:date-value=\"2026-03-05\"><text:p>5-Mar</text:p></table:table-cell>"
                   "<table:table-cell "
                   "office:value-type=\"string\"><text:p>comet</text:p></table:table-cell></table:table-row>"
                   "</table:table></office:spreadsheet></office:body></office:document-content>"};
    size_t length;
    char *const bytes = sheet_zip(names, parts, 1, &length);
    outcome got = import_bytes(bytes, length, SEEN, NULL);
    assert_int_equal(got.result, SM_INVALID);
    assert_non_null(strstr(sm_text_get(&got.findings),
                           "list:2:3: error: \"2026-03-05\" is a date, which a spreadsheet made"));
    forget(&got);
    free(bytes);
}

// Only columns whose cells can be times are offered as the time; a heading that says which time it is is believed, and that is told.
static void only_what_can_be_a_time_is_asked_for(void **state) {
    (void)state;
    static const char list[] = "Nr,At,Slot,Effect,Words,Remarks\n1,0:04.5,A-01,comet-white,left,\n2,0:05.5,A-"
                               "02,comet-white,right,x\n";
    static const char seen[] =
        "Nr,Seen at,Slot,Effect\n1,0:04.5,A-01,comet-white\n2,0:05.5,A-02,comet-white\n";
    sm_show *const show = load_demo();
    outcome got = import_bytes(list, sizeof list - 1, NULL, show);
    assert_int_equal(got.result, SM_INVALID);
    assert_non_null(
        strstr(got.findings.bytes,
               "list:1: error: which column holds the time? Add to MAP under [columns]: At = seen or fire"));
    assert_null(strstr(got.findings.bytes, "Nr = seen"));
    assert_null(strstr(got.findings.bytes, "\"At\" is not taken over"));
    assert_non_null(strstr(got.findings.bytes, "column \"Words\" is not taken over; [columns] Words = note"));
    forget(&got);
    got = import_bytes(seen, sizeof seen - 1, NULL, show);
    assert_int_equal(got.result, SM_OK);
    assert_non_null(strstr(got.findings.bytes, "\"Seen at\" is taken for the time at which it is seen"));
    forget(&got);
    sm_show_destroy(show);
}

static void a_show_that_has_no_cues_yet_can_be_imported_into(void **state) {
    (void)state;
    static const char list[] = "time,target,effect\n0:04.5,A-01,comet\n";
    char path[160];
    const show_folder folder = show_folder_make_small();
    sm_findings *const findings = sm_findings_create();
    sm_show *show = NULL;
    const sm_show_load_options options = {.cues_may_miss = true};
    snprintf(path, sizeof path, "%s/cues.csv", folder.path);
    assert_int_equal(remove(path), 0);
    assert_int_equal(sm_show_load(folder.path, NULL, findings, &show), SM_UNREADABLE);
    assert_int_equal(sm_show_load(folder.path, &options, findings, &show), SM_OK);
    assert_int_equal(show->cue_count, 0);
    outcome got = import_bytes(list, sizeof list - 1, SEEN, show);
    assert_int_equal(got.result, SM_OK);
    assert_int_equal(got.import->cues, 1);
    forget(&got);
    sm_show_destroy(show);
    sm_findings_destroy(findings);
    show_folder_remove(&folder);
}

// ---- refused ------------------------------------------------------------------------------

static void expect_refused(char *bytes, size_t length, const char *says) {
    outcome got = import_bytes(bytes, length, NULL, NULL);
    if (got.result != SM_UNREADABLE || got.import || !strstr(sm_text_get(&got.findings), says) ||
        strchr(got.findings.bytes, '\n') != got.findings.bytes + got.findings.length - 1)
        fail_msg("wanted one line with \"%s\", got %s: %s", says, sm_result_text(got.result),
                 sm_text_get(&got.findings));
    forget(&got);
    free(bytes);
}

static char *repeat(const char *text, size_t count, const char *before, const char *after) {
    sm_text out = {0};
    sm_text_printf(&out, "%s", before);
    for (size_t i = 0; i < count; i++)
        sm_text_printf(&out, "%s", text);
    sm_text_printf(&out, "%s", after);
    assert_false(out.failed);
    return out.bytes;
}

static void expect_content_refused(char *content, const char *says) {
    static const char *const names[] = {"content.xml"};
    const char *const parts[] = {content};
    size_t length;
    char *const bytes = sheet_zip(names, parts, 1, &length);
    expect_refused(bytes, length, says);
    free(content);
}

#define TABLE "<d xmlns:table=\"t\" xmlns:text=\"x\" xmlns:office=\"o\"><table:table>"
#define CELL "<table:table-cell office:value-type=\"string\"><text:p>x</text:p></table:table-cell>"

static void bombs_and_damage_are_one_clear_line(void **state) {
    (void)state;
    size_t length;
    expect_refused(strdup("PK\x03\x04 nothing"), 12, "its archive is damaged");
    expect_refused(strdup("\xD0\xCF\x11\xE0 old"), 8, ".xls");
    expect_refused(strdup("a,b\n\"c,d\ne"), 10, "never closed");
    static const char *const names[] = {"readme.txt"}, *const texts[] = {"nothing"};
    char *const other = sheet_zip(names, texts, 1, &length);
    expect_refused(other, length, "neither an .xlsx nor an .ods");
    expect_content_refused(repeat("<a>", 100, "", ""), "nested deeper");
    expect_content_refused(repeat("<a/>", 1, "<d>", ""), "its XML is damaged");
    expect_content_refused(
        repeat("<!-- nothing but a comment that repeats and repeats -->", 6000000, "<d>", "</d>"), "256 MB");
    expect_content_refused(repeat("", 0, "<!DOCTYPE d [<!ENTITY a \"aaaa\">]><d>&a;</d>", ""),
                           "document type");
    expect_content_refused(
        repeat(CELL, 300, TABLE "<table:table-row>", "</table:table-row></table:table></d>"), "256 columns");
    expect_content_refused(repeat(CELL, 1, TABLE "<table:table-row table:number-rows-repeated=\"999999999\">",
                                  "</table:table-row></table:table></d>"),
                           "200,000 rows");
    expect_content_refused(repeat("many words ", 4000,
                                  TABLE
                                  "<table:table-row><table:table-cell office:value-type=\"string\"><text:p>",
                                  "</text:p></table:table-cell></table:table-row></table:table></d>"),
                           "32 KB");
}

// ---- the report, the manual, the command ----------------------------------------------------

static void the_manual_page_is_fresh(void **state) {
    (void)state;
    manual_page_expect_fresh("man/slowmatch-import.5", sm_import_manual);
}

static int run(const char *arguments, const char *folder) {
    const char *const build = getenv("SLOWMATCH_BUILD");
    char command[1024];
    snprintf(command, sizeof command, "%s/slowmatch import %s/list.csv %s/%s >%s/out 2>%s/err",
             build ? build : "build", folder, folder, arguments, folder, folder);
    const int status = system(command);
    return WEXITSTATUS(status);
}

static char *file_of(const char *folder, const char *name) {
    char path[256], *bytes = NULL;
    size_t length;
    snprintf(path, sizeof path, "%s/%s", folder, name);
    return sm_file_read(path, &bytes, &length) == SM_OK ? bytes : NULL;
}

static void the_command_asks_and_then_writes_a_show(void **state) {
    (void)state;
    const show_folder folder = show_folder_make();
    show_folder_put(&folder, "list.csv", "time,target,effect\n0:04.5,A-01,comet\n");
    assert_int_equal(run("new", folder.path), 1);
    char *const map = file_of(folder.path, "out");
    assert_non_null(strstr(map, "\n[time]\n;is = seen\n;is = fire\n"));
    char *const answer = strstr(map, ";is = seen");
    memmove(answer, answer + 1, strlen(answer));
    show_folder_put(&folder, "map.ini", map);
    free(map);
    char call[200];
    snprintf(call, sizeof call, "new --preview --map %s/map.ini", folder.path);
    assert_int_equal(run(call, folder.path), 0);
    char *const shown = file_of(folder.path, "out");
    assert_non_null(strstr(shown, "0:04.500,A-01,comet,,,,\n"));
    free(shown);
    assert_null(file_of(folder.path, "new/cues.csv"));
    snprintf(call, sizeof call, "new --map %s/map.ini", folder.path);
    assert_int_equal(run(call, folder.path), 0);
    char *cues = file_of(folder.path, "new/cues.csv");
    assert_non_null(cues);
    // Again: now it is a show, whose cues are not touched.
    show_folder_put(&folder, "list.csv", "time,target,effect\n0:05.5,A-01,comet\n");
    assert_int_equal(run(call, folder.path), 0);
    char *const after = file_of(folder.path, "new/cues.csv"), *const beside = file_of(
                                                                  folder.path, "new/cues-imported.csv");
    assert_string_equal(after, cues);
    assert_non_null(strstr(beside, "0:05.500,"));
    free(cues);
    free(after);
    free(beside);
    assert_int_equal(run("list.csv", folder.path), 2);
    snprintf(call, sizeof call, "rm -r %s/new", folder.path);
    assert_int_equal(system(call), 0);
    show_folder_remove(&folder);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(asks_what_can_be_read_in_two_ways),
        cmocka_unit_test(a_fire_time_without_a_lead_is_left_out),
        cmocka_unit_test(a_new_show_loads),
        cmocka_unit_test(a_show_that_has_no_cues_yet_can_be_imported_into),
        cmocka_unit_test(modules_of_a_new_show_are_those_of_the_list),
        cmocka_unit_test(lights_of_a_new_show_are_asked_for),
        cmocka_unit_test(another_spelling_of_an_effect_is_no_question),
        cmocka_unit_test(a_date_made_of_slots_is_told_as_one),
        cmocka_unit_test(what_is_merged_down_goes_for_each_row),
        cmocka_unit_test(only_what_can_be_a_time_is_asked_for),
        cmocka_unit_test(bombs_and_damage_are_one_clear_line),
        cmocka_unit_test(the_manual_page_is_fresh),
        cmocka_unit_test(the_command_asks_and_then_writes_a_show),
    };
    return cmocka_run_group_tests_name("import", tests, NULL, NULL);
}

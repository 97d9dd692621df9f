// SPDX-License-Identifier: GPL-3.0-or-later
#include "paper_pdf.h"

#include "folder.h"
#include "paper_text.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

static void read_whole(const char *path, char **out) {
    size_t length;
    *out = NULL;
    assert_int_equal(sm_file_read(path, out, &length), SM_OK);
}

SM_PRINTF(1, 2) static void run(const char *format, ...) {
    sm_text command = {0};
    va_list args;
    va_start(args, format);
    sm_text_vprintf(&command, format, args);
    va_end(args);
    if (system(command.bytes) != 0)
        fail_msg("%s", command.bytes);
    sm_text_deinit(&command);
}

char *paper_pdf_html(const char *show, const char *sheets) {
    const char *build = getenv("SLOWMATCH_BUILD");
    char folder[64], path[256];
    folder_make(folder);
    folder_path(path, folder, "paper.html");
    run("%s/slowmatch paper '%s' --out %s %s%s >/dev/null 2>&1", build ? build : "build", show, path,
        sheets ? "--sheets " : "", sheets ? sheets : "");
    char *html;
    read_whole(path, &html);
    folder_remove(folder);
    return html;
}

// ---- pages ---------------------------------------------------------------------------------

// Points: 1/72 inch. 718 and 986 CSS pixels of 1/96 inch, 9 mm of margin.
#define PT_OF_PX 0.75
#define MARGIN_PT (9.0 / 25.4 * 72.0)
#define ROOM_PT 1.0
// A line of Liberation Sans is 1.149 times its size high (its hhea table: ascent 0.905, descent 0.212, gap 0.033); 11 pt without the
// gap.
#define LEAST_HEIGHT_PT (11.0 * (0.905 + 0.212) - 0.1)

typedef struct word {
    double x0, y0, x1, y1;
    char text[200];
} word;

typedef struct page {
    word *words;
    size_t count;
} page;

typedef struct pdf {
    page *pages;
    size_t count;
    char *text; // a form feed behind each page
} pdf;

static void read_words(pdf *p, char *xml) {
    for (char *at = strchr(xml, '<'); at; at = strchr(at + 1, '<')) {
        word w;
        if (strncmp(at, "<page ", 6) == 0) {
            p->pages = realloc(p->pages, (p->count + 1) * sizeof *p->pages);
            p->pages[p->count++] = (page){0};
        }
        if (sscanf(at, "<word xMin=\"%lf\" yMin=\"%lf\" xMax=\"%lf\" yMax=\"%lf\">%199[^<]", &w.x0, &w.y0,
                   &w.x1, &w.y1, w.text) != 5)
            continue;
        page *last = &p->pages[p->count - 1];
        if (last->count % 256 == 0)
            last->words = realloc(last->words, (last->count + 256) * sizeof *last->words);
        last->words[last->count++] = w;
    }
}

static pdf lay_out(const char *html, paper_size size) {
    char folder[64], path[256];
    pdf p = {0};
    folder_make(folder);
    folder_write(folder, "in.html", html);
    folder_write(folder, "size.css",
                 size == PAPER_LETTER
                     ? "@page{size:letter !important}@page wide{size:letter landscape !important}"
                     : "@page{size:A4 !important}@page wide{size:A4 landscape !important}");
    run("cd %s && weasyprint -s size.css in.html out.pdf 2>said && pdftotext -bbox out.pdf out.xml && "
        "pdftotext -layout out.pdf "
        "out.txt && ! grep -q ERROR said",
        folder);
    char *xml;
    read_whole(folder_path(path, folder, "out.xml"), &xml);
    read_words(&p, xml);
    read_whole(folder_path(path, folder, "out.txt"), &p.text);
    free(xml);
    folder_remove(folder);
    return p;
}

static void free_pdf(pdf *p) {
    for (size_t i = 0; i < p->count; i++)
        free(p->pages[i].words);
    free(p->pages);
    free(p->text);
}

// Where the foot begins: the top of "Other" of "Other words on the laptop:".
static double foot_of(const page *p) {
    for (size_t i = 0; i + 4 < p->count; i++)
        if (strcmp(p->words[i].text, "Other") == 0 && strcmp(p->words[i + 1].text, "words") == 0 &&
            strcmp(p->words[i + 4].text, "laptop:") == 0)
            return p->words[i].y0;
    fail_msg("a page has no foot");
    return 0;
}

static bool overlap(const word *a, const word *b) {
    const double across = (a->x1 < b->x1 ? a->x1 : b->x1) - (a->x0 > b->x0 ? a->x0 : b->x0);
    const double down = (a->y1 < b->y1 ? a->y1 : b->y1) - (a->y0 > b->y0 ? a->y0 : b->y0);
    return across > ROOM_PT && down > 3.0; // lines of 14 pt bold stand a little closer than their boxes
}

static void check_words(const page *p, bool is_wide, size_t number) {
    const double foot = foot_of(p), width = (is_wide ? 986 : 718) * PT_OF_PX,
                 height = (is_wide ? 718 : 986) * PT_OF_PX;
    size_t under = 0;
    for (size_t i = 0; i < p->count; i++) {
        const word *w = &p->words[i];
        const bool is_inside = w->x0 >= MARGIN_PT - ROOM_PT && w->x1 <= MARGIN_PT + width + ROOM_PT &&
                               w->y1 <= MARGIN_PT + height + ROOM_PT;
        if (!is_inside || w->y1 - w->y0 < LEAST_HEIGHT_PT)
            fail_msg("page %zu: \"%s\" at %.1f %.1f to %.1f %.1f: %s", number, w->text, w->x0, w->y0, w->x1,
                     w->y1, is_inside ? "smaller than 11 pt" : "outside the box");
        under += w->y0 > foot - ROOM_PT;
        if (w->y0 < foot - ROOM_PT && w->y1 > foot + ROOM_PT)
            fail_msg("page %zu: \"%s\" runs into the foot", number, w->text);
        for (size_t k = 0; k < i; k++)
            if (overlap(w, &p->words[k]))
                fail_msg("page %zu: \"%s\" at %.1f %.1f lies on \"%s\" at %.1f %.1f", number, w->text, w->x0,
                         w->y0, p->words[k].text, p->words[k].x0, p->words[k].y0);
    }
    // The foot's own 24 words, and "end of LOAD A 1/1".
    if (under < 28 || under > 30)
        fail_msg("page %zu: %zu words at the foot", number, under);
}

// What stands in the SECTION's head, by the HTML: the name on the sheet.
static void check_marks(const char *section, const char *text, size_t length, size_t number) {
    sm_text page_text = {0}, name = {0};
    const char *head = strstr(section, "<h2"), *end = strstr(head, "</h2>");
    const char *of = strstr(section, ", page "), *mark = strstr(section, ">end of ");
    unsigned at = 0, count = 0;
    assert_true(head && end && of && mark);
    assert_int_equal(sscanf(of, ", page %u of %u<", &at, &count), 2);
    sm_text_append(&page_text, text, length);
    name = paper_text_of(strchr(head, '>') + 1, (size_t)(end - strchr(head, '>') - 1));
    for (size_t i = 0; i < name.length; i++)
        if (name.bytes[i] == '\n')
            name.bytes[i] = ' ';
    char wanted[3][160];
    snprintf(wanted[0], sizeof wanted[0], "page %u of %u", at, count);
    snprintf(wanted[1], sizeof wanted[1], "%u/%u", at, count);
    snprintf(wanted[2], sizeof wanted[2], "REHEARSAL PLAN");
    for (size_t i = 0; i < 3; i++)
        if (!strstr(page_text.bytes, wanted[i]))
            fail_msg("page %zu (%s) does not say \"%s\"", number, name.bytes, wanted[i]);
    char first[64];
    assert_int_equal(sscanf(name.bytes, "%63s", first), 1);
    assert_non_null(strstr(page_text.bytes, first));
    sm_text_deinit(&page_text);
    sm_text_deinit(&name);
}

void paper_pdf_check(const char *html, paper_size size) {
    pdf p = lay_out(html, size);
    const char *section = paper_text_tag(html, "section"), *text = p.text;
    size_t sections = 0;
    for (; section; section = paper_text_tag(section, "section"), sections++) {
        const size_t length = strcspn(text, "\f");
        if (sections >= p.count)
            fail_msg("fewer pages than sections: %zu", p.count);
        check_marks(section, text, length, sections + 1);
        check_words(&p.pages[sections], strncmp(section, "<section class=wide>", 20) == 0, sections + 1);
        text += length + (text[length] == '\f');
    }
    assert_int_equal(p.count, sections);
    free_pdf(&p);
}

// ---- rows --------------------------------------------------------------------------------------

// One row of a table of one kind of sheet, as text; NAME is its row's head without blanks and line breaks.
typedef struct sheet_row {
    const char *html;
    size_t length;
    char name[160];
    sm_text text;
} sheet_row;

// Sections of sheets whose name begins with KIND; calls EACH for every row of theirs that has a head.
static void each_row(const char *html, const char *kind, void (*each)(const sheet_row *, void *),
                     void *context) {
    for (const char *section = paper_text_tag(html, "section"); section;
         section = paper_text_tag(section, "section")) {
        const char *head = strchr(strstr(section, "<h2"), '>') + 1, *end = strstr(section, "</section>");
        if (strncmp(head, kind, strlen(kind)) != 0)
            continue;
        for (const char *at = paper_text_tag(section, "tr"); at && at < end; at = paper_text_tag(at, "tr")) {
            const char *next = paper_text_tag(at, "tr");
            sheet_row row = {.html = at, .length = (size_t)((next && next < end ? next : end) - at)};
            const char *name = strstr(at, "<th scope=row>");
            if (!name || name >= at + row.length)
                continue;
            const char *cell = paper_text_tag(name, "td");
            sm_text text =
                paper_text_of(name, (size_t)((cell && cell < at + row.length ? cell : name) - name));
            size_t length = 0;
            for (size_t i = 0; i < text.length && length + 1 < sizeof row.name; i++)
                if (!strchr(" \n", text.bytes[i]))
                    row.name[length++] = text.bytes[i];
            sm_text_deinit(&text);
            row.text = paper_text_of(row.html, row.length);
            each(&row, context);
            sm_text_deinit(&row.text);
        }
    }
}

// TEXT without blanks and line breaks, which a narrow cell may have put in, holds WANTED.
static bool holds(const sm_text *text, const char *wanted) {
    sm_text squeezed = {0};
    for (size_t i = 0; i < text->length; i++)
        if (!strchr(" \n", text->bytes[i]))
            sm_text_append(&squeezed, text->bytes + i, 1);
    const bool found = strstr(sm_text_get(&squeezed), wanted) != NULL;
    sm_text_deinit(&squeezed);
    return found;
}

typedef struct count {
    const sm_show *show;
    uint32_t *seen;
} count;

static void count_slot(const sheet_row *row, void *context) {
    count *c = context;
    for (uint32_t slot = 0; slot < c->show->slot_count; slot++) {
        char name[48];
        sm_slot_format(c->show, slot, name);
        // Of a long name the number stands first, large.
        const size_t length = strlen(name), at = strlen(row->name);
        if (at < length || at > length + 4 || strcmp(row->name + at - length, name) != 0)
            continue;
        const uint32_t firing = c->show->slot_firings[slot];
        c->seen[slot]++;
        if (!holds(&row->text,
                   firing == SM_NONE ? "SPARE" : c->show->effects[c->show->firings[firing].effect].name))
            fail_msg("LOAD, %s: %s", name, row->text.bytes);
    }
}

// Bit I of the result: the box I from the left is filled.
static unsigned switches_drawn(const sheet_row *row) {
    unsigned bits = 0, boxes = 0;
    double before = -1;
    for (const char *at = paper_text_tag(row->html, "rect"); at && at < row->html + row->length;
         at = paper_text_tag(at, "rect")) {
        const char *x = strstr(at, "x=");
        assert_true(atof(x + 2) > before);
        before = atof(x + 2);
        const char *filled = strstr(at, "fill=black");
        bits |= (filled && filled < strchr(at, '>') ? 1U : 0U) << boxes++;
    }
    if (boxes != 0)
        assert_int_equal(boxes, 9);
    return bits;
}

static void count_fixture(const sheet_row *row, void *context) {
    count *c = context;
    for (uint32_t f = 0; f < c->show->fixture_count; f++) {
        const sm_fixture *fixture = &c->show->fixtures[f];
        char address[16];
        if (strncmp(row->name, fixture->name, strlen(fixture->name)) != 0)
            continue;
        snprintf(address, sizeof address, " %d ", (int)fixture->address);
        if (!strstr(row->text.bytes, address))
            continue; // par-1 is the beginning of par-11
        c->seen[f]++;
        assert_int_equal(switches_drawn(row), fixture->address < 512 ? (unsigned)fixture->address : 0);
    }
}

static bool is_light(const sm_show *show, uint32_t cue) {
    const sm_event *event = &show->events[show->cues[cue].first_event];
    return show->cues[cue].kind == SM_CUE_SET && !show->profiles[show->fixtures[event->target].profile].flame;
}

static uint32_t cue_named(const sm_show *show, const char *id) {
    char name[12];
    for (uint32_t i = 0; i < show->cue_count; i++)
        if (strcmp(sm_cue_id(show, i, name), id) == 0)
            return i;
    fail_msg("CALLS: no cue %s", id);
    return 0;
}

// "218to224": light alone, and all that is seen from the first of them to the last.
static void count_run(const sheet_row *row, const char *last_id, count *c) {
    char first_id[12], wanted[40];
    snprintf(first_id, sizeof first_id, "%.*s", (int)(last_id - 2 - row->name), row->name);
    const uint32_t first = cue_named(c->show, first_id), last = cue_named(c->show, last_id);
    const sm_us from_us = c->show->cues[first].time_us, to_us = c->show->cues[last].time_us;
    uint32_t counted = 0;
    for (uint32_t i = 0; i < c->show->cue_count; i++) {
        const sm_us at_us = c->show->cues[i].time_us;
        if (at_us < from_us || at_us > to_us || (at_us == from_us && i < first) ||
            (at_us == to_us && i > last))
            continue;
        assert_true(is_light(c->show, i));
        c->seen[i]++;
        counted++;
    }
    snprintf(wanted, sizeof wanted, " %u cues of light alone", counted);
    assert_non_null(strstr(row->text.bytes, wanted));
}

static void count_cue(const sheet_row *row, void *context) {
    count *c = context;
    const char *to = strstr(row->name, "to");
    if (to) {
        count_run(row, to + 2, c);
        return;
    }
    for (uint32_t i = 0; i < c->show->cue_count; i++) {
        char id[12], clock[24];
        if (strcmp(row->name, sm_cue_id(c->show, i, id)) == 0 &&
            strstr(row->text.bytes, sm_clock_format(clock, c->show->cues[i].time_us)))
            c->seen[i]++;
    }
}

static void each_once(const char *html, const char *kind, const sm_show *show, uint32_t things,
                      void (*each)(const sheet_row *, void *)) {
    count c = {show, calloc((size_t)things + 1, sizeof(uint32_t))};
    assert_non_null(c.seen);
    each_row(html, kind, each, &c);
    for (uint32_t i = 0; i < things; i++)
        if (c.seen[i] != 1)
            fail_msg("%s: number %u stands on %u", kind, i, c.seen[i]);
    free(c.seen);
}

void paper_html_check(const char *html, const sm_show *show) {
    each_once(html, "LOAD", show, show->slot_count, count_slot);
    each_once(html, "LINE", show, show->fixture_count, count_fixture);
    each_once(html, "CALLS", show, show->cue_count, count_cue);
}
